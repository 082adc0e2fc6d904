"""Liquid on the graph of raster.py: it is turned in small steps and at each floods its hollows cell by cell.

A pool grows from its lowest column by the lowest column at its rim, as water rises. When that column lies lower than
the level, the pool stands at its sill: what is too much runs from there down the floor, each time to the neighbour with
the steepest fall, to the first hollow, into a pool, or out of a port. Two pools that would run into each other become
one. Between the steps each hollow of a pool keeps what it held when it was joined.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from raster import SPLIT, Grid, locate

# Turns the tie rule into numbers: degrees by which every tilt is larger.
TIE_DEG = 1e-6
MOST_POOLS = 60_000


@njit
def floor_of(c, p, q, s, g):
    """Height of the floor of a column, at its middle; of one that a wall cuts, of the lowest of its samples. Where the glass
    is not rolled a lip is a point of the plane, and the small cells over it stand half a cell above it."""
    x, y, z, side, sample_first, samples, step = g[0], g[1], g[2], g[3], g[6], g[7], g[12]
    corner = 0.5 * (abs(p) + abs(q)) * step / SPLIT if s < 0.02 else 0.0
    a, b = sample_first[c], sample_first[c + 1]
    if a == b:
        return p * x[c] + q * y[c] - s * z[c] - (corner if 0.0 < side[c] < step else 0.0)
    low = np.inf
    for k in range(a, b):
        low = min(low, p * samples[k, 0] + q * samples[k, 1] - s * samples[k, 2])
    return low - corner


@njit
def fall_line(c, p, q, s, g):
    """The direction in which the floor falls most steeply at a column: of the drawing plane where the glass is not
    rolled, else from the half-depths around it. (0, 0) where it is not known."""
    x, y, z, port, first, neighbour = g[0], g[1], g[2], g[4], g[8], g[9]
    dx, dy = -p, -q
    if s > 0.0:
        xx, xy, yy, xz, yz = 0.0, 0.0, 0.0, 0.0, 0.0
        for k in range(first[c], first[c + 1]):
            n = neighbour[k]
            if port[n] >= 0:
                continue
            a, b, d = x[n] - x[c], y[n] - y[c], z[n] - z[c]
            weight = 1.0 / (a * a + b * b)
            xx += weight * a * a
            xy += weight * a * b
            yy += weight * b * b
            xz += weight * a * d
            yz += weight * b * d
        whole = xx * yy - xy * xy
        if whole < 0.05:
            return 0.0, 0.0
        dx += s * (xz * yy - yz * xy) / whole
        dy += s * (yz * xx - xz * xy) / whole
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length > 1e-12 else (0.0, 0.0)


@njit
def descend(c, p, q, s, floor, g, stay):
    """From a column down the floor: the lowest column reached, or the node of a port. Where it can it follows the fall
    line from point to point, beside walls the steepest of its neighbours. Stops in a column for which `stay` is set."""
    x, y, side, port, first, neighbour = g[0], g[1], g[3], g[4], g[8], g[9]
    x0, y0, step, index_of, is_split, base, sub = g[10], g[11], g[12], g[13], g[14], g[15], g[16]
    at_x, at_y = x[c], y[c]
    while port[c] < 0 and stay[c] < 0:
        dx, dy = fall_line(c, p, q, s, g)
        n = c
        to_x, to_y = at_x, at_y
        while n == c and (dx != 0.0 or dy != 0.0):
            to_x, to_y = to_x + 0.5 * side[c] * dx, to_y + 0.5 * side[c] * dy
            n = locate(to_x, to_y, x0, y0, step, SPLIT, index_of, is_split, base, sub)
        if n >= 0 and n != c and floor[n] < floor[c]:
            c, at_x, at_y = n, to_x, to_y
            continue
        best, steepest = -1, 0.0
        for k in range(first[c], first[c + 1]):
            n = neighbour[k]
            fall = floor[c] - floor[n]
            if fall > 0.0:
                fall /= math.hypot(x[n] - x[c], y[n] - y[c]) + 1e-9
                if fall > steepest:
                    best, steepest = n, fall
        if best < 0:
            break
        c = best
        at_x, at_y = x[c], y[c]
    return c


@njit
def halves(deep, wide):
    """The volume of a column against the level: a sloping box. Its depth (half of it) and the rise over its cell are as
    two ramps: the half-width of both, and by how much they stand off the middle."""
    return (deep, wide / math.sqrt(3.0)) if deep > wide else (wide, deep / math.sqrt(3.0))


# Heaps that can be melded (leftist): arrays of key, item, left, right and rank; -1 is the empty heap.


@njit
def meld(a, b, key, left, right, rank):
    """The heap of two; the right spines are merged from the top and then put in order from below."""
    if a < 0:
        return b
    if b < 0:
        return a
    spine = -1
    while a >= 0 and b >= 0:
        if key[b] < key[a]:
            a, b = b, a
        after = right[a]
        right[a] = spine
        spine = a
        a = after
    rest = a if a >= 0 else b
    while spine >= 0:
        above = right[spine]
        right[spine] = rest
        l, r = left[spine], rest
        if l < 0 or (r >= 0 and rank[r] > rank[l]):
            left[spine], right[spine] = r, l
        r = right[spine]
        rank[spine] = 1 + (rank[r] if r >= 0 else 0)
        rest = spine
        spine = above
    return rest


@njit
def root_of(i, parent):
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit
def settle(bodies_at, bodies_volume, p, q, s, g, lost, heap, most_pools):
    """Lets bodies (column, volume) come to rest. Gives the hollows as such bodies, the pool that wets each column, the
    pools' parents and levels, the greatest free surface of a pool at its sill, and what went wrong (0 nothing)."""
    x, y, z, side, port, mean = g[0], g[1], g[2], g[3], g[4], g[5]
    first, neighbour = g[8], g[9]
    n = len(x)
    floor = np.empty(n)
    for c in range(n):
        floor[c] = floor_of(c, p, q, s, g)
    spread = 0.5 * (abs(p) + abs(q))
    # The pool that has reached a column, that counts its volume, and that last saw it from beside.
    label = np.full(n, -1, np.int32)
    wets = np.full(n, -1, np.int32)
    seen = np.full(n, -1, np.int32)
    # Pools.
    parent = np.arange(most_pools)
    volume, level = np.zeros(most_pools), np.zeros(most_pools)
    below, slope = np.zeros(most_pools), np.zeros(most_pools)
    rim, brims = np.full(most_pools, -1), np.full(most_pools, -1)
    full = np.zeros(most_pools, np.bool_)
    spill = np.full(most_pools, -1)
    # Hollows: one for each pool as it was made.
    hollow_at = np.full(most_pools, -1)
    hollow_volume = np.zeros(most_pools)
    # Of a pool, its deepest hollow and what its hollows hold together.
    deepest, in_hollows = np.arange(most_pools), np.zeros(most_pools)
    pools = 0
    # Entries of both kinds of heap. A column stands in a rim as itself; in a heap of brims as the begin of its lower
    # ramp (+ n) or of its upper (+ 2 n), and as the end of either (+ 0, + 3 n).
    key, item, left, right, rank = heap
    room = len(key)
    used = 0
    queue = np.empty(most_pools, np.int64)
    waits = 0

    # Everything is put down before anything runs.
    for i in range(len(bodies_at)):
        c = descend(bodies_at[i], p, q, s, floor, g, label)
        if port[c] >= 0:
            lost[port[c]] += bodies_volume[i]
            continue
        if label[c] < 0:
            label[c] = pools
            level[pools] = floor[c]
            hollow_at[pools] = c
            queue[waits] = pools
            waits += 1
            pools += 1
        volume[label[c]] += bodies_volume[i]
    made = np.zeros(most_pools, np.bool_)

    at = 0
    while at < waits:
        pool = root_of(queue[at], parent)
        at += 1
        while True:
            # Grow until the volume is reached or the pool stands at its sill.
            if not made[pool]:
                made[pool] = True
                c = hollow_at[pool]
                key[used], item[used] = floor[c], c
                left[used], right[used], rank[used] = -1, -1, 1
                rim[pool] = used
                used += 1
                label[c] = -1
                seen[c] = pool
            while not full[pool]:
                top_rim = key[rim[pool]] if rim[pool] >= 0 else np.inf
                top_brim = key[brims[pool]] if brims[pool] >= 0 else np.inf
                upto = max(min(top_rim, top_brim), level[pool])
                gain = slope[pool] * (upto - level[pool]) if slope[pool] > 0.0 and upto < np.inf else 0.0
                if upto == np.inf and slope[pool] <= 0.0:
                    return hollow_at[:0], hollow_volume[:0], wets, parent, level, 0.0, 1
                if below[pool] + gain >= volume[pool]:
                    if slope[pool] > 0.0 and volume[pool] > below[pool]:
                        level[pool] += (volume[pool] - below[pool]) / slope[pool]
                        below[pool] = volume[pool]
                    break
                below[pool] += gain
                level[pool] = upto
                if top_brim <= top_rim:
                    # The level comes to the lowest point of a column, or to its highest.
                    e = brims[pool]
                    brims[pool] = meld(left[e], right[e], key, left, right, rank)
                    c = item[e] % n
                    half, off = halves(s * mean[c], spread * side[c])
                    half_whole = mean[c] * side[c] ** 2
                    rate = half_whole / (2.0 * half)
                    top = p * x[c] + q * y[c] + half + (off if item[e] >= 2 * n else -off)
                    if item[e] < n or item[e] >= 3 * n:
                        slope[pool] -= rate
                    elif level[pool] >= top:
                        below[pool] += half_whole
                    else:
                        below[pool] += rate * (level[pool] - top + 2.0 * half)
                        slope[pool] += rate
                        key[used], item[used] = top, (c if item[e] < 2 * n else c + 3 * n)
                        left[used], right[used], rank[used] = -1, -1, 1
                        brims[pool] = meld(brims[pool], used, key, left, right, rank)
                        used += 1
                    continue
                e = rim[pool]
                c = item[e]
                if port[c] >= 0:
                    full[pool], spill[pool] = True, c
                    break
                if label[c] >= 0:
                    if root_of(label[c], parent) == pool:
                        rim[pool] = meld(left[e], right[e], key, left, right, rank)
                        continue
                    full[pool], spill[pool] = True, c
                    break
                if floor[c] < level[pool]:
                    full[pool], spill[pool] = True, c
                    break
                rim[pool] = meld(left[e], right[e], key, left, right, rank)
                label[c] = pool
                # The columns beside it are wetted from their lowest points on, and passed from their floors on.
                for k in range(first[c] - 1, first[c + 1]):
                    other = neighbour[k] if k >= first[c] else c
                    if wets[other] < 0 and side[other] > 0.0:
                        wets[other] = pool
                        half, off = halves(s * mean[other], spread * side[other])
                        for ramp in range(1, 3):
                            low = p * x[other] + q * y[other] - half + (off if ramp == 2 else -off)
                            key[used], item[used] = low, other + ramp * n
                            left[used], right[used], rank[used] = -1, -1, 1
                            brims[pool] = meld(brims[pool], used, key, left, right, rank)
                            used += 1
                    if other == c or seen[other] == pool:
                        continue
                    if label[other] >= 0 and root_of(label[other], parent) == pool:
                        continue
                    seen[other] = pool
                    key[used], item[used] = floor[other], other
                    left[used], right[used], rank[used] = -1, -1, 1
                    rim[pool] = meld(rim[pool], used, key, left, right, rank)
                    used += 1
                if used + 64 > room:
                    return hollow_at[:0], hollow_volume[:0], wets, parent, level, 0.0, 2
            excess = volume[pool] - below[pool]
            if not full[pool] or excess <= 0.0:
                break
            # What is too much runs on.
            volume[pool] = below[pool]
            c = spill[pool]
            if port[c] < 0 and label[c] < 0:
                c = descend(c, p, q, s, floor, g, label)
            if port[c] >= 0:
                lost[port[c]] += excess
                break
            if label[c] < 0:
                if pools >= most_pools:
                    return hollow_at[:0], hollow_volume[:0], wets, parent, level, 0.0, 3
                fresh = pools
                pools += 1
                label[c] = fresh
                level[fresh] = floor[c]
                hollow_at[fresh] = c
                volume[fresh] = excess
                pool = fresh
                continue
            other = root_of(label[c], parent)
            if other == pool:
                # It falls back into the pool itself: a hollow at its side, which it takes in.
                full[pool] = False
                volume[pool] += excess
                e = rim[pool]
                d = item[e]
                if label[d] < 0:
                    key[e] = level[pool]
                    floor[d] = level[pool]
                continue
            # Does the other, being full, run back here in the end?
            back = other
            steps = 0
            while full[back] and back != pool and steps < 64:
                c = spill[back]
                if port[c] >= 0:
                    break
                if label[c] < 0:
                    c = descend(c, p, q, s, floor, g, label)
                if port[c] >= 0 or label[c] < 0:
                    break
                back = root_of(label[c], parent)
                steps += 1
            if back != pool:
                volume[other] += excess
                pool = other
                continue
            # All pools on the way round are one.
            member = other
            while member != pool:
                c = spill[member]
                if label[c] < 0:
                    c = descend(c, p, q, s, floor, g, label)
                after = root_of(label[c], parent)
                top = max(level[pool], level[member])
                for one in (pool, member):
                    # What stood above the joints of its hollows belongs to the deepest.
                    hollow_volume[deepest[one]] += volume[one] - in_hollows[one]
                    in_hollows[one] = volume[one]
                    below[one] += slope[one] * (top - level[one])
                if floor[hollow_at[deepest[member]]] < floor[hollow_at[deepest[pool]]]:
                    deepest[pool] = deepest[member]
                in_hollows[pool] += in_hollows[member]
                level[pool] = top
                below[pool] += below[member]
                slope[pool] += slope[member]
                volume[pool] += volume[member]
                rim[pool] = meld(rim[pool], rim[member], key, left, right, rank)
                brims[pool] = meld(brims[pool], brims[member], key, left, right, rank)
                parent[member] = pool
                member = after
            volume[pool] += excess
            full[pool] = False

    surface = 0.0
    for i in range(pools):
        if parent[i] == i:
            hollow_volume[deepest[i]] += volume[i] - in_hollows[i]
            if full[i]:
                surface = max(surface, slope[i])
    return hollow_at[:pools], hollow_volume[:pools], wets, parent, level, surface, 0


