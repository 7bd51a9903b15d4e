"""A reader of RS-274/NGC programs (NIST IR 6556) that shares nothing with the writer."""
import math
import re

WORD = re.compile(r"([A-Za-z])\s*([-+]?(?:\d+\.?\d*|\.\d+))")


class Program:
    """What a machine would do: `cuts` is one polyline for each time the torch was on."""

    def __init__(self, text):
        self.wrong = []
        self.cuts = []
        self.lit = 0
        self.dwells = []
        self.length = 0.0
        self.unit, self.mode, self.feed = None, None, None
        self.at, self.torch = [0.0, 0.0], False
        lines = text.splitlines()
        for self.line, raw in enumerate(lines, 1):
            self.read(raw)
        bare = [re.sub(r"\([^()]*\)", "", l).strip() for l in lines]
        bare = [l for l in bare if l]
        if bare[-1:] != ["M2"] or "M5" not in bare[-3:-1]:
            self.complain("it does not end with M5 M2")
        first = next(i for i, l in enumerate(bare) if l.startswith("G0"))
        if "M5" not in bare[:first]:
            self.complain("something moves before M5")

    def complain(self, what):
        self.wrong.append(f"line {self.line}: {what}")

    def read(self, raw):
        if len(raw) > 256 or not raw.isascii():
            self.complain("longer than 256 characters, or not ASCII")
        bare = re.sub(r"\([^()]*\)", "", raw)
        words = WORD.findall(bare)
        if WORD.sub("", bare).strip():
            self.complain(f"not understood: {bare}")
        codes = [a.upper() + b for a, b in words if a.upper() in "GM"]
        value = {a.upper(): float(b) for a, b in words if a.upper() not in "GM"}
        for code in codes:
            if code in ("G0", "G1", "G2", "G3"):
                self.mode = code
            elif code in ("G20", "G21"):
                self.unit = 25.4 if code == "G20" else 1.0
            elif code == "G4":
                self.dwells.append((value.get("P"), self.torch))
            elif code == "M3":
                self.torch = True
                self.lit += 1
                self.cuts.append([tuple(self.at)])
            elif code in ("M5", "M2"):
                self.torch = False
            elif code not in ("G17", "G90", "G94"):
                self.complain(f"{code} is not expected")
        if "F" in value:
            self.feed = value["F"] * self.unit
        if "X" in value or "Y" in value:
            self.move(value)

    def move(self, value):
        x0, y0 = self.at
        x = value.get("X", x0 / self.unit) * self.unit
        y = value.get("Y", y0 / self.unit) * self.unit
        if self.mode == "G0" and self.torch:
            self.complain("a rapid with the torch on")
        if self.mode != "G0" and not self.feed:
            self.complain("no feed")
        way = [(x, y)]
        length = math.hypot(x - x0, y - y0)
        if self.mode in ("G2", "G3"):
            # 3.5.3.2: I and J run from the start to the centre; both ends equally far to 0.002 mm.
            cx, cy = x0 + value.get("I", 0.0) * self.unit, y0 + value.get("J", 0.0) * self.unit
            r, end = math.hypot(x0 - cx, y0 - cy), math.hypot(x - cx, y - cy)
            if abs(r - end) > 0.002 or r == 0.0:
                self.complain(f"radii {r} and {end}")
            first = math.atan2(y0 - cy, x0 - cx)
            sweep = (math.atan2(y - cy, x - cx) - first) % (2 * math.pi)
            if self.mode == "G3" and sweep == 0.0:
                sweep = 2 * math.pi
            if self.mode == "G2":
                sweep -= 2 * math.pi
            self.sweep, self.center, self.radius = sweep, (cx, cy), r
            n = max(8, int(abs(sweep) / 0.005))
            way = [
                (cx + r * math.cos(first + sweep * k / n), cy + r * math.sin(first + sweep * k / n))
                for k in range(1, n)
            ] + way
            length = abs(sweep) * r
        if self.torch:
            self.cuts[-1] += way
            self.length += length
        self.at = [x, y]


def check_reader():
    """NIST IR 6556, 3.5.3.2: the example of the standard."""
    p = Program("G17 G21 G90 G94\nM5\nG0 X7 Y7\nG1 F1\nG2 x10 y16 i3 j4\nM5\nM2")
    assert math.dist(p.center, (10, 11)) < 1e-12 and abs(p.radius - 5) < 1e-12
    assert abs(math.degrees(p.sweep) + 143.130102354156) < 1e-9
