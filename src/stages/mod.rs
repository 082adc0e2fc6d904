//! The stages of the job, worked out for an apparatus and its interior: what has to go in, how long it distils, how it
//! is pumped and sealed, what the glass bears, how it is blown and cleaned up.
//!
//! Each stage gives its numbers as plain fields for the findings, and a [`Sheet`] with the same numbers in words and
//! their workings, for a window or a printed page. What can't be worked out says why, and is never left out.

pub mod build;
mod case;
pub mod charge;
pub mod clean;
pub mod gas;
mod inputs;
mod own;
mod pouring;
pub mod seal;
mod sheet;
pub mod still;
pub mod strength;
mod vessel;
mod way;

pub use case::Case;
pub use inputs::{Inputs, Origin};
pub use own::{liquid_named, liquid_of};
pub use pouring::{Least, Pouring, filling_c, filling_density};
pub use sheet::{Curve, Group, InputLine, Line, Plot, Sheet, Verdict};
pub use vessel::Vessel;
pub use way::{Bore, Way, conductance};

use crate::model::job::Stage;
use std::cell::OnceCell;

/// The stages of a case; each is worked out when it is first asked for.
#[derive(Debug)]
pub struct Stages<'a> {
    case: &'a Case<'a>,
    charge: OnceCell<charge::Charge>,
    still: OnceCell<still::Still>,
    gas: OnceCell<gas::Gas>,
    seal: OnceCell<seal::Seal>,
    strength: OnceCell<strength::Strength>,
    build: OnceCell<build::Build>,
    clean: OnceCell<clean::Clean>,
}

impl<'a> Stages<'a> {
    /// The stages of a case, nothing of them worked out yet.
    pub fn of(case: &'a Case<'a>) -> Self {
        Self {
            case,
            charge: OnceCell::new(),
            still: OnceCell::new(),
            gas: OnceCell::new(),
            seal: OnceCell::new(),
            strength: OnceCell::new(),
            build: OnceCell::new(),
            clean: OnceCell::new(),
        }
    }

    /// What they work on.
    pub fn case(&self) -> &'a Case<'a> {
        self.case
    }

    /// How much of what goes in.
    pub fn charge(&self) -> &charge::Charge {
        self.charge.get_or_init(|| charge::work_out(self.case))
    }

    /// Distilling it over.
    pub fn still(&self) -> &still::Still {
        self.still.get_or_init(|| still::work_out(self.case, self.charge()))
    }

    /// Pumping, purging and leaks.
    pub fn gas(&self) -> &gas::Gas {
        self.gas.get_or_init(|| gas::work_out(self.case))
    }

    /// Necks and sealing off.
    pub fn seal(&self) -> &seal::Seal {
        self.seal.get_or_init(|| seal::work_out(self.case))
    }

    /// What the glass bears.
    pub fn strength(&self) -> &strength::Strength {
        self.strength.get_or_init(|| strength::work_out(self.case, self.seal()))
    }

    /// Whether it can be blown.
    pub fn build(&self) -> &build::Build {
        self.build.get_or_init(|| build::work_out(self.case))
    }

    /// What is left, and how it is quenched.
    pub fn clean(&self) -> &clean::Clean {
        self.clean
            .get_or_init(|| clean::work_out(self.case, self.charge(), self.seal()))
    }

    /// The sheet of a stage.
    pub fn sheet(&self, stage: Stage) -> &Sheet {
        match stage {
            Stage::Charge => &self.charge().sheet,
            Stage::Still => &self.still().sheet,
            Stage::Gas => &self.gas().sheet,
            Stage::Seal => &self.seal().sheet,
            Stage::Strength => &self.strength().sheet,
            Stage::Build => &self.build().sheet,
            Stage::Clean => &self.clean().sheet,
        }
    }
}
