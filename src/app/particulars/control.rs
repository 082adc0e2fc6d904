//! The control of an entry, and how the document takes what it asks for: one step of the history, with words, or a
//! reason at the control itself.

use super::aim::{Aim, Value};
use super::entry::{Entry, Kind};
use super::reason;
use crate::app::field::{self, Change, Number, SizeChange, SizeField, TextField};
use crate::app::picker::{Face, Picker};
use crate::app::session::Session;
use crate::app::theme;
use crate::model::{Apparatus, TubeSize};
use egui::accesskit::Toggled;
use egui::{Id, Rect, RichText, Ui, Widget, vec2};

/// Least width of a list that drops from a control, points.
const LIST_WIDTH: f32 = 190.0;

/// A control as it was shown.
pub(super) struct Seen {
    /// Where it stands.
    pub rect: Rect,
    /// Whether it is under the pointer or has the focus.
    pub is_hot: bool,
}

/// What a control asks for.
enum Ask {
    Preview(Value),
    Keep,
    Set(Value),
}

/// The id of an entry's control.
pub(super) fn id_of(entry: &Entry) -> Id {
    Id::unique("particular").with(&entry.owners).with(&entry.aim)
}

/// Shows the control and carries out what it asks for. `is_lit`: its place in the drawing is pointed at; `type_size`:
/// size of its type, points.
pub(super) fn show(
    ui: &mut Ui,
    session: &mut Session,
    entry: &Entry,
    width: f32,
    (is_lit, type_size): (bool, f32),
) -> Seen {
    let id = id_of(entry);
    let unit = session.length_unit;
    let (seen, ask) = match (&entry.kind, &entry.value) {
        (Kind::Number(limit), value) => {
            let number = Number {
                id,
                label: &entry.label,
                value: match value {
                    Some(Value::Number(value)) => Some(*value),
                    _ => None,
                },
                limit,
                length_unit: unit,
                width,
                is_lit,
                type_size,
            };
            let shown = number.show(ui);
            let ask = shown.change.map(|change| match change {
                Change::Preview(value) => Ask::Preview(Value::Number(value)),
                Change::Keep => Ask::Keep,
                Change::Set(value) => Ask::Set(Value::Number(value)),
            });
            let seen = Seen {
                rect: shown.rect,
                is_hot: shown.is_hot,
            };
            (seen, ask)
        }
        (Kind::Size, value) => {
            let size = SizeField {
                id,
                label: &entry.label,
                value: match value {
                    Some(Value::Size(size)) => Some(*size),
                    _ => None,
                },
                apparatus: session.document.now(),
                length_unit: unit,
                width,
                is_lit,
                type_size,
            };
            let shown = size.show(ui);
            let ask = shown.change.map(|change| match change {
                SizeChange::Preview(size) => Ask::Preview(Value::Size(size)),
                SizeChange::Keep => Ask::Keep,
                SizeChange::Set(size) => Ask::Set(Value::Size(size)),
                SizeChange::SetDiameter(od_mm) => Ask::Set(Value::Diameter(od_mm)),
            });
            let seen = Seen {
                rect: shown.rect,
                is_hot: shown.is_hot,
            };
            (seen, ask)
        }
        (Kind::Choice { is_searched }, value) => {
            let (seen, word) = choice(ui, session, entry, value.as_ref(), (width, *is_searched, is_lit));
            (seen, word.map(|word| Ask::Set(Value::Text(word))))
        }
        (Kind::Text, value) => {
            let text = TextField {
                id,
                label: &entry.label,
                value: match value {
                    Some(Value::Text(text)) => Some(text),
                    _ => None,
                },
                width,
                hint: "",
            };
            let shown = text.show(ui);
            let seen = Seen {
                rect: shown.rect,
                is_hot: shown.is_hot,
            };
            (seen, shown.change.map(|text| Ask::Set(Value::Text(text))))
        }
        (Kind::Switch, value) => {
            let (seen, on) = switch(ui, id, &entry.label, value.as_ref());
            (seen, on.map(|on| Ask::Set(Value::Switch(on))))
        }
    };
    if let Some(ask) = ask {
        carry_out(ui, session, entry, ask);
    }
    seen
}

fn choice(
    ui: &mut Ui,
    session: &Session,
    entry: &Entry,
    value: Option<&Value>,
    (width, is_searched, is_lit): (f32, bool, bool),
) -> (Seen, Option<String>) {
    let present = match value {
        Some(Value::Text(text)) => text.as_str(),
        _ => field::VARIOUS,
    };
    let picker = Picker {
        id: id_of(entry),
        label: &entry.label,
        face: Face::Box(present),
        width,
        list_width: width.max(LIST_WIDTH),
        is_searched,
        is_lit,
    };
    let owner = entry.owners.first().map(String::as_str).unwrap_or_default();
    let choices = || entry.aim.choices(session.document.now(), owner, session.length_unit);
    let (button, chosen) = picker.show(ui, || {
        let choices = choices();
        let present = choices.iter().position(|choice| choice.text == present);
        (choices, present)
    });
    let word = chosen
        .and_then(|i| choices().into_iter().nth(i))
        .map(|choice| choice.text);
    let seen = Seen {
        rect: button.rect,
        is_hot: button.hovered() || button.has_focus(),
    };
    (seen, word)
}

