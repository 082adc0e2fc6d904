//! A turn of the glass, tilt by tilt: what each piece holds and how large the surface in it is.
//!
//! Every tilt is settled on its own from the volumes given, as if they were put in at that tilt; nothing is carried
//! over from the tilt before. The numbers of a tilt are therefore those of [`Posture::settle`] there.
//!
//! [`Posture::settle`]: super::Posture::settle

use super::interior::Interior;
use super::pools::{Pool, Settled};
use super::stance::Stance;

/// Liquid at rest at one tilt of a turn.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnStep {
    /// The tilt, degrees.
    pub tilt_deg: f64,
    /// Volume held by each piece, mm3.
    pub held: Vec<f64>,
    /// Free surface of the largest pool in each piece, mm2; 0 in a dry one.
    pub free_surface: Vec<f64>,
    /// Volume lost through all ports, mm3.
    pub lost: f64,
}

/// Settles the volumes given (piece index, mm3) at each of the tilts, at one roll. `go_on` is asked before each tilt;
/// none when it said no.
pub fn turn(
    interior: &Interior,
    given: &[(usize, f64)],
    roll_deg: f64,
    tilts_deg: impl IntoIterator<Item = f64>,
    mut go_on: impl FnMut() -> bool,
) -> Option<Vec<TurnStep>> {
    let mut steps = Vec::new();
    for tilt_deg in tilts_deg {
        if !go_on() {
            return None;
        }
        let settled = interior.at(Stance::new(tilt_deg, roll_deg)).settle(given);
        steps.push(TurnStep::of(tilt_deg, &settled, interior.pieces().len()));
    }
    Some(steps)
}

impl TurnStep {
    fn of(tilt_deg: f64, settled: &Settled, pieces: usize) -> Self {
        let mut largest = vec![0.0; pieces];
        let mut step = Self {
            tilt_deg,
            held: vec![0.0; pieces],
            free_surface: vec![0.0; pieces],
            lost: settled.lost.iter().fold(0.0, |sum, (_, volume)| sum + volume),
        };
        for pool in &settled.pools {
            for &(piece, share) in &pool.shares {
                step.held[piece] += share;
                if share > 0.0 && pool.volume > largest[piece] {
                    largest[piece] = pool.volume;
                    step.free_surface[piece] = pool.free_surface;
                }
            }
        }
        step
    }
}

impl Settled {
    /// Volume that a piece holds, mm3.
    pub fn held_by(&self, piece: usize) -> f64 {
        let shares = self.pools.iter().flat_map(|pool| &pool.shares);
        // The sum of nothing would be -0.
        shares
            .filter(|(at, _)| *at == piece)
            .fold(0.0, |sum, (_, volume)| sum + volume)
    }

    /// The largest of the pools that wet a piece.
    pub fn main_pool(&self, piece: usize) -> Option<&Pool> {
        main_pool(&self.pools, piece)
    }
}

/// The largest of the pools that wet a piece, the first of equals.
pub fn main_pool(pools: &[Pool], piece: usize) -> Option<&Pool> {
    let wets = |pool: &&Pool| pool.shares.iter().any(|&(at, volume)| at == piece && volume > 0.0);
    let wetting = pools.iter().filter(wets);
    wetting.reduce(|a, b| if b.volume > a.volume { b } else { a })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::sample;

    fn interior() -> Interior {
        let built = build(&sample::apparatus()).unwrap();
        Interior::new(built.names, built.primitives, built.ports).unwrap()
    }

    #[test]
    fn a_turn_gives_what_each_tilt_gives_alone() {
        let interior = interior();
        let given = [(0, 6000.0), (2, 2500.0)];
        let tilts = [-90.0, -31.5, 0.0, 12.0, 180.0];
        let steps = turn(&interior, &given, 4.0, tilts, || true).unwrap();
        assert_eq!(steps.len(), tilts.len());
        for (step, tilt) in steps.iter().zip(tilts) {
            let settled = interior.at(Stance::new(tilt, 4.0)).settle(&given);
            assert_eq!(step.tilt_deg, tilt);
            for piece in 0..interior.pieces().len() {
                assert_eq!(step.held[piece], settled.held_by(piece), "{piece} at {tilt}");
                let surface = settled.main_pool(piece).map_or(0.0, |pool| pool.free_surface);
                assert_eq!(step.free_surface[piece], surface, "{piece} at {tilt}");
            }
            let all = step.held.iter().sum::<f64>() + step.lost + settled.left_over;
            assert!((all - 8500.0).abs() < 1e-6 * 8500.0, "{all} at {tilt}");
        }
        assert!(steps.iter().any(|step| step.lost > 0.0), "upside down it runs out");
    }

    #[test]
    fn a_turn_that_is_no_longer_wanted_ends() {
        let mut asked = 0;
        let found = turn(&interior(), &[(0, 1000.0)], 0.0, (0..100).map(f64::from), || {
            asked += 1;
            asked < 4
        });
        assert_eq!((found, asked), (None, 4));
    }
}
