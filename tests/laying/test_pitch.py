"""Hatching laid one line off is told from hatching laid right."""

from dataclasses import replace

import numpy as np

from proofkit.laying import pitch
from proofkit.laying.pitch import _fields, doubtful_fields
from proofkit.scan.levels import levels_of
from tests.laying.plates import SIZE, lie, pull
from tests.lines.papers import even_paper


def moved(laying, step_mm):
    affine = laying.affine.copy()
    affine[:, 2] += affine[:, :2] @ step_mm
    return replace(laying, affine=affine)


def test_a_sheet_laid_right_is_not_doubted(plate):
    again = levels_of(pull(plate.strokes, lie(), seed=8))
    paper = even_paper().luminance
    assert len(doubtful_fields(plate.laying, again, paper, plate.pictures, plate.lines)) == 0


def test_a_field_one_line_off_is_doubted(plate):
    again = levels_of(pull(plate.strokes, lie(), seed=8))
    fields = list(_fields(plate.lines, tuple(SIZE)))
    assert len(fields) >= 4
    caught = 0
    for middle, step in fields:
        wrong = moved(plate.laying, step)
        doubted = doubtful_fields(wrong, again, even_paper().luminance, plate.pictures, plate.lines)
        caught += bool(len(doubted)) and bool((np.abs(doubted - middle) < 1e-9).all(axis=1).any())
    assert caught == len(fields)


def test_of_many_fields_every_other_is_read_and_those_beside_doubtful_ones(plate, monkeypatch):
    """A sheet laid a line off is doubted in the same fields; of one laid right half of them are read."""
    again = levels_of(pull(plate.strokes, lie(), seed=8))
    wrong = moved(plate.laying, next(_fields(plate.lines, tuple(SIZE)))[1])
    read = []
    whole = pitch._better_beside

    def counted(asked, middles, steps, every):
        read.append(len(middles))
        return whole(asked, middles, steps, every)

    def told(laying):
        read.clear()
        return doubtful_fields(laying, again, even_paper().luminance, plate.pictures, plate.lines)

    monkeypatch.setattr(pitch, "_better_beside", counted)
    all_wrong, all_right = told(wrong), told(plate.laying)
    monkeypatch.setattr(pitch, "MOST_AT_FIRST", 0)
    assert len(all_wrong) >= 4
    assert told(wrong).tolist() == all_wrong.tolist()
    assert told(plate.laying).tolist() == all_right.tolist() == []
    assert read[0] <= len(list(_fields(plate.lines, tuple(SIZE)))) // 2 + 1
