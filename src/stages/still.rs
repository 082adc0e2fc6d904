//! Distilling: vapour, flow, the two limits, time, bumping, and whether the condensate stays back.

use super::case::Case;
use super::charge::{self, Charge};
use super::sheet::{Curve, Line, Plot, Sheet, Verdict};
use super::way::{Way, conductance};
use crate::data::law::NoValue;
use crate::geom::{Question, Stance, tilts};
use crate::model::Form;
use crate::model::job::{Input, Stage};
use crate::physics::vacuum::{self, Gas, Regime};
use crate::physics::{Working, evaporation};
use crate::units::MM3_PER_ML;
use crate::units::si::{
    Area, Length, MassRate, Power, Pressure, TemperatureInterval, ThermodynamicTemperature, Time, Volume, area_text,
    celsius, in_celsius, in_cm2, in_hours, in_kelvins, in_millilitres, interval_text, kelvins, kg_per_second, metres,
    millibars, millimetres, ml_text, mm_text, mm2, pascals, pressure_text, seconds, significant, speed_text,
    temperature_text, time_text, watts,
};

/// Fill levels at which pot and receiver are looked at.
const LEVELS: usize = 8;
/// Tilts tried for a larger surface, degrees from the stance of distilling.
const LAID_DEG: f64 = 90.0;
/// Temperatures of a plot.
const PLOT_STEPS: usize = 40;

/// Which of the two limits counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitedBy {
    /// What the surface gives off.
    Surface,
    /// What the way lets through.
    Way,
}

/// The pot at a fill.
#[derive(Clone, Copy, Debug)]
pub struct PotLevel {
    /// Volume in it.
    pub volume: Volume,
    /// Free surface.
    pub surface: Area,
    /// Depth.
    pub depth: Length,
    /// What the surface could give.
    pub by_surface: MassRate,
    /// What the way could carry.
    pub by_way: MassRate,
    /// What both give together.
    pub rate: MassRate,
}

/// The receiver at a fill.
#[derive(Clone, Copy, Debug)]
pub struct Held {
    /// Volume in it.
    pub volume: Volume,
    /// Tilts between which it stays back, degrees; none when it does not stay at all.
    pub band_deg: Option<(f64, f64)>,
}

/// The stage.
#[derive(Clone, Debug)]
pub struct Still {
    /// Temperature of the pot.
    pub pot_t: Verdict<ThermodynamicTemperature>,
    /// Vapour pressure there.
    pub pot_p: Verdict<Pressure>,
    /// Temperature of the receiver.
    pub receiver_t: Verdict<ThermodynamicTemperature>,
    /// Vapour pressure there.
    pub receiver_p: Verdict<Pressure>,
    /// Free path against the narrowest bore, and the bore.
    pub knudsen: Verdict<(f64, Length)>,
    /// The pot as it empties, full first.
    pub levels: Verdict<Vec<PotLevel>>,
    /// Time for the whole charge.
    pub time: Verdict<Time>,
    /// Which limit counts at the start.
    pub limited: Verdict<LimitedBy>,
    /// Superheat at the bottom of the full pot.
    pub superheat: Verdict<TemperatureInterval>,
    /// Room from the full pot's surface up to where the way begins.
    pub splash: Verdict<Length>,
    /// Part of the pot that is filled at the start.
    pub fill_part: Verdict<f64>,
    /// Pot laid at another tilt: tilt and surface there.
    pub laid: Verdict<(f64, Area)>,
    /// The receiver as it fills, empty first.
    pub held: Verdict<Vec<Held>>,
    /// In words.
    pub sheet: Sheet,
}

