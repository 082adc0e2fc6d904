"""Neutral interior dumps as finely faceted solids, united by a general-purpose solid library.

Nothing here is shared with the program: shapes become closed triangle meshes, the library unites them, and what
the meshes hold below a level is summed triangle by triangle.

Facets. A circle of radius R becomes a regular polygon of the *same area*: its corners lie on the radius
R sqrt(b / sin b) with b = 2 pi / n. Then every facet's sector has the circle's own area, so only the facets that a
level cuts matter and the error of a volume falls as 1/n^3. Meridians of spheroids and arcs of bends are treated alike.
What error remains is measured, not assumed: every quantity is computed with several facet counts and phases.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import manifold3d as m3
import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

# Flush ends are moved outwards by this much (mm), so that pieces which meet in a common disc overlap and are united.
SEAM_MM = 1e-7


def up(tilt_deg: float, roll_deg: float) -> np.ndarray:
    """Up, in the axes of the apparatus."""
    t, r = math.radians(tilt_deg), math.radians(roll_deg)
    return np.array([math.sin(t) * math.cos(r), math.cos(t) * math.cos(r), -math.sin(r)])


def equal_area(step: float) -> float:
    """Radius of the corners, over that of the circle, of a polygon with the circle's area; `step` in radians."""
    return math.sqrt(step / math.sin(step))


# ---------------------------------------------------------------------------------------------------------------
# Meshes of the shapes
# ---------------------------------------------------------------------------------------------------------------


def _rings(rings: list[np.ndarray], first_tip: np.ndarray | None, last_tip: np.ndarray | None) -> m3.Manifold:
    """Closed mesh through rings of equally many points; ends are closed by a tip, or flat by the ring's middle."""
    n = len(rings[0])
    first = rings[0].mean(axis=0) if first_tip is None else first_tip
    last = rings[-1].mean(axis=0) if last_tip is None else last_tip
    points = np.vstack([*rings, first[None, :], last[None, :]])
    k = np.arange(n)
    nxt = (k + 1) % n
    faces = []
    for i in range(len(rings) - 1):
        a, b = i * n, (i + 1) * n
        faces.append(np.column_stack([a + k, a + nxt, b + nxt]))
        faces.append(np.column_stack([a + k, b + nxt, b + k]))
    end = (len(rings) - 1) * n
    tip0, tip1 = len(points) - 2, len(points) - 1
    faces.append(np.column_stack([np.full(n, tip0), nxt, k]))
    faces.append(np.column_stack([np.full(n, tip1), end + k, end + nxt]))
    tri = np.vstack(faces)
    p = points[tri]
    if np.einsum("ij,ij->", p[:, 0], np.cross(p[:, 1], p[:, 2])) < 0:
        tri = tri[:, ::-1]
    solid = m3.Manifold(m3.Mesh64(np.ascontiguousarray(points), np.ascontiguousarray(tri, dtype=np.uint64)))
    if solid.status() != m3.Error.NoError or solid.is_empty():
        raise ValueError(f"the mesh of a shape is not closed: {solid.status()}")
    return solid.as_original()


def _ring(centre, normal, r: float, n: int, phase: float) -> np.ndarray:
    """Polygon of `n` corners with the area of a circle; `normal` (in the plane) and z span its plane."""
    a = 2 * math.pi * (np.arange(n) + phase) / n
    c = r * equal_area(2 * math.pi / n)
    across = np.cos(a)[:, None] * np.array([normal[0], normal[1], 0.0])
    return np.array([centre[0], centre[1], 0.0]) + c * (across + np.sin(a)[:, None] * np.array([0.0, 0.0, 1.0]))


def frustum(start, end, r0: float, r1: float, n: int, phase: float) -> m3.Manifold:
    start, end = np.array(start, float), np.array(end, float)
    length = float(np.hypot(*(end - start)))
    d = (end - start) / length
    normal = np.array([-d[1], d[0]])
    # The radii stay those of the true ends: over SEAM_MM the cone simply goes on as a cylinder.
    tip0 = np.array([*start, 0.0]) if r0 == 0 else None
    tip1 = np.array([*end, 0.0]) if r1 == 0 else None
    rings = []
    if r0 > 0:
        rings.append(_ring(start - SEAM_MM * d, normal, r0, n, phase))
    if r0 != r1 or r0 == 0 or r1 == 0:
        if r0 > 0:
            rings.append(_ring(start, normal, r0, n, phase))
        if r1 > 0:
            rings.append(_ring(end, normal, r1, n, phase))
    if r1 > 0:
        rings.append(_ring(end + SEAM_MM * d, normal, r1, n, phase))
    return _rings(rings, tip0, tip1)


