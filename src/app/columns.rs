//! The columns of the ledger: what each shows, in which order it puts the vessels, and which are shown together.

use super::vessel::{Vessel, minus};
use crate::units::LengthUnit;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;

/// A column of the ledger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Column {
    /// Name of the vessel.
    Name,
    /// What it holds.
    Volume,
    /// That as a part of the target.
    Part,
    /// Level of the liquid.
    Level,
    /// Room to the seal-off place.
    Room,
    /// Volume at the brim.
    Brim,
    /// Volume wanted.
    Target,
    /// Free surface.
    Surface,
    /// Free surface for each millilitre.
    PerMl,
}

impl Column {
    /// Name and unit at the head.
    pub(crate) fn head(self, unit: LengthUnit) -> (&'static str, &'static str) {
        match self {
            Self::Name => ("Vessel", ""),
            Self::Volume => ("Volume", "mL"),
            Self::Part => ("Filled", "%"),
            Self::Level => ("Level", unit.symbol()),
            Self::Room => ("To seal", unit.symbol()),
            Self::Brim => ("Brim", "mL"),
            Self::Target => ("Target", "mL"),
            Self::Surface => ("Surface", "cm²"),
            Self::PerMl => ("Per mL", "cm²/mL"),
        }
    }

    /// What it means, at this stance.
    pub(crate) fn meaning(self) -> &'static str {
        match self {
            Self::Name => "The vessels, and other pieces while they hold liquid",
            Self::Volume => "What it holds",
            Self::Part => "What it holds as a part of its target",
            Self::Level => "Level above the lowest place of its hollow",
            Self::Room => {
                "Room to the seal-off place: straight up from the level, as the glass is held now; wet when liquid stands there"
            }
            Self::Brim => "What it holds before it runs over, as the glass is held now",
            Self::Target => "The volume wanted",
            Self::Surface => "Free surface of the liquid",
            Self::PerMl => "Free surface for each millilitre of liquid",
        }
    }

    fn value(self, vessel: &Vessel, unit: LengthUnit) -> Option<f64> {
        match self {
            Self::Name => None,
            Self::Volume => Some(vessel.volume_ml),
            Self::Part => vessel.part().map(|part| 100.0 * part),
            Self::Level => vessel.level_mm.map(|mm| unit.from_mm(mm)),
            Self::Room => vessel.room_mm.map(|mm| unit.from_mm(mm)),
            Self::Brim => vessel.brim_ml,
            Self::Target => vessel.target_ml,
            Self::Surface => vessel.free_surface_cm2,
            Self::PerMl => vessel.surface_per_ml,
        }
    }

    /// What stands in the row of a vessel; `None` where there is no such number.
    pub(crate) fn text(self, vessel: &Vessel, unit: LengthUnit) -> Option<String> {
        if self == Self::Name {
            return Some(vessel.name.clone());
        }
        if self == Self::Room && vessel.seal_reached {
            return Some("wet".to_owned());
        }
        let digits = self.digits(unit);
        if let (Self::Volume, Some((least, most))) = (self, vessel.band_ml) {
            return Some(format!("{}–{}", minus(least, digits), minus(most, digits)));
        }
        self.value(vessel, unit).map(|value| minus(value, digits))
    }

    /// Digits after the point that its numbers deserve.
    fn digits(self, unit: LengthUnit) -> usize {
        match self {
            Self::Name | Self::Part => 0,
            Self::Level | Self::Room => unit.digits(),
            Self::Volume | Self::Brim | Self::Target | Self::Surface | Self::PerMl => 2,
        }
    }

    /// Its width, as against that of others.
    pub(crate) fn weight(self) -> f32 {
        match self {
            Self::Level => 0.85,
            Self::Target => 0.9,
            Self::Volume => 0.95,
            Self::Name => 1.0,
            // Signs stand before some of these numbers, and the head of one is long.
            Self::Part => 1.02,
            Self::Room => 1.08,
            Self::Brim | Self::PerMl => 1.1,
            Self::Surface => 1.15,
        }
    }

    /// Which of two vessels comes first in rising order; what has no number comes last.
    fn compare(self, a: &Vessel, b: &Vessel, falling: bool, unit: LengthUnit) -> Ordering {
        let turned = |order: Ordering| if falling { order.reverse() } else { order };
        if self == Self::Name {
            return turned(by_name(&a.name, &b.name));
        }
        // As far as is shown: what looks alike is alike.
        let steps = (0..self.digits(unit)).fold(1.0, |steps, _| 10.0 * steps);
        let shown = |value: f64| (value * steps).round();
        match (self.value(a, unit), self.value(b, unit)) {
            (Some(a), Some(b)) => turned(shown(a).total_cmp(&shown(b))),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (None, None) => Ordering::Equal,
        }
    }
}

/// The order of names: numbers in them count as numbers, so that vial-2 comes before vial-10.
fn by_name(a: &str, b: &str) -> Ordering {
    let key = |name: &str| {
        let mut parts: Vec<(String, u64)> = Vec::new();
        let (mut letters, mut number) = (String::new(), String::new());
        for c in name.chars() {
            if c.is_ascii_digit() {
                number.push(c);
                continue;
            }
            if !number.is_empty() {
                parts.push((std::mem::take(&mut letters), number.parse().unwrap_or(u64::MAX)));
                number.clear();
            }
            letters.extend(c.to_lowercase());
        }
        parts.push((letters, number.parse().unwrap_or(0)));
        parts
    };
    key(a).cmp(&key(b)).then_with(|| a.cmp(b))
}

