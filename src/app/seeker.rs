//! Searches that take seconds: a thread for each, told how far it is and stopped when it is no longer wanted.

use super::field::sentence;
use super::scene::Scene;
use crate::geom::Stance;
use crate::model::{Apparatus, Stop};
use crate::out::seek_answers::{EvenAnswer, SpreadAnswer};
use crate::run::Halt;
use crate::seek::even::{self, even};
use crate::seek::size::{self, size};
use crate::seek::spread::{self, spread};
use crate::seek::{Watch, targets};
use crate::shop::measured::{self, CompareError, Comparison, Predicted, UNCERTAINTY_PART};
use crate::stages::Pouring;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, channel};

/// What is sought.
#[derive(Clone, Debug)]
pub(crate) enum Sought {
    /// A run that fills every vessel: tolerance as a part of the target, greatest tilt and roll in degrees, most stances.
    Even {
        tolerance: f64,
        tilt_deg: f64,
        roll_deg: f64,
        stops: usize,
    },
    /// Sizes for the targets.
    Size(size::Question),
    /// How the fills spread.
    Spread(spread::Question),
    /// What was measured held against the run.
    Comparison,
}

/// What was found.
#[derive(Debug)]
pub(crate) enum Found {
    /// A run, and the stances of it.
    Even(EvenAnswer, Vec<Stop>),
    /// Sizes, best first.
    Size(Vec<size::Answer>),
    /// How the fills spread.
    Spread(SpreadAnswer),
    /// Prediction and measurement.
    Compared(Compared),
    /// Nothing, and why.
    Nothing(String),
}

/// Prediction and measurement.
#[derive(Debug)]
pub(crate) struct Compared {
    /// What the run leaves in every vessel.
    pub predicted: Vec<Predicted>,
    /// What was measured against it; none where nothing was, or where it can't be compared.
    pub comparison: Option<Comparison>,
    /// Why it can't be compared.
    pub refusal: Option<String>,
    /// Whether this is the end of it: what the run leaves is told before it is compared.
    pub is_whole: bool,
}

/// A search under way.
pub(crate) struct Search {
    progress: Arc<Progress>,
    answer: Receiver<Found>,
    /// Revision of the document that it is about.
    pub revision: u64,
}

#[derive(Default)]
struct Progress {
    permille: AtomicU32,
    is_unwanted: AtomicBool,
}

impl Watch for Progress {
    fn at(&self, part: f64) -> bool {
        self.permille
            .fetch_max((1000.0 * part.clamp(0.0, 1.0)) as u32, Ordering::Relaxed);
        !self.is_unwanted.load(Ordering::Relaxed)
    }
}

impl Search {
    /// Begins a search; `ctx` is repainted when it is over. None when no thread can be had.
    pub(crate) fn begin(
        ctx: &egui::Context,
        sought: Sought,
        apparatus: &Apparatus,
        scene: &Scene,
        revision: u64,
    ) -> Option<Self> {
        let progress = Arc::new(Progress::default());
        let (outbox, answer) = channel();
        let (ctx, watched, apparatus) = (ctx.clone(), Arc::clone(&progress), apparatus.clone());
        let interior = scene.interior.clone();
        let thread = std::thread::Builder::new().name("seek".into()).spawn(move || {
            let tell = |found: Found| {
                // Nobody may be waiting any more.
                let _ = outbox.send(found);
                ctx.request_repaint();
            };
            let found = match interior {
                Some(_) if matches!(sought, Sought::Comparison) => compare(&apparatus, &*watched, &tell),
                Some(interior) => find(&sought, &apparatus, &interior, &*watched),
                None => Some(Found::Nothing("The glass has no interior yet.".to_owned())),
            };
            if let Some(found) = found {
                tell(found);
            }
        });
        thread.is_ok().then_some(Self {
            progress,
            answer,
            revision,
        })
    }

    /// How far it is, 0 to 1.
    pub(crate) fn part(&self) -> f32 {
        self.progress.permille.load(Ordering::Relaxed) as f32 / 1000.0
    }

