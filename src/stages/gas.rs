//! Pumping down, purging, leaks.

use super::case::Case;
use super::sheet::{Line, Sheet, Verdict};
use super::way::{Way, conductance};
use crate::data::law::NoValue;
use crate::model::job::{Input, Stage};
use crate::model::{End, FittingKind, Form};
use crate::physics::vacuum::{self, Gas as Flowing};
use crate::physics::{Working, formula};
use crate::units::MM3_PER_ML;
use crate::units::si::{
    MolarMass, Power, Pressure, ThermodynamicTemperature, Time, Volume, VolumeRate, bars, celsius, grams_per_mole,
    hours, leak_text, litres_per_second, metres, millibars, milligrams, millilitres, millimetres, ml_text,
    pascal_seconds, pressure_text, seconds, significant, speed_text, time_text,
};

/// Oxygen in air, parts in a million.
pub const OXYGEN_PPM: f64 = 209_500.0;

/// A volume with one way in.
#[derive(Clone, Debug, PartialEq)]
pub struct DeadEnd {
    /// Its piece.
    pub piece: String,
    /// Its volume.
    pub volume: Volume,
    /// Time in which its gas thins to 1/e through the way to the port, at the end of pumping.
    pub empties: Time,
    /// Time in which fresh gas mixes into it by diffusion, at the pressure that is filled to.
    pub mixes: Time,
}

/// The stage.
#[derive(Clone, Debug)]
pub struct Gas {
    /// Oxygen left after the cycles, ppm of the fill.
    pub left_ppm: Verdict<f64>,
    /// Cycles that reach what is wanted; none when no number does.
    pub cycles_needed: Verdict<Option<u32>>,
    /// Time to pump the whole interior down.
    pub pump_down: Verdict<Time>,
    /// Air that may leak in.
    pub allowed: Verdict<Power>,
    /// Leak of the reading; an error when there is none.
    pub measured: Verdict<Power>,
    /// Volumes with one way in, the slowest to mix first.
    pub dead_ends: Vec<DeadEnd>,
    /// Piece through which it is pumped.
    pub port: Verdict<usize>,
    /// In words.
    pub sheet: Sheet,
}

/// Standard atmosphere, mbar.
const OPEN_MBAR: f64 = 1013.25;
/// Steps of pressure in a decade of pumping down.
const STEPS: usize = 40;

