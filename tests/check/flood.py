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

from raster import Grid

# Turns the tie rule into numbers: degrees by which every tilt is larger.
TIE_DEG = 1e-6
MOST_POOLS = 60_000


@njit(cache=True)
def floor_of(c, p, q, s, g):
    """Height of the floor of a column: of the lowest of its samples where a wall cuts it."""
    x, y, z, sample_first, samples = g[0], g[1], g[2], g[6], g[7]
    a, b = sample_first[c], sample_first[c + 1]
    if a == b:
        return p * x[c] + q * y[c] - s * z[c]
    low = np.inf
    for k in range(a, b):
        low = min(low, p * samples[k, 0] + q * samples[k, 1] - s * samples[k, 2])
    return low


@njit(cache=True)
def descend(c, floor, g, stay):
    """From a column down the steepest way: the lowest column reached, or the node of a port. Stops in a column for
    which `stay` is set."""
    x, y, port, first, neighbour = g[0], g[1], g[4], g[8], g[9]
    while port[c] < 0 and stay[c] < 0:
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
    return c


# Heaps that can be melded (leftist): arrays of key, item, left, right and rank; -1 is the empty heap.


@njit(cache=True)
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


@njit(cache=True)
def root_of(i, parent):
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True)
def settle(bodies_at, bodies_volume, p, q, s, g, lost, most_pools):
    """Lets bodies (column, volume) come to rest. Gives the hollows as such bodies, and the pool, level and label of
    columns."""
    x, y, z, side, port, mean = g[0], g[1], g[2], g[3], g[4], g[5]
    first, neighbour = g[8], g[9]
    n = len(x)
    floor = np.empty(n)
    for c in range(n):
        floor[c] = floor_of(c, p, q, s, g)
    spread = 0.5 * (abs(p) + abs(q))
    label = np.full(n, -1, np.int32)
    seen = np.full(n, -1, np.int32)
    # Pools.
    parent = np.arange(most_pools)
    volume, level = np.zeros(most_pools), np.zeros(most_pools)
    below, slope = np.zeros(most_pools), np.zeros(most_pools)
    rim, brims = np.full(most_pools, -1), np.full(most_pools, -1)
    full = np.zeros(most_pools, np.bool_)
    spill = np.full(most_pools, -1)
    hollow_first, hollow_last = np.full(most_pools, -1), np.full(most_pools, -1)
    # Hollows: one for each pool as it was made.
    hollow_at, hollow_next = np.full(most_pools, -1), np.full(most_pools, -1)
    hollow_volume = np.zeros(most_pools)
    pools = 0
    # Entries of both kinds of heap; every column enters a few times.
    room = 8 * n + 1024
    key, item = np.empty(room), np.empty(room, np.int32)
    left, right, rank = np.full(room, -1, np.int32), np.full(room, -1, np.int32), np.ones(room, np.int32)
    used = 0
    queue = np.empty(most_pools, np.int64)
    waits = 0

    # Everything is put down before anything runs.
    for i in range(len(bodies_at)):
        c = descend(bodies_at[i], floor, g, label)
        if port[c] >= 0:
            lost[port[c]] += bodies_volume[i]
            continue
        if label[c] < 0:
            label[c] = pools
            level[pools] = floor[c]
            hollow_at[pools] = c
            hollow_first[pools] = hollow_last[pools] = pools
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
                    return hollow_at[:0], hollow_volume[:0], label, parent, level, floor, 1
                if below[pool] + gain >= volume[pool]:
                    if slope[pool] > 0.0 and volume[pool] > below[pool]:
                        level[pool] += (volume[pool] - below[pool]) / slope[pool]
                        below[pool] = volume[pool]
                    break
                below[pool] += gain
                level[pool] = upto
                if top_brim <= top_rim:
                    e = brims[pool]
                    brims[pool] = meld(left[e], right[e], key, left, right, rank)
                    c = item[e]
                    height = 2.0 * (s * mean[c] + spread * side[c])
                    slope[pool] -= 2.0 * mean[c] * side[c] ** 2 / height
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
                middle = p * x[c] + q * y[c]
                half = s * mean[c] + spread * side[c]
                whole = 2.0 * mean[c] * side[c] ** 2
                if level[pool] >= middle + half:
                    below[pool] += whole
                elif half > 0.0:
                    below[pool] += whole * max(level[pool] - middle + half, 0.0) / (2.0 * half)
                    slope[pool] += whole / (2.0 * half)
                    key[used], item[used] = middle + half, c
                    left[used], right[used], rank[used] = -1, -1, 1
                    brims[pool] = meld(brims[pool], used, key, left, right, rank)
                    used += 1
                for k in range(first[c], first[c + 1]):
                    other = neighbour[k]
                    if seen[other] == pool or (label[other] >= 0 and root_of(label[other], parent) == pool):
                        continue
                    seen[other] = pool
                    key[used], item[used] = floor[other], other
                    left[used], right[used], rank[used] = -1, -1, 1
                    rim[pool] = meld(rim[pool], used, key, left, right, rank)
                    used += 1
                    if used + 16 > room:
                        return hollow_at[:0], hollow_volume[:0], label, parent, level, floor, 2
            excess = volume[pool] - below[pool]
            if not full[pool] or excess <= 0.0:
                break
            # What is too much runs on.
            volume[pool] = below[pool]
            c = spill[pool]
            if port[c] < 0 and label[c] < 0:
                c = descend(c, floor, g, label)
            if port[c] >= 0:
                lost[port[c]] += excess
                break
            if label[c] < 0:
                if pools >= most_pools:
                    return hollow_at[:0], hollow_volume[:0], label, parent, level, floor, 3
                fresh = pools
                pools += 1
                label[c] = fresh
                level[fresh] = floor[c]
                hollow_at[fresh] = c
                hollow_first[fresh] = hollow_last[fresh] = fresh
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
                    c = descend(c, floor, g, label)
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
                    c = descend(c, floor, g, label)
                after = root_of(label[c], parent)
                top = max(level[pool], level[member])
                for one in (pool, member):
                    if hollow_first[one] == hollow_last[one]:
                        hollow_volume[hollow_first[one]] = volume[one]
                    below[one] += slope[one] * (top - level[one])
                level[pool] = top
                below[pool] += below[member]
                slope[pool] += slope[member]
                volume[pool] += volume[member]
                rim[pool] = meld(rim[pool], rim[member], key, left, right, rank)
                brims[pool] = meld(brims[pool], brims[member], key, left, right, rank)
                hollow_next[hollow_last[pool]] = hollow_first[member]
                hollow_last[pool] = hollow_last[member]
                parent[member] = pool
                member = after
            volume[pool] += excess
            full[pool] = False

    # The hollows; what stands above the joints belongs to the deepest.
    for i in range(pools):
        if parent[i] != i:
            continue
        h = hollow_first[i]
        if h == hollow_last[i]:
            hollow_volume[h] = volume[i]
            continue
        deepest, rest = h, volume[i]
        while h >= 0:
            rest -= hollow_volume[h]
            if floor[hollow_at[h]] < floor[hollow_at[deepest]]:
                deepest = h
            h = hollow_next[h]
        hollow_volume[deepest] += rest
    return hollow_at[:pools], hollow_volume[:pools], label, parent, level, floor, 0


