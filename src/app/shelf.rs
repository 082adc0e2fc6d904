//! The shelf below the bench: plots, the list of findings, what can be found, or shut.

use super::edge;
use super::finder::Finder;
use super::findings_list::FindingsList;
use super::measured::Measured;
use super::plots::{Export, Plots};
use super::reading::Reading;
use super::region::Region;
use super::run_strip::RunStrip;
use super::scene::{Scene, Still};
use super::session::Session;
use super::stages::{self, Work};
use super::theme;
use egui::accesskit::Role;
use egui::{Button, Frame, Margin, Panel, Ui, UiBuilder, Vec2, WidgetInfo};
use serde::{Deserialize, Serialize};

/// Least height of the open shelf, points.
const LEAST: f32 = 150.0;
/// Height that the shelf leaves to the bench, points.
const BENCH: f32 = 200.0;

/// What the shelf shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Page {
    /// Nothing: it is shut.
    #[default]
    Shut,
    /// The plots.
    Plots,
    /// The findings.
    Findings,
    /// Runs and sizes that are found.
    Find,
    /// The stages of the job.
    Job,
    /// The chart of the run.
    Run,
    /// Measured fills against the run.
    Measured,
}

/// The shelf.
pub(crate) struct Shelf {
    plots: Plots,
    findings: FindingsList,
    finder: Finder,
    measured: Measured,
    job: stages::Page,
}

/// Opens the shelf at a page; shuts it when it is open there.
pub(crate) fn toggle(ctx: &egui::Context, page: Page) {
    Reading::change(ctx, |reading| {
        reading.shelf = if reading.shelf == page { Page::Shut } else { page };
    });
}

/// Opens the shelf at a page.
pub(crate) fn turn_to(ctx: &egui::Context, page: Page) {
    Reading::change(ctx, |reading| reading.shelf = page);
}

impl Shelf {
    /// A shelf; `ctx` is repainted when a turn has been computed.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        Self {
            plots: Plots::new(ctx),
            findings: FindingsList::default(),
            finder: Finder::default(),
            measured: Measured::default(),
            job: stages::Page::default(),
        }
    }

    /// Another document is open.
    pub(crate) fn forget(&mut self) {
        self.plots.forget();
        self.finder.forget();
        self.measured.forget();
    }

    /// Opens the list of findings and brings those of a piece into view.
    pub(crate) fn show_findings_of(&mut self, ctx: &egui::Context, piece: &str) {
        self.findings.bring_into_view(piece);
        turn_to(ctx, Page::Findings);
    }

    /// Shows the shelf if it is open; gives a chart that is to be written to a file.
    pub(crate) fn show(
        &mut self,
        ui: &mut Ui,
        session: &mut Session,
        scene: &Scene,
        still: &Still,
        work: &mut Work,
        run: &mut RunStrip,
    ) -> Option<Export> {
        let page = Reading::of(ui.ctx()).shelf;
        if page == Page::Shut {
            return None;
        }
        let most = (ui.available_height() - BENCH).max(LEAST);
        let frame = Frame::new()
            .fill(theme::of(ui).panel)
            .inner_margin(Margin::symmetric(10, 6));
        edge::attend(ui, "shelf");
        Panel::bottom("shelf")
            .resizable(true)
            .frame(frame)
            .default_size((ui.available_height() * 0.38).clamp(LEAST, most))
            .size_range(LEAST..=most)
            .show(ui, |ui| {
                // The shelf keeps its height whatever it holds.
                let rect = ui.available_rect_before_wrap();
                Region::Shelf.mark(ui, rect.expand(4.0));
                let mut within = ui.new_child(UiBuilder::new().max_rect(rect));
                ui.advance_cursor_after_rect(rect);
                tabs(&mut within, page);
                match page {
                    Page::Plots => self.plots.show(&mut within, session, scene, still),
                    Page::Findings => {
                        let problem = scene.problem.as_deref();
                        let review = work.review(session, scene).clone();
                        self.findings.show(&mut within, session, &review, problem);
                        None
                    }
                    Page::Job => {
                        self.job.show(&mut within, session, work);
                        None
                    }
                    Page::Find => {
                        self.finder.show(&mut within, session, scene);
                        None
                    }
                    Page::Run => {
                        let chart = run.chart(scene);
                        let (export, asked) = self.plots.show_run(&mut within, session, chart.as_ref(), run.version());
                        if let Some(time_s) = asked {
                            run.go_to_time(session, time_s);
                        }
                        export
                    }
                    Page::Measured => {
                        self.measured.show(&mut within, session, scene);
                        None
                    }
                    Page::Shut => None,
                }
            })
            .inner
    }
}

fn tabs(ui: &mut Ui, page: Page) {
    ui.horizontal(|ui| {
        for (of, name) in [
            (Page::Plots, "Plots"),
            (Page::Run, "Run"),
            (Page::Measured, "Measured"),
            (Page::Findings, "Findings"),
            (Page::Find, "Find"),
            (Page::Job, "Job"),
        ] {
            if ui.selectable_label(page == of, name).clicked() {
                turn_to(ui.ctx(), of);
            }
        }
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let button = Button::new("×").min_size(Vec2::splat(theme::TARGET));
            let response = ui.add(button).on_hover_text("Shut the shelf");
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Shut the shelf"));
            if response.clicked() {
                turn_to(ui.ctx(), Page::Shut);
            }
        });
    });
}