pub(super) fn work_out(case: &Case) -> Gas {
    let mut sheet = Sheet::new(Stage::Gas);
    sheet.inputs = case.inputs.lines(Stage::Gas);
    let room = celsius(20.0);
    let low = case.number(Input::PurgeLow).map(millibars);
    let fill = case.number(Input::PurgeFill).map(millibars);
    let cycles = case.number(Input::Cycles);
    let left_ppm = (|| {
        let part = vacuum::purge_remainder(low.clone()?, fill.clone()?, cycles.clone()? as u32);
        Ok(OXYGEN_PPM * part)
    })();
    let cycles_needed = (|| {
        let part = case.number(Input::Wanted)? / OXYGEN_PPM;
        Ok(vacuum::purge_cycles(low.clone()?, fill.clone()?, part))
    })();
    let port = pump_port(case);
    let pump_down = pump_down(case, &port, room);
    let allowed = allowed(case, room);
    let measured = (|| {
        let (from, to) = (case.number(Input::LeakFrom)?, case.number(Input::LeakTo)?);
        let volume = millilitres(case.interior.total_volume() / MM3_PER_ML);
        Ok(vacuum::leak_of_rise(
            volume,
            millibars(to - from),
            hours(case.number(Input::LeakHours)?),
        ))
    })();
    let dead_ends = dead_ends(case, &port, room);
    let mut lines = vec![
        Line::of("oxygen left after the cycles", &left_ppm, |ppm| {
            format!("{} ppm", significant(*ppm, 2))
        })
        .worked(
            Working::of(&vacuum::PURGE)
                .with("p_low", "pumped down to", text(&low))
                .with("p_fill", "filled to", text(&fill))
                .with(
                    "n",
                    "cycles",
                    cycles.as_ref().map_or_else(ToString::to_string, |n| format!("{n:.0}")),
                ),
        )
        .caution("gas of grade 5.0 brings 2 to 3 ppm of oxygen and water of its own (recalled)"),
        Line::of("cycles that reach what is wanted", &cycles_needed, |n| {
            n.map_or_else(
                || "none: it is pumped no lower than it is filled".to_owned(),
                |n| n.to_string(),
            )
        }),
    ];
    sheet.group("Pump and fill", lines);
    let volume = millilitres(case.interior.total_volume() / MM3_PER_ML);
    lines = vec![
        Line::new("inside volume", ml_text(volume)),
        Line::of("pumped through", &port, |port| case.name(*port).to_owned()),
    ];
    let mut line = Line::of("time from one atmosphere to the pressure wanted", &pump_down, |time| {
        time_text(*time)
    });
    if let (Ok(speed), Ok(end)) = (case.number(Input::PumpSpeed), case.number(Input::PumpEnd)) {
        line = line.worked(
            Working::of(&vacuum::PUMP_DOWN)
                .with("V", "inside volume", ml_text(volume))
                .with("S_pump", "speed of the pump", speed_text(litres_per_second(speed)))
                .with("p1", "pressure wanted", pressure_text(millibars(end)))
                .with(
                    "C",
                    "port and way to the farthest ampoule, air at each pressure",
                    "from the bores",
                ),
        );
    }
    lines.push(line.caution(
        "unbaked glass gives off water for hours; below about 0.1 mbar that governs, and no trustworthy rate is known",
    ));
    sheet.group("Pump-down", lines);
    lines =
        vec![
            Line::of("air that may leak in", &allowed, |leak| leak_text(*leak)).worked(
                Working::of(&vacuum::LEAK_ALLOWED)
                    .with(
                        "m",
                        "product lost at most",
                        format!("{} mg", significant(case.inputs.value(Input::Loss).unwrap_or(0.0), 3)),
                    )
                    .with(
                        "t",
                        "time to the last seal",
                        format!("{} h", significant(case.inputs.value(Input::Exposed).unwrap_or(0.0), 3)),
                    ),
            ),
            Line::of("leak of the reading", &measured, |leak| leak_text(*leak))
                .worked(Working::of(&vacuum::LEAK_UP).with("V", "inside volume", ml_text(volume))),
        ];
    sheet.group("Leaks", lines);
    let lines = dead_ends.iter().take(12).map(|end| {
        Line::new(
            format!("{}, {}", end.piece, ml_text(end.volume)),
            format!(
                "thins to 1/e in {}, fresh gas mixes in within {}",
                time_text(end.empties),
                time_text(end.mixes)
            ),
        )
    });
    sheet.group("Dead ends, which a stream of gas does not sweep", lines.collect());
    sheet
        .cautions
        .push("a stream of gas does not clean a dead end: pump and fill, and wait for the gas to mix".to_owned());
    Gas {
        left_ppm,
        cycles_needed,
        pump_down,
        allowed,
        measured,
        dead_ends,
        port,
        sheet,
    }
}

fn text(pressure: &Verdict<Pressure>) -> String {
    pressure
        .as_ref()
        .map_or_else(ToString::to_string, |p| pressure_text(*p))
}

/// The piece through which it is pumped: a vacuum port, else any port.
fn pump_port(case: &Case) -> Verdict<usize> {
    let is_pump = |piece: usize| match case.form(piece) {
        Some(Form::Fitting(fitting)) => fitting.kind == FittingKind::VacuumPort,
        Some(Form::Tube(tube)) => tube.start == End::Port || tube.end == End::Port,
        _ => false,
    };
    let ports = case.built.ports.iter().map(|port| port.piece);
    let port = ports.clone().find(|port| is_pump(*port)).or_else(|| ports.min());
    port.ok_or_else(|| NoValue::Because("there is no port to pump through".to_owned()))
}

fn air() -> MolarMass {
    grams_per_mole(vacuum::AIR_MOLAR_KG * 1e3)
}

fn air_at(t: ThermodynamicTemperature, mean: Pressure) -> Flowing {
    Flowing {
        t,
        molar: air(),
        eta: pascal_seconds(vacuum::AIR_VISCOSITY_PA_S),
        mean,
    }
}

