//! The part of the run sheet that pours and seals: what is to be seen at each stance, and the ampoules one by one.

use super::Case;
use super::leaf::{Figure, Step, Table};
use super::parts::short;
use super::steps::{step, value, words};
use super::texts;
use crate::geom::RunsTo;
use crate::model::Gas;
use crate::model::job::Input;
use crate::run::Outcome;
use crate::stages::Vessel;
use crate::units::si::{
    in_grams, in_millilitres, in_millimetres, millilitres, mm_text, pressure_text, temperature_text,
};
use crate::units::{MM3_PER_ML, angle_text, fixed, volume_text};

/// Volumes below this are not told of, mL.
const LEAST_ML: f64 = 0.005;

/// Turning the glass from stop to stop.
pub(super) fn pour(case: &Case) -> Vec<Step> {
    let Some(outcome) = case.outcome() else {
        return vec![step("The design has no run: find one before the glass is turned.")];
    };
    let gas = match case.apparatus().run.gas {
        Gas::Evacuated => "evacuated".to_owned(),
        Gas::Open => "open to the air".to_owned(),
        Gas::Filled { pressure_mbar } => format!("filled to {} mbar, ports closed", short(pressure_mbar)),
    };
    let filling = temperature_text(case.stages.charge().filling);
    let mut steps = vec![
        step(format!("Glass {gas}; liquid and every wall at {filling} or above."))
            .log(&["Header, \u{b0}C", "Gauge, mbar"]),
    ];
    steps.extend((0..outcome.stops.len()).map(|stop| stance(case, outcome, stop)));
    steps
}

/// One stop of the run.
fn stance(case: &Case, outcome: &Outcome, stop: usize) -> Step {
    let (halt, run) = (&outcome.halts[stop], &case.apparatus().run);
    let way = if stop == 0 {
        "Begin at".to_owned()
    } else {
        let rate = run.stops.get(stop).map_or(0.0, |stop| stop.rate_deg_per_s);
        format!(
            "In {} s, at {}\u{b0} a second, turn to",
            fixed(halt.turn_s, 0),
            short(rate)
        )
    };
    let mut text = format!(
        "{}. {way} tilt {}, roll {}; rest {} s.",
        run.stop_name(stop),
        angle_text(halt.stance.tilt_deg),
        angle_text(halt.stance.roll_deg),
        fixed(halt.wait_s, 0)
    );
    if let Some(told) = passages(case, outcome, stop) {
        text += &told;
    }
    let mut made = step(text);
    for (names, volume) in volumes(case, stop) {
        made = match names.as_slice() {
            [first, .., last] => made.told(format!("{first} to {last}, each"), volume),
            _ => made.told(names.concat(), volume),
        };
    }
    for &(port, lost) in &outcome.stops[stop].settled.lost {
        let piece = case
            .interior()
            .ports()
            .get(port)
            .map_or("a port", |port| case.job().name(port.piece));
        made = made.warned(format!(
            "{} have run out of {piece} by now.",
            volume_text(lost / MM3_PER_ML)
        ));
    }
    for seal in outcome.wet_seals.iter().filter(|seal| seal.stop == stop) {
        let name = case.job().name(seal.piece);
        made = made.warned(format!(
            "liquid stands {} mm over the seal-off place of {name}.",
            fixed(seal.head_mm, 1)
        ));
    }
    made.figure = Some(Figure::Moment { stop });
    made.log(&["Seen otherwise"])
}

/// What lies in the pieces at a stop; neighbours that hold as much are told of together.
fn volumes(case: &Case, stop: usize) -> Vec<(Vec<String>, String)> {
    let mut told: Vec<(Vec<String>, String)> = Vec::new();
    for (piece, name) in case.built().names.iter().enumerate() {
        let ml = case.held_ml(stop, piece).unwrap_or(0.0);
        let is_vessel = case.job().vessels.iter().any(|vessel| vessel.piece == piece);
        if !is_vessel && ml <= LEAST_ML {
            continue;
        }
        let volume = volume_text(ml);
        match told.last_mut() {
            Some((names, same)) if is_vessel && *same == volume => names.push(name.clone()),
            _ => told.push((vec![name.clone()], volume)),
        }
    }
    told
}

