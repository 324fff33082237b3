import pytest

from tests.sheet.proofs import make_bench


@pytest.fixture(scope="session")
def bench(tmp_path_factory):
    """A standard of the drawn edition, against which proofs are measured."""
    return make_bench(tmp_path_factory.mktemp("edition"))
