"""The pile of fifteen pulls and its page, written once."""

import pytest

from proofkit.report import write_report
from tests.report import pile


@pytest.fixture(scope="session")
def measured(tmp_path_factory):
    return pile.measured(tmp_path_factory.mktemp("edition"))


@pytest.fixture(scope="session")
def judged(measured):
    return pile.judged(measured)


@pytest.fixture(scope="session")
def report(measured, judged, tmp_path_factory):
    """Page whose title, failures and reasons carry a script that must not run."""
    path = tmp_path_factory.mktemp("results") / "report.html"
    write_report(measured, judged, pile.picture, path)
    return path
