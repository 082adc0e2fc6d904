//! Entries as a plain list: caption at the left, control at the right, the reason of a refusal below.

use super::control;
use super::entry::{Entry, Kind};
use crate::app::field::{self, Field, SizeField, sentence};
use crate::app::picker::{Face, Picker};
use crate::app::session::Session;
use crate::app::theme;
use egui::{Align, Id, Layout, Rect, RichText, Ui, vec2};

/// Width of a field whose text may be long, as part of the line.
const WIDE: f32 = 0.6;

/// What can be done with the thing whose first line this is.
pub(super) struct Menu<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for assistive tools.
    pub label: &'a str,
    /// What can be done.
    pub choices: &'a [&'a str],
}

/// A line as it was shown.
pub(super) struct Line {
    /// Where it stands.
    pub rect: Rect,
    /// Whether its control is under the pointer or has the focus.
    pub is_hot: bool,
    /// Position of what was chosen from its menu.
    pub chosen: Option<usize>,
}

/// Shows a heading over the lines of one group.
pub(super) fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(6.0);
    ui.label(RichText::new(text).font(theme::heavy(12.5)));
}

/// Shows entries under the headings of their groups; gives the key of the one that is hot.
pub(super) fn grouped(ui: &mut Ui, session: &mut Session, entries: &[&Entry], lit: Option<&str>) -> Option<String> {
    let mut hot = None;
    let mut group = String::new();
    for entry in entries {
        let (head, detail) = entry.parts();
        if head != group {
            head.clone_into(&mut group);
            if !head.is_empty() {
                heading(ui, head);
            } else {
                ui.add_space(6.0);
            }
        }
        let is_lit = lit.is_some_and(|key| key == entry.aim.key());
        if show(ui, session, entry, (&sentence(detail), is_lit), None).is_hot {
            hot = Some(entry.aim.key().to_owned());
        }
    }
    hot.filter(|key| !key.is_empty())
}

/// Shows one entry.
pub(super) fn show(
    ui: &mut Ui,
    session: &mut Session,
    entry: &Entry,
    (caption, is_lit): (&str, bool),
    menu: Option<&Menu<'_>>,
) -> Line {
    let full = ui.available_width();
    let beside = if menu.is_some() { theme::TARGET + 4.0 } else { 0.0 };
    let width = match entry.kind {
        Kind::Number(_) => Field::WIDTH.min(full - beside - 60.0),
        Kind::Size => SizeField::WIDTH.min(full - beside - 52.0),
        Kind::Choice { .. } | Kind::Text => (full * WIDE - beside).max(Field::WIDTH.min(full - beside - 60.0)),
        Kind::Switch => full * WIDE - beside,
    };
    let mut hot = false;
    let mut chosen = None;
    let response = ui.horizontal(|ui| {
        ui.set_min_height(theme::TARGET);
        ui.spacing_mut().item_spacing.x = 4.0;
        let name_width = full - width - beside - 4.0;
        ui.allocate_ui_with_layout(
            vec2(name_width, theme::TARGET),
            Layout::left_to_right(Align::Center),
            |ui| {
                ui.set_min_width(name_width);
                // A switch carries its own words.
                if entry.kind != Kind::Switch {
                    ui.add(egui::Label::new(caption).truncate());
                }
            },
        );
        hot = ui
            .allocate_ui(control::size(width), |ui| {
                ui.set_min_width(width);
                let type_size = if width < SizeField::WIDTH && entry.kind == Kind::Size {
                    field::IN_DRAWING
                } else {
                    field::IN_LIST
                };
                control::show(ui, session, entry, width, (is_lit, type_size))
            })
            .inner
            .is_hot;
        if let Some(menu) = menu {
            let picker = Picker {
                id: menu.id,
                label: menu.label,
                face: Face::Dots,
                width: theme::TARGET,
                list_width: 190.0,
                is_searched: false,
                is_lit: false,
            };
            let choices = || (menu.choices.iter().map(|text| (*text).into()).collect(), None);
            chosen = picker.show(ui, choices).1;
        }
    });
    if let Some(refusal) = control::refusal(ui, session, entry) {
        control::say(ui, &refusal);
    }
    Line {
        rect: response.response.rect,
        is_hot: hot,
        chosen,
    }
}
