//! The page of the shelf on which runs and sizes are found, and how sure an outcome is.
//!
//! Each search runs beside the window, tells how far it is and can be given up. What it finds is taken over as one step
//! that can be undone; a design that has changed meanwhile is not overwritten.

use super::scene::Scene;
use super::seeker::{Found, Search, Sought};
use super::session::Session;
use super::start::number;
use super::theme;
use crate::model::Run;
use crate::model::limits::{Limit, Unit};
use crate::out::seek_answers::{EvenAnswer, SpreadAnswer, SpreadVessel};
use crate::seek::size::{self, Vary};
use crate::seek::spread::{self, Tolerances};
use crate::units::{angle_text, fixed, length_text, volume_text};
use egui::{Button, Grid, ProgressBar, Rect, RichText, ScrollArea, Sense, Stroke, StrokeKind, Ui, pos2, vec2};

/// Width of the question, points.
const QUESTION: f32 = 270.0;
/// Width of a vessel's spread in the chart, points.
const SPREAD: f32 = 220.0;
/// How often a search under way is looked at, s.
const LOOK_S: f64 = 0.1;

static TOLERANCE: Limit = limit("tolerance", Unit::Count, 1.0, 50.0, 1.0);
static TILT: Limit = limit("tilt", Unit::Deg, 5.0, 180.0, 5.0);
static ROLL: Limit = limit("roll", Unit::Deg, 0.0, 60.0, 5.0);
static STOPS: Limit = limit("stances", Unit::Count, 1.0, 4.0, 1.0);
static HEADSPACE: Limit = limit("headspace", Unit::Count, 0.0, 80.0, 5.0);
static CLEARANCE: Limit = limit("clearance", Unit::Mm, 5.0, 100.0, 5.0);
static LONGEST: Limit = limit("length", Unit::Mm, 40.0, 1000.0, 10.0);
static SAMPLES: Limit = limit("glasses", Unit::Count, 10.0, 100_000.0, 100.0);
static ANGLE: Limit = limit("angle", Unit::Deg, 0.0, 20.0, 0.5);
static LENGTH: Limit = limit("length", Unit::Mm, 0.0, 10.0, 0.5);
static LEVEL: Limit = limit("level", Unit::Deg, 0.0, 10.0, 0.1);

const fn limit(key: &'static str, unit: Unit, min: f64, max: f64, step: f64) -> Limit {
    Limit {
        key,
        label: key,
        unit,
        min,
        max,
        step,
    }
}

/// What is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Kind {
    #[default]
    Even,
    Size,
    Spread,
}

/// The numbers of the questions.
struct Asked {
    tolerance_percent: f64,
    tilt_deg: f64,
    roll_deg: f64,
    stops: f64,
    headspace_percent: f64,
    clearance_mm: f64,
    longest_mm: f64,
    vary: [(Vary, bool); 3],
    samples: f64,
    angle_deg: f64,
    length_mm: f64,
    level_deg: f64,
}

impl Default for Asked {
    fn default() -> Self {
        let (size, hand) = (size::Question::default(), Tolerances::default());
        Self {
            tolerance_percent: 3.0,
            tilt_deg: 100.0,
            roll_deg: 0.0,
            stops: 2.0,
            headspace_percent: 100.0 * size.headspace,
            clearance_mm: size.clearance_mm,
            longest_mm: size.longest_mm,
            vary: [(Vary::Pitch, false), (Vary::Lean, false), (Vary::Slope, false)],
            samples: 500.0,
            angle_deg: hand.angle_deg,
            length_mm: hand.length_mm,
            level_deg: hand.level_deg,
        }
    }
}

/// The page.
#[derive(Default)]
pub(crate) struct Finder {
    kind: Kind,
    asked: Asked,
    search: Option<Search>,
    found: Option<(Found, u64)>,
}

impl Finder {
    /// Another document is open: what is under way is given up.
    pub(crate) fn forget(&mut self) {
        (self.search, self.found) = (None, None);
    }

