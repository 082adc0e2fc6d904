//! The job: what the chemist wants of the apparatus and at which temperatures and pressures, with the user's own
//! liquids and the findings that were silenced. Everything in it may be left open; what is left open is proposed.

use super::check::{self, Fault, Holder, Wrong};
use super::limits::{self, Limit, Unit};
use std::collections::{BTreeMap, HashMap};

/// A stage of the job, in the order of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// How much of what goes in.
    Charge,
    /// Distilling it over.
    Still,
    /// Pumping, purging and leaks.
    Gas,
    /// Necks and sealing off.
    Seal,
    /// What the glass bears.
    Strength,
    /// Whether it can be blown.
    Build,
    /// What is left, and how it is quenched.
    Clean,
}

impl Stage {
    /// All stages in order.
    pub const ALL: [Self; 7] = [
        Self::Charge,
        Self::Still,
        Self::Gas,
        Self::Seal,
        Self::Strength,
        Self::Build,
        Self::Clean,
    ];

    /// Its name on a tab or head line.
    pub fn title(self) -> &'static str {
        match self {
            Self::Charge => "Charge",
            Self::Still => "Distilling",
            Self::Gas => "Gas and vacuum",
            Self::Seal => "Necks and sealing",
            Self::Strength => "Strength and heat",
            Self::Build => "Blowing it",
            Self::Clean => "Cleaning up",
        }
    }
}

