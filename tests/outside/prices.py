"""Fits the prices of readings: `prices.py ROWS.csv... > price_weights.in`.

Rows are written by the program `readings`: every reading of many traces, its measures, whether it is the
right one, and how near it comes to the truth. Needs numpy and scipy.

A trace's readings compete: the cheapest is taken. The price of a reading is a mixture of a few rows of
prices, and what the trace's readings say together tells how much of each row counts (a softmax of four
numbers, as in `price.rs`); a few smooth steps add what measures cost together. The rows are fitted first and
then left alone, so that the steps, which are bounded, only mend them.

Both are fitted as a conditional logit (the chance that a right reading comes first, its logarithm summed over
the traces), then carried on to the least expected number of traces whose first reading is wrong, which is
what counts but has many valleys. A right reading counts less the further it lies from the truth than the
nearest right one, and less where it bends a square corner or squares an odd one.
"""

import csv
import sys

import numpy as np
from scipy.optimize import minimize

HANDS = 3
STEPS = 12
# Recorded strokes are few, and no generator draws like people.
WEIGHTS = {"recorded": 5.0}
# Share of the logit in the goal, iterations, ridge: of the rows, of the steps.
ROWS_PLAN = [(1.0, 300, 0.3), (0.3, 250, 0.1)]
STEPS_PLAN = [(1.0, 250, 1.0), (0.3, 125, 1.0)]
# A right reading that bends a corner more than another counts this much of one.
BENT = 0.3
# Measures of so wide a range that the steps take their logarithms (`WIDE` in `price.rs`).
WIDE = ["gain", "relation_price", "short_mm", "corner_off", "corner_width"]
# Columns before the measures.
BEFORE = 8


class Rows:
    """Readings of many traces: measures, worth, and where each trace begins."""

    def __init__(self, paths):
        measures, self.right, rms, told, bent = [], [], [], [], []
        begins, self.classes, last = [], [], None
        for path in paths:
            with open(path, newline="") as file:
                lines = csv.reader(file)
                self.names = next(lines)[BEFORE:]
                for line in lines:
                    if [path, *line[:3]] != last:
                        last = [path, *line[:3]]
                        begins.append(len(measures))
                        self.classes.append(line[1])
                    measures.append(np.array(line[BEFORE:], dtype=np.float32))
                    for column, value in zip((self.right, rms, told, bent), (line[3], *line[5:8])):
                        column.append(float(value))
        self.begins, self.right = np.array(begins), np.array(self.right)
        counts = np.diff(np.append(begins, len(measures)))
        self.trace = np.repeat(np.arange(len(begins)), counts)
        self.classes = np.array(self.classes)
        self.worth = self.worth_of(np.array(rms), np.array(told) > 0, np.array(bent))
        self.weight = np.array([WEIGHTS.get(c, 1.5 if c.endswith("-ou") else 1.0) for c in self.classes])
        self.weight *= np.maximum.reduceat(self.right, self.begins)
        self.measure(np.array(measures, dtype=float))

    def least(self, values):
        return np.minimum.reduceat(values, self.begins)

    def worth_of(self, rms, known, bent):
        right = self.right > 0
        nearest = self.least(np.where(right, rms, np.inf))[self.trace]
        straightest = self.least(np.where(right, bent, np.inf))[self.trace]
        further = np.where(right & known, rms / np.maximum(nearest, 1e-3) - 1, 0).clip(0)
        return self.right / (1 + further**2) * np.where(known & (bent > straightest), BENT, 1.0)

    def measure(self, measures):
        at = {name: i for i, name in enumerate(self.names)}
        least = {name: self.least(measures[:, at[name]]) for name in ("misfit", "slow", "log_rms")}
        # As `price::total` makes them from the misfit over the least of the trace.
        over = (measures[:, at["misfit"]] - least["misfit"][self.trace]).clip(0)
        measures[:, at["soft"]] = 10 * np.log(1 + over / 10)
        measures[:, at["softer"]] = 40 * np.log(1 + over / 40)
        # As `price::Context::of` tells the hand.
        told = [least["misfit"].clip(-25, 60) / 15, least["slow"] - 0.5, (least["log_rms"] + 6.3) / 0.7]
        self.told = np.column_stack([*told, np.ones(len(self.begins))])
        # As `price::together` takes them.
        mixed = measures.copy()
        mixed[:, at["misfit"]] = np.log1p(over)
        for name in WIDE:
            mixed[:, at[name]] = np.copysign(np.log1p(np.abs(mixed[:, at[name]])), mixed[:, at[name]])
        mixed = np.hstack([mixed, self.told[self.trace][:, :-1]])
        self.mean, self.mixed_spread = mixed.mean(0), mixed.std(0) + 1e-9
        self.mixed = ((mixed - self.mean) / self.mixed_spread).astype(np.float32)
        self.spread = measures.std(0) + 1e-9
        self.measures = measures / self.spread

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
        shares = [f"{c} {100 * fine[self.classes == c].mean():.1f}" for c in sorted(set(self.classes))]
        print(f"{what}: {', '.join(shares)} % right", file=sys.stderr)