/// What fills on the way to a stop, in its order.
fn passages(case: &Case, outcome: &Outcome, stop: usize) -> Option<String> {
    let leg = stop.checked_sub(1)?;
    let mut names: Vec<&str> = Vec::new();
    let vessels: Vec<usize> = case.job().vessels.iter().map(|vessel| vessel.piece).collect();
    for passage in outcome
        .transfers
        .iter()
        .filter(|passage| passage.begins.leg == leg && passage.begins < passage.ends)
    {
        if let RunsTo::Piece(piece) = passage.to
            && vessels.contains(&piece)
            && passage.volume > LEAST_ML * MM3_PER_ML
            && !names.contains(&case.job().name(piece))
        {
            names.push(case.job().name(piece));
        }
    }
    (!names.is_empty()).then(|| format!(" Liquid comes into {}.", names.join(", then ")))
}

/// Ampoules in the order in which they are sealed: that of the run, else the farthest from the pump first.
fn order<'a>(case: &Case<'a>) -> Vec<&'a Vessel> {
    let in_run: Vec<&String> = case.apparatus().run.stops.iter().flat_map(|stop| &stop.seals).collect();
    let far = case.stages.seal().order.iter();
    let mut names: Vec<&String> = in_run.into_iter().chain(far).collect();
    names.extend(case.job().vessels.iter().map(|vessel| &vessel.name));
    let mut list: Vec<&Vessel> = Vec::new();
    for name in names {
        let found = case.job().vessels.iter().find(|vessel| vessel.name == *name);
        if let Some(vessel) = found.filter(|vessel| list.iter().all(|known| known.piece != vessel.piece)) {
            list.push(vessel);
        }
    }
    list
}

/// Sealing the ampoules off, one by one.
pub(super) fn seal(case: &Case) -> Vec<Step> {
    let seal = case.stages.seal();
    let mut first = step(format!(
        "Set the pressure: {} in the glass, at most {} cold with the gas shut in at {}. Contents at {}.",
        pressure_text(seal.closing),
        pressure_text(seal.greatest),
        value(case, Input::ShutGas),
        value(case, Input::ClosingT),
    ))
    .log(&["Gauge, mbar", "Contents, \u{b0}C"])
    .warned("clear the necks first: warm them downwards, tap, look for liquid at every seal");
    if let Some(bath) = texts::value(case, Input::Bath) {
        first = first.told("Bath", bath);
    }
    let mut steps = vec![first];
    let order = order(case);
    let count = order.len();
    for (i, vessel) in order.into_iter().enumerate() {
        let neck = seal.necks.iter().find(|neck| neck.vessel.piece == vessel.piece);
        let above = neck.map_or_else(String::new, |neck| {
            format!(", {} above the liquid", words(&neck.above_liquid, |mm| mm_text(*mm)))
        });
        let room = neck.and_then(|neck| neck.torch_room.as_ref()).map_or_else(
            || "no other glass near".to_owned(),
            |(piece, room)| format!("{} to {piece}", mm_text(*room)),
        );
        let ampoule = &vessel.ampoule;
        steps.push(
            step(format!(
                "Seal {}, {} of {count}: soft flame all round, shrink the neck ({} mm outside, bore {} mm) at the mark, {} mm below its upper end{above}; draw off, round the tip, soft flame, still air.",
                vessel.name,
                i + 1,
                short(ampoule.neck.od_mm),
                short(ampoule.neck.bore_mm()),
                short(ampoule.seal_mm)
            ))
            .told("In the flame", value(case, Input::Flame))
            .told("Room for the torch", room)
            .log(&["Gauge before, mbar", "Sealed at", "Initials"]),
        );
    }
    steps
}

/// What is in every ampoule: expected, and lines for what is measured.
pub(super) fn fills(case: &Case) -> Table {
    let density = case.stages.charge().density.clone().ok();
    let last = case
        .outcome()
        .map_or(0, |outcome| outcome.stops.len().saturating_sub(1));
    let rows = case.job().vessels.iter().map(|vessel| {
        let held = case.held_ml(last, vessel.piece);
        let expected = millilitres(held.unwrap_or_else(|| in_millilitres(vessel.target)));
        let height = vessel.height_of(expected);
        vec![
            vessel.name.clone(),
            fixed(in_millilitres(vessel.target), 2),
            fixed(in_millilitres(expected), 2),
            density.map_or_else(|| "not known".to_owned(), |rho| fixed(in_grams(expected * rho), 3)),
            height.map_or_else(|| "over the seal".to_owned(), |mm| fixed(in_millimetres(mm), 1)),
            String::new(),
            String::new(),
            String::new(),
        ]
    });
    Table {
        heads: [
            "Ampoule",
            "Wanted, mL",
            "Expected, mL",
            "Expected, g",
            "Stands at, mm",
            "Seen at, mm \u{2026}",
            "Mass, g \u{2026}",
            "Volume, mL \u{2026}",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: rows.collect(),
        numbers: vec![false, true, true, true, true, false, false, false],
    }
}
