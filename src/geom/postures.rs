//! The postures of an interior that have been asked for: turns of the same glass come by the same stances again and again.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::interior::Interior;
use super::posture::Posture;
use super::stance::Stance;

/// Postures are kept at stances that are multiples of this, degrees.
const GRID_DEG: f64 = 0.25;
/// And no more of them than this.
const MOST: usize = 2048;

/// An interior, and its postures as far as they have been kept. What is asked is answered in the same way with and without.
#[derive(Debug)]
pub struct Postures<'a> {
    interior: &'a Interior,
    kept: Mutex<HashMap<[u64; 2], Arc<Posture<'a>>>>,
}

impl<'a> Postures<'a> {
    /// None are kept yet.
    pub fn new(interior: &'a Interior) -> Self {
        Self {
            interior,
            kept: Mutex::default(),
        }
    }

    /// The interior.
    pub fn interior(&self) -> &'a Interior {
        self.interior
    }

    /// The interior held at a stance.
    pub fn at(&self, stance: Stance) -> Arc<Posture<'a>> {
        let turns = [stance.tilt_deg, stance.roll_deg];
        if turns.iter().any(|turn| turn % GRID_DEG != 0.0) {
            return Arc::new(self.interior.at(stance));
        }
        // So that -0 is 0.
        let key = turns.map(|turn| (turn + 0.0).to_bits());
        let kept = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(posture) = kept().get(&key) {
            return Arc::clone(posture);
        }
        let posture = Arc::new(self.interior.at(stance));
        let mut kept = kept();
        if kept.len() < MOST {
            kept.insert(key, Arc::clone(&posture));
        }
        posture
    }
}
