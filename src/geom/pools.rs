//! Liquid at rest: pools, levels, what spilled and where to.

use std::collections::VecDeque;

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

/// Liquid spread over the basins, before its levels are asked for.
pub(super) struct Spread {
    fill: Fill,
    /// Volume lost by each port, mm3.
    pub(super) lost: Vec<f64>,
    /// Volume that finds no room, mm3.
    pub(super) left_over: f64,
    /// What ran over each basin's sill, mm3.
    pub(super) ran: Vec<f64>,
}

/// What each basin holds while liquid spreads.
struct Fill {
    /// Volume, mm3; of a joined basin, that of the whole pool.
    volume: Vec<f64>,
    /// Brim volume, or capacity where there is no sill; found when first needed.
    room: Vec<Option<f64>>,
    /// A basin at its brim that has run over.
    full: Vec<bool>,
    /// A basin whose parts have become one pool.
    joined: Vec<bool>,
}

impl Fill {
    fn empty(count: usize) -> Self {
        Self {
            volume: vec![0.0; count],
            room: vec![None; count],
            full: vec![false; count],
            joined: vec![false; count],
        }
    }
}

impl Posture<'_> {
    /// The empty basins, shallowest hollows apart, with their sills and brims; ordered by piece.
    pub fn basins(&self) -> Vec<Pool> {
        let leaves = (0..self.basins.len()).filter(|&b| self.basins[b].parts.is_none());
        let empty = Fill::empty(self.basins.len());
        let mut pools: Vec<Pool> = leaves.map(|b| self.pool(b, &empty)).collect();
        self.in_order(&mut pools);
        pools
    }

    /// Puts volumes (piece index, mm3) at the lowest points of their pieces; what finds no room spreads by the
    /// rule of the overflow. The result does not depend on the order in which they are given.
    pub fn settle(&self, given: &[(usize, f64)]) -> Settled {
        let spread = self.spread(given.iter().map(|&(piece, volume)| (self.rest_of_piece(piece), volume)));
        let mut settled = Settled {
            pools: self.held(&spread).map(|b| self.pool(b, &spread.fill)).collect(),
            lost: spread.lost.into_iter().enumerate().filter(|(_, v)| *v > 0.0).collect(),
            left_over: spread.left_over,
        };
        self.in_order(&mut settled.pools);
        settled
    }

    /// Puts volumes (mm3) where streams rest, and lets what finds no room spread. What rests nowhere is left over.
    pub(super) fn spread(&self, given: impl Iterator<Item = (Option<Rest>, f64)>) -> Spread {
        let mut spread = Spread {
            fill: Fill::empty(self.basins.len()),
            lost: vec![0.0; self.interior.ports().len()],
            left_over: 0.0,
            ran: vec![0.0; self.basins.len()],
        };
        for (rest, volume) in given.filter(|(_, volume)| *volume > 0.0) {
            match rest {
                Some(rest) => self.pour(rest, volume, &mut spread),
                None => spread.left_over += volume,
            }
        }
        spread
    }

    /// Where liquid given to a piece lies: under its lowest point.
    pub(super) fn rest_of_piece(&self, piece: usize) -> Option<Rest> {
        self.lowest_node(piece).and_then(|node| self.rest_from_bottom(node))
    }

    /// The basins that hold a pool: of joined ones the whole.
    pub(super) fn held<'b>(&'b self, spread: &'b Spread) -> impl Iterator<Item = usize> + 'b {
        let fill = &spread.fill;
        (0..self.basins.len())
            .filter(|&b| fill.volume[b] > 0.0 && self.basins[b].parent.is_none_or(|p| !fill.joined[p]))
    }

    /// The pool to which what rests in a basin belongs.
    pub(super) fn pool_with(&self, spread: &Spread, basin: usize) -> usize {
        self.joined_basin(basin, &spread.fill)
    }

    /// What a basin holds, and what it would hold at its sill (or altogether, where there is none), mm3.
    pub(super) fn volume_and_room(&self, spread: &Spread, basin: usize) -> (f64, f64) {
        let room = spread.fill.room[basin].unwrap_or_else(|| self.room(basin));
        (spread.fill.volume[basin], room)
    }

    /// Where the overflow of a basin comes to rest: past every pool that is itself at its brim.
    pub(super) fn way_of_overflow(&self, spread: &Spread, basin: usize) -> Option<RunsTo> {
        self.runs_to(basin, &spread.fill)
    }

    /// Where what does not fit in a piece runs to first.
    pub(super) fn way_from_piece(&self, piece: usize) -> Option<RunsTo> {
        match self.rest_of_piece(piece)? {
            Rest::Port(port) => Some(RunsTo::Port(port)),
            Rest::Basin(basin) => self.runs_to(self.vessel(basin, piece), &Fill::empty(self.basins.len())),
        }
    }

    /// Adds a volume where a stream rests, and lets what is too much run on.
    fn pour(&self, rest: Rest, volume: f64, spread: &mut Spread) {
        let Spread {
            fill,
            lost,
            left_over,
            ran,
        } = spread;
        let mut streams = VecDeque::from([(rest, volume)]);
        while let Some((rest, volume)) = streams.pop_front() {
            let mut basin = match rest {
                Rest::Port(port) => {
                    lost[port] += volume;
                    continue;
                }
                Rest::Basin(basin) => self.joined_basin(basin, fill),
            };
            fill.volume[basin] += volume;
            loop {
                let room = *fill.room[basin].get_or_insert_with(|| self.room(basin));
                let excess = fill.volume[basin] - room;
                if excess <= 0.0 {
                    break;
                }
                fill.volume[basin] = room;
                if self.basins[basin].sill.is_none() {
                    *left_over += excess;
                    break;
                }
                fill.full[basin] = true;
                let parent = self.basins[basin].parent;
                let sibling = parent
                    .and_then(|p| self.basins[p].parts)
                    .and_then(|parts| parts.into_iter().find(|&b| b != basin));
                if let (Some(parent), Some(sibling)) = (parent, sibling)
                    && fill.full[sibling]
                {
                    // Both stand at their common sill: one pool from here on.
                    fill.joined[parent] = true;
                    fill.volume[parent] = fill.volume[basin] + fill.volume[sibling] + excess;
                    basin = parent;
                    continue;
                }
                ran[basin] += excess;
                match self.overflow(basin) {
                    Some(rest) => streams.push_back((rest, excess)),
                    None => *left_over += excess,
                }
                break;
            }
        }
    }

    /// The pool to which a basin belongs.
    fn joined_basin(&self, mut basin: usize, fill: &Fill) -> usize {
        while let Some(parent) = self.basins[basin].parent {
            if !fill.joined[parent] {
                break;
            }
            basin = parent;
        }
        basin
    }

    /// Volume of a basin at its sill, or of all of it where there is none, mm3.
    fn room(&self, basin: usize) -> f64 {
        self.brim(basin)
            .unwrap_or_else(|| self.members(basin).map(|n| self.wet(n, f64::INFINITY).0).sum())
    }

    /// Describes a basin and what it holds.
    fn pool(&self, basin: usize, fill: &Fill) -> Pool {
        let volume = fill.volume[basin];
        let held = &self.basins[basin];
        let bottom_node = &self.nodes[held.bottom_node];
        let room = fill.room[basin].unwrap_or_else(|| self.room(basin));
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
            runs_to: self.runs_to(basin, fill),
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
    fn runs_to(&self, basin: usize, fill: &Fill) -> Option<RunsTo> {
        let mut basin = basin;
        for _ in 0..=self.basins.len() {
            match self.overflow(basin)? {
                Rest::Port(port) => return Some(RunsTo::Port(port)),
                Rest::Basin(next) => {
                    let pool = self.joined_basin(next, fill);
                    if !fill.full[pool] {
                        return Some(RunsTo::Piece(self.piece_of_basin(next)));
                    }
                    basin = pool;
                }
            }
        }
        None
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
