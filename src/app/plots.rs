//! The plots below the bench: volume against height in the piece shown, and everything against tilt.

use super::controls;
use super::plot_view::{self, Look, Names, Shown};
use super::reading::Reading;
use super::scene::{Scene, Still};
use super::session::Session;
use super::theme;
use super::turning::{Turned, Turning, Wanted};
use crate::geom::{Stance, main_pool};
use crate::out::chart::{Chart, ChartError, MarkKind, Unit};
use crate::out::curves::{self, Piece, Turn};
use crate::units::LengthUnit;
use egui::accesskit::Role;
use egui::{Align, CursorIcon, Key, Layout, RichText, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo};
use serde::{Deserialize, Serialize};

/// Width from which both plots stand side by side, points.
const WIDE: f32 = 600.0;
/// Part of the width that the plot against height gets.
const HEIGHT_PART: f32 = 0.4;
/// Part of the height that the volumes get where the free surface stands below them.
const VOLUMES_PART: f32 = 0.6;
/// Width from which the marks are told with their volumes, points.
const ROOMY: f32 = 340.0;
/// Height of the scale below a plot, points.
const FOOT: f32 = 34.0;

/// What a chart is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    /// A picture.
    Svg,
    /// A table.
    Csv,
}

impl Form {
    /// Ending of its files.
    pub(crate) fn ending(self) -> &'static str {
        match self {
            Self::Svg => "svg",
            Self::Csv => "csv",
        }
    }
}

/// A chart to be written to a file that is yet to be chosen.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Export {
    /// The chart as it was when this was asked for.
    pub chart: Chart,
    /// As what.
    pub form: Form,
}

impl Export {
    /// What is to be written.
    ///
    /// # Errors
    /// When the table can't be made.
    pub(crate) fn text(&self) -> Result<String, ChartError> {
        match self.form {
            Form::Svg => Ok(self.chart.svg()),
            Form::Csv => self.chart.csv(),
        }
    }
}

/// Which plot is shown where there is room for one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Choice {
    /// Volume against height.
    #[default]
    Height,
    /// Everything against tilt.
    Tilt,
}

/// What the chart against height was made for.
#[derive(Clone, Debug, PartialEq)]
struct HeightBasis {
    revision: u64,
    stance: Stance,
    length_unit: LengthUnit,
    piece: String,
}

/// The plots, and what is kept of them from frame to frame.
pub(crate) struct Plots {
    turning: Turning,
    /// Grows with every document that is opened.
    document: u64,
    turned: Turned,
    /// Grows with every answer.
    answers: u64,
    height: Option<(HeightBasis, Option<Chart>)>,
    /// The chart against tilt, the answer and the selection that it was made for.
    tilt: Option<(u64, Vec<String>, Chart)>,
    /// Grows with every chart against tilt.
    version: u64,
    names: [Names; 3],
}