macro_rules! inputs {
    ($($(#[$doc:meta])* $name:ident: $key:ident, $stage:ident, $label:literal, $unit:ident, $min:literal, $max:literal, $step:literal;)*) => {
        /// A number of the job; left open, the program proposes one or says that it is unknown.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Input {
            $($(#[$doc])* $name),*
        }

        impl Input {
            /// All inputs, by stage and in order.
            pub const ALL: &[Self] = &[$(Self::$name),*];

            /// Its limit, with key, label and unit.
            pub fn limit(self) -> &'static Limit {
                match self {
                    $(Self::$name => {
                        static LIMIT: Limit = Limit {
                            key: stringify!($key), label: $label, unit: Unit::$unit, min: $min, max: $max, step: $step,
                        };
                        &LIMIT
                    })*
                }
            }

            /// The stage at whose top it stands.
            pub fn stage(self) -> Stage {
                match self {
                    $(Self::$name => Stage::$stage),*
                }
            }
        }
    };
}

/// Calls a macro with the list of inputs: name, key, stage, label, unit, limits, step.
macro_rules! with_inputs {
    ($then:ident) => {
        $then! {
            /// Temperature of the liquid while the ampoules are filled.
            Filling: filling_c, Charge, "filling temperature", Celsius, -196.0, 900.0, 1.0;
            /// Mass asked for in each ampoule, in place of its target volume.
            AskedG: asked_g, Charge, "mass in each ampoule", G, 0.0, 100000.0, 0.1;
            /// Amount asked for in each ampoule, in place of its target volume.
            AskedMol: asked_mol, Charge, "amount in each ampoule", Mol, 0.0, 1000.0, 0.01;
            /// Ampoules charged for beyond those drawn.
            Spares: spare_ampoules, Charge, "spare ampoules", Count, 0.0, 400.0, 1.0;
            /// What stays in pot and receiver.
            Heel: heel_ml, Charge, "heel", Ml, 0.0, 100000.0, 0.1;
            /// What is distilled off first and put away.
            FirstRunnings: first_runnings_ml, Charge, "first runnings", Ml, 0.0, 100000.0, 0.1;
            /// Part of the product that the reaction is expected to give.
            Yield: yield_percent, Charge, "expected yield", Percent, 1.0, 100.0, 1.0;
            /// What is taken of every reagent but the first beyond what is needed.
            Excess: excess_percent, Charge, "reagents in excess", Percent, 0.0, 10000.0, 10.0;
            /// Temperature of the pot.
            Pot: pot_c, Still, "pot temperature", Celsius, -196.0, 900.0, 5.0;
            /// Temperature of the receiver.
            Receiver: receiver_c, Still, "receiver temperature", Celsius, -196.0, 900.0, 5.0;
            /// Pressure of gas that does not condense.
            Residual: residual_mbar, Still, "residual gas", Mbar, 0.0, 2000.0, 0.001;
            /// Tilt at which it is distilled.
            StillTilt: still_tilt_deg, Still, "tilt while distilling", Deg, -360.0, 360.0, 1.0;
            /// Part of the molecules that strike the surface and stay.
            Accommodation: accommodation, Still, "accommodation", Part, 0.0001, 1.0, 0.01;
            /// Pressure that is pumped down to in a cycle.
            PurgeLow: purge_low_mbar, Gas, "pumped down to", Mbar, 0.000001, 2000.0, 0.1;
            /// Pressure that is filled to in a cycle.
            PurgeFill: purge_fill_mbar, Gas, "filled to", Mbar, 0.001, 5000.0, 10.0;
            /// Oxygen that may be left.
            Wanted: wanted_ppm, Gas, "oxygen left at most", Ppm, 0.000001, 210000.0, 0.1;
            /// Cycles done.
            Cycles: purge_cycles, Gas, "cycles", Count, 0.0, 1000.0, 1.0;
            /// Speed of the pump at its inlet.
            PumpSpeed: pump_l_per_s, Gas, "speed of the pump", LPerS, 0.001, 10000.0, 0.1;
            /// Pressure wanted at the end of pumping.
            PumpEnd: pump_end_mbar, Gas, "pressure wanted", Mbar, 0.000001, 1000.0, 0.001;
            /// Mass of product that may be lost to air in all.
            Loss: loss_mg, Gas, "product lost to air at most", Mg, 0.0001, 100000.0, 0.1;
            /// Time from charging to the last seal.
            Exposed: exposed_h, Gas, "time to the last seal", Hours, 0.01, 10000.0, 1.0;
            /// First pressure of a leak-up.
            LeakFrom: leak_from_mbar, Gas, "leak-up, first reading", Mbar, 0.0, 2000.0, 0.001;
            /// Last pressure of a leak-up.
            LeakTo: leak_to_mbar, Gas, "leak-up, last reading", Mbar, 0.0, 2000.0, 0.001;
            /// Time between them.
            LeakHours: leak_h, Gas, "leak-up, time between", Hours, 0.001, 10000.0, 0.5;
            /// Absolute pressure in the glass when a neck is closed.
            Closing: closing_mbar, Seal, "pressure at closing", Mbar, 0.0, 5000.0, 10.0;
            /// Temperature of the contents when a neck is closed.
            ClosingT: closing_c, Seal, "contents at closing", Celsius, -196.0, 900.0, 5.0;
            /// Mean temperature of the gas that is shut in while a neck is closed.
            ShutGas: shut_gas_c, Seal, "gas shut in, mean", Celsius, -196.0, 900.0, 5.0;
            /// Temperature of the bath in which the ampoules stand while they are sealed.
            Bath: bath_c, Seal, "cooling bath", Celsius, -270.0, 300.0, 5.0;
            /// Highest temperature that a sealed ampoule meets.
            Warmest: warmest_c, Seal, "warmest after sealing", Celsius, -196.0, 900.0, 5.0;
            /// Lowest temperature that a sealed ampoule meets.
            Coldest: coldest_c, Seal, "coldest after sealing", Celsius, -270.0, 900.0, 5.0;
            /// How long a neck is in the flame.
            Flame: flame_min, Seal, "time in the flame", Minutes, 0.01, 120.0, 0.5;
            /// Greatest pressure in the glass above the outside during the work.
            Over: over_mbar, Strength, "greatest overpressure", Mbar, 0.0, 100000.0, 10.0;
            /// Part of the rated pressure that is trusted with flame-worked ends.
            Derating: derating_percent, Strength, "trusted part of the rating", Percent, 1.0, 100.0, 5.0;
            /// Difference of temperature across a wall or at a quench.
            Difference: difference_k, Strength, "temperature difference", Kelvin, 0.0, 1000.0, 5.0;
            /// Reading of a polariscope.
            Strain: strain_nm, Strength, "strain reading", Nm, 0.0, 100000.0, 10.0;
            /// Glass that the light passed.
            StrainPath: strain_path_mm, Strength, "glass in the light's way", Mm, 0.1, 300.0, 0.5;
            /// Inside length of the annealing oven.
            Oven: oven_mm, Build, "longest part for the oven", Mm, 10.0, 5000.0, 10.0;
            /// Length of the tubes as they are bought.
            StockLength: stock_mm, Build, "length of stock tube", Mm, 50.0, 6000.0, 100.0;
            /// Glass lost at each cut, with squaring and fire-polishing both its ends.
            Kerf: kerf_mm, Build, "lost at each cut", Mm, 0.0, 20.0, 0.5;
            /// Glass that melts back at each end of a butt seal.
            Butt: butt_mm, Build, "lost at each end of a butt seal", Mm, 0.0, 20.0, 0.5;
            /// Glass that a side arm loses where it is sealed on.
            SideSeal: side_seal_mm, Build, "lost by a side arm", Mm, 0.0, 20.0, 0.5;
            /// Glass pulled off where an end is closed.
            PulledOff: pulled_off_mm, Build, "pulled off at a closed end", Mm, 0.0, 300.0, 10.0;
            /// Blanks cut for ampoules beyond those drawn.
            SpareBlanks: spare_blanks, Build, "spare blanks of each ampoule", Count, 0.0, 400.0, 1.0;
            /// Residue to be quenched, in place of the heels.
            Residue: residue_g, Clean, "residue", G, 0.0, 100000.0, 0.1;
        }
    };
}
pub(super) use with_inputs;

with_inputs!(inputs);

/// A property of an own liquid at a temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointAt {
    /// Temperature, degrees Celsius.
    pub t_c: f64,
    /// Value, in the unit of its list.
    pub value: f64,
}

/// A liquid of the user's own. What is not known stays empty.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct OwnLiquid {
    /// Its name.
    pub name: String,
    /// Chemical formula; gives the molar mass when that is left open.
    pub formula: String,
    /// Molar mass, g/mol.
    pub molar_mass_g_per_mol: Option<f64>,
    /// Melting point, degrees Celsius.
    pub melting_c: Option<f64>,
    /// Boiling point at one atmosphere, degrees Celsius.
    pub boiling_c: Option<f64>,
    /// Density, g/mL.
    pub density: Vec<PointAt>,
    /// Density of the solid at the melting point, g/mL.
    pub density_solid_g_per_ml: Option<f64>,
    /// Vapour pressure, Pa.
    pub vapour_pressure: Vec<PointAt>,
    /// Surface tension, mN/m.
    pub surface_tension: Vec<PointAt>,
    /// Viscosity, mPa s.
    pub viscosity: Vec<PointAt>,
    /// Least and greatest contact angle on the glass, degrees.
    pub contact_deg: Option<(f64, f64)>,
    /// Hazards in short.
    pub hazards: String,
    /// What it must not meet.
    pub never: String,
    /// Where all this is from.
    pub source: String,
}

