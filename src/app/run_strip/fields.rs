//! The fields of the selected stop, and what can be done with it.

use super::{RunStrip, cards};
use crate::app::field::{self, Change, Number, TextField};
use crate::app::session::Session;
use crate::app::theme;
use crate::model::limits::{self, Limit};
use crate::model::{Edit, Stop};
use egui::accesskit::Role;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{Button, Id, PopupCloseBehavior, RichText, ScrollArea, Ui, WidgetInfo, vec2};

/// Width of a number, points.
const NUMBER: f32 = 78.0;
/// Width of the name and of the ampoules that are sealed off.
const WIDE: f32 = 146.0;
/// Width of the words before a field.
const CAPTION: f32 = 36.0;

/// A number of a stop.
struct Entry {
    caption: &'static str,
    label: &'static str,
    limit: &'static Limit,
    of: fn(&mut Stop) -> &mut f64,
}

const TILT: Entry = Entry {
    caption: "Tilt",
    label: "Stop: tilt",
    limit: &limits::TILT,
    of: |stop| &mut stop.tilt_deg,
};
const ROLL: Entry = Entry {
    caption: "Roll",
    label: "Stop: roll",
    limit: &limits::ROLL,
    of: |stop| &mut stop.roll_deg,
};
const RATE: Entry = Entry {
    caption: "Rate",
    label: "Stop: rate of turning",
    limit: &limits::RATE,
    of: |stop| &mut stop.rate_deg_per_s,
};
const WAIT: Entry = Entry {
    caption: "Wait",
    label: "Stop: wait",
    limit: &limits::WAIT,
    of: |stop| &mut stop.wait_s,
};

/// Shows the fields of a stop.
pub(super) fn show(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, index: usize) {
    ui.spacing_mut().item_spacing = vec2(6.0, 6.0);
    ui.horizontal(|ui| {
        name(ui, strip, session, index);
        number(ui, strip, session, index, &TILT);
        number(ui, strip, session, index, &ROLL);
        deeds(ui, strip, session, index);
    });
    ui.horizontal(|ui| {
        seals(ui, strip, session, index);
        // The first stop is where the charge is given: nothing is turned there.
        ui.add_enabled_ui(index > 0, |ui| number(ui, strip, session, index, &RATE));
        number(ui, strip, session, index, &WAIT);
    });
}

fn stop_at(session: &Session, index: usize) -> Stop {
    super::run(session).stops.get(index).cloned().unwrap_or_default()
}

/// A field belongs to its stop: what is typed does not pass on to another.
fn id_of(label: &str, index: usize) -> Id {
    Id::unique("field of a stop").with((label, index))
}

fn name(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, index: usize) {
    let stop = stop_at(session, index);
    let field = TextField {
        id: id_of("name", index),
        label: "Stop: name",
        value: Some(&stop.name),
        width: WIDE,
        hint: "Name of the stop",
    };
    if let Some(name) = field.show(ui).change {
        let edit = Edit::SetStop {
            index,
            stop: Stop { name, ..stop.clone() },
        };
        let taken = strip.change(session, &edit);
        if taken {
            field::forget(ui, id_of("name", index));
        }
    }
}

fn number(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, index: usize, entry: &Entry) {
    let mut stop = stop_at(session, index);
    let now = *(entry.of)(&mut stop);
    let id = id_of(entry.label, index);
    let caption = RichText::new(entry.caption)
        .font(theme::plain(12.0))
        .color(theme::of(ui).quiet);
    ui.add_sized([CAPTION, theme::TARGET], egui::Label::new(caption));
    let field = Number {
        id,
        label: entry.label,
        value: Some(now),
        limit: entry.limit,
        length_unit: session.length_unit,
        width: NUMBER,
        is_lit: false,
        type_size: field::IN_LIST,
    };
    let mut edit = |value: f64| {
        *(entry.of)(&mut stop) = value;
        Edit::SetStop {
            index,
            stop: stop.clone(),
        }
    };
    match field.show(ui).change {
        Some(Change::Preview(asked)) => {
            if let Ok(next) = session.document.settled().apply(&edit(entry.limit.nearest(asked))) {
                session.document.preview(next);
            }
        }
        Some(Change::Keep) => session.document.keep(&edit(now).words()),
        Some(Change::Set(asked)) if !entry.limit.allows(asked) => {
            let limit = field::limit_text(entry.limit, session.length_unit);
            let reason = format!("{} must lie from {limit}.", field::sentence(entry.limit.label));
            field::answer(ui, id, Some(reason), asked, now);
        }
        Some(Change::Set(asked)) => {
            let taken = strip.change(session, &edit(asked));
            field::answer(ui, id, strip.refusal.clone().filter(|_| !taken), asked, now);
        }
        None => {}
    }
    if let Some(refusal) = field::refusal(ui, id, now) {
        strip.in_field = Some(refusal);
    }
}

