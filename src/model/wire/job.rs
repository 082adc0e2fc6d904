//! The job as it stands in the file.

use super::Num;
use crate::model::job::{Input, Job, OwnLiquid, PointAt, Silenced, with_inputs};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Leaves a key out when there is nothing to say.
fn is_open<T>(value: &Option<T>) -> bool {
    value.is_none()
}

macro_rules! wire_job {
    ($($(#[$doc:meta])* $name:ident: $key:ident, $stage:ident, $label:literal, $unit:ident, $min:literal, $max:literal, $step:literal;)*) => {
        /// What is wanted of the apparatus; every key may be left out and is then proposed.
        #[derive(Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub(super) struct WireJob {
            $(
                $(#[$doc])*
                #[serde(default, skip_serializing_if = "is_open")]
                $key: Option<Num>,
            )*
            /// Piece in which the charge is made or molten.
            #[serde(default, skip_serializing_if = "is_open")]
            pot: Option<String>,
            /// The reaction, such as `2 RbCl + Ca -> 2 Rb + CaCl2`.
            #[serde(default, skip_serializing_if = "is_open")]
            reaction: Option<String>,
            /// Gas that the glass is filled with.
            #[serde(default, skip_serializing_if = "is_open")]
            gas: Option<String>,
            /// What residues are quenched with.
            #[serde(default, skip_serializing_if = "is_open")]
            quench: Option<String>,
            /// Liquids of the user's own.
            #[serde(default, skip_serializing_if = "is_open")]
            own_liquids: Option<Vec<WireLiquid>>,
            /// Findings that are silenced.
            #[serde(default, skip_serializing_if = "is_open")]
            silenced: Option<Vec<WireSilenced>>,
        }

        impl From<&Job> for WireJob {
            fn from(job: &Job) -> Self {
                Self {
                    $($key: job.given(Input::$name).map(Num),)*
                    pot: job.pot.clone(),
                    reaction: filled(&job.reaction),
                    gas: filled(&job.gas),
                    quench: filled(&job.quench),
                    own_liquids: list(job.own_liquids.iter().map(WireLiquid::from)),
                    silenced: list(job.silenced.iter().map(WireSilenced::from)),
                }
            }
        }

        impl From<WireJob> for Job {
            fn from(wire: WireJob) -> Self {
                let mut job = Self {
                    pot: wire.pot,
                    reaction: wire.reaction.unwrap_or_default(),
                    gas: wire.gas.unwrap_or_default(),
                    quench: wire.quench.unwrap_or_default(),
                    own_liquids: wire.own_liquids.into_iter().flatten().map(OwnLiquid::from).collect(),
                    silenced: wire.silenced.into_iter().flatten().map(Silenced::from).collect(),
                    ..Self::default()
                };
                $(job.set(Input::$name, wire.$key.map(|number| number.0));)*
                job
            }
        }
    };
}

with_inputs!(wire_job);

fn filled(text: &str) -> Option<String> {
    (!text.is_empty()).then(|| text.to_owned())
}

fn list<T>(items: impl Iterator<Item = T>) -> Option<Vec<T>> {
    let items: Vec<T> = items.collect();
    (!items.is_empty()).then_some(items)
}

/// A value at a temperature.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WirePoint {
    /// Temperature, degrees Celsius.
    t_c: Num,
    /// The value, in the unit of the list's name.
    value: Num,
}

/// A liquid of the user's own; what is not known is left out.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireLiquid {
    /// Its name.
    name: String,
    /// Chemical formula.
    #[serde(default, skip_serializing_if = "is_open")]
    formula: Option<String>,
    /// Molar mass.
    #[serde(default, skip_serializing_if = "is_open")]
    molar_mass_g_per_mol: Option<Num>,
    /// Melting point.
    #[serde(default, skip_serializing_if = "is_open")]
    melting_c: Option<Num>,
    /// Boiling point at one atmosphere.
    #[serde(default, skip_serializing_if = "is_open")]
    boiling_c: Option<Num>,
    /// Density; straight lines between the points.
    #[serde(default, skip_serializing_if = "is_open")]
    density_g_per_ml: Option<Vec<WirePoint>>,
    /// Density of the solid at the melting point.
    #[serde(default, skip_serializing_if = "is_open")]
    density_solid_g_per_ml: Option<Num>,
    /// Vapour pressure; its logarithm runs straight against 1/T between the points.
    #[serde(default, skip_serializing_if = "is_open")]
    vapour_pressure_pa: Option<Vec<WirePoint>>,
    /// Surface tension; straight lines between the points.
    #[serde(default, skip_serializing_if = "is_open")]
    surface_tension_mn_per_m: Option<Vec<WirePoint>>,
    /// Viscosity; its logarithm runs straight against 1/T between the points.
    #[serde(default, skip_serializing_if = "is_open")]
    viscosity_mpa_s: Option<Vec<WirePoint>>,
    /// Least and greatest contact angle on the glass.
    #[serde(default, skip_serializing_if = "is_open")]
    contact_deg: Option<[Num; 2]>,
    /// Hazards in short.
    #[serde(default, skip_serializing_if = "is_open")]
    hazards: Option<String>,
    /// What it must not meet.
    #[serde(default, skip_serializing_if = "is_open")]
    never: Option<String>,
    /// Where all this is from.
    #[serde(default, skip_serializing_if = "is_open")]
    source: Option<String>,
}

