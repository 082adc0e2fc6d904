"""Shows that the solids of solids.py are right, against closed forms and a quadrature that share nothing with them.

Run before the check itself; without it, an agreement would only say that two programs are alike.
"""

from __future__ import annotations

import math
import sys

import numpy as np
from scipy import integrate, special

from solids import Stand, unite, up

N = 320


def dump(*primitives, ports=()):
    return {
        "units": "mm",
        "primitives": [{"id": i, "piece": f"p{i}", **p} for i, p in enumerate(primitives)],
        "ports": list(ports),
    }


def tube(a, b, r0, r1=None):
    return {"shape": "frustum", "from": a, "to": b, "r_from": r0, "r_to": r0 if r1 is None else r1}


def held(d, tilt, roll, level):
    """Volume and free surface below a height, all parts together."""
    s = Stand(unite(d, N, 0.25), up(tilt, roll))
    return s.below(level, np.ones(len(s.tri), dtype=bool))


def common_of_cylinders(a, b):
    """Volume common to two crossing cylinders with radii a < b at right angles."""
    m = (a / b) ** 2
    return 8 * b / 3 * ((a * a + b * b) * special.ellipe(m) - (b * b - a * a) * special.ellipk(m))


def columns(d, tilt, roll, level):
    """Volume below a height by quadrature over the drawing plane, for cylinders only.

    At (x, y) the interior is |z| <= depth, the greatest half-depth of any cylinder there; what is wet of that column
    is in closed form. Needs roll > 0.
    """
    p, q, s = up(tilt, roll)

    def depth(x, y):
        most = np.zeros_like(x)
        for c in d["primitives"]:
            (ax, ay), (bx, by) = c["from"], c["to"]
            length = math.hypot(bx - ax, by - ay)
            ux, uy = (bx - ax) / length, (by - ay) / length
            along = (x - ax) * ux + (y - ay) * uy
            across = -(x - ax) * uy + (y - ay) * ux
            inside = (along >= 0) & (along <= length)
            most = np.maximum(most, np.where(inside, np.sqrt(np.clip(c["r_from"] ** 2 - across**2, 0, None)), 0))
        return most

    xs = [c[e][0] for c in d["primitives"] for e in ("from", "to")]
    ys = [c[e][1] for c in d["primitives"] for e in ("from", "to")]
    rim = max(c["r_from"] for c in d["primitives"])
    n = 3000
    x = np.linspace(min(xs) - rim, max(xs) + rim, n + 1)
    y = np.linspace(min(ys) - rim, max(ys) + rim, n + 1)
    x, y = 0.5 * (x[1:] + x[:-1]), 0.5 * (y[1:] + y[:-1])
    total = 0.0
    for row in y:
        depths = depth(x, np.full_like(x, row))
        floor = p * x + q * row - abs(s) * depths
        total += np.clip((level - floor) / abs(s), 0, 2 * depths).sum()
    return total * (x[1] - x[0]) * (y[1] - y[0])


def main() -> int:
    passed = failed = 0

    def expect(what, got, want, relative):
        nonlocal passed, failed
        off = abs(got / want - 1)
        ok = off <= relative
        passed, failed = passed + ok, failed + (not ok)
        print(f"{'ok' if ok else 'FAILED'}: {what}: {got:.9g} against {want:.9g}, off by {off:.1e}")

    sphere = dump({"shape": "sphere", "centre": [3, 4], "r": 25.0})
    c = np.array([3, 4, 0])
    for tilt, roll in ((0, 0), (33, -21)):
        h = 10.0
        v, a = held(sphere, tilt, roll, c @ up(tilt, roll) - 25 + h)
        expect(f"spherical cap at {tilt},{roll}", v, math.pi * h * h * (75 - h) / 3, 1e-5)
        expect(f"its free surface at {tilt},{roll}", a, math.pi * h * (50 - h), 1e-5)
    lying = dump(tube([0, 0], [100, 0], 10.0))
    v, a = held(lying, 0, 0, -5.0)
    expect("lying cylinder", v, 100 * (100 * math.acos(0.5) - 5 * math.sqrt(75)), 1e-5)
    expect("its free surface", a, 100 * 2 * math.sqrt(75), 1e-5)
    # An ungula: the bottom of a standing cylinder is wetted up to b from its lowest edge, the wall up to H.
    r, alpha, high = 10.0, math.radians(60), 30.0
    b = r * (1 - math.cos(alpha))
    phi = math.atan2(high, b)
    cup = dump(tube([0, 0], [0, 80], r))
    for tilt, roll in ((-math.degrees(phi), 0), (0, math.degrees(phi))):
        level = -math.sin(phi) * r + b * math.sin(phi)
        v, _ = held(cup, tilt, roll, level)
        expect(f"ungula at {tilt:.1f},{roll:.1f}", v, high * r**3 / b * (math.sin(alpha) - math.sin(alpha) ** 3 / 3 - alpha * math.cos(alpha)), 1e-5)
    expect("frustum", held(dump(tube([0, 0], [0, 12], 3, 10)), 0, 0, 99)[0], math.pi * 12 * 139 / 3, 1e-7)
    expect("cone to a point", held(dump(tube([0, 0], [8, 6], 3, 0)), 0, 0, 99)[0], math.pi * 90 / 3, 1e-7)
    bend = dump({"shape": "torus", "centre": [1, 2], "radius": 20, "r": 4, "start_deg": 15, "sweep_deg": -90})
    expect("bend", held(bend, 0, 0, 99)[0], math.pi**2 * 16 * 10, 1e-7)
    for axial, radial in ((15, 10), (10, 15)):
        egg = dump({"shape": "spheroid", "centre": [0, 0], "heading_deg": 90, "semi_axial": axial, "semi_radial": radial})
        expect(f"spheroid {axial}/{radial}", held(egg, 0, 0, 99)[0], 4 * math.pi / 3 * axial * radial**2, 1e-7)
        v, _ = held(egg, 0, 0, 6 - axial)
        expect(f"cap of spheroid {axial}/{radial}", v, math.pi * radial**2 * 36 * (3 * axial - 6) / (3 * axial**2), 1e-5)
    # Header and neck: the neck loses half of what the crossing cylinders have in common.
    for angle in (90, 45):
        d = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
        s = unite(dump(tube([-60, 0], [60, 0], 5), tube([0, 0], [50 * d[0], 50 * d[1]], 3)), N, 0.25)
        common = common_of_cylinders(3, 5) / d[1] / 2
        expect(f"header and neck at {angle} degrees", s.total, math.pi * (25 * 120 + 9 * 50) - common, 1e-6)
        expect("the neck's share", s.piece_volumes["p1"], math.pi * 9 * 50 - common, 1e-6)
    quadrature, _ = integrate.quad(lambda x: 8 * math.sqrt((25 - x * x) * (9 - x * x)), 0, 3, epsrel=1e-11)
    expect("crossing cylinders by quadrature", common_of_cylinders(3, 5), quadrature, 1e-9)
    cross = dump(tube([-30, 2], [34, -6], 6), tube([0, -1], [-9, 40], 4))
    for tilt, roll, level in ((12, 10, 3.0), (-31, 37, 9.0), (64, 75, 2.0)):
        v, _ = held(cross, tilt, roll, level)
        expect(f"inclined cross at {tilt},{roll} by columns", v, columns(cross, tilt, roll, level), 2e-5)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
