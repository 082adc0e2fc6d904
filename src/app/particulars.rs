//! The particulars of the selected piece: every number a field, grouped as the glass is made.

use super::field::{self, Change, Field};
use super::session::Session;
use super::theme;
use crate::model::limits::{self, Limit, Unit};
use crate::model::{Apparatus, Edit, EditError, FittingKind, Form, Seat};
use crate::units::{self, Quantity};
use egui::{Align, ComboBox, Id, Layout, RichText, ScrollArea, Ui};

/// A number that can be edited here.
struct Entry {
    /// Piece or row that it belongs to.
    owner: String,
    /// Key within the owner; `None` for the liquid given to the piece.
    key: Option<String>,
    /// Full name, `Group: detail`.
    label: String,
    value: f64,
    limit: &'static Limit,
}

impl Entry {
    fn edit(&self, value: f64) -> Edit {
        match &self.key {
            Some(key) => Edit::Set {
                piece: self.owner.clone(),
                key: key.clone(),
                value,
            },
            None => Edit::Fill {
                piece: self.owner.clone(),
                volume_ml: value,
            },
        }
    }

    fn id(&self) -> Id {
        Id::unique("particular").with(&self.owner).with(&self.key)
    }

    /// Words for the history.
    fn words(&self) -> String {
        format!("{} of {}", self.label, self.owner)
    }
}

/// Shows the choice of piece, what the chosen one is, and below, scrolling, its numbers.
pub(crate) fn show(ui: &mut Ui, session: &mut Session) {
    choice(ui, session);
    let quiet = theme::of(ui).quiet;
    let Some(name) = session.selection.shown().map(str::to_owned) else {
        ui.add_space(6.0);
        let words = "Choose a piece here, on the bench or in the ledger to see and change its numbers.";
        ui.label(RichText::new(words).color(quiet));
        return;
    };
    let apparatus = session.document.now().clone();
    ui.label(RichText::new(describe(&apparatus, &name)).color(quiet));
    membership(ui, session, &apparatus, &name);
    ScrollArea::vertical()
        .id_salt("particulars")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            let mut group = String::new();
            for entry in entries(&apparatus, &name) {
                let (head, detail) = entry.label.split_once(": ").unwrap_or(("", &entry.label));
                if head != group {
                    group = head.to_owned();
                    ui.add_space(6.0);
                    if !group.is_empty() {
                        ui.label(RichText::new(&group).font(theme::heavy(12.5)));
                    }
                }
                line(ui, session, &entry, detail);
            }
            ui.add_space(8.0);
        });
}

/// The list of all pieces.
fn choice(ui: &mut Ui, session: &mut Session) {
    let names = session.document.now().names();
    ui.horizontal(|ui| {
        let label = ui.label("Piece");
        let text = session.selection.shown().unwrap_or("None").to_owned();
        let shown = ComboBox::from_id_salt("piece")
            .selected_text(RichText::new(text).font(theme::heavy(13.5)))
            .width(ui.available_width() - 8.0)
            .height(360.0)
            .show_ui(ui, |ui| {
                for name in names {
                    let selected = session.selection.contains(&name);
                    if ui.selectable_label(selected, &name).clicked() {
                        session.selection.only(&name);
                    }
                }
            });
        shown.response.labelled_by(label.id);
    });
}

/// What a piece is and where it stands, in words.
fn describe(apparatus: &Apparatus, name: &str) -> String {
    let Some(piece) = apparatus.find(name) else {
        return String::new();
    };
    let kind = match &piece.form {
        Form::Tube(_) => "Tube",
        Form::Bulb(_) => "Bulb",
        Form::Bridge(_) => "Bridge",
        Form::Ampoule(_) => "Ampoule",
        Form::Fitting(fitting) => match fitting.kind {
            FittingKind::VacuumPort => "Vacuum port",
            FittingKind::GasPort => "Gas port",
            FittingKind::Stopcock { open: true } => "Stopcock, open",
            FittingKind::Stopcock { open: false } => "Stopcock, closed",
            FittingKind::Joint { stoppered: true, .. } => "Ground joint, stoppered",
            FittingKind::Joint { stoppered: false, .. } => "Ground joint, open",
            FittingKind::Cap => "Cap",
        },
    };
    let place = match &piece.seat {
        Seat::Free { .. } => "stands free".to_owned(),
        Seat::On(place) => format!("on {}, {} mm from its start", place.host, tidy(place.at_mm)),
        Seat::Between { from, to } => format!("from {} to {}", from.host, to.host),
    };
    format!("{kind}, {place}")
}

/// Whether a member goes with its row, and the button that changes it.
fn membership(ui: &mut Ui, session: &mut Session, apparatus: &Apparatus, name: &str) {
    let Some((row, member)) = apparatus.member(name) else {
        return;
    };
    let (words, button, edit) = if row.departs(member) {
        let words = format!("Differs from the other members of {}.", row.name);
        (
            words,
            "Return to the row",
            Edit::Rejoin {
                member: name.to_owned(),
            },
        )
    } else {
        let words = format!("Changes apply to all {} members of {}.", row.count, row.name);
        (
            words,
            "Change this one only",
            Edit::Depart {
                member: name.to_owned(),
            },
        )
    };
    ui.label(RichText::new(words).color(theme::of(ui).quiet));
    if ui.button(button).clicked()
        && let Ok(next) = session.document.settled().apply(&edit)
    {
        session.document.change(&edit.words(), next);
    }
}

