//! Physical quantities with their dimension in the type, and how they are written for people.
//!
//! Everything that crosses a border of `data`, `physics` or `stages` is one of these types. A temperature and a
//! difference of temperatures are different types. Inside a formula the SI values (`.value`) are used, whose base
//! units are m, kg, s, K and mol.

pub use uom::si::f64::{
    AmountOfSubstance, Angle, Area, DiffusionCoefficient, DynamicViscosity, Energy, Frequency, Length, Mass,
    MassDensity, MassFlux, MassRate, MolarEnergy, MolarMass, Power, Pressure, Ratio, SurfaceTension,
    TemperatureInterval, ThermodynamicTemperature, Time, Velocity, Volume, VolumeRate,
};

use uom::si::{
    amount_of_substance::{mole, nanomole},
    angle::{degree, radian},
    area::{square_centimeter, square_millimeter},
    diffusion_coefficient::square_meter_per_second,
    dynamic_viscosity::{millipascal_second, pascal_second},
    energy::{joule, kilojoule},
    length::{meter, millimeter},
    mass::{gram, kilogram, milligram},
    mass_density::{gram_per_cubic_centimeter, kilogram_per_cubic_meter},
    mass_flux::kilogram_per_square_meter_second,
    mass_rate::kilogram_per_second,
    molar_energy::{joule_per_mole, kilojoule_per_mole},
    molar_mass::gram_per_mole,
    power::watt,
    pressure::{atmosphere, bar, megapascal, millibar, pascal},
    ratio::percent,
    surface_tension::{millinewton_per_meter, newton_per_meter},
    temperature_interval,
    thermodynamic_temperature::{degree_celsius, kelvin},
    time::{hour, minute, second},
    velocity::meter_per_second,
    volume::{cubic_meter, liter, milliliter},
    volume_rate::{cubic_meter_per_second, liter_per_second},
};

use super::fixed;