    /// Shows the page.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene) {
        if let Some(search) = &self.search
            && let Some(found) = search.answer()
        {
            self.found = Some((found, search.revision));
            self.search = None;
        }
        ui.horizontal_top(|ui| {
            ui.vertical(|ui| {
                ui.set_width(QUESTION);
                ScrollArea::vertical()
                    .id_salt("question")
                    .show(ui, |ui| self.question(ui, session, scene));
            });
            ui.separator();
            ui.vertical(|ui| {
                ScrollArea::both()
                    .id_salt("found")
                    .auto_shrink(false)
                    .show(ui, |ui| self.answer(ui, session));
            });
        });
    }

    fn question(&mut self, ui: &mut Ui, session: &Session, scene: &Scene) {
        ui.horizontal(|ui| {
            for (kind, name) in [
                (Kind::Even, "Even run"),
                (Kind::Size, "Sizes"),
                (Kind::Spread, "How sure"),
            ] {
                ui.selectable_value(&mut self.kind, kind, name);
            }
        });
        let asked = &mut self.asked;
        let mut refuses = false;
        let mut ask = |ui: &mut Ui, words: &str, value: &mut f64, limit: &'static Limit| {
            refuses |= number(ui, words, value, limit);
        };
        let words = match self.kind {
            Kind::Even => {
                ask(ui, "Tolerance, %", &mut asked.tolerance_percent, &TOLERANCE);
                ask(ui, "Greatest tilt", &mut asked.tilt_deg, &TILT);
                ask(ui, "Greatest roll", &mut asked.roll_deg, &ROLL);
                ask(ui, "Most stances", &mut asked.stops, &STOPS);
                "Find an even run"
            }
            Kind::Size => {
                ask(ui, "Headspace, %", &mut asked.headspace_percent, &HEADSPACE);
                ask(ui, "Level to seal", &mut asked.clearance_mm, &CLEARANCE);
                ask(ui, "Longest vessel", &mut asked.longest_mm, &LONGEST);
                for (vary, is_free) in &mut asked.vary {
                    let words = match vary {
                        Vary::Pitch => "The pitch may grow",
                        Vary::Lean => "The lean may change",
                        Vary::Slope => "The slope of the header may change",
                    };
                    ui.checkbox(is_free, words);
                }
                "Find sizes"
            }
            Kind::Spread => {
                ask(ui, "Glasses", &mut asked.samples, &SAMPLES);
                ask(ui, "Angles by hand, ±", &mut asked.angle_deg, &ANGLE);
                ask(ui, "Lengths by hand, ±", &mut asked.length_mm, &LENGTH);
                ask(ui, "Level, ±", &mut asked.level_deg, &LEVEL);
                "Try how sure it is"
            }
        };
        ui.add_space(6.0);
        match &self.search {
            None => {
                let button = Button::new(words).min_size(vec2(QUESTION - 16.0, theme::TARGET + 4.0));
                if ui.add_enabled(!refuses, button).clicked() {
                    let sought = self.sought();
                    let revision = session.document.revision();
                    self.found = None;
                    let apparatus = session.document.now();
                    self.search = Some(Search::begin(ui.ctx(), sought, apparatus, scene, revision));
                }
            }
            Some(search) => {
                ui.add(
                    ProgressBar::new(search.part())
                        .show_percentage()
                        .desired_width(QUESTION - 16.0),
                );
                ui.ctx().request_repaint_after_secs(LOOK_S as f32);
                if ui.button("Give it up").clicked() {
                    self.search = None;
                }
            }
        }
    }

    fn sought(&self) -> Sought {
        let asked = &self.asked;
        match self.kind {
            Kind::Even => Sought::Even {
                tolerance: asked.tolerance_percent / 100.0,
                tilt_deg: asked.tilt_deg,
                roll_deg: asked.roll_deg,
                stops: asked.stops.round().max(1.0) as usize,
            },
            Kind::Size => Sought::Size(size::Question {
                headspace: asked.headspace_percent / 100.0,
                clearance_mm: asked.clearance_mm,
                longest_mm: asked.longest_mm,
                vary: asked
                    .vary
                    .iter()
                    .filter(|(_, is_free)| *is_free)
                    .map(|(vary, _)| *vary)
                    .collect(),
                tolerance: asked.tolerance_percent / 100.0,
                ..size::Question::default()
            }),
            Kind::Spread => Sought::Spread(spread::Question {
                samples: asked.samples.round().max(1.0) as usize,
                seed: 1,
                tolerances: Tolerances {
                    angle_deg: asked.angle_deg,
                    length_mm: asked.length_mm,
                    place_mm: asked.length_mm,
                    level_deg: asked.level_deg,
                    ..Tolerances::default()
                },
            }),
        }
    }

    fn answer(&mut self, ui: &mut Ui, session: &mut Session) {
        let colours = theme::of(ui);
        let Some((found, revision)) = &self.found else {
            let words = if self.search.is_some() { "Looking." } else { self.hint() };
            ui.label(RichText::new(words).color(colours.quiet));
            return;
        };
        let is_current = *revision == session.document.revision();
        if !is_current {
            ui.label(RichText::new("The design has changed since: ask again.").color(colours.watch));
        }
        match found {
            Found::Even(answer, stops) => {
                even(ui, answer);
                let button = Button::new("Take this run").min_size(vec2(0.0, theme::TARGET));
                if ui.add_enabled(is_current, button).clicked() {
                    let mut apparatus = session.document.now().clone();
                    apparatus.run = Run {
                        stops: stops.clone(),
                        ..apparatus.run
                    };
                    session.document.change("Take the even run", apparatus);
                    self.found = None;
                }
            }
            Found::Size(answers) => {
                if let Some(best) = sizes(ui, answers, is_current) {
                    let words = format!("Size the vessels: body {} × {} mm", best.body.od_mm, best.body.wall_mm);
                    session.document.change(&words, best.apparatus.clone());
                    self.found = None;
                }
            }
            Found::Spread(answer) => spread_chart(ui, answer),
            Found::Compared(_) => {}
            Found::Nothing(why) => {
                ui.label(why);
            }
        }
    }

    fn hint(&self) -> &'static str {
        match self.kind {
            Kind::Even => {
                "Finds the shortest run of stances that leaves every vessel within the tolerance of its target."
            }
            Kind::Size => {
                "Finds bodies and necks for the targets, made of tube from stock, and the run that fills them."
            }
            Kind::Spread => "Makes the glass many times as a hand might, pours each, and tells how the fills spread.",
        }
    }
}