/// A finding that the user has judged and put away.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Silenced {
    /// Id of its rule.
    pub rule: String,
    /// Piece or row that it is about; empty for the whole.
    pub piece: String,
    /// Why; printed with it.
    pub reason: String,
}

/// The job.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Job {
    /// The numbers that are given.
    pub numbers: BTreeMap<Input, f64>,
    /// Piece in which the charge is made or molten; proposed when left open.
    pub pot: Option<String>,
    /// The reaction, as typed; empty when the liquid is put in as it is.
    pub reaction: String,
    /// Gas that the glass is filled with; empty: argon.
    pub gas: String,
    /// What residues are quenched with; empty: what the trade uses.
    pub quench: String,
    /// Liquids of the user's own.
    pub own_liquids: Vec<OwnLiquid>,
    /// Findings that are silenced.
    pub silenced: Vec<Silenced>,
}

/// Most own liquids and silenced findings.
static LIST: Limit = Limit {
    key: "list",
    label: "entries",
    unit: Unit::Count,
    min: 0.0,
    max: 1000.0,
    step: 1.0,
};

/// Numbers of an own liquid: positive and of any size that occurs.
static VALUE: Limit = Limit {
    key: "value",
    label: "value",
    unit: Unit::Part,
    min: 1e-30,
    max: 1e12,
    step: 1.0,
};

/// Temperatures of an own liquid.
static TEMPERATURE: Limit = Limit {
    key: "temperature",
    label: "temperature",
    unit: Unit::Celsius,
    min: -273.0,
    max: 5000.0,
    step: 1.0,
};

/// Contact angles.
static CONTACT: Limit = Limit {
    key: "contact",
    label: "contact angle",
    unit: Unit::Deg,
    min: 0.0,
    max: 180.0,
    step: 1.0,
};

impl Job {
    /// A number as given; none when it is left open.
    pub fn given(&self, input: Input) -> Option<f64> {
        self.numbers.get(&input).copied()
    }

    /// Gives a number, or leaves it open.
    pub fn set(&mut self, input: Input, value: Option<f64>) {
        match value {
            Some(value) => self.numbers.insert(input, value),
            None => self.numbers.remove(&input),
        };
    }

    /// Why a finding is silenced; none when it is not.
    pub fn reason_for(&self, rule: &str, piece: &str) -> Option<&str> {
        let found = self
            .silenced
            .iter()
            .find(|entry| entry.rule == rule && entry.piece == piece);
        found.map(|entry| entry.reason.as_str())
    }

