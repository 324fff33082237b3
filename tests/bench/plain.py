"""One sheet measured the plain way: library calls on whole arrays in double precision, as a notebook would.

Written to be compared with in time and memory, not in numbers: linear light and density of every pixel, plate mark by
thresholding a reduced picture, an affine map from its corners, local shifts by phase correlation, the whole sheet
resampled, then for each field a local threshold, skeleton, distance transform, structure tensor and statistics.
"""

import numpy as np
import pandas as pd
from scipy import ndimage
from scipy.stats import wasserstein_distance
from skimage import feature, filters, io, measure, morphology, registration, transform

from tests.bench.drawing import PLATE_MM, SHEET_MM, field_boxes

REDUCED = 8
WINDOW_PX = 256
WINDOWS = (12, 16)
DEGREE = 3


def measure_file(path):
    """Return linear luminance, density and the corners of the plate mark in a file."""
    codes = io.imread(path)
    share = codes / np.iinfo(codes.dtype).max
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    light = linear @ np.array([0.2126, 0.7152, 0.0722])
    density = -np.log10(np.clip(light, 0.01, 1.0))
    return light, density, corners_of(density)


def corners_of(density):
    """Return four corners (x, y) of what is darker than the margin in a reduced picture. [px]"""
    small = filters.gaussian(transform.downscale_local_mean(density, (REDUCED, REDUCED)), 2)
    dark = ndimage.binary_closing(small > np.median(small[: len(small) // 20]) + 0.025, np.ones((9, 9)))
    pieces = measure.label(dark)
    largest = pieces == 1 + np.argmax(np.bincount(pieces.ravel())[1:])
    box = measure.regionprops(largest.astype(np.uint8))[0].bbox
    top, left, bottom, right = (REDUCED * value for value in box)
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)], dtype=float)


def prepare(path):
    """Return what sheets are compared with."""
    light, density, corners = measure_file(path)
    px_per_mm = light.shape[1] / SHEET_MM[0]
    boxes = {}
    for name, (x0, y0, x1, y1) in field_boxes().items():
        x, y = corners[0] + np.array([x0, y0]) * (corners[2] - corners[0]) / PLATE_MM
        right, bottom = corners[0] + np.array([x1, y1]) * (corners[2] - corners[0]) / PLATE_MM
        boxes[name] = tuple(int(value) for value in (y, bottom, x, right))
    fields = {
        name: field(light[a:b, c:d], density[a:b, c:d], px_per_mm)[1] for name, (a, b, c, d) in boxes.items()
    }
    return {"density": density, "corners": corners, "boxes": boxes, "fields": fields, "px_per_mm": px_per_mm}


def measure_sheet(path, prepared):
    """Return a table of measures of a sheet, laid on the prepared one."""
    light, density, corners = measure_file(path)
    where = local_map(prepared, density, corners)
    light = transform.warp(light, where, order=1)
    density = -np.log10(np.clip(light, 0.01, 1.0))
    rows = []
    for name, (top, bottom, left, right) in prepared["boxes"].items():
        part = light[top:bottom, left:right], density[top:bottom, left:right]
        rows.append({"region": name, **field(*part, prepared["px_per_mm"], prepared["fields"][name])[0]})
    return pd.DataFrame(rows)


