//! Fields that hold a number: a plain one, and one of the design with its limit, in the unit in which it is shown.

use super::{Cell, Deed, IN_LIST, Shown, refuse};
use crate::model::limits::{Limit, Unit};
use crate::units::{self, LengthUnit, Quantity};
use egui::accesskit::{Action, ActionData, Node, Role};
use egui::{Id, Ui};

/// A drag over so many points changes as much as one arrow key.
const POINTS_A_STEP: f64 = 4.0;

/// What the user did to a number in this frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Change {
    /// The value is being dragged: show it, but it is not final.
    Preview(f64),
    /// The drag is over.
    Keep,
    /// A final value: typed, stepped, or set by an assistive tool.
    Set(f64),
}

/// A number field in a unit of its own.
pub(crate) struct Field<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// The value shown.
    pub value: f64,
    /// Symbol of the unit, empty if it has none.
    pub unit: &'a str,
    /// Digits after the point.
    pub digits: usize,
    /// Change for one arrow key; a drag over four points changes as much.
    pub step: f64,
    /// Least and greatest value.
    pub range: (f64, f64),
}

impl Field<'_> {
    /// Width of every field, so that numbers stand in one column, points.
    pub(crate) const WIDTH: f32 = 104.0;

    /// Shows the field. `parse` turns typed text into a value in the field's unit or says why it can't.
    pub(crate) fn show(self, ui: &mut Ui, parse: impl Fn(&str) -> Result<f64, String>) -> Option<Change> {
        let spin = Spin {
            id: self.id,
            label: self.label,
            value: Some(self.value),
            unit: self.unit,
            digits: self.digits,
            step: self.step,
            range: self.range,
            shown_in: LengthUnit::Millimetre,
            width: Self::WIDTH,
            is_lit: false,
            hint: String::new(),
            type_size: IN_LIST,
        };
        spin.show(ui, parse).change
    }
}

/// A number of the design.
pub(crate) struct Number<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// The value in the limit's unit; `None` where several pieces differ.
    pub value: Option<f64>,
    /// Its limit.
    pub limit: &'static Limit,
    /// The unit in which lengths are shown.
    pub length_unit: LengthUnit,
    /// Width, points.
    pub width: f32,
    /// Whether its place in the drawing is pointed at.
    pub is_lit: bool,
    /// Size of the type, points.
    pub type_size: f32,
}

impl Number<'_> {
    /// Shows the field; changes are in the limit's unit.
    pub(crate) fn show(self, ui: &mut Ui) -> Shown<Change> {
        let limit = self.limit;
        let is_length = limit.unit == Unit::Mm;
        let shown_in = if is_length {
            self.length_unit
        } else {
            LengthUnit::Millimetre
        };
        let spin = Spin {
            id: self.id,
            label: self.label,
            value: self.value,
            unit: symbol(limit.unit, self.length_unit),
            digits: digits(limit.unit, self.length_unit, self.value.unwrap_or_default()),
            // A twentieth of an inch is about a millimetre.
            step: match shown_in {
                LengthUnit::Millimetre => limit.step,
                LengthUnit::Inch => limit.step / 20.0,
            },
            range: (limit.min, limit.max),
            shown_in,
            width: self.width,
            is_lit: self.is_lit,
            hint: hint(limit, self.length_unit, self.value),
            type_size: self.type_size,
        };
        spin.show(ui, |text| read(text, limit.unit, shown_in))
    }
}

/// Reads a number typed for a value of this unit.
///
/// # Errors
/// The reason against it as a sentence.
pub(crate) fn read(text: &str, unit: Unit, length_unit: LengthUnit) -> Result<f64, String> {
    let value = match unit {
        Unit::Mm => length_unit.parse(text),
        Unit::Deg => units::parse(text, Quantity::Angle),
        Unit::Ml => units::parse(text, Quantity::Volume),
        Unit::Count => units::parse(text, Quantity::Number),
    };
    value.map_err(|error| sentence(&error.to_string()) + ".")
}

fn symbol(unit: Unit, length_unit: LengthUnit) -> &'static str {
    match unit {
        Unit::Mm => length_unit.symbol(),
        Unit::Deg => "°",
        Unit::Ml | Unit::Count => unit.symbol(),
    }
}

/// No more digits than a value deserves: a second one of an angle only where it was entered.
fn digits(unit: Unit, length_unit: LengthUnit, value: f64) -> usize {
    match unit {
        Unit::Count => 0,
        Unit::Ml => 2,
        Unit::Mm => length_unit.digits_of(value),
        Unit::Deg => LengthUnit::Millimetre.digits_of(value),
    }
}

/// A value of the design with its unit, as the field would show it.
pub(crate) fn value_text(value: f64, unit: Unit, length_unit: LengthUnit) -> String {
    match unit {
        Unit::Mm => length_unit.entered_text(value),
        Unit::Deg => format!("{}°", LengthUnit::Millimetre.entered_number(value)),
        Unit::Ml | Unit::Count => {
            let number = units::fixed(value, digits(unit, length_unit, value)).replace('-', "−");
            format!("{number} {}", unit.symbol()).trim_end().to_owned()
        }
    }
}

/// A limit's two values with their unit, such as `0.5 to 5000 mm`.
pub(crate) fn limit_text(limit: &Limit, length_unit: LengthUnit) -> String {
    let bound = |value: f64| {
        let text = match (limit.unit, length_unit) {
            (Unit::Mm, LengthUnit::Inch) => units::fixed(LengthUnit::Inch.from_mm(value), 3),
            _ => value.to_string(),
        };
        text.replace('-', "−")
    };
    match limit.unit {
        Unit::Deg => format!("{}° to {}°", bound(limit.min), bound(limit.max)),
        Unit::Count => format!("{} to {}", bound(limit.min), bound(limit.max)),
        unit => format!(
            "{} to {} {}",
            bound(limit.min),
            bound(limit.max),
            symbol(unit, length_unit)
        ),
    }
}

