//! What is known of one vessel at the present stance: a row of the ledger.

use crate::geom::{Pool, Posture, Settled, Shape, Stance};
use crate::out::section;
use crate::units::{LengthUnit, MM2_PER_CM2, MM3_PER_ML, fixed, volume_text};
use nalgebra::Vector2;

/// Half of the last digit in which volumes are shown, mL: less is no difference.
const SHOWN_ML: f64 = 0.005;
/// A pool that holds all but this part of its brim volume stands at its brim.
const BRIM_PART: f64 = 1e-9;
/// How near to a bore a place on its centreline counts as within it, mm.
const WITHIN_MM: f64 = 0.01;

/// A piece that the ledger may list.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plan {
    /// Its name.
    pub name: String,
    /// Its number within the interior.
    pub piece: usize,
    /// Volume wanted, mL.
    pub target_ml: Option<f64>,
    /// Its seal-off places on the centreline.
    pub seals: Vec<Vector2<f64>>,
    /// Listed even when it is empty.
    pub always: bool,
}

/// A row of the ledger.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Vessel {
    /// Name of the piece.
    pub name: String,
    /// What it holds, mL.
    pub volume_ml: f64,
    /// Least and most that it may hold, mL, where capillarity counts in a run.
    pub band_ml: Option<(f64, f64)>,
    /// Volume wanted, mL.
    pub target_ml: Option<f64>,
    /// Level above the lowest place of the piece's hollow, mm; `None` when it is dry.
    pub level_mm: Option<f64>,
    /// Room to the seal-off place, mm: the distance along the up direction, at the present stance, from the level of
    /// the liquid to the seal-off place on the centreline; of several such places the lowest counts. Negative when
    /// the level is higher. `None` when the piece is dry or has no such place.
    pub room_mm: Option<f64>,
    /// Whether liquid stands at a seal-off place: the bore is wetted there.
    pub seal_reached: bool,
    /// What it would hold at its sill, mL; `None` when it is no hollow at this stance or nothing runs over.
    pub brim_ml: Option<f64>,
    /// Whether its pool stands at its sill.
    pub at_brim: bool,
    /// Free surface of its pool, cm2.
    pub free_surface_cm2: Option<f64>,
    /// Free surface of its pool for each millilitre of that pool, cm2/mL.
    pub surface_per_ml: Option<f64>,
}

impl Vessel {
    /// The row of a piece; `None` when it need not be listed. Of several pools in a piece the largest is shown.
    pub(crate) fn of(
        plan: &Plan,
        posture: &Posture<'_>,
        stance: Stance,
        basins: &[Pool],
        settled: &Settled,
    ) -> Option<Self> {
        let volume = settled.held_by(plan.piece);
        if !plan.always && volume <= 0.0 {
            return None;
        }
        let pool = settled.main_pool(plan.piece);
        let own = |basin: &&Pool| basin.piece == plan.piece;
        let basin = basins.iter().filter(own).min_by(|a, b| a.bottom.total_cmp(&b.bottom));
        let bottom = basin.map(|basin| basin.bottom);
        let up = stance.up().xy();
        let heights = plan.seals.iter().map(|place| up.dot(place));
        let lowest = heights.min_by(f64::total_cmp);
        let brim = posture.brim_of_piece(plan.piece);
        Some(Self {
            name: plan.name.clone(),
            volume_ml: volume / MM3_PER_ML,
            band_ml: None,
            target_ml: plan.target_ml,
            level_mm: pool.map(|pool| pool.level - bottom.unwrap_or(pool.bottom)),
            room_mm: pool.and_then(|pool| Some(lowest? - pool.level)),
            seal_reached: pool.is_some_and(|pool| plan.seals.iter().any(|place| wets(pool, *place, up.dot(place)))),
            brim_ml: (brim > 0.0 && brim.is_finite()).then_some(brim / MM3_PER_ML),
            at_brim: pool.is_some_and(|pool| pool.brim.is_some_and(|brim| pool.volume >= brim * (1.0 - BRIM_PART))),
            free_surface_cm2: pool.map(|pool| pool.free_surface / MM2_PER_CM2),
            surface_per_ml: pool
                .filter(|pool| pool.volume > 0.0)
                .map(|pool| pool.free_surface / MM2_PER_CM2 / (pool.volume / MM3_PER_ML)),
        })
    }

    /// What it holds as a part of the target; `None` without a target.
    pub(crate) fn part(&self) -> Option<f64> {
        let target = self.target_ml.filter(|ml| *ml > 0.0)?;
        Some(self.volume_ml / target)
    }

    /// Whether it holds more than the target, by as much as is shown.
    pub(crate) fn is_over(&self) -> bool {
        self.part().is_some() && self.target_ml.is_some_and(|target| self.volume_ml > target + SHOWN_ML)
    }

