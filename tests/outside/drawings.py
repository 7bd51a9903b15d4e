"""Compares drawings from elsewhere, as the project reads them, with independent readers.

    drawings.py TRUED FOLDER…    every DXF and SVG below the folders

DXF: the model space by ezdxf, curves by SciPy, by layers and visibility of the library's own. SVG: paths and shapes as
svgpathtools has them, with transforms and styles of this script's own. Both ways: no place of ours lies
further from theirs than the tolerance, none of theirs further from ours. A file that is read otherwise
must say so (a doubt), or the whole fails.
"""

import json
import math
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import svgpathtools
from ezdxf import path as ezpath
from ezdxf import recover
from scipy.interpolate import BSpline, CubicSpline
from scipy.spatial import cKDTree
from svgpathtools.parser import parse_transform

STEP = 0.02
DXF_OFF = 0.06
SVG_OFF = 0.06
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
    """Places along polylines no further apart than the step, each with the ends of its segment."""
    out = []
    for line in lines:
        for p, q in zip(line[:-1], line[1:]):
            n = max(1, min(20000, math.ceil(math.dist(p, q) / step)))
            at = p + (q - p) * np.linspace(0, 1, n + 1)[:, None]
            out.append(np.hstack([at, np.tile(np.concatenate([p, q]), (n + 1, 1))]))
    return np.concatenate(out) if out else np.zeros((0, 6))


def apart(a, b, step):
    """The furthest that a sampled place of a lies from the segments b."""
    if len(a) == 0:
        return 0.0
    if len(b) == 0:
        return math.inf
    near = cKDTree(b[:, :2]).query(a[:, :2], k=min(6, len(b)))[1].reshape(len(a), -1)
    p, q = b[near][..., 2:4], b[near][..., 4:6]
    way, to = q - p, a[:, None, :2] - p
    t = np.clip((to * way).sum(-1) / np.maximum((way * way).sum(-1), 1e-300), 0, 1)
    return float(np.linalg.norm(to - way * t[..., None], axis=-1).min(1).max())


def both_ways(a, b):
    size = max((float(np.ptp(np.concatenate(l), axis=0).max()) for l in (a, b) if l), default=1.0)
    step = max(5 * STEP, size / 20000)
    a, b = sampled(a, step), sampled(b, step)
    return max(apart(a, b, step), apart(b, a, step))


# ---------------------------------------------------------------- DXF by ezdxf


def spline(e):
    """By SciPy over the spline's own domain; the library's flattening runs beyond it where ends are not clamped."""
    if not e.control_point_count():
        # Through its points: cubic, by chord lengths, without bend at ends for which nothing is said.
        points = np.array([(p[0], p[1]) for p in e.fit_points])
        t = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        return [tuple(p) for p in CubicSpline(t, points, bc_type="natural")(np.linspace(0, t[-1], 3000))]
    points, knots = np.array(e.control_points)[:, :2], np.array(e.knots)
    weights = np.array(e.weights) if len(e.weights) else np.ones(len(points))
    degree = e.dxf.degree
    curve = BSpline(knots, np.column_stack([points * weights[:, None], weights]), degree)
    domain = np.unique(knots[degree : len(points) + 1])
    # Weights hurry the parameter: many places, the more between knots the fewer there are of those.
    t = np.unique(np.concatenate([np.linspace(a, b, 2000) for a, b in zip(domain[:-1], domain[1:])]))
    h = curve(t)
    return [tuple(p) for p in h[:, :2] / h[:, 2:]]