@njit
def shares(wets, parent, level, p, q, s, g, layer_first, layer_piece, layer_from, layer_to, held):
    """Adds up what each piece holds, mm3."""
    x, y, side, mean = g[0], g[1], g[3], g[5]
    spread = 0.5 * (abs(p) + abs(q))
    for c in range(len(x)):
        if wets[c] < 0:
            continue
        height = level[root_of(wets[c], parent)]
        middle = p * x[c] + q * y[c]
        for k in range(layer_first[c], layer_first[c + 1]):
            wet = 0.0
            for d, sign in ((layer_to[k], 1.0), (layer_from[k], -1.0)):
                half, off = halves(s * d, spread * side[c])
                for shift in (-off, off):
                    wet += sign * d * min(max((height - middle - shift + half) / (2.0 * half), 0.0), 1.0)
            held[layer_piece[k]] += max(wet, 0.0) * side[c] ** 2


class Flood:
    """Liquid in an interior."""

    def __init__(self, grid: Grid):
        self.grid = grid
        self.graph = (
            grid.x, grid.y, grid.z, grid.side, grid.port, grid.mean, grid.sample_first, grid.samples, grid.first,
            grid.neighbour, *grid.origin, grid.step, grid.index_of, grid.is_split, grid.base, grid.sub,
        )
        # Room for the entries of the heaps: key, item, left, right, rank. Every column enters a few times.
        room = 14 * len(grid.x) + 1024
        self.heap = (np.empty(room), *(np.empty(room, np.int32) for _ in range(4)))
        self.at = np.zeros(0, np.int64)
        self.volume = np.zeros(0)
        self.lost = np.zeros(max(len(grid.ports), 1))
        self.steps = 0
        self.stance = (0.0, 0.0)

    def start(self, stance: tuple[float, float], given: dict[str, float]):
        """Puts volumes, mm3, at the lowest columns of pieces."""
        p, q, s = self._up(stance)
        grid = self.grid
        owner = grid.layer_piece
        node = np.repeat(np.arange(len(grid.x)), np.diff(grid.layer_first))
        at, volume = [], []
        for piece, amount in given.items():
            own = np.unique(node[owner == grid.pieces.index(piece)])
            floors = np.array([floor_of(c, p, q, s, self.graph) for c in own])
            at.append(own[np.argmin(floors)])
            volume.append(amount)
        self.at, self.volume = np.array(at, np.int64), np.array(volume)
        self.stance = stance
        self._settle(stance)

    def turn(self, to: tuple[float, float], step_deg: float):
        """Turns the glass to another stance, tilt and roll in proportion."""
        a = self.stance
        count = max(1, math.ceil(max(abs(to[0] - a[0]), abs(to[1] - a[1])) / step_deg))
        for i in range(1, count + 1):
            part = i / count
            self._settle((a[0] + (to[0] - a[0]) * part, a[1] + (to[1] - a[1]) * part))
        self.stance = to

    def held(self) -> dict[str, float]:
        """Volume by piece, mm3, at the stance of the last step."""
        wets, parent, level, (p, q, s) = self.result
        grid = self.grid
        held = np.zeros(len(grid.pieces))
        shares(
            wets, parent, level, p, q, s, self.graph, grid.layer_first, grid.layer_piece, grid.layer_from,
            grid.layer_to, held,
        )
        return dict(zip(grid.pieces, held))

    def _up(self, stance):
        tilt, roll = math.radians(stance[0] + TIE_DEG), math.radians(stance[1])
        return math.sin(tilt) * math.cos(roll), math.cos(tilt) * math.cos(roll), abs(math.sin(roll))

    def _settle(self, stance):
        p, q, s = self._up(stance)
        at, volume, wets, parent, level, self.surface, trouble = settle(
            self.at, self.volume, p, q, s, self.graph, self.lost, self.heap, MOST_POOLS
        )
        if trouble:
            raise RuntimeError(f"the flood found no end at {stance}: {trouble}")
        keep = volume > 0.0
        self.at, self.volume = at[keep].astype(np.int64), volume[keep]
        self.result = (wets, parent, level, (p, q, s))
        self.steps += 1
