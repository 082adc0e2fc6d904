//! The stages of the job in the window: worked out beside it, shown on a page of the shelf, judged with the glass.

mod entry;
mod own_liquid;
mod page;
mod plot;
mod result;
pub(crate) mod silence;
mod worker;

pub(crate) use entry::apply;
pub(crate) use page::Page;
pub(crate) use silence::Silencing;

use super::scene::Scene;
use super::session::Session;
use crate::findings::{self, Review, Unknown};
use egui::Context;
use worker::Worker;

/// Works out the stages beside the window and keeps what came of them.
pub(crate) struct Work {
    /// None where the window works out no job.
    worker: Option<Worker>,
    worked: Option<worker::Worked>,
    /// The review, the revision and length unit it is of, and the revision that the stages in it are of.
    review: Option<(u64, bool, Option<u64>, Review)>,
}

impl Work {
    /// Ready to work; `ctx` is repainted when something is worked out.
    pub(crate) fn new(ctx: &Context, works: bool) -> Self {
        Self {
            worker: works.then(|| Worker::new(ctx)),
            worked: None,
            review: None,
        }
    }

    /// Takes what is worked out, and asks for what has changed.
    pub(crate) fn follow(&mut self, session: &Session) {
        let Some(worker) = &mut self.worker else {
            return;
        };
        worker.ask(session.document.revision(), session.document.now());
        if let Some(worked) = worker.answer() {
            self.worked = Some(worked);
        }
    }

    /// What was worked out last; it may be of an earlier revision.
    pub(super) fn worked(&self) -> Option<&worker::Worked> {
        self.worked.as_ref()
    }

    /// Whether what is shown is of an earlier revision.
    pub(crate) fn is_behind(&self, session: &Session) -> bool {
        self.worker.is_some() && self.worked.as_ref().map(|worked| worked.revision) != Some(session.document.revision())
    }

    /// Findings of glass and job, with what is silenced and what could not be judged.
    pub(crate) fn review(&mut self, session: &Session, scene: &Scene) -> &Review {
        let revision = session.document.revision();
        let in_inches = session.length_unit == crate::units::LengthUnit::Inch;
        let of = self.worked.as_ref().map(|worked| worked.revision);
        let is_kept = matches!(&self.review, Some((r, i, o, _)) if (*r, *i, *o) == (revision, in_inches, of));
        if !is_kept {
            let mut list = scene.findings.clone();
            let mut unknown = Vec::new();
            if let Some(worked) = &self.worked {
                let told = worked.findings.iter().cloned();
                list.extend(told.map(|finding| finding.told_in(session.length_unit)));
                unknown.clone_from(&worked.unknown);
            } else {
                unknown.push(Unknown {
                    rule: "job",
                    about: "strength, strain, chemistry, vapour and heat",
                    piece: String::new(),
                    why: "only the shape of the glass is judged so far".to_owned(),
                });
            }
            let review = findings::sorted(session.document.now(), list, unknown);
            self.review = Some((revision, in_inches, of, review));
        }
        &self.review.get_or_insert_with(|| (0, false, None, Review::default())).3
    }
}
