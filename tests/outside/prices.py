"""Fits the prices of readings: `prices.py [--without GROUP]... ROWS.csv... > price_weights.in`.

Rows are written by the programs `readings` and `anyshapes --rows`: every reading of many traces, its measures,
whether it is the right one, how near it comes to the truth, and which instrument it was read under. Needs numpy
and scipy.

A trace's readings compete: the cheapest is taken. What a reading's evidence comes to, in nats, counts as it is
(the first six measures, as in `price.rs`). Fitted is what the others add, of either instrument: a weighted sum,
and beside it, when that is settled, a few smooth steps, which are bounded and only mend it.

Both are fitted as a conditional logit (the chance that a right reading comes first, its logarithm summed over
the traces), then carried on to the least expected number of traces whose first reading is wrong. A right
reading counts less the further it lies from the truth than the nearest right one, and less where it bends a
square corner or squares an odd one.

`--without GROUP` leaves a kind of shape out of the fit and reports it by itself: judge by those.
"""

import csv
import sys

import numpy as np
from scipy.optimize import minimize

STEPS = {"Traced": 10, "Drawn": 6}
EVIDENCE = np.array([1.0, 1.0, 1.0, -1.0, 1.0, 1.0])
# Recorded strokes are few, and no generator draws like people.
WEIGHTS = {"recorded": 4.0, "free": 0.5}
# Share of the logit in the goal, iterations, ridge: of the sums, of the steps.
SUMS_PLAN = [(1.0, 300, 0.3), (0.4, 200, 0.3)]
STEPS_PLAN = [(1.0, 250, 2.0), (0.4, 150, 2.0)]
# A right reading that bends a corner more than another counts this much of one.
BENT = 0.3
# Kinds of random outlines, told by themselves.
RANDOM = {"orthogonal", "polygon", "chain", "part"}
# Columns before the measures.
BEFORE = 9
# A step's numbers are held within so many spreads of what they scale.
MOST = 6.0


def read(paths):
    """Readings of every instrument: names of measures, and lines of (path, trace), columns, measures."""
    names, found = None, {}
    for path in paths:
        with open(path, newline="") as file:
            lines = csv.reader(file)
            names = next(lines)[BEFORE:]
            for line in lines:
                found.setdefault(line[3], []).append(([path, *line[:3]], line[:BEFORE], np.array(line[BEFORE:], dtype=np.float32)))
    return names, found


class Rows:
    """Readings of many traces: evidence, structure, worth, and where each trace begins."""

    def __init__(self, lines, without):
        begins, last, self.kinds = [], None, []
        for i, (key, columns, _) in enumerate(lines):
            if key != last:
                last = key
                begins.append(i)
                self.kinds.append((columns[1], columns[2]))
        column = lambda i: np.array([float(c[i]) for _, c, _ in lines])
        self.begins, self.right = np.array(begins), column(4)
        counts = np.diff(np.append(begins, len(lines)))
        self.trace = np.repeat(np.arange(len(begins)), counts)
        self.worth = self.worth_of(column(6), column(7) > 0, column(8))
        measures = np.array([m for _, _, m in lines], dtype=float)
        self.base = measures[:, : len(EVIDENCE)] @ EVIDENCE
        self.structure = measures[:, len(EVIDENCE) :]
        self.spread = np.maximum(np.sqrt((self.structure**2).mean(0)), 1e-3)
        self.scaled = (self.structure / self.spread).clip(-MOST, MOST)
        offered = np.maximum.reduceat(self.right, self.begins) > 0
        self.left_out = np.array([g in without for _, g in self.kinds])
        self.weight = np.array([WEIGHTS.get(c, 1.0) for c, _ in self.kinds]) * offered * ~self.left_out
        self.offered = offered

    def least(self, values):
        return np.minimum.reduceat(values, self.begins)

    def worth_of(self, rms, known, bent):
        right = self.right > 0
        nearest = self.least(np.where(right, rms, np.inf))[self.trace]
        straightest = self.least(np.where(right, bent, np.inf))[self.trace]
        further = np.where(right & known, rms / np.maximum(nearest, 1e-3) - 1, 0).clip(0)
        return self.right / (1 + further**2) * np.where(known & (bent > straightest), BENT, 1.0)

    def goal(self, price, share):
        """What is to be least, and its gradient in the prices."""
        score = np.exp(self.least(price)[self.trace] - price)
        chance = score / np.add.reduceat(score, self.begins)[self.trace]
        worth = np.maximum(np.add.reduceat(chance * self.worth, self.begins), 1e-12)
        logit = -(self.weight * np.log(worth)).sum()
        error = -(self.weight * worth).sum()
        weight, worth = self.weight[self.trace], worth[self.trace]
        by_logit = weight * (chance * self.worth / worth - chance)
        by_error = weight * chance * (self.worth - worth)
        return share * logit + 3 * (1 - share) * error, share * by_logit + 3 * (1 - share) * by_error

    def report(self, price, what):
        order = np.lexsort((price, self.trace))
        fine = self.right[order[self.begins]]
        def shares(of):
            keys = sorted(set(of))
            at = {k: [i for i, o in enumerate(of) if o == k] for k in keys}
            return ", ".join(f"{k} {100 * fine[at[k]].mean():.1f}/{100 * self.offered[at[k]].mean():.1f}" for k in keys)
        print(f"{what}: {shares([c for c, _ in self.kinds])} % right/offered", file=sys.stderr)
        kinds = [f"{g}:{c}" if o or g in RANDOM else "listed" for (c, g), o in zip(self.kinds, self.left_out)]
        print(f"  by kind: {shares(kinds)}", file=sys.stderr)


