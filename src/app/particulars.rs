//! The particulars of what is selected: everything that can be changed about it, at its place in a section of the
//! real glass where there is room for one, otherwise as a list.

mod aim;
mod along;
mod control;
mod course;
mod entry;
mod lines;
mod reason;
mod section;
mod sheet;
mod whole;

use super::picker::{Choice, Face, Picker};
use super::session::Session;
use super::theme;
use crate::model::{Apparatus, Edit, EditError, FittingKind, Form, Seat};
use crate::out::drawing::Drawing;
use crate::units::LengthUnit;
use egui::{Id, RichText, ScrollArea, Ui};
use entry::{Entry, Part};
use section::Section;

/// Least height for a section with fields beside it, points.
const ROOM: f32 = 120.0;
/// Least height for a section above a list, points.
const ROOM_ABOVE: f32 = 230.0;
/// Least width for a section with fields at both sides, points.
const BREADTH: f32 = 250.0;

/// Why a change is refused, as a sentence for the place where it was asked for.
pub(crate) fn refusal(error: &EditError, unit: LengthUnit) -> String {
    reason::of(error, unit)
}

/// Shows the choice of piece, what the chosen one is, and below, scrolling, what can be changed about it.
pub(crate) fn show(ui: &mut Ui, session: &mut Session, drawing: Option<&Drawing>) {
    choice(ui, session);
    let apparatus = session.document.now().clone();
    let names = session.selection.names().to_vec();
    if let Some(first) = names.first() {
        let words = match names.len() {
            1 => describe(&apparatus, first, session.length_unit),
            count => format!("{count} pieces, changed together."),
        };
        ui.label(RichText::new(words).color(theme::of(ui).quiet));
        membership(ui, session, &apparatus, &names);
    }
    let height = ui.available_height();
    let has_room = height >= ROOM && ui.available_width() >= BREADTH;
    // Each selection starts at the top.
    ScrollArea::vertical()
        .id_salt(("particulars", &names))
        .auto_shrink([false, false])
        .show(ui, |ui| {
            if names.is_empty() {
                return whole::show(ui, session);
            }
            ui.add_space(4.0);
            let entries = entry::of_pieces(&apparatus, &names);
            let shown = session.selection.shown().map(str::to_owned);
            let section = match (drawing, &shown) {
                (Some(drawing), Some(name)) if has_room && are_alike(&apparatus, &names) => {
                    Section::of(drawing, &apparatus, name)
                }
                _ => None,
            };
            let form: Vec<&Entry> = entries.iter().filter(|entry| entry.part == Part::Form).collect();
            form_of_glass(ui, session, &apparatus, &form, (section.as_ref(), height));
            for part in [Part::Place, Part::Row, Part::Liquid, Part::Name] {
                let own: Vec<&Entry> = entries.iter().filter(|entry| entry.part == part).collect();
                lines::grouped(ui, session, &own, None);
            }
            ui.add_space(8.0);
        });
}

