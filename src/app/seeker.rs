//! Searches that take seconds: a worker for each, which tells how far it is and stops when it is no longer wanted.

use super::field::sentence;
use super::scene::Scene;
use super::worker::{Task, Worker};
use crate::geom::{Interior, Stance};
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

/// A search under way; without it the work stops.
pub(crate) struct Search {
    worker: Worker<Subject, Found>,
    /// Revision of the document that it is about.
    pub revision: u64,
}

/// What is sought, and in which design.
struct Subject {
    sought: Sought,
    apparatus: Apparatus,
    interior: Option<Arc<Interior>>,
}

impl Watch for Task<Found> {
    fn at(&self, part: f64) -> bool {
        self.is_at(part);
        self.is_newest()
    }
}

impl Search {
    /// Begins a search; `ctx` is repainted when it is over.
    pub(crate) fn begin(
        ctx: &egui::Context,
        sought: Sought,
        apparatus: &Apparatus,
        scene: &Scene,
        revision: u64,
    ) -> Self {
        let work = |subject: Subject, task: &Task<Found>| {
            let found = match &subject.interior {
                Some(_) if matches!(subject.sought, Sought::Comparison) => {
                    compare(&subject.apparatus, task, &|found| {
                        task.answer(found);
                    })
                }
                Some(interior) => find(&subject.sought, &subject.apparatus, interior, task),
                None => Some(Found::Nothing("The glass has no interior yet.".to_owned())),
            };
            if let Some(found) = found {
                task.answer(found);
            }
        };
        let worker = Worker::new(ctx, "seek", work);
        worker.ask(Subject {
            sought,
            apparatus: apparatus.clone(),
            interior: scene.interior.clone(),
        });
        Self { worker, revision }
    }

    /// How far it is, 0 to 1.
    pub(crate) fn part(&self) -> f32 {
        self.worker.part()
    }

    /// The newest that has been found since the last call.
    pub(crate) fn answer(&self) -> Option<Found> {
        self.worker.answer()
    }
}

fn find(sought: &Sought, apparatus: &Apparatus, interior: &Interior, watch: &dyn Watch) -> Option<Found> {
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
