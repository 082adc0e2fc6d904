"""Checks the program's geometry engine against a general-purpose solid library.

    python check_interior.py --program PATH [--examples FOLDER] [--only NAME]

Every neutral dump in `geometries`, and every design in the examples folder by way of `PROGRAM interior`, is built as
a finely faceted solid (solids.py) and compared with the program's own `--json` answers in several stances. What is
compared, each within 1e-5 relative or the facets' own error, whichever is larger:

* the total volume, and each piece's volume (an overlap counts for the lowest primitive id);
* volume and free surface below a level, for the connected part that holds a piece's lowest point;
* the level of a given volume, and the free surface there;
* every basin: bottom and sill (within 2e-3 mm, or the facets' error), and what it holds at its sill;
* a basin filled beyond its brim: nothing is gained or lost, and every pool that comes to rest holds what lies below its
  level and does not stand above its sill.

The facets' own error is measured: every quantity is taken from three solids, two with n facets round a bore, turned
by half a facet against each other, and one with 3 n / 4. The mean of the first two is the reference. An error that
falls as 1/n^2 shows 7/9 of its size in the spread of the three; 1.5 times the spread is taken for it, 2.5 times for
free surfaces, whose error is less regular. For a free surface
cut along a bore, and for heights, the three may agree by chance: there the error is not taken for less than what the
polygons deviate by, 0.3 (pi / n)^2 relative and 0.5 (pi / n)^2 times the greatest radius. A spread above 2e-3 (for free
surfaces, which jump where a wall runs level, 2e-2; for heights 0.02 mm) fails: then the solid would prove nothing.

One line per geometry and stance; the last line reads `N passed, N failed`. The exit status is 1 when anything failed.
"""

from __future__ import annotations

import argparse
import json
import math
import subprocess
import sys
import time
import zlib
from multiprocessing import Pool
from pathlib import Path

import numpy as np

from solids import Stand, lowest_of, unite, up

HERE = Path(__file__).resolve().parent

# (tilt, roll): as drawn; slight, steep and full rolls; negative tilt; beyond the vertical; nearly over the head.
STANCES = [(0.0, 0.0), (12.5, 10.0), (-31.0, 37.0), (20.0, 90.0), (118.0, -24.0), (-163.0, 4.0)]

RELATIVE = 1e-5
FACETS = 1.5
FACETS_SURFACE = 2.5
SILL_MM = 2e-3
TOO_COARSE = 2e-3
TOO_COARSE_SURFACE = 2e-2
TOO_COARSE_MM = 2e-2
# Hollows shallower than this may be the facets' and are not compared.
LEAST_DEPTH_MM = 0.05
MOST_TRIANGLES = 280_000


class Tally:
    """Counts comparisons and remembers the worst of each kind."""

    def __init__(self):
        self.passed = 0
        self.failed = 0
        self.worst: dict[str, tuple[float, float]] = {}
        self.complaints: list[str] = []

    def compare(self, kind: str, what: str, got: float, three: list[float], least: float, scale: float | None = None):
        """`got` against the mean of the two finest; `least` is relative to `scale`, or absolute when that is 1."""
        reference = 0.5 * (three[0] + three[1])
        scale = abs(reference) if scale is None else scale
        spread = (max(three) - min(three)) / scale
        deviation = abs(got - reference) / scale if math.isfinite(got) else math.inf
        allowed = max(least, (FACETS_SURFACE if kind == "surface" else FACETS) * spread)
        before = self.worst.get(kind, (-1.0, 0.0))
        if deviation > before[0]:
            self.worst[kind] = (deviation, allowed)
        too_coarse = TOO_COARSE_MM if scale == 1.0 else TOO_COARSE_SURFACE if kind == "surface" else TOO_COARSE
        if spread > too_coarse:
            self.fail(f"{what}: the facets are too coarse to judge (spread {spread:.1e})")
        elif deviation <= allowed:
            self.passed += 1
        else:
            self.fail(f"{what}: program {got:.9g}, solid {reference:.9g}, off by {deviation:.1e}, allowed {allowed:.1e}")

    def require(self, ok: bool, what: str):
        if ok:
            self.passed += 1
        else:
            self.fail(what)

    def fail(self, what: str):
        self.failed += 1
        self.complaints.append(what)

    def line(self) -> str:
        worst = ", ".join(f"{k} {d:.1e} of {a:.1e}" for k, (d, a) in self.worst.items())
        return f"{self.passed} of {self.passed + self.failed} agree; worst {worst}"


