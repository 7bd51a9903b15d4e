"""Fits the prices of readings: `prices.py ROWS.csv > price_weights.in`.

Rows are written by the program `readings`: every reading of many traces, its measures, and whether it is
the right one. Needs numpy and scipy.

A trace's readings compete: the cheapest is taken. The price of a reading is a mixture of a few rows of
prices, and what the trace's readings say together tells how much of each row counts (a softmax of four
numbers, as in `price.rs`). Fitted first as a conditional logit (the chance that the right reading comes
first, its logarithm summed over the traces), then carried on to the least expected number of traces
whose first reading is wrong, which is what counts but has many valleys. Both with a light ridge.
"""

import csv
import sys

import numpy as np
from scipy.optimize import minimize

HANDS = 3
# Recorded strokes are few, and no generator draws like people.
WEIGHTS = {"recorded": 5.0}
LIGHT_RIDGE = 0.3
# Share of the logit in the goal, iterations, ridge: step by step towards the expected error.
STEPS = [(1.0, 300, LIGHT_RIDGE), (0.3, 250, 0.3 * LIGHT_RIDGE)]


def read(path):
    """Measures of all readings, which are right, where each trace begins, and the traces' classes."""
    rows, right, begins, classes, last = [], [], [], [], None
    with open(path, newline="") as file:
        lines = csv.reader(file)
        names = next(lines)[5:]
        for line in lines:
            if line[:3] != last:
                last = line[:3]
                begins.append(len(rows))
                classes.append(line[1])
            rows.append([float(v) for v in line[5:]])
            right.append(float(line[3]))
    return names, np.array(rows), np.array(right), np.array(begins), np.array(classes)


class Fit:
    def __init__(self, names, rows, right, begins, classes):
        at = {name: i for i, name in enumerate(names)}
        counts = np.diff(np.append(begins, len(rows)))
        self.trace = np.repeat(np.arange(len(begins)), counts)
        self.begins, self.right = begins, right
        least = lambda name: np.minimum.reduceat(rows[:, at[name]], begins)
        # As `price::total` makes them from the misfit over the least of the trace.
        over = np.maximum(rows[:, at["misfit"]] - least("misfit")[self.trace], 0)
        rows[:, at["soft"]] = 10 * np.log(1 + over / 10)
        rows[:, at["softer"]] = 40 * np.log(1 + over / 40)
        # As `price::Context::of` tells the hand.
        told = [np.clip(least("misfit"), -25, 60) / 15, least("slow") - 0.5, (least("log_rms") + 6.3) / 0.7]
        self.told = np.column_stack([*told, np.ones(len(begins))])
        self.spread = rows.std(0) + 1e-9
        self.rows = rows / self.spread
        has_right = np.maximum.reduceat(right, begins)
        weight = [WEIGHTS.get(c, 1.5 if c.endswith("-ou") else 1.0) for c in classes]
        self.weight = np.array(weight) * has_right
        self.classes = classes

    def split(self, numbers):
        of_measures = HANDS * self.rows.shape[1]
        return numbers[:of_measures].reshape(HANDS, -1), numbers[of_measures:].reshape(HANDS, -1)

    def prices(self, numbers):
        """Prices of all readings, with what their gradient needs."""
        of_measures, of_context = self.split(numbers)
        hands = self.told @ of_context.T
        hands = np.exp(hands - hands.max(1, keepdims=True))
        hands /= hands.sum(1, keepdims=True)
        each = self.rows @ of_measures.T
        return (each * hands[self.trace]).sum(1), hands, each

    def goal(self, numbers, share, ridge):
        price, hands, each = self.prices(numbers)
        score = np.exp(np.maximum.reduceat(-price, self.begins)[self.trace] * -1 - price)
        chance = score / np.add.reduceat(score, self.begins)[self.trace]
        first = np.maximum(np.add.reduceat(chance * self.right, self.begins), 1e-12)
        w = self.weight[self.trace]
        logit = -(self.weight * np.log(first)).sum()
        by_logit = -w * (chance - chance * self.right / first[self.trace])
        error = -(self.weight * first).sum()
        by_error = w * chance * (self.right - first[self.trace])
        value = share * logit + 3 * (1 - share) * error
        by_price = share * by_logit + 3 * (1 - share) * by_error
        of_measures = (hands[self.trace] * by_price[:, None]).T @ self.rows
        by_hand = np.add.reduceat(each * by_price[:, None], self.begins)
        by_hand = hands * (by_hand - (by_hand * hands).sum(1, keepdims=True))
        gradient = np.concatenate([of_measures.ravel(), (by_hand.T @ self.told).ravel()])
        return value + 0.5 * ridge * numbers @ numbers, gradient + ridge * numbers

    def run(self):
        rng = np.random.default_rng(1)
        numbers = rng.normal(0, 0.02, HANDS * self.rows.shape[1])
        numbers = np.concatenate([numbers, rng.normal(0, 0.5, HANDS * self.told.shape[1])])
        for share, most, ridge in STEPS:
            limits = {"maxiter": most, "maxfun": 2 * most}
            found = minimize(self.goal, numbers, (share, ridge), jac=True, method="L-BFGS-B", options=limits)
            numbers = found.x
            self.report(numbers, share)
        of_measures, of_context = self.split(numbers)
        return of_measures / self.spread, of_context

    def report(self, numbers, share):
        order = np.lexsort((self.prices(numbers)[0], self.trace))
        fine = self.right[order[self.begins]]
        shares = [f"{c} {100 * fine[self.classes == c].mean():.1f}" for c in sorted(set(self.classes))]
        print(f"logit {share}: {', '.join(shares)} % right", file=sys.stderr)


def main():
    of_measures, of_context = Fit(*read(sys.argv[1])).run()
    row = lambda numbers: "        [" + ", ".join(f"{v:.4f}" for v in numbers) + "],"
    print("Prices {", "    of_measures: [", *map(row, of_measures), "    ],", sep="\n")
    print("    of_context: [", *map(row, of_context), "    ],", "}", sep="\n")


main()