pub(super) fn work_out(case: &Case, charge: &Charge) -> Still {
    let mut sheet = Sheet::new(Stage::Still);
    sheet.inputs = case.inputs.lines(Stage::Still);
    let pot_t = case.number(Input::Pot).map(celsius);
    let receiver_t = case.number(Input::Receiver).map(celsius);
    let pot_p = pressure(case, &pot_t);
    let receiver_p = pressure(case, &receiver_t);
    let way = way(case);
    let flow = flow(case, &pot_t, &pot_p, &receiver_p);
    let knudsen = flow.clone().and_then(|(gas, _, _)| {
        let narrow = way.clone()?;
        let narrow = narrow
            .narrowest()
            .ok_or_else(|| NoValue::Because("the way has no bore".to_owned()))?;
        let path = vacuum::mean_free_path(gas.t, gas.mean, metres(vacuum::VAPOUR_DIAMETER_M));
        let bore = millimetres(narrow.d_mm);
        Ok(((path / bore).value, bore))
    });
    let volume = charge.needed.clone();
    let levels = levels(case, &volume, &flow, &way);
    let time = levels.clone().and_then(|levels| time(case, &pot_t, &levels));
    let limited = levels.clone().and_then(|levels| {
        let first = levels.first().ok_or_else(empty)?;
        Ok(if first.by_surface <= first.by_way {
            LimitedBy::Surface
        } else {
            LimitedBy::Way
        })
    });
    let full = levels
        .clone()
        .and_then(|levels| levels.first().copied().ok_or_else(empty));
    let superheat = superheat(case, &pot_t, &pot_p, &full);
    let (splash, fill_part) = (splash(case, &volume), fill_part(case, &volume));
    let laid = laid(case, &volume);
    let held = held(case, &volume);
    let mut still = Still {
        pot_t,
        pot_p,
        receiver_t,
        receiver_p,
        knudsen,
        levels,
        time,
        limited,
        superheat,
        splash,
        fill_part,
        laid,
        held,
        sheet,
    };
    let sheet = still.write(case, &way, &flow);
    still.sheet.groups = sheet.groups;
    still.sheet.plots = sheet.plots;
    still.sheet.cautions = sheet.cautions;
    still
}

fn empty() -> NoValue {
    NoValue::Because("nothing lies in the pot".to_owned())
}

fn pressure(case: &Case, t: &Verdict<ThermodynamicTemperature>) -> Verdict<Pressure> {
    case.liquid()?.vapour_pressure_at(t.clone()?)
}

/// The way of the vapour.
fn way(case: &Case) -> Verdict<Way> {
    let (pot, receiver) = (case.pot()?, case.receiver()?);
    Way::between(case.built, pot, receiver)
        .ok_or_else(|| NoValue::Because("pot and receiver are not joined".to_owned()))
}

/// The vapour at the mean of the two pressures, with both: what drives it is never below nothing.
fn flow(
    case: &Case,
    pot_t: &Verdict<ThermodynamicTemperature>,
    pot_p: &Verdict<Pressure>,
    receiver_p: &Verdict<Pressure>,
) -> Verdict<(Gas, Pressure, Pressure)> {
    let (t, high) = (pot_t.clone()?, pot_p.clone()?);
    // A receiver so cold that its form ends has no vapour that matters; residual gas holds back all the same.
    let low = receiver_p.clone().unwrap_or(pascals(0.0));
    let molar = case.liquid()?.molar_mass()?;
    let eta = vacuum::kinetic_viscosity(t, molar, metres(vacuum::VAPOUR_DIAMETER_M));
    let mean = (high + low) / 2.0;
    Ok((Gas { t, molar, eta, mean }, high, low))
}

/// Surface and depth of the pot with a volume in it, at a stance; nothing when it does not stay there.
fn pot_at(case: &Case, stance: Stance, volume: Volume) -> Verdict<(Area, Length, f64)> {
    let pot = case.pot()?;
    let posture = case.interior.at(stance);
    let mm3 = in_millilitres(volume) * MM3_PER_ML;
    let settled = posture.settle(&[(pot, mm3)]);
    let pool = settled.pools.iter().find(|pool| pool.piece == pot).ok_or_else(empty)?;
    if pool.volume < 0.999 * mm3 {
        return Err(NoValue::Because(format!(
            "the pot does not hold {} at that tilt",
            ml_text(volume)
        )));
    }
    Ok((mm2(pool.free_surface), millimetres(pool.depth()), pool.level))
}

