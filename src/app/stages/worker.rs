//! All stages of the newest design, worked out beside the window.

use crate::app::worker;
use crate::findings::{self, Finding, Unknown};
use crate::geom::Interior;
use crate::geom::build::build;
use crate::model::Apparatus;
use crate::model::job::Stage;
use crate::stages::{Case, Sheet, Stages};

/// What was worked out.
#[derive(Debug)]
pub(crate) struct Worked {
    /// Revision of the document that it is of.
    pub(crate) revision: u64,
    /// The sheets, in the order of the stages.
    pub(crate) sheets: Vec<Sheet>,
    /// Findings of the job, silenced ones among them.
    pub(crate) findings: Vec<Finding>,
    /// What could not be judged.
    pub(crate) unknown: Vec<Unknown>,
}

impl Worked {
    /// The sheet of a stage.
    pub(crate) fn sheet(&self, stage: Stage) -> Option<&Sheet> {
        let at = Stage::ALL.iter().position(|other| *other == stage)?;
        self.sheets.get(at)
    }
}

/// Asks for the stages.
pub(super) struct Worker {
    worker: worker::Worker<(u64, Apparatus), Worked>,
    asked: Option<u64>,
}

impl Worker {
    /// Ready to work; `ctx` is repainted when something is worked out.
    pub(super) fn new(ctx: &egui::Context) -> Self {
        let work = |(revision, apparatus): (u64, Apparatus), task: &worker::Task<Worked>| {
            task.answer(work_out(revision, &apparatus));
        };
        Self {
            worker: worker::Worker::new(ctx, "stages", work),
            asked: None,
        }
    }

    /// Asks, unless this revision was asked for last.
    pub(super) fn ask(&mut self, revision: u64, apparatus: &Apparatus) {
        if self.asked != Some(revision) {
            self.asked = Some(revision);
            self.worker.ask((revision, apparatus.clone()));
        }
    }

    /// The newest answer since the last call.
    pub(super) fn answer(&self) -> Option<Worked> {
        self.worker.answer()
    }
}

fn work_out(revision: u64, apparatus: &Apparatus) -> Worked {
    let mut worked = Worked {
        revision,
        sheets: Vec::new(),
        findings: Vec::new(),
        unknown: Vec::new(),
    };
    let Ok(built) = build(apparatus) else {
        return worked;
    };
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone());
    let Ok(interior) = interior else {
        return worked;
    };
    let case = Case::new(apparatus, &built, &interior);
    let stages = Stages::of(&case);
    worked.sheets = Stage::ALL.iter().map(|stage| stages.sheet(*stage).clone()).collect();
    (worked.findings, worked.unknown) = findings::of_job(&stages);
    worked
}
