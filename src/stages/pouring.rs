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
use crate::run::{Film, Hindrance, Kept, Outcome, Plan};
use crate::units::si::{MassDensity, ThermodynamicTemperature, celsius, in_degrees};

/// Room temperature, degrees Celsius.
const ROOM_C: f64 = 20.0;

/// Contact angle, degrees, below which a liquid spreads into a film.
pub(super) const FILMS_BELOW_DEG: f64 = 45.0;

/// A run made ready.
#[derive(Clone, Debug, Default)]
pub struct Pouring {
    /// The run. Where capillarity counts, at the greatest contact angle; else with what hinders most.
    pub plan: Plan,
    /// The other end of the liquid's contact angles, where capillarity counts.
    pub least: Option<Least>,
    /// Why it is not known what hinders; in `plan` nothing does then.
    pub unknown: Option<String>,
}

/// What a liquid does at its least contact angle.
#[derive(Clone, Debug, PartialEq)]
pub struct Least {
    /// What hinders it in narrow bores.
    pub hindrance: Hindrance,
    /// How it films; none where it does not wet the glass well enough, and why when that is not known.
    pub film: Result<Option<Film>, NoValue>,
}

impl Pouring {
    /// The run of a design.
    pub fn of(apparatus: &Apparatus, interior: &Interior) -> Self {
        let plan = Plan::of(apparatus, interior);
        let run = &apparatus.run;
        if run.gas == Gas::Evacuated && !run.capillarity {
            return Self {
                plan,
                ..Self::default()
            };
        }
        let ready = known_liquid(apparatus).and_then(|liquid| {
            let t_c = filling_c(apparatus, Some(&liquid));
            Self::with(plan.clone(), &liquid, t_c, run.capillarity)
        });
        ready.unwrap_or_else(|why| Self {
            plan,
            least: None,
            unknown: Some(why.to_string()),
        })
    }

    /// A run, under the gas of its plan, of a liquid at a temperature, degrees Celsius.
    ///
    /// # Errors
    /// When the liquid's density or surface tension is not known there and counts.
    pub fn with(mut plan: Plan, liquid: &Liquid, t_c: f64, capillarity: bool) -> Result<Self, NoValue> {
        let [low, high] = Hindrance::band(liquid, celsius(t_c), plan.gas, capillarity)?;
        let (most, least) = match capillarity {
            true => {
                let film = film(liquid, celsius(t_c));
                (high, Some(Least { hindrance: low, film }))
            }
            false => (if low.plug_mm > high.plug_mm { low } else { high }, None),
        };
        plan.hindrance = most;
        Ok(Self {
            plan,
            least,
            unknown: None,
        })
    }

    /// The run at the least contact angle, where capillarity counts: without what stays on the walls as a film, and what
    /// that is. `outcome` is what the run comes to at the greatest.
    pub fn at_least_angle(&self, interior: &Interior, outcome: &Outcome) -> Option<(Plan, Vec<Kept>)> {
        let Least { hindrance, film } = self.least.as_ref()?;
        let film = film.as_ref().ok().copied().flatten();
        let kept = film.map_or_else(Vec::new, |film| film.kept(interior, outcome));
        let plan = Plan {
            hindrance: *hindrance,
            ..self.plan.without(&kept)
        };
        Some((plan, kept))
    }
}

/// How a liquid films where it spreads at its least contact angle.
fn film(liquid: &Liquid, t: ThermodynamicTemperature) -> Result<Option<Film>, NoValue> {
    let least_deg = liquid.contact.as_ref().map(|(least, _)| in_degrees(least.value));
    if least_deg.is_some_and(|least_deg| least_deg >= FILMS_BELOW_DEG) {
        return Ok(None);
    }
    Film::of(liquid, t).map(Some)
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

fn known_liquid(apparatus: &Apparatus) -> Verdict<Liquid> {
    liquid_of(apparatus).ok_or_else(|| NoValue::Because("nothing is known of the liquid".to_owned()))
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
                .is_some_and(|least| least.hindrance.entry_mm2 <= hot.plan.hindrance.entry_mm2)
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
    fn a_liquid_that_wets_films_and_one_that_does_not_has_none() {
        let mut apparatus = sample::apparatus();
        apparatus.run.capillarity = true;
        apparatus.charge.liquid = "water".to_owned();
        apparatus.job.set(Input::Filling, Some(25.0));
        let film = |apparatus: &Apparatus| ready(apparatus).least.unwrap().film;
        // Jeffreys' film: sqrt(mu z / (rho g t)) with 0.890 mPa s and 997.05 kg/m3 (CRC Handbook, 25 degrees).
        let expected_mm = (0.890e-3 * 1e-3 / (997.05 * 9.80665_f64)).sqrt() * 1e3;
        let unit_mm = film(&apparatus).unwrap().unwrap().unit_mm;
        assert!((unit_mm / expected_mm - 1.0).abs() < 0.01, "{unit_mm} {expected_mm}");
        apparatus.charge.liquid = "mercury".to_owned();
        assert_eq!(film(&apparatus), Ok(None));
        apparatus.charge.liquid = "water".to_owned();
        apparatus.job.set(Input::Filling, Some(800.0));
        assert!(ready(&apparatus).unknown.is_some());
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
