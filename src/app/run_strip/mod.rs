//! The strip of the run: its stops as cards, its time line with what happens on it, and the player that shows any moment
//! of it on the bench.

mod cards;
mod fields;
mod happenings;
mod head;
mod line;
mod player;
mod seen;
mod thumbs;
mod worker;

pub(crate) use seen::Seen;

use super::region::Region;
use super::scene::{Scene, Still};
use super::session::Session;
use super::shelf::{self, Page};
use super::theme;
use crate::geom::Settled;
use crate::model::{Edit, Run, Stop};
use crate::out::chart::{Chart, Unit};
use crate::out::run_chart::{self, Course};
use crate::run::{Halt, Outcome};
use crate::units::MM3_PER_ML;
use egui::{Button, Frame, Margin, Panel, RichText, Ui, UiBuilder, vec2};
use player::{Place, Player};
use thumbs::Thumbs;
use worker::{Asked, End, Poured, Worker};

/// Height of the strip while there are stops, and of an empty one, points.
const HEIGHTS: [f32; 2] = [158.0, 96.0];
/// Volumes that differ by less are shown alike, mL.
const SHOWN_ML: f64 = 0.005;

/// What the bench shows of the run: which pour and which time of it.
pub(crate) type Key = (u64, u64);

/// The strip.
pub(crate) struct RunStrip {
    worker: Worker,
    poured: Option<Poured>,
    /// Whether what was poured was poured in the present glass.
    fits: bool,
    /// Grows with every pour.
    pours: u64,
    /// The stops of the present design and their clock.
    clock: (Vec<Stop>, Outcome),
    player: Player,
    selected: Option<usize>,
    /// A stop whose card is to be brought into view.
    look: bool,
    /// Why the last change was refused.
    refusal: Option<String>,
    /// Why a field refuses what was typed.
    in_field: Option<String>,
    thumbs: Thumbs,
}

/// A time of a run in words.
fn clock_text(time_s: f64) -> String {
    Unit::Second.text(time_s)
}

