"""Checks what `pour` says against a fine raster flood (flood.py) that shares no code or method with the engine.

    python check_pour.py --program PATH [--examples FOLDER] [--only NAME]

Every case of `pours` (a dump with its charge and stances), and every example with the stances below, is poured by the
program and flooded on two grids. At each stop compared are what every piece holds and what every port has lost. A
volume may be off by 0.1 % of the charge or by the raster's own error, whichever is larger. That error is taken for three
times the difference between the grids, whose cells are as 2 to 3, as are the steps by which the glass is turned (twice
would be right for an error that falls with the size of the cells), and for not less than the diagonal of a small
cell over the largest free surface that has stood at a sill, because no lip is known better than that. Where it is more than 1 % of
the charge the raster proves little: such a comparison is counted apart, and more than one in twenty of a case fail it.
What the program says of a dump and of its mirror image must be the same.

One line per case; the last line reads `N passed, N failed`; what is counted apart is in neither. The exit status is 1 when anything failed.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import subprocess
import sys
import time
from pathlib import Path

from flood import Flood
from raster import SPLIT, build

HERE = Path(__file__).resolve().parent

# Side of the cells, mm, and the step of the turn, degrees.
GRIDS = [(0.3, 0.6), (0.45, 0.9)]
PART_OF_CHARGE = 1e-3
SPREADS = 3.0
TOO_COARSE = 1e-2
# Part of a case's comparisons that may be so coarse.
TOO_COARSE_PART = 0.05

# Stances for the examples, whose charge lies in the receiver.
STANCES = {
    "rubidium-six": [[0, 0], [-30, 0], [-60, 0], [-15, 10], [0, 0]],
    "gallium-indium-eight": [[0, 0], [-25, 0], [-50, 0], [-20, -8], [0, 0]],
    "benzene-d6-five": [[0, 0], [-30, 0], [-65, 0], [0, 0]],
    "teaching-three": [[0, 0], [-35, 5], [-70, 0], [0, 0]],
}


def run(program: str, command: str, *arguments: str, given: dict | None = None) -> dict:
    """The program's JSON answer; its own message when it refuses."""
    text = None if given is None else json.dumps(given)
    done = subprocess.run([program, command, *arguments], input=text, capture_output=True, text=True, timeout=300)
    if done.returncode != 0:
        raise RuntimeError(f"`{command} {' '.join(arguments)}` ended with {done.returncode}: {done.stderr.strip()}")
    return json.loads(done.stdout)


def pour(program: str, case: dict) -> list[dict[str, float]]:
    """What the program says: by stop, volume by piece and, with a mark, by port, mL."""
    arguments = [f"--charge={piece}={ml}" for piece, ml in case["charge"].items()]
    arguments.append("--stances=" + ";".join(f"{tilt},{roll}" for tilt, roll in case["stances"]))
    answer = run(program, "pour", "-", *arguments, "--json", given=case["dump"])
    return [
        {held["piece"]: held["volume_ml"] for held in stop["vessels"]}
        | {f"out of {lost['port']}": lost["volume_ml"] for lost in stop["lost"]}
        for stop in answer["stops"]
    ]


def flood(case: dict, cell: float, step: float) -> tuple[list[dict[str, float]], list[float]]:
    """The same by the raster; and by stop what the diagonal of a small cell over the largest surface at a sill so far is, mL."""
    water = Flood(build(case["dump"], cell))
    stops, sills = [], []
    for i, (tilt, roll) in enumerate(case["stances"]):
        if i == 0:
            water.start((tilt, roll), {piece: ml * 1000.0 for piece, ml in case["charge"].items()})
        else:
            water.turn((tilt, roll), step)
        stop = {piece: volume / 1000.0 for piece, volume in water.held().items()}
        for port, volume in zip(water.grid.ports, water.lost):
            stop[f"out of {port}"] = stop.get(f"out of {port}", 0.0) + volume / 1000.0
        stops.append(stop)
        sills.append(max([math.sqrt(2) * cell / SPLIT * water.surface / 1000.0, *sills]))
    return stops, sills