fn levels(
    case: &Case,
    volume: &Verdict<Volume>,
    flow: &Verdict<(Gas, Pressure, Pressure)>,
    way: &Verdict<Way>,
) -> Verdict<Vec<PotLevel>> {
    let (volume, (gas, high, low), way) = (volume.clone()?, flow.clone()?, way.clone()?);
    let a = case.number(Input::Accommodation)?;
    let mut list = Vec::new();
    for k in (1..=LEVELS).rev() {
        let volume = volume * (k as f64 / LEVELS as f64);
        let (surface, depth, _) = pot_at(case, case.still_stance(), volume)?;
        let by_surface = evaporation::hertz_knudsen(a, high, low, gas.molar, gas.t) * surface;
        let by_way = evaporation::transport(conductance(&way, &gas), high, low, gas.molar, gas.t);
        list.push(PotLevel {
            volume,
            surface,
            depth,
            by_surface,
            by_way,
            rate: together(&gas, a, (high, low), surface, &way),
        });
    }
    Ok(list)
}

/// The rate at which what the surface gives off is what the way carries: the pressure between them is found by halving.
fn together(gas: &Gas, a: f64, (high, low): (Pressure, Pressure), surface: Area, way: &Way) -> MassRate {
    let (mut above, mut below) = (high, low);
    let mut rate = kg_per_second(0.0);
    for _ in 0..60 {
        let middle = (above + below) / 2.0;
        let gives = evaporation::hertz_knudsen(a, high, middle, gas.molar, gas.t) * surface;
        let here = Gas {
            mean: (middle + low) / 2.0,
            ..*gas
        };
        let carries = evaporation::transport(conductance(way, &here), middle, low, gas.molar, gas.t);
        rate = carries;
        if gives > carries {
            below = middle;
        } else {
            above = middle;
        }
    }
    rate
}

/// Time for the charge: the trapezoids between the levels, and the last one at its own rate.
fn time(case: &Case, pot_t: &Verdict<ThermodynamicTemperature>, levels: &[PotLevel]) -> Verdict<Time> {
    let rho = case.liquid()?.density_at(pot_t.clone()?)?;
    let step = |volume: Volume, rate: f64| seconds((volume * rho).value / rate);
    let mut sum = seconds(0.0);
    for pair in levels.windows(2) {
        let [first, second] = [pair[0], pair[1]];
        sum += step(
            first.volume - second.volume,
            f64::midpoint(first.rate.value, second.rate.value),
        );
    }
    if let Some(last) = levels.last() {
        sum += step(last.volume, last.rate.value);
    }
    if sum.value.is_finite() && sum.value > 0.0 {
        Ok(sum)
    } else {
        Err(NoValue::Because(
            "nothing drives the vapour over: the receiver is as warm as the pot".to_owned(),
        ))
    }
}

fn superheat(
    case: &Case,
    pot_t: &Verdict<ThermodynamicTemperature>,
    pot_p: &Verdict<Pressure>,
    full: &Verdict<PotLevel>,
) -> Verdict<TemperatureInterval> {
    let liquid = case.liquid()?;
    let law = liquid
        .vapour_pressure
        .as_ref()
        .ok_or_else(|| NoValue::Because("its vapour pressure is not known".to_owned()))?;
    let rho = liquid.density_at(pot_t.clone()?)?;
    evaporation::superheat(law, pot_p.clone()?, full.clone()?.depth, rho, &liquid.name)
}

