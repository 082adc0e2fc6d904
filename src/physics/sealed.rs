//! A sealed ampoule that warms: liquid, glass and gas share its volume.

use super::Formula;
use crate::data::law::NoValue;
use crate::data::liquids::Liquid;
use crate::data::{Known, glass};
use crate::units::si::{
    Pressure, ThermodynamicTemperature, Volume, celsius, cubic_metres, in_kelvins, kelvins, pascals,
};

/// See [`Sealed::at`].
pub const WARMED: Formula = Formula {
    name: "pressure in a sealed ampoule",
    text: "p(T) = (p1 - pv(T1)) (T/T1) (Vg1/Vg) + pv(T),  V = V0 [1 + 3 alpha (T - T1)],  Vl = Vl1 rho(T1)/rho(T)",
    holds: "ideal gas, nothing dissolved, and gas space left",
    source: "gas law and expansion, derived",
    known: Known::Read,
};

/// See [`Sealed::full_at`].
pub const FULL: Formula = Formula {
    name: "hydraulically full",
    text: "Vl1 rho(T1)/rho(T) = V0 [1 + 3 alpha (T - T1)]",
    holds: "beyond it the pressure climbs by several bar with each kelvin and the glass bursts",
    source: "expansion, derived",
    known: Known::Read,
};

/// An ampoule as it was closed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sealed {
    /// Inside volume when closed.
    pub volume: Volume,
    /// Liquid in it when closed.
    pub liquid: Volume,
    /// Temperature when closed.
    pub t: ThermodynamicTemperature,
    /// Total pressure when closed, vapour included.
    pub p: Pressure,
}

/// What is in it at another temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warmed {
    /// Inside volume.
    pub volume: Volume,
    /// Liquid.
    pub liquid: Volume,
    /// Gas space.
    pub gas: Volume,
    /// Pressure of the gas alone.
    pub gas_pressure: Pressure,
    /// Pressure of gas and vapour.
    pub pressure: Pressure,
}

impl Sealed {
    fn glass_at(&self, t: ThermodynamicTemperature) -> f64 {
        self.volume.value * (1.0 + 3.0 * glass::expansion() * (in_kelvins(t) - in_kelvins(self.t)))
    }

    /// Volumes and pressures at a temperature; with no gas space left, the pressure is infinite.
    ///
    /// # Errors
    /// When density or vapour pressure are not known there.
    pub fn at(&self, t: ThermodynamicTemperature, liquid: &Liquid) -> Result<Warmed, NoValue> {
        let (before, now) = (liquid.density_at(self.t)?, liquid.density_at(t)?);
        let filled = self.liquid.value * before.value / now.value;
        let volume = self.glass_at(t);
        let space = volume - filled;
        let gas = (self.p.value - liquid.vapour_pressure_at(self.t)?.value).max(0.0);
        let vapour = liquid.vapour_pressure_at(t)?.value;
        let first = self.volume.value - self.liquid.value;
        let gas = if space > 0.0 {
            gas * in_kelvins(t) / in_kelvins(self.t) * first / space
        } else {
            f64::INFINITY
        };
        Ok(Warmed {
            volume: cubic_metres(volume),
            liquid: cubic_metres(filled),
            gas: cubic_metres(space.max(0.0)),
            gas_pressure: pascals(gas),
            pressure: pascals(gas + vapour),
        })
    }

    /// The temperature at which the liquid fills the ampoule; `None` when it does not within the range of its density.
    ///
    /// # Errors
    /// When the density is not known at the temperature of closing.
    pub fn full_at(&self, liquid: &Liquid) -> Result<Option<ThermodynamicTemperature>, NoValue> {
        let before = liquid.density_at(self.t)?.value;
        let high = liquid.density.as_ref().map_or(self.t, |law| law.high);
        // Beyond some 600 degrees nobody asks, and near a critical point the forms end.
        let high = in_kelvins(high).min(in_kelvins(celsius(600.0)));
        let overfull = |t: f64| {
            let now = liquid.density_at(kelvins(t)).map(|rho| rho.value);
            now.map(|now| self.liquid.value * before / now >= self.glass_at(kelvins(t)))
        };
        let (mut low, mut high) = (in_kelvins(self.t), high);
        if overfull(low)? {
            return Ok(Some(self.t));
        }
        if high <= low || !overfull(high)? {
            return Ok(None);
        }
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if overfull(middle)? {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(Some(kelvins(f64::midpoint(low, high))))
    }
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::data::liquids::liquid;
    use crate::units::si::*;

    fn ampoule(ml: f64, t: f64, pa: f64) -> Sealed {
        Sealed {
            volume: millilitres(10.0),
            liquid: millilitres(ml),
            t: celsius(t),
            p: pascals(pa),
        }
    }

    /// formulas.md, section 6, rubidium.
    #[test]
    fn rubidium_under_argon() {
        let rb = liquid("rubidium").unwrap();
        let warm = ampoule(9.0, 40.0, 1000.0).at(celsius(150.0), rb).unwrap();
        close(in_millilitres(warm.liquid), 9.31664, 1e-5);
        close(in_millilitres(warm.volume), 10.0109, 1e-5);
        close(in_millilitres(warm.gas), 0.694247, 2e-5);
        close(in_pascals(warm.pressure), 1946.98, 2e-5);
        let full = |ml| in_celsius(ampoule(ml, 40.0, 1000.0).full_at(rb).unwrap().unwrap());
        close(full(9.0), 373.233, 1e-5);
        close(full(9.7), 140.208, 1e-5);
    }

    /// formulas.md, section 6, benzene. Its total of 383170 Pa takes the vapour pressure at 100 C from an equation of
    /// state; here the Antoine form is used within its range, up to 103.9 C.
    #[test]
    fn benzene_in_air() {
        let benzene = liquid("benzene").unwrap();
        let warm = ampoule(8.0, 20.0, 101_325.0).at(celsius(100.0), benzene).unwrap();
        close(in_millilitres(warm.liquid), 8.86158, 1e-5);
        close(in_millilitres(warm.gas), 1.14634, 1e-4);
        close(in_pascals(warm.gas_pressure), 202_791.0, 1e-3);
        close(in_pascals(warm.pressure), 383_170.0, 1e-3);
        let full = |ml| in_celsius(ampoule(ml, 20.0, 101_325.0).full_at(benzene).unwrap().unwrap());
        close(full(9.0), 102.658, 1e-4);
        close(full(9.5), 62.9728, 1e-4);
    }

    #[test]
    fn a_full_ampoule_has_no_gas_space() {
        let benzene = liquid("benzene").unwrap();
        let warm = ampoule(9.9, 20.0, 101_325.0).at(celsius(60.0), benzene).unwrap();
        assert_eq!(
            (in_millilitres(warm.gas), in_pascals(warm.pressure)),
            (0.0, f64::INFINITY)
        );
        assert!(ampoule(5.0, 20.0, 101_325.0).at(celsius(900.0), benzene).is_err());
    }
}