def local_map(prepared, density, corners):
    """Return the (rows, columns) of the sheet at every pixel of the prepared one."""
    affine = transform.estimate_transform("affine", prepared["corners"], corners)
    straight = transform.warp(density, affine, output_shape=prepared["density"].shape, order=1)
    (x0, y0), (x1, y1) = prepared["corners"].min(0), prepared["corners"].max(0)
    half = min(WINDOW_PX, int(min(x1 - x0, y1 - y0)) // 8) // 2
    window = filters.window("hann", (2 * half, 2 * half))
    places, shifts = [], []
    for y in np.linspace(y0 + 2 * half, y1 - 2 * half, WINDOWS[1]).astype(int):
        for x in np.linspace(x0 + 2 * half, x1 - 2 * half, WINDOWS[0]).astype(int):
            cut = (slice(y - half, y + half), slice(x - half, x + half))
            one, two = (
                (picture[cut] - picture[cut].mean()) * window for picture in (prepared["density"], straight)
            )
            shift, *_ = registration.phase_cross_correlation(one, two, upsample_factor=10, normalization=None)
            places.append((x, y))
            shifts.append(-shift[::-1])
    rows, columns = prepared["density"].shape
    terms = terms_of(np.array(places)[:, 0] / columns, np.array(places)[:, 1] / rows)
    weights = np.ones(len(terms))
    for _ in range(12):
        found, *_ = np.linalg.lstsq(terms * weights[:, None], np.array(shifts) * weights[:, None], rcond=None)
        miss = np.hypot(*(np.array(shifts) - terms @ found).T)
        weights = 1.0 / (1.0 + (miss / max(0.3, np.median(miss))) ** 2)
    x, y = np.meshgrid(np.arange(columns), np.arange(rows))
    every = terms_of(x / columns, y / rows)
    moved = np.stack([x, y], -1) + every @ found
    m = affine.params
    return np.stack([moved @ m[1, :2] + m[1, 2], moved @ m[0, :2] + m[0, 2]])


def terms_of(x, y):
    return np.stack([x**i * y**j for i in range(DEGREE + 1) for j in range(DEGREE + 1 - i)], -1)


def field(light, density, px_per_mm, standard=None):
    """Return measures of a field, and what a later sheet is compared with."""
    dark = light < filters.threshold_sauvola(light, window_size=51, k=0.2, r=0.5)
    dark = morphology.remove_small_objects(dark, max_size=12)
    middle = morphology.skeletonize(dark)
    widths = 2 * ndimage.distance_transform_edt(dark)[middle] / px_per_mm * 1000
    rows, mixed, columns = feature.structure_tensor(density, sigma=4, order="rc")
    pieces = measure.label(dark, connectivity=2)
    table = measure.regionprops_table(pieces, properties=("area", "bbox", "axis_major_length"))
    histogram, edges = np.histogram(density, 256, (-0.1, 2.0))
    ground = ~morphology.dilation(dark, morphology.footprint_rectangle((5, 5)))
    film = filters.gaussian(np.where(ground, density, 0), 20) / np.maximum(
        filters.gaussian(ground.astype(float), 20), 1e-3
    )
    row = {
        "length_mm": middle.sum() / px_per_mm,
        "width_um": np.median(widths) if len(widths) else np.nan,
        "angle_deg": np.degrees(0.5 * np.arctan2(2 * mixed.sum(), (rows - columns).sum())) % 180,
        "period_mm": period(density, px_per_mm),
        "load_um": profiles(light, middle, 0.5 * np.arctan2(2 * mixed, rows - columns)) / px_per_mm * 1000,
        "pieces": len(table["area"]),
        "tone_fraction": (1 - light).mean(),
        "film": np.median(density[ground]),
        "film_spread": film[ground].std(),
    }
    for share in (5, 25, 50, 75, 95):
        row[f"p{share}"] = np.percentile(density, share)
    if standard is not None:
        middles = (edges[1:] + edges[:-1]) / 2
        row["distance"] = wasserstein_distance(middles, middles, histogram, standard["histogram"])
        near = morphology.dilation(dark, morphology.footprint_rectangle((3, 3)))
        row["continuity"] = near[standard["middle"]].mean() if standard["middle"].any() else np.nan
    return row, {"middle": middle, "histogram": histogram}


def period(density, px_per_mm):
    """Return the strongest period of a field by its power spectrum. [mm]"""
    window = filters.window("hann", density.shape)
    power = np.abs(np.fft.fft2((density - density.mean()) * window)) ** 2
    rows, columns = np.meshgrid(*(np.fft.fftfreq(side) for side in density.shape), indexing="ij")
    radius = (np.hypot(rows, columns) * 400).astype(int)
    radial = np.bincount(np.minimum(radius, 200).ravel(), power.ravel(), 201)[:200]
    low = int(400 / (1.5 * px_per_mm)) + 1
    return 400 / (low + int(np.argmax(radial[low:]))) / px_per_mm


def profiles(light, middle, angle, count=200, reach=8):
    """Return the median load of profiles across some points of lines. [px]"""
    points = np.argwhere(middle)
    if not len(points):
        return np.nan
    chosen = points[np.random.default_rng(0).choice(len(points), min(count, len(points)), replace=False)]
    loads = []
    for row, column in chosen:
        across = np.array([np.cos(angle[row, column]), np.sin(angle[row, column])])
        ends = (row, column) - reach * across, (row, column) + reach * across
        profile = measure.profile_line(1 - light, *ends, order=1, mode="reflect")
        loads.append(np.sum(profile - min(profile[0], profile[-1])))
    return float(np.median(loads))