    /// What has been found since the last call, in its order.
    pub(crate) fn answer(&self) -> Option<Found> {
        self.answer.try_recv().ok()
    }
}

impl Drop for Search {
    fn drop(&mut self) {
        self.progress.is_unwanted.store(true, Ordering::Relaxed);
    }
}

fn find(sought: &Sought, apparatus: &Apparatus, interior: &crate::geom::Interior, watch: &dyn Watch) -> Option<Found> {
    let mut plan = Pouring::of(apparatus, interior).plan;
    if plan.given.is_empty() {
        return Some(Found::Nothing(
            "No piece is given liquid: set the charge first.".to_owned(),
        ));
    }
    match sought {
        Sought::Comparison => None,
        Sought::Even {
            tolerance,
            tilt_deg,
            roll_deg,
            stops,
        } => {
            plan.halts.truncate(1);
            if plan.halts.is_empty() {
                plan.halts.push(Halt::default());
            }
            let first = plan.halts[0].stance;
            let question = even::Question {
                targets: targets(apparatus, interior),
                tolerance: *tolerance,
                tilts: (-tilt_deg, *tilt_deg),
                rolls: (-roll_deg, *roll_deg),
                finish: first,
                most_stops: *stops,
            };
            if question.targets.is_empty() {
                return Some(Found::Nothing("There are no ampoules to be filled.".to_owned()));
            }
            let found = even(interior, &plan, &question, watch)?;
            let answer = EvenAnswer::new(interior, &plan, &question, &found);
            Some(Found::Even(answer, stops_of(apparatus, first, &found.stops)))
        }
        Sought::Size(question) => Some(match size(apparatus, question, watch)? {
            Ok(answers) => Found::Size(answers),
            Err(refusal) => Found::Nothing(format!("{refusal}.")),
        }),
        Sought::Spread(question) => {
            if plan.halts.len() < 2 {
                return Some(Found::Nothing(
                    "There is no run yet: find an even one first.".to_owned(),
                ));
            }
            let found = spread(apparatus, *question, watch)?;
            Some(Found::Spread(SpreadAnswer::new(interior, question.seed, &found)))
        }
    }
}

/// Tells what the run leaves; gives what was measured against it.
fn compare(apparatus: &Apparatus, watch: &dyn Watch, tell: &dyn Fn(Found)) -> Option<Found> {
    let sentence = |error: &CompareError| sentence(&error.to_string()) + ".";
    if apparatus.run.stops.is_empty() {
        let why = "There is no run to hold fills against: add its stops, or find an even run.";
        return Some(Found::Nothing(why.to_owned()));
    }
    let predicted = match measured::predict(apparatus) {
        Ok(predicted) => predicted,
        Err(error) => return Some(Found::Nothing(sentence(&error))),
    };
    tell(Found::Compared(Compared {
        predicted: predicted.clone(),
        comparison: None,
        refusal: None,
        is_whole: false,
    }));
    let fills = &apparatus.run.measured;
    let (comparison, refusal) = match measured::compare_with(apparatus, &predicted, fills, UNCERTAINTY_PART, watch) {
        Ok(comparison) => (Some(comparison), None),
        Err(CompareError::Stopped) => return None,
        Err(CompareError::Nothing) => (None, None),
        Err(error) => (None, Some(sentence(&error))),
    };
    Some(Found::Compared(Compared {
        predicted,
        comparison,
        refusal,
        is_whole: true,
    }))
}

/// The stops of a run: the first as it was, those found, and back to the first.
fn stops_of(apparatus: &Apparatus, first: Stance, found: &[Stance]) -> Vec<Stop> {
    let at = |stance: &Stance| Stop::at(stance.tilt_deg, stance.roll_deg);
    let begin = apparatus.run.stops.first().cloned().unwrap_or_else(|| at(&first));
    let end = Stop {
        name: String::new(),
        ..at(&first)
    };
    std::iter::once(begin)
        .chain(found.iter().map(at))
        .chain([end])
        .collect()
}
