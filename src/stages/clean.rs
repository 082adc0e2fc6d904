//! What is left in the glass, whether a quench reaches it, and what it gives off.

use super::case::Case;
use super::charge::Charge;
use super::seal::Seal;
use super::sheet::{Line, Sheet, Verdict};
use crate::geom::Stance;
use crate::model::job::{Input, Stage};
use crate::model::{Element, Form};
use crate::physics::Working;
use crate::physics::quench::{self, HYDROGEN};
use crate::units::MM3_PER_ML;
use crate::units::si::{
    Energy, Mass, Volume, amount_text, celsius, grams, heat_text, in_millilitres, mass_text, millilitres, ml_text,
    significant,
};
use std::collections::BTreeSet;

/// What stays in a piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Pocket {
    /// The piece.
    pub piece: String,
    /// What its hollows keep: at the last stop of the run, else at the tilt at which they keep least.
    pub volume: Volume,
    /// Whether a quench liquid reaches it from a port at some stance.
    pub reached: bool,
    /// The neck behind which it lies once that is sealed.
    pub behind: Option<String>,
}

/// The stage.
#[derive(Clone, Debug)]
pub struct Clean {
    /// The pockets, the largest first.
    pub pockets: Vec<Pocket>,
    /// Volume that no quench liquid reaches.
    pub unreached: Volume,
    /// Residue in all.
    pub residue: Verdict<Mass>,
    /// Hydrogen that it gives off.
    pub hydrogen: Verdict<Volume>,
    /// Heat with much water.
    pub heat: Verdict<Energy>,
    /// In words.
    pub sheet: Sheet,
}

/// Volumes of quench liquid tried, parts of the whole interior.
const PORTIONS: [f64; 2] = [0.03, 0.2];
/// Hollows smaller than this keep nothing that counts, mL.
const LEAST_ML: f64 = 0.001;

pub(super) fn work_out(case: &Case, charge: &Charge, seal: &Seal) -> Clean {
    let mut sheet = Sheet::new(Stage::Clean);
    sheet.inputs = case.inputs.lines(Stage::Clean);
    let pockets = pockets(case, seal);
    let unreached = pockets
        .iter()
        .filter(|pocket| !pocket.reached)
        .map(|pocket| pocket.volume)
        .sum();
    let residue = case.inputs.value(Input::Residue).map(grams).map_or_else(
        || {
            let film = charge.film.clone().unwrap_or(millilitres(0.0));
            Ok((charge.heel + film) * charge.density.clone()?)
        },
        Ok,
    );
    let gives = |mass: &Verdict<Mass>| {
        let amount = quench::hydrogen(case.liquid()?, mass.clone()?)?;
        quench::heats(case.liquid()?)?;
        Ok(quench::gas_volume(amount, celsius(20.0)))
    };
    let hydrogen = gives(&residue);
    let heat = case.liquid().and_then(|liquid| quench::heat(liquid, residue.clone()?));
    let lines = pockets.iter().take(20).map(|pocket| {
        let reach = if pocket.reached {
            "reached by the quench"
        } else {
            "NOT reached"
        };
        let behind = pocket
            .behind
            .as_ref()
            .map_or_else(String::new, |neck| format!(", behind the seal of {neck}"));
        Line::new(
            pocket.piece.clone(),
            format!("{}, {reach}{behind}", ml_text(pocket.volume)),
        )
    });
    let lines: Vec<Line> = lines.collect();
    let where_it_stays = if case.apparatus.run.stops.is_empty() {
        "What the hollows keep at the tilt at which they keep least"
    } else {
        "What the hollows keep at the last stop of the run"
    };
    if lines.is_empty() {
        sheet.group(where_it_stays, vec![Line::new("every piece", "drains")]);
    }
    sheet.group(where_it_stays, lines);
    let mut lines = vec![
        Line::of("residue to quench", &residue, |mass| mass_text(*mass)).caution(
            if case.inputs.value(Input::Residue).is_some() {
                "as given"
            } else {
                "heel and film of the charge; weigh what is really left"
            },
        ),
    ];
    let mut line = Line::of("hydrogen given off, at 20 \u{b0}C", &hydrogen, |volume| {
        ml_text(*volume)
    });
    if let (Ok(mass), Ok(liquid)) = (&residue, case.liquid())
        && let Ok(molar) = liquid.molar_mass()
    {
        line = line.worked(
            Working::of(&HYDROGEN)
                .with("m", "residue", mass_text(*mass))
                .with(
                    "M",
                    "molar mass",
                    format!("{} g/mol", significant(molar.value * 1e3, 5)),
                )
                .with("n", "hydrogen", amount_text(*mass / molar / 2.0)),
        );
    }
    lines.push(line);
    lines.push(Line::of("heat given off, at most", &heat, |heat| heat_text(*heat)).worked(Working::of(&HYDROGEN)));
    sheet.group("What the quench gives off", lines);
    let quench = case.apparatus.job.quench.trim();
    let is_alkali = hydrogen.is_ok();
    if is_alkali {
        sheet.cautions.push(format!(
            "quench {} slowly under argon in an inert solvent, cooled, with a bubbler for the hydrogen; small portions; plain water last; never in a closed train. Local rules and your safety officer decide",
            if quench.is_empty() { "with a long-chain or tertiary alcohol".to_owned() } else { format!("with {quench}") }
        ));
        sheet.cautions.push(
            "potassium and its alloys: a yellow or orange crust may be superoxide and explode with organics; stop"
                .to_owned(),
        );
    } else if !quench.is_empty() {
        sheet.cautions.push(format!(
            "rinse with {quench}; collect what comes off, follow local rules for its disposal"
        ));
    }
    sheet
        .cautions
        .push("never blow into glass that has held residue; rinse, neutralise and certify first".to_owned());
    Clean {
        pockets,
        unreached,
        residue,
        hydrogen,
        heat,
        sheet,
    }
}

