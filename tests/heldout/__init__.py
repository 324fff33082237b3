"""Scanned editions drawn from vector strokes, to measure the program on plates it was not built on.

Every sheet is made of ink polygons whose place, width and density are known, so the truth needs no image.
"""
