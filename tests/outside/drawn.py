"""Makes drawings of every kind that is read, at random, for drawings.py to compare.

    drawn.py FOLDER COUNT    so many DXF by ezdxf (R12 to R2018, text and binary), and as many SVG
"""

import math
import os
import random
import sys

import ezdxf

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
LAYERS = ["0", "A", "B", "OFF", "FROZEN", "Ä lager"]
UNITS = [4, 4, 4, 4, 5, 1, 0]  # mm mostly, cm, inches, none stated


class Dxf:
    def __init__(self, r, old):
        self.r, self.old, self.blocks = r, old, []

    def near(self, x, y, most=8, least=2):
        r = self.r
        return [(x + r.uniform(-40, 40), y + r.uniform(-40, 40)) for _ in range(r.randint(least, most))]

    def bent(self, x, y):
        return [(*p, self.r.choice([0, 0, self.r.uniform(-1.5, 1.5)])) for p in self.near(x, y)]

    def common(self):
        r = self.r
        said = {"layer": r.choice(LAYERS)}
        if r.random() < 0.05 and not self.old:
            said["invisible"] = 1
        return said

    def tilted(self):
        return {"extrusion": (0, 0, -1)} if self.r.random() < 0.2 else {}

    def entity(self, space):
        r, said = self.r, self.common()
        x, y = r.uniform(-200, 200), r.uniform(-200, 200)
        kinds = ["line", "arc", "circle", "polyline", "insert", "text"]
        if not self.old:
            kinds += ["lwpolyline", "ellipse", "spline", "rational", "closed", "through", "hatch"]
        getattr(self, r.choice(kinds))(space, x, y, said)

    def line(self, space, x, y, said):
        space.add_line((x, y), self.near(x, y)[0], dxfattribs=said)

    def arc(self, space, x, y, said):
        ends = self.r.uniform(-360, 360), self.r.uniform(-360, 360)
        space.add_arc((x, y), self.r.uniform(1, 40), *ends, dxfattribs=said | self.tilted())

    def circle(self, space, x, y, said):
        space.add_circle((x, y), self.r.uniform(0.5, 40), dxfattribs=said | self.tilted())

    def polyline(self, space, x, y, said):
        line = space.add_polyline2d(self.bent(x, y), format="xyb", dxfattribs=said | self.tilted())
        line.close(self.r.random() < 0.5)

    def lwpolyline(self, space, x, y, said):
        line = space.add_lwpolyline(self.bent(x, y), format="xyb", dxfattribs=said | self.tilted())
        line.closed = self.r.random() < 0.5

    def ellipse(self, space, x, y, said):
        r = self.r
        at, long = r.uniform(0, 6.28), r.uniform(2, 60)
        ends = r.choice([(0, math.tau), (r.uniform(0, 6.28), r.uniform(0, 6.28))])
        axis = long * math.cos(at), long * math.sin(at)
        space.add_ellipse((x, y), axis, r.uniform(0.05, 1), *ends, dxfattribs=said | self.tilted())

    def spline(self, space, x, y, said):
        degree = self.r.choice([2, 3, 3, 3, 4, 5])
        space.add_open_spline(self.near(x, y, 12, degree + 1), degree=degree, dxfattribs=said)

    def rational(self, space, x, y, said):
        poles = self.near(x, y, 10, 4)
        weights = [self.r.uniform(0.2, 4) for _ in poles]
        space.add_rational_spline(poles, weights, degree=3, dxfattribs=said)

    def closed(self, space, x, y, said):
        space.add_spline(dxfattribs=said).set_closed([(*p, 0) for p in self.near(x, y, 9, 5)], degree=3)

    def through(self, space, x, y, said):
        space.add_spline(self.near(x, y, 8, 3), dxfattribs=said)

    def text(self, space, x, y, said):
        space.add_text("abc", dxfattribs=said).set_placement((x, y))

    def hatch(self, space, x, y, said):
        space.add_hatch(dxfattribs=said).paths.add_polyline_path([(x, y), (x + 10, y), (x + 10, y + 9)])

    def insert(self, space, x, y, said):
        r = self.r
        if not self.blocks:
            return
        size = r.uniform(0.3, 2)
        other = size * r.choice([1, -1]) if r.random() < 0.6 else r.uniform(0.3, 2)
        said |= {"rotation": r.uniform(0, 360), "xscale": size * r.choice([1, -1]), "yscale": other, "zscale": size}
        if r.random() < 0.3:
            said |= {"row_count": r.randint(1, 3), "column_count": r.randint(1, 3)}
            said |= {"row_spacing": r.uniform(10, 60), "column_spacing": r.uniform(10, 60)}
        space.add_blockref(r.choice(self.blocks), (x, y), dxfattribs=said | self.tilted())


def dxf(file, seed):
    r = random.Random(seed)
    version = r.choice(VERSIONS)
    drawing = ezdxf.new(version)
    if version != "R12":
        drawing.header["$INSUNITS"] = r.choice(UNITS)
    for name in LAYERS[1:]:
        layer = drawing.layers.add(name)
        if name == "OFF":
            layer.off()
        if name == "FROZEN":
            layer.freeze()
    hand = Dxf(r, version == "R12")
    for i in range(r.randint(0, 4)):
        block = drawing.blocks.new(f"B{i}", base_point=(r.uniform(-10, 10), r.uniform(-10, 10)))
        for _ in range(r.randint(1, 5)):
            hand.entity(block)
        # Later blocks hold earlier ones.
        hand.blocks.append(f"B{i}")
    for _ in range(r.randint(1, 10)):
        hand.entity(drawing.modelspace())
    drawing.saveas(file, fmt="bin" if r.random() < 0.25 else "asc")


