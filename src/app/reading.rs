//! How the numbers are read, remembered from run to run: the order and choice of columns, what the shelf shows, which
//! findings are listed.
//!
//! The context holds it, so that every part of the window can see and change it; the window hands what has changed to
//! the settings.

use super::columns::{Choice, Sort};
use super::findings_list::Filter;
use super::plots;
use super::shelf::Page;
use egui::{Context, Id};
use serde::{Deserialize, Serialize};

/// What is remembered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Reading {
    /// Order of the ledger's rows.
    pub sort: Sort,
    /// Columns of the ledger where there is no room for all.
    pub columns: Choice,
    /// What the shelf shows.
    pub shelf: Page,
    /// The plot that is shown where there is no room for both.
    pub plot: plots::Choice,
    /// Which findings are listed and pinned.
    pub filter: Filter,
}

fn stored() -> Id {
    Id::unique("reading")
}

impl Reading {
    /// As it is now.
    pub(crate) fn of(ctx: &Context) -> Self {
        ctx.data(|data| data.get_temp(stored())).unwrap_or_default()
    }

    /// Makes it so.
    pub(crate) fn set(self, ctx: &Context) {
        ctx.data_mut(|data| data.insert_temp(stored(), self));
    }

    /// Changes something of it.
    pub(crate) fn change(ctx: &Context, change: impl FnOnce(&mut Self)) {
        let mut reading = Self::of(ctx);
        change(&mut reading);
        reading.set(ctx);
    }
}
