"""What someone would put together from general-purpose libraries, beside trued, on the same traces.

    pipeline.py FOLDER

FOLDER holds what `pipeline-cases` wrote. The pipeline, for each closed contour:

1. a circle by RANSAC (scikit-image); taken where nine tenths of the samples lie on it;
2. contour approximation (OpenCV), tolerance 1.5 % of the hull's length: longer than any wander here;
3. where that has four corners and fills its minimum rectangle (OpenCV), that rectangle; else the
   polygon, mended (Shapely).

It has no arcs but whole circles, so every fillet, slot and sector is lost on it; that is what those
libraries give. Right means, for both: the loops that were meant, each with the right kinds of edges
in the right order. Sizes are not asked of it. Times are the smallest of three, from an array in memory;
neither imports nor reading of files are counted.
"""

import json
import statistics
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import shapely
from skimage.measure import CircleModel, ransac

cv2.setNumThreads(1)
RNG = 7


def strokes_of(file):
    """Strokes of a trace file as arrays; strokes of a few points are marks and left out."""
    lines = [line for line in file.read_text().splitlines() if line and line[0] != "#"]
    header = lines[0].split(",")
    table = np.loadtxt(lines[1:], delimiter=",", ndmin=2)
    points = table[:, [header.index("x"), header.index("y")]]
    if "stroke" not in header:
        return [points]
    labels = table[:, header.index("stroke")]
    cuts = np.flatnonzero(np.diff(labels)) + 1
    return [s for s in np.split(points, cuts) if len(s) > 12]


def contour(points):
    """Kinds of the edges of one contour, and its shape."""
    scale = np.ptp(points, axis=0).max()
    model, inliers = ransac(
        points, CircleModel, min_samples=3, residual_threshold=max(1.0, 0.01 * scale),
        max_trials=100, rng=RNG,
    )
    if inliers is not None and inliers.mean() > 0.9:
        return "O", model
    flat = points.astype(np.float32).reshape(-1, 1, 2)
    length = cv2.arcLength(cv2.convexHull(flat), True)
    corners = cv2.approxPolyDP(flat, 0.015 * length, True).reshape(-1, 2)
    if len(corners) == 4:
        rectangle = cv2.minAreaRect(flat)
        if cv2.contourArea(corners) > 0.93 * rectangle[1][0] * rectangle[1][1]:
            return "LLLL", cv2.boxPoints(rectangle)
    if len(corners) < 3:
        return "", corners
    polygon = shapely.Polygon(corners)
    if not polygon.is_valid:
        polygon = shapely.make_valid(polygon)
    return "L" * len(corners), polygon


def is_right(truth, got):
    left = list(truth)
    for kinds in got:
        same = [t for t in left if len(t) == len(kinds) and (kinds in t + t or kinds[::-1] in t + t)]
        if not same:
            return False
        left.remove(same[0])
    return not left


def main():
    folder = Path(sys.argv[1])
    groups = {}
    for case in json.loads((folder / "index.json").read_text()):
        strokes = strokes_of(folder / case["file"])
        least = float("inf")
        for _ in range(3):
            start = time.perf_counter()
            got = [contour(s)[0] for s in strokes]
            least = min(least, time.perf_counter() - start)
        groups.setdefault(case["group"], []).append(
            (least, case["seconds"], is_right(case["kinds"], got), case["right"])
        )
    print(f"OpenCV {cv2.__version__}, Shapely {shapely.__version__}, NumPy {np.__version__}\n")
    print("| traces | pipeline, times as long as trued | pipeline | trued | pipeline right | trued right | of |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for name, rows in groups.items():
        theirs, ours, right, own = zip(*rows)
        ratio = statistics.median(t / o for t, o in zip(theirs, ours))
        print(
            f"| {name} | {ratio:.2f} (median) | {1e3 * statistics.median(theirs):.2f} ms "
            f"| {1e3 * statistics.median(ours):.2f} ms | {sum(right)} | {sum(own)} | {len(rows)} |"
        )


main()
