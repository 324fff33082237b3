"""Where the time of a sheet goes: CPU seconds of each stage, by a profiler whose clock is that of the processors."""

import cProfile
import pstats
import time

STAGES = {
    "reading: hash, luminance, overview": ("read_scan", "open_scan"),
    "plate mark": ("_frame",),
    "bare paper": ("rough_paper", "find_paper"),
    "laying: first guess and patches": ("_by_patches",),
    "laying: lines": ("fit_lines",),
    "crossings and blur": ("crossings_of",),
    "fits through the blur": ("fit_sheet",),
    "regions: tone, film, specks, lines": ("measure_region",),
    "one line off?": ("doubtful_fields",),
    "crease": ("find_crease",),
    "set-off": ("find_set_off",),
    "second set of lines": ("find_ghost",),
    "colour": ("sheet_colour",),
    "pictures kept": ("fine_picture", "reflectance_picture"),
}
"""Stage -> functions of the program whose time it is, those they call included; none calls one of another stage."""

CALLED_BY = {"_frame": "reading.py", "reflectance_picture": "whole.py"}
"""Functions of which only those in this file, or called from it, are meant."""


def stages(work):
    """Do `work` and return CPU seconds of each stage, and of all of it."""
    profile = cProfile.Profile(time.process_time)
    began = time.process_time()
    profile.runcall(work)
    whole = time.process_time() - began
    seconds = dict.fromkeys(STAGES, 0.0)
    stats = pstats.Stats(profile).stats
    for (file, _, name), (_, _, _, own, callers) in stats.items():
        stage = next((stage for stage, names in STAGES.items() if name in names), None)
        if stage is None or "proofkit" not in file:
            continue
        where = CALLED_BY.get(name)
        if where is None or file.endswith(f"sheet/{where}"):
            seconds[stage] += own
        else:
            seconds[stage] += sum(
                times[3] for (calling, _, _), times in callers.items() if calling.endswith(f"sheet/{where}")
            )
    return seconds | {"the rest": whole - sum(seconds.values()), "all": whole}