/// Height from the surface up to where the way leaves the pot's body.
fn splash(case: &Case, volume: &Verdict<Volume>) -> Verdict<Length> {
    let pot = case.pot()?;
    let stance = case.still_stance();
    let (_, _, level) = pot_at(case, stance, volume.clone()?)?;
    let line = &case.built.placed.lines[pot];
    let way = way(case)?;
    // In a bulb the way begins where its neck opens into the body; else where the next piece sits.
    let at_mm = match case.form(pot) {
        Some(Form::Bulb(bulb)) => {
            let (r, neck) = (bulb.body.bore_mm() / 2.0, bulb.neck.bore_mm() / 2.0);
            (bulb.neck_mm - (r * r - neck * neck).max(0.0).sqrt()).max(0.0)
        }
        _ => {
            let next = way.pieces.get(1).and_then(|next| case.built.placed.pieces.get(*next));
            let place = next.and_then(|next| next.seat.places().find(|place| place.host == case.name(pot)));
            place.map_or(0.0, |place| place.at_mm)
        }
    };
    let at = line.spot(at_mm).at;
    let height = stance.up().dot(&nalgebra::Vector3::new(at.x, at.y, 0.0));
    Ok(millimetres(height - level))
}

fn fill_part(case: &Case, volume: &Verdict<Volume>) -> Verdict<f64> {
    let whole = case.interior.piece_volumes().get(case.pot()?).copied().unwrap_or(0.0);
    let part = in_millilitres(volume.clone()?) * MM3_PER_ML / whole;
    if part.is_finite() { Ok(part) } else { Err(empty()) }
}

/// The tilt at which the pot's surface is largest while it still holds the charge.
fn laid(case: &Case, volume: &Verdict<Volume>) -> Verdict<(f64, Area)> {
    let volume = volume.clone()?;
    let stance = case.still_stance();
    let tilts = (-18..=18).map(|k| stance.tilt_deg + f64::from(k) * LAID_DEG / 18.0);
    let surfaces = tilts.filter_map(|tilt| {
        let (surface, _, _) = pot_at(case, Stance::new(tilt, stance.roll_deg), volume).ok()?;
        Some((tilt, surface))
    });
    let best = surfaces.max_by(|a, b| a.1.value.total_cmp(&b.1.value));
    best.ok_or_else(|| NoValue::Because("the pot holds the charge at no tilt".to_owned()))
}

/// Where the condensate stays back while the receiver fills.
fn held(case: &Case, volume: &Verdict<Volume>) -> Verdict<Vec<Held>> {
    let (receiver, volume) = (case.receiver()?, volume.clone()?);
    let stance = case.still_stance();
    let list = [0.02, 0.25, 0.5, 0.75, 1.0].map(|part| {
        let volume = volume * part;
        let ask = Question {
            volume: Some(in_millilitres(volume) * MM3_PER_ML),
            ..Question::default()
        };
        Held {
            volume,
            band_deg: tilts(case.interior, receiver, ask, stance).hold,
        }
    });
    Ok(list.to_vec())
}

/// The heat that a rate takes.
fn heat(case: &Case, pot_t: &Verdict<ThermodynamicTemperature>, rate: MassRate) -> Verdict<Power> {
    let liquid = case.liquid()?;
    let law = liquid.vapour_pressure.as_ref().ok_or_else(empty)?;
    let heat = evaporation::vaporisation_heat(law, pot_t.clone()?, &liquid.name)?;
    Ok(watts(heat.value * rate.value / liquid.molar_mass()?.value))
}

fn rate_text(rate: MassRate) -> String {
    format!("{} g/h", significant(rate.value * 3.6e6, 3))
}

