//! The run: the sequence of stances in which the charge is poured, and what is done at each.
//!
//! The charge is given at the first stop; from there the glass is turned to each next stop, tilt and roll in proportion.

use super::check::{self, Fault, Holder, Wrong};
use super::edit::EditError;
use super::limits;
use super::{Apparatus, Fill, Form};
use std::collections::{HashMap, HashSet};

/// A sequence of stops; without any there is no run.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Run {
    /// What fills the space above the liquid.
    pub gas: Gas,
    /// Piece into which the whole charge drips at the first stop, as a distillate does; none where it lies at the
    /// start in the pieces to which it is given.
    pub drips_into: Option<String>,
    /// Whether the head counts that the liquid needs to enter a narrow bore that it does not wet.
    pub capillarity: bool,
    /// The stops in their order.
    pub stops: Vec<Stop>,
    /// What was measured in vessels after the run: a note, nothing follows from it by itself.
    pub measured: Vec<Fill>,
}

/// What fills the space above the liquid.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Gas {
    /// Nothing that could hinder.
    #[default]
    Evacuated,
    /// Air, with every port open to it.
    Open,
    /// Gas, with the ports closed.
    Filled {
        /// Its pressure at the first stop, mbar absolute.
        pressure_mbar: f64,
    },
}

/// A stance at which the glass rests.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// What the user calls it; may be empty and need not be unique.
    pub name: String,
    /// Tilt, degrees.
    pub tilt_deg: f64,
    /// Roll, degrees.
    pub roll_deg: f64,
    /// How fast the glass is turned there from the stop before, degrees per second of the larger of tilt and roll. At
    /// the first stop it has no meaning.
    pub rate_deg_per_s: f64,
    /// How long the glass rests there, s.
    pub wait_s: f64,
    /// Ampoules sealed off there after the wait.
    pub seals: Vec<String>,
}

impl Default for Stop {
    fn default() -> Self {
        Self {
            name: String::new(),
            tilt_deg: 0.0,
            roll_deg: 0.0,
            rate_deg_per_s: 2.0,
            wait_s: 10.0,
            seals: Vec::new(),
        }
    }
}

impl Stop {
    /// A stop at a stance, degrees, without a name and with the usual rate and wait.
    pub fn at(tilt_deg: f64, roll_deg: f64) -> Self {
        Self {
            tilt_deg,
            roll_deg,
            ..Self::default()
        }
    }

    /// How long it takes to turn the glass there from another stop, s.
    pub fn turn_s(&self, from: &Self) -> f64 {
        let tilt = (self.tilt_deg - from.tilt_deg).abs();
        let roll = (self.roll_deg - from.roll_deg).abs();
        tilt.max(roll) / self.rate_deg_per_s
    }
}

impl Run {
    /// What the user calls a stop, or its number from 1 where it has no name.
    pub fn stop_name(&self, index: usize) -> String {
        match self.stops.get(index) {
            Some(stop) if !stop.name.is_empty() => stop.name.clone(),
            _ => format!("stop {}", index + 1),
        }
    }

    /// What was measured in a vessel, mL; none where nothing was.
    pub fn measured_ml(&self, piece: &str) -> Option<f64> {
        let mut measured = self.measured.iter();
        measured.find(|fill| fill.piece == piece).map(|fill| fill.volume_ml)
    }

    pub(super) fn note_measured(&mut self, piece: &str, volume_ml: Option<f64>) {
        let measured = &mut self.measured;
        match (measured.iter_mut().find(|fill| fill.piece == piece), volume_ml) {
            (Some(fill), Some(volume_ml)) => fill.volume_ml = volume_ml,
            (None, Some(volume_ml)) => measured.push(Fill {
                piece: piece.to_owned(),
                volume_ml,
            }),
            (_, None) => measured.retain(|fill| fill.piece != piece),
        }
    }

    pub(super) fn stop_at(&mut self, index: usize) -> Result<&mut Stop, EditError> {
        let count = self.stops.len();
        self.stops.get_mut(index).ok_or(EditError::NoSuchStop { index, count })
    }

