//! The page of the shelf that shows the job: a tab for each stage in the order of the work; inputs, results, plots.

use super::Work;
use super::entry;
use super::own_liquid;
use super::plot;
use super::result;
use crate::app::session::Session;
use crate::app::theme;
use crate::model::job::Stage;
use crate::stages::Sheet;
use egui::accesskit::Role;
use egui::{RichText, ScrollArea, Ui, UiBuilder, Vec2, WidgetInfo, vec2};

/// From this width on inputs, results and plots stand beside each other, points.
const WIDE: f32 = 980.0;
/// Width of the inputs beside the results, points.
const INPUTS: f32 = 340.0;
/// Width of the plots beside the results, points.
const PLOTS: f32 = 300.0;
/// Gap between columns, points.
const GAP: f32 = 16.0;

/// What is kept of the page from frame to frame.
#[derive(Debug)]
pub(crate) struct Page {
    stage: Stage,
    shows_working: bool,
}

impl Default for Page {
    fn default() -> Self {
        Self {
            stage: Stage::Charge,
            shows_working: false,
        }
    }
}

impl Page {
    /// Shows the page.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, work: &Work) {
        self.tabs(ui, session, work);
        ui.add_space(2.0);
        let stage = self.stage;
        let sheet = work.worked().and_then(|worked| worked.sheet(stage));
        let room = ui.available_rect_before_wrap();
        if room.width() < WIDE {
            ScrollArea::vertical()
                .id_salt(("job", stage))
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    inputs(ui, session, stage);
                    ui.add_space(8.0);
                    results(ui, sheet, self.shows_working);
                    ui.add_space(8.0);
                    plots(ui, sheet);
                });
            return;
        }
        let has_plots = sheet.is_some_and(|sheet| !sheet.plots.is_empty());
        let plots_wide = if has_plots { PLOTS + GAP } else { 0.0 };
        let column =
            |left: f32, width: f32| egui::Rect::from_min_size(room.min + vec2(left, 0.0), vec2(width, room.height()));
        let middle = (room.width() - INPUTS - GAP - plots_wide).max(200.0);
        let mut scrolled = |salt: &str, left: f32, width: f32, show: &mut dyn FnMut(&mut Ui)| {
            let mut within = ui.new_child(UiBuilder::new().max_rect(column(left, width)));
            within.set_width(width);
            ScrollArea::vertical()
                .id_salt((salt, stage))
                .auto_shrink([false, false])
                .show(&mut within, |ui| show(ui));
        };
        scrolled("inputs", 0.0, INPUTS, &mut |ui| inputs(ui, session, stage));
        let shows_working = self.shows_working;
        scrolled("results", INPUTS + GAP, middle, &mut |ui| {
            results(ui, sheet, shows_working)
        });
        if has_plots {
            scrolled("plots", INPUTS + 2.0 * GAP + middle, PLOTS, &mut |ui| plots(ui, sheet));
        }
        ui.advance_cursor_after_rect(room);
    }

    fn tabs(&mut self, ui: &mut Ui, session: &Session, work: &Work) {
        ui.horizontal_wrapped(|ui| {
            for stage in Stage::ALL {
                if ui.selectable_label(self.stage == stage, stage.title()).clicked() {
                    self.stage = stage;
                }
            }
            ui.add_space(10.0);
            let response = ui.checkbox(&mut self.shows_working, "Show working");
            response.on_hover_text("Formula, inputs, range and source of every number");
            if work.is_behind(session) {
                ui.label(
                    RichText::new("Working it out…")
                        .font(theme::plain(12.5))
                        .color(theme::of(ui).quiet),
                );
            }
        });
    }
}

fn inputs(ui: &mut Ui, session: &mut Session, stage: Stage) {
    ui.spacing_mut().item_spacing = Vec2::new(6.0, 3.0);
    heading(ui, "What goes in");
    entry::show(ui, session, stage);
    if stage == Stage::Charge {
        ui.add_space(6.0);
        own_liquid::show(ui, session);
    }
}

fn results(ui: &mut Ui, sheet: Option<&Sheet>, shows_working: bool) {
    ui.spacing_mut().item_spacing = Vec2::new(6.0, 3.0);
    match sheet {
        None => {
            let words = RichText::new("Nothing is worked out yet.").color(theme::of(ui).quiet);
            ui.label(words);
        }
        Some(sheet) => result::show(ui, sheet, shows_working),
    }
}

fn plots(ui: &mut Ui, sheet: Option<&Sheet>) {
    for (i, plot) in sheet.into_iter().flat_map(|sheet| &sheet.plots).enumerate() {
        plot::show(ui, plot, i);
    }
}

/// A heading within a column.
pub(super) fn heading(ui: &mut Ui, text: &str) {
    let colours = theme::of(ui);
    let label = ui.label(RichText::new(text).font(theme::heavy(12.5)).color(colours.quiet));
    label.widget_info(|| WidgetInfo::labeled(Role::Heading, true, text));
}
