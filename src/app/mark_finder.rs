//! The turns of the present glass and liquid: asked for when what they follow from has changed, kept as marks.

use super::marks::Marks;
use super::scene::Scene;
use super::worker::{Question, Scale, Worker};
use crate::geom::Stance;
use crate::geom::events::Turning;

/// One scale: what was asked last, and what is shown.
#[derive(Default)]
struct Kept {
    asked: Option<Question>,
    marks: Marks,
}

/// The marks of the tilt ring and of the roll scale, and the thread that finds them.
pub(crate) struct MarkFinder {
    worker: Worker,
    kept: [Kept; 2],
}

impl MarkFinder {
    /// Starts the thread; `ctx` is repainted when there are new marks.
    pub(crate) fn new(ctx: &egui::Context) -> Self {
        Self {
            worker: Worker::new(ctx),
            kept: Default::default(),
        }
    }

    /// Asks for what has changed and takes what has been found since. The tilt ring starts from the glass as drawn,
    /// held at its present roll; the roll scale from its present tilt. While something is dragged the marks of a moment
    /// ago stay until the new ones are there.
    pub(crate) fn follow(&mut self, scene: &Scene, stance: Stance) {
        for scale in Scale::ALL {
            let turning = match scale {
                Scale::Ring => Turning::Tilt {
                    roll_deg: stance.roll_deg,
                },
                Scale::Roll => Turning::Roll {
                    tilt_deg: stance.tilt_deg,
                },
            };
            let kept = &mut self.kept[scale as usize];
            let question = scene.question(turning);
            if kept.asked == question {
                continue;
            }
            match &question {
                Some(question) => {
                    self.worker.ask(scale, question.clone());
                    kept.marks.keep_those_of(question.interior.pieces());
                }
                None => kept.marks = Marks::default(),
            }
            kept.asked = question;
        }
        for (scale, question, turn) in self.worker.answers() {
            let kept = &mut self.kept[scale as usize];
            // Nothing is asked any more when the glass is gone.
            if kept.asked.is_some() {
                kept.marks = Marks::new(&question, turn, |piece| scene.is_vessel(piece));
            }
        }
    }

    /// The marks of a scale.
    pub(crate) fn of(&self, scale: Scale) -> &Marks {
        &self.kept[scale as usize].marks
    }
}
