"""The interior of a neutral dump as a graph of columns, for flood.py.

The interior is |z| <= d(x, y). The drawing plane is cut into square cells; a column over a cell has a floor, a volume and
the pieces that share it. Where the bores of two primitives meet, near lips and creases, every cell is cut into SPLIT x
SPLIT smaller ones, because there the way of the liquid is decided. Nothing here knows of sills, basins or levels.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit

# Cells on a side into which a cell at a joint is cut, and samples on a side by which the others are measured.
SPLIT = 5

FRUSTUM, ROUND, TORUS = 0, 1, 2
KINDS = {"frustum": FRUSTUM, "sphere": ROUND, "spheroid": ROUND, "torus": TORUS}


@dataclass
class Grid:
    """Columns as nodes of a graph. Lengths in mm; `z` is the half-depth for floors, volumes come from the layers."""

    step: float
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    # Side of the node's square; 0 for the nodes of a port.
    side: np.ndarray
    # Port of the node, -1 for columns.
    port: np.ndarray
    # Neighbours: those of node i stand at [first[i], first[i + 1]).
    first: np.ndarray
    neighbour: np.ndarray
    # Samples (x, y, d) of columns that are cut by a wall.
    sample_first: np.ndarray
    samples: np.ndarray
    # Layers of a column outwards from the plane: piece, half-depth from and to, scaled to the column's mean.
    layer_first: np.ndarray
    layer_piece: np.ndarray
    layer_from: np.ndarray
    layer_to: np.ndarray
    # Mean half-depth over the square, 0 outside the glass.
    mean: np.ndarray
    pieces: list[str]
    ports: list[str]

    def volume(self) -> float:
        """Volume of everything, mm3."""
        return float(np.sum(2.0 * self.mean * self.side**2))


def shape_of(primitive: dict) -> tuple[int, list[float], tuple[float, float, float, float]]:
    """Kind, numbers and bounding box of a primitive."""
    kind = KINDS[primitive["shape"]]
    if kind == FRUSTUM:
        (x0, y0), (x1, y1) = primitive["from"], primitive["to"]
        r = max(primitive["r_from"], primitive["r_to"])
        numbers = [x0, y0, x1, y1, primitive["r_from"], primitive["r_to"]]
        return kind, numbers, (min(x0, x1) - r, min(y0, y1) - r, max(x0, x1) + r, max(y0, y1) + r)
    x, y = primitive["centre"]
    if kind == ROUND:
        along = primitive.get("semi_axial", primitive.get("r"))
        across = primitive.get("semi_radial", primitive.get("r"))
        heading = math.radians(primitive.get("heading_deg", 0.0))
        r = max(along, across)
        return kind, [x, y, math.cos(heading), math.sin(heading), along, across], (x - r, y - r, x + r, y + r)
    start, sweep = math.radians(primitive["start_deg"]), math.radians(primitive["sweep_deg"])
    if sweep < 0:
        start, sweep = start + sweep, -sweep
    radius, r = primitive["radius"], primitive["r"]
    reach = radius + r
    return kind, [x, y, radius, r, start, sweep], (x - reach, y - reach, x + reach, y + reach)


@njit(cache=True)
def half_depth(kind, n, x, y):
    """Half-depth of a primitive over a point of the plane; 0 outside."""
    if kind == 0:
        dx, dy = n[2] - n[0], n[3] - n[1]
        length = math.hypot(dx, dy)
        s = ((x - n[0]) * dx + (y - n[1]) * dy) / length
        if s < 0.0 or s > length:
            return 0.0
        w = ((y - n[1]) * dx - (x - n[0]) * dy) / length
        r = n[4] + (n[5] - n[4]) * s / length
        d2 = r * r - w * w
    elif kind == 1:
        a = (x - n[0]) * n[2] + (y - n[1]) * n[3]
        w = (y - n[1]) * n[2] - (x - n[0]) * n[3]
        d2 = n[5] * n[5] * (1.0 - (a / n[4]) ** 2 - (w / n[5]) ** 2)
    else:
        dx, dy = x - n[0], y - n[1]
        turn = (math.atan2(dy, dx) - n[4]) % (2.0 * math.pi)
        if turn > n[5]:
            return 0.0
        across = math.hypot(dx, dy) - n[2]
        d2 = n[3] * n[3] - across * across
    return math.sqrt(d2) if d2 > 0.0 else 0.0


@njit(cache=True)
def touched(kinds, numbers, boxes, nx, ny, x0, y0, step, split):
    """Pairs (cell, primitive) where a sample of the cell lies in the primitive, by primitive."""
    cells, owners = np.empty(1024, np.int64), np.empty(1024, np.int64)
    count = 0
    fine = step / split
    for i in range(len(kinds)):
        i0 = max(int((boxes[i, 0] - x0) / step), 0)
        i1 = min(int((boxes[i, 2] - x0) / step), nx - 1)
        j0 = max(int((boxes[i, 1] - y0) / step), 0)
        j1 = min(int((boxes[i, 3] - y0) / step), ny - 1)
        for jx in range(i0, i1 + 1):
            for jy in range(j0, j1 + 1):
                hit = False
                for a in range(split):
                    for b in range(split):
                        x = x0 + jx * step + (a + 0.5) * fine
                        y = y0 + jy * step + (b + 0.5) * fine
                        if half_depth(kinds[i], numbers[i], x, y) > 0.0:
                            hit = True
                            break
                    if hit:
                        break
                if hit:
                    if count == len(cells):
                        cells, owners = np.append(cells, cells), np.append(owners, owners)
                    cells[count], owners[count] = jx * ny + jy, i
                    count += 1
    return cells[:count], owners[:count]


@njit(cache=True)
def measure(kinds, numbers, cell_of, first, owners, ny, x0, y0, step, split):
    """By cell and sample the half-depth, and the primitive that gives it, -1 outside; by pair (cell, primitive), in the
    order of the primitives, the mean of what it adds to the half-depth."""
    count = len(cell_of)
    depth = np.zeros((count, split * split))
    leader = np.full((count, split * split), -1, np.int32)
    added = np.zeros((len(owners), split * split))
    fine = step / split
    for c in range(count):
        jx, jy = cell_of[c] // ny, cell_of[c] % ny
        for a in range(split):
            for b in range(split):
                x = x0 + jx * step + (a + 0.5) * fine
                y = y0 + jy * step + (b + 0.5) * fine
                k = a * split + b
                for o in range(first[c], first[c + 1]):
                    d = half_depth(kinds[owners[o]], numbers[owners[o]], x, y)
                    if d > depth[c, k]:
                        added[o, k] = d - depth[c, k]
                        depth[c, k] = d
                        leader[c, k] = owners[o]
    return depth, leader, added


@njit(cache=True)
def edges(cell_of, index_of, is_split, base, sub, ny, nx, split):
    """Pairs of nodes that touch at a side or a corner, each once."""
    one, two = np.empty(1024, np.int64), np.empty(1024, np.int64)
    count = 0
    for c in range(len(cell_of)):
        jx, jy = cell_of[c] // ny, cell_of[c] % ny
        if count + 8 * split * split > len(one):
            one, two = np.append(one, one), np.append(two, two)
        if not is_split[c]:
            for k in range(4):
                ix = jx + (1, 1, 0, 1)[k]
                iy = jy + (0, 1, 1, -1)[k]
                if ix < 0 or iy < 0 or ix >= nx or iy >= ny:
                    continue
                other = index_of[ix, iy]
                if other >= 0 and not is_split[other]:
                    one[count], two[count] = base[c], base[other]
                    count += 1
            continue
        for a in range(split):
            for b in range(split):
                node = sub[c, a * split + b]
                if node < 0:
                    continue
                for da in range(-1, 2):
                    for db in range(-1, 2):
                        fa, fb = jx * split + a + da, jy * split + b + db
                        ix, iy = fa // split, fb // split
                        if ix < 0 or iy < 0 or ix >= nx or iy >= ny:
                            continue
                        other = index_of[ix, iy]
                        if other < 0:
                            continue
                        if is_split[other]:
                            there = sub[other, (fa - ix * split) * split + (fb - iy * split)]
                            if there > node:
                                one[count], two[count] = node, there
                                count += 1
                        else:
                            one[count], two[count] = node, base[other]
                            count += 1
    return one[:count], two[:count]


def build(dump: dict, step: float) -> Grid:
    """The graph of an interior with cells of `step` mm."""
    names: list[str] = []
    piece_of: list[int] = []
    primitives = sorted(dump["primitives"], key=lambda p: p["id"])
    for primitive in primitives:
        if primitive["piece"] not in names:
            names.append(primitive["piece"])
        piece_of.append(names.index(primitive["piece"]))
    shapes = [shape_of(p) for p in primitives]
    kinds = np.array([s[0] for s in shapes])
    numbers = np.array([s[1] for s in shapes], float)
    boxes = np.array([s[2] for s in shapes], float)
    # The origin is put off the drawing's own round numbers, so that no wall runs along a row of samples.
    x0, y0 = boxes[:, 0].min() - 2.37 * step, boxes[:, 1].min() - 2.41 * step
    nx = int((boxes[:, 2].max() - x0) / step) + 4
    ny = int((boxes[:, 3].max() - y0) / step) + 4

    cells, owners = touched(kinds, numbers, boxes, nx, ny, x0, y0, step, SPLIT)
    order = np.lexsort((owners, cells))
    cells, owners = cells[order], owners[order]
    cell_of, first = np.unique(cells, return_index=True)
    first = np.append(first, len(cells))
    depth, leader, added = measure(kinds, numbers, cell_of, first, owners, ny, x0, y0, step, SPLIT)

    count = len(cell_of)
    index_of = np.full((nx, ny), -1, np.int64)
    index_of[cell_of // ny, cell_of % ny] = np.arange(count)
    inside = leader >= 0
    top = leader.max(axis=1)
    bottom = np.where(inside, leader, len(kinds)).min(axis=1)
    is_split = top != bottom
    # Cells whose neighbours belong to another primitive are at the joint too.
    low, high = np.full((nx + 2, ny + 2), len(kinds)), np.full((nx + 2, ny + 2), -1)
    low[1:-1, 1:-1][cell_of // ny, cell_of % ny] = bottom
    high[1:-1, 1:-1][cell_of // ny, cell_of % ny] = top
    for axis in (0, 1):
        low = np.minimum(low, np.minimum(np.roll(low, 1, axis), np.roll(low, -1, axis)))
        high = np.maximum(high, np.maximum(np.roll(high, 1, axis), np.roll(high, -1, axis)))
    around = (low != high)[1:-1, 1:-1][cell_of // ny, cell_of % ny]
    is_split |= around

    # Nodes: one for each whole cell, one for each sample of a cut one.
    whole = ~is_split
    sizes = np.where(whole, 1, inside.sum(axis=1))
    base = np.concatenate(([0], np.cumsum(sizes)))[:-1]
    nodes = int(sizes.sum())
    rank = np.cumsum(inside, axis=1) - 1
    sub = np.where(inside & is_split[:, None], base[:, None] + rank, -1)
    fine = step / SPLIT
    corner_x, corner_y = x0 + (cell_of // ny) * step, y0 + (cell_of % ny) * step
    across = (np.arange(SPLIT) + 0.5) * fine
    sample_x = corner_x[:, None] + np.repeat(across, SPLIT)[None, :]
    sample_y = corner_y[:, None] + np.tile(across, SPLIT)[None, :]
    x, y, z, side, mean = (np.zeros(nodes) for _ in range(5))
    weight = np.where(inside, depth, 0.0)
    total = weight.sum(axis=1)
    node = base[whole]
    x[node] = (weight * sample_x).sum(axis=1)[whole] / total[whole]
    y[node] = (weight * sample_y).sum(axis=1)[whole] / total[whole]
    middle = SPLIT * SPLIT // 2
    z[node] = depth[whole, middle]
    side[node] = step
    mean[node] = depth.mean(axis=1)[whole]
    cut = sub >= 0
    x[sub[cut]], y[sub[cut]] = sample_x[cut], sample_y[cut]
    z[sub[cut]] = mean[sub[cut]] = depth[cut]
    side[sub[cut]] = fine

    # Samples of whole cells that a wall cuts: the floor is the lowest of them.
    is_walled = whole & ~inside.all(axis=1)
    walled = np.zeros(nodes, np.int64)
    walled[base[is_walled]] = inside.sum(axis=1)[is_walled]
    sample_first = np.concatenate(([0], np.cumsum(walled)))
    keep = inside & is_walled[:, None]
    samples = np.stack([sample_x[keep], sample_y[keep], depth[keep]], axis=1)

    layers = layers_of(nodes, first, owners, np.array(piece_of), added, base, sub, whole)
    one, two = edges(cell_of, index_of, is_split, base, sub, ny, nx, SPLIT)
    grid = Grid(
        step, x, y, z, side, np.full(nodes, -1, np.int32), one, two, sample_first, samples, *layers, mean, names, []
    )
    add_ports(grid, dump, cell_of, index_of, is_split, base, sub, x0, y0, nx, ny)
    return grid


def layers_of(nodes, first, owners, piece_of, added, base, sub, whole):
    """What each piece has of a column, outwards from the plane."""
    pair_cell = np.repeat(np.arange(len(first) - 1), np.diff(first))
    piece = piece_of[owners]
    in_whole = whole[pair_cell]
    node = [base[pair_cell[in_whole]]]
    pieces = [piece[in_whole]]
    thick = [added[in_whole].mean(axis=1)]
    order = [np.arange(len(owners))[in_whole]]
    pair, sample = np.nonzero(added[~in_whole] > 0.0)
    pair = np.arange(len(owners))[~in_whole][pair]
    node.append(sub[pair_cell[pair], sample])
    pieces.append(piece[pair])
    thick.append(added[pair, sample])
    order.append(pair)
    node, pieces, thick, order = (np.concatenate(a) for a in (node, pieces, thick, order))
    by_node = np.lexsort((order, node))
    node, pieces, thick = node[by_node], pieces[by_node], thick[by_node]
    start = np.concatenate(([0], np.cumsum(np.bincount(node, minlength=nodes))))
    ends = np.cumsum(thick)
    before = np.concatenate(([0.0], ends))[start[:-1]]
    ends = ends - before[node]
    return start, pieces.astype(np.int32), ends - thick, ends


def add_ports(grid, dump, cell_of, index_of, is_split, base, sub, x0, y0, nx, ny):
    """Nodes on the discs of the ports, each beside the columns before it; then the graph is closed."""
    one, two = [grid.first], [grid.neighbour]
    fine = grid.step / SPLIT
    extra: list[tuple[float, float, float, int]] = []
    count = len(grid.x)
    for k, port in enumerate(dump.get("ports", [])):
        grid.ports.append(port["piece"])
        (px, py), heading, r = port["at"], math.radians(port["heading_deg"]), port["r"]
        nxx, nyy = math.cos(heading), math.sin(heading)
        for a in np.arange(-r + 0.25 * fine, r, 0.5 * fine):
            x, y = px - a * nyy, py + a * nxx
            node = -1
            for back in (0.5, 1.0, 1.5, 2.5, 4.0):
                ix, iy = (x - back * fine * nxx - x0) / grid.step, (y - back * fine * nyy - y0) / grid.step
                jx, jy = int(ix), int(iy)
                cell = index_of[jx, jy] if 0 <= jx < nx and 0 <= jy < ny else -1
                if cell >= 0 and is_split[cell]:
                    node = sub[cell, int((ix - jx) * SPLIT) * SPLIT + int((iy - jy) * SPLIT)]
                elif cell >= 0:
                    node = base[cell]
                if node >= 0:
                    break
            if node >= 0:
                one.append(np.array([node]))
                two.append(np.array([count + len(extra)]))
                extra.append((x, y, math.sqrt(max(r * r - a * a, 0.0)), k))
    if extra:
        more = np.array(extra)
        zeros = np.zeros(len(extra))
        grid.x, grid.y, grid.z = (np.concatenate((old, more[:, i])) for i, old in enumerate((grid.x, grid.y, grid.z)))
        grid.side, grid.mean = np.concatenate((grid.side, zeros)), np.concatenate((grid.mean, zeros))
        grid.port = np.concatenate((grid.port, more[:, 3].astype(np.int32)))
        for name in ("sample_first", "layer_first"):
            old = getattr(grid, name)
            setattr(grid, name, np.concatenate((old, np.full(len(extra), old[-1]))))
    one, two = np.concatenate(one), np.concatenate(two)
    ends = np.concatenate((one, two))
    order = np.argsort(ends, kind="stable")
    grid.neighbour = np.concatenate((two, one))[order].astype(np.int32)
    grid.first = np.concatenate(([0], np.cumsum(np.bincount(ends, minlength=len(grid.x)))))
