//! Why a change is refused, in words for the place where it was asked for, with lengths in the unit shown.

use crate::app::field::{limit_text, sentence};
use crate::model::EditError;
use crate::model::check::Wrong;
use crate::model::limits::{self, Unit};
use crate::units::LengthUnit;

/// The reason as a sentence: the piece and key are those of the field itself and need not be told.
pub(crate) fn of(error: &EditError, unit: LengthUnit) -> String {
    match error {
        EditError::OutOfLimit { limit, .. } => format!("Must be {}.", limit_text(limit, unit)),
        EditError::Fault(fault) => of_wrong(&fault.wrong, unit),
        other => sentence(&other.to_string()) + ".",
    }
}

fn of_wrong(wrong: &Wrong, unit: LengthUnit) -> String {
    match wrong {
        Wrong::Range { limit, .. } => format!("The {} must be {}.", limit.label, limit_text(limit, unit)),
        Wrong::Count { count, limit } => match limit.unit {
            Unit::Count if *count == 0 => "It must not be empty.".to_owned(),
            _ => format!("{count} {}: no more than {} are possible.", limit.label, limit.max),
        },
        Wrong::Bore {
            od_mm,
            wall_mm,
            bore_mm,
        } => format!(
            "{} leaves a bore of {}; the least is {}.",
            unit.size_text(*od_mm, *wall_mm),
            unit.entered_text(*bore_mm),
            unit.entered_text(limits::BORE.min)
        ),
        Wrong::Bend {
            radius_mm,
            half_bore_mm,
        } => format!(
            "A bend radius of {} is less than half the bore, {}.",
            unit.entered_text(*radius_mm),
            unit.entered_text(*half_bore_mm)
        ),
        Wrong::NoRoom { length_mm, wall_mm } => format!(
            "A length of {} leaves no room inside walls of {}.",
            unit.entered_text(*length_mm),
            unit.entered_text(*wall_mm)
        ),
        Wrong::Text(_) => "Line breaks and outer blanks are not possible.".to_owned(),
        other => sentence(&other.to_string()) + ".",
    }
}

/// Why a value is not taken that no edit can be made of.
pub(super) fn no_edit() -> String {
    "That is not possible here.".to_owned()
}