/// What the pieces are made of: with a section if there is one.
fn form_of_glass(
    ui: &mut Ui,
    session: &mut Session,
    apparatus: &Apparatus,
    entries: &[&Entry],
    (section, height): (Option<&Section<'_>>, f32),
) {
    let form = session
        .selection
        .shown()
        .and_then(|name| apparatus.find(name))
        .map(|piece| piece.form);
    match (form, section) {
        (Some(form @ (Form::Tube(_) | Form::Bridge(_))), Some(section)) => {
            let is_level = matches!(form, Form::Bridge(_));
            if along::is_beside(section, is_level) || height >= ROOM_ABOVE {
                along::show(ui, session, section, entries, is_level);
            } else {
                course::show(ui, session, entries, None);
            }
        }
        (Some(Form::Tube(_) | Form::Bridge(_)), None) => {
            course::show(ui, session, entries, None);
        }
        (Some(_), Some(section)) => {
            let rest = sheet::show(ui, session, section, entries);
            lines::grouped(ui, session, &rest, None);
        }
        (_, None) => {
            lines::grouped(ui, session, entries, None);
        }
        (None, Some(_)) => {}
    }
}

/// Whether all are of one kind, so that one section stands for all.
fn are_alike(apparatus: &Apparatus, names: &[String]) -> bool {
    let mut kinds = names
        .iter()
        .filter_map(|name| apparatus.find(name))
        .map(|piece| std::mem::discriminant(&piece.form));
    let first = kinds.next();
    kinds.all(|kind| Some(kind) == first)
}

/// The list of all pieces.
fn choice(ui: &mut Ui, session: &mut Session) {
    let text = match session.selection.names() {
        [] => "None".to_owned(),
        [name] => name.clone(),
        names => format!("{} pieces", names.len()),
    };
    ui.horizontal(|ui| {
        ui.heading("Particulars");
        let width = ui.available_width();
        let picker = Picker {
            id: Id::unique("piece"),
            label: "Piece",
            face: Face::Box(&text),
            width,
            list_width: width,
            is_searched: true,
            is_lit: false,
        };
        let names = session.document.now().names();
        let shown = session.selection.shown();
        let (_, chosen) = picker.show(ui, || {
            let choices = names.iter().map(|name| Choice::from(name.as_str())).collect();
            (choices, names.iter().position(|name| Some(name.as_str()) == shown))
        });
        if let Some(name) = chosen.and_then(|i| names.get(i)) {
            session.selection.only(name);
        }
    });
}

/// What a piece is and where it stands, in words.
fn describe(apparatus: &Apparatus, name: &str, unit: LengthUnit) -> String {
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
        Seat::On(place) => format!("on {}, {} from its start", place.host, unit.entered_text(place.at_mm)),
        Seat::Between { from, to } => format!("from {} to {}", from.host, to.host),
    };
    format!("{kind}, {place}")
}

/// Whether members go with their rows, and the button that changes it.
fn membership(ui: &mut Ui, session: &mut Session, apparatus: &Apparatus, names: &[String]) {
    let members: Vec<_> = names
        .iter()
        .filter_map(|name| apparatus.member(name).map(|(row, member)| (name, row, member)))
        .collect();
    let Some((_, row, _)) = members.first() else { return };
    let departed: Vec<_> = members.iter().filter(|(_, row, member)| row.departs(*member)).collect();
    let is_one = names.len() == 1;
    let rejoin = |name: &str| Edit::Rejoin {
        member: name.to_owned(),
    };
    let depart = |name: &str| Edit::Depart {
        member: name.to_owned(),
    };
    let (words, button, edits): (String, &str, Vec<Edit>) = if departed.is_empty() {
        let is_whole = members.len() == row.count && !is_one;
        let words = if is_whole {
            String::new()
        } else {
            format!("Shared by all {}.", row.count)
        };
        let button = if is_one {
            "Change this one only"
        } else {
            "Change these only"
        };
        (words, button, members.iter().map(|(name, ..)| depart(name)).collect())
    } else {
        let words = if is_one {
            format!("Differs from {}.", row.name)
        } else {
            format!("{} of them differ from their row.", departed.len())
        };
        (
            words,
            "Return to the row",
            departed.iter().map(|(name, ..)| rejoin(name)).collect(),
        )
    };
    let is_asked = ui.horizontal_wrapped(|ui| {
        if !words.is_empty() {
            ui.label(RichText::new(words).color(theme::of(ui).quiet));
        }
        ui.button(button).clicked()
    });
    if !is_asked.inner {
        return;
    }
    let words = match edits.as_slice() {
        [edit] => edit.words(),
        edits if departed.is_empty() => format!("Let {} members depart", edits.len()),
        edits => format!("Return {} members to their row", edits.len()),
    };
    let start = session.document.settled().clone();
    if let Ok(next) = edits.iter().try_fold(start, |next, edit| next.apply(edit)) {
        session.document.change(&words, next);
    }
}
