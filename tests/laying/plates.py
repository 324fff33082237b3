"""A small plate of hand hatching in several directions, pulled on paper that lies turned, stretched and warped."""

from dataclasses import dataclass

import numpy as np

from proofkit.laying.reference import MatchPictures, ink_picture, match_pictures
from proofkit.laying.standard_lines import StandardLines, standard_lines
from proofkit.laying.start import laying_of_corners
from proofkit.laying.types import Laying
from proofkit.lines.centrelines import find_lines
from proofkit.scan.levels import levels_of
from tests.lines.drawn import clear_light, plane_of, stroke
from tests.lines.papers import even_paper

SIZE = (24.0, 30.0)
PPI = 600
PER_MM = PPI / 25.4
BLUR = 0.022
MARGIN = 4.0
SHAPE = (round((SIZE[1] + 2 * MARGIN) * PER_MM), round((SIZE[0] + 2 * MARGIN) * PER_MM))
SPACING = 0.3


def hand_hatching(seed=7):
    """Strokes of 20 patches: direction, spacing and width vary as a hand's do."""
    rng = np.random.default_rng(seed)
    strokes = []
    for row in range(5):
        for column in range(4):
            middle = np.array([3.0 + 6.0 * column, 3.0 + 6.0 * row])
            angle = rng.uniform(0, 180)
            across = np.array([np.sin(np.radians(angle)), np.cos(np.radians(angle))])
            place = -2.2
            while place < 2.2:
                length = rng.uniform(3.4, 4.6)
                width = rng.uniform(0.06, 0.11)
                shift = rng.normal(0, 0.15) * np.array([across[1], -across[0]])
                strokes.append(
                    stroke(*(middle + place * across + shift), angle + rng.normal(0, 0.8), length, width)
                )
                place += SPACING * rng.uniform(0.75, 1.25)
    return np.array(strokes)


@dataclass(frozen=True)
class Lie:
    """How a sheet lies: px = linear @ (mm + warp(mm)) + offset, the warp a slow wave."""

    linear: np.ndarray
    offset: np.ndarray
    warp_mm: float = 0.0

    def warp(self, mm):
        return self.warp_mm * np.column_stack((np.sin(mm[:, 1] / 12.0), np.cos(mm[:, 0] / 14.0)))

    def place(self, mm):
        return (mm + self.warp(mm)) @ self.linear.T + self.offset

    def back(self, px):
        flat = (px - self.offset) @ np.linalg.inv(self.linear).T
        mm = flat
        for _ in range(3):  # the warp is far flatter than 1, so this converges at once
            mm = flat - self.warp(mm)
        return mm


def lie(*, turn_deg=0.0, stretch=(1.0, 1.0), mirror=False, warp_mm=0.0):
    """A sheet that lies about its middle in the scan."""
    a = np.radians(turn_deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    linear = PER_MM * turn @ np.diag(stretch) @ np.diag([-1.0 if mirror else 1.0, 1.0])
    middle = np.array(SHAPE[::-1]) / 2
    return Lie(linear, middle - linear @ (np.array(SIZE) / 2), warp_mm)


def pull(strokes, how, **light):
    """The scan's plane of a pull that lies `how`."""
    return plane_of(clear_light(strokes, SHAPE, BLUR, place=how.place, back=how.back), **light)


def corners(how):
    w, h = SIZE
    return how.place(np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))


@dataclass(frozen=True)
class Plate:
    """A standard pull and what laying needs of it."""

    strokes: np.ndarray
    plane: np.ndarray
    laying: Laying
    pictures: MatchPictures
    lines: StandardLines


def make_plate(strokes):
    how = lie()
    plane = pull(strokes, how)
    laying = laying_of_corners(corners(how), *SIZE)
    paper = even_paper()
    found = find_lines(ink_picture(plane, laying, paper.luminance, SIZE, 0.03), 0.03, 0.03)
    lines = standard_lines(plane, paper, laying, found, BLUR, np.zeros(found.size))
    return Plate(
        strokes, plane, laying, match_pictures(levels_of(plane), laying, paper.luminance, *SIZE), lines
    )
