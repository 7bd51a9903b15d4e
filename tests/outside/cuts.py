"""Cuts the plans of all demos in a plate of Shapely's and reads their files with other libraries.

`run.sh` lets the program write NAME.json (the outline) and NAME.cut.json, .ngc, .dry.ngc, .dxf,
.single.dxf and .svg (the plan, kerf 1.5 mm, marks as 8 mm holes; inches where the file says .in).
"""
import glob
import json
import math
import os
import sys
import xml.etree.ElementTree as ET

import ezdxf
import svgpathtools
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

from rs274 import Program, check_reader

KERF = 1.5
HOLE = 8.0
rows = []


def row(what, against, count, largest, allowed):
    rows.append((what, against, count, largest, allowed))


def points(edges):
    out = []
    for edge in edges:
        (kind, e), = edge.items()
        out.append(tuple(e["from"]))
        if kind == "arc":
            (cx, cy), r, s = e["center"], e["radius"], e["sweep"]
            first = math.atan2(e["from"][1] - cy, e["from"][0] - cx)
            n = max(16, int(abs(s) / 0.004))
            out += [(cx + r * math.cos(first + s * k / n), cy + r * math.sin(first + s * k / n)) for k in range(1, n)]
        out.append(tuple(e["to"]))
    return [p for i, p in enumerate(out) if i == 0 or p != out[i - 1]]


def length(edges):
    total = 0.0
    for edge in edges:
        (kind, e), = edge.items()
        total += math.dist(e["from"], e["to"]) if kind == "line" else abs(e["sweep"]) * e["radius"]
    return total


def moves(cut):
    return cut["lead_in"] + cut["path"] + cut["lead_out"]


def metal(file):
    """Parts less their holes, and the holes, of an outline document; marks are holes as well."""
    with open(file) as f:
        document = json.load(f)
    loops = [(l["role"], Polygon(points(l["edges"]))) for l in document["loops"] if l["closed"]]
    holes = [p for role, p in loops if role == "hole"]
    holes += [Point(m["at"]).buffer(HOLE / 2, quad_segs=200) for m in document["marks"]]
    parts = [p.difference(unary_union(holes)) for role, p in loops if role == "part"]
    return parts, holes


def simulate(file, cuts):
    """Worst of: metal missing, metal left besides corner fillets (mm), mean deviation, faults."""
    parts, holes = metal(file)
    gone = unary_union([LineString(c).buffer(KERF / 2, quad_segs=64) for c in cuts])
    x0, y0, x1, y1 = gone.bounds
    pieces = box(x0 - 20, y0 - 20, x1 + 20, y1 + 20).difference(gone)
    pieces = list(getattr(pieces, "geoms", [pieces]))
    deep = left = mean = 0.0
    faults = 0
    for part in parts:
        piece = max(pieces, key=lambda p: p.intersection(part).area)
        for step in (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.5):
            if part.buffer(-step).difference(piece).area > 1e-5:
                deep = max(deep, step)
        # The waste that a round jet can reach: opened by a disc of half the kerf.
        waste = part.envelope.buffer(10).difference(part)
        reached = waste.buffer(-KERF / 2 + 1e-4, quad_segs=64).buffer(KERF / 2 - 1e-4, quad_segs=64)
        rest = piece.difference(part).intersection(reached)
        for step in (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.5):
            if rest.buffer(-step / 2).area > 1e-5:
                left = max(left, step)
        edge, away = piece.boundary, []
        for ring in [part.exterior, *part.interiors]:
            n = max(40, int(ring.length))
            away += [edge.distance(ring.interpolate(ring.length * k / n)) for k in range(n)]
        mean = max(mean, sum(away) / len(away))
        for hole in holes:
            core = hole.buffer(-1.001 * KERF)
            faults += piece.intersection(core).area > 1e-6
    return deep, left, mean, faults


def faults_of_plan(file, plan):
    """Pierces near a part, leads that cross anything, holes cut after their part."""
    parts, _ = metal(file)
    faults = 0
    paths = [LineString(points(c["path"])) for c in plan["cuts"]]
    leads = []
    for i, cut in enumerate(plan["cuts"]):
        if cut["role"] == "open":
            continue
        at = Point(cut["pierce"]["at"])
        faults += any(p.distance(at) < KERF / 2 - 1e-3 for p in parts)
        if cut["lead_in"]:
            line = LineString(points(cut["lead_in"]))
            join = Point(points(cut["lead_in"])[-1])
            faults += any(line.difference(join.buffer(1e-3)).intersects(p) for p in paths)
            faults += any(line.distance(p) < KERF / 2 - 1e-3 for p in parts)
            faults += any(line.intersects(l) for l in leads)
            leads.append(line)
        for later in plan["cuts"][i + 1 :]:
            if cut["closed"] and cut["role"] == "part":
                faults += Polygon(points(cut["path"])).contains(Point(later["pierce"]["at"]))
    return faults