macro_rules! makers {
    ($($(#[$doc:meta])* $make:ident, $get:ident: $quantity:ident, $unit:path;)*) => {
        $(
            $(#[$doc])*
            pub fn $make(value: f64) -> $quantity {
                $quantity::new::<$unit>(value)
            }
            /// The number in the unit of the name.
            pub fn $get(quantity: $quantity) -> f64 {
                quantity.get::<$unit>()
            }
        )*
    };
}

makers! {
    /// A temperature from kelvin.
    kelvins, in_kelvins: ThermodynamicTemperature, kelvin;
    /// A temperature from degrees Celsius.
    celsius, in_celsius: ThermodynamicTemperature, degree_celsius;
    /// A difference of temperatures, kelvin.
    kelvins_apart, in_kelvins_apart: TemperatureInterval, temperature_interval::kelvin;
    /// A pressure from pascal.
    pascals, in_pascals: Pressure, pascal;
    /// A pressure from millibar.
    millibars, in_millibars: Pressure, millibar;
    /// A pressure from bar.
    bars, in_bars: Pressure, bar;
    /// A pressure from standard atmospheres.
    atmospheres, in_atmospheres: Pressure, atmosphere;
    /// A stress or modulus from N/mm2.
    newtons_per_mm2, in_newtons_per_mm2: Pressure, megapascal;
    /// A length from metres.
    metres, in_metres: Length, meter;
    /// A length from millimetres.
    millimetres, in_millimetres: Length, millimeter;
    /// An area from square millimetres.
    mm2, in_mm2: Area, square_millimeter;
    /// An area from square centimetres.
    cm2, in_cm2: Area, square_centimeter;
    /// A volume from cubic metres.
    cubic_metres, in_cubic_metres: Volume, cubic_meter;
    /// A volume from millilitres.
    millilitres, in_millilitres: Volume, milliliter;
    /// A volume from litres.
    litres, in_litres: Volume, liter;
    /// A mass from kilograms.
    kilograms, in_kilograms: Mass, kilogram;
    /// A mass from grams.
    grams, in_grams: Mass, gram;
    /// A mass from milligrams.
    milligrams, in_milligrams: Mass, milligram;
    /// An amount from moles.
    moles, in_moles: AmountOfSubstance, mole;
    /// An amount from nanomoles.
    nanomoles, in_nanomoles: AmountOfSubstance, nanomole;
    /// A molar mass from g/mol.
    grams_per_mole, in_grams_per_mole: MolarMass, gram_per_mole;
    /// A molar energy from kJ/mol.
    kilojoules_per_mole, in_kilojoules_per_mole: MolarEnergy, kilojoule_per_mole;
    /// A molar energy from J/mol.
    joules_per_mole, in_joules_per_mole: MolarEnergy, joule_per_mole;
    /// A mass flux from kg/(m2 s).
    kg_per_m2_second, in_kg_per_m2_second: MassFlux, kilogram_per_square_meter_second;
    /// A mass rate from kg/s.
    kg_per_second, in_kg_per_second: MassRate, kilogram_per_second;
    /// A density from kg/m3.
    kg_per_m3, in_kg_per_m3: MassDensity, kilogram_per_cubic_meter;
    /// A density from g/mL.
    grams_per_ml, in_grams_per_ml: MassDensity, gram_per_cubic_centimeter;
    /// A surface tension from N/m.
    newtons_per_metre, in_newtons_per_metre: SurfaceTension, newton_per_meter;
    /// A surface tension from mN/m.
    millinewtons_per_metre, in_millinewtons_per_metre: SurfaceTension, millinewton_per_meter;
    /// A viscosity from Pa s.
    pascal_seconds, in_pascal_seconds: DynamicViscosity, pascal_second;
    /// A viscosity from mPa s.
    millipascal_seconds, in_millipascal_seconds: DynamicViscosity, millipascal_second;
    /// An angle from degrees.
    degrees, in_degrees: Angle, degree;
    /// An angle from radians.
    radians, in_radians: Angle, radian;
    /// A time from seconds.
    seconds, in_seconds: Time, second;
    /// A time from minutes.
    minutes, in_minutes: Time, minute;
    /// A time from hours.
    hours, in_hours: Time, hour;
    /// A flow or conductance from m3/s.
    m3_per_second, in_m3_per_second: VolumeRate, cubic_meter_per_second;
    /// A flow or conductance from L/s.
    litres_per_second, in_litres_per_second: VolumeRate, liter_per_second;
    /// A speed from m/s.
    metres_per_second, in_metres_per_second: Velocity, meter_per_second;
    /// A heat from joule.
    joules, in_joules: Energy, joule;
    /// A heat from kilojoule.
    kilojoules, in_kilojoules: Energy, kilojoule;
    /// A heat flow from watt.
    watts, in_watts: Power, watt;
    /// A diffusivity from m2/s.
    m2_per_second, in_m2_per_second: DiffusionCoefficient, square_meter_per_second;
    /// A ratio from per cent.
    percents, in_percents: Ratio, percent;
}

/// A leak or gas flow from mbar L/s; a pressure times a volume by time has the dimension of a power.
pub fn mbar_litres_per_second(value: f64) -> Power {
    watts(0.1 * value)
}

/// A leak or gas flow in mbar L/s.
pub fn in_mbar_litres_per_second(flow: Power) -> f64 {
    in_watts(flow) * 10.0
}

/// A leak or gas flow.
pub fn leak_text(flow: Power) -> String {
    format!("{} mbar L/s", significant(in_mbar_litres_per_second(flow), 3))
}

/// A number with so many significant digits; very large and small ones with an exponent. The minus sign is the real one.
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return "not a number".to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let digits = digits.max(1);
    // Rounding may carry into the next power of ten: take the exponent of the rounded number.
    let rounded = format!("{value:.*e}", digits - 1);
    let (mantissa, exponent) = rounded.split_once('e').unwrap_or((&rounded, "0"));
    let power: i32 = exponent.parse().unwrap_or(0);
    let text = if (-4..6).contains(&power) {
        let decimals = (digits as i32 - 1 - power).max(0) as usize;
        format!("{value:.decimals$}")
    } else {
        format!("{mantissa}e{exponent}")
    };
    text.replace('-', "\u{2212}")
}

/// A number with fixed decimals and the real minus sign.
fn decimals(value: f64, count: usize) -> String {
    fixed(value, count).replace('-', "\u{2212}")
}

/// A temperature to 0.1 degree.
pub fn temperature_text(temperature: ThermodynamicTemperature) -> String {
    format!("{} \u{b0}C", decimals(in_celsius(temperature), 1))
}

/// A difference of temperatures to 0.1 K.
pub fn interval_text(interval: TemperatureInterval) -> String {
    format!("{} K", decimals(in_kelvins_apart(interval), 1))
}

/// A pressure: pascal below 1 mbar, millibar below 2 bar, bar above.
pub fn pressure_text(pressure: Pressure) -> String {
    let pa = in_pascals(pressure);
    match pa.abs() {
        size if size < 100.0 => format!("{} Pa", significant(pa, 3)),
        size if size < 2e5 => format!("{} mbar", significant(pa / 100.0, 4)),
        _ => format!("{} bar", significant(pa / 1e5, 3)),
    }
}

/// A stress to 0.01 N/mm2.
pub fn stress_text(stress: Pressure) -> String {
    format!("{} N/mm\u{b2}", decimals(in_newtons_per_mm2(stress), 2))
}

/// A length to 0.1 mm.
pub fn mm_text(length: Length) -> String {
    format!("{} mm", decimals(in_millimetres(length), 1))
}

/// A volume to 0.01 mL.
pub fn ml_text(volume: Volume) -> String {
    format!("{} mL", decimals(in_millilitres(volume), 2))
}

/// A mass: milligrams below a tenth of a gram, else grams to 0.01.
pub fn mass_text(mass: Mass) -> String {
    let g = in_grams(mass);
    match g.abs() {
        size if size < 0.1 => format!("{} mg", significant(g * 1e3, 3)),
        size if size < 10.0 => format!("{} g", decimals(g, 3)),
        _ => format!("{} g", decimals(g, 2)),
    }
}

/// An amount of substance.
pub fn amount_text(amount: AmountOfSubstance) -> String {
    let mol = in_moles(amount);
    if mol.abs() < 1e-3 {
        format!("{} \u{b5}mol", significant(mol * 1e6, 3))
    } else if mol.abs() < 0.1 {
        format!("{} mmol", significant(mol * 1e3, 4))
    } else {
        format!("{} mol", significant(mol, 4))
    }
}

/// A time in the unit that a clock or calendar would use.
pub fn time_text(time: Time) -> String {
    let s = in_seconds(time);
    let (value, unit) = match s.abs() {
        size if size < 1e-3 => (s * 1e6, "\u{b5}s"),
        size if size < 1.0 => (s * 1e3, "ms"),
        size if size < 120.0 => (s, "s"),
        size if size < 7200.0 => (s / 60.0, "min"),
        size if size < 172_800.0 => (s / 3600.0, "h"),
        _ => (s / 86_400.0, "d"),
    };
    format!("{} {unit}", significant(value, 3))
}

/// An area in square centimetres.
pub fn area_text(area: Area) -> String {
    format!("{} cm\u{b2}", significant(in_cm2(area), 3))
}

/// A conductance or pumping speed.
pub fn speed_text(rate: VolumeRate) -> String {
    format!("{} L/s", significant(in_litres_per_second(rate), 3))
}

/// A density in g/mL.
pub fn density_text(density: MassDensity) -> String {
    format!("{} g/mL", decimals(in_grams_per_ml(density), 4))
}

/// A surface tension in mN/m.
pub fn tension_text(tension: SurfaceTension) -> String {
    format!("{} mN/m", significant(in_millinewtons_per_metre(tension), 3))
}

/// A viscosity in mPa s.
pub fn viscosity_text(viscosity: DynamicViscosity) -> String {
    format!("{} mPa s", significant(in_millipascal_seconds(viscosity), 3))
}

/// A part in per cent.
pub fn percent_text(part: Ratio) -> String {
    format!("{} %", significant(in_percents(part), 3))
}

/// A heat.
pub fn heat_text(heat: Energy) -> String {
    format!("{} kJ", significant(in_kilojoules(heat), 3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_and_differences_are_different_things() {
        let warmer = celsius(40.0) + kelvins_apart(10.0);
        assert!((in_kelvins(warmer) - 323.15).abs() < 1e-9);
        assert_eq!(temperature_text(celsius(-12.64)), "\u{2212}12.6 \u{b0}C");
        assert_eq!(interval_text(kelvins_apart(2.52)), "2.5 K");
    }

    #[test]
    fn numbers_keep_their_significant_digits() {
        for (value, digits, text) in [
            (0.0, 3, "0"),
            (1234.5, 3, "1234"),
            (0.031298, 3, "0.0313"),
            (5.3154e-5, 3, "5.32e\u{2212}5"),
            (-2.5e7, 2, "\u{2212}2.5e7"),
            (9.996, 3, "10.0"),
            (f64::NAN, 3, "not a number"),
        ] {
            assert_eq!(significant(value, digits), text);
        }
    }

    #[test]
    fn pressures_and_times_choose_their_unit() {
        assert_eq!(pressure_text(pascals(0.59935)), "0.599 Pa");
        assert_eq!(pressure_text(pascals(24_408.0)), "244.1 mbar");
        assert_eq!(pressure_text(pascals(383_170.0)), "3.83 bar");
        assert_eq!(time_text(seconds(90.0)), "90.0 s");
        assert_eq!(time_text(hours(3.0)), "3.00 h");
        assert_eq!(time_text(seconds(0.0113)), "11.3 ms");
    }
}
