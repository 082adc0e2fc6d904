//! What the stages work on: the apparatus with its bores, its liquid, its job and the parts that pieces play in it.

use super::inputs::Inputs;
use super::own::liquid_of;
use super::sheet::Verdict;
use super::vessel::{self, Vessel};
use crate::data::law::NoValue;
use crate::data::liquids::Liquid;
use crate::geom::build::Built;
use crate::geom::{Interior, Stance};
use crate::model::job::Input;
use crate::model::{Apparatus, Form};
use crate::units::si::{Volume, millilitres};

/// An apparatus ready to be worked out.
#[derive(Clone, Debug)]
pub struct Case<'a> {
    /// The design.
    pub apparatus: &'a Apparatus,
    /// Its bores and walls.
    pub built: &'a Built,
    /// Its interior.
    pub interior: &'a Interior,
    /// Its liquid; none when it is not known.
    pub liquid: Option<Liquid>,
    /// Its job, with what is left open proposed.
    pub inputs: Inputs,
    /// The piece in which the charge is made or molten.
    pub pot: Option<usize>,
    /// The piece into which it is distilled, or in which it lies before it is poured.
    pub receiver: Option<usize>,
    /// The ampoules, in order.
    pub vessels: Vec<Vessel>,
}

impl<'a> Case<'a> {
    /// Takes in an apparatus with its interior.
    pub fn new(apparatus: &'a Apparatus, built: &'a Built, interior: &'a Interior) -> Self {
        let liquid = liquid_of(apparatus);
        let named = |name: &str| built.names.iter().position(|other| other == name);
        let fill = apparatus
            .charge
            .fills
            .iter()
            .max_by(|a, b| a.volume_ml.total_cmp(&b.volume_ml));
        let receiver = apparatus.run.drips_into.as_deref().and_then(named);
        let receiver = receiver.or_else(|| named("receiver")).or_else(|| named(&fill?.piece));
        let pot = apparatus.job.pot.as_deref().and_then(named).or_else(|| named("pot"));
        let pot = pot.filter(|&pot| Some(pot) != receiver);
        let vessels = vessel::of(built);
        let inputs = Inputs::of(apparatus, liquid.as_ref(), vessels.len());
        Self {
            apparatus,
            built,
            interior,
            liquid,
            inputs,
            pot,
            receiver,
            vessels,
        }
    }

    /// The liquid.
    ///
    /// # Errors
    /// When it is not known.
    pub fn liquid(&self) -> Verdict<&Liquid> {
        self.liquid.as_ref().ok_or_else(|| {
            let name = self.apparatus.charge.liquid.trim();
            NoValue::Because(if name.is_empty() {
                "no liquid is named".to_owned()
            } else {
                format!("nothing is known of \"{name}\"; name a liquid of the table or add your own")
            })
        })
    }

    /// The pot.
    ///
    /// # Errors
    /// When none is named.
    pub fn pot(&self) -> Verdict<usize> {
        self.pot
            .ok_or_else(|| NoValue::Because("no piece is named as the pot".to_owned()))
    }

    /// The receiver.
    ///
    /// # Errors
    /// When none is named.
    pub fn receiver(&self) -> Verdict<usize> {
        self.receiver
            .ok_or_else(|| NoValue::Because("no piece is named as the receiver".to_owned()))
    }

    /// A number of the job.
    ///
    /// # Errors
    /// When it is open and nothing can be proposed.
    pub fn number(&self, input: Input) -> Verdict<f64> {
        self.inputs
            .value(input)
            .ok_or_else(|| NoValue::Because(format!("{} is not given", input.limit().label)))
    }

    /// Name of a piece.
    pub fn name(&self, piece: usize) -> &str {
        self.built.names.get(piece).map_or("", String::as_str)
    }

    /// What a piece is.
    pub fn form(&self, piece: usize) -> Option<&Form> {
        self.built.placed.pieces.get(piece).map(|piece| &piece.form)
    }

    /// The stance in which it is distilled.
    pub fn still_stance(&self) -> Stance {
        let roll = self.apparatus.run.stops.first().map_or(0.0, |stop| stop.roll_deg);
        let tilt = self.inputs.value(Input::StillTilt).unwrap_or(0.0);
        let as_run = self.inputs.is_given(Input::StillTilt);
        Stance::new(tilt, if as_run { 0.0 } else { roll })
    }

    /// Whether the glass is filled with gas, or open, while the ampoules are filled and sealed.
    pub fn has_gas(&self) -> bool {
        self.inputs.value(Input::Closing).is_some_and(|mbar| mbar > 1.0)
    }

    /// Volume of charge that the design gives.
    pub fn given(&self) -> Volume {
        let fills = self.apparatus.charge.fills.iter().map(|fill| fill.volume_ml);
        millilitres(fills.sum())
    }
}
