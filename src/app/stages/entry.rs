//! The inputs of a stage: fields with what is given or proposed, and where a proposal comes from.

use crate::app::field::{self, Change, Number, TextField};
use crate::app::region::is_clicked;
use crate::app::session::Session;
use crate::app::theme;
use crate::model::job::{Input, Job, Stage};
use crate::model::{Edit, Form};
use crate::stages::{Inputs, Origin, liquid_of};
use egui::accesskit::Role;
use egui::{Button, ComboBox, Id, RichText, Ui, Vec2, WidgetInfo, vec2};

/// Width of the words before a field, points.
const CAPTION: f32 = 172.0;
/// Width of a number field, points.
const FIELD: f32 = 104.0;

/// Shows the inputs of a stage.
pub(super) fn show(ui: &mut Ui, session: &mut Session, stage: Stage) {
    if stage == Stage::Charge {
        let liquid = session.document.now().charge.liquid.clone();
        text(
            ui,
            session,
            "Liquid",
            &liquid,
            "A liquid of the table, or one of your own",
            |_, text| Edit::Liquid(text),
        );
        let reaction = session.document.now().job.reaction.clone();
        let hint = "As in 2 RbCl + Ca -> 2 Rb + CaCl2; empty when the liquid goes in as it is";
        text(ui, session, "Reaction", &reaction, hint, |job, text| {
            job.reaction = text;
            changed("Change the reaction", job)
        });
    }
    if stage == Stage::Still {
        pot(ui, session);
    }
    if stage == Stage::Gas {
        let gas = session.document.now().job.gas.clone();
        text(ui, session, "Gas", &gas, "Argon when nothing is said", |job, text| {
            job.gas = text;
            changed("Change the gas", job)
        });
    }
    if stage == Stage::Clean {
        let quench = session.document.now().job.quench.clone();
        text(
            ui,
            session,
            "Quenched with",
            &quench,
            "Such as tert-butanol in heptane",
            |job, text| {
                job.quench = text;
                changed("Change the quench", job)
            },
        );
    }
    let apparatus = session.document.now();
    let vessels = apparatus.rows.iter().map(|row| row.count).sum::<usize>()
        + apparatus
            .pieces
            .iter()
            .filter(|piece| matches!(piece.form, Form::Ampoule(_)))
            .count();
    let inputs = Inputs::of(apparatus, liquid_of(apparatus).as_ref(), vessels);
    for &input in Input::ALL.iter().filter(|input| input.stage() == stage) {
        number(ui, session, &inputs, input);
    }
}

/// The job after a change, as an edit.
fn changed(words: &str, job: &Job) -> Edit {
    Edit::Job {
        words: words.to_owned(),
        job: Box::new(job.clone()),
    }
}

/// Puts an edit into the document, or says why not.
pub(crate) fn apply(ui: &Ui, session: &mut Session, id: Id, edit: &Edit, stands: &str) {
    match session.document.settled().apply(edit) {
        Ok(next) => {
            session.document.change(&edit.words(), next);
            field::forget(ui, id);
        }
        Err(error) => field::refuse(
            ui,
            id,
            field::sentence(&error.to_string()) + ".",
            None,
            stands.to_owned(),
        ),
    }
}

fn caption(ui: &mut Ui, words: &str) {
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    ui.allocate_ui_with_layout(vec2(CAPTION, theme::TARGET), layout, |ui| {
        ui.set_min_width(CAPTION);
        ui.add(egui::Label::new(words).truncate());
    });
}

/// A text of the job with its field.
pub(super) fn text(
    ui: &mut Ui,
    session: &mut Session,
    label: &str,
    value: &str,
    hint: &str,
    edit: impl FnOnce(&mut Job, String) -> Edit,
) {
    let id = Id::unique("job text").with(label);
    let typed = ui
        .horizontal(|ui| {
            let full = ui.available_width();
            caption(ui, label);
            let field = TextField {
                id,
                label,
                value: Some(value),
                width: (full - CAPTION - 10.0).max(FIELD),
                hint,
            };
            field.show(ui).change
        })
        .inner;
    if let Some(typed) = typed {
        let mut job = session.document.settled().job.clone();
        let edit = edit(&mut job, typed);
        apply(ui, session, id, &edit, value);
    }
    if let Some(refusal) = field::refusal_of(ui, id, value) {
        ui.label(RichText::new(refusal).color(theme::of(ui).stop));
    }
}

