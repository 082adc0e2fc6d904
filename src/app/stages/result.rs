//! The results of a stage: number, working, caution beside it.

use super::page::heading;
use crate::app::region::is_clicked;
use crate::app::theme;
use crate::physics::Working;
use crate::stages::{Line, Sheet};
use egui::accesskit::Role;
use egui::{Id, RichText, Ui, WidgetInfo};

/// Part of the width that the words before a value take.
const WORDS: f32 = 0.46;
/// How far workings stand in from the left, points.
const INDENT: f32 = 14.0;

/// Shows the results of a sheet.
pub(super) fn show(ui: &mut Ui, sheet: &Sheet, shows_working: bool) {
    for (g, group) in sheet.groups.iter().enumerate() {
        if g > 0 {
            ui.add_space(6.0);
        }
        heading(ui, &group.title);
        for (i, line) in group.lines.iter().enumerate() {
            row(ui, line, shows_working, Id::unique("result").with((sheet.title, g, i)));
        }
    }
    for caution in &sheet.cautions {
        ui.add_space(4.0);
        warn(ui, caution);
    }
}

fn warn(ui: &mut Ui, text: &str) {
    let colours = theme::of(ui);
    ui.horizontal_top(|ui| {
        let at = ui.cursor().left_top() + egui::vec2(7.0, 9.0);
        crate::app::symbols::severity(ui.painter(), crate::findings::Severity::Watch, at, 5.5, colours);
        ui.add_space(16.0);
        let words = RichText::new(text).font(theme::plain(12.5)).color(colours.text);
        ui.add(egui::Label::new(words).wrap());
    });
}

fn row(ui: &mut Ui, line: &Line, shows_all: bool, id: Id) {
    let colours = theme::of(ui);
    let width = ui.available_width();
    let mut is_open = ui.data(|data| data.get_temp::<bool>(id)).unwrap_or(false);
    ui.horizontal_top(|ui| {
        let words = (width * WORDS).floor();
        ui.allocate_ui(egui::vec2(words, 0.0), |ui| {
            ui.set_width(words);
            ui.add(egui::Label::new(RichText::new(&line.what).font(theme::plain(13.0))).wrap());
        });
        let has_toggle = line.working.is_some() && !shows_all;
        let room = ui.available_width() - if has_toggle { 74.0 } else { 4.0 };
        ui.allocate_ui(egui::vec2(room, 0.0), |ui| {
            ui.set_width(room);
            let value = RichText::new(&line.value);
            let value = if line.unknown {
                value.font(theme::plain(13.0)).color(colours.quiet)
            } else {
                value.font(theme::heavy(13.0))
            };
            ui.add(egui::Label::new(value).wrap());
        });
        if has_toggle {
            let words = if is_open { "less" } else { "working" };
            let response = ui.add(
                egui::Button::new(RichText::new(words).font(theme::plain(12.0)))
                    .min_size(egui::vec2(64.0, theme::TARGET)),
            );
            let label = format!("Working of {}", line.what);
            response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_open, &label));
            if is_clicked(&response) {
                is_open = !is_open;
                ui.data_mut(|data| data.insert_temp(id, is_open));
            }
        }
    });
    if let Some(caution) = &line.caution {
        under(ui, caution);
    }
    if let Some(working) = line.working.as_ref().filter(|_| shows_all || is_open) {
        explain(ui, working);
    }
}

fn under(ui: &mut Ui, text: &str) {
    let quiet = theme::of(ui).quiet;
    ui.horizontal_top(|ui| {
        ui.add_space(INDENT);
        ui.add(egui::Label::new(RichText::new(text).font(theme::plain(12.0)).color(quiet)).wrap());
    });
}

/// Formula, inputs, range, source.
fn explain(ui: &mut Ui, working: &Working) {
    let colours = theme::of(ui);
    let lines = working.lines();
    for (i, text) in lines.iter().enumerate() {
        ui.horizontal_top(|ui| {
            ui.add_space(INDENT);
            let words = RichText::new(text);
            let words = if i == 0 {
                words.font(egui::FontId::monospace(12.0)).color(colours.text)
            } else {
                words.font(theme::plain(12.0)).color(colours.quiet)
            };
            ui.add(egui::Label::new(words).wrap());
        });
    }
    ui.add_space(3.0);
}
