//! Sheets made beside the window: one thread for each question, and only the newest answer counts.

use crate::files;
use crate::geom::Interior;
use crate::geom::build::build;
use crate::model::Apparatus;
use crate::shop::Case;
use crate::shop::date::Date;
use crate::shop::page::{Page, Paper};
use crate::shop::sheet::{self, Request, SheetError, What};
use crate::stages::{self, Stages};
use egui::Context;
use std::sync::mpsc::{Receiver, channel};

/// Which pages are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Wanted {
    /// Revision of the document.
    pub revision: u64,
    /// The sheet.
    pub what: What,
    /// The paper.
    pub paper: Paper,
}

/// What was made, or why not.
pub(super) enum Answer {
    /// Pages to look at.
    Pages(Wanted, Result<Vec<Page>, String>),
    /// A file.
    Bytes(Request, Result<Vec<u8>, String>),
}

/// The questions under way.
#[derive(Default)]
pub(super) struct Press {
    pages: Option<(Wanted, Receiver<Answer>)>,
    bytes: Option<Receiver<Answer>>,
}

impl Press {
    /// Asks for pages, unless they were asked for last.
    pub(super) fn ask_for_pages(&mut self, ctx: &Context, wanted: Wanted, apparatus: &Apparatus) {
        if self.pages.as_ref().is_some_and(|(asked, _)| *asked == wanted) {
            return;
        }
        let date = today();
        let answer = beside(ctx, apparatus, move |apparatus| {
            let pages = with_case(&apparatus, |case| sheet::pages(wanted.what, wanted.paper, date, case));
            Answer::Pages(wanted, pages)
        });
        self.pages = Some((wanted, answer));
    }

    /// Asks for a file.
    pub(super) fn ask_for_bytes(&mut self, ctx: &Context, request: Request, apparatus: &Apparatus) {
        self.bytes = Some(beside(ctx, apparatus, move |apparatus| {
            Answer::Bytes(request, with_case(&apparatus, |case| sheet::make(request, case)))
        }));
    }

    /// Whether a file is being made.
    pub(super) fn is_writing(&self) -> bool {
        self.bytes.is_some()
    }

    /// An answer that has come.
    pub(super) fn answer(&mut self) -> Option<Answer> {
        let bytes = self.bytes.as_ref().and_then(|answer| answer.try_recv().ok());
        if bytes.is_some() {
            self.bytes = None;
            return bytes;
        }
        self.pages.as_ref().and_then(|(_, answer)| answer.try_recv().ok())
    }
}

/// Works beside the window, which is repainted when it is done.
fn beside(
    ctx: &Context,
    apparatus: &Apparatus,
    work: impl FnOnce(Apparatus) -> Answer + Send + 'static,
) -> Receiver<Answer> {
    let (outbox, answer) = channel();
    let (ctx, apparatus) = (ctx.clone(), apparatus.clone());
    // Without a thread there is no answer, and the dialog says that the pages are being made.
    let _ = std::thread::Builder::new().name("sheets".into()).spawn(move || {
        let _ = outbox.send(work(apparatus));
        ctx.request_repaint();
    });
    answer
}

fn with_case<T>(apparatus: &Apparatus, make: impl FnOnce(&Case) -> Result<T, SheetError>) -> Result<T, String> {
    let built = build(apparatus).map_err(|error| error.to_string())?;
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone());
    let interior = interior.map_err(|error| error.to_string())?;
    let job = stages::Case::new(apparatus, &built, &interior);
    make(&Case::of(&Stages::of(&job))).map_err(|error| error.to_string())
}

/// The day that a sheet carries.
pub(super) fn today() -> Date {
    Date::of_unix_days(files::unix_days())
}