/// The piece that is the pot.
fn pot(ui: &mut Ui, session: &mut Session) {
    let apparatus = session.document.now();
    let names: Vec<String> = apparatus
        .pieces
        .iter()
        .filter(|piece| matches!(piece.form, Form::Bulb(_) | Form::Tube(_)))
        .map(|piece| piece.name.clone())
        .collect();
    let now = apparatus.job.pot.clone();
    let proposed = names.iter().any(|name| name == "pot").then_some("pot");
    let shown = now.as_deref().or(proposed).unwrap_or("none").to_owned();
    let mut chosen = None;
    ui.horizontal(|ui| {
        caption(ui, "Pot");
        let combo = ComboBox::from_id_salt("pot of the job")
            .selected_text(&shown)
            .width(FIELD)
            .show_ui(ui, |ui| {
                for name in &names {
                    if ui.selectable_label(shown == *name, name).clicked() {
                        chosen = Some(name.clone());
                    }
                }
            });
        combo
            .response
            .widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Pot"));
    });
    if let Some(name) = chosen {
        let mut job = session.document.settled().job.clone();
        job.pot = Some(name.clone());
        let edit = changed(&format!("Make {name} the pot"), &job);
        apply(ui, session, Id::unique("pot of the job"), &edit, "");
    }
}

/// A number with its field: what is given or proposed; an open one starts empty.
fn number(ui: &mut Ui, session: &mut Session, inputs: &Inputs, input: Input) {
    let limit = input.limit();
    let label = field::sentence(limit.label);
    let id = Id::unique("job number").with(limit.key);
    let value = inputs.value(input);
    let is_given = inputs.is_given(input);
    let (mut set, mut open) = (None, false);
    ui.horizontal(|ui| {
        caption(ui, &label);
        match value {
            Some(value) => {
                let field = Number {
                    id,
                    label: &label,
                    value: Some(value),
                    limit,
                    length_unit: session.length_unit,
                    width: FIELD,
                    is_lit: false,
                    type_size: field::IN_LIST,
                };
                set = field.show(ui).change;
            }
            None => {
                let field = TextField {
                    id,
                    label: &label,
                    value: Some(""),
                    width: FIELD,
                    hint: "Not given",
                };
                match field
                    .show(ui)
                    .change
                    .map(|typed| field::read(&typed, limit.unit, session.length_unit))
                {
                    Some(Ok(value)) => set = Some(Change::Set(value)),
                    Some(Err(reason)) => field::refuse(ui, id, reason, None, String::new()),
                    None => {}
                }
                ui.label(RichText::new(limit.unit.symbol()).color(theme::of(ui).quiet));
            }
        }
        if is_given {
            let button = Button::new("×").min_size(Vec2::splat(theme::TARGET));
            let response = ui.add(button).on_hover_text("Leave it open; the program proposes one");
            let words = format!("Leave {} open", limit.label);
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
            open = is_clicked(&response);
        } else if let Some(value) = value {
            let button = Button::new("Keep").min_size(Vec2::splat(theme::TARGET));
            let response = ui
                .add(button)
                .on_hover_text("Make this number your own, whatever else changes");
            let words = format!("Keep {} as proposed", limit.label);
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
            if is_clicked(&response) {
                set = Some(Change::Set(value));
            }
        }
    });
    let words = format!("Change the {}", limit.label);
    let with = |value: Option<f64>| {
        let mut job = session.document.settled().job.clone();
        job.set(input, value);
        changed(&words, &job)
    };
    let stands = value.map_or_else(String::new, |value| value.to_string());
    match set {
        Some(Change::Preview(value)) => {
            if let Ok(next) = session.document.settled().apply(&with(Some(limit.nearest(value)))) {
                session.document.preview(next);
            }
        }
        Some(Change::Keep) => session.document.keep(&words),
        Some(Change::Set(value)) => {
            let edit = with(Some(value));
            apply(ui, session, id, &edit, &stands);
        }
        None if open => {
            let edit = with(None);
            apply(ui, session, id, &edit, &stands);
        }
        None => {}
    }
    let refusal = field::refusal_of(ui, id, &stands);
    let colours = theme::of(ui);
    if let Some(refusal) = refusal {
        ui.label(RichText::new(refusal).color(colours.stop));
    } else if let Some(Origin::Proposed(why)) = inputs.origin(input) {
        let words = format!("Proposed: {why}");
        ui.label(RichText::new(words).font(theme::plain(12.0)).color(colours.quiet));
    }
}
