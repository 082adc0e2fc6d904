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
pub mod seal;
mod sheet;
pub mod still;
pub mod strength;
mod vessel;
mod way;

pub use case::Case;
pub use inputs::{Inputs, Origin};
pub use own::liquid_of;
pub use sheet::{Curve, Group, InputLine, Line, Plot, Sheet, Verdict};
pub use vessel::Vessel;
pub use way::{Bore, Way, conductance};

use crate::model::job::Stage;

/// All stages of a case.
#[derive(Clone, Debug)]
pub struct Stages {
    /// How much of what goes in.
    pub charge: charge::Charge,
    /// Distilling it over.
    pub still: still::Still,
    /// Pumping, purging and leaks.
    pub gas: gas::Gas,
    /// Necks and sealing off.
    pub seal: seal::Seal,
    /// What the glass bears.
    pub strength: strength::Strength,
    /// Whether it can be blown.
    pub build: build::Build,
    /// What is left, and how it is quenched.
    pub clean: clean::Clean,
}

impl Stages {
    /// Works out everything.
    pub fn of(case: &Case) -> Self {
        let charge = charge::work_out(case);
        let still = still::work_out(case, &charge);
        let seal = seal::work_out(case);
        Self {
            gas: gas::work_out(case),
            strength: strength::work_out(case, &seal),
            build: build::work_out(case),
            clean: clean::work_out(case, &charge, &seal),
            charge,
            still,
            seal,
        }
    }

    /// The sheet of a stage.
    pub fn sheet(&self, stage: Stage) -> &Sheet {
        match stage {
            Stage::Charge => &self.charge.sheet,
            Stage::Still => &self.still.sheet,
            Stage::Gas => &self.gas.sheet,
            Stage::Seal => &self.seal.sheet,
            Stage::Strength => &self.strength.sheet,
            Stage::Build => &self.build.sheet,
            Stage::Clean => &self.clean.sheet,
        }
    }
}