def flattened_dxf(e, off):
    """The entity as polylines. Its paths would do, but make cubics of arcs, ellipses and splines."""
    kind = e.dxftype()
    bent = kind in ("LWPOLYLINE", "POLYLINE") and (e.has_arc if kind == "LWPOLYLINE" else e.is_2d_polyline and e.has_arc)
    if bent:
        return [f for part in e.virtual_entities() for f in flattened_dxf(part, off)]
    if kind in ("ARC", "CIRCLE", "ELLIPSE"):
        return [[(v.x, v.y) for v in e.flattening(off)]]
    if kind == "SPLINE":
        return [spline(e)]
    path = ezpath.make_path(e)
    return [[(v.x, v.y) for v in sub.flattening(off)] for sub in (path.sub_paths() if path.has_sub_paths else [path])]


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

    def walk(entities, around, frozen, maps):
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
                # Places are mapped and not entities: a block that leans in another is no block reference.
                for copy in e.multi_insert() if e.mcount > 1 else [e]:
                    walk(drawing.blocks[e.dxf.name], layer, frozen or cold, [copy.matrix44(), *maps])
                continue
            if not on or cold or frozen or kind in TEXTS:
                continue
            try:
                flat = flattened_dxf(e, 0.0005 / mm)
            except Exception:
                lost.add(kind)
                continue
            for line in flat:
                for to in maps:
                    line = [(v.x, v.y) for v in to.transform_vertices([(*p, 0) for p in line])]
                if len(line) > 1:
                    lines.append(np.array(line) * mm)

    walk(drawing.modelspace(), None, False, [])
    return lines, lost


# ---------------------------------------------------------------- SVG by svgpathtools

