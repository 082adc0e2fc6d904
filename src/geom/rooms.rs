//! What the basins of a posture hold: volumes below a height, rooms up to the sill, and levels.
//!
//! Volumes are those of the spans (see there). A level is found by Newton's method with the free surface as derivative,
//! kept in a bracket, until its last step is below [`LEVEL_MM`].

use super::posture::{Basin, Node, Posture};
use super::spans::{Level, Span};
use super::tolerance::LEVEL_MM;

/// Bounds of a basin's volume at its sill, mm3.
#[derive(Clone, Copy, Debug)]
pub(super) struct RoughRoom {
    least: f64,
    most: f64,
}

impl Posture<'_> {
    /// Volume below a height within one node, mm3, and its free surface, mm2.
    pub(super) fn wet(&self, node: usize, height: f64) -> (f64, f64) {
        self.wet_spans(node, height, false, |_, _| true)
    }

    /// The same of the spans that count; `counts` is told whether the level cuts the node. A level that `is_shared` is one
    /// at which nodes like this one may be asked for as well.
    fn wet_spans(
        &self,
        node: usize,
        height: f64,
        is_shared: bool,
        mut counts: impl FnMut(&Span, bool) -> bool,
    ) -> (f64, f64) {
        let Node {
            primitive,
            lo,
            hi,
            bottom,
            top,
            ..
        } = self.nodes[node];
        if height <= bottom {
            return (0.0, 0.0);
        }
        let solid = &self.interior.solids[primitive];
        let level = (height < top).then_some(Level { u: &self.up, height });
        let (mut volume, mut surface) = (0.0, 0.0);
        for span in &self.interior.spans[primitive] {
            let (a, b) = (span.lo.max(lo), span.hi.min(hi));
            if b <= a || !counts(span, level.is_some()) {
                continue;
            }
            match level {
                None if a == span.lo && b == span.hi => volume += span.full(solid),
                None => volume += span.full_between(solid, a, b),
                Some(level) => {
                    let integrate = || span.wet_between(solid, a, b, level);
                    let (v, s) = span.uncut_joint(solid, (a, b), level).unwrap_or_else(|| {
                        let place = (level.u, height);
                        self.alike.held(span, (a, b), place, is_shared, integrate)
                    });
                    volume += v;
                    surface += s;
                }
            }
        }
        (volume, surface)
    }

    /// Volume of a basin below a height within its range, mm3, and its free surface, mm2.
    pub(super) fn basin_wet(&self, basin: usize, height: f64) -> (f64, f64) {
        self.members(basin).fold((0.0, 0.0), |sum, node| {
            let (v, s) = self.wet(node, height);
            (sum.0 + v, sum.1 + s)
        })
    }

    /// Volume of a basin at its sill, or of all of it where there is none, mm3.
    pub(super) fn room(&self, basin: usize) -> f64 {
        *self.rooms[basin].get_or_init(|| {
            let cut = |span: &Span, is_cut| is_cut && span.is_joint();
            self.rough_room(basin).least + self.room_of(basin, cut)
        })
    }

    /// Bounds of it that leave out what joints hold that the level may cut, which takes the longest to find.
    fn rough_room(&self, basin: usize) -> RoughRoom {
        *self.rough_rooms[basin].get_or_init(|| {
            let mut in_joints = 0.0;
            let least = self.room_of(basin, |span, is_cut| {
                let is_left_out = is_cut && span.is_joint();
                if is_left_out {
                    in_joints += span.bore;
                }
                !is_left_out
            });
            let most = least + in_joints;
            RoughRoom { least, most }
        })
    }

    fn room_of(&self, basin: usize, mut counts: impl FnMut(&Span, bool) -> bool) -> f64 {
        let height = self.brim_height(basin);
        self.members(basin)
            .map(|node| self.wet_spans(node, height, true, &mut counts).0)
            .sum()
    }

    /// Height of a basin's sill; without one, above everything.
    fn brim_height(&self, basin: usize) -> f64 {
        self.basins[basin].sill.map_or(f64::INFINITY, |sill| sill.height)
    }

    /// Whether a basin has room for a volume even without what joints hold that the level may cut.
    pub(super) fn easily_holds(&self, basin: usize, volume: f64) -> bool {
        let room = self.rooms[basin].get().copied();
        volume <= room.unwrap_or_else(|| self.rough_room(basin).least)
    }

    /// What of a volume a basin can surely not hold, mm3, however much joints hold that the level may cut; below 0 where
    /// that cannot be told.
    pub(super) fn surely_over(&self, basin: usize, volume: f64) -> f64 {
        volume - self.rough_room(basin).most
    }

    /// Brim volume, mm3; nothing for a basin that cannot run over.
    pub(super) fn brim(&self, basin: usize) -> Option<f64> {
        self.basins[basin].sill.map(|_| self.room(basin))
    }

    /// Level at which a basin holds a volume, given its room (brim volume or capacity): Newton with the free surface
    /// as derivative, kept in a bracket. A volume beyond the room gives the sill (or the top).
    pub(super) fn level_for(&self, basin: usize, volume: f64, room: f64) -> f64 {
        let Basin { from, sill, .. } = self.basins[basin];
        let top = || self.members(basin).map(|n| self.nodes[n].top).fold(from, f64::max);
        let (mut lo, mut hi) = (from, sill.map_or_else(top, |s| s.height));
        if volume >= room {
            return hi;
        }
        if volume <= 0.0 {
            return lo;
        }
        let mut height = lo + (hi - lo) * (volume / room).clamp(0.01, 0.99);
        for step in 0..100 {
            let (v, s) = self.basin_wet(basin, height);
            let excess = v - volume;
            if excess > 0.0 {
                hi = height;
            } else {
                lo = height;
            }
            let newton = height - excess / s;
            // A step that leaves the bracket, or slow progress at a kink, halves it.
            let next = if newton > lo && newton < hi && step < 40 {
                newton
            } else {
                0.5 * (lo + hi)
            };
            let moved = (next - height).abs();
            height = next;
            if moved <= LEVEL_MM {
                break;
            }
        }
        height
    }
}