fn even(ui: &mut Ui, answer: &EvenAnswer) {
    let verdict = if answer.is_met {
        "This run fills every vessel."
    } else {
        "No run within the tolerance was found; this is the nearest."
    };
    ui.strong(verdict);
    let stances: Vec<String> = answer
        .stances
        .iter()
        .map(|stance| match stance.roll_deg {
            0.0 => angle_text(stance.tilt_deg),
            roll => format!("{} rolled {}", angle_text(stance.tilt_deg), angle_text(roll)),
        })
        .collect();
    ui.label(format!("Stances: {}", stances.join(", then ")));
    Grid::new("evened")
        .striped(true)
        .spacing(vec2(18.0, 2.0))
        .show(ui, |ui| {
            let level = format!("Level {}", angle_text(answer.level_error_deg));
            let lip = format!("Lip {}", length_text(answer.lip_error_mm));
            for head in ["Vessel", "Target", "Fill", &level, &lip] {
                ui.strong(head);
            }
            ui.end_row();
            for vessel in &answer.vessels {
                ui.label(&vessel.piece);
                ui.label(volume_text(vessel.target_ml));
                ui.label(volume_text(vessel.volume_ml));
                ui.label(format!("± {}", volume_text(vessel.by_level_ml)));
                ui.label(format!("± {}", volume_text(vessel.by_lip_ml)));
                ui.end_row();
            }
        });
    ui.label(format!(
        "Greatest deviation {} %; heel elsewhere {}.",
        fixed(answer.worst_percent, 1),
        volume_text(answer.heel_ml)
    ));
    for obstacle in &answer.obstacles {
        ui.label(format!("– {obstacle}"));
    }
}