UNIT = {"": 25.4 / 96, "px": 25.4 / 96, "mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
NOT_DRAWN = {"defs", "symbol", "clippath", "mask", "marker", "pattern", "lineargradient", "radialgradient", "filter",
             "title", "desc", "metadata", "style", "script", "text", "image", "foreignobject"}
HREF = "{http://www.w3.org/1999/xlink}href"


def number(text, whole=100.0):
    m = re.fullmatch(r"\s*([-+]?[\d.]+(?:e[-+]?\d+)?)\s*([a-z%]*)\s*", text or "0", re.I)
    if not m:
        return 0.0
    value, unit = float(m[1]), m[2].lower()
    return value * whole / 100 if unit == "%" else value * UNIT.get(unit, UNIT["px"]) / UNIT["px"]


def outline_of(e, kind, box):
    """The element's path data; the standard says how each shape runs."""
    w, h = box
    g = lambda name, whole=w: number(e.get(name), whole)
    if kind == "path":
        return e.get("d", "")
    if kind == "line":
        return f"M{g('x1')},{g('y1', h)}L{g('x2')},{g('y2', h)}"
    if kind in ("polyline", "polygon"):
        return "M" + e.get("points", "") + ("z" if kind == "polygon" else "")
    if kind in ("circle", "ellipse"):
        x, y = g("cx"), g("cy", h)
        rx, ry = (g("r", math.hypot(w, h) / math.sqrt(2)),) * 2 if kind == "circle" else (g("rx"), g("ry", h))
        if rx <= 0 or ry <= 0:
            return ""
        return f"M{x + rx},{y}A{rx},{ry},0,1,1,{x - rx},{y}A{rx},{ry},0,1,1,{x + rx},{y}z"
    x, y, rw, rh = g("x"), g("y", h), g("width"), g("height", h)
    if rw <= 0 or rh <= 0:
        return ""
    rx = g("rx") if e.get("rx") not in (None, "auto") else None
    ry = g("ry", h) if e.get("ry") not in (None, "auto") else None
    rx = ry if rx is None else rx
    ry = rx if ry is None else ry
    rx, ry = min(rx or 0, rw / 2), min(ry or 0, rh / 2)
    if rx <= 0 or ry <= 0:
        return f"M{x},{y}h{rw}v{rh}h{-rw}z"
    return (f"M{x + rx},{y}h{rw - 2 * rx}a{rx},{ry},0,0,1,{rx},{ry}v{rh - 2 * ry}a{rx},{ry},0,0,1,{-rx},{ry}"
            f"h{2 * rx - rw}a{rx},{ry},0,0,1,{-rx},{-ry}v{2 * ry - rh}a{rx},{ry},0,0,1,{rx},{-ry}z")


def flattened(d, map_, mm):
    """Path data as polylines on the plate, within a few µm."""
    out = []
    for piece in svgpathtools.parse_path(d).continuous_subpaths():
        points = []
        for s in piece:
            if isinstance(s, svgpathtools.Line):
                n = 1
            else:
                size = abs(s.bbox()[1] - s.bbox()[0]) + abs(s.bbox()[3] - s.bbox()[2])
                n = max(16, min(600, math.ceil(40 * math.sqrt(size * mm * np.abs(map_[:2, :2]).max()))))
            points.extend(s.point(k / n) for k in range(n + 1))
        z = np.array(points)
        if len(z) > 1:
            out.append((map_ @ np.array([z.real, z.imag, np.ones(len(z))]))[:2].T)
    return out


def svg(file):
    root = ET.parse(file).getroot()
    named = {e.get("id"): e for e in root.iter() if e.get("id")}
    lines, lost = [], set()
    box = [float(v) for v in re.split(r"[\s,]+", root.get("viewBox", "").strip()) if v] or None
    width, height = root.get("width"), root.get("height")
    absolute = lambda text: text is not None and not text.strip().endswith("%")
    wide, high = (number(t) if absolute(t) else None for t in (width, height))
    shape = box[2] / box[3] if box else 1.0
    wide, high = wide or (high * shape if high else None), high or (wide / shape if wide else None)
    wide, high = wide or (box[2] if box else 100.0), high or (box[3] if box else 100.0)
    # A drawing that states no unit is taken in mm, with a doubt.
    stated = any(re.search(r"[a-z]\s*$", text or "", re.I) for text in (width, height))
    px = UNIT["px"] if stated else 1.0
    # The project keeps user coordinates, to scale, turned over within their own box, which lies in the middle of the page.
    scale = min(wide / box[2], high / box[3]) if box else 1.0
    over = 2 * box[1] + box[3] if box else high
    beside = [(wide / scale - box[2]) / 2, (high / scale - box[3]) / 2] if box else [0, 0]
    top = px * scale * np.array([[1, 0, beside[0]], [0, -1, over + beside[1]], [0, 0, 1 / (px * scale)]])

    def style(e):
        pairs = (p.split(":", 1) for p in e.get("style", "").split(";") if ":" in p)
        said = {k.strip(): v.strip() for k, v in pairs}
        return lambda name: said.get(name, e.get(name))

    def walk(e, map_, seen, visible, painted):
        kind = e.tag.rsplit("}", 1)[-1].lower() if isinstance(e.tag, str) else ""
        said = style(e)
        if not kind or kind in NOT_DRAWN or said("display") == "none":
            return
        visible = {"hidden": False, "collapse": False, "visible": True}.get(said("visibility"), visible)
        painted = tuple(said(name) or was for name, was in zip(("fill", "stroke"), painted))
        if kind == "svg" and e is not root:
            lost.add("svg")
            return
        if "transform" in e.attrib:
            map_ = map_ @ parse_transform(e.get("transform"))
        if kind == "use":
            to = named.get((e.get("href") or e.get(HREF) or "").lstrip("#"))
            if to is None or len(seen) > 20 or to.tag.endswith("symbol"):
                lost.add("use")
                return
            shift = np.array([[1, 0, number(e.get("x"))], [0, 1, number(e.get("y"))], [0, 0, 1]])
            walk(to, map_ @ shift, [*seen, e], visible, painted)
            return
        if kind in ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon"):
            d = outline_of(e, kind, box[2:] if box else (wide, high))
            if visible and painted != ("none", "none") and d.strip() not in ("", "M", "Mz"):
                lines.extend(flattened(d, map_, px))
            return
        for child in e:
            walk(child, map_, seen, visible, painted)

    if any("clip-path" in e.attrib or "mask" in e.attrib for e in root.iter()):
        lost.add("clip")
    walk(root, top, [], True, ("black", "none"))
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
        if want:
            # Places of the readers themselves are that good: drawings in inches come to many metres here.
            off = max(0.0, off - 2e-6 * float(np.ptp(np.concatenate(want), axis=0).max()))
        # A unit that was guessed is the one this script takes as well.
        doubts = [d for d in doubts if ("taken as" not in d or "in the unit" in d) and "is that its unit" not in d]
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
    for ending, theirs, tolerance in [(".dxf", dxf, DXF_OFF), (".svg", svg, SVG_OFF)]:
        read, right, told, wrong, refused = compare(trued, folders, ending, theirs, tolerance, verbose)
        print(f"{ending}: {read} read, {right} within {tolerance} mm both ways, {told} told, {wrong} not told, {refused} refused")
        failed |= wrong > 0
    sys.exit(failed)


if __name__ == "__main__":
    main()