def ask(program: str, file: str, *arguments: str) -> dict:
    """The program's JSON answer; its own message when it refuses."""
    run = subprocess.run([program, *arguments[:1], file, *arguments[1:]], capture_output=True, text=True, timeout=120)
    if run.returncode != 0:
        raise RuntimeError(f"`{' '.join(arguments)}` ended with {run.returncode}: {run.stderr.strip()}")
    return json.loads(run.stdout)


def stance_text(tilt: float, roll: float) -> str:
    return f"{tilt:g},{roll:g}"


def facets(dump: dict) -> int:
    """The most facets round a bore that keep the solid within its size."""
    for n in (384, 320, 256, 192, 160, 128, 96):
        size = 0.0
        for p in dump["primitives"]:
            turn = abs(p["sweep_deg"]) / 360 if p["shape"] == "torus" else 0.0
            size += {"frustum": 4 * n, "torus": 2 * n * n * turn}.get(p["shape"], 0.6 * n * n)
        if size <= MOST_TRIANGLES:
            return n
    return 64


def reach(primitive: dict) -> float:
    """The greatest radius that is cut into facets, mm."""
    lengths = ("r", "r_from", "r_to", "semi_axial", "semi_radial")
    return max(primitive.get(k, 0.0) for k in lengths) + primitive.get("radius", 0.0)


def check_whole(tally: Tally, answer: dict, solids):
    tally.compare("total", "total volume", answer["total_ml"] * 1000, [s.total for s in solids], RELATIVE)
    got = {p["piece"]: p["volume_ml"] * 1000 for p in answer["pieces"]}
    for piece in solids[0].piece_volumes:
        three = [s.piece_volumes[piece] for s in solids]
        if piece not in got:
            tally.fail(f"piece {piece}: no volume in the answer")
        else:
            tally.compare("piece", f"piece {piece}", got[piece], three, RELATIVE)


def check_below(tally: Tally, program, file, stance, dump, stands, basins, surface, rng):
    """Random levels above the lowest points of some pieces."""
    u = stands[0].u
    pieces = list(dict.fromkeys(p["piece"] for p in dump["primitives"]))
    chosen = [pieces[i] for i in rng.permutation(len(pieces))[:3]]
    asked = []
    for piece in chosen:
        point, low = min((lowest_of(p, u) for p in dump["primitives"] if p["piece"] == piece), key=lambda x: x[1])
        for share in (rng.uniform(0.06, 0.5), rng.uniform(0.5, 0.95)):
            level = low + share * (stands[0].high - low)
            # Just at a sill the facets decide which parts are connected.
            while any(b.sill is not None and abs(b.sill - level) < 0.01 for row in basins for b in row):
                level += 0.02
            asked.append((piece, point, round(level, 6)))
    arguments = [x for piece, _, level in asked for x in ("--volume-below", f"{piece}={level!r}")]
    answer = ask(program, file, "measure", "--stance", stance, *arguments, "--json")
    tally.require(len(answer["volume_below"]) == len(asked), "one answer for each --volume-below")
    for (piece, point, level), got in zip(asked, answer["volume_below"]):
        what = f"below {level} mm from {piece}"
        tally.require(got["piece"] == piece and abs(got["level_mm"] - level) < 1e-9, f"{what}: answers in the order asked")
        three = [s.below(level, s.part(level, s.seed_under(point))) for s in stands]
        tally.compare("volume", f"volume {what}", got["volume_ml"] * 1000, [t[0] for t in three], RELATIVE)
        tally.compare("surface", f"free surface {what}", got["free_surface_cm2"] * 100, [t[1] for t in three], surface)
    return answer