/// The limits, and the value with more digits where it has them.
fn hint(limit: &Limit, length_unit: LengthUnit, value: Option<f64>) -> String {
    let mut hint = format!("From {}", limit_text(limit, length_unit));
    if limit.unit == Unit::Deg {
        hint += ", anticlockwise positive";
    }
    let Some(value) = value else { return hint };
    let shown = units::fixed(value, digits(limit.unit, LengthUnit::Millimetre, value));
    let exact = units::fixed(value, 4);
    let exact = exact.trim_end_matches('0').trim_end_matches('.');
    let is_inch = limit.unit == Unit::Mm && length_unit == LengthUnit::Inch;
    if is_inch || shown.trim_end_matches('0').trim_end_matches('.') != exact {
        let symbol = symbol(limit.unit, LengthUnit::Millimetre);
        let space = if symbol == "°" { "" } else { " " };
        hint += &format!("\nNow {}{space}{symbol}", exact.replace('-', "−"));
    }
    hint
}

/// A text as a sentence: its first letter large.
pub(crate) fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// What both kinds of number field share. The value is stored in one unit and shown in another.
struct Spin<'a> {
    id: Id,
    label: &'a str,
    value: Option<f64>,
    unit: &'a str,
    digits: usize,
    /// In the unit shown.
    step: f64,
    range: (f64, f64),
    shown_in: LengthUnit,
    width: f32,
    is_lit: bool,
    hint: String,
    type_size: f32,
}

impl Spin<'_> {
    fn show(self, ui: &mut Ui, parse: impl Fn(&str) -> Result<f64, String>) -> Shown<Change> {
        let start_id = self.id.with("start");
        let stands = self.stands();
        let cell = Cell {
            id: self.id,
            label: self.label,
            text: self.value.map(|value| self.number(value)),
            unit: self.unit,
            stands: stands.clone(),
            width: self.width,
            // What differs has no value to start from.
            drags: self.value.is_some(),
            steps: self.value.is_some(),
            from_left: false,
            is_lit: self.is_lit,
            hint: self.hint.clone(),
            type_size: self.type_size,
        };
        let shown = cell.show(ui, Role::SpinButton, |node| self.describe(node));
        let change = match shown.change {
            Some(Deed::Typed(text)) => match parse(&text) {
                Ok(value) => Some(Change::Set(value)),
                Err(reason) => {
                    refuse(ui, self.id, reason, Some(text), stands);
                    None
                }
            },
            Some(Deed::Stepped(steps)) => self.stepped(steps).map(Change::Set),
            Some(Deed::Held) => {
                ui.data_mut(|data| data.insert_temp(start_id, self.value));
                None
            }
            Some(Deed::Dragged(points)) => {
                let start = ui.data(|data| data.get_temp::<Option<f64>>(start_id));
                start.flatten().and_then(|start| self.dragged(start, points))
            }
            Some(Deed::LetGo) => Some(Change::Keep),
            None => self.asked_by_tool(ui),
        };
        Shown {
            change,
            rect: shown.rect,
            is_hot: shown.is_hot,
        }
    }

    fn stands(&self) -> String {
        self.value.map(|value| value.to_string()).unwrap_or_default()
    }

    /// A value without its unit.
    fn number(&self, value: f64) -> String {
        units::fixed(self.shown_in.from_mm(value), self.digits).replace('-', "−")
    }

    fn dragged(&self, start: f64, points: f64) -> Option<Change> {
        let raw = self.shown_in.from_mm(start) + points / POINTS_A_STEP * self.step;
        let unit = 10_f64.powi(i32::try_from(self.digits).unwrap_or(0));
        let value = self.nearest(self.shown_in.to_mm((raw * unit).round() / unit));
        (self.value != Some(value)).then_some(Change::Preview(value))
    }

    fn stepped(&self, steps: f64) -> Option<f64> {
        let from = self.shown_in.from_mm(self.value?);
        Some(self.nearest(self.shown_in.to_mm(from + steps * self.step)))
    }

    fn nearest(&self, value: f64) -> f64 {
        value.clamp(self.range.0, self.range.1)
    }

    /// What an assistive tool asked for.
    fn asked_by_tool(&self, ui: &Ui) -> Option<Change> {
        let (step, set) = ui.input(|input| {
            let up = input.num_accesskit_action_requests(self.id, Action::Increment);
            let down = input.num_accesskit_action_requests(self.id, Action::Decrement);
            let set = input
                .accesskit_action_requests(self.id, Action::SetValue)
                .find_map(|request| match request.data {
                    Some(ActionData::NumericValue(value)) => Some(value),
                    _ => None,
                });
            (up as f64 - down as f64, set)
        });
        let asked = set.map(|value| self.shown_in.to_mm(value));
        let stepped = if step == 0.0 { None } else { self.stepped(step) };
        asked.or(stepped).map(Change::Set)
    }

    fn describe(&self, node: &mut Node) {
        if let Some(value) = self.value {
            node.set_numeric_value(self.shown_in.from_mm(value));
        }
        if self.range.0.is_finite() && self.range.1.is_finite() {
            node.set_min_numeric_value(self.shown_in.from_mm(self.range.0));
            node.set_max_numeric_value(self.shown_in.from_mm(self.range.1));
        }
        node.set_numeric_value_step(self.step);
        node.add_action(Action::SetValue);
        node.add_action(Action::Increment);
        node.add_action(Action::Decrement);
    }
}
