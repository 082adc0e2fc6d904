//! Metering angles of a turn: where the brim volume of a vessel equals its target. They follow from the glass alone.
//!
//! The brim volumes are looked at where the walk comes by. A change of side between two looks is refined by
//! [`bracketed_root`]; a dip between three looks at equal distances is searched where it may reach the target.

use super::events::{Event, Vessel, What};
use super::posture::Posture;
use super::solve::{bracketed_root, valley};
use super::walk::Walk;

/// Angles are found to this, degrees.
const ANGLE_DEG: f64 = 1e-9;
/// Steps of the search for the bottom of a dip: one degree comes down to 1e-8.
const DIP_STEPS: u32 = 40;

/// A vessel whose metering angle is looked for.
struct Sought {
    piece: usize,
    target: f64,
    /// Margins of its brim volume over the target at the last two looks, mm3.
    margins: [f64; 2],
}

/// The search on one way of a turn, for the first angle of each vessel.
pub(super) struct Metering<'a> {
    walk: &'a Walk<'a>,
    sought: Vec<Sought>,
    /// Angles of the last two looks, degrees.
    looks: [f64; 2],
    found: Vec<Event>,
}

impl<'a> Metering<'a> {
    /// A search that begins at angle 0.
    pub(super) fn new(walk: &'a Walk<'a>, vessels: &[Vessel], start: &Posture<'_>) -> Self {
        let wanted = vessels.iter().filter_map(|v| v.target.map(|target| (v.piece, target)));
        Self {
            walk,
            sought: wanted
                .map(|(piece, target)| Sought {
                    piece,
                    target,
                    margins: [f64::NAN, start.brim_of_piece(piece) - target],
                })
                .collect(),
            looks: [f64::NAN, 0.0],
            found: Vec::new(),
        }
    }

    /// Whether every vessel has its angle.
    pub(super) fn is_done(&self) -> bool {
        self.sought.is_empty()
    }

    /// The angles found.
    pub(super) fn found(self) -> Vec<Event> {
        self.found
    }

    /// Looks at the next angle of the way.
    pub(super) fn look(&mut self, at_deg: f64, posture: &Posture<'_>) {
        let [earlier, before] = self.looks;
        let is_even = ((at_deg - before) - (before - earlier)).abs() < ANGLE_DEG;
        let (walk, found) = (self.walk, &mut self.found);
        // Members of a row have it at the same angle: postures at both sides of the last one found.
        let mut last: Option<(f64, [Posture<'_>; 2])> = None;
        self.sought.retain_mut(|vessel| {
            let Sought { piece, target, margins } = *vessel;
            let now = posture.brim_of_piece(piece) - target;
            vessel.margins = [margins[1], now];
            let is_over = [margins[1], now].map(|margin| margin >= 0.0);
            let is_there =
                |sides: &[Posture<'_>; 2]| sides.each_ref().map(|side| side.brim_of_piece(piece) >= target) == is_over;
            let margin = |x: f64| walk.posture(x).brim_of_piece(piece) - target;
            let place = if is_over[0] == is_over[1] {
                let margins = [margins[0], margins[1], now];
                is_even
                    .then(|| dip_to_zero((earlier, at_deg), margins, margin))
                    .flatten()
            } else if let Some((place, _)) = last.as_ref().filter(|(_, sides)| is_there(sides)) {
                Some(*place)
            } else {
                let place = bracketed_root(before, at_deg, ANGLE_DEG, margin);
                let side = 10.0 * ANGLE_DEG.copysign(at_deg - before);
                last = Some((place, [place - side, place + side].map(|x| walk.posture(x))));
                Some(place)
            };
            let what = What::Meters { target };
            found.extend(place.map(|at_deg| Event { at_deg, piece, what }));
            place.is_none()
        });
        self.looks = [before, at_deg];
    }
}

/// Where a margin that keeps its sign at three angles passes through zero between them, if it does: looked into where
/// one more step down the steeper slope would.
fn dip_to_zero((a, c): (f64, f64), margins: [f64; 3], margin: impl Fn(f64) -> f64) -> Option<f64> {
    let sign = 1f64.copysign(margins[1]);
    let [x, y, z] = margins.map(|m| m * sign);
    if !(x >= y && z >= y && y <= (x - y).max(z - y)) {
        return None;
    }
    let (dip, least) = valley(a, c, DIP_STEPS, |t| margin(t) * sign);
    (least < 0.0).then(|| bracketed_root(a, dip, ANGLE_DEG, margin))
}