def pair(basins, stands):
    """The basins of the first solid, each with its like in the two others (None where the facets hide it)."""
    rows = []
    for b in basins[0]:
        row = [b]
        here = stands[0].solid.points[b.point]
        for k in (1, 2):
            like = [c for c in basins[k] if abs(c.bottom - b.bottom) < 0.05 and (c.sill is None) == (b.sill is None)]
            like = [c for c in like if b.sill is None or abs(c.sill - b.sill) < 0.05]
            where = stands[k].solid.points
            row.append(min(like, key=lambda c: np.linalg.norm(where[c.point] - here), default=None))
        rows.append(row)
    return rows


def check_basins(tally: Tally, answer: dict, basins, stands, height):
    """Bottoms, sills and brims of the empty basins; returns what fits, for the fillings."""
    left = list(answer["pools"])
    shallow = [p for p in left if p["sill_mm"] is not None and p["sill_mm"] - p["level_mm"] < LEAST_DEPTH_MM]
    fitting = []
    for row in pair(basins, stands):
        b = row[0]
        deep = b.sill is None or b.sill - b.bottom > LEAST_DEPTH_MM
        pieces = stands[0].pieces_at(b.point)
        what = f"basin of {'/'.join(sorted(pieces))} at {b.bottom:.3f} mm"

        def distance(pool):
            if (pool["sill_mm"] is None) != (b.sill is None):
                return math.inf
            return abs(pool["level_mm"] - b.bottom) + (abs(pool["sill_mm"] - b.sill) if b.sill is not None else 0)

        # On a level floor the lowest point may lie in any of the pieces that make it.
        near = sorted(left, key=lambda pool: (round(distance(pool), 1), pool["piece"] not in pieces))
        if not near or distance(near[0]) > 0.1:
            # The program's neighbour may be a hollow too shallow for the facets: then the sills differ in kind.
            into_shallow = [
                p
                for p in left
                if abs(p["level_mm"] - b.bottom) < 0.1
                and any(p["sill_mm"] is not None and abs(q["sill_mm"] - p["sill_mm"]) < 1e-9 for q in shallow)
            ]
            if into_shallow:
                left.remove(into_shallow[0])
            elif deep:
                sill = "none" if b.sill is None else f"{b.sill:.4f}"
                tally.fail(f"{what}: no such basin in the answer (solid: sill {sill} mm)")
            continue
        pool = near[0]
        left.remove(pool)
        if not deep or None in row:
            tally.require(not deep, f"{what}: the three solids do not agree about it")
            continue
        tally.compare("bottom", f"{what}: bottom", pool["level_mm"], [r.bottom for r in row], height, 1.0)
        if b.sill is None:
            mesh_brim = [s.solid.total for s in stands]
            tally.require(pool["brim_ml"] is None, f"{what}: a brim without a sill")
        else:
            tally.compare("sill", f"{what}: sill", pool["sill_mm"], [r.sill for r in row], height, 1.0)
            mesh_brim = []
            for s, r in zip(stands, row):
                volume, area = s.below(r.sill, s.part(r.sill, r.point))
                mesh_brim.append(volume + area * (pool["sill_mm"] - r.sill))
            if min(mesh_brim) > 1.0:
                tally.compare("brim", f"{what}: brim", pool["brim_ml"] * 1000, mesh_brim, RELATIVE)
        fitting.append((row, pool["piece"], min(mesh_brim)))
    for pool in left:
        deep = pool["sill_mm"] is None or pool["sill_mm"] - pool["level_mm"] > LEAST_DEPTH_MM
        if deep:
            tally.fail(f"the answer has a basin of {pool['piece']} at {pool['level_mm']:.4f} mm, sill {pool['sill_mm']} mm; the solid has none")
    return fitting