/// Shows the answers; gives the one that is to be taken.
fn sizes<'a>(ui: &mut Ui, answers: &'a [size::Answer], is_current: bool) -> Option<&'a size::Answer> {
    let mut taken = None;
    for (i, answer) in answers.iter().enumerate() {
        ui.horizontal(|ui| {
            let words = format!(
                "{}. Body {} × {} mm, {} long; {} from the level to the seal-off place",
                i + 1,
                fixed(answer.body.od_mm, 1),
                fixed(answer.body.wall_mm, 1),
                length_text(answer.body_mm),
                length_text(answer.room_mm)
            );
            let button = Button::new(format!("Take {}", i + 1)).min_size(vec2(0.0, theme::TARGET));
            if ui.add_enabled(is_current, button).clicked() {
                taken = Some(answer);
            }
            ui.strong(words);
        });
        for reason in &answer.reasons {
            ui.label(format!("– {reason}"));
        }
        ui.add_space(4.0);
    }
    taken
}

fn spread_chart(ui: &mut Ui, answer: &SpreadAnswer) {
    ui.strong(format!("{} glasses as a hand might make them", answer.samples));
    let most = answer
        .vessels
        .iter()
        .map(|v| v.quantiles_ml[4].max(v.target_ml))
        .fold(0.0, f64::max)
        * 1.1;
    Grid::new("spread").spacing(vec2(18.0, 2.0)).show(ui, |ui| {
        let under = format!("Below {} %", fixed(answer.under_percent, 0));
        for head in [
            "Vessel",
            "Fill: 5, 25, 50, 75, 95 of 100",
            "Mean",
            "Deviation",
            &under,
            "At the brim",
        ] {
            ui.strong(head);
        }
        ui.end_row();
        for vessel in &answer.vessels {
            ui.label(&vessel.piece);
            bar(ui, vessel, most);
            ui.label(volume_text(vessel.mean_ml));
            ui.label(volume_text(vessel.deviation_ml));
            ui.label(format!("{} %", fixed(vessel.under, 0)));
            ui.label(format!("{} %", fixed(vessel.brimful, 0)));
            ui.end_row();
        }
    });
    if answer.losing > 0.0 {
        ui.label(format!(
            "Something is lost by a port in {} % of them.",
            fixed(answer.losing, 0)
        ));
    }
    ui.strong("What matters most");
    for weight in answer.weights.iter().take(3) {
        ui.label(format!(
            "– {}: {} % of the spread",
            weight.dimension,
            fixed(weight.percent, 0)
        ));
    }
}

/// A vessel's fills: a line over 90 of 100 glasses, a box over 50, a stroke at the middle, and a tick at the target.
fn bar(ui: &mut Ui, vessel: &SpreadVessel, most: f64) {
    let (rect, response) = ui.allocate_exact_size(vec2(SPREAD, theme::TARGET), Sense::hover());
    let colours = theme::of(ui);
    let at = |ml: f64| rect.left() + rect.width() * (ml / most.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0) as f32;
    let [low, quarter, middle, three, high] = vessel.quantiles_ml;
    let (y, painter) = (rect.center().y, ui.painter());
    painter.line_segment([pos2(at(low), y), pos2(at(high), y)], Stroke::new(1.5, colours.text));
    let within = Rect::from_min_max(pos2(at(quarter), y - 6.0), pos2(at(three), y + 6.0));
    painter.rect(
        within,
        1.0,
        colours.liquid,
        Stroke::new(1.0, colours.text),
        StrokeKind::Middle,
    );
    painter.line_segment(
        [pos2(at(middle), y - 6.0), pos2(at(middle), y + 6.0)],
        Stroke::new(2.0, colours.text),
    );
    let target = at(vessel.target_ml);
    for (from, to) in [(y - 11.0, y - 7.0), (y + 7.0, y + 11.0)] {
        painter.line_segment([pos2(target, from), pos2(target, to)], Stroke::new(2.0, colours.accent));
    }
    let words = format!(
        "{}: 5 to 95 of 100 glasses {} to {}, target {}",
        vessel.piece,
        volume_text(low),
        volume_text(high),
        volume_text(vessel.target_ml)
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &words));
    response.on_hover_text(words);
}