/// Way that is pumped through: from the port to the piece farthest from it.
fn longest(case: &Case, port: usize) -> Option<Way> {
    let ways = case
        .vessels
        .iter()
        .filter_map(|vessel| Way::between(case.built, port, vessel.piece));
    ways.max_by(|a, b| a.length_mm().total_cmp(&b.length_mm()))
}

fn pump_down(case: &Case, port: &Verdict<usize>, t: ThermodynamicTemperature) -> Verdict<Time> {
    let port = port.clone()?;
    let pump = litres_per_second(case.number(Input::PumpSpeed)?);
    let end = millibars(case.number(Input::PumpEnd)?);
    let volume = millilitres(case.interior.total_volume() / MM3_PER_ML);
    let way = longest(case, port);
    let mut p = bars(OPEN_MBAR / 1000.0);
    let step = 10f64.powf(-1.0 / STEPS as f64);
    let mut sum = seconds(0.0);
    while p > end {
        let next = if p * step < end { end } else { p * step };
        let c = way.as_ref().map(|way| conductance(way, &air_at(t, next)));
        let speed: VolumeRate = vacuum::series([Some(pump), c].into_iter().flatten());
        sum += vacuum::pump_down(volume, speed, p, next);
        p = next;
    }
    if sum.value.is_finite() {
        Ok(sum)
    } else {
        Err(NoValue::Because("the way to the pump is shut".to_owned()))
    }
}

fn allowed(case: &Case, t: ThermodynamicTemperature) -> Verdict<Power> {
    let liquid = case.liquid()?;
    let uptake = liquid.oxygen_uptake.as_ref().ok_or_else(|| {
        NoValue::Because(format!(
            "how much oxygen {} takes up is not known, or it takes up none",
            liquid.name
        ))
    })?;
    let lost = milligrams(case.number(Input::Loss)?) / liquid.molar_mass()?;
    Ok(vacuum::leak_for_oxygen(
        lost * uptake.value,
        t,
        hours(case.number(Input::Exposed)?),
    ))
}

/// The ampoules, and closed tubes that hang on one join: volumes with one way in.
fn dead_ends(case: &Case, port: &Verdict<usize>, t: ThermodynamicTemperature) -> Vec<DeadEnd> {
    let Ok(port) = *port else {
        return Vec::new();
    };
    let volumes = case.interior.piece_volumes();
    let end = case.inputs.value(Input::PumpEnd).unwrap_or(0.01);
    let fill = millibars(case.inputs.value(Input::PurgeFill).unwrap_or(1000.0));
    let gas = formula::molar_mass(if case.apparatus.job.gas.eq_ignore_ascii_case("nitrogen") {
        "N2"
    } else {
        "Ar"
    });
    let gas = gas.unwrap_or_else(|_| air());
    let joined = |name: &str| {
        let pieces = case.built.placed.pieces.iter();
        pieces
            .flat_map(|piece| piece.seat.places())
            .filter(|place| place.host == name)
            .count()
    };
    let pieces = case.built.placed.pieces.iter().enumerate();
    let blind = pieces.filter(|(i, piece)| {
        let own = piece.seat.places().count();
        own + joined(&piece.name) <= 1 && !case.built.ports.iter().any(|port| port.piece == *i)
    });
    let mut list: Vec<DeadEnd> = blind
        .filter_map(|(i, piece)| {
            let way = Way::between(case.built, port, i)?;
            let volume = millilitres(volumes.get(i)? / MM3_PER_ML);
            let c = conductance(&way, &air_at(t, millibars(end)));
            let path = vacuum::mean_free_path(t, fill, metres(vacuum::AIR_DIAMETER_M));
            let diffusion = vacuum::self_diffusion(path, vacuum::mean_speed(t, gas));
            let length = millimetres(case.built.placed.lines[i].length_mm);
            Some(DeadEnd {
                piece: piece.name.clone(),
                volume,
                empties: seconds(volume.value / c.value),
                mixes: vacuum::mixing_time(length, diffusion),
            })
        })
        .collect();
    list.sort_by(|a, b| b.mixes.value.total_cmp(&a.mixes.value));
    list
}
