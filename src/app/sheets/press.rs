//! Sheets made beside the window: pages to look at, of which only the newest counts, and files, one at a time.

use crate::app::worker::{Task, Worker};
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

/// What was asked for, and what was made of it or why not.
pub(super) type Made<Q, T> = (Q, Result<T, String>);

/// The questions under way.
pub(super) struct Press {
    pages: Worker<(Wanted, Apparatus), Made<Wanted, Vec<Page>>>,
    files: Worker<(Request, Apparatus), Made<Request, Vec<u8>>>,
    asked: Option<Wanted>,
    is_writing: bool,
}

impl Press {
    /// Ready to work; `ctx` is repainted when something is made.
    pub(super) fn new(ctx: &Context) -> Self {
        let pages = |(wanted, apparatus): (Wanted, Apparatus), task: &Task<_>| {
            let pages = with_case(&apparatus, |case| {
                sheet::pages(wanted.what, wanted.paper, today(), case)
            });
            task.answer((wanted, pages));
        };
        let files = |(request, apparatus): (Request, Apparatus), task: &Task<_>| {
            task.answer((request, with_case(&apparatus, |case| sheet::make(request, case))));
        };
        Self {
            pages: Worker::new(ctx, "pages", pages),
            files: Worker::new(ctx, "sheet files", files),
            asked: None,
            is_writing: false,
        }
    }

    /// Asks for pages, unless they were asked for last.
    pub(super) fn ask_for_pages(&mut self, wanted: Wanted, apparatus: &Apparatus) {
        if self.asked != Some(wanted) {
            self.asked = Some(wanted);
            self.pages.ask((wanted, apparatus.clone()));
        }
    }

    /// Asks for a file.
    pub(super) fn ask_for_file(&mut self, request: Request, apparatus: &Apparatus) {
        self.is_writing = true;
        self.files.ask((request, apparatus.clone()));
    }

    /// Whether a file is being made.
    pub(super) fn is_writing(&self) -> bool {
        self.is_writing
    }

    /// Pages that have been made since the last call.
    pub(super) fn pages(&self) -> Option<Made<Wanted, Vec<Page>>> {
        self.pages.answer()
    }

    /// A file that has been made since the last call.
    pub(super) fn file(&mut self) -> Option<Made<Request, Vec<u8>>> {
        let made = self.files.answer();
        self.is_writing &= made.is_none();
        made
    }
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
