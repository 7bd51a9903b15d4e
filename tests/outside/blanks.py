"""Blanks from scrap against random packing by an independent polygon library (shapely).

Reads the cases that `cargo test -p trued-tests --test jobs blanks` leaves in target/tmp/blanks.json. For each:
checks by shapely that every piece lies inside the scrap, off its edge and apart from the others; then packs
the same blanks itself, RUNS times, each time with a random turn for every piece, each piece at the lowest and
then leftmost free place, and compares the counts.

    python3 tests/outside/blanks.py [runs, default 1000] [cases, default all]

The free places of a piece are exact: the room (scrap shrunk by the edge distance, taken off by the piece) less a
no-fit region (Minkowski difference, convex parts) for every piece placed before.
"""

import json
import math
import random
import sys
from multiprocessing import Pool
from pathlib import Path

import shapely
from shapely import affinity
from shapely.geometry import MultiPoint, Polygon
from shapely.ops import triangulate, unary_union

FILE = Path(__file__).resolve().parents[2] / "target" / "tmp" / "blanks.json"
EPSILON = 1e-3
# Overlays are done on a grid, which keeps them valid; far finer than EPSILON.
GRID = 1e-6


def convex_parts(polygon):
    """The polygon itself if convex, else triangles."""
    if polygon.convex_hull.area - polygon.area < 1e-6:
        return [polygon]
    return triangulate_any(polygon)


def minkowski(a_parts, b_parts):
    """Union of sums of convex parts."""
    sums = []
    for a in a_parts:
        for b in b_parts:
            points = [
                (x + u, y + v) for x, y in a.exterior.coords[:-1] for u, v in b.exterior.coords[:-1]
            ]
            sums.append(MultiPoint(points).convex_hull)
    return unary_union(sums)


def mirrored(polygon):
    return affinity.scale(polygon, -1.0, -1.0, origin=(0, 0))


def lowest_leftmost(region):
    """The lowest, then leftmost, corner of what is free."""
    best = None
    for part in getattr(region, "geoms", [region]):
        if part.is_empty or part.geom_type != "Polygon":
            continue
        for x, y in part.exterior.coords:
            if best is None or (y, x) < best:
                best = (y, x)
    return best


def prepare(case):
    """For each turn the piece, the room for its origin, and the no-fit regions against each turn."""
    scrap = Polygon(case["border"], case["openings"])
    # Chords of the enclosing polygons cost some thousandths: as much is given to the random packer.
    blank = Polygon(case["blank"]).simplify(0.05)
    turns = {"None": 1, "Half": 2, "Quarter": 4, "QuarterAndEdges": 4}[case["turns"]]
    step = {1: 0, 2: 180, 4: 90}[turns]
    pieces = [affinity.rotate(blank, step * i, origin=(0, 0)) for i in range(turns)]
    box = scrap.envelope.buffer(2 * max(blank.length, 1), join_style=2)
    outside = box.difference(scrap)
    outside_parts = [t for t in triangulate_any(outside) if t.area > 1e-9]
    grown = [p.buffer(case["edge"] - EPSILON, quad_segs=4, join_style=1) for p in pieces]
    rooms = []
    for piece in grown:
        parts = [mirrored(p) for p in convex_parts(piece)]
        forbidden = minkowski(outside_parts, parts)
        rooms.append(scrap.envelope.buffer(blank.length).difference(forbidden).intersection(frame(scrap, blank)))
    between = [p.buffer(case["between"] - EPSILON, quad_segs=4, join_style=1) for p in pieces]
    no_fit = [
        [minkowski(convex_parts(a), [mirrored(p) for p in convex_parts(b)]) for b in pieces]
        for a in between
    ]
    return scrap, pieces, rooms, no_fit


def frame(scrap, blank):
    """Where an origin can be at all."""
    return scrap.envelope.buffer(blank.length)


def triangulate_any(region):
    """Triangles of a polygon with holes: constrained by cutting Delaunay triangles with the region."""
    parts = []
    for part in getattr(region, "geoms", [region]):
        for t in triangulate(part):
            piece = t.intersection(part)
            for p in getattr(piece, "geoms", [piece]):
                if p.geom_type == "Polygon":
                    if p.convex_hull.area - p.area < 1e-9:
                        parts.append(p)
                    else:
                        parts.extend(
                            q for q in triangulate(p) if part.contains(q.representative_point())
                        )
    return parts


def pack(rooms, no_fit, dice):
    """One packing: for every piece a random turn; when it finds no place the other turns are tried."""
    free = list(rooms)
    count = 0
    while True:
        order = list(range(len(free)))
        dice.shuffle(order)
        for turn in order:
            place = lowest_leftmost(free[turn])
            if place is not None:
                y, x = place
                for other in range(len(free)):
                    region = affinity.translate(no_fit[turn][other], x, y)
                    free[other] = shapely.difference(free[other], region, grid_size=GRID)
                count += 1
                break
        else:
            return count


def best_of(job):
    number, case, runs = job
    scrap, pieces, rooms, no_fit = prepare(case)
    placed = [Polygon(p) for p in case["placed"]]
    room = scrap.buffer(-(case["edge"] - 0.03))
    for i, p in enumerate(placed):
        assert room.contains(p), f"case {number}: piece {i} comes too near to the edge"
        for j in range(i):
            gap = p.distance(placed[j])
            assert gap > case["between"] - 0.03, f"case {number}: pieces {i} and {j} are {gap} apart"
    dice = random.Random(number)
    best = 0
    for run in range(runs):
        # With one turn all orders of equal pieces are one.
        best = max(best, pack(rooms, no_fit, dice))
        if len(pieces) == 1:
            break
    return number, case["turns"], len(placed), best


def main():
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    cases = json.loads(FILE.read_text())
    if len(sys.argv) > 2:
        cases = cases[: int(sys.argv[2])]
    jobs = [(i, c, runs) for i, c in enumerate(cases)]
    worst, ours, theirs = math.inf, 0, 0
    with Pool(2) as pool:
        for number, turns, count, best in pool.imap_unordered(best_of, jobs):
            share = count / best if best else 1.0
            worst = min(worst, share)
            ours += count
            theirs += best
            print(f"case {number}: turns {turns}: {count}, best of {runs} random: {best} ({100 * share:.1f} %)", flush=True)
    print(f"blanks: {ours} laid out, {theirs} by the best of {runs} random orders each; worst case {100 * worst:.1f} %")
    assert worst >= 0.95


if __name__ == "__main__":
    main()
