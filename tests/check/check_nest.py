"""Holds the layout on stock against an exact integer program (HiGHS through scipy) on random cases.

The program must never need fewer lengths than the exact solver, its layouts must be possible, and the bound that it
states must be one. Where it says that its layout is the best, the exact solver must agree.
"""

import argparse
import json
import random
import subprocess
import sys

import numpy
from scipy.optimize import Bounds, LinearConstraint, milp

CASES = 60
TOLERANCE_MM = 1e-6


def fewest(lengths, stock, kerf):
    """The fewest lengths: x[i, j] puts piece i on length j, y[j] uses length j; earlier lengths are used first."""
    n = len(lengths)
    size = [length + kerf for length in lengths]
    x = lambda i, j: n + i * n + j
    cost = numpy.zeros(n + n * n)
    cost[:n] = 1
    rows, low, high = [], [], []
    for i in range(n):
        row = numpy.zeros(n + n * n)
        row[[x(i, j) for j in range(n)]] = 1
        rows.append(row), low.append(1), high.append(1)
    for j in range(n):
        row = numpy.zeros(n + n * n)
        for i in range(n):
            row[x(i, j)] = size[i]
        row[j] = -(stock + kerf)
        rows.append(row), low.append(-numpy.inf), high.append(0)
    for j in range(n - 1):
        row = numpy.zeros(n + n * n)
        row[j], row[j + 1] = 1, -1
        rows.append(row), low.append(0), high.append(numpy.inf)
    upper = numpy.ones(n + n * n)
    for i in range(n):
        for j in range(i + 1, n):
            upper[x(i, j)] = 0
    found = milp(
        cost,
        constraints=LinearConstraint(numpy.array(rows), low, high),
        integrality=numpy.ones_like(cost),
        bounds=Bounds(0, upper),
    )
    assert found.status == 0, found.message
    return round(found.fun)


def case(rng):
    """Lengths of few sizes, of many, and such that just fill the stock: where simple layouts go wrong."""
    stock = rng.choice([100, 1000, 1500])
    kerf = rng.choice([0, 1, 2.5])
    kind = rng.randrange(3)
    count = rng.randint(1, 11)
    if kind == 0:
        sizes = [rng.randint(stock // 10, stock // 2) for _ in range(3)]
        lengths = [rng.choice(sizes) for _ in range(count)]
    elif kind == 1:
        lengths = [rng.randint(stock // 10, stock * 7 // 10) for _ in range(count)]
    else:
        lengths = []
        while len(lengths) < count:
            first = rng.randint(stock // 5, stock * 2 // 5)
            second = rng.randint(stock // 5, stock * 2 // 5)
            lengths += [first, second, stock - first - second - 2 * kerf]
    return lengths, stock, kerf


def check(program, lengths, stock, kerf):
    """What is wrong with the program's layout, if anything."""
    command = [program, "nest", "--json", "--stock-mm", str(stock), "--kerf-mm", str(kerf), *map(str, lengths)]
    answer = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    laid = sorted(piece for bar in answer["bars"] for piece in bar["pieces_mm"])
    if laid != sorted(map(float, lengths)):
        return "other pieces are laid out than were asked for"
    for bar in answer["bars"]:
        if sum(piece + kerf for piece in bar["pieces_mm"]) > stock + kerf + TOLERANCE_MM:
            return f"{bar} does not fit"
    best = fewest(lengths, stock, kerf)
    if answer["lengths"] != best:
        return f"{answer['lengths']} lengths where {best} do"
    if answer["bound"] != best:
        return f"a bound of {answer['bound']} where {best} are needed: it should be settled for so few pieces"
    return None


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", required=True, help="the vialwright program")
    program = parser.parse_args().program
    rng = random.Random(20260101)
    wrong = 0
    for number in range(CASES):
        lengths, stock, kerf = case(rng)
        fault = check(program, lengths, stock, kerf)
        if fault:
            wrong += 1
            print(f"case {number}: {lengths} on {stock}, kerf {kerf}: {fault}")
    # The comparison itself must be able to fail: two pieces of half the stock and a cut do not fit on one length.
    assert fewest([50, 50], 100, 1) == 2 and fewest([50, 50], 100, 0) == 1
    print(f"nest: {CASES} cases against the exact solver, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
