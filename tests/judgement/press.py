"""A small press: tables of an edition as a printer's hand would make them, faults included.

The model is about ink on copper, not about the program: a sheet has an amount of ink, a width, a film, and a fault
does to them what it does on paper. Strengths are of the order that practice knows; none is taken from the program.
Hand variation of good pulls: ink 3 %, width 3 %, film 0.010 D from pull to pull, a third of that from region to region.
"""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from proofkit.columns import MEASUREMENTS, SHEETS, make_table
from proofkit.edition import MeasuredEdition
from proofkit.folder.edition import Edition, Pull, Region, rectangle

WIDTH_MM, HEIGHT_MM = 160.0, 120.0

REGIONS = (
    # name, work, x0, y0, x1, y1, load of a line, fine / broad share of it, tone
    ("sky", "lines", 10, 8, 55, 40, 42.0, 0.6, 1.5, 0.15),
    ("wall", "lines", 60, 8, 100, 40, 80.0, 0.7, 1.4, 0.30),
    ("tower", "lines", 110, 8, 150, 40, 95.0, 0.6, 1.6, 0.35),
    ("bank", "lines", 10, 50, 45, 80, 70.0, 0.7, 1.5, 0.25),
    ("shadow", "lines", 60, 50, 100, 80, 110.0, 0.8, 1.3, 0.55),
    ("mill", "lines", 110, 50, 150, 80, 90.0, 0.7, 1.4, 0.40),
    ("water", "lines", 10, 88, 55, 112, 60.0, 0.6, 1.5, 0.20),
    ("reeds", "lines", 60, 88, 100, 112, 55.0, 0.6, 1.5, 0.22),
    ("cloud", "open", 57, 8, 59, 112, 0.0, 0.0, 0.0, 0.0),
    ("path", "open", 102, 50, 108, 112, 0.0, 0.0, 0.0, 0.0),
    ("meadow", "open", 112, 88, 150, 112, 0.0, 0.0, 0.0, 0.0),
)


@dataclass
class Sheet:
    """What the press does to one sheet: factors on the lines, film in D, everything against the standard."""

    load: float = 1.0
    fine: float = 1.0
    broad: float = 1.0
    width: float = 1.0
    core: float = 0.0
    continuity: float = 0.99
    variation: float = 0.05
    film: float = 0.0
    gaps: float = 0.0
    halo: float = 0.0
    openness: float = 0.90
    softness: float = 1.0
    load_ramp: float = 0.0
    film_ramp: float = 0.0
    film_wave: float = 0.0
    grain: float = 0.0
    blotch: float = 0.0
    streak: float = 0.0
    specks: float = 0.0
    doubling: float = 0.0
    crease_mm: float = 0.0
    bevel: float = 0.0
    only: tuple[str, ...] = ()
    """Regions that the fault is confined to; empty = all."""
    embossing: str = "good"
    order: int = 0
    extra: dict[str, float] = field(default_factory=dict)


def under_inked(rng, s):
    s.load, s.fine, s.broad = 0.80, 1.0, 0.96
    s.core, s.continuity, s.variation, s.blotch = -0.12, 0.85, 0.20, 0.10


def overwiped(rng, s):
    s.load, s.fine, s.broad, s.core, s.continuity = 0.88, 0.88, 1.05, -0.10, 0.95
    s.width, s.film, s.gaps, s.halo = 0.97, -0.06, -0.01, -0.004


def underwiped(rng, s):
    s.load, s.width, s.film, s.openness = 1.03, 1.04, 0.07, 0.86


def wipe_streaks(rng, s):
    s.streak = 0.025


def uneven_wiping(rng, s):
    s.film_ramp, s.film_wave = rng.choice((-1, 1)) * 0.08, 0.03


def retroussage(rng, s):
    s.load, s.width, s.softness, s.gaps, s.halo, s.openness = 1.06, 1.12, 1.3, 0.07, 0.04, 0.80
    s.core = -0.03


def clogged(rng, s):
    s.only = ("shadow", "mill")
    s.load, s.width, s.gaps, s.openness, s.halo = 1.05, 1.08, 0.12, 0.62, 0.01


def low_pressure(rng, s):
    s.load, s.width, s.core, s.continuity, s.film = 0.82, 0.94, -0.18, 0.95, -0.03
    s.embossing = "weak"


def uneven_pressure(rng, s):
    s.load_ramp, s.film_ramp, s.embossing = 0.35, 0.05, "uneven, faint at the left"


def dry_paper(rng, s):
    s.load, s.width, s.core, s.continuity = 0.84, 0.96, -0.15, 0.86
    s.variation, s.grain, s.film = 0.18, 0.15, -0.015


def doubled(rng, s):
    s.doubling, s.load, s.width = 0.35, 1.10, 1.10


def crease(rng, s):
    s.crease_mm = 35.0


def specks(rng, s):
    s.specks = 3.0


def bevel_ink(rng, s):
    s.bevel = 0.25


