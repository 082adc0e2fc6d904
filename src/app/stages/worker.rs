//! A thread that works out all stages of the newest design and drops older ones.

use crate::findings::{self, Finding, Unknown};
use crate::geom::Interior;
use crate::geom::build::build;
use crate::model::Apparatus;
use crate::model::job::Stage;
use crate::stages::{Case, Sheet, Stages};
use std::sync::mpsc::{Receiver, Sender, channel};

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

/// The thread and the way to and from it.
pub(super) struct Worker {
    jobs: Option<Sender<(u64, Apparatus)>>,
    answers: Receiver<Worked>,
    asked: Option<u64>,
}

impl Worker {
    /// Starts the thread.
    pub(super) fn new(ctx: &egui::Context) -> Self {
        let (jobs, inbox) = channel::<(u64, Apparatus)>();
        let (outbox, answers) = channel();
        let ctx = ctx.clone();
        let thread = std::thread::Builder::new().name("stages".into()).spawn(move || {
            while let Ok(mut job) = inbox.recv() {
                while let Ok(newer) = inbox.try_recv() {
                    job = newer;
                }
                if outbox.send(work_out(job.0, &job.1)).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        Self {
            jobs: thread.is_ok().then_some(jobs),
            answers,
            asked: None,
        }
    }

    /// Asks, unless this revision was asked for last.
    pub(super) fn ask(&mut self, revision: u64, apparatus: &Apparatus) {
        if self.asked == Some(revision) {
            return;
        }
        self.asked = Some(revision);
        if let Some(jobs) = &self.jobs {
            // The thread lives as long as this sender, so that the job arrives.
            let _ = jobs.send((revision, apparatus.clone()));
        }
    }

    /// The newest answer since the last call.
    pub(super) fn answer(&self) -> Option<Worked> {
        self.answers.try_iter().last()
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
