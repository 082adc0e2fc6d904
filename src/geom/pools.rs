//! Liquid at rest: pools, levels, what spilled and where to.

use std::collections::VecDeque;

use nalgebra::Vector3;

use super::posture::Posture;
use super::shape::Shape;
use super::stream::Rest;

/// Where an overflow comes to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RunsTo {
    /// In this piece (index).
    Piece(usize),
    /// Out of this port (index).
    Port(usize),
}

/// One connected body of liquid, or an empty basin.
#[derive(Clone, Debug, PartialEq)]
pub struct Pool {
    /// Index of the piece that holds the lowest point.
    pub piece: usize,
    /// Indices of the pieces wetted; of an empty basin, its `piece` alone.
    pub pieces: Vec<usize>,
    /// Volume, mm3.
    pub volume: f64,
    /// Height `u . p` of the level, mm; of an empty basin, of its lowest point.
    pub level: f64,
    /// Height of the lowest point, mm.
    pub bottom: f64,
    /// Area of the liquid's top within the interior, mm2.
    pub free_surface: f64,
    /// Height of the lowest point over which it runs on; none when it cannot.
    pub sill: Option<f64>,
    /// Volume it holds at its sill, mm3.
    pub brim: Option<f64>,
    /// Where the overflow comes to rest first.
    pub runs_to: Option<RunsTo>,
    /// The shapes wetted; of a bend, the part on this side of its crest. The liquid is their union below the level.
    pub wetted: Vec<Shape>,
    /// Volume by piece wetted, mm3.
    pub shares: Vec<(usize, f64)>,
}

impl Pool {
    /// Depth of the liquid at its lowest point, mm.
    pub fn depth(&self) -> f64 {
        self.level - self.bottom
    }
}

/// Liquid at rest at one stance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settled {
    /// The pools, ordered by piece.
    pub pools: Vec<Pool>,
    /// Volume lost by port (index), mm3.
    pub lost: Vec<(usize, f64)>,
    /// Volume that finds no room, mm3: beyond what a closed interior holds, or given to a piece without a bore.
    pub left_over: f64,
}

/// The part of the interior below a height.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Below {
    /// Volume, mm3.
    pub volume: f64,
    /// Area at that height, mm2.
    pub free_surface: f64,
}

/// Liquid that ran on from where it was put.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flow {
    /// Basin in which it was put.
    pub(super) from: usize,
    /// Basin over whose sill it came last.
    pub(super) gate: usize,
    /// Where it came to rest.
    pub(super) to: Rest,
    /// Volume, mm3.
    pub(super) volume: f64,
    /// Pools that it has run over.
    passed: usize,
}

/// What each basin holds after liquid has spread.
#[derive(Clone, Debug)]
pub(super) struct Spread {
    /// Volume, mm3; of a joined basin, that of the whole pool.
    pub(super) volume: Vec<f64>,
    /// Volume that has run over the sill, mm3; above 0, the basin stands at its brim. Of the parts of a joined basin at
    /// least as much.
    pub(super) over: Vec<f64>,
    /// A basin whose parts have become one pool.
    pub(super) joined: Vec<bool>,
    /// Volume lost by each port, mm3.
    pub(super) lost: Vec<f64>,
    /// Volume that finds no room, mm3.
    pub(super) left_over: f64,
    /// What ran where, in the order in which it did.
    pub(super) flows: Vec<Flow>,
}

impl Spread {
    fn empty(posture: &Posture<'_>) -> Self {
        let count = posture.basins.len();
        Self {
            volume: vec![0.0; count],
            over: vec![0.0; count],
            joined: vec![false; count],
            lost: vec![0.0; posture.interior.ports().len()],
            left_over: 0.0,
            flows: Vec::new(),
        }
    }
}