impl Plots {
    /// The plots; `ctx` is repainted when a turn has been computed.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        Self {
            turning: Turning::new(ctx),
            document: 0,
            turned: Turned::default(),
            answers: 0,
            height: None,
            tilt: None,
            version: 0,
            names: Default::default(),
        }
    }

    /// Forgets everything of a document that is no longer open.
    pub(crate) fn forget(&mut self) {
        self.document += 1;
        self.turned = Turned::default();
        (self.height, self.tilt) = (None, None);
    }

    /// Shows the plots; gives a chart that is to be written to a file.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene, still: &Still) -> Option<Export> {
        let width = ui.available_width();
        let rect = ui.available_rect_before_wrap();
        if width >= WIDE {
            let split = rect.left() + (width * HEIGHT_PART).round();
            let (mut left, mut right) = (rect, rect);
            left.set_right(split - 8.0);
            right.set_left(split + 8.0);
            let from_height = ui
                .scope_builder(UiBuilder::new().max_rect(left), |ui| {
                    self.show_height(ui, session, scene, still)
                })
                .inner;
            let from_tilt = ui
                .scope_builder(UiBuilder::new().max_rect(right), |ui| {
                    self.show_tilt(ui, session, scene)
                })
                .inner;
            return from_height.or(from_tilt);
        }
        let before = Reading::of(ui.ctx()).plot;
        let mut choice = before;
        ui.horizontal(|ui| {
            ui.selectable_value(&mut choice, Choice::Height, "Against height");
            ui.selectable_value(&mut choice, Choice::Tilt, "Against tilt");
        });
        if choice != before {
            Reading::change(ui.ctx(), |reading| reading.plot = choice);
        }
        match choice {
            Choice::Height => self.show_height(ui, session, scene, still),
            Choice::Tilt => self.show_tilt(ui, session, scene),
        }
    }

    fn show_height(&mut self, ui: &mut Ui, session: &Session, scene: &Scene, still: &Still) -> Option<Export> {
        let name = session.selection.shown().unwrap_or_default().to_owned();
        let chart = against_height(&mut self.height, &name, session, scene, still);
        let Some(chart) = chart else {
            head(ui, "Volume against height", "", None);
            let words = if name.is_empty() {
                "Choose a piece on the bench or in the ledger to see how its volume rises with height."
            } else {
                "This piece has no hollow at this stance."
            };
            quiet(ui, words);
            return None;
        };
        let export = head(
            ui,
            &format!("Volume against height in {name}"),
            &marks_line(chart, ui.available_width()),
            Some(chart),
        );
        let look = Look {
            id: "against height",
            height: ui.available_height().max(60.0),
            has_foot: true,
            names_marks: true,
            is_live: false,
            version: 0,
            strong: &[],
        };
        let panel = chart.panels.first()?;
        let shown = plot_view::show(ui, chart, panel, &look, &mut self.names[0]);
        describe(ui, &shown, Role::Image, "Volume against height", chart);
        tell(&shown, chart);
        export
    }

    fn show_tilt(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene) -> Option<Export> {
        self.follow(session, scene);
        let title = "Held against tilt";
        if scene.given().is_empty() {
            head(ui, title, "", None);
            quiet(
                ui,
                "Give liquid to a piece in its particulars to see where it goes at every tilt.",
            );
            return None;
        }
        let Some((_, _, chart)) = &self.tilt else {
            head(ui, title, "", None);
            quiet(ui, "The turn is being computed.");
            return None;
        };
        let settled = self.turned.is_fine && self.turned.wanted == self.wanted(session);
        let line = if settled {
            turn_line(chart)
        } else {
            "Finer steps are being computed.".to_owned()
        };
        let export = head(ui, title, &line, settled.then_some(chart));
        let room = (ui.available_height() - FOOT).max(60.0);
        let parts = if chart.panels.len() > 1 {
            [VOLUMES_PART, 1.0 - VOLUMES_PART]
        } else {
            [1.0, 0.0]
        };
        let mut asked = None;
        ui.spacing_mut().item_spacing.y = 2.0;
        for (i, panel) in chart.panels.iter().enumerate().take(2) {
            let is_last = i + 1 == chart.panels.len();
            let look = Look {
                names_marks: i == 0,
                id: ["volumes against tilt", "surface against tilt"][i],
                height: room * parts[i] + if is_last { FOOT } else { 0.0 },
                has_foot: is_last,
                is_live: true,
                version: self.version,
                strong: session.selection.names(),
            };
            let shown = plot_view::show(ui, chart, panel, &look, &mut self.names[i]);
            let label = ["Held against tilt", "Free surface against tilt"][i];
            describe(ui, &shown, Role::Slider, label, chart);
            if shown.response.clicked() || shown.response.dragged_by(egui::PointerButton::Primary) {
                asked = shown.pointed.or(asked);
            } else {
                tell(&shown, chart);
            }
            let step = controls::keys(ui, shown.response.id, (Key::ArrowLeft, Key::ArrowRight));
            if step != 0.0 {
                session.tilt_to(session.stance.tilt_deg + step);
            }
            if shown.response.has_focus() {
                let stroke = Stroke::new(2.0, theme::of(ui).accent);
                ui.painter()
                    .rect_stroke(shown.response.rect, 2.0, stroke, StrokeKind::Inside);
            }
            shown.response.on_hover_cursor(CursorIcon::ResizeHorizontal);
        }
        if let Some(tilt) = asked {
            let coarse = ui.input(|input| input.modifiers.command);
            let step = if coarse { 5.0 } else { 0.1 };
            session.tilt_to((tilt.clamp(-180.0, 180.0) / step).round() * step);
        }
        export
    }

    /// Shows the chart of the run, of which the lines change with `version`; gives a chart that is to be written to a
    /// file, and the time that was asked for, s.
    pub(crate) fn show_run(
        &mut self,
        ui: &mut Ui,
        session: &Session,
        chart: Option<&Chart>,
        version: u64,
    ) -> (Option<Export>, Option<f64>) {
        let title = "Held over the run";
        let Some((chart, panel)) = chart.and_then(|chart| Some((chart, chart.panels.first()?))) else {
            head(ui, title, "", None);
            let words = if session.document.now().run.stops.is_empty() {
                "The run has no stops yet: add the present stance in the strip of the run."
            } else {
                "The run is being poured."
            };
            quiet(ui, words);
            return (None, None);
        };
        let line = "Click or drag to go to a time of the run.";
        let export = head(ui, title, line, Some(chart));
        let look = Look {
            id: "against time",
            height: ui.available_height().max(60.0),
            has_foot: true,
            names_marks: true,
            is_live: true,
            version,
            strong: session.selection.names(),
        };
        let shown = plot_view::show(ui, chart, panel, &look, &mut self.names[2]);
        describe(ui, &shown, Role::Slider, title, chart);
        let is_held = shown.response.clicked() || shown.response.dragged_by(egui::PointerButton::Primary);
        let asked = shown.pointed.filter(|_| is_held);
        if asked.is_none() {
            tell(&shown, chart);
        }
        shown.response.on_hover_cursor(CursorIcon::ResizeHorizontal);
        (export, asked)
    }

    fn wanted(&self, session: &Session) -> Wanted {
        Wanted {
            document: self.document,
            revision: session.document.revision(),
            roll_deg: session.stance.roll_deg,
        }
    }

    /// Asks for the turn, takes what has come, and keeps the chart of it up to date.
    fn follow(&mut self, session: &Session, scene: &Scene) {
        let Some(interior) = &scene.interior else { return };
        if !scene.given().is_empty() {
            self.turning.ask(self.wanted(session), interior, scene.given());
        }
        let of_this = |turned: &Turned| turned.wanted.document == self.document;
        if let Some(turned) = self.turning.answer().filter(of_this) {
            self.turned = turned;
            self.answers += 1;
        }
        let names = session.selection.names();
        let is_made = self
            .tilt
            .as_ref()
            .is_some_and(|(answer, selected, _)| *answer == self.answers && selected == names);
        // An answer about another glass waits for its own: numbers of pieces may have changed.
        let fits = self
            .turned
            .steps
            .first()
            .is_some_and(|step| step.held.len() == interior.pieces().len());
        if !is_made && fits {
            let index = |name: &String| interior.piece_index(name);
            let chosen: Vec<usize> = names.iter().filter_map(index).collect();
            let with_target = scene
                .plans()
                .iter()
                .filter(|plan| plan.target_ml.is_some_and(|ml| ml > 0.0));
            let mut pieces: Vec<usize> = with_target.map(|plan| plan.piece).collect();
            pieces.extend(
                chosen
                    .iter()
                    .filter(|piece| !pieces.contains(piece))
                    .copied()
                    .collect::<Vec<_>>(),
            );
            let about = Turn {
                pieces: &pieces,
                chosen: &chosen,
                surface_of: session.selection.shown().and_then(|name| interior.piece_index(name)),
                stance: session.stance,
            };
            let chart = curves::against_tilt(interior, &self.turned.steps, &about);
            self.tilt = Some((self.answers, names.to_vec(), chart));
            self.version += 1;
        }
        if let Some((_, _, chart)) = &mut self.tilt {
            for mark in chart.marks.iter_mut().filter(|mark| mark.kind == MarkKind::Present) {
                mark.x = session.stance.tilt_deg;
            }
        }
    }
}