def spheroid(centre, heading: float, axial: float, radial: float, n: int, phase: float) -> m3.Manifold:
    d = np.array([math.cos(heading), math.sin(heading)])
    normal = np.array([-d[1], d[0]])
    # A different number for each phase: slices along the bands then show the error of the bands as well.
    bands = max(8, round(n * (0.5 + 0.07 * phase)))
    polar = math.pi * np.arange(1, bands) / bands
    # The meridian polygon must turn to the right *volume*: one factor for all three axes, from the sum of its bands.
    ca, sa = np.cos(np.concatenate([[0.0], polar, [math.pi]])), np.sin(np.concatenate([[0.0], polar, [math.pi]]))
    sa[-1] = 0.0
    volume = np.sum((ca[:-1] - ca[1:]) * (sa[:-1] ** 2 + sa[:-1] * sa[1:] + sa[1:] ** 2)) / 3
    k = (4 / 3 / volume) ** (1 / 3)
    c = np.array(centre, float)
    rings = [_ring(c - d * axial * k * math.cos(a), normal, radial * k * math.sin(a), n, phase) for a in polar]
    return _rings(rings, np.array([*(c - d * axial * k), 0.0]), np.array([*(c + d * axial * k), 0.0]))


def torus(centre, radius: float, r: float, start: float, sweep: float, n: int, phase: float) -> m3.Manifold:
    if abs(sweep) > math.pi:
        # A single mesh must not run into itself, as a full turn would at its seam.
        first = torus(centre, radius, r, start, sweep / 2, n, phase)
        return (first + torus(centre, radius, r, start + sweep / 2, sweep / 2, n, phase)).as_original()
    c = np.array(centre, float)
    steps = max(4, math.ceil(n * abs(sweep) / (2 * math.pi)))
    step = sweep / steps
    k = equal_area(abs(step))
    seam = SEAM_MM / radius * math.copysign(1.0, sweep)
    angles = start + step * np.arange(steps + 1)
    angles[0] -= seam
    angles[-1] += seam
    # In-plane lengths are stretched by the same rule as circles, so that every wedge keeps the volume of its arc.
    ring = _ring((0.0, 0.0), (1.0, 0.0), r, n, phase)
    rings = []
    for a in angles:
        e = np.array([math.cos(a), math.sin(a)])
        along = k * (radius + ring[:, 0])
        rings.append(np.column_stack([c[0] + along * e[0], c[1] + along * e[1], ring[:, 2]]))
    first = np.array([*(c + k * radius * np.array([math.cos(angles[0]), math.sin(angles[0])])), 0.0])
    last = np.array([*(c + k * radius * np.array([math.cos(angles[-1]), math.sin(angles[-1])])), 0.0])
    return _rings(rings, first, last)


def shape_of(primitive: dict, n: int, phase: float) -> m3.Manifold:
    """Mesh of one primitive of a neutral dump."""
    kind = primitive["shape"]
    if kind == "frustum":
        return frustum(primitive["from"], primitive["to"], primitive["r_from"], primitive["r_to"], n, phase)
    if kind == "sphere":
        return spheroid(primitive["centre"], math.pi / 2, primitive["r"], primitive["r"], n, phase)
    if kind == "spheroid":
        heading = math.radians(primitive["heading_deg"])
        return spheroid(primitive["centre"], heading, primitive["semi_axial"], primitive["semi_radial"], n, phase)
    if kind == "torus":
        return torus(
            primitive["centre"],
            primitive["radius"],
            primitive["r"],
            math.radians(primitive["start_deg"]),
            math.radians(primitive["sweep_deg"]),
            n,
            phase,
        )
    raise ValueError(f"primitive {primitive['id']}: unknown shape {kind!r}")