def carried(goal, start, plan, told):
    numbers = start
    for share, most, ridge in plan:
        limits = {"maxiter": most, "maxfun": 2 * most}
        numbers = minimize(goal, numbers, (share, ridge), jac=True, method="L-BFGS-B", options=limits).x
        told(numbers, share)
    return numbers


def fit_rows(rows, rng):
    """The rows of prices, what chooses among them, and what they say all readings cost."""
    count = HANDS * rows.measures.shape[1]

    def price(numbers):
        hands = rows.told @ numbers[count:].reshape(HANDS, -1).T
        hands = np.exp(hands - hands.max(1, keepdims=True))
        hands /= hands.sum(1, keepdims=True)
        each = rows.measures @ numbers[:count].reshape(HANDS, -1).T
        return (each * hands[rows.trace]).sum(1), hands, each

    def goal(numbers, share, ridge):
        total, hands, each = price(numbers)
        value, by_price = rows.goal(total, share)
        of_measures = (hands[rows.trace] * by_price[:, None]).T @ rows.measures
        by_hand = np.add.reduceat(each * by_price[:, None], rows.begins)
        by_hand = hands * (by_hand - (by_hand * hands).sum(1, keepdims=True))
        gradient = np.concatenate([of_measures.ravel(), (by_hand.T @ rows.told).ravel()])
        return value + 0.5 * ridge * numbers @ numbers, gradient + ridge * numbers

    start = [rng.normal(0, 0.02, count), rng.normal(0, 0.5, HANDS * rows.told.shape[1])]
    told = lambda numbers, share: rows.report(price(numbers)[0], f"rows, logit {share}")
    numbers = carried(goal, np.concatenate(start), ROWS_PLAN, told)
    of_measures = numbers[:count].reshape(HANDS, -1) / rows.spread
    return of_measures, numbers[count:].reshape(HANDS, -1), price(numbers)[0]


def fit_steps(rows, base, rng):
    """Weights, offsets and heights of the steps beside what the rows of prices say."""
    width = rows.mixed.shape[1]

    def split(numbers):
        weights, rest = numbers[: width * STEPS].reshape(width, STEPS), numbers[width * STEPS :]
        return weights, rest[:STEPS], rest[STEPS:]

    def steps(numbers):
        weights, offsets, heights = (part.astype(np.float32) for part in split(numbers))
        turned = np.tanh(rows.mixed @ weights + offsets)
        return turned @ heights, turned, heights

    def goal(numbers, share, ridge):
        total, turned, heights = steps(numbers)
        value, by_price = rows.goal(base + total, share)
        by_price = by_price.astype(np.float32)
        by_sum = by_price[:, None] * heights * (1 - turned * turned)
        gradient = [(rows.mixed.T @ by_sum).ravel(), by_sum.sum(0), turned.T @ by_price]
        gradient = np.concatenate(gradient).astype(float)
        return value + 0.5 * ridge * numbers @ numbers, gradient + ridge * numbers

    start = [rng.normal(0, width**-0.5, width * STEPS), rng.normal(0, 0.5, STEPS), rng.normal(0, 0.3, STEPS)]
    told = lambda numbers, share: rows.report(base + steps(numbers)[0], f"steps, logit {share}")
    weights, offsets, heights = split(carried(goal, np.concatenate(start), STEPS_PLAN, told))
    weights = weights / rows.mixed_spread[:, None]
    return weights.T, offsets - rows.mean @ weights, heights


def written(numbers, digits):
    short = lambda v: np.format_float_positional(v, digits, fractional=digits == 4, unique=False, trim="0")
    return "[" + ", ".join(map(short, numbers)) + "]"


def main():
    rows, rng = Rows(sys.argv[1:]), np.random.default_rng(1)
    of_measures, of_context, base = fit_rows(rows, rng)
    steps = fit_steps(rows, base, rng)
    print("Prices {", "    of_measures: [", sep="\n")
    for row in of_measures:
        print(f"        {written(row, 4)},")
    print("    ],", "    of_context: [", sep="\n")
    for row in of_context:
        print(f"        {written(row, 4)},")
    print("    ],", "    steps: [", sep="\n")
    for weights, offset, height in zip(*steps):
        print("        Step {", f"            height: {height:.4f},", f"            offset: {offset:.4f},", sep="\n")
        print(f"            weights: {written(weights, 5)},", "        },", sep="\n")
    print("    ],", "}", sep="\n")


main()