@njit(cache=True)
def shares(label, parent, level, p, q, s, g, layer_first, layer_piece, layer_from, layer_to, held):
    """Adds up what each piece holds, mm3."""
    x, y, side, mean = g[0], g[1], g[3], g[5]
    spread = 0.5 * (abs(p) + abs(q))
    for c in range(len(x)):
        if label[c] < 0:
            continue
        height = level[root_of(label[c], parent)]
        middle = p * x[c] + q * y[c]
        for k in range(layer_first[c], layer_first[c + 1]):
            wet = 0.0
            for d, sign in ((layer_to[k], 1.0), (layer_from[k], -1.0)):
                half = s * d + spread * side[c]
                part = 1.0 if half <= 0.0 else min(max((height - middle + half) / (2.0 * half), 0.0), 1.0)
                wet += sign * 2.0 * d * part
            held[layer_piece[k]] += max(wet, 0.0) * side[c] ** 2


class Flood:
    """Liquid in an interior."""

    def __init__(self, grid: Grid):
        self.grid = grid
        self.graph = (
            grid.x, grid.y, grid.z, grid.side, grid.port, grid.mean, grid.sample_first, grid.samples, grid.first,
            grid.neighbour,
        )
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
        label, parent, level, (p, q, s) = self.result
        grid = self.grid
        held = np.zeros(len(grid.pieces))
        shares(
            label, parent, level, p, q, s, self.graph, grid.layer_first, grid.layer_piece, grid.layer_from,
            grid.layer_to, held,
        )
        return dict(zip(grid.pieces, held))

    def _up(self, stance):
        tilt, roll = math.radians(stance[0] + TIE_DEG), math.radians(stance[1])
        return math.sin(tilt) * math.cos(roll), math.cos(tilt) * math.cos(roll), abs(math.sin(roll))

    def _settle(self, stance):
        p, q, s = self._up(stance)
        at, volume, label, parent, level, _, trouble = settle(
            self.at, self.volume, p, q, s, self.graph, self.lost, MOST_POOLS
        )
        if trouble:
            raise RuntimeError(f"the flood found no end at {stance}: {trouble}")
        keep = volume > 0.0
        self.at, self.volume = at[keep].astype(np.int64), volume[keep]
        self.result = (label, parent, level, (p, q, s))
        self.steps += 1