def check_fillings(tally: Tally, program, file, stance, dump, stands, fitting, surface, rng):
    """The level of a volume; and what comes to rest when a basin is given more than it holds."""
    u = stands[0].u
    usable = []
    for row, piece, brim in fitting:
        low = min(lowest_of(p, u)[1] for p in dump["primitives"] if p["piece"] == piece)
        if abs(low - row[0].bottom) < 0.01 and brim > 20.0:
            usable.append((row, piece, brim))
    for i in rng.permutation(len(usable))[:2]:
        row, piece, brim = usable[i]
        volume_ml = float(f"{rng.uniform(0.1, 0.95) * brim / 1000:.6g}")
        answer = ask(program, file, "measure", "--stance", stance, "--liquid", f"{piece}={volume_ml!r}", "--json")
        what = f"{volume_ml} mL in {piece}"
        pools = answer["pools"]
        if len(pools) != 1 or answer["lost"]:
            tally.fail(f"{what}: {len(pools)} pools and {len(answer['lost'])} losses instead of one pool")
            continue
        pool = pools[0]
        tally.compare("settled", f"{what}: volume", pool["volume_ml"], [volume_ml] * 3, 1e-12)
        level = pool["level_mm"]
        three = []
        for s, r in zip(stands, row):
            mask = np.ones(len(s.tri), dtype=bool) if r.sill is None else s.part(r.sill, r.point)
            three.append(s.below(level, mask))
        tally.compare("level", f"{what}: volume below the level {level}", volume_ml * 1000, [t[0] for t in three], RELATIVE)
        tally.compare("surface", f"{what}: free surface", pool["free_surface_cm2"] * 100, [t[1] for t in three], surface)
        # A level on a level floor is where the free surface jumps; everywhere else the depth is the level's.
        tally.require(abs(level - pool["depth_mm"] - row[0].bottom) < 0.01, f"{what}: level less depth is not the bottom")
    # A closed interior has no room for more than its volume.
    most = math.inf if dump["ports"] else 0.9 * stands[0].solid.total
    over = [x for x in usable if x[0][0].sill is not None and x[2] < 0.9 * most]
    for i in rng.permutation(len(over))[:1]:
        row, piece, brim = over[i]
        volume_ml = float(f"{min(1.45 * brim, most) / 1000:.6g}")
        answer = ask(program, file, "measure", "--stance", stance, "--liquid", f"{piece}={volume_ml!r}", "--json")
        check_rest(tally, f"{volume_ml} mL in {piece}, more than its brim", answer, volume_ml, stands)


def check_rest(tally: Tally, what: str, answer: dict, given_ml: float, stands):
    """A state of rest: the volumes add up, and each pool is what lies below its level."""
    held = sum(p["volume_ml"] for p in answer["pools"])
    lost = sum(x["volume_ml"] for x in answer["lost"])
    tally.require(abs(held + lost - given_ml) < 1e-9 * given_ml, f"{what}: {held} mL held, {lost} mL lost")
    for pool in answer["pools"]:
        name = f"{what}: pool in {pool['piece']}"
        sill = pool["sill_mm"]
        tally.require(sill is None or pool["level_mm"] < sill + 1e-9, f"{name}: stands above its sill")
        if pool["volume_ml"] < 0.02:
            continue
        bottom = pool["level_mm"] - pool["depth_mm"]
        level = pool["level_mm"]
        # At the sill the facets may already join the pool with its neighbour: stay below and follow the surface up,
        # which leaves an error of the third order.
        margin = 0.02 if sill is not None and level > sill - 0.02 else 0.0
        three = []
        for s in stands:
            near = np.unique(s.tri[s.solid.piece_of_tri == pool["piece"]])
            near = near[np.abs(s.h[near] - bottom) < 0.02]
            label = s.labels(level - margin)
            volumes = []
            for part in {int(k) for k in label[near] if k >= 0}:
                mask = (label[s.tri] == part).any(axis=1)
                v, a = s.below(level - margin, mask)
                _, lower = s.below(level - 2 * margin, mask)
                volumes.append(v + margin * (a + 0.5 * (a - lower)))
            if not volumes:
                break
            three.append(min(volumes, key=lambda v: abs(v - pool["volume_ml"] * 1000)))
        if len(three) < 3:
            tally.fail(f"{name}: no such bottom ({bottom:.4f} mm) in the solid")
        else:
            tally.compare("rest", name, pool["volume_ml"] * 1000, three, RELATIVE)


