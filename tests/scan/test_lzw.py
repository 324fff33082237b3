"""LZW undone as imagecodecs and tifffile do it."""

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st

from proofkit.scan.lzw import HEAD, SLACK, is_plain_lzw, lzw_piece, undo_lzw


def undone(coded, room):
    """What the codes stand for; nothing may be written beyond the room and its slack."""
    size = HEAD + room + SLACK
    plain = np.full(size + 64, 7, dtype=np.uint8)
    count = undo_lzw(np.frombuffer(coded, np.uint8), plain[:size])
    assert (plain[size:] == 7).all()
    return count if count < 0 else plain[HEAD : HEAD + count].tobytes()


def test_the_worked_codes_of_a_short_text():
    """By hand after TIFF 6.0, section 13: 7 7 7 8 8 7 7 6 6 is 256 7 258 8 8 258 6 6 257 in codes of 9 bits."""
    codes = [256, 7, 258, 8, 8, 258, 6, 6, 257]
    bits = "".join(f"{code:09b}" for code in codes)
    coded = int(bits.ljust(88, "0"), 2).to_bytes(11)
    assert undone(coded, 9) == bytes([7, 7, 7, 8, 8, 7, 7, 6, 6])


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([1, 2, 4, 30, 256]), st.integers(0, 40_000))
def test_what_the_library_coded_comes_back(seed, tones, size):
    """Two tones make strings of hundreds of bytes, all of them fill the table of codes again and again."""
    plain = np.random.default_rng(seed).integers(0, tones, size).astype(np.uint8).tobytes()
    assert undone(imagecodecs.lzw_encode(plain), size) == plain


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300), st.integers(0, 400))
def test_any_bytes_are_undone_within_their_room_or_refused(coded, room):
    found = undone(b"\x80" + coded, room)
    assert found == -1 or len(found) <= room


def test_more_than_there_is_room_for_is_refused():
    coded = imagecodecs.lzw_encode(bytes(range(200)) * 9)
    assert undone(coded, 1799) == -1
    assert len(undone(coded, 1800)) == 1800


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("byteorder", ["<", ">"])
@pytest.mark.parametrize("predictor", [True, False])
@pytest.mark.parametrize("layout", [{"rowsperstrip": 16}, {"tile": (32, 48)}])
@pytest.mark.parametrize("samples", [1, 3, 4])
def test_strips_and_tiles_as_tifffile_reads_them(tmp_path, dtype, byteorder, predictor, layout, samples):
    rng = np.random.default_rng(3)
    codes = np.cumsum(rng.integers(-3, 4, (90, 131, samples)), axis=1).astype(dtype)
    path = tmp_path / "any.tif"
    tifffile.imwrite(
        path, codes if samples > 1 else codes[..., 0], compression="lzw", predictor=predictor, byteorder=byteorder,
        photometric="minisblack" if samples == 1 else "rgb", **layout,
    )  # fmt: skip
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert is_plain_lzw(page)
        for index, (offset, count) in enumerate(zip(page.dataoffsets, page.databytecounts, strict=True)):
            file.filehandle.seek(offset)
            data = file.filehandle.read(count)
            here, row, column = lzw_piece(page, data, index)
            there, (_, _, at_row, at_column, _), _ = page.decode(data, index)
            assert (row, column) == (at_row, at_column)
            assert here.dtype == there.dtype.newbyteorder("=")
            assert here.dtype.isnative
            rows, columns = there.shape[1:3]
            assert np.array_equal(here[:rows, :columns], there[0])
            assert lzw_piece(page, data[: len(data) // 2], index) is None
            assert lzw_piece(page, b"\x00\x01" + data[2:], index) is None