PAGES = ['width="200mm" height="200mm" viewBox="0 0 200 200"', 'width="8in" height="200mm" viewBox="-10 5 200 150"',
         'width="200" height="300"', 'viewBox="0 0 200 200" width="15cm"']
HIDDEN = [' display="none"', ' visibility="hidden"', ' style="display:none"', ' style="visibility:hidden"']
TAKES = {"l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "z": 0, "m": 2}


class Svg:
    def __init__(self, r):
        self.r, self.named = r, []

    def n(self, low, high):
        return format(self.r.uniform(low, high), self.r.choice([".2f", ".0f", ".3e"]))

    def path(self):
        r = self.r
        d = f"M{self.n(0, 200)} {self.n(0, 200)}"
        for _ in range(r.randint(1, 9)):
            c = r.choice("LlHhVvCcSsQqTtAaZzMm")
            low, high = (-60, 60) if c.islower() else (0, 200)
            if c in "aA":
                d += f"{c}{self.n(1, 60)} {self.n(1, 60)} {self.n(-180, 180)} {r.randint(0, 1)} {r.randint(0, 1)} "
                d += f"{self.n(low, high)},{self.n(low, high)}"
            else:
                d += c + " ".join(self.n(low, high) for _ in range(TAKES[c.lower()]))
        return d

    def moved(self):
        r, n = self.r, self.n
        kinds = [
            lambda: f"translate({n(-50, 50)},{n(-50, 50)})",
            lambda: f"rotate({n(-180, 180)})",
            lambda: f"rotate({n(-180, 180)},{n(0, 99)},{n(0, 99)})",
            lambda: f"scale({r.uniform(0.3, 2):.2f})",
            lambda: f"scale({r.uniform(0.3, 2):.2f},{r.uniform(-2, -0.3):.2f})",
            lambda: f"skewX({n(-40, 40)})",
            lambda: f"skewY({n(-40, 40)})",
            lambda: f"matrix({r.uniform(0.5, 1.5):.3f},{r.uniform(-0.5, 0.5):.3f},{r.uniform(-0.5, 0.5):.3f},"
            f"{r.uniform(0.5, 1.5):.3f},{n(-9, 9)},{n(-9, 9)})",
        ]
        return " ".join(r.choice(kinds)() for _ in range(r.randint(1, 3)))

    def element(self, depth):
        r, n = self.r, self.n
        said = f' transform="{self.moved()}"' if r.random() < 0.4 else ""
        said += r.choice(HIDDEN) if r.random() < 0.06 else ""
        if depth == 0 and self.named and r.random() < 0.1:
            ref = r.choice(["href", "xlink:href"])
            return f'<use{said} {ref}="#{r.choice(self.named)}" x="{n(-20, 20)}" y="{n(-20, 20)}"/>'
        kind = r.choice(["path", "path", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "g"])
        if kind == "g" and depth < 4:
            return f"<g{said}>" + "".join(self.element(depth + 1) for _ in range(r.randint(1, 4))) + "</g>"
        if r.random() < 0.3:
            name = f"e{len(self.named)}"
            self.named.append(name)
            said += f' id="{name}"'
        size = lambda most: f"{r.uniform(1, most):.2f}"
        if kind == "rect":
            radii = r.choice(["", f' rx="{size(60)}"', f' ry="{size(30)}"', f' rx="{size(30)}" ry="{size(30)}"'])
            return f'<rect{said} x="{n(0, 100)}" y="{n(0, 100)}" width="{size(90)}" height="{size(90)}"{radii}/>'
        if kind == "circle":
            return f'<circle{said} cx="{n(0, 100)}" cy="{n(0, 100)}" r="{size(50)}"/>'
        if kind == "ellipse":
            return f'<ellipse{said} cx="{n(0, 100)}" cy="{n(0, 100)}" rx="{size(50)}" ry="{size(50)}"/>'
        if kind == "line":
            return f'<line{said} x1="{n(0, 100)}" y1="{n(0, 100)}" x2="{n(0, 100)}" y2="{n(0, 100)}"/>'
        if kind in ("polyline", "polygon"):
            points = " ".join(f"{n(0, 200)},{n(0, 200)}" for _ in range(r.randint(2, 8)))
            return f'<{kind}{said} points="{points}"/>'
        return f'<path{said} d="{self.path()}"/>'


def svg(file, seed):
    r = random.Random(seed)
    hand = Svg(r)
    inside = "".join(hand.element(0) for _ in range(r.randint(1, 7)))
    space = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    with open(file, "w", encoding="utf-8") as f:
        f.write(f"<svg {space} {r.choice(PAGES)}>{inside}</svg>")


def main():
    folder, count = sys.argv[1], int(sys.argv[2])
    os.makedirs(folder, exist_ok=True)
    for seed in range(count):
        dxf(os.path.join(folder, f"{seed:03}.dxf"), seed)
        svg(os.path.join(folder, f"{seed:03}.svg"), seed)


if __name__ == "__main__":
    main()