/// The order of the rows: that of the design, or that of a column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Sort {
    /// The column; the design's order when there is none.
    pub column: Option<Column>,
    /// Whether the greatest comes first.
    pub falling: bool,
}

impl Sort {
    /// What a click on the head of a column makes of it: rising, falling, and back to the design's order.
    pub(crate) fn after(self, clicked: Column) -> Self {
        match self {
            Self {
                column: Some(column),
                falling,
            } if column == clicked => Self {
                column: (!falling).then_some(clicked),
                falling: !falling,
            },
            _ => Self {
                column: Some(clicked),
                falling: false,
            },
        }
    }

    /// The rows in this order; equals stay in the design's.
    pub(crate) fn apply<'a>(&self, vessels: &'a [Vessel], unit: LengthUnit) -> Vec<&'a Vessel> {
        let mut rows: Vec<&Vessel> = vessels.iter().collect();
        if let Some(column) = self.column {
            rows.sort_by(|a, b| column.compare(a, b, self.falling, unit));
        }
        rows
    }
}

/// Columns of numbers that are shown together where there is no room for all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Choice {
    /// How full.
    #[default]
    Fill,
    /// How much surface.
    Surface,
}

impl Choice {
    /// Both.
    pub(crate) const ALL: [Self; 2] = [Self::Fill, Self::Surface];

    /// Its name.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Fill => "Fill",
            Self::Surface => "Surface",
        }
    }

    /// The columns of numbers, the most important first.
    pub(crate) fn columns(self, all: bool) -> &'static [Column] {
        use Column::{Brim, Level, Part, PerMl, Room, Surface, Target, Volume};
        match self {
            _ if all => &[Volume, Part, Target, Level, Room, Brim, Surface, PerMl],
            Self::Fill => &[Volume, Part, Level, Room, Brim],
            Self::Surface => &[Volume, Target, Brim, Surface, PerMl],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vessel(name: &str, volume_ml: f64, level_mm: Option<f64>) -> Vessel {
        Vessel {
            name: name.to_owned(),
            volume_ml,
            level_mm,
            target_ml: Some(2.0),
            ..Vessel::default()
        }
    }

    fn order(vessels: &[Vessel], column: Column, falling: bool) -> Vec<&str> {
        let sort = Sort {
            column: Some(column),
            falling,
        };
        sort.apply(vessels, LengthUnit::Millimetre)
            .into_iter()
            .map(|v| v.name.as_str())
            .collect()
    }

    #[test]
    fn rows_are_put_in_order_and_the_unknown_comes_last() {
        let rows = [
            vessel("vial-10", 1.0, Some(3.0)),
            vessel("vial-2", 2.5, None),
            vessel("pot", 1.0, Some(1.0)),
        ];
        assert_eq!(order(&rows, Column::Name, false), ["pot", "vial-2", "vial-10"]);
        assert_eq!(order(&rows, Column::Name, true), ["vial-10", "vial-2", "pot"]);
        assert_eq!(
            order(&rows, Column::Volume, false),
            ["vial-10", "pot", "vial-2"],
            "equals stay"
        );
        assert_eq!(order(&rows, Column::Part, true), ["vial-2", "vial-10", "pot"]);
        assert_eq!(order(&rows, Column::Level, false), ["pot", "vial-10", "vial-2"]);
        assert_eq!(order(&rows, Column::Level, true), ["vial-10", "pot", "vial-2"]);
        let design: Vec<&Vessel> = Sort::default().apply(&rows, LengthUnit::Millimetre);
        assert_eq!(design[0].name, "vial-10");
    }

    #[test]
    fn clicks_go_from_rising_to_falling_and_back() {
        let rising = Sort::default().after(Column::Brim);
        assert_eq!((rising.column, rising.falling), (Some(Column::Brim), false));
        let falling = rising.after(Column::Brim);
        assert!(falling.falling);
        assert_eq!(falling.after(Column::Brim), Sort::default());
        assert_eq!(falling.after(Column::Level).column, Some(Column::Level));
    }

    #[test]
    fn every_column_is_shown_in_one_choice_or_the_other() {
        let shown: Vec<Column> = Choice::ALL.iter().flat_map(|c| c.columns(false)).copied().collect();
        for column in Choice::Fill.columns(true) {
            assert!(shown.contains(column), "{column:?}");
        }
    }

    #[test]
    fn numbers_have_the_digits_they_deserve() {
        let mut row = vessel("a", 2.345, Some(-0.04));
        row.room_mm = Some(-3.21);
        let text = |row: &Vessel, column: Column| column.text(row, LengthUnit::Millimetre);
        assert_eq!(text(&row, Column::Volume).as_deref(), Some("2.35"));
        assert_eq!(text(&row, Column::Part).as_deref(), Some("117"));
        assert_eq!(text(&row, Column::Level).as_deref(), Some("0.0"));
        assert_eq!(text(&row, Column::Room).as_deref(), Some("−3.2"));
        assert_eq!(Column::Room.text(&row, LengthUnit::Inch).as_deref(), Some("−0.126"));
        row.seal_reached = true;
        assert_eq!(text(&row, Column::Room).as_deref(), Some("wet"));
        assert_eq!(text(&row, Column::Surface), None);
    }
}