def dxf_lengths(file, unit):
    drawing = ezdxf.readfile(file)
    audit = drawing.audit()
    by_layer = {}
    for e in drawing.modelspace():
        kind = e.dxftype()
        if kind == "LINE":
            l = math.dist(e.dxf.start, e.dxf.end)
        elif kind == "CIRCLE":
            l = 2 * math.pi * e.dxf.radius
        elif kind == "ARC":
            l = math.radians((e.dxf.end_angle - e.dxf.start_angle) % 360) * e.dxf.radius
        elif kind == "POLYLINE":
            v = [(p.dxf.location.x, p.dxf.location.y, p.dxf.get("bulge", 0.0)) for p in e.vertices]
            l = 0.0
            for k in range(len(v) if e.is_closed else len(v) - 1):
                a, b = v[k], v[(k + 1) % len(v)]
                chord = math.dist(a[:2], b[:2])
                t = 4 * math.atan(abs(a[2]))
                l += chord / (2 * math.sin(t / 2)) * t if t else chord
        else:
            continue
        kind = "leads" if e.dxf.layer == "LEADS" else "paths"
        by_layer[kind] = by_layer.get(kind, 0.0) + l * unit
    assert drawing.header.get("$INSUNITS") == (4 if unit == 1.0 else 1), f"{file}: units"
    colors = {l.dxf.color for l in drawing.layers}
    assert colors == {7}, f"{file}: layers have the colours {colors}"
    return len(audit.errors) + len(audit.fixes), by_layer


def svg_lengths(file, unit):
    root = ET.parse(file).getroot()
    name = "mm" if unit == 1.0 else "in"
    width = float(root.get("width").removesuffix(name))
    assert abs(width - float(root.get("viewBox").split()[2])) < 1e-9, f"{file}: not in real {name}"
    by_group = {}
    for group in root:
        kind = group.get("id") or ""
        kind = "paths" if kind.startswith("cut-") else kind
        for e in group.iter():
            if e.tag.endswith("path"):
                for s in svgpathtools.parse_path(e.get("d")):
                    arc = isinstance(s, svgpathtools.Arc)
                    l = abs(math.radians(s.delta)) * s.radius.real if arc else abs(s.end - s.start)
                    by_group[kind] = by_group.get(kind, 0.0) + l * unit
    return by_group


def main():
    folder = sys.argv[1]
    check_reader()
    deep = left = mean = faults = complaints = apart = dxf = svg = off = 0
    count = files = 0
    for plan_file in sorted(glob.glob(os.path.join(folder, "cuts", "*.cut.json"))):
        stem = plan_file.removesuffix(".cut.json")
        outline = os.path.join(folder, os.path.basename(stem) + ".json")
        with open(plan_file) as f:
            plan = json.load(f)
        want = {
            "paths": sum(length(c["path"]) for c in plan["cuts"]),
            "leads": sum(length(c["lead_in"]) + length(c["lead_out"]) for c in plan["cuts"]),
        }
        faults += faults_of_plan(outline, plan)
        for unit, name in ((1.0, ""), (25.4, ".in")):
            with open(f"{stem}{name}.ngc") as f:
                program = Program(f.read())
            with open(f"{stem}{name}.dry.ngc") as f:
                dry = Program(f.read())
            if program.wrong or dry.wrong:
                print(f"{stem}{name}.ngc", *program.wrong[:5], *dry.wrong[:5], sep="\n  ")
            faults += len(program.wrong) + len(dry.wrong) + dry.lit + (program.at != dry.at)
            faults += program.lit != len(plan["cuts"])
            for cut, way in zip(plan["cuts"], program.cuts):
                apart = max(apart, LineString(way).hausdorff_distance(LineString(points(moves(cut)))))
            # What the machine is sent is what is cut: the simulation is of the program.
            d, l, m, f = simulate(outline, program.cuts)
            deep, left, mean, faults = max(deep, d), max(left, l), max(mean, m), faults + f
            for kind in ("dxf", "single.dxf"):
                bad, got = dxf_lengths(f"{stem}{name}.{kind}", unit)
                complaints += bad
                dxf = max([dxf] + [abs(got.get(k, 0.0) - want[k]) for k in want])
            got = svg_lengths(f"{stem}{name}.svg", unit)
            svg = max([svg] + [abs(got.get(k, 0.0) - want[k]) for k in want])
            files += 5
        count += 1
    assert count >= 10, "no plans to look at"
    row("cut simulated: metal missing from a part (mm)", "Shapely", count, deep, 0.05)
    row("cut simulated: metal left but corner fillets (mm)", "Shapely", count, left, 0.05)
    row("cut simulated: mean deviation along the edges (mm)", "Shapely", count, mean, 0.02)
    row("pierces, leads, slugs, order, torch: faults", "Shapely, NIST IR 6556", count, faults, 0)
    row("RS-274: moves apart from the plan (mm)", "NIST IR 6556", count, apart, 0.003)
    row("DXF of every plan: complaints of the audit", "ezdxf audit", files, complaints, 0)
    row("DXF of every plan: lengths (mm)", "ezdxf", files, dxf, 1e-6)
    row("SVG of every plan: lengths (mm)", "svgpathtools", files, svg, 1e-6)
    width = max(len(r[0]) for r in rows)
    failed = False
    for what, against, n, largest, allowed in rows:
        over = not largest <= allowed
        failed |= over
        mark = "   OVER" if over else ""
        print(f"{what:{width}}  {n:6}  {largest:9.2e}  {allowed:9.2e}  {against}{mark}")
    sys.exit(failed)


main()
