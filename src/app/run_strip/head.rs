//! The head of the strip: what fills the glass, where the charge drips, whether capillarity counts, and what there is to
//! say of the pour.

use super::RunStrip;
use super::worker::Poured;
use crate::app::field::{self, Change, Number};
use crate::app::reading::Reading;
use crate::app::scene::Scene;
use crate::app::session::Session;
use crate::app::shelf::{self, Page};
use crate::app::theme;
use crate::model::{Edit, Gas, limits};
use crate::units::{MM3_PER_ML, volume_text};
use egui::accesskit::Role;
use egui::{Align, Button, Checkbox, ComboBox, Id, Label, Layout, RichText, ScrollArea, Ui, Vec2, WidgetInfo};

/// Pressure of the gas when it is first let in, mbar: the standard atmosphere.
const ATMOSPHERE_MBAR: f64 = 1013.25;
/// Width of the pressure, points.
const PRESSURE: f32 = 88.0;
/// Room for the button that folds the strip, points.
const FOLD: f32 = 34.0;

/// Shows the head; whether the strip is to be folded.
pub(super) fn show(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, scene: &Scene) -> bool {
    let mut folds = false;
    ui.horizontal(|ui| {
        ui.set_min_height(theme::TARGET);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let response = ui.add(Button::new("×").min_size(Vec2::splat(theme::TARGET)));
            let response = response.on_hover_text("Fold the run away");
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Fold the run away"));
            folds = response.clicked();
            let width = ui.available_width();
            ui.allocate_ui_with_layout(
                Vec2::new(width.max(FOLD), theme::TARGET),
                Layout::left_to_right(Align::Center),
                |ui| {
                    ScrollArea::horizontal().id_salt("run head").show(ui, |ui| {
                        ui.heading("Run");
                        gas(ui, strip, session);
                        drips_into(ui, strip, session, scene);
                        capillarity(ui, strip, session);
                        pages(ui);
                        status(ui, strip, session, scene);
                    });
                },
            );
        });
    });
    folds
}

fn gas_text(gas: Gas) -> &'static str {
    match gas {
        Gas::Evacuated => "Evacuated",
        Gas::Open => "Open to the air",
        Gas::Filled { .. } => "Filled with gas",
    }
}

fn gas(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session) {
    let now = super::run(session).gas;
    let filled = match now {
        Gas::Filled { .. } => now,
        Gas::Evacuated | Gas::Open => Gas::Filled {
            pressure_mbar: ATMOSPHERE_MBAR,
        },
    };
    let list = [Gas::Evacuated, Gas::Open, filled].map(|gas| (gas_text(gas).to_owned(), gas));
    if let Some(gas) = choice(ui, "Gas in the glass", 122.0, gas_text(now), &list) {
        strip.change(session, &Edit::Gas(gas));
    }
    if let Gas::Filled { pressure_mbar } = now {
        pressure(ui, strip, session, pressure_mbar);
    }
}

fn pressure(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, now: f64) {
    let id = Id::unique("run pressure");
    let field = Number {
        id,
        label: "Pressure of the gas",
        value: Some(now),
        limit: &limits::PRESSURE,
        length_unit: session.length_unit,
        width: PRESSURE,
        is_lit: false,
        type_size: field::IN_LIST,
    };
    let edit = |pressure_mbar| Edit::Gas(Gas::Filled { pressure_mbar });
    match field.show(ui).change {
        Some(Change::Preview(asked)) => {
            if let Ok(next) = session.document.settled().apply(&edit(limits::PRESSURE.nearest(asked))) {
                session.document.preview(next);
            }
        }
        Some(Change::Keep) => session.document.keep("Change the pressure of the gas"),
        Some(Change::Set(asked)) => {
            let taken = strip.change(session, &edit(asked));
            field::answer(ui, id, strip.refusal.clone().filter(|_| !taken), asked, now);
        }
        None => {}
    }
}

fn drips_into(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, scene: &Scene) {
    let now = super::run(session).drips_into.clone();
    let words = |piece: &Option<String>| match piece {
        Some(piece) => format!("Drips into {piece}"),
        None => "Lies as given".to_owned(),
    };
    let names = scene.interior.as_ref().map_or(&[][..], |interior| interior.pieces());
    let pieces = std::iter::once(None).chain(names.iter().cloned().map(Some));
    let list: Vec<(String, Option<String>)> = pieces.map(|piece| (words(&piece), piece)).collect();
    if let Some(piece) = choice(ui, "Where the charge drips", 150.0, &words(&now), &list) {
        strip.change(session, &Edit::DripsInto(piece));
    }
}