/// A finding that is silenced.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireSilenced {
    /// Id of the rule.
    rule: String,
    /// Piece or row; empty for the whole.
    piece: String,
    /// Why.
    reason: String,
}

fn points_out(points: &[PointAt]) -> Option<Vec<WirePoint>> {
    list(points.iter().map(|point| WirePoint {
        t_c: Num(point.t_c),
        value: Num(point.value),
    }))
}

fn points_in(points: Option<Vec<WirePoint>>) -> Vec<PointAt> {
    let points = points.into_iter().flatten();
    points
        .map(|point| PointAt {
            t_c: point.t_c.0,
            value: point.value.0,
        })
        .collect()
}

impl From<&OwnLiquid> for WireLiquid {
    fn from(own: &OwnLiquid) -> Self {
        Self {
            name: own.name.clone(),
            formula: filled(&own.formula),
            molar_mass_g_per_mol: own.molar_mass_g_per_mol.map(Num),
            melting_c: own.melting_c.map(Num),
            boiling_c: own.boiling_c.map(Num),
            density_g_per_ml: points_out(&own.density),
            density_solid_g_per_ml: own.density_solid_g_per_ml.map(Num),
            vapour_pressure_pa: points_out(&own.vapour_pressure),
            surface_tension_mn_per_m: points_out(&own.surface_tension),
            viscosity_mpa_s: points_out(&own.viscosity),
            contact_deg: own.contact_deg.map(|(low, high)| [Num(low), Num(high)]),
            hazards: filled(&own.hazards),
            never: filled(&own.never),
            source: filled(&own.source),
        }
    }
}

impl From<WireLiquid> for OwnLiquid {
    fn from(wire: WireLiquid) -> Self {
        let number = |number: Option<Num>| number.map(|number| number.0);
        Self {
            name: wire.name,
            formula: wire.formula.unwrap_or_default(),
            molar_mass_g_per_mol: number(wire.molar_mass_g_per_mol),
            melting_c: number(wire.melting_c),
            boiling_c: number(wire.boiling_c),
            density: points_in(wire.density_g_per_ml),
            density_solid_g_per_ml: number(wire.density_solid_g_per_ml),
            vapour_pressure: points_in(wire.vapour_pressure_pa),
            surface_tension: points_in(wire.surface_tension_mn_per_m),
            viscosity: points_in(wire.viscosity_mpa_s),
            contact_deg: wire.contact_deg.map(|[low, high]| (low.0, high.0)),
            hazards: wire.hazards.unwrap_or_default(),
            never: wire.never.unwrap_or_default(),
            source: wire.source.unwrap_or_default(),
        }
    }
}

impl From<&Silenced> for WireSilenced {
    fn from(entry: &Silenced) -> Self {
        Self {
            rule: entry.rule.clone(),
            piece: entry.piece.clone(),
            reason: entry.reason.clone(),
        }
    }
}

impl From<WireSilenced> for Silenced {
    fn from(wire: WireSilenced) -> Self {
        Self {
            rule: wire.rule,
            piece: wire.piece,
            reason: wire.reason,
        }
    }
}
