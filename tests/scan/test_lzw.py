"""LZW strips as libtiff undoes them, against the pixels that tifffile coded and against tifffile's own decoding."""

import imagecodecs
import numpy as np
import pytest
import tifffile

from proofkit.scan import open_scan, read_codes
from proofkit.scan.lzw import Block, block_of, is_lzw, undone
from tests.scan.scan_files import pixels, write_tiff


@pytest.mark.parametrize("samples", [1, 2, 3, 4, 6])
@pytest.mark.parametrize("layout", [{"rowsperstrip": 16}, {"tile": (32, 48)}], ids=["strips", "tiles"])
@pytest.mark.parametrize("byteorder", ["<", ">"])
def test_every_strip_as_tifffile_undoes_it(tmp_path, byteorder, layout, samples):
    codes = pixels(16, samples)
    photometric = "rgb" if samples > 2 else "minisblack"
    settings = {"photometric": photometric, "planarconfig": "contig"} if samples > 1 else {}
    path = write_tiff(
        tmp_path / "a.tif",
        codes,
        byteorder=byteorder,
        compression="lzw",
        predictor=True,
        **settings,
        **layout,
    )
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert is_lzw(page)
        data = path.read_bytes()
        for index, (start, count) in enumerate(zip(page.dataoffsets, page.databytecounts, strict=True)):
            block = block_of(page, index)
            theirs, place, _ = page.decode(data[start : start + count], index)
            assert (block.row, block.column) == place[2:4]
            ours = undone(data[start : start + count], block, byteorder)
            assert np.array_equal(ours[: theirs.shape[1], : theirs.shape[2]], theirs[0])


def test_strip_that_breaks_off():
    whole = imagecodecs.lzw_encode(pixels(8, 1).tobytes())
    block = Block(0, 0, 201, 133, 1, 8, 1)
    assert np.array_equal(undone(whole, block, "<")[..., 0], pixels(8, 1))
    with pytest.raises(imagecodecs.TiffError):
        undone(whole[: len(whole) // 2], block, "<")


def test_what_libtiff_refuses_is_tried_by_tifffile(tmp_path, monkeypatch):
    def refuse(*_):
        raise imagecodecs.TiffError("no")

    codes = pixels(8, 3)
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, compression="lzw", rowsperstrip=20))
    monkeypatch.setattr("proofkit.scan.pieces.undone", refuse)
    assert np.array_equal(read_codes(file, (0, 0, 133, 201)), codes)