    /// Takes a stop out and puts it elsewhere: `to` is the position that it will have.
    pub(super) fn move_stop(&mut self, from: usize, to: usize) -> Result<(), EditError> {
        let stop = self.stop_at(from)?.clone();
        self.stop_at(to)?;
        self.stops.remove(from);
        self.stops.insert(to, stop);
        Ok(())
    }

    pub(super) fn add_stop(&mut self, index: usize, stop: &Stop) -> Result<(), EditError> {
        if index > self.stops.len() {
            self.stop_at(index)?;
        }
        self.stops.insert(index, stop.clone());
        Ok(())
    }

    pub(super) fn remove_stop(&mut self, index: usize) -> Result<(), EditError> {
        self.stop_at(index)?;
        self.stops.remove(index);
        Ok(())
    }

    /// The same in the mirror: tilts change sign, rolls do not.
    pub(super) fn mirror(&mut self) {
        for stop in &mut self.stops {
            stop.tilt_deg = 0.0 - stop.tilt_deg;
        }
    }

    /// Lets what refers to a piece or member by an old name use the new one.
    pub(super) fn follow(&mut self, renamed: &HashMap<String, String>) {
        let seals = self.stops.iter_mut().flat_map(|stop| stop.seals.iter_mut());
        let measured = self.measured.iter_mut().map(|fill| &mut fill.piece);
        for name in seals.chain(self.drips_into.as_mut()).chain(measured) {
            if let Some(new) = renamed.get(name.as_str()) {
                name.clone_from(new);
            }
        }
    }

    /// Leaves out what refers to pieces and members that are gone.
    pub(super) fn forget(&mut self, is_gone: impl Fn(&str) -> bool) {
        self.drips_into.take_if(|name| is_gone(name));
        self.measured.retain(|fill| !is_gone(&fill.piece));
        for stop in &mut self.stops {
            stop.seals.retain(|name| !is_gone(name));
        }
    }
}

impl Apparatus {
    /// Whether a piece or member can be sealed off: it has a seal-off place.
    pub fn can_be_sealed(&self, name: &str) -> bool {
        match self.piece(name) {
            Some(piece) => matches!(piece.form, Form::Ampoule(_)),
            None => self.member(name).is_some(),
        }
    }

    /// Checks the numbers and names of the run; `exists` tells whether there is a piece or member of a name.
    pub(super) fn check_run(&self, exists: impl Fn(&str) -> bool) -> Result<(), Fault> {
        let run = &self.run;
        let holder = Holder::Run;
        check::check_count(&holder, "stops", run.stops.len(), &limits::STOPS)?;
        if let Gas::Filled { pressure_mbar } = run.gas {
            check::check_value(&holder, "gas.pressure_mbar", pressure_mbar, &limits::PRESSURE)?;
        }
        if let Some(name) = run.drips_into.as_ref().filter(|name| !exists(name)) {
            return Err(Fault::new(&holder, "drips_into", Wrong::Missing(name.clone())));
        }
        check_measured(&run.measured, &holder, &exists)?;
        let ampoules = self
            .pieces
            .iter()
            .filter(|piece| matches!(piece.form, Form::Ampoule(_)));
        let ampoules = ampoules.map(|piece| piece.name.clone());
        let members = self.rows.iter().flat_map(super::Row::member_names);
        let is_sealing = run.stops.iter().any(|stop| !stop.seals.is_empty());
        let sealable: HashSet<String> = ampoules.chain(members).filter(|_| is_sealing).collect();
        let mut sealed = HashSet::new();
        for (i, stop) in run.stops.iter().enumerate() {
            let key = |key: &str| format!("stops.{i}.{key}");
            check::check_text(&holder, &key("name"), &stop.name)?;
            for (name, value, limit) in [
                ("tilt_deg", stop.tilt_deg, &limits::TILT),
                ("roll_deg", stop.roll_deg, &limits::ROLL),
                ("rate_deg_per_s", stop.rate_deg_per_s, &limits::RATE),
                ("wait_s", stop.wait_s, &limits::WAIT),
            ] {
                check::check_value(&holder, &key(name), value, limit)?;
            }
            for (k, name) in stop.seals.iter().enumerate() {
                let wrong = if !exists(name) {
                    Wrong::Missing(name.clone())
                } else if !sealable.contains(name) {
                    Wrong::NoSeal(name.clone())
                } else if !sealed.insert(name) {
                    Wrong::SealedTwice(name.clone())
                } else {
                    continue;
                };
                return Err(Fault::new(&holder, key(&format!("seals.{k}")), wrong));
            }
        }
        Ok(())
    }
}

