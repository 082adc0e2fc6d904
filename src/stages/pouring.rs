//! The run of a design made ready with what hinders its liquid in narrow bores: taken at the filling temperature, of the
//! user's own liquid where the design has one.

use super::inputs::Inputs;
use super::own::liquid_of;
use super::sheet::Verdict;
use crate::data::law::NoValue;
use crate::data::liquids::Liquid;
use crate::geom::Interior;
use crate::model::job::Input;
use crate::model::{Apparatus, Gas};
use crate::run::{Hindrance, Plan};
use crate::units::si::{MassDensity, celsius};

/// Room temperature, degrees Celsius.
const ROOM_C: f64 = 20.0;

/// A run made ready.
#[derive(Clone, Debug, Default)]
pub struct Pouring {
    /// The run. Where capillarity counts, at the greatest contact angle; else with what hinders most.
    pub plan: Plan,
    /// What hinders at the least contact angle, where capillarity counts.
    pub least: Option<Hindrance>,
    /// Why it is not known what hinders; in `plan` nothing does then.
    pub unknown: Option<String>,
}

impl Pouring {
    /// The run of a design.
    pub fn of(apparatus: &Apparatus, interior: &Interior) -> Self {
        let mut plan = Plan::of(apparatus, interior);
        let run = &apparatus.run;
        let (least, unknown) = match of_design(apparatus, run.gas, run.capillarity) {
            Ok((most, least)) => {
                plan.hindrance = most;
                (least, None)
            }
            Err(why) => (None, Some(why.to_string())),
        };
        Self { plan, least, unknown }
    }

    /// The run at the least contact angle, where capillarity counts.
    pub fn at_least_angle(&self) -> Option<Plan> {
        self.least.map(|hindrance| Plan {
            hindrance,
            ..self.plan.clone()
        })
    }
}

/// Temperature at which a design is filled, degrees Celsius: given, or proposed for the liquid.
pub fn filling_c(apparatus: &Apparatus, liquid: Option<&Liquid>) -> f64 {
    Inputs::of(apparatus, liquid, 0).value(Input::Filling).unwrap_or(ROOM_C)
}

/// Density of a design's liquid at the temperature at which it is filled.
///
/// # Errors
/// When nothing is known of the liquid, or not at that temperature.
pub fn filling_density(apparatus: &Apparatus) -> Verdict<MassDensity> {
    let liquid = known_liquid(apparatus)?;
    liquid.density_at(celsius(filling_c(apparatus, Some(&liquid))))
}

/// What hinders a liquid at a temperature, degrees Celsius, under a gas: most, and with the entry head both ends.
///
/// # Errors
/// When density or surface tension is not known there.
pub fn hindrances(
    liquid: &Liquid,
    t_c: f64,
    gas: Gas,
    with_entry: bool,
) -> Result<(Hindrance, Option<Hindrance>), NoValue> {
    let [least, most] = Hindrance::band(liquid, celsius(t_c), gas, with_entry)?;
    if with_entry {
        return Ok((most, Some(least)));
    }
    Ok((if least.plug_mm > most.plug_mm { least } else { most }, None))
}

fn known_liquid(apparatus: &Apparatus) -> Verdict<Liquid> {
    liquid_of(apparatus).ok_or_else(|| NoValue::Because("nothing is known of the liquid".to_owned()))
}

fn of_design(apparatus: &Apparatus, gas: Gas, with_entry: bool) -> Result<(Hindrance, Option<Hindrance>), NoValue> {
    if gas == Gas::Evacuated && !with_entry {
        return Ok((Hindrance::default(), None));
    }
    let liquid = known_liquid(apparatus)?;
    hindrances(&liquid, filling_c(apparatus, Some(&liquid)), gas, with_entry)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::job::{OwnLiquid, PointAt};
    use crate::model::sample;
    use crate::units::si::{degrees, in_kg_per_m3};

    fn ready(apparatus: &Apparatus) -> Pouring {
        let built = build(apparatus).unwrap();
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        Pouring::of(apparatus, &interior)
    }

    #[test]
    fn the_filling_temperature_and_own_liquids_count() {
        let mut apparatus = sample::apparatus();
        apparatus.run.gas = Gas::Open;
        apparatus.run.capillarity = true;
        apparatus.charge.liquid = "Mercury".to_owned();
        let at_room = ready(&apparatus).plan.hindrance;
        apparatus.job.set(Input::Filling, Some(100.0));
        let hot = ready(&apparatus);
        let mercury = crate::data::liquids::liquid("mercury").unwrap();
        let density = in_kg_per_m3(mercury.density_at(celsius(100.0)).unwrap());
        assert!((hot.plan.hindrance.density_kg_m3 - density).abs() < 1e-9);
        assert!(at_room.density_kg_m3 > density);
        assert!(
            hot.least
                .is_some_and(|least| least.entry_mm2 <= hot.plan.hindrance.entry_mm2)
        );
        // Jurin's law: h r = -2 sigma cos(theta) / (rho g), with the numbers of the own liquid.
        let point = |value| vec![PointAt { t_c: 0.0, value }, PointAt { t_c: 200.0, value }];
        apparatus.job.own_liquids.push(OwnLiquid {
            name: "mercury".to_owned(),
            density: point(10.0),
            surface_tension: point(400.0),
            contact_deg: Some((120.0, 150.0)),
            ..OwnLiquid::default()
        });
        let own = ready(&apparatus).plan.hindrance;
        let expected_mm2 = -2.0 * 0.4 * degrees(150.0).value.cos() / (1e4 * 9.80665) * 1e6;
        assert!(
            (own.entry_mm2 - expected_mm2).abs() < 1e-9 * expected_mm2,
            "{} {expected_mm2}",
            own.entry_mm2
        );
    }

    #[test]
    fn what_is_not_known_is_said() {
        let mut apparatus = sample::apparatus();
        apparatus.run.capillarity = false;
        apparatus.charge.liquid = "unobtainium".to_owned();
        apparatus.run.gas = Gas::Open;
        let ready_then = ready(&apparatus);
        assert!(ready_then.unknown.is_some() && ready_then.plan.hindrance == Hindrance::default());
        apparatus.run.gas = Gas::Evacuated;
        assert_eq!(ready(&apparatus).unknown, None, "nothing hinders in a vacuum");
    }
}