def mirrored(case: dict) -> dict:
    """The case seen in the mirror."""
    flip = lambda point: [-point[0], point[1]]
    primitives = []
    for primitive in case["dump"]["primitives"]:
        primitive = dict(primitive)
        for key in ("from", "to", "centre"):
            if key in primitive:
                primitive[key] = flip(primitive[key])
        if "heading_deg" in primitive:
            primitive["heading_deg"] = 180 - primitive["heading_deg"]
        if "start_deg" in primitive:
            primitive["start_deg"], primitive["sweep_deg"] = 180 - primitive["start_deg"], -primitive["sweep_deg"]
        primitives.append(primitive)
    ports = [
        dict(port, at=flip(port["at"]), heading_deg=180 - port["heading_deg"]) for port in case["dump"]["ports"]
    ]
    stances = [[-tilt, roll] for tilt, roll in case["stances"]]
    return dict(case, dump=dict(case["dump"], primitives=primitives, ports=ports), stances=stances)


def check(job: tuple[str, str, dict]) -> tuple[str, int, list[str]]:
    """One case: its line, how many comparisons were right, and what was wrong."""
    program, name, case = job
    begun = time.monotonic()
    charge = sum(case["charge"].values())
    complaints = []
    passed, coarse_ones = 0, 0
    worst, worst_error = 0.0, 0.0
    try:
        said = pour(program, case)
        in_the_mirror = pour(program, mirrored(case))
        (fine, sills), (coarse, _) = (flood(case, *grid) for grid in GRIDS)
    except (RuntimeError, subprocess.TimeoutExpired) as error:
        return f"{name}: no answer", 0, [f"{name}: {error}"]
    for i, stance in enumerate(case["stances"]):
        where = f"{name}, stop {i + 1} at {stance[0]:g},{stance[1]:g}"
        for place in sorted(set(said[i]) | set(fine[i]) | set(in_the_mirror[i])):
            got, a, b = (stops[i].get(place, 0.0) for stops in (said, fine, coarse))
            error = max(SPREADS * abs(a - b), sills[i])
            off = abs(got - a)
            worst, worst_error = max(worst, off / charge), max(worst_error, error / charge)
            if TOO_COARSE * charge < error and off <= error:
                coarse_ones += 1
            elif off > max(PART_OF_CHARGE * charge, error):
                complaints.append(f"{where}, {place}: program {got:.4f} mL, raster {a:.4f} and {b:.4f} mL")
            else:
                passed += 1
            back = in_the_mirror[i].get(place, 0.0)
            if abs(back - got) <= 1e-6 * charge:
                passed += 1
            else:
                complaints.append(f"{where}, {place}: {got:.6f} mL, but {back:.6f} mL in the mirror")
    if coarse_ones > TOO_COARSE_PART * (passed + len(complaints) + coarse_ones):
        complaints.append(f"{name}: the grids are too coarse to judge {coarse_ones} volumes")
    apart = f", {coarse_ones} too coarse to judge" if coarse_ones else ""
    line = (
        f"{name}: {passed} of {passed + len(complaints)} agree{apart}; worst {100 * worst:.3f} % of the charge, "
        f"raster's own error to {100 * worst_error:.3f} % ({time.monotonic() - begun:.0f} s)"
    )
    return line, passed, complaints


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", required=True)
    parser.add_argument("--examples")
    parser.add_argument("--only", default="")
    arguments = parser.parse_args()
    cases = {path.stem: json.loads(path.read_text()) for path in sorted((HERE / "pours").glob("*.json"))}
    for path in sorted(Path(arguments.examples).glob("*.json")) if arguments.examples else []:
        fills = json.loads(path.read_text())["charge"]["fills"]
        cases[path.stem] = {
            "charge": {fill["piece"]: fill["volume_ml"] for fill in fills},
            "stances": STANCES[path.stem],
            "dump": run(arguments.program, "interior", str(path)),
        }
    jobs = [(arguments.program, name, case) for name, case in cases.items() if arguments.only in name]
    # The longest first; the code is compiled once, before the work is shared out.
    jobs.sort(key=lambda job: -len(job[2]["dump"]["primitives"]))
    ball = {"units": "mm", "primitives": [{"id": 0, "piece": "p", "shape": "sphere", "centre": [0, 0], "r": 2}]}
    flood({"dump": ball, "charge": {"p": 0.01}, "stances": [[0, 0], [1, 1]]}, 0.5, 1.0)
    passed, failed = 0, 0
    with multiprocessing.get_context("fork").Pool() as pool:
        for line, right, complaints in pool.imap_unordered(check, jobs):
            print(line, flush=True)
            for complaint in complaints:
                print(f"  WRONG {complaint}", flush=True)
            passed += right
            failed += len(complaints)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not jobs else 0


if __name__ == "__main__":
    sys.exit(main())