/// The ampoules that are sealed off after the wait.
fn seals(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, index: usize) {
    let apparatus = session.document.now();
    let stop = stop_at(session, index);
    let elsewhere = |name: &String| {
        let others = apparatus.run.stops.iter().enumerate().filter(|(i, _)| *i != index);
        others.map(|(_, other)| other).any(|other| other.seals.contains(name))
    };
    let names = apparatus
        .names()
        .into_iter()
        .filter(|name| apparatus.can_be_sealed(name));
    let list: Vec<(String, bool)> = names.map(|name| (name.clone(), elsewhere(&name))).collect();
    let shown = match &stop.seals[..] {
        [] => "Seal off: none".to_owned(),
        [name] => format!("Seal off: {name}"),
        names => format!("Seal off: {} vessels", names.len()),
    };
    let mut toggled = None;
    let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
    let button = Button::new(&shown).min_size(vec2(WIDE, theme::TARGET)).truncate();
    let (response, _) = MenuButton::from_button(button).config(config).ui(ui, |ui| {
        ScrollArea::vertical().max_height(260.0).show(ui, |ui| {
            if list.is_empty() {
                ui.label("No ampoule that could be sealed off.");
            }
            for (name, is_elsewhere) in &list {
                let is_here = stop.seals.contains(name);
                let mut on = is_here;
                let check = egui::Checkbox::new(&mut on, name);
                let response = ui.add_enabled(!is_elsewhere || is_here, check);
                if response.on_disabled_hover_text("Sealed off at another stop").changed() {
                    toggled = Some(name.clone());
                }
            }
        });
    });
    let label = format!("Stop: {}", shown.replace("Seal off:", "seal off,"));
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &label));
    if let Some(name) = toggled {
        let mut stop = stop;
        match stop.seals.iter().position(|known| *known == name) {
            Some(at) => _ = stop.seals.remove(at),
            None => stop.seals.push(name),
        }
        strip.change(session, &Edit::SetStop { index, stop });
    }
}

/// What can be done with the stop.
fn deeds(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, index: usize) {
    let last = super::run(session).stops.len().saturating_sub(1);
    let button = Button::new("…").min_size(vec2(30.0, theme::TARGET));
    let (response, _) = MenuButton::from_button(button).ui(ui, |ui| {
        ui.set_min_width(200.0);
        if ui.button("Take the present stance").clicked() {
            let Stop { tilt_deg, roll_deg, .. } = super::present(session);
            let stop = Stop {
                tilt_deg,
                roll_deg,
                ..stop_at(session, index)
            };
            strip.change(session, &Edit::SetStop { index, stop });
        }
        if ui.button("Insert the present stance before").clicked() {
            strip.insert(session, index);
        }
        if ui.button("Insert the present stance after").clicked() {
            strip.insert(session, index + 1);
        }
        if ui.button("Duplicate").clicked() {
            // An ampoule is sealed off once.
            let stop = Stop {
                seals: Vec::new(),
                ..stop_at(session, index)
            };
            if strip.change(session, &Edit::AddStop { index: index + 1, stop }) {
                strip.select(session, index + 1);
            }
        }
        ui.separator();
        if ui.add_enabled(index > 0, Button::new("Move earlier")).clicked() {
            cards::move_stop(strip, session, index, index - 1);
        }
        if ui.add_enabled(index < last, Button::new("Move later")).clicked() {
            cards::move_stop(strip, session, index, index + 1);
        }
        ui.separator();
        if ui.button("Remove").clicked() {
            cards::remove(strip, session, index);
        }
    });
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "What can be done with the stop"));
}
