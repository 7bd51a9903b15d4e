"""Compares drawings from elsewhere, as the project reads them, with independent readers.

    drawings.py TRUED FOLDER…    every DXF and SVG below the folders

DXF: the model space as ezdxf flattens it, by layers and visibility of its own. SVG: paths and shapes as
svgpathtools has them, with transforms and styles of this script's own. Both ways: no place of ours lies
further from theirs than the tolerance, none of theirs further from ours. A file that is read otherwise
must say so (a doubt), or the whole fails.
"""

import json
import math
import os
import subprocess
import sys

import ezdxf
import numpy as np
from ezdxf import path as ezpath
from ezdxf import recover
from scipy.spatial import cKDTree

STEP = 0.02
DXF_OFF = 0.06
SVG_OFF = 0.1
TEXTS = {"TEXT", "MTEXT", "ATTRIB", "ATTDEF", "DIMENSION", "HATCH", "LEADER", "MULTILEADER", "TOLERANCE",
         "ACAD_TABLE", "IMAGE", "WIPEOUT", "XLINE", "RAY", "VIEWPORT", "POINT", "ARC_DIMENSION", "MPOLYGON",
         "LARGE_RADIAL_DIMENSION", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"}


# ---------------------------------------------------------------- what the project reads


def ours(trued, file, *flags):
    """The edges as polylines with their doubts, or the refusal."""
    run = subprocess.run([trued, "outline", file, "--format", "json", "-q", *flags], capture_output=True, timeout=120)
    if run.returncode != 0:
        return None, [run.stderr.decode(errors="replace").strip()]
    document = json.loads(run.stdout)
    lines = []
    for loop in document["loops"]:
        for edge in loop["edges"]:
            if "line" in edge:
                lines.append(np.array([edge["line"]["from"], edge["line"]["to"]]))
            else:
                lines.append(arc(edge["arc"]))
    return lines, [d["text"] for d in document.get("doubts", [])]


def arc(a):
    n = max(8, math.ceil(abs(a["sweep"]) / 0.01))
    start = math.atan2(a["from"][1] - a["center"][1], a["from"][0] - a["center"][0])
    t = start + a["sweep"] * np.linspace(0, 1, n + 1)
    return np.column_stack([a["center"][0] + a["radius"] * np.cos(t), a["center"][1] + a["radius"] * np.sin(t)])


# ---------------------------------------------------------------- how far apart


def sampled(lines, step):
    """Places along polylines no further apart than the step."""
    out = []
    for line in lines:
        for p, q in zip(line[:-1], line[1:]):
            n = max(1, min(20000, math.ceil(math.dist(p, q) / step)))
            out.append(p + (q - p) * np.linspace(0, 1, n, endpoint=False)[:, None])
        out.append(line[-1:])
    return np.concatenate(out) if out else np.zeros((0, 2))


def segments(lines):
    return np.concatenate([np.hstack([l[:-1], l[1:]]) for l in lines if len(l) > 1])


def apart(a, b, step):
    """The furthest that a place of a lies from the polylines b."""
    if not a:
        return 0.0
    if not b:
        return math.inf
    places = sampled(a, step)
    near = cKDTree(sampled(b, step))
    off = near.query(places)[0]
    # Samples of b lie within half a step of any place on it.
    return max(0.0, math.sqrt(max(0.0, float(off.max()) ** 2 - (0.5 * step) ** 2)))


def both_ways(a, b):
    size = max((float(np.ptp(np.concatenate(l), axis=0).max()) for l in (a, b) if l), default=1.0)
    step = max(STEP, size / 20000)
    return max(apart(a, b, step), apart(b, a, step))


# ---------------------------------------------------------------- DXF by ezdxf


def dxf(file):
    try:
        drawing = ezdxf.readfile(file)
    except Exception:
        drawing, _ = recover.readfile(file)
    # What the file itself says: the library fills in defaults.
    with open(file, "rb") as f:
        head = f.read(200_000)
    unit = drawing.header.get("$INSUNITS", 0) if b"$INSUNITS" in head else 0
    if unit == 0:
        mm = 25.4 if drawing.header.get("$MEASUREMENT", 1) == 0 and "$MEASUREMENT" in drawing.header else 1.0
    else:
        mm = ezdxf.units.conversion_factor(unit, 4) if unit != 4 else 1.0
    state = {layer.dxf.name.lower(): (layer.is_on(), layer.is_frozen()) for layer in drawing.layers}
    lines, lost = [], set()

    def walk(entities, around, frozen):
        for e in entities:
            if e.dxf.get("invisible", 0) or e.dxf.get("paperspace", 0):
                continue
            layer = e.dxf.get("layer", "0").lower()
            if layer == "0" and around is not None:
                layer = around
            on, cold = state.get(layer, (True, False))
            kind = e.dxftype()
            if kind == "INSERT":
                if e.dxf.name not in drawing.blocks:
                    lost.add(kind)
                    continue
                for copy in e.multi_insert() if e.mcount > 1 else [e]:
                    walk(copy.virtual_entities(skipped_entity_callback=lambda s, why: lost.add(s.dxftype())), layer, frozen or cold)
                continue
            if not on or cold or frozen or kind in TEXTS:
                continue
            try:
                p = ezpath.make_path(e)
            except Exception:
                lost.add(kind)
                continue
            for sub in p.sub_paths() if p.has_sub_paths else [p]:
                points = np.array([(v.x * mm, v.y * mm) for v in sub.flattening(0.002 / mm)])
                if len(points) > 1:
                    lines.append(points)

    walk(drawing.modelspace(), None, False)
    return lines, lost


# ---------------------------------------------------------------- the table


def files(folders, ending):
    for folder in folders:
        for root, _, names in sorted(os.walk(folder)):
            for name in sorted(names):
                if name.lower().endswith(ending):
                    yield os.path.join(root, name)


def compare(trued, folders, ending, theirs, tolerance, verbose):
    read = right = told = wrong = refused = 0
    for file in files(folders, ending):
        try:
            want, lost = theirs(file)
        except Exception as e:
            if verbose:
                print(f"  ??  {file}: {type(e).__name__} {str(e)[:80]}")
            continue
        got, doubts = ours(trued, file)
        if got is None:
            refused += bool(want)
            if verbose:
                print(f"  {'refused' if want else 'empty'}  {file}: {doubts[0][-200:]}")
            continue
        read += 1
        off = both_ways(got, want)
        doubts = [d for d in doubts if "unit" not in d]
        if off <= tolerance:
            right += 1
        elif doubts or lost:
            told += 1
        else:
            wrong += 1
        if verbose:
            mark = "ok" if off <= tolerance else "told" if doubts or lost else "WRONG"
            print(f"  {mark}  {file}: {off:.4f} mm, {len(got)} edges {doubts[:2]} {sorted(lost)}")
    return read, right, told, wrong, refused


def main():
    trued, folders = sys.argv[1], [a for a in sys.argv[2:] if a != "-v"]
    verbose = "-v" in sys.argv
    failed = False
    for ending, theirs, tolerance in [(".dxf", dxf, DXF_OFF)]:
        read, right, told, wrong, refused = compare(trued, folders, ending, theirs, tolerance, verbose)
        print(f"{ending}: {read} read, {right} within {tolerance} mm both ways, {told} told, {wrong} not told, {refused} refused")
        failed |= wrong > 0
    sys.exit(failed)


if __name__ == "__main__":
    main()