def check_library_cut(tally: Tally, stand: Stand, rng):
    """The sums of solids.py against the library's own cutting: connected parts, their volumes, the slice."""
    import manifold3d as m3

    level = stand.low + rng.uniform(0.2, 0.8) * (stand.high - stand.low)
    label = stand.labels(level)
    mine = sorted(stand.below(level, (label[stand.tri] == k).any(axis=1))[0] for k in np.unique(label[label >= 0]))
    area = stand.below(level, (label[stand.tri] >= 0).any(axis=1))[1]
    u = stand.u
    parts = stand.solid.manifold.trim_by_plane(tuple(-u), -level).decompose()
    library = sorted(p.volume() for p in parts)
    mine = [v for v in mine if v > 1e-3]
    library = [v for v in library if v > 1e-3]
    same = len(mine) == len(library) and np.allclose(mine, library, rtol=1e-7, atol=1e-4)
    tally.require(same, f"cut at {level:.4f} mm: parts {mine} here, {library} in the library")
    x = np.cross(u, np.eye(3)[int(np.argmin(np.abs(u)))])
    x /= np.linalg.norm(x)
    turn = np.vstack([x, np.cross(u, x), u])
    slice_area = stand.solid.manifold.transform(np.column_stack([turn, np.zeros(3)])).slice(level).area()
    tally.require(abs(slice_area - area) < 1e-5 * area + 1e-6, f"slice at {level:.4f} mm: {area} here, {slice_area} in the library")


def check_geometry(task) -> tuple[str, list[str], int, int]:
    """All stances of one geometry: name, lines to print, passed, failed."""
    name, file, program, is_design = task
    lines: list[str] = []
    passed = failed = 0
    began = time.monotonic()
    try:
        dump = ask(program, file, "interior") if is_design else json.loads(Path(file).read_text())
        n = facets(dump)
        solids = [unite(dump, n, 0.0), unite(dump, n, 0.5), unite(dump, 3 * n // 4, 0.25)]
    except (RuntimeError, ValueError, KeyError, OSError, subprocess.SubprocessError) as e:
        return name, [f"{name}: FAILED: {e}"], 0, 1
    surface = max(RELATIVE, 0.3 * (math.pi / n) ** 2)
    height = max(SILL_MM, 0.5 * (math.pi / n) ** 2 * max(reach(p) for p in dump["primitives"]))
    for index, (tilt, roll) in enumerate(STANCES):
        tally = Tally()
        rng = np.random.default_rng(zlib.crc32(f"{name} {tilt} {roll}".encode()))
        stance = stance_text(tilt, roll)
        try:
            stands = [Stand(s, up(tilt, roll)) for s in solids]
            check_library_cut(tally, stands[2], rng)
            basins = [s.basins(dump["ports"], 0.4 * LEAST_DEPTH_MM) for s in stands]
            answer = check_below(tally, program, file, stance, dump, stands, basins, surface, rng)
            if index == 0:
                check_whole(tally, answer, solids)
            fitting = check_basins(tally, answer, basins, stands, height)
            check_fillings(tally, program, file, stance, dump, stands, fitting, surface, rng)
        except (RuntimeError, ValueError, KeyError, TypeError, OSError, subprocess.SubprocessError) as e:
            tally.fail(f"{type(e).__name__}: {e}")
        mark = "ok" if tally.failed == 0 else "FAILED"
        lines.append(f"{name} ({n} facets) at {stance}: {mark}: {tally.line()}")
        lines.extend(f"    {c}" for c in tally.complaints)
        passed += tally.passed
        failed += tally.failed
    lines[-1] += f" [{time.monotonic() - began:.1f} s]"
    return name, lines, passed, failed


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", required=True, help="the vialwright program")
    parser.add_argument("--examples", help="folder of designs to check as well")
    parser.add_argument("--only", help="check only geometries whose name contains this")
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    tasks = [(f.stem, str(f), options.program, False) for f in sorted((HERE / "geometries").glob("*.json"))]
    if options.examples:
        designs = sorted(Path(options.examples).glob("*.json"))
        if not designs:
            print(f"no designs in {options.examples}", file=sys.stderr)
            return 1
        tasks += [(f"example {f.stem}", str(f), options.program, True) for f in designs]
    if options.only:
        tasks = [t for t in tasks if options.only in t[0]]
    if not tasks:
        print("nothing to check", file=sys.stderr)
        return 1
    passed = failed = 0
    with Pool(options.jobs) as pool:
        for _, lines, p, f in pool.imap(check_geometry, tasks):
            print("\n".join(lines), flush=True)
            passed += p
            failed += f
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