fn switch(ui: &mut Ui, id: Id, label: &str, value: Option<&Value>) -> (Seen, Option<bool>) {
    let mut on = value == Some(&Value::Switch(true));
    let response = ui
        .push_id(id, |ui| {
            let word = label.rsplit(": ").next().unwrap_or(label);
            egui::Checkbox::new(&mut on, field::sentence(word))
                .indeterminate(value.is_none())
                .ui(ui)
        })
        .inner;
    if response.has_focus() {
        let stroke = egui::Stroke::new(2.0, theme::of(ui).accent);
        ui.painter()
            .rect_stroke(response.rect.expand(2.0), 4.0, stroke, egui::StrokeKind::Outside);
    }
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_label(label.to_owned());
        if value.is_none() {
            node.set_toggled(Toggled::Mixed);
        }
    });
    let seen = Seen {
        rect: response.rect,
        is_hot: response.hovered() || response.has_focus(),
    };
    (seen, response.changed().then_some(on))
}

fn carry_out(ui: &Ui, session: &mut Session, entry: &Entry, ask: Ask) {
    let id = id_of(entry);
    let (value, is_final) = match ask {
        Ask::Keep => {
            session.document.keep(&entry.words());
            return field::forget(ui, id);
        }
        Ask::Preview(value) => (value, false),
        Ask::Set(value) => (value, true),
    };
    match changed(session, entry, &value) {
        Ok(next) => {
            if is_final {
                let words = entry.words();
                session.document.change(&words, next);
                follow_name(session, entry, &value);
            } else {
                session.document.preview(next);
            }
            field::forget(ui, id);
        }
        Err(reason) => {
            let text = match &value {
                Value::Text(text) => Some(text.clone()),
                // What was typed stays as it was typed.
                _ => None,
            };
            field::refuse(ui, id, reason, text, stands(session, entry));
        }
    }
}

/// The apparatus with the value given to every owner, or the reason against it.
fn changed(session: &Session, entry: &Entry, value: &Value) -> Result<Apparatus, String> {
    let mut next = session.document.settled().clone();
    for owner in entry.targets(&next) {
        let edit = entry.aim.edit(&next, &owner, value).ok_or_else(reason::no_edit)?;
        next = next
            .apply(&edit)
            .map_err(|error| reason::of(&error, session.length_unit))?;
    }
    Ok(next)
}

/// Keeps what was renamed selected.
fn follow_name(session: &mut Session, entry: &Entry, value: &Value) {
    let (Aim::Name, Value::Text(to), Some(from)) = (&entry.aim, value, entry.owners.first()) else {
        return;
    };
    let renamed = |name: &String| match name.strip_prefix(from.as_str()) {
        Some("") => to.clone(),
        // A member is named after its row.
        Some(rest) if rest.starts_with('-') && session.document.now().row(to).is_some() => format!("{to}{rest}"),
        _ => name.clone(),
    };
    let names: Vec<String> = session.selection.names().iter().map(renamed).collect();
    session.selection.set(names);
}

/// The value in full, by which a refusal grows stale. What is chosen says nothing of what was refused, so that any
/// change ends it.
fn stands(session: &Session, entry: &Entry) -> String {
    match (&entry.kind, &entry.value) {
        (Kind::Choice { .. } | Kind::Switch, _) => session.document.revision().to_string(),
        (_, Some(Value::Number(value))) => value.to_string(),
        (_, Some(Value::Size(TubeSize { od_mm, wall_mm }))) => format!("{od_mm} {wall_mm}"),
        (_, Some(Value::Text(text))) => text.clone(),
        (_, _) => String::new(),
    }
}

/// The reason why the entry's control refuses what was asked, if it does.
pub(super) fn refusal(ui: &Ui, session: &Session, entry: &Entry) -> Option<String> {
    field::refusal_of(ui, id_of(entry), &stands(session, entry))
}

/// Shows the reason under a control.
pub(super) fn say(ui: &mut Ui, refusal: &str) {
    let text = RichText::new(refusal)
        .font(theme::plain(12.0))
        .color(theme::of(ui).stop);
    ui.add(egui::Label::new(text).wrap());
}

/// Height that the reason takes in a column of this width, points.
pub(super) fn height_of(ui: &Ui, refusal: &str, width: f32) -> f32 {
    let colour = theme::of(ui).stop;
    let galley = ui
        .painter()
        .layout(refusal.to_owned(), theme::plain(12.0), colour, width);
    galley.size().y + 2.0
}

/// The size of a control that stands alone in a column of this width.
pub(super) fn size(width: f32) -> egui::Vec2 {
    vec2(width, theme::TARGET)
}
