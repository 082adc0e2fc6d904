//! Liquid in an interior: the hollows in which it lies, and how it is put there.

use nalgebra::Vector3;

use super::pools::{RunsTo, Settled, Spread};
use super::posture::Posture;
use super::stream::Rest;

/// A volume in a hollow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Body {
    /// Primitive whose floor holds the deepest point.
    pub(super) primitive: usize,
    /// The deepest point, in the axes of the apparatus.
    pub(super) at: Vector3<f64>,
    /// Volume, mm3.
    pub(super) volume: f64,
    /// Whether its pool has just run over.
    pub(super) runs: bool,
    /// Number of its pool, and, of a pool over several hollows, what lies above the brim of this one, mm3.
    pub(super) pool: usize,
    pub(super) above: f64,
}

/// Liquid in an interior at some stance, and what has been lost so far.
#[derive(Clone, Debug, Default)]
pub struct Liquid {
    pub(super) bodies: Vec<Body>,
    lost: Vec<f64>,
    left_over: f64,
}

impl Liquid {
    /// Volume in the glass, mm3.
    pub fn volume(&self) -> f64 {
        self.bodies.iter().map(|body| body.volume).sum()
    }

    /// Whether none lies in the glass.
    pub fn is_empty(&self) -> bool {
        self.bodies.is_empty()
    }

    /// Volume lost by port (index), mm3.
    pub fn lost(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.lost.iter().copied().enumerate().filter(|(_, v)| *v > 0.0)
    }

    /// The liquid at rest at a stance next to the one where it was taken.
    pub fn at(&self, posture: &Posture<'_>) -> Settled {
        let mut settled = posture.settled(&self.spread(posture));
        settled.lost = self.with_losses(&settled.lost).lost().collect();
        settled.left_over += self.left_over;
        settled
    }

    /// The same, let run to where it rests at a stance next to the one where it was taken.
    pub fn resting(&self, posture: &Posture<'_>) -> Self {
        self.after(posture, &self.spread(posture))
    }

    /// The same where primitives have other numbers: `rename` gives the new one of the primitive in which a point lies.
    pub(super) fn renamed(&self, rename: impl Fn(usize, &Vector3<f64>) -> usize) -> Self {
        let mut renamed = self.clone();
        for body in &mut renamed.bodies {
            body.primitive = rename(body.primitive, &body.at);
        }
        renamed
    }

    fn with_losses(&self, more: &[(usize, f64)]) -> Self {
        let mut lost = self.lost.clone();
        for &(port, volume) in more {
            if lost.len() <= port {
                lost.resize(port + 1, 0.0);
            }
            lost[port] += volume;
        }
        Self {
            bodies: Vec::new(),
            lost,
            left_over: self.left_over,
        }
    }
}

impl Posture<'_> {
    /// Liquid given to pieces (index, mm3) at this stance, at rest.
    pub fn give(&self, given: &[(usize, f64)]) -> Liquid {
        Liquid::default().after(self, &self.spread(&self.starts(given)))
    }
}

impl Liquid {
    /// The same with more liquid, mm3, given to pieces (index) at this stance.
    pub fn and_give(&self, posture: &Posture<'_>, given: &[(usize, f64)]) -> Self {
        let mut starts = self.starts(posture);
        starts.extend(posture.starts(given));
        self.after(posture, &posture.spread(&starts))
    }

    /// How it lies at a posture to which it is moved.
    pub(super) fn spread(&self, posture: &Posture<'_>) -> Spread {
        posture.spread(&self.starts(posture))
    }

    pub(super) fn starts(&self, posture: &Posture<'_>) -> Vec<(Option<Rest>, f64)> {
        let bodies = self.bodies.iter();
        bodies
            .map(|body| (posture.rest_from(body.primitive, body.at), body.volume))
            .collect()
    }

    /// What is known after it has spread at a posture.
    pub(super) fn after(&self, posture: &Posture<'_>, spread: &Spread) -> Self {
        let losses: Vec<_> = spread.lost.iter().copied().enumerate().collect();
        let mut next = self.with_losses(&losses);
        next.left_over += spread.left_over;
        for basin in posture.held(spread) {
            posture.cut(basin, (basin, spread.volume[basin]), spread, &mut next.bodies);
        }
        next
    }
}

impl Posture<'_> {
    /// The bodies of a pool: one for each of its hollows, cut at their common sills. What lies above these goes with
    /// the deepest.
    fn cut(&self, basin: usize, (pool, volume): (usize, f64), spread: &Spread, bodies: &mut Vec<Body>) {
        let held = &self.basins[basin];
        match held.parts.filter(|_| spread.joined[basin]) {
            None if volume > 0.0 => {
                let node = &self.nodes[held.bottom_node];
                bodies.push(Body {
                    primitive: node.primitive,
                    at: node.bottom_at,
                    volume,
                    runs: spread.over[basin] > 0.0,
                    pool,
                    above: if basin == pool {
                        0.0
                    } else {
                        (volume - self.room(basin)).max(0.0)
                    },
                });
            }
            None => {}
            Some(parts) => {
                let [deep, other] = if self.basins[parts[0]].bottom_node == held.bottom_node {
                    parts
                } else {
                    [parts[1], parts[0]]
                };
                let room = self.room(other).min(volume);
                self.cut(deep, (pool, volume - room), spread, bodies);
                self.cut(other, (pool, room), spread, bodies);
            }
        }
    }

    /// The piece or port into which a basin runs over first.
    pub(super) fn route(&self, basin: usize) -> Option<RunsTo> {
        self.overflow(basin).map(|rest| match rest {
            Rest::Basin(basin) => RunsTo::Piece(self.piece_of_basin(basin)),
            Rest::Port(port) => RunsTo::Port(port),
        })
    }

    /// Whether a body that has come to rest in a basin lay in the same hollow before. In that of another piece it did
    /// only if the level is still above the place where it lay: where a hollow of its own has vanished, it ran there.
    pub(super) fn stays(&self, body: &Body, rest: Option<Rest>, spread: &Spread) -> bool {
        let Some(Rest::Basin(own)) = rest else { return false };
        let basin = self.joined_basin(own, spread);
        let node = self.node_at(body.primitive, &body.at);
        let (sill, height) = (self.basins[basin].sill, self.up.dot(&body.at));
        self.within(basin, node)
            && sill.is_none_or(|s| height <= s.height)
            && (self.piece_of_basin(own) == self.interior.primitives()[body.primitive].piece
                || self.basin_wet(basin, height).0 < spread.volume[basin])
    }
}