def lowest_of(primitive: dict, u: np.ndarray) -> tuple[np.ndarray, float]:
    """A point just inside the lowest point of a primitive, and the lowest height itself, in closed form."""
    kind = primitive["shape"]

    def space(p):
        return np.array([p[0], p[1], 0.0])

    def disc(centre, normal, r):
        """Lowest point of a disc that stands across `normal`."""
        across = u - (u @ normal) * normal
        length = np.linalg.norm(across)
        return centre - (r / length) * across if length > 1e-12 else centre

    if kind == "frustum":
        a, b = space(primitive["from"]), space(primitive["to"])
        d = (b - a) / np.linalg.norm(b - a)
        low = min(disc(a, d, primitive["r_from"]), disc(b, d, primitive["r_to"]), key=lambda p: p @ u)
        inner = (a + b) / 2
    elif kind in ("sphere", "spheroid"):
        h = math.radians(primitive.get("heading_deg", 0.0))
        axial = primitive.get("semi_axial", primitive.get("r"))
        radial = primitive.get("semi_radial", primitive.get("r"))
        d = np.array([math.cos(h), math.sin(h), 0.0])
        inner = space(primitive["centre"])
        s = axial**2 * (u @ d) * d + radial**2 * (u - (u @ d) * d)
        low = inner - s / math.sqrt(u @ s)
    else:
        c, radius, r = space(primitive["centre"]), primitive["radius"], primitive["r"]
        start = math.radians(primitive["start_deg"])
        stop = start + math.radians(primitive["sweep_deg"])
        lo, hi = min(start, stop), max(start, stop)
        down = math.atan2(-u[1], -u[0])
        # Along the arc the lowest line of the bore is level only straight below the centre of the arc.
        angles = [lo, hi] + [down + 2 * math.pi * k for k in range(-3, 4) if lo < down + 2 * math.pi * k < hi]

        def at(a):
            return c + radius * np.array([math.cos(a), math.sin(a), 0.0])

        lows = [disc(at(a), np.array([-math.sin(a), math.cos(a), 0.0]), r) for a in angles]
        k = int(np.argmin([p @ u for p in lows]))
        low = lows[k]
        towards = at(angles[k] + 0.002 * ((lo + hi) / 2 - angles[k]))
        return low + 0.002 * (at(angles[k]) - low) + (towards - at(angles[k])), float(low @ u)
    return low + 0.002 * (inner - low), float(low @ u)


# ---------------------------------------------------------------------------------------------------------------
# The united solid
# ---------------------------------------------------------------------------------------------------------------