impl Still {
    fn write(&self, case: &Case, way: &Verdict<Way>, flow: &Verdict<(Gas, Pressure, Pressure)>) -> Sheet {
        let mut sheet = Sheet::new(Stage::Still);
        let source = case.liquid.as_ref().and_then(|liquid| liquid.vapour_pressure.as_ref());
        let vapour = |what: &str, t: &Verdict<ThermodynamicTemperature>, p: &Verdict<Pressure>| {
            let at = t
                .as_ref()
                .map_or_else(|_| String::new(), |t| format!(" at {}", temperature_text(*t)));
            let line = Line::of(format!("{what}{at}"), p, |p| pressure_text(*p));
            match (source, t) {
                (Some(law), Ok(t)) => line.worked(Working::of_property(law, *t)),
                _ => line,
            }
        };
        let residual = case.inputs.value(Input::Residual).map(millibars);
        let mut lines = vec![
            vapour("vapour pressure in the pot", &self.pot_t, &self.pot_p),
            vapour("vapour pressure in the receiver", &self.receiver_t, &self.receiver_p),
        ];
        if let (Some(residual), Ok(p)) = (residual, &self.pot_p)
            && residual > *p * 0.1
        {
            lines.push(Line::new("residual gas", pressure_text(residual)).caution(
                "more than a tenth of the vapour pressure: the vapour has to diffuse through it, and the rates below are far too high",
            ));
        }
        sheet.group("Vapour", lines);
        sheet.group("The way of the vapour", self.way_lines(case, way, flow));
        sheet.group("Rate and time", self.rate_lines(case));
        sheet.group("Bumping and splashing", self.bump_lines(case));
        sheet.group("Does the condensate stay back", self.held_lines(case));
        self.plots(case, way, &mut sheet);
        sheet.cautions.push(
            "the rates are upper limits: films of oxide, a cold spot on the way or too little heat make them 1 to 30 % of it".to_owned(),
        );
        sheet
    }

    fn way_lines(&self, case: &Case, way: &Verdict<Way>, flow: &Verdict<(Gas, Pressure, Pressure)>) -> Vec<Line> {
        let mut lines = Vec::new();
        lines.push(Line::of("from pot to receiver", way, |way| {
            let pieces: Vec<&str> = way.pieces.iter().map(|piece| case.name(*piece)).collect();
            let narrow = way.narrowest().map_or(0.0, |bore| bore.d_mm);
            format!(
                "{}: {} mm, narrowest {} mm",
                pieces.join(", "),
                significant(way.length_mm(), 3),
                significant(narrow, 3)
            )
        }));
        let mut line = Line::of("Knudsen number at the narrowest", &self.knudsen, |(kn, _)| {
            format!("{}, {} flow", significant(*kn, 3), Regime::of(*kn).words())
        });
        if let (Ok((_, bore)), Ok((gas, _, _))) = (&self.knudsen, flow) {
            line = line.worked(
                Working::of(&vacuum::FREE_PATH)
                    .with("T", "pot", temperature_text(gas.t))
                    .with("p", "mean of both ends", pressure_text(gas.mean))
                    .with("d", "diameter of the vapour's molecule, assumed", "0.5 nm")
                    .with("D", "narrowest bore, Kn = lambda/D", mm_text(*bore)),
            );
        }
        lines.push(line);
        if let (Ok(way), Ok((gas, _, _))) = (way, flow) {
            lines.push(
                Line::new("conductance for the vapour", speed_text(conductance(way, gas))).worked(
                    Working::of(&vacuum::CONDUCTANCE)
                        .with(
                            "L",
                            "length of the way",
                            format!("{} mm", significant(way.length_mm(), 3)),
                        )
                        .with(
                            "v",
                            "mean speed of the molecules",
                            format!("{} m/s", significant(vacuum::mean_speed(gas.t, gas.molar).value, 3)),
                        )
                        .with(
                            "eta",
                            "viscosity of the vapour, kinetic theory",
                            format!("{} \u{b5}Pa s", significant(gas.eta.value * 1e6, 3)),
                        )
                        .with("p", "mean pressure", pressure_text(gas.mean)),
                ),
            );
        }
        lines
    }