FAULTS = {
    "under-inked": under_inked,
    "overwiped": overwiped,
    "underwiped": underwiped,
    "wipe streaks": wipe_streaks,
    "uneven wiping": uneven_wiping,
    "retroussage": retroussage,
    "clogged hatching": clogged,
    "low pressure": low_pressure,
    "uneven pressure": uneven_pressure,
    "dry paper": dry_paper,
    "doubled": doubled,
    "crease": crease,
    "specks": specks,
    "bevel ink": bevel_ink,
}


def weakened(sheet, strength):
    """Return the sheet with its fault at a share of its full strength."""
    sound = Sheet()
    for name, full in vars(sheet).items():
        usual = getattr(sound, name)
        if isinstance(usual, float):
            setattr(sheet, name, usual + strength * (full - usual))
    return sheet


@dataclass(frozen=True)
class Course:
    """What creeps over the run besides the faults."""

    wear: float = 0.0
    """Share of their load that the finest lines lose by the end of the run; the others lose half of it."""
    batch_at: int | None = None
    """Index of the first pull with another mix: 12 % less in the core, and another colour unless `is_grey`."""
    is_grey: bool = False
    film_per_pull: float = 0.0
    """Drift of the film, D at each pull; light work goes the other way by a hundredth part per 0.01 D."""
    reset_every: int = 0
    """The plate is cleaned every so many pulls, and the drift begins anew; 0 = never."""
    is_noted: bool = False
    """Whether pulls.csv tells of the cleaning."""

    def on(self, sheet, index, count):
        worn = self.wear * index / count
        sheet.fine *= 1 - worn
        sheet.load *= 1 - worn / 2
        since = index % self.reset_every if self.reset_every else index
        sheet.film += self.film_per_pull * since
        sheet.fine *= 1 - self.film_per_pull * since
        sheet.load *= 1 - self.film_per_pull * since
        if self.batch_at is not None and index >= self.batch_at:
            sheet.core -= 0.12 * 1.3
            sheet.load *= 0.92

    def note(self, index):
        is_reset = self.reset_every and index and index % self.reset_every == 0
        return {"note": "plate cleaned"} if is_reset and self.is_noted else {}


def _row(rng, pull, region, sheet, hand, film0):
    name, work, x0, _, x1, _, load, fine, broad, tone = region
    hit = not sheet.only or name in sheet.only
    s = sheet if hit else Sheet()
    at_x = ((x0 + x1) / 2) / WIDTH_MM - 0.5
    ink, width, film_hand = hand
    local = rng.normal(0, 1, 12)
    film = film0 + film_hand + 0.003 * local[0] + s.film + s.film_ramp * at_x + s.film_wave * np.sin(9 * at_x)
    film = max(film, 0.003 + 0.001 * abs(local[1]))
    row = {
        "pull": pull, "scan": f"{pull}.tif", "region": name, "work": work, "quality": "",
        "plate_tone_density": film, "u_plate_tone_density": 0.001,
        "plate_tone_unevenness_density": 0.006 + 0.001 * abs(local[2]) + abs(s.film_wave) / 3,
        "plate_tone_slope_density_per_100mm": abs(s.film_ramp) / 1.6 + 0.004 * abs(local[3]),
        "streak_density": 0.003 * (1 + 0.3 * local[4]) + s.streak,
        "dark_specks_per_cm2": rng.poisson((0.05 + s.specks) * 12) / 12, "light_specks_per_cm2": rng.poisson(0.6) / 12,
        "tone_distance_density": abs(film - film0 + tone * (ink + width + np.log(s.load)) + 0.003 * local[5]),
        "mottle_density": 0.008 + 0.05 * s.grain + 0.05 * s.blotch + 0.001 * local[6],
    }  # fmt: skip
    if not load:
        return row
    gain = (1 + ink) * (1 + width) * s.load * (1 + s.load_ramp * at_x) * (1 + 0.01 * local[7])
    row |= {
        "line_load_um": load * gain, "u_line_load_um": 0.005 * load,
        "fine_line_load_um": load * fine * gain * s.fine * (1 + 0.01 * local[8]),
        "broad_line_load_um": load * broad * gain * s.broad * (1 + 0.01 * local[9]),
        "line_width_um": load * 1.1 * (1 + width) * s.width * (1 + 0.01 * local[10]),
        "line_core_density": 1.3 * (1 + ink) + s.core + 0.01 * local[11],
        "line_continuity_fraction": min(1.0, s.continuity + 0.003 * rng.normal()),
        "line_load_variation": 0.0 if pull == "1" else s.variation * (1 + 0.1 * rng.normal()),
        "edge_softness_um": 40 * s.softness * (1 + 0.03 * rng.normal()),
        "hollow_index": 0.01 * rng.normal(),
        "tone_fraction": 1 - (1 - tone * gain) * 10**-film,
        "ground_between_lines_density": film + 0.02 + s.gaps + 0.003 * rng.normal(),
        "hatch_open_fraction": min(1.0, s.openness + 0.01 * rng.normal()),
        "halo_density": 0.010 + s.halo + 0.001 * rng.normal(),
    }  # fmt: skip
    return row