/// The chart against height for a piece, made anew when what it hangs on has changed.
fn against_height<'a>(
    kept: &'a mut Option<(HeightBasis, Option<Chart>)>,
    name: &str,
    session: &Session,
    scene: &Scene,
    still: &Still,
) -> Option<&'a Chart> {
    let basis = HeightBasis {
        revision: session.document.revision(),
        stance: session.stance,
        length_unit: session.length_unit,
        piece: name.to_owned(),
    };
    if kept.as_ref().is_none_or(|(of, _)| *of != basis) {
        let plan = scene.plans().iter().find(|plan| plan.name == name);
        let chart = plan.zip(scene.interior.as_ref()).and_then(|(plan, interior)| {
            let up = basis.stance.up().xy();
            let about = Piece {
                piece: plan.piece,
                name,
                stance: basis.stance,
                length_unit: basis.length_unit,
                level: main_pool(&still.pools, plan.piece).map(|pool| pool.level),
                seal: plan.seals.iter().map(|place| up.dot(place)).min_by(f64::total_cmp),
                target_ml: plan.target_ml,
            };
            curves::against_height(&interior.at(basis.stance), &about)
        });
        *kept = Some((basis, chart));
    }
    kept.as_ref().and_then(|(_, chart)| chart.as_ref())
}