    fn rate_lines(&self, case: &Case) -> Vec<Line> {
        let full = self
            .levels
            .clone()
            .and_then(|levels| levels.first().copied().ok_or_else(empty));
        let mut lines = vec![
            Line::of("pot with the whole charge", &full, |full| {
                format!(
                    "{}, surface {}, {} deep",
                    ml_text(full.volume),
                    area_text(full.surface),
                    mm_text(full.depth)
                )
            }),
            Line::of("the surface gives at most", &full, |full| rate_text(full.by_surface)),
            Line::of("the way carries at most", &full, |full| rate_text(full.by_way)),
            Line::of("both together", &full, |full| rate_text(full.rate)),
        ];
        if let (Ok(full), Ok(t), Ok(p)) = (&full, &self.pot_t, &self.pot_p) {
            lines[1] = lines[1].clone().worked(
                Working::of(&evaporation::HERTZ_KNUDSEN)
                    .with(
                        "a",
                        "accommodation",
                        significant(case.inputs.value(Input::Accommodation).unwrap_or(1.0), 3),
                    )
                    .with("p_s", "vapour pressure in the pot", pressure_text(*p))
                    .with("T", "pot", temperature_text(*t))
                    .with(
                        "A",
                        "free surface of the pool, from the engine",
                        area_text(full.surface),
                    ),
            );
            lines[2] =
                lines[2]
                    .clone()
                    .worked(Working::of(&evaporation::TRANSPORT).with("p1", "pot", pressure_text(*p)));
            lines.push(
                Line::of("heat that this takes", &heat(case, &self.pot_t, full.rate), |heat| {
                    format!("{} W", significant(heat.value, 3))
                })
                .worked(Working::of(&evaporation::VAPORISATION)),
            );
        }
        lines.push(Line::of("time for the charge", &self.time, |time| time_text(*time)));
        lines.push(Line::of("what holds it up", &self.limited, |limited| match limited {
            LimitedBy::Surface => "the surface of the pot".to_owned(),
            LimitedBy::Way => "the bores of the way".to_owned(),
        }));
        for level in self.levels.iter().flatten().skip(1) {
            lines.push(Line::new(
                format!("with {} left", ml_text(level.volume)),
                format!(
                    "{}, {}, {}",
                    area_text(level.surface),
                    mm_text(level.depth),
                    rate_text(level.rate)
                ),
            ));
        }
        if let (Ok((tilt, surface)), Ok(full)) = (&self.laid, &full) {
            let gain = surface.value / full.surface.value;
            lines.push(Line::new(
                "what would help",
                if gain > 1.1 {
                    format!(
                        "the pot laid at {}\u{b0} has a surface of {}, {} times as much",
                        significant(*tilt, 3),
                        area_text(*surface),
                        significant(gain, 3)
                    )
                } else if self.limited == Ok(LimitedBy::Way) {
                    "a wider way; the surface is not what holds it up".to_owned()
                } else {
                    "a wider pot: laid at any other tilt this one has hardly more surface".to_owned()
                },
            ));
        }
        lines
    }

    fn bump_lines(&self, case: &Case) -> Vec<Line> {
        let full = self
            .levels
            .clone()
            .and_then(|levels| levels.first().copied().ok_or_else(empty));
        let mut line = Line::of("superheat that the bottom needs to boil", &self.superheat, |dt| {
            interval_text(*dt)
        });
        if let (Ok(full), Ok(p)) = (&full, &self.pot_p) {
            line = line.worked(
                Working::of(&evaporation::SUPERHEAT)
                    .with("h", "depth of the pool", mm_text(full.depth))
                    .with("p", "vapour pressure at its surface", pressure_text(*p)),
            );
        }
        if charge::is_metal(case) {
            line =
                line.caution("a metal under high vacuum does not boil; it bumps on trapped gas, hydride or moisture");
        }
        let mut lines = vec![line];
        lines.push(Line::of("room above the surface", &self.splash, |room| mm_text(*room)));
        lines.push(
            Line::of("pot filled to", &self.fill_part, |part| {
                format!("{} %", significant(part * 100.0, 3))
            })
            .caution("at most a third to a half, common practice"),
        );
        if let Ok(full) = &full {
            let ratio = in_cm2(full.surface) / in_millilitres(full.volume);
            lines.push(Line::new(
                "surface to volume",
                format!("{} cm\u{b2}/mL", significant(ratio, 3)),
            ));
        }
        lines
    }