    /// Silences a finding for a reason; without one it speaks again.
    pub fn silence(&mut self, rule: &str, piece: &str, reason: &str) {
        self.silenced
            .retain(|entry| !(entry.rule == rule && entry.piece == piece));
        if !reason.trim().is_empty() {
            self.silenced.push(Silenced {
                rule: rule.to_owned(),
                piece: piece.to_owned(),
                reason: reason.trim().to_owned(),
            });
        }
    }

    /// Lets what refers to a piece by an old name use the new one.
    pub(super) fn follow(&mut self, renamed: &HashMap<String, String>) {
        let silenced = self.silenced.iter_mut().map(|entry| &mut entry.piece);
        for name in silenced.chain(self.pot.as_mut()) {
            if let Some(new) = renamed.get(name.as_str()) {
                name.clone_from(new);
            }
        }
    }

    /// Leaves out what refers to pieces that are gone.
    pub(super) fn forget(&mut self, is_gone: impl Fn(&str) -> bool) {
        self.pot.take_if(|name| is_gone(name));
        self.silenced.retain(|entry| !is_gone(&entry.piece));
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        let holder = Holder::Job;
        for (input, value) in &self.numbers {
            check::check_value(&holder, input.limit().key, *value, input.limit())?;
        }
        for (key, text) in [
            ("reaction", &self.reaction),
            ("gas", &self.gas),
            ("quench", &self.quench),
        ] {
            check::check_text(&holder, key, text)?;
        }
        if let Some(pot) = &self.pot {
            check::check_text(&holder, "pot", pot)?;
        }
        check::check_count(&holder, "own_liquids", self.own_liquids.len(), &LIST)?;
        check::check_count(&holder, "silenced", self.silenced.len(), &LIST)?;
        for (i, entry) in self.silenced.iter().enumerate() {
            for (key, text) in [
                ("rule", &entry.rule),
                ("piece", &entry.piece),
                ("reason", &entry.reason),
            ] {
                check::check_text(&holder, &format!("silenced.{i}.{key}"), text)?;
            }
            check_filled(&holder, &format!("silenced.{i}.reason"), &entry.reason)?;
        }
        let mut names: Vec<&str> = Vec::new();
        for (i, own) in self.own_liquids.iter().enumerate() {
            own.check(&format!("own_liquids.{i}"))?;
            if names.contains(&own.name.as_str()) {
                let wrong = Wrong::Duplicate(own.name.clone());
                return Err(Fault::new(&holder, format!("own_liquids.{i}.name"), wrong));
            }
            names.push(&own.name);
        }
        Ok(())
    }
}

fn check_filled(holder: &Holder, key: &str, text: &str) -> Result<(), Fault> {
    let count = text.trim().chars().count();
    if count == 0 {
        let limit = &limits::NAME;
        return Err(Fault::new(holder, key, Wrong::Count { count, limit }));
    }
    Ok(())
}