    /// The row in words, for assistive tools and on hover.
    pub(crate) fn words(&self, unit: LengthUnit) -> String {
        let mut words = format!("{}: {}", self.name, volume_text(self.volume_ml));
        if let Some((least, most)) = self.band_ml {
            words += &format!(" (from {} to {})", volume_text(least), volume_text(most));
        }
        if let Some(target) = self.target_ml {
            words += &format!(" of {}", volume_text(target));
        }
        if let Some(part) = self.part() {
            words += &format!(", {} % of the target", fixed(100.0 * part, 0));
        }
        if self.is_over() {
            words += ", over the target";
        }
        if let Some(level) = self.level_mm {
            words += &format!(", level {}", unit.text(level));
        }
        match self.room_mm {
            _ if self.seal_reached => words += ", stands at the seal-off place",
            Some(room) => words += &format!(", {} to the seal-off place", unit.text(room)),
            None => {}
        }
        if let Some(brim) = self.brim_ml {
            words += &format!(", brim {}", volume_text(brim));
        }
        if self.at_brim {
            words += ", at its brim";
        }
        if let Some(surface) = self.free_surface_cm2 {
            words += &format!(", free surface {} cm²", fixed(surface, 2));
        }
        if let Some(per_ml) = self.surface_per_ml {
            words += &format!(", {} cm² per mL", fixed(per_ml, 2));
        }
        words
    }
}

/// A number with the true minus sign.
pub(crate) fn minus(value: f64, digits: usize) -> String {
    fixed(value, digits).replace('-', "−")
}

/// Whether a pool reaches a place on a centreline.
fn wets(pool: &Pool, place: Vector2<f64>, height: f64) -> bool {
    let holds = |shape: &Shape| section::contains(shape, place, WITHIN_MM);
    height <= pool.level && pool.wetted.iter().any(holds)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::geom::glass::MarkKind;
    use crate::geom::{Interior, Stance};
    use crate::model::sample;

    fn row(volume_ml: f64, stance: Stance) -> Vessel {
        let built = build(&sample::apparatus()).unwrap();
        let piece = built.names.iter().position(|name| name == "vial-2").unwrap();
        let marks = built.glass[piece].marks.iter();
        let plan = Plan {
            name: "vial-2".to_owned(),
            piece,
            target_ml: built.glass[piece].target_ml,
            seals: marks.filter(|m| m.kind == MarkKind::Seal).map(|m| m.at).collect(),
            always: true,
        };
        assert_eq!(plan.seals.len(), 1);
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        let posture = interior.at(stance);
        let settled = posture.settle(&[(piece, volume_ml * MM3_PER_ML)]);
        Vessel::of(&plan, &posture, stance, &posture.basins(), &settled).unwrap()
    }

    #[test]
    fn room_shrinks_as_the_level_rises_until_it_is_reached() {
        let upright = Stance::default();
        let (low, high) = (row(1.0, upright), row(1.5, upright));
        let rise = high.level_mm.unwrap() - low.level_mm.unwrap();
        assert!(rise > 0.0);
        assert!((low.room_mm.unwrap() - high.room_mm.unwrap() - rise).abs() < 1e-9);
        assert!(!high.seal_reached && !high.is_over() && !high.at_brim);
        let full = row(9.0, upright);
        assert!(full.seal_reached && full.room_mm.unwrap() < 0.0, "{full:?}");
        assert!(full.is_over() && full.words(LengthUnit::Millimetre).contains("over the target"));
        assert!(
            full.words(LengthUnit::Millimetre)
                .contains("stands at the seal-off place")
        );
    }

    #[test]
    fn a_dry_vessel_has_no_level_and_no_room() {
        let dry = row(0.0, Stance::default());
        assert_eq!((dry.level_mm, dry.room_mm, dry.surface_per_ml), (None, None, None));
        assert_eq!(dry.part(), Some(0.0));
        let inches = row(1.0, Stance::default()).words(LengthUnit::Inch);
        assert!(inches.contains(" in to the seal-off place"), "{inches}");
        assert_eq!(
            dry.words(LengthUnit::Millimetre).split(',').next(),
            Some("vial-2: 0.00 mL of 1.50 mL")
        );
    }

    #[test]
    fn a_vessel_that_has_run_over_stands_at_its_brim() {
        let stance = Stance::new(60.0, 0.0);
        let tilted = row(6.0, stance);
        assert!(tilted.at_brim, "{tilted:?}");
        assert!((tilted.volume_ml - tilted.brim_ml.unwrap()).abs() < 1e-6, "{tilted:?}");
        assert!(tilted.words(LengthUnit::Millimetre).contains("at its brim"));
    }

    #[test]
    fn surface_and_volume_give_their_ratio() {
        let row = row(1.2, Stance::new(10.0, 5.0));
        let ratio = row.free_surface_cm2.unwrap() / 1.2;
        assert!((row.surface_per_ml.unwrap() - ratio).abs() < 1e-9 * ratio, "{row:?}");
    }
}