    fn held_lines(&self, case: &Case) -> Vec<Line> {
        let tilt = case.still_stance().tilt_deg;
        match &self.held {
            Err(why) => vec![Line::unknown("receiver", why.to_string())],
            Ok(list) => list
                .iter()
                .map(|held| {
                    let value = match held.band_deg {
                        Some((low, high)) => format!(
                            "stays from {}\u{b0} to {}\u{b0}",
                            significant(low, 3),
                            significant(high, 3)
                        ),
                        None => format!("does not stay at {}\u{b0}", significant(tilt, 3)),
                    };
                    Line::new(format!("receiver with {}", ml_text(held.volume)), value)
                })
                .collect(),
        }
    }

    fn plots(&self, case: &Case, way: &Verdict<Way>, sheet: &mut Sheet) {
        let Some(law) = case.liquid.as_ref().and_then(|liquid| liquid.vapour_pressure.as_ref()) else {
            return;
        };
        let (low, high) = (in_kelvins(law.low), in_kelvins(law.high));
        let temperatures = (0..=PLOT_STEPS).map(|k| kelvins(low + (high - low) * k as f64 / PLOT_STEPS as f64));
        let points = temperatures.clone().filter_map(|t| {
            let p = law.at(t, "").ok()?;
            Some([in_celsius(t), p])
        });
        sheet.plot(Plot {
            title: "Vapour pressure",
            x: "temperature / \u{b0}C",
            y: "vapour pressure / Pa",
            log_y: true,
            curves: vec![Curve {
                name: case
                    .liquid
                    .as_ref()
                    .map_or_else(String::new, |liquid| liquid.name.clone()),
                points: points.collect(),
            }],
        });
        if let (Ok(levels), Ok(way)) = (&self.levels, way) {
            let volume = levels.first().map(|level| level.volume);
            let around = self.pot_t.as_ref().map_or(high, |t| in_kelvins(*t));
            let near = temperatures.filter(|t| (in_kelvins(*t) - around).abs() < 80.0);
            let points = near.filter_map(|t| {
                let (p, t) = (Ok(pascals(law.at(t, "").ok()?)), Ok(t));
                let flow = flow(case, &t, &p, &self.receiver_p);
                let levels = levels_at(case, levels, &flow, way)?;
                let time = time(case, &t, &levels).ok()?;
                Some([in_celsius(t.ok()?), in_hours(time)])
            });
            sheet.plot(Plot {
                title: "Time for the charge",
                x: "pot temperature / \u{b0}C",
                y: "time / h",
                log_y: true,
                curves: vec![Curve {
                    name: volume.map_or_else(String::new, ml_text),
                    points: points.collect(),
                }],
            });
            sheet.plot(Plot {
                title: "Rate as the pot empties",
                x: "left in the pot / mL",
                y: "rate / g/h",
                log_y: false,
                curves: vec![Curve {
                    name: "rate".to_owned(),
                    points: levels
                        .iter()
                        .map(|level| [in_millilitres(level.volume), level.rate.value * 3.6e6])
                        .collect(),
                }],
            });
        }
    }
}

/// The levels at another vapour: the surfaces stay as they are.
fn levels_at(
    case: &Case,
    levels: &[PotLevel],
    flow: &Verdict<(Gas, Pressure, Pressure)>,
    way: &Way,
) -> Option<Vec<PotLevel>> {
    let (gas, high, low) = flow.as_ref().ok()?;
    let a = case.inputs.value(Input::Accommodation)?;
    let again = levels.iter().map(|level| PotLevel {
        rate: together(gas, a, (*high, *low), level.surface, way),
        ..*level
    });
    Some(again.collect())
}
