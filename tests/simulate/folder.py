"""Write scans and whole edition folders, with the truth beside them."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd
import tifffile

from tests.simulate.hand import Pull
from tests.simulate.plate import Plate
from tests.simulate.render import Rendered, render
from tests.simulate.truth import affected_regions, grid_truth, region_truth, sheet_truth

Curve = Literal["sRGB", "linear", "gamma 2.2", "gamma 1.8"]
Compression = Literal["none", "deflate", "lzw", "zstd"]


@dataclass(frozen=True, slots=True)
class ScanKind:
    """How a scan is stored."""

    bits: Literal[8, 16] = 8
    curve: Curve = "sRGB"
    compression: Compression = "deflate"
    rgb: bool = False


def encode(linear: np.ndarray, curve: Curve) -> np.ndarray:
    """Return code values 0 to 1 of linear light; sRGB after IEC 61966-2-1."""
    if curve == "linear":
        return linear
    if curve == "sRGB":
        return np.where(
            linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055
        )
    return np.asarray(linear ** (1 / float(curve.split()[1])))


def to_codes(
    plane: np.ndarray, kind: ScanKind, tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
) -> np.ndarray:
    """Return the scan's codes, (h, w) or (h, w, 3) uint8 or uint16.

    For RGB the luminance of the three channels (weights of IEC 61966-2-1) stays that of `plane`.
    """
    full = 2**kind.bits - 1
    dtype = np.uint8 if kind.bits == 8 else np.uint16
    weights = np.array([0.2126, 0.7152, 0.0722])
    levels = np.array(tint) / (weights @ np.array(tint)) if kind.rgb else np.array([1.0])
    channels = []
    for level in levels:
        table = encode(np.minimum(np.arange(65536) / 65535 * level, 1.0), kind.curve)
        channels.append(np.rint(table * full).astype(dtype)[plane])
    return np.stack(channels, axis=-1) if kind.rgb else channels[0]


def write_scan(
    path: Path, plane: np.ndarray, ppi: float, kind: ScanKind, tint: tuple[float, float, float]
) -> None:
    """Write a TIFF with its resolution; no date, so that the same scan is the same file."""
    codes = to_codes(plane, kind, tint)
    compression = None if kind.compression == "none" else kind.compression
    tifffile.imwrite(
        path,
        codes,
        photometric="rgb" if kind.rgb else "minisblack",
        compression=compression,
        compressionargs={"level": 9} if compression == "deflate" else None,
        predictor=2 if compression else None,
        resolution=(ppi, ppi),
        resolutionunit="INCH",
        rowsperstrip=128,
        metadata=None,
        software=False,
    )


@dataclass(frozen=True, slots=True)
class EditionText:
    """What edition.toml says beside the plate."""

    title: str
    standard: str | None
    confirming: tuple[str, ...] = ()
    note: str = ""
    names_plate_size: bool = True


def _toml(text: EditionText, plate: Plate, ppi: float, curve: str) -> str:
    lines = [f"# {text.note}"] if text.note else []
    lines += [f'title = "{text.title}"', 'declared = "uniform"']
    if text.names_plate_size:
        lines += [f"plate_width_mm = {plate.width_mm}", f"plate_height_mm = {plate.height_mm}"]
    if text.standard:
        lines.append(f'standard = "{text.standard}"')
    if text.confirming:
        lines.append("confirming = [" + ", ".join(f'"{pull}"' for pull in text.confirming) + "]")
    lines += ["", "[capture]", f"ppi = {ppi:g}", f'tone_curve = "{curve}"', 'backing = "white, opaque"', ""]
    return "\n".join(lines)


def _pulls_csv(pulls: Sequence[Pull], names: dict[str, str]) -> pd.DataFrame:
    columns = ["pull", "scan", "kind", "designation", "state", "pulled_on", "printer", "paper", "ink", "wiping",
               "pressure", "embossing", "note"]  # fmt: skip
    rows = [{"pull": pull.number, "scan": names[pull.number], **(pull.notes or {})} for pull in pulls]
    return pd.DataFrame(rows).reindex(columns=columns)


def pull_truth(rendered: Rendered, planted: pd.DataFrame, seed: int) -> dict[str, object]:
    """Return the row of truth/pulls.csv."""
    pull = rendered.pull
    causes = [fault.cause for fault in pull.faults] + ["", ""]
    return {
        "pull": pull.number,
        "cause": causes[0],
        "second_cause": causes[1],
        "strength": pull.faults[0].strength if pull.faults else 0.0,
        "regions": "; ".join(affected_regions(rendered.plate, pull, planted, seed)),
    }


def make_edition(
    folder: Path,
    plate: Plate,
    pulls: Sequence[Pull],
    ppi: float,
    seed: int,
    text: EditionText,
    kinds: dict[str, ScanKind] | ScanKind = ScanKind(),
) -> None:
    """Write an edition folder: edition.toml, pulls.csv, regions.csv, scans/ and truth/.

    Parameters
    ----------
    folder : Path
        Made if need be; files in it are written over.
    plate, pulls
        What is printed; the seed of a pull's own chance is `seed` and its place in the row.
    ppi : float
    seed : int
    text : EditionText
    kinds
        How scans are stored, for all or by pull number (others: 8-bit grey sRGB deflate).
    """
    (folder / "scans").mkdir(parents=True, exist_ok=True)
    (folder / "truth").mkdir(exist_ok=True)
    by_pull = kinds if isinstance(kinds, dict) else {pull.number: kinds for pull in pulls}
    names = {pull.number: f"pull_{pull.number}.tif" for pull in pulls}
    curve = next(iter(by_pull.values()), ScanKind()).curve
    (folder / "edition.toml").write_text(_toml(text, plate, ppi, curve), encoding="utf-8")
    _pulls_csv(pulls, names).to_csv(folder / "pulls.csv", index=False)
    regions = [{"name": r.name, "work": r.work, "wkt": r.outline_mm.wkt} for r in plate.regions]
    pd.DataFrame(regions).to_csv(folder / "regions.csv", index=False)
    tables: dict[str, list[pd.DataFrame]] = {"pulls": [], "sheets": [], "measurements": [], "grid": []}
    for k, pull in enumerate(pulls):
        pull_seed = seed * 1000 + k
        rendered = render(plate, pull, ppi, pull_seed)
        kind = by_pull.get(pull.number, ScanKind())
        write_scan(folder / "scans" / names[pull.number], rendered.plane, ppi, kind, pull.tint)
        planted = region_truth(rendered.inked, plate)
        tables["pulls"].append(pd.DataFrame([pull_truth(rendered, planted, pull_seed)]))
        tables["sheets"].append(pd.DataFrame([sheet_truth(rendered)]))
        tables["measurements"].append(planted.assign(pull=pull.number)[["pull", *planted.columns]])
        tables["grid"].append(
            grid_truth(rendered).assign(pull=pull.number)[["pull", "x_mm", "y_mm", "x_px", "y_px"]]
        )
    for name, parts in tables.items():
        pd.concat(parts).to_csv(folder / "truth" / f"{name}.csv", index=False, float_format="%.6g")