/// What the hollows of each piece keep, mm3: at the last stop of the run, else at the tilt at which they keep least.
fn heels(case: &Case) -> Vec<f64> {
    let pieces = 0..case.built.names.len();
    let at = |stance: Stance| {
        let posture = case.interior.at(stance);
        pieces
            .clone()
            .map(|piece| posture.heel_of_piece(piece))
            .collect::<Vec<f64>>()
    };
    if let Some(stop) = case.apparatus.run.stops.last() {
        return at(Stance::new(stop.tilt_deg, stop.roll_deg));
    }
    let tilts = (-17..=18).map(|k| at(Stance::new(f64::from(k) * 10.0, 0.0)));
    let least = tilts.reduce(|a, b| a.iter().zip(&b).map(|(a, b)| a.min(*b)).collect());
    least.unwrap_or_default()
}

fn pockets(case: &Case, seal: &Seal) -> Vec<Pocket> {
    let heels = heels(case);
    let reached = reached(case);
    let ampoules: BTreeSet<usize> = case.vessels.iter().map(|vessel| vessel.piece).collect();
    let mut list: Vec<Pocket> = (0..case.built.names.len())
        .filter(|piece| !ampoules.contains(piece))
        .map(|piece| Pocket {
            piece: case.name(piece).to_owned(),
            volume: millilitres(heels.get(piece).copied().unwrap_or(0.0) / MM3_PER_ML),
            reached: reached.contains(&piece),
            behind: behind(case, seal, piece),
        })
        .filter(|pocket| in_millilitres(pocket.volume) > LEAST_ML)
        .collect();
    list.sort_by(|a, b| b.volume.value.total_cmp(&a.volume.value));
    list
}

/// The tube whose sealed neck shuts a piece off from every port.
fn behind(case: &Case, seal: &Seal, piece: usize) -> Option<String> {
    let has_neck = |piece: usize| matches!(case.form(piece), Some(Form::Tube(tube)) if tube.course.iter().any(|element| matches!(element, Element::Neck { .. })));
    let shut = seal.tube_necks.iter().find(|neck| {
        let closed = case.built.placed.index(&neck.piece);
        let open = case.built.ports.iter().any(|port| {
            port.piece == piece
                || super::way::Way::avoiding(case.built, piece, port.piece, |other| Some(other) == closed)
                    .is_some_and(|way| way.pieces.iter().all(|passed| Some(*passed) != closed))
        });
        !open && closed.is_some_and(has_neck) && closed != Some(piece)
    });
    shut.map(|neck| neck.piece.clone())
}

/// Pieces that a liquid from some port comes to rest in, at some stance or after several.
fn reached(case: &Case) -> BTreeSet<usize> {
    let whole = case.interior.total_volume();
    let mut found: BTreeSet<usize> = case.built.ports.iter().map(|port| port.piece).collect();
    let stances = (-18..18).flat_map(|k| [0.0, 35.0, -35.0].map(|roll| Stance::new(f64::from(k) * 10.0, roll)));
    let postures: Vec<_> = stances.map(|stance| case.interior.at(stance)).collect();
    let mut fresh: Vec<usize> = found.iter().copied().collect();
    while let Some(from) = fresh.pop() {
        if found.len() == case.built.names.len() {
            break;
        }
        for posture in &postures {
            for part in PORTIONS {
                let settled = posture.settle(&[(from, whole * part)]);
                let wet = settled.pools.iter().flat_map(|pool| pool.shares.iter());
                for (piece, _) in wet.filter(|(_, volume)| *volume > 0.0) {
                    if found.insert(*piece) {
                        fresh.push(*piece);
                    }
                }
            }
        }
    }
    found
}
