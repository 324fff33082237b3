"""The pile of fifteen pulls whose faults are known by construction."""

import pytest

from tests.report import pile


@pytest.fixture(scope="session")
def measured(tmp_path_factory):
    return pile.measured(tmp_path_factory.mktemp("edition"))


@pytest.fixture(scope="session")
def judged(measured):
    return pile.judged(measured)