/// All numbers of a piece; those of its row follow a member's own.
fn entries(apparatus: &Apparatus, name: &str) -> Vec<Entry> {
    let numbers = |owner: &str| {
        let owner = owner.to_owned();
        let list = apparatus.parameters(&owner).unwrap_or_default();
        list.into_iter().map(move |p| Entry {
            owner: owner.clone(),
            key: Some(p.key),
            label: p.label,
            value: p.value,
            limit: p.limit,
        })
    };
    let given = apparatus
        .charge
        .fills
        .iter()
        .filter(|fill| fill.piece == name)
        .map(|fill| fill.volume_ml)
        .sum();
    let mut list = vec![Entry {
        owner: name.to_owned(),
        key: None,
        label: "Liquid: given".to_owned(),
        value: given,
        limit: &limits::FILL,
    }];
    list.extend(numbers(name));
    if let Some((row, _)) = apparatus.member(name) {
        // The pattern's numbers are the member's own, above.
        let own: Vec<_> = list.iter().filter_map(|entry| entry.key.clone()).collect();
        let of_row = numbers(&row.name).filter(|entry| {
            let key = entry.key.as_deref().unwrap_or_default();
            !own.iter().any(|own| key.ends_with(own.as_str()))
        });
        list.extend(of_row.map(|entry| Entry {
            label: row_label(&entry.label),
            ..entry
        }));
    }
    list
}

/// Puts a row's numbers under one heading.
fn row_label(label: &str) -> String {
    format!("Row: {}", label.replacen(": ", ", ", 1).to_lowercase())
}

fn line(ui: &mut Ui, session: &mut Session, entry: &Entry, detail: &str) {
    let id = entry.id();
    let mut change = None;
    ui.horizontal(|ui| {
        ui.set_min_height(theme::TARGET);
        let name_width = ui.available_width() - Field::WIDTH - 8.0;
        ui.allocate_ui_with_layout(
            egui::vec2(name_width, theme::TARGET),
            Layout::left_to_right(Align::Center),
            |ui| {
                ui.set_min_width(name_width);
                ui.add(egui::Label::new(sentence(detail)).truncate());
            },
        );
        let field = Field {
            id,
            label: &entry.label,
            value: entry.value,
            unit: symbol(entry.limit.unit),
            digits: digits(entry.limit.unit, entry.value),
            step: entry.limit.step,
            range: (entry.limit.min, entry.limit.max),
        };
        change = field.show(ui, |text| read(text, entry.limit.unit));
    });
    match change {
        Some(Change::Preview(value)) => match session.document.settled().apply(&entry.edit(value)) {
            Ok(next) => {
                session.document.preview(next);
                field::forget(ui, id);
            }
            Err(error) => field::answer(ui, id, Some(reason(&error)), value, entry.value),
        },
        Some(Change::Keep) => {
            session.document.keep(&entry.words());
            field::forget(ui, id);
        }
        Some(Change::Set(value)) => match session.document.settled().apply(&entry.edit(value)) {
            Ok(next) => {
                session.document.change(&entry.words(), next);
                field::forget(ui, id);
            }
            Err(error) => field::answer(ui, id, Some(reason(&error)), value, entry.value),
        },
        None => {}
    }
    if let Some(refusal) = field::refusal(ui, id, entry.value) {
        ui.label(
            RichText::new(refusal)
                .font(theme::plain(12.0))
                .color(theme::of(ui).stop),
        );
    }
}

/// The reason for people: the piece and key are those of the field itself and need not be told.
pub(crate) fn reason(error: &EditError) -> String {
    match error {
        EditError::OutOfLimit { limit, .. } => format!("Must be {limit}.").replace(" deg", "°"),
        EditError::Fault(fault) => sentence(&fault.wrong.to_string()) + ".",
        other => sentence(&other.to_string()) + ".",
    }
}

fn read(text: &str, unit: Unit) -> Result<f64, String> {
    let quantity = match unit {
        Unit::Mm => Quantity::Length,
        Unit::Deg => Quantity::Angle,
        Unit::Ml => Quantity::Volume,
        Unit::Count => Quantity::Number,
    };
    units::parse(text, quantity).map_err(|error| sentence(&error.to_string()) + ".")
}

/// Symbol of a unit on the screen.
pub(crate) fn symbol(unit: Unit) -> &'static str {
    if unit == Unit::Deg { "°" } else { unit.symbol() }
}

/// No more digits than a value deserves: a second one only where it was entered.
pub(crate) fn digits(unit: Unit, value: f64) -> usize {
    let tenths = (value * 10.0 - (value * 10.0).round()).abs() < 1e-6;
    match unit {
        Unit::Count => 0,
        Unit::Ml => 2,
        Unit::Mm | Unit::Deg => 2 - usize::from(tenths),
    }
}

fn tidy(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