impl OwnLiquid {
    fn check(&self, path: &str) -> Result<(), Fault> {
        let holder = Holder::Job;
        let key = |key: &str| format!("{path}.{key}");
        check_filled(&holder, &key("name"), &self.name)?;
        for (name, text) in [
            ("name", &self.name),
            ("formula", &self.formula),
            ("hazards", &self.hazards),
            ("never", &self.never),
            ("source", &self.source),
        ] {
            check::check_text(&holder, &key(name), text)?;
        }
        for (name, value, limit) in [
            ("molar_mass_g_per_mol", self.molar_mass_g_per_mol, &VALUE),
            ("melting_c", self.melting_c, &TEMPERATURE),
            ("boiling_c", self.boiling_c, &TEMPERATURE),
            ("density_solid_g_per_ml", self.density_solid_g_per_ml, &VALUE),
            ("contact_deg[0]", self.contact_deg.map(|band| band.0), &CONTACT),
            ("contact_deg[1]", self.contact_deg.map(|band| band.1), &CONTACT),
        ] {
            if let Some(value) = value {
                check::check_value(&holder, &key(name), value, limit)?;
            }
        }
        for (name, points) in [
            ("density_g_per_ml", &self.density),
            ("vapour_pressure_pa", &self.vapour_pressure),
            ("surface_tension_mn_per_m", &self.surface_tension),
            ("viscosity_mpa_s", &self.viscosity),
        ] {
            check::check_count(&holder, &key(name), points.len(), &LIST)?;
            let mut before = f64::NEG_INFINITY;
            for (k, point) in points.iter().enumerate() {
                check::check_value(&holder, &key(&format!("{name}[{k}].t_c")), point.t_c, &TEMPERATURE)?;
                check::check_value(&holder, &key(&format!("{name}[{k}].value")), point.value, &VALUE)?;
                if point.t_c <= before {
                    let wrong = Wrong::Unordered { t_c: point.t_c };
                    return Err(Fault::new(&holder, key(&format!("{name}[{k}].t_c")), wrong));
                }
                before = point.t_c;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Edit, file, sample};
    use super::*;

    fn job() -> Job {
        let mut job = Job {
            pot: Some("pot".to_owned()),
            reaction: "2 RbCl + Ca -> 2 Rb + CaCl2".to_owned(),
            ..Job::default()
        };
        for (i, input) in Input::ALL.iter().enumerate() {
            let limit = input.limit();
            job.set(*input, Some(limit.nearest(limit.min + limit.step * (i + 1) as f64)));
        }
        job.silence("arms-close", "vial-2", "seen at the bench");
        job.own_liquids.push(OwnLiquid {
            name: "Mine".to_owned(),
            density: vec![PointAt { t_c: 20.0, value: 0.95 }, PointAt { t_c: 40.0, value: 0.93 }],
            contact_deg: Some((0.0, 20.0)),
            melting_c: Some(6.8),
            ..OwnLiquid::default()
        });
        job
    }

    fn with(job: Job) -> super::super::Apparatus {
        super::super::Apparatus {
            job,
            ..sample::apparatus()
        }
    }

    #[test]
    fn keys_are_those_of_one_stage_and_stand_once() {
        let mut keys: Vec<&str> = Input::ALL.iter().map(|input| input.limit().key).collect();
        let count = keys.len();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), count);
        assert!(Input::ALL.is_sorted_by_key(|input| input.stage()));
    }

    #[test]
    fn a_job_comes_back_from_its_file() {
        let apparatus = with(job());
        assert_eq!(apparatus.check(), Ok(()));
        let text = file::write(&apparatus);
        assert_eq!(file::read(&text), Ok(apparatus.clone()));
        assert_eq!(file::write(&file::read(&text).unwrap()), text);
        // Left open it does not stand in the file at all.
        assert!(!file::write(&sample::apparatus()).contains("\"job\""));
    }

    #[test]
    fn faults_name_their_place() {
        let mut bad = job();
        bad.set(Input::Pot, Some(1e9));
        let text = file::write(&with(bad));
        let error = file::read(&text).unwrap_err().to_string();
        assert!(
            error.starts_with("job.pot_c:") && error.contains("-196 to 900"),
            "{error}"
        );
        let mut bad = job();
        bad.silenced[0].reason = " ".to_owned();
        assert!(
            file::read(&file::write(&with(bad)))
                .unwrap_err()
                .to_string()
                .contains("reason")
        );
        let mut bad = job();
        bad.own_liquids[0].density.reverse();
        let error = file::read(&file::write(&with(bad))).unwrap_err().to_string();
        assert!(error.contains("own_liquids.0.density_g_per_ml[1]"), "{error}");
        let mut bad = job();
        bad.own_liquids.push(bad.own_liquids[0].clone());
        assert!(with(bad).check().is_err());
    }

    #[test]
    fn it_follows_names_and_forgets_what_is_gone() {
        let rename = |from: &str, to: &str| Edit::Rename {
            from: from.to_owned(),
            to: to.to_owned(),
        };
        let next = with(job()).apply(&rename("pot", "boiler")).unwrap();
        assert_eq!(next.job.pot.as_deref(), Some("boiler"));
        let next = next.apply(&rename("vial", "ampoule")).unwrap();
        assert_eq!(
            next.job.reason_for("arms-close", "ampoule-2"),
            Some("seen at the bench")
        );
        let next = next
            .apply(&Edit::Remove(vec!["boiler".to_owned(), "ampoule".to_owned()]))
            .unwrap();
        assert_eq!((next.job.pot, next.job.silenced.len()), (None, 0));
    }

    #[test]
    fn a_change_of_the_job_is_one_step_with_words() {
        let mut next = job();
        next.silence("arms-close", "vial-2", "");
        assert!(next.silenced.is_empty());
        let edit = Edit::Job {
            words: "Change the pot temperature".to_owned(),
            job: Box::new(next.clone()),
        };
        assert_eq!(edit.words(), "Change the pot temperature");
        assert_eq!(with(job()).apply(&edit).unwrap().job, next);
    }
}