def carried(goal, start, plan, told):
    numbers = start
    for share, most, ridge in plan:
        limits = {"maxiter": most, "maxfun": 2 * most}
        numbers = minimize(goal, numbers, (share, ridge), jac=True, method="L-BFGS-B", options=limits).x
        told(numbers, share)
    return numbers


def fit_sums(rows):
    def goal(numbers, share, ridge):
        value, by_price = rows.goal(rows.base + rows.scaled_sum(numbers), share)
        return value + 0.5 * ridge * numbers @ numbers, rows.normal.T @ by_price + ridge * numbers

    rows.normal = rows.structure / rows.spread
    rows.scaled_sum = lambda numbers: rows.normal @ numbers
    told = lambda numbers, share: rows.report(rows.base + rows.scaled_sum(numbers), f"sums, logit {share}")
    numbers = carried(goal, np.zeros(rows.structure.shape[1]), SUMS_PLAN, told)
    return numbers / rows.spread, rows.base + rows.scaled_sum(numbers)


def fit_steps(rows, base, count, rng):
    """Weights, offsets and heights of the steps beside what the sums say."""
    width = rows.scaled.shape[1]
    mixed = rows.scaled

    def split(numbers):
        weights, rest = numbers[: width * count].reshape(width, count), numbers[width * count :]
        return weights, rest[:count], rest[count:]

    def steps(numbers):
        weights, offsets, heights = split(numbers)
        turned = np.tanh(mixed @ weights + offsets)
        return turned @ heights, turned, heights

    def goal(numbers, share, ridge):
        total, turned, heights = steps(numbers)
        value, by_price = rows.goal(base + total, share)
        by_sum = by_price[:, None] * heights * (1 - turned * turned)
        gradient = [(mixed.T @ by_sum).ravel(), by_sum.sum(0), turned.T @ by_price]
        gradient = np.concatenate(gradient).astype(float)
        return value + 0.5 * ridge * numbers @ numbers, gradient + ridge * numbers

    start = [rng.normal(0, width**-0.5, width * count), rng.normal(0, 0.5, count), rng.normal(0, 0.3, count)]
    told = lambda numbers, share: rows.report(base + steps(numbers)[0], f"steps, logit {share}")
    return split(carried(goal, np.concatenate(start), STEPS_PLAN, told))


def written(numbers):
    return "[" + ", ".join(f"{v:.4f}" for v in numbers) + "]"


def main():
    words, without = sys.argv[1:], set()
    while "--without" in words:
        at = words.index("--without")
        without.add(words[at + 1])
        del words[at : at + 2]
    names, found = read(words)
    print("[")
    for hand in ("Traced", "Drawn"):
        rows, rng = Rows(found[hand], without), np.random.default_rng(1)
        print(f"{hand}: {len(rows.begins)} traces, {len(rows.right)} readings", file=sys.stderr)
        each, base = fit_sums(rows)
        for name, price in zip(names[len(EVIDENCE) :], each):
            print(f"  {name} {price:.2f}", end="", file=sys.stderr)
        print(file=sys.stderr)
        steps = fit_steps(rows, base, STEPS[hand], rng) if STEPS[hand] else ([[]], [], [])
        print("    Prices {", f"        each: {written(each)},", f"        scale: {written(rows.spread)},", "        steps: &[", sep="\n")
        for weights, offset, height in zip(np.array(steps[0]).T, *steps[1:]):
            print("            Step {", f"                height: {height:.4f},", f"                offset: {offset:.4f},", f"                weights: {written(weights)},", "            },", sep="\n")
        print("        ],", "    },", sep="\n")
    print("]")


main()
