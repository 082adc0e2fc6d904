//! Values of the liquids and formulas on a grid, in `tests/check/physics.json`, where a script holds them against
//! general-purpose libraries. This test keeps the file current; `VIALWRIGHT_REFRESH=1 cargo test physics_table` writes it.

#![allow(clippy::unwrap_used, reason = "a test fails by it")]

use serde_json::{Value, json};
use vialwright::data::glass;
use vialwright::data::liquids::LIQUIDS;
use vialwright::physics::anneal::{CoolingRate, Faces, centre_lag, mean_lag};
use vialwright::physics::evaporation::{superheat, vaporisation_heat};
use vialwright::physics::sealed::Sealed;
use vialwright::physics::{capillary, formula, strength, vacuum};
use vialwright::units::si::*;

/// Temperatures of the grid, degrees Celsius.
const GRID_C: [f64; 9] = [-40.0, 0.0, 10.0, 20.0, 40.0, 60.0, 100.0, 150.0, 200.0];

fn liquids() -> Value {
    let rows = LIQUIDS.iter().flat_map(|liquid| {
        GRID_C.iter().map(|&t_c| {
            let t = celsius(t_c);
            let heat = liquid
                .vapour_pressure
                .as_ref()
                .and_then(|law| vaporisation_heat(law, t, &liquid.name).ok());
            json!({
                "liquid": liquid.name,
                "t_c": t_c,
                "density_kg_per_m3": liquid.density_at(t).ok().map(in_kg_per_m3),
                "vapour_pressure_pa": liquid.vapour_pressure_at(t).ok().map(in_pascals),
                "surface_tension_n_per_m": liquid.surface_tension_at(t).ok().map(in_newtons_per_metre),
                "viscosity_pa_s": liquid.viscosity_at(t).ok().map(in_pascal_seconds),
                "expansion_per_k": liquid.expansion_at(t).ok(),
                "vaporisation_j_per_mol": heat.map(|heat| in_kilojoules_per_mole(heat) * 1e3),
            })
        })
    });
    rows.collect()
}

fn constants() -> Value {
    let rows = LIQUIDS.iter().map(|liquid| {
        json!({
            "liquid": liquid.name,
            "formula": liquid.formula,
            "molar_g_per_mol": liquid.molar_mass().ok().map(in_grams_per_mole),
            "melting_k": liquid.melting.as_ref().map(|fact| in_kelvins(fact.value)),
            "boiling_k": liquid.boiling.as_ref().map(|fact| in_kelvins(fact.value)),
        })
    });
    rows.collect()
}

fn formulas() -> Value {
    let water = LIQUIDS.iter().find(|liquid| liquid.name == "water").unwrap();
    let benzene = LIQUIDS.iter().find(|liquid| liquid.name == "benzene").unwrap();
    let sealed = |ml: f64| Sealed {
        volume: millilitres(10.0),
        liquid: millilitres(ml),
        t: celsius(20.0),
        p: pascals(101_325.0),
    };
    let bumping = |pa: f64, mm: f64| {
        let law = water.vapour_pressure.as_ref().unwrap();
        superheat(law, pascals(pa), millimetres(mm), kg_per_m3(998.2), "water").map(in_kelvins_apart)
    };
    let buckling = |od: f64, w: f64, l: f64| {
        in_pascals(strength::short_tube_buckling(
            millimetres(od),
            millimetres(w),
            millimetres(l),
        ))
    };
    let lag = |rate: f64, mm: f64| {
        let rate = CoolingRate::new(rate);
        let both = [
            centre_lag(rate, millimetres(mm), Faces::Both),
            mean_lag(rate, millimetres(mm), Faces::Both),
        ];
        both.map(in_kelvins_apart)
    };
    json!({
        "clausing": ([0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0].map(|x| json!({"length_over_radius": x, "w": vacuum::clausing(x)}))),
        "critical_bond": ([0.0, 20.0, 40.0, 60.0, 80.0, 90.0, 140.0]
            .map(|deg| json!({"theta_deg": deg, "bond": capillary::critical_bond(degrees(deg))}))),
        "superheat": ([(1500.0, 20.0), (2000.0, 50.0), (20_000.0, 100.0)]
            .map(|(pa, mm)| json!({"pa": pa, "depth_mm": mm, "k": bumping(pa, mm).unwrap()}))),
        "benzene_full": ([9.0, 9.3, 9.5]
            .map(|ml| json!({"ml": ml, "t_c": sealed(ml).full_at(benzene).unwrap().map(in_celsius)}))),
        "buckling": ([(100.0, 2.5, 300.0), (50.0, 1.8, 100.0), (40.0, 1.4, 60.0)]
            .map(|(od, w, l)| json!({"od_mm": od, "wall_mm": w, "length_mm": l, "pa": buckling(od, w, l)}))),
        "cooling_lag": ([(12.0, 3.0), (3.0, 6.0)]
            .map(|(rate, mm)| json!({"k_per_min": rate, "wall_mm": mm, "centre_and_mean_k": lag(rate, mm)}))),
        "diffusivity_m2_per_s": glass::diffusivity().value,
        "molar_masses": (["RbCl", "CaCl2", "C8H10N4O2", "CuSO4*5H2O", "Ca(OH)2", "C2H5OH"].map(|text| {
            json!({"formula": text, "g_per_mol": formula::molar_mass(text).map(in_grams_per_mole).unwrap()})
        })),
    })
}

/// Numbers to ten digits: the last ones differ from processor to processor.
fn rounded(value: Value) -> Value {
    match value {
        Value::Number(number) => {
            let digits = number
                .as_f64()
                .map(|value| format!("{value:.9e}").parse::<f64>().unwrap());
            json!(digits)
        }
        Value::Array(list) => list.into_iter().map(rounded).collect(),
        Value::Object(map) => Value::Object(map.into_iter().map(|(key, value)| (key, rounded(value))).collect()),
        other => other,
    }
}

#[track_caller]
fn same(kept: &Value, now: &Value, at: &str) {
    match (kept, now) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            assert!((a - b).abs() <= 1e-8 * b.abs(), "{at}: {a} kept, {b} now");
        }
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{at}");
            for (i, (a, b)) in a.iter().zip(b).enumerate() {
                same(a, b, &format!("{at}[{i}]"));
            }
        }
        (Value::Object(a), Value::Object(b)) => {
            assert!(a.keys().eq(b.keys()), "{at}");
            for (key, value) in a {
                same(value, &b[key], &format!("{at}.{key}"));
            }
        }
        _ => assert_eq!(kept, now, "{at}"),
    }
}

#[test]
fn the_table_is_current() {
    let now = rounded(json!({"constants": constants(), "liquids": liquids(), "formulas": formulas()}));
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check/physics.json");
    if std::env::var_os("VIALWRIGHT_REFRESH").is_some() {
        std::fs::write(&path, serde_json::to_string_pretty(&now).unwrap() + "\n").unwrap();
    }
    let kept: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
    same(&kept, &now, "");
}
