"""Edition folders whose files are true or false in one stated way."""

import pytest


@pytest.fixture
def harbour(tmp_path):
    """An edition of three pulls with a scan each, a title and two regions; nothing is wrong with it."""
    folder = tmp_path / "harbour"
    (folder / "scans").mkdir(parents=True)
    for n in (1, 2, 10):
        (folder / "scans" / f"pull {n}.tif").write_bytes(b"II*\0")
    (folder / "edition.toml").write_text('title = "Harbour at dusk"\nstandard = 2\nconfirming = ["1", 10]\n')
    (folder / "pulls.csv").write_text(
        "pull,scan,paper\n1,pull 1.tif,wove\n2,pull 2.tif,\n10,pull 10.tif,laid\n"
    )
    (folder / "regions.csv").write_text(
        'name,work,wkt\nsky,lines,"POLYGON ((0 0, 40 0, 40 20, 0 20, 0 0))"\n'
        'water,tone,"POLYGON ((0 30, 40 30, 40 50, 0 50, 0 30))"\n'
    )
    return folder