fn capillarity(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session) {
    let mut counts = super::run(session).capillarity;
    let response = ui.add(Checkbox::new(&mut counts, "Capillarity"));
    let response = response.on_hover_text(
        "Counts in the head that a liquid needs to enter a narrow bore that it does not wet, and the film that one that wets \
         leaves on the walls. Volumes then have a least and a most, from both ends of its contact angle.",
    );
    if response.changed() {
        strip.change(session, &Edit::Capillarity(counts));
    }
}

/// What the shelf shows of the run.
fn pages(ui: &mut Ui) {
    for (page, words, name, hint) in [
        (
            Page::Run,
            "Chart",
            "Chart of the run",
            "What each vessel holds over the run",
        ),
        (
            Page::Measured,
            "Measured",
            "Measured fills",
            "What each ampoule was found to hold after the run",
        ),
    ] {
        let is_open = Reading::of(ui.ctx()).shelf == page;
        let response = ui.selectable_label(is_open, words);
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_open, name));
        if response.on_hover_text(hint).clicked() {
            shelf::toggle(ui.ctx(), page);
        }
    }
}

/// What there is to say: a refusal, what is not known, or that it is being poured.
fn status(ui: &mut Ui, strip: &RunStrip, session: &Session, scene: &Scene) {
    let colours = theme::of(ui);
    let run = super::run(session);
    let refusal = strip.in_field.as_ref().or(strip.refusal.as_ref());
    let poured = strip.shown();
    let film = poured.filter(|poured| !poured.film.is_empty()).map(film);
    let (words, colour) = if let Some(refusal) = refusal {
        (refusal.clone(), colours.stop)
    } else if run.stops.is_empty() {
        return;
    } else if scene.given().is_empty() {
        ("No liquid is given: set the charge first.".to_owned(), colours.watch)
    } else if !strip.is_current(scene) {
        ("Being poured…".to_owned(), colours.quiet)
    } else if let Some(why) = poured.and_then(|poured| poured.unknown.as_ref()) {
        (format!("Whether a neck hinders is unknown: {why}."), colours.watch)
    } else if let Some(why) = poured.and_then(|poured| poured.film_unknown.as_ref()) {
        (format!("What stays on the walls is unknown: {why}."), colours.watch)
    } else if let Some((short, _)) = &film {
        (short.clone(), colours.quiet)
    } else {
        return;
    };
    let explained = film.filter(|(short, _)| *short == words);
    let mut response = ui.add(Label::new(RichText::new(words).color(colour)));
    if let Some((_, long)) = explained {
        response = response.on_hover_text(long);
    }
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_live(egui::accesskit::Live::Polite));
}

/// What stays on the walls, at most: in a few words, and where and on which assumption.
fn film(poured: &Poured) -> (String, String) {
    let volume: f64 = poured.film.iter().map(|kept| kept.volume).sum();
    let pieces = poured.asked.interior.pieces();
    let names: Vec<&str> = poured.film.iter().map(|kept| pieces[kept.piece].as_str()).collect();
    let short = format!("Film: at most {}", volume_text(volume / MM3_PER_ML));
    let long = format!(
        "At the least contact angle the walls of {} keep a film that is missing from the charge: at most as much as if they \
         were wet all over and drained upright.",
        names.join(", ")
    );
    (short, long)
}

/// A list to choose from; gives what was chosen anew.
fn choice<T: Clone>(ui: &mut Ui, label: &str, width: f32, shown: &str, list: &[(String, T)]) -> Option<T> {
    let mut chosen = None;
    let combo = ComboBox::from_id_salt(label)
        .selected_text(shown)
        .width(width)
        .truncate()
        .show_ui(ui, |ui| {
            for (words, value) in list {
                if ui.selectable_label(words == shown, words).clicked() && words != shown {
                    chosen = Some(value.clone());
                }
            }
        });
    combo.response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::ComboBox, true, label);
        info.current_text_value = Some(shown.to_owned());
        info
    });
    chosen
}