def _sheet_row(rng, pull, sheet, hue):
    tint = {} if hue is None else {"ink_a": hue / 2 + 0.1 * rng.normal(), "ink_b": hue + 0.1 * rng.normal()}
    return tint | {
        "pull": pull, "scan": f"{pull}.tif", "misfit_um": 12 + 2 * rng.normal(), "blur_um": 20 + 0.5 * rng.normal(),
        "paper_density": 0.06 + 0.003 * rng.normal(), "bevel_density": 0.03 + 0.01 * abs(rng.normal()) + sheet.bevel,
        "set_off_density": 0.0,
        "doubling_fraction": sheet.doubling, "doubling_um": 150.0 * (sheet.doubling > 0), "crease_mm": sheet.crease_mm,
    }  # fmt: skip


def _picture(rng, sheet, hand, film0):
    h, w = int(HEIGHT_MM * 2), int(WIDTH_MM * 2)
    x = (np.arange(w) + 0.5) / w - 0.5
    ink, width, film_hand = hand
    film = film0 + film_hand + sheet.film + sheet.film_ramp * x + sheet.film_wave * np.sin(9 * x)
    film = np.maximum(np.broadcast_to(film, (h, w)), 0.003)
    picture = 10.0**-film
    smooth = np.kron(rng.normal(0, 1, (h // 12, w // 12)), np.ones((12, 12)))
    for name, _, x0, y0, x1, y1, load, *_, tone in REGIONS:
        if not load:
            continue
        box = np.s_[int(2 * y0) : int(2 * y1), int(2 * x0) : int(2 * x1)]
        hit = not sheet.only or name in sheet.only
        cover = tone * (1 + ink) * (1 + width) * (sheet.load if hit else 1.0) * (1 + sheet.load_ramp * x)
        cover = np.broadcast_to(cover, (h, w))[box] * (1 + sheet.blotch * smooth[:h, :w][box])
        cover = cover * (1 + sheet.grain * rng.normal(0, 1, cover.shape))
        picture[box] = picture[box] * (1 - np.clip(cover, 0, 0.97))
    return (picture * (1 + 0.004 * rng.normal(0, 1, picture.shape))).astype(np.float32)


def print_edition(
    faults,
    *,
    seed=0,
    film=0.06,
    confirming=3,
    wear=0.0,
    declared="uniform",
    tolerances=(),
    watched=(),
    pictures=True,
    regions=REGIONS,
    strength=1.0,
    course=None,
):
    """Print an edition: pull 1 is the standard, pulls 2 to 1 + `confirming` confirm it, then one sheet per fault.

    `faults` holds fault names or None for a good sheet; returns the MeasuredEdition. The scans are grey unless a course
    with a coloured batch is given.
    """
    course = course or Course(wear=wear)
    rng = np.random.default_rng(seed)
    plan = [None] * (1 + confirming) + list(faults)
    rows, sheet_rows, tone, pulls = [], [], {}, []
    for index, fault in enumerate(plan):
        pull, sheet = str(index + 1), Sheet()
        for one in fault if isinstance(fault, tuple) else (fault,) if fault else ():
            FAULTS[one](rng, sheet)
        sheet = weakened(sheet, strength)
        course.on(sheet, index, len(plan))
        hand = (rng.normal(0, 0.03), rng.normal(0, 0.03), rng.normal(0, 0.010))
        rows += [_row(rng, pull, region, sheet, hand, film) for region in regions]
        has_hue = course.batch_at is not None and not course.is_grey
        hue = (5.0 if index >= course.batch_at else 0.0) if has_hue else None
        sheet_rows.append(_sheet_row(rng, pull, sheet, hue))
        if pictures:
            tone[pull] = _picture(rng, sheet, hand, film)
        notes = {"embossing": sheet.embossing} if sheet.embossing else {}
        pulls.append(Pull(pull, f"{pull}.tif", notes | course.note(index)))
    outlines = tuple(
        Region(name, work, rectangle(x0, y0, x1, y1)) for name, work, x0, y0, x1, y1, *_ in regions
    )
    edition = Edition(
        Path("edition"), "The mill", tuple(pulls), outlines, "1", tuple(str(i + 2) for i in range(confirming)),
        declared, tolerances=tuple(tolerances), watched=tuple(watched),
    )  # fmt: skip
    return MeasuredEdition(
        edition=edition, regions=outlines, standard="1", is_provisional=False,
        measurements=make_table(rows, MEASUREMENTS), sheets=make_table(sheet_rows, SHEETS), histograms={},
        tone_pictures=tone, failures={}, plate_width_mm=WIDTH_MM, plate_height_mm=HEIGHT_MM,
    )  # fmt: skip


def verdicts(judged):
    """Pull -> (verdict, causes)."""
    table = judged.judgement
    return {
        p: (v, tuple(filter(None, c.split("; "))))
        for p, v, c in zip(table.pull, table.verdict, table.causes, strict=True)
    }