impl RunStrip {
    /// A strip; `ctx` is repainted when a run has been poured.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        Self {
            worker: Worker::new(ctx),
            poured: None,
            fits: false,
            pours: 0,
            clock: (Vec::new(), Outcome::default()),
            player: Player::default(),
            selected: None,
            look: false,
            refusal: None,
            in_field: None,
            thumbs: Thumbs::default(),
        }
    }

    /// Another document is open.
    pub(crate) fn forget(&mut self) {
        (self.poured, self.fits, self.selected, self.refusal) = (None, false, None, None);
        self.player.leave();
    }

    /// Whether the bench shows the run.
    pub(crate) fn is_on(&self) -> bool {
        self.player.is_on
    }

    /// Hands the bench back.
    pub(crate) fn leave(&mut self) {
        self.player.leave();
    }

    /// Asks for what has changed if it `is_wanted`, takes what was poured, plays on, and holds the glass as the run
    /// does; a stance that the hand has changed ends that.
    pub(crate) fn follow(&mut self, ctx: &egui::Context, session: &mut Session, scene: &Scene, is_wanted: bool) {
        let apparatus = session.document.now();
        let run = &apparatus.run;
        if self.clock.0 != run.stops {
            self.clock = (run.stops.clone(), Outcome::clock(Halt::all(&run.stops)));
            self.selected = self.selected.filter(|stop| *stop < run.stops.len());
        }
        if run.stops.is_empty() {
            self.player.leave();
        }
        if let Some(interior) = scene.interior.as_ref().filter(|_| is_wanted) {
            self.worker.ask(interior, || Asked {
                interior: std::sync::Arc::clone(interior),
                apparatus: apparatus.clone(),
                vessels: (0..interior.pieces().len())
                    .map(|piece| scene.is_vessel(piece))
                    .collect(),
            });
        }
        if let Some(poured) = self.worker.answer() {
            self.poured = Some(poured);
            self.pours += 1;
        }
        let fits = |poured: &Poured| !poured.end.outcome.halts.is_empty() && poured.fits(apparatus);
        self.fits = self.poured.as_ref().is_some_and(fits);
        if self.player.played_to.is_some() {
            let now_s = ctx.input(|input| input.time);
            let mut player = self.player.clone();
            player.play_to(self.score(), now_s);
            self.player = player;
            ctx.request_repaint();
        }
        self.hold(session);
    }

    fn hold(&mut self, session: &mut Session) {
        if !self.player.is_on {
            return;
        }
        if session.stance != self.player.held {
            self.player.leave();
            return;
        }
        let score = self.score();
        let stance = score.stance(self.player.moment(score).0);
        session.tilt_exactly(stance.tilt_deg);
        session.stance.roll_deg = stance.roll_deg;
        self.player.held = session.stance;
    }

    /// The run that times and stances are taken from: as poured, or, where that is of another glass, as planned.
    fn score(&self) -> &Outcome {
        match self.shown() {
            Some(poured) => &poured.end.outcome,
            None => &self.clock.1,
        }
    }

    /// What was poured, if it was in the present glass.
    fn shown(&self) -> Option<&Poured> {
        self.poured.as_ref().filter(|_| self.fits)
    }

    /// Whether what was poured is the present run.
    fn is_current(&self, scene: &Scene) -> bool {
        let Some(interior) = &scene.interior else { return true };
        let of_this = |poured: &Poured| std::sync::Arc::ptr_eq(&poured.asked.interior, interior);
        self.poured.as_ref().is_some_and(of_this)
    }

    /// What the bench shows of the run; none where it shows the charge as it was given.
    pub(crate) fn key(&self) -> Option<Key> {
        let poured = self.shown().filter(|_| self.player.is_on)?;
        Some((self.pours, self.player.time_s(&poured.end.outcome).to_bits()))
    }

    /// The liquid at the moment of the run.
    pub(crate) fn still(&self, scene: &Scene) -> Option<Still> {
        let poured = self.shown().filter(|_| self.player.is_on)?;
        let (outcome, interior) = (&poured.end.outcome, &*poured.asked.interior);
        let (moment, stop) = self.player.moment(outcome);
        let stance = outcome.stance(moment);
        let posture = interior.at(stance);
        let mut still = Still::of(scene, &posture, stance, self.settled(&poured.end, poured));
        still.run = Some(Seen::at(outcome, interior, (self.player.time_s(outcome), moment, stop)));
        if let Some(least) = &poured.least {
            let other = self.settled(least, poured);
            for vessel in &mut still.vessels {
                let piece = interior.piece_index(&vessel.name);
                let other_ml = piece.map_or(0.0, |piece| other.held_by(piece) / MM3_PER_ML);
                let (low, high) = (vessel.volume_ml.min(other_ml), vessel.volume_ml.max(other_ml));
                vessel.band_ml = (high - low >= SHOWN_ML).then_some((low, high));
            }
        }
        Some(still)
    }

    fn settled(&self, end: &End, poured: &Poured) -> Settled {
        let (moment, stop) = self.player.moment(&end.outcome);
        match stop.and_then(|stop| end.outcome.stops.get(stop)) {
            Some(rest) => rest.settled.clone(),
            None => end.outcome.settled(&poured.asked.interior, moment),
        }
    }

    /// Shows a place of the run on the bench.
    fn go(&mut self, session: &mut Session, place: Place) {
        if self.clock.0.is_empty() {
            return;
        }
        if let Place::Stop(stop) = place {
            self.selected = Some(stop);
            self.look = true;
        }
        self.player.played_to = None;
        (self.player.place, self.player.is_on, self.player.held) = (place, true, session.stance);
        self.hold(session);
    }

    /// Goes to a time of the run, s from its start.
    pub(crate) fn go_to_time(&mut self, session: &mut Session, time_s: f64) {
        self.go(session, Place::Time(time_s));
    }

    /// Goes to the next stop, or to the one before.
    pub(crate) fn step(&mut self, session: &mut Session, forward: bool) {
        if let Some(stop) = self.player.next_stop(self.score(), forward) {
            self.go(session, Place::Stop(stop));
        }
    }

    /// Plays the run from where it is, from its start when it is over, or lets it stand.
    pub(crate) fn play(&mut self, ctx: &egui::Context, session: &mut Session) {
        if self.player.played_to.is_some() {
            self.player.played_to = None;
            return;
        }
        let (score, now_s) = (self.score(), ctx.input(|input| input.time));
        let time_s = self.player.time_s(score);
        let begin_s = if time_s >= score.lasts_s() || !self.player.is_on {
            0.0
        } else {
            time_s
        };
        self.go(session, Place::Time(begin_s));
        if self.player.is_on {
            self.player.played_to = Some(now_s);
            ctx.request_repaint();
        }
    }

    /// Adds the present stance as a stop after the selected one, or at the end.
    pub(crate) fn add_present(&mut self, session: &mut Session) {
        let count = session.document.now().run.stops.len();
        let index = self.selected.map_or(count, |stop| (stop + 1).min(count));
        self.insert(session, index);
    }

    fn insert(&mut self, session: &mut Session, index: usize) {
        let stop = present(session);
        if self.change(session, &Edit::AddStop { index, stop }) {
            self.select(session, index);
        }
    }

    /// Selects a stop that was just made or moved; a run on the bench goes there.
    fn select(&mut self, session: &mut Session, stop: usize) {
        self.selected = Some(stop);
        self.look = true;
        if self.player.is_on {
            self.go(session, Place::Stop(stop));
        }
    }

    /// Puts an edit into the document; whether it was taken.
    fn change(&mut self, session: &mut Session, edit: &Edit) -> bool {
        match session.document.settled().apply(edit) {
            Ok(next) => {
                session.document.change(&edit.words(), next);
                self.refusal = None;
                true
            }
            Err(error) => {
                self.refusal = Some(super::field::sentence(&error.to_string()) + ".");
                false
            }
        }
    }

    /// The run's chart, once it is poured.
    pub(crate) fn chart(&self, scene: &Scene) -> Option<Chart> {
        let poured = self.shown()?;
        let targets = scene
            .plans()
            .iter()
            .filter_map(|plan| Some((plan.piece, plan.target_ml?)));
        let about = Course {
            targets: targets.collect(),
            now_s: self.player.is_on.then(|| self.player.time_s(&poured.end.outcome)),
        };
        let least = poured.least.as_ref().map(|end| &end.trace);
        Some(run_chart::of(&poured.asked.interior, &poured.end.trace, least, &about))
    }

    /// A number that changes with the lines of the chart.
    pub(crate) fn version(&self) -> u64 {
        self.pours
    }

    /// Shows the strip; whether it is to be folded.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene) -> bool {
        let has_stops = !session.document.now().run.stops.is_empty();
        let frame = Frame::new()
            .fill(theme::of(ui).panel)
            .inner_margin(Margin::symmetric(10, 5));
        Panel::bottom("run strip")
            .resizable(false)
            .exact_size(HEIGHTS[usize::from(!has_stops)])
            .frame(frame)
            .show(ui, |ui| {
                let rect = ui.available_rect_before_wrap();
                Region::Run.mark(ui, rect.expand(4.0));
                let mut within = ui.new_child(UiBuilder::new().max_rect(rect));
                ui.advance_cursor_after_rect(rect);
                within.spacing_mut().item_spacing.y = 5.0;
                let folds = head::show(&mut within, self, session, scene);
                if has_stops {
                    self.line(&mut within, session);
                    cards::show(&mut within, self, session, scene);
                } else {
                    self.empty(&mut within, session);
                }
                folds
            })
            .inner
    }

    /// What a design without a run is offered.
    fn empty(&mut self, ui: &mut Ui, session: &mut Session) {
        let words = "No stops yet. Tilt the glass and add its stance, stop by stop, or let an even run be found.";
        ui.label(RichText::new(words).color(theme::of(ui).quiet));
        ui.horizontal(|ui| {
            let target = vec2(0.0, theme::TARGET);
            if ui.add(Button::new("Add the present stance").min_size(target)).clicked() {
                self.add_present(session);
            }
            if ui.add(Button::new("Find: even them out").min_size(target)).clicked() {
                shelf::turn_to(ui.ctx(), Page::Find);
            }
        });
    }
}

/// A stop at the present stance, to a hundredth of a degree.
fn present(session: &Session) -> Stop {
    let hundredths = |deg: f64| (deg * 100.0).round() / 100.0 + 0.0;
    Stop::at(hundredths(session.stance.tilt_deg), hundredths(session.stance.roll_deg))
}

/// The run of the present design.
fn run(session: &Session) -> &Run {
    &session.document.now().run
}