@dataclass
class Solid:
    """The interior as one closed mesh."""

    points: np.ndarray
    tri: np.ndarray
    piece_of_tri: np.ndarray
    manifold: m3.Manifold
    total: float
    piece_volumes: dict[str, float]

    def __post_init__(self):
        n = len(self.points)
        t = self.tri
        pairs = np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])
        pairs.sort(axis=1)
        keys = np.unique(pairs[:, 0] * n + pairs[:, 1])
        self.edges = np.column_stack([keys // n, keys % n])
        self.used = np.unique(t)


def _boxes_meet(a, b) -> bool:
    return all(a[k] <= b[k + 3] + 1e-3 and b[k] <= a[k + 3] + 1e-3 for k in range(3))


def unite(dump: dict, n: int, phase: float) -> Solid:
    """Unites the primitives; piece volumes by telescoping: an overlap counts for the lowest primitive id."""
    primitives = sorted(dump["primitives"], key=lambda p: p["id"])
    shapes = [shape_of(p, n, phase) for p in primitives]
    boxes = [s.bounding_box() for s in shapes]
    pieces: dict[str, float] = {}
    for i, (p, s) in enumerate(zip(primitives, shapes)):
        earlier = [shapes[j] for j in range(i) if _boxes_meet(boxes[i], boxes[j])]
        common = (s ^ m3.Manifold.batch_boolean(earlier, m3.OpType.Add)).volume() if earlier else 0.0
        pieces[p["piece"]] = pieces.get(p["piece"], 0.0) + s.volume() - common
    whole = m3.Manifold.batch_boolean(shapes, m3.OpType.Add)
    mesh = whole.to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3].copy()
    tri = np.asarray(mesh.tri_verts).astype(np.int64)
    same = np.arange(len(points))
    if len(mesh.merge_from_vert):
        same[np.asarray(mesh.merge_from_vert, dtype=np.int64)] = np.asarray(mesh.merge_to_vert, dtype=np.int64)
        tri = same[tri]
    names = {s.original_id(): p["piece"] for p, s in zip(primitives, shapes)}
    piece_of_tri = np.empty(len(tri), dtype=object)
    index = np.asarray(mesh.run_index, dtype=np.int64) // 3
    for k, original in enumerate(mesh.run_original_id):
        piece_of_tri[index[k] : index[k + 1]] = names[int(original)]
    return Solid(points, tri, piece_of_tri, whole, whole.volume(), pieces)


class Stand:
    """A solid in a stance: volumes and areas below levels, connected parts, sills."""

    def __init__(self, solid: Solid, u: np.ndarray):
        self.solid = solid
        self.u = u
        used = solid.used
        self.h = solid.points @ u
        self.tri = solid.tri
        p = solid.points[solid.tri]
        # Twice-signed area of each triangle seen along `up`; positive where the wall is a ceiling.
        self.area = 0.5 * (np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]) @ u)
        self.th = np.sort(self.h[self.tri], axis=1)
        self.edges = solid.edges
        self.low, self.high = float(self.h[used].min()), float(self.h[used].max())

    def labels(self, level: float) -> np.ndarray:
        """Label of the connected part below `level` for each point; -1 above."""
        n = len(self.h)
        below = self.h < level
        keep = below[self.edges[:, 0]] & below[self.edges[:, 1]]
        e = self.edges[keep]
        graph = coo_matrix((np.ones(len(e), dtype=np.int8), (e[:, 0], e[:, 1])), shape=(n, n))
        _, label = connected_components(graph, directed=False)
        label[~below] = -1
        return label

    def part(self, level: float, seed: int) -> np.ndarray:
        """Mask of the triangles of the connected part below `level` that holds the point with index `seed`."""
        label = self.labels(level)
        if label[seed] < 0:
            return np.zeros(len(self.tri), dtype=bool)
        return (label[self.tri] == label[seed]).any(axis=1)

    def below(self, level: float, mask: np.ndarray) -> tuple[float, float]:
        """Volume and slice area below `level` of the triangles in `mask` (one or more closed connected parts).

        By the divergence theorem with the field (height - level) along up, which is zero on the cut itself.
        """
        z = self.th[mask] - level
        a = self.area[mask]
        z0, z1, z2 = z[:, 0], z[:, 1], z[:, 2]
        volume = np.zeros(len(a))
        area = np.zeros(len(a))
        full = z2 <= 0
        volume[full] = a[full] * (z0 + z1 + z2)[full] / 3
        area[full] = a[full]
        one = (z0 < 0) & (z1 >= 0) & ~full
        f = z0[one] ** 2 / ((z0 - z1)[one] * (z0 - z2)[one])
        volume[one] = a[one] * f * z0[one] / 3
        area[one] = a[one] * f
        two = (z1 < 0) & (z2 > 0)
        f = z2[two] ** 2 / ((z2 - z0)[two] * (z2 - z1)[two])
        volume[two] = a[two] * ((z0 + z1 + z2)[two] - f * z2[two]) / 3
        area[two] = a[two] * (1 - f)
        return float(volume.sum()), float(-area.sum())

    def seed_under(self, point: np.ndarray) -> int:
        """Index of the lowest corner of the wall met straight below a point inside."""
        # An orthonormal pair across `up`.
        e = np.eye(3)[int(np.argmin(np.abs(self.u)))]
        x = np.cross(self.u, e)
        x /= np.linalg.norm(x)
        y = np.cross(self.u, x)
        q = self.solid.points - point
        px, py = q @ x, q @ y
        t = self.tri
        ax, ay, bx, by, cx, cy = px[t[:, 0]], py[t[:, 0]], px[t[:, 1]], py[t[:, 1]], px[t[:, 2]], py[t[:, 2]]
        w0, w1, w2 = bx * cy - by * cx, cx * ay - cy * ax, ax * by - ay * bx
        sign = np.sign(self.area)
        hit = (w0 * sign >= 0) & (w1 * sign >= 0) & (w2 * sign >= 0) & (np.abs(self.area) > 1e-12)
        hit &= self.area < 0
        idx = np.nonzero(hit)[0]
        s = w0[idx] + w1[idx] + w2[idx]
        hq = q @ self.u
        z = (w0[idx] * hq[t[idx, 0]] + w1[idx] * hq[t[idx, 1]] + w2[idx] * hq[t[idx, 2]]) / s
        ok = z <= 1e-6
        if not ok.any():
            raise ValueError("the point lies outside the solid")
        best = idx[ok][np.argmax(z[ok])]
        return int(t[best][np.argmin(self.h[t[best]])])

    def basins(self, ports: list[dict], least_depth: float) -> list[Basin]:
        """Basins deeper than `least_depth` with their sills, from the sublevel sets of the wall's points.

        Every point runs down to its lowest neighbour until it reaches a bottom; the edges between the catchments of
        two bottoms, lowest first, then unite them. Shallower hollows are those of the facets and go with their
        neighbour.
        """
        n = len(self.h)
        order = np.lexsort((np.arange(n), self.h))
        rank = np.empty(n, dtype=np.int64)
        rank[order] = np.arange(n)
        a = np.concatenate([self.edges[:, 0], self.edges[:, 1]])
        b = np.concatenate([self.edges[:, 1], self.edges[:, 0]])
        lowest = rank.copy()
        np.minimum.at(lowest, a, rank[b])
        to = order[lowest]
        while True:
            nxt = to[to]
            if np.array_equal(nxt, to):
                break
            to = nxt
        ea, eb = to[self.edges[:, 0]], to[self.edges[:, 1]]
        across = ea != eb
        ea, eb = ea[across], eb[across]
        eh = self.h[self.edges[across]].max(axis=1)
        links = sorted(zip(eh.tolist(), ea.tolist(), eb.tolist(), [-1] * len(eh)))
        outside = n
        used = self.solid.used
        for k, port in enumerate(ports):
            r = port["r"]
            d = math.radians(port["heading_deg"])
            heading = np.array([math.cos(d), math.sin(d), 0.0])
            across_ = self.u - (self.u @ heading) * heading
            length = np.linalg.norm(across_)
            at = np.array([*port["at"], 0.0])
            lip = at - (r / length) * across_ if length > 1e-12 else at + r * np.array([0.0, 0.0, 1.0])
            near = used[np.argmin(np.linalg.norm(self.solid.points[used] - lip, axis=1))]
            if np.linalg.norm(self.solid.points[near] - lip) > 0.2 + 0.1 * r:
                raise ValueError(f"port {k} does not lie at an end of the solid")
            links.append((float(lip @ self.u), int(to[near]), outside, k))
        links.sort()
        parent: dict[int, int] = {}
        bottom: dict[int, float] = {outside: -math.inf}

        def find(x):
            while parent.get(x, x) != x:
                parent[x] = parent.get(parent[x], parent[x])
                x = parent[x]
            return x

        found: list[Basin] = []
        done: set[int] = set()
        for h, x, y, port in links:
            x, y = find(x), find(y)
            if x == y:
                continue
            bx, by = bottom.get(x, self.h[x] if x < n else 0), bottom.get(y, self.h[y] if y < n else 0)
            # A hollow of the facets disappears without an event; otherwise both sides have found their sill.
            shallow = min(h - bx, h - by) < least_depth
            if not shallow:
                for z, bz in ((x, bx), (y, by)):
                    if z not in done and z != find(outside) and bz > -math.inf:
                        found.append(Basin(z, float(self.h[z]), float(h)))
            lower, upper = (x, y) if bx <= by else (y, x)
            parent[upper] = lower
            bottom[lower] = min(bx, by)
            # A united pool is no leaf any more, unless it only swallowed a hollow of the facets.
            if not shallow:
                done.add(lower)
            elif upper in done:
                done.add(lower)
        roots = {find(int(x)) for x in np.unique(to[used])}
        for x in roots:
            if x not in done and x != find(outside):
                found.append(Basin(x, float(self.h[x]), None))
        return found

    def pieces_at(self, point: int) -> set[str]:
        """Pieces whose wall passes through a point of the mesh."""
        return set(self.solid.piece_of_tri[(self.tri == point).any(axis=1)])


@dataclass
class Basin:
    """A bottom of the solid (index and height of its lowest point) and the sill over which it runs on, if any."""

    point: int
    bottom: float
    sill: float | None