/// Checks what was measured: known pieces, each once, volumes within the limit.
fn check_measured(measured: &[Fill], holder: &Holder, exists: impl Fn(&str) -> bool) -> Result<(), Fault> {
    check::check_count(holder, "measured", measured.len(), &limits::FILLS)?;
    let mut seen = HashSet::new();
    for (i, fill) in measured.iter().enumerate() {
        let key = |key: &str| format!("measured.{i}.{key}");
        check::check_value(holder, &key("volume_ml"), fill.volume_ml, &limits::FILL)?;
        let wrong = if !exists(&fill.piece) {
            Wrong::Missing(fill.piece.clone())
        } else if !seen.insert(&fill.piece) {
            Wrong::Duplicate(fill.piece.clone())
        } else {
            continue;
        };
        return Err(Fault::new(holder, key("piece"), wrong));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{Edit, EditError, file, sample};
    use super::*;

    fn apparatus() -> Apparatus {
        Apparatus {
            run: sample::run(),
            ..sample::apparatus()
        }
    }

    fn names(apparatus: &Apparatus) -> Vec<&str> {
        apparatus.run.stops.iter().map(|stop| stop.name.as_str()).collect()
    }

    #[test]
    fn stops_are_added_changed_moved_and_removed() {
        let stop = |name: &str| Stop {
            name: name.to_owned(),
            ..Stop::at(10.0, 0.0)
        };
        let add = |index, name| Edit::AddStop {
            index,
            stop: stop(name),
        };
        let next = apparatus().apply(&add(1, "tap")).unwrap();
        assert_eq!(names(&next), ["upright", "tap", "filling", ""]);
        let next = next.apply(&Edit::MoveStop { from: 0, to: 2 }).unwrap();
        assert_eq!(names(&next), ["tap", "filling", "upright", ""]);
        let next = next.apply(&Edit::MoveStop { from: 3, to: 0 }).unwrap();
        assert_eq!(names(&next), ["", "tap", "filling", "upright"]);
        let next = next.apply(&Edit::RemoveStop { index: 0 }).unwrap();
        let set = Edit::SetStop {
            index: 2,
            stop: stop("end"),
        };
        let next = next.apply(&set).unwrap();
        assert_eq!(names(&next), ["tap", "filling", "end"]);
        assert_eq!(next.run.stops[2].tilt_deg, 10.0);
        for edit in [
            add(4, "beyond"),
            Edit::MoveStop { from: 3, to: 0 },
            Edit::MoveStop { from: 0, to: 3 },
            Edit::RemoveStop { index: 3 },
            Edit::SetStop {
                index: 3,
                stop: stop("none"),
            },
        ] {
            let error = next.apply(&edit).unwrap_err();
            assert!(
                matches!(error, EditError::NoSuchStop { count: 3, .. }),
                "{edit:?}: {error}"
            );
        }
        let many = Run {
            stops: vec![Stop::default(); 201],
            ..Run::default()
        };
        let error = next.apply(&Edit::Run(many)).unwrap_err().to_string();
        assert_eq!(error, "run: stops: 201 stops of a run; the limit is 0 to 200");
    }

    #[test]
    fn the_run_follows_names_and_forgets_what_is_gone() {
        let rename = |from: &str, to: &str| Edit::Rename {
            from: from.to_owned(),
            to: to.to_owned(),
        };
        let remove = |name: &str| Edit::Remove(vec![name.to_owned()]);
        let next = apparatus().apply(&rename("header", "trough")).unwrap();
        let next = next.apply(&rename("vial", "ampoule")).unwrap();
        assert_eq!(next.run.drips_into.as_deref(), Some("trough"));
        assert_eq!(next.run.stops[1].seals, ["ampoule-1", "ampoule-3"]);
        // The third takes the place of the second.
        let next = next.apply(&remove("ampoule-2")).unwrap();
        assert_eq!(next.run.stops[1].seals, ["ampoule-1", "ampoule-2"]);
        let next = next.apply(&remove("ampoule-1")).unwrap();
        assert_eq!(next.run.stops[1].seals, ["ampoule-1"]);
        let next = next.apply(&remove("trough")).unwrap();
        assert_eq!((next.run.drips_into, next.run.stops[1].seals.len()), (None, 0));
    }

    #[test]
    fn members_that_a_row_loses_are_not_sealed_off() {
        let mut apparatus = apparatus();
        apparatus.run.drips_into = Some("vial-2".to_owned());
        apparatus.set("vial", "count", 2.0).unwrap();
        assert_eq!(apparatus.run.stops[1].seals, ["vial-1"]);
        assert_eq!(apparatus.run.drips_into.as_deref(), Some("vial-2"));
        apparatus.set("vial", "count", 1.0).unwrap();
        assert_eq!(apparatus.run.drips_into, None);
    }

    #[test]
    fn what_was_measured_is_saved_follows_names_and_is_checked() {
        let measured = |piece: &str, volume_ml: f64| Fill {
            piece: piece.to_owned(),
            volume_ml,
        };
        let mut apparatus = apparatus();
        assert!(!file::write(&apparatus).contains("measured"));
        apparatus.run.measured = vec![measured("vial-1", 1.46), measured("vial-3", 1.52)];
        let text = file::write(&apparatus);
        assert_eq!(file::read(&text), Ok(apparatus.clone()));
        let rename = Edit::Rename {
            from: "vial".to_owned(),
            to: "ampoule".to_owned(),
        };
        let next = apparatus.apply(&rename).unwrap();
        assert_eq!(next.run.measured[1], measured("ampoule-3", 1.52));
        let next = next.apply(&Edit::Remove(vec!["ampoule".to_owned()])).unwrap();
        assert!(next.run.measured.is_empty());
        for (bad, place) in [
            (measured("nobody", 1.0), "measured.2.piece"),
            (measured("vial-1", 1.0), "measured.2.piece"),
            (measured("vial-2", -1.0), "measured.2.volume_ml"),
        ] {
            let mut apparatus = apparatus.clone();
            apparatus.run.measured.push(bad);
            let error = apparatus.check().unwrap_err().to_string();
            assert!(error.contains(place), "{error}");
        }
    }

    #[test]
    fn a_measured_fill_is_noted_changed_and_forgotten() {
        let note = |apparatus: &Apparatus, volume_ml| {
            let piece = "vial-2".to_owned();
            apparatus.apply(&Edit::Measured { piece, volume_ml }).unwrap()
        };
        let apparatus = apparatus();
        let noted = note(&note(&apparatus, Some(1.4)), Some(1.46));
        assert_eq!(noted.run.measured.len(), 1);
        assert_eq!(
            (noted.run.measured_ml("vial-2"), noted.run.measured_ml("vial-1")),
            (Some(1.46), None)
        );
        assert_eq!(note(&noted, None), apparatus);
        let nobody = Edit::Measured {
            piece: "nobody".to_owned(),
            volume_ml: Some(1.0),
        };
        assert!(apparatus.apply(&nobody).is_err());
    }

    #[test]
    fn the_mirror_turns_tilts_and_keeps_rolls() {
        let next = apparatus().apply(&Edit::Mirror).unwrap();
        let stop = &next.run.stops[1];
        assert_eq!((stop.tilt_deg, stop.roll_deg), (-42.5, -10.0));
        assert_eq!(next.apply(&Edit::Mirror).unwrap(), apparatus());
    }

    #[test]
    fn turning_takes_its_time() {
        let run = sample::run();
        assert_eq!(run.stops[1].turn_s(&run.stops[0]), 85.0);
        assert_eq!(
            (run.stop_name(1), run.stop_name(2)),
            ("filling".to_owned(), "stop 3".to_owned())
        );
    }
}