impl Posture<'_> {
    /// The empty basins, shallowest hollows apart, with their sills and brims; ordered by piece.
    pub fn basins(&self) -> Vec<Pool> {
        let leaves = (0..self.basins.len()).filter(|&b| self.basins[b].parts.is_none());
        let empty = Spread::empty(self);
        let mut pools: Vec<Pool> = leaves.map(|b| self.pool(b, &empty)).collect();
        self.in_order(&mut pools);
        pools
    }

    /// Puts volumes (piece index, mm3) at the lowest points of their pieces; what finds no room spreads by the
    /// rule of the overflow. The result does not depend on the order in which they are given.
    pub fn settle(&self, given: &[(usize, f64)]) -> Settled {
        self.settled(&self.spread(&self.starts(given)))
    }

    /// Where volumes (piece index, mm3) lie that are put at the lowest points of their pieces.
    pub(super) fn starts(&self, given: &[(usize, f64)]) -> Vec<(Option<Rest>, f64)> {
        let rest = |piece| self.lowest_node(piece).and_then(|node| self.rest_from_bottom(node));
        let given = given.iter().filter(|(_, volume)| *volume > 0.0);
        given.map(|&(piece, volume)| (rest(piece), volume)).collect()
    }

    /// Describes what has spread.
    pub(super) fn settled(&self, spread: &Spread) -> Settled {
        let mut pools: Vec<Pool> = self.held(spread).map(|b| self.pool(b, spread)).collect();
        self.in_order(&mut pools);
        let lost = spread.lost.iter().copied().enumerate();
        Settled {
            pools,
            lost: lost.filter(|(_, v)| *v > 0.0).collect(),
            left_over: spread.left_over,
        }
    }

    /// The basins that hold a pool, each pool once.
    pub(super) fn held<'s>(&'s self, spread: &'s Spread) -> impl Iterator<Item = usize> + 's {
        let whole = |b: &usize| self.basins[*b].parent.is_none_or(|p| !spread.joined[p]);
        (0..self.basins.len()).filter(|&b| spread.volume[b] > 0.0).filter(whole)
    }

    /// Puts volumes, mm3, where they rest, and lets what is too much run on. All is put down before anything runs, so
    /// that the order does not count; what rests nowhere finds no room.
    pub(super) fn spread(&self, starts: &[(Option<Rest>, f64)]) -> Spread {
        let mut spread = Spread::empty(self);
        let mut filled = Vec::new();
        for &(rest, volume) in starts {
            match rest {
                Some(Rest::Basin(basin)) => {
                    spread.volume[basin] += volume;
                    filled.push(basin);
                }
                Some(Rest::Port(port)) => spread.lost[port] += volume,
                None => spread.left_over += volume,
            }
        }
        let mut streams = VecDeque::new();
        for basin in filled {
            self.run_over(basin, (basin, 0), &mut spread, &mut streams);
        }
        while let Some(mut flow) = streams.pop_front() {
            match flow.to {
                Rest::Port(port) => spread.lost[port] += flow.volume,
                // It runs in a circle, which only rounding can close.
                Rest::Basin(_) if flow.passed > 2 * self.basins.len() => spread.left_over += flow.volume,
                Rest::Basin(basin) => {
                    let basin = self.joined_basin(basin, &spread);
                    spread.volume[basin] += flow.volume;
                    flow.volume -= self.run_over(basin, (flow.from, flow.passed), &mut spread, &mut streams);
                }
            }
            if flow.volume > 0.0 {
                spread.flows.push(flow);
            }
        }
        spread
    }

    /// Sends what a basin holds beyond its brim on its way, as part of what was put into `from`; gives its volume.
    fn run_over(
        &self,
        basin: usize,
        (from, passed): (usize, usize),
        spread: &mut Spread,
        streams: &mut VecDeque<Flow>,
    ) -> f64 {
        let mut basin = self.joined_basin(basin, spread);
        loop {
            let volume = spread.volume[basin];
            if self.easily_holds(basin, volume) {
                return 0.0;
            }
            let parent = self.basins[basin].parent;
            let sibling = parent
                .and_then(|p| self.basins[p].parts)
                .and_then(|parts| parts.into_iter().find(|&b| b != basin))
                .filter(|&sibling| spread.over[sibling] > 0.0);
            // What is joined anyway need not be told apart to the last digit.
            let surely = sibling
                .map(|_| self.surely_over(basin, volume))
                .filter(|over| *over > 0.0);
            let excess = surely.unwrap_or_else(|| volume - self.room(basin));
            if excess <= 0.0 {
                return 0.0;
            }
            spread.over[basin] += excess;
            if let (Some(parent), Some(sibling)) = (parent, sibling) {
                // Both stand at their common sill: one pool from here on.
                spread.joined[parent] = true;
                spread.volume[parent] = volume + spread.volume[sibling];
                basin = parent;
                continue;
            }
            spread.volume[basin] = self.room(basin);
            if self.basins[basin].sill.is_none() {
                spread.left_over += excess;
                return excess;
            }
            match self.overflow(basin) {
                Some(to) => streams.push_back(Flow {
                    from,
                    gate: basin,
                    to,
                    volume: excess,
                    passed: passed + 1,
                }),
                None => spread.left_over += excess,
            }
            return excess;
        }
    }

    /// The pool to which a basin belongs.
    pub(super) fn joined_basin(&self, mut basin: usize, spread: &Spread) -> usize {
        while let Some(parent) = self.basins[basin].parent {
            if !spread.joined[parent] {
                break;
            }
            basin = parent;
        }
        basin
    }

    /// Describes a basin and what it holds.
    fn pool(&self, basin: usize, spread: &Spread) -> Pool {
        let volume = spread.volume[basin];
        let held = &self.basins[basin];
        let bottom_node = &self.nodes[held.bottom_node];
        let room = self.room(basin);
        let brim = held.sill.map(|_| room);
        let mut pool = Pool {
            piece: self.piece_of_basin(basin),
            pieces: Vec::new(),
            volume,
            level: bottom_node.bottom,
            bottom: bottom_node.bottom,
            free_surface: 0.0,
            sill: held.sill.map(|s| s.height),
            brim,
            runs_to: self.runs_to(basin, spread),
            wetted: Vec::new(),
            shares: Vec::new(),
        };
        if volume > 0.0 {
            pool.level = self.level_for(basin, volume, room);
            let mut shares = std::collections::BTreeMap::new();
            for node in self.members(basin) {
                let (wet, surface) = self.wet(node, pool.level);
                if wet > 0.0 {
                    pool.free_surface += surface;
                    pool.wetted.push(self.shape_of(node));
                    *shares.entry(self.piece_of(node)).or_insert(0.0) += wet;
                }
            }
            pool.pieces = shares.keys().copied().collect();
            pool.shares = shares.into_iter().collect();
        } else {
            pool.pieces.push(pool.piece);
        }
        pool
    }

    /// The shape of a node: of a bend cut at its crest, the part.
    fn shape_of(&self, node: usize) -> Shape {
        let node = &self.nodes[node];
        let shape = self.interior.primitives()[node.primitive].shape;
        let Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        } = shape
        else {
            return shape;
        };
        let way = 1f64.copysign(sweep);
        Shape::Torus {
            centre,
            radius,
            r,
            start: start + way * node.lo,
            sweep: way * (node.hi - node.lo),
        }
    }

    /// Where the overflow of a basin comes to rest: past every pool that is itself at its brim.
    pub(super) fn runs_to(&self, basin: usize, spread: &Spread) -> Option<RunsTo> {
        let mut basin = basin;
        for _ in 0..=self.basins.len() {
            match self.overflow(basin)? {
                Rest::Port(port) => return Some(RunsTo::Port(port)),
                Rest::Basin(next) => {
                    let pool = self.joined_basin(next, spread);
                    if spread.over[pool] <= 0.0 {
                        return Some(RunsTo::Piece(self.piece_of_basin(next)));
                    }
                    basin = pool;
                }
            }
        }
        None
    }

    /// The ways of what runs from a pool of these, of which a piece holds the lowest point, to where it comes to rest:
    /// of each pool that it passes a line of points from the sill down the floor, the last one to the level of the
    /// liquid there. Empty where no such pool runs over.
    pub fn ways(&self, pools: &[Pool], from: usize, to: RunsTo) -> Vec<Vec<Vector3<f64>>> {
        let mut ways = Vec::new();
        let mut running = pools.iter().find(|pool| pool.piece == from);
        for _ in 0..=pools.len() {
            let Some((mut way, rest)) = running.and_then(|pool| self.overflow_way(self.basin_of(pool)?)) else {
                break;
            };
            let Rest::Basin(basin) = rest else {
                ways.push(way);
                break;
            };
            let piece = self.piece_of_basin(basin);
            let bottom = self.nodes[self.basins[basin].bottom_node].bottom;
            let holds = |pool: &&Pool| pool.pieces.contains(&piece) && pool.bottom <= bottom && pool.level > bottom;
            running = pools.iter().find(holds);
            if let Some(pool) = running {
                self.cut_at(&mut way, pool.level);
            }
            ways.push(way);
            if to == RunsTo::Piece(piece) {
                break;
            }
        }
        ways
    }

    /// The basin that a pool lies in.
    fn basin_of(&self, pool: &Pool) -> Option<usize> {
        (0..self.basins.len()).find(|&b| {
            let basin = &self.basins[b];
            basin.sill.map(|sill| sill.height) == pool.sill && self.piece_of_basin(b) == pool.piece
        })
    }

    /// Leaves out of a falling way what lies below a level.
    fn cut_at(&self, way: &mut Vec<Vector3<f64>>, level: f64) {
        let Some(below) = way.iter().position(|p| self.height_of(p) < level) else {
            return;
        };
        let before = below.checked_sub(1).map(|i| (way[i], self.height_of(&way[i])));
        let (low, low_height) = (way[below], self.height_of(&way[below]));
        way.truncate(below);
        if let Some((high, height)) = before.filter(|(_, height)| *height > low_height) {
            way.push(high + (low - high) * ((height - level) / (height - low_height)));
        }
    }

    /// Where what does not fit in a piece runs to first.
    pub(super) fn way_from_piece(&self, piece: usize) -> Option<RunsTo> {
        match self.lowest_node(piece).and_then(|node| self.rest_from_bottom(node))? {
            Rest::Port(port) => Some(RunsTo::Port(port)),
            Rest::Basin(basin) => self.runs_to(self.vessel(basin, piece), &Spread::empty(self)),
        }
    }

    fn in_order(&self, pools: &mut [Pool]) {
        pools.sort_by(|x, y| x.piece.cmp(&y.piece).then(x.bottom.total_cmp(&y.bottom)));
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector2;

    use crate::geom::{Interior, Primitive, Shape, Stance};

    #[test]
    fn liquid_in_one_leg_of_an_arch_wets_that_leg_only() {
        let (r, radius) = (4.0, 20.0);
        let leg = |x: f64| Shape::Frustum {
            from: Vector2::new(x, -40.0),
            to: Vector2::new(x, 0.0),
            r_from: r,
            r_to: r,
        };
        let arch = Shape::Torus {
            centre: Vector2::zeros(),
            radius,
            r,
            start: 0.0,
            sweep: std::f64::consts::PI,
        };
        let shapes = [leg(radius), arch, leg(-radius)];
        let primitives = shapes
            .iter()
            .enumerate()
            .map(|(piece, &shape)| Primitive { piece, shape })
            .collect();
        let names = ["right", "arch", "left"].map(str::to_owned).to_vec();
        let interior = Interior::new(names, primitives, Vec::new()).unwrap();
        // Well below the floor of the crest.
        let full = interior.piece_volumes();
        let settled = interior.at(Stance::default()).settle(&[(0, full[0] + 0.05 * full[1])]);
        assert_eq!(settled.pools.len(), 1);
        let Shape::Torus { start, sweep, .. } = settled.pools[0].wetted[1] else {
            panic!("{:?}", settled.pools[0].wetted)
        };
        // The tie rule moves the crest by its infinitesimal tilt.
        assert!(
            start == 0.0 && (sweep - std::f64::consts::FRAC_PI_2).abs() < 1e-9,
            "{start} {sweep}"
        );
    }
}
