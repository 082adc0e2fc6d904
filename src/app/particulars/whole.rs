//! The particulars of the apparatus itself, shown while nothing is selected: title, liquid, own tube sizes.

use super::control;
use super::lines;
use super::reason;
use crate::app::field::{self, SizeChange, SizeField, TextField};
use crate::app::region::is_clicked;
use crate::app::session::Session;
use crate::app::theme;
use crate::model::{Apparatus, Edit, OwnSize, TubeSize};
use egui::{Align, Id, Layout, RichText, Ui, vec2};

/// Width of a caption, points.
const CAPTION: f32 = 44.0;
/// What a new size of one's own starts as.
const NEW_SIZE: TubeSize = TubeSize::new(10.0, 1.0);

/// Shows everything that belongs to no piece.
pub(super) fn show(ui: &mut Ui, session: &mut Session) {
    let quiet = theme::of(ui).quiet;
    let words = "Choose a piece here, on the bench or in the ledger to see and change its numbers.";
    ui.label(RichText::new(words).color(quiet));
    let apparatus = session.document.now().clone();
    ui.add_space(6.0);
    text(ui, session, "Title", &apparatus.title, Edit::Title);
    text(ui, session, "Liquid", &apparatus.charge.liquid, Edit::Liquid);
    lines::heading(ui, "Own tube sizes");
    if apparatus.own_stock.is_empty() {
        let words = "None yet. Sizes that the catalogue does not have can be kept here, to be chosen like its own.";
        ui.label(RichText::new(words).color(quiet));
    }
    for index in 0..apparatus.own_stock.len() {
        own_size(ui, session, &apparatus, index);
    }
    ui.add_space(2.0);
    let id = Id::unique("add an own size");
    if is_clicked(&ui.button("Add a tube size")) {
        let mut list = apparatus.own_stock.clone();
        list.push(OwnSize {
            tube: NEW_SIZE,
            note: String::new(),
        });
        apply(ui, session, id, Edit::OwnStock(list));
    }
    say_refusal(ui, session, id);
    ui.add_space(8.0);
}

/// A text of the whole apparatus.
fn text(ui: &mut Ui, session: &mut Session, label: &str, value: &str, edit: impl FnOnce(String) -> Edit) {
    let id = Id::unique("whole").with(label);
    let full = ui.available_width();
    let typed = ui
        .horizontal(|ui| {
            let layout = Layout::left_to_right(Align::Center);
            ui.allocate_ui_with_layout(vec2(CAPTION, theme::TARGET), layout, |ui| {
                ui.set_min_width(CAPTION);
                ui.label(label);
            });
            let field = TextField {
                id,
                label,
                value: Some(value),
                width: full - CAPTION - 8.0,
                hint: "",
            };
            field.show(ui).change
        })
        .inner;
    if let Some(typed) = typed {
        apply(ui, session, id, edit(typed));
    }
    if let Some(refusal) = field::refusal_of(ui, id, value) {
        control::say(ui, &refusal);
    }
}

/// One size of one's own: the size, a remark, and the button that takes it away.
fn own_size(ui: &mut Ui, session: &mut Session, apparatus: &Apparatus, index: usize) {
    let Some(own) = apparatus.own_stock.get(index) else {
        return;
    };
    let id = Id::unique("own size").with(index);
    let number = index + 1;
    let mut list = apparatus.own_stock.clone();
    let mut is_changed = false;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let full = ui.available_width();
        let label = format!("Own size {number}");
        let size = SizeField {
            id,
            label: &label,
            value: Some(own.tube),
            apparatus,
            length_unit: session.length_unit,
            width: SizeField::WIDTH,
            is_lit: false,
            type_size: field::IN_LIST,
        };
        let change = ui.scope(|ui| size.show(ui).change).inner;
        let size = match change {
            Some(SizeChange::Set(size)) => Some(size),
            Some(SizeChange::SetDiameter(od_mm)) => Some(TubeSize::new(od_mm, own.tube.wall_mm)),
            Some(SizeChange::Preview(size)) => {
                preview(session, &list, index, size);
                None
            }
            Some(SizeChange::Keep) => {
                session.document.keep(&Edit::OwnStock(Vec::new()).words());
                None
            }
            None => None,
        };
        let remark = TextField {
            id: id.with("remark"),
            label: &format!("Remark on own size {number}"),
            value: Some(&own.note),
            width: full - SizeField::WIDTH - theme::TARGET - 8.0,
            hint: "A remark, such as where the tube lies",
        };
        let note = remark.show(ui).change;
        if let Some(own) = list.get_mut(index) {
            is_changed = size.is_some() || note.is_some();
            own.tube = size.unwrap_or(own.tube);
            own.note = note.unwrap_or_else(|| own.note.clone());
        }
        let button = egui::Button::new("×").min_size(vec2(theme::TARGET, theme::TARGET));
        let remove = ui.add(button);
        let words = format!("Remove own size {number}");
        ui.ctx()
            .accesskit_node_builder(remove.id, |node| node.set_label(words.clone()));
        if is_clicked(&remove.on_hover_text(words)) {
            list.remove(index);
            is_changed = true;
        }
    });
    if is_changed {
        apply(ui, session, id, Edit::OwnStock(list));
    }
    say_refusal(ui, session, id);
}

fn preview(session: &mut Session, list: &[OwnSize], index: usize, size: TubeSize) {
    let mut list = list.to_vec();
    if let Some(own) = list.get_mut(index) {
        own.tube = size;
    }
    if let Ok(next) = session.document.settled().apply(&Edit::OwnStock(list)) {
        session.document.preview(next);
    }
}

/// Takes the edit as one step, or keeps the reason against it at `id`.
fn apply(ui: &Ui, session: &mut Session, id: Id, edit: Edit) {
    match session.document.settled().apply(&edit) {
        Ok(next) => {
            session.document.change(&edit.words(), next);
            field::forget(ui, id);
        }
        Err(error) => {
            let reason = reason::of(&error, session.length_unit);
            let stands = match &edit {
                Edit::Title(_) => session.document.now().title.clone(),
                Edit::Liquid(_) => session.document.now().charge.liquid.clone(),
                _ => session.document.revision().to_string(),
            };
            field::refuse(ui, id, reason, None, stands);
        }
    }
}

fn say_refusal(ui: &mut Ui, session: &Session, id: Id) {
    if let Some(refusal) = field::refusal_of(ui, id, &session.document.revision().to_string()) {
        control::say(ui, &refusal);
    }
}