/// The title of a plot, the ways to write it down, and below what it shows.
fn head(ui: &mut Ui, title: &str, line: &str, chart: Option<&Chart>) -> Option<Export> {
    let mut asked = None;
    ui.horizontal(|ui| {
        ui.set_min_height(theme::TARGET);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if let Some(chart) = chart {
                asked = ways_to_save(ui, title, chart);
            }
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                let title = RichText::new(title).font(theme::heavy(13.0));
                ui.add(egui::Label::new(title).truncate());
            });
        });
    });
    if !line.is_empty() {
        let quiet = theme::of(ui).quiet;
        let text = RichText::new(line).font(theme::plain(12.0)).color(quiet);
        ui.add(egui::Label::new(text).wrap());
    }
    asked
}

/// The button beside a title that offers to write the chart down.
fn ways_to_save(ui: &mut Ui, title: &str, chart: &Chart) -> Option<Export> {
    let mut asked = None;
    let button = ui.menu_button("Save chart", |ui| {
        theme::outline_focus(ui);
        for (form, words) in [(Form::Svg, "As a picture (SVG)…"), (Form::Csv, "As a table (CSV)…")] {
            if ui.button(words).clicked() {
                ui.close();
                asked = Some(Export {
                    chart: chart.clone(),
                    form,
                });
            }
        }
    });
    let label = format!("Save chart: {title}");
    let response = button.response;
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &label));
    asked
}

/// What there is to say about a turn: how to use it, and what is not seen in it.
fn turn_line(chart: &Chart) -> String {
    let empty = chart.panels.first().map_or_else(String::new, |panel| {
        let lines = panel.lines.iter().filter(|line| line.runs(panel.y.unit).is_empty());
        lines.map(|line| line.name.as_str()).collect::<Vec<_>>().join(", ")
    });
    let mut line = "Each tilt on its own, from the charge as given. Click or drag to turn the glass.".to_owned();
    if chart.panels.len() < 2 {
        line += " Choose a piece to see its free surface.";
    }
    if !empty.is_empty() {
        line += &format!(" Empty at every tilt: {empty}.");
    }
    line
}

fn quiet(ui: &mut Ui, words: &str) {
    ui.add_space(4.0);
    ui.label(RichText::new(words).color(theme::of(ui).quiet));
}

/// The marks of a chart against height as a line of words; the volumes where there is room for them.
fn marks_line(chart: &Chart, width: f32) -> String {
    let marks = chart.marks.iter().map(|mark| {
        let at = chart.x.unit.text(mark.x);
        match mark.y.filter(|_| width >= ROOMY) {
            Some(y) => format!("{} {at}, {}", mark.kind.name(), Unit::Millilitre.text(y)),
            None => format!("{} {at}", mark.kind.name()),
        }
    });
    marks.collect::<Vec<_>>().join("  ·  ")
}

/// Name, role and numbers for assistive tools.
fn describe(ui: &Ui, shown: &Shown, role: Role, label: &str, chart: &Chart) {
    shown.response.widget_info(|| WidgetInfo::labeled(role, true, label));
    ui.ctx().accesskit_node_builder(shown.response.id, |node| {
        node.set_value(chart.words());
        node.set_description(chart.note.as_str());
    });
}

/// What the lines show under the pointer.
fn tell(shown: &Shown, chart: &Chart) {
    let Some(at) = shown
        .pointed
        .and_then(|x| chart.nearest(x))
        .filter(|_| shown.response.hovered())
    else {
        return;
    };
    shown.response.show_tooltip_ui(|ui| {
        let x = chart.xs.get(at).copied().unwrap_or_default();
        ui.label(RichText::new(format!("{} {}", chart.x.name, chart.x.unit.text(x))).font(theme::heavy(13.0)));
        for panel in &chart.panels {
            let unit = panel.y.unit;
            for line in &panel.lines {
                let value = line.values.get(at).copied().unwrap_or(f64::NAN);
                if value.is_finite() && (unit.shows(value) || panel.lines.len() == 1) {
                    let name = if panel.lines.len() == 1 {
                        &panel.y.name
                    } else {
                        &line.name
                    };
                    ui.label(format!("{name}: {}", unit.text(value)));
                }
            }
        }
    });
}
