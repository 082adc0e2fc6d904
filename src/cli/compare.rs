//! `compare`: measured fills against the run.

use std::io::Read;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::CommandError;
use super::input::{Bench, read_design};
use crate::model::Fill;
use crate::seek::Watch;
use crate::shop::measured::{self, Comparison};
use crate::stages::filling_density;
use crate::units::si::{grams, in_millilitres};

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArguments {
    /// Design, `-` for standard input.
    file: PathBuf,
    /// Measured fills, mL, AMPOULE=ML, separated by commas; those saved in the design when none are given.
    #[arg(long, value_name = "AMPOULE=ML", value_delimiter = ',', value_parser = super::parse_pair)]
    measured: Vec<(String, f64)>,
    /// Measured masses, g, AMPOULE=G: made volumes by the liquid's density at the filling temperature.
    #[arg(long, value_name = "AMPOULE=G", value_delimiter = ',', value_parser = super::parse_pair)]
    mass: Vec<(String, f64)>,
    /// Uncertainty of a measured fill, per cent of it.
    #[arg(long, default_value = "1", value_parser = super::number)]
    uncertainty_percent: f64,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct VesselAnswer<'a> {
    piece: &'a str,
    target_ml: f64,
    predicted_ml: f64,
    measured_ml: f64,
}

#[derive(Serialize)]
struct CauseAnswer<'a> {
    dimension: &'a str,
    deviation: f64,
    unit: &'static str,
    sigmas: f64,
}

#[derive(Serialize)]
struct ExplanationAnswer<'a> {
    causes: Vec<CauseAnswer<'a>>,
    fills_ml: &'a [f64],
    remains_ml: f64,
    counts: bool,
}

#[derive(Serialize)]
struct CompareAnswer<'a> {
    vessels: Vec<VesselAnswer<'a>>,
    uncertainty_percent: f64,
    off_ml: f64,
    agrees: bool,
    explanations: Vec<ExplanationAnswer<'a>>,
    verdict: String,
}

/// Compares.
pub(super) fn run(
    arguments: &CompareArguments,
    stdin: &mut dyn Read,
    watch: &dyn Watch,
) -> Result<String, CommandError> {
    let Bench { apparatus, .. } = read_design(&arguments.file, stdin)?;
    let mut fills: Vec<Fill> = arguments.measured.iter().map(|(piece, ml)| fill(piece, *ml)).collect();
    if !arguments.mass.is_empty() {
        let density = filling_density(&apparatus)?;
        let of_mass = |(piece, g): &(String, f64)| fill(piece, in_millilitres(grams(*g) / density));
        fills.extend(arguments.mass.iter().map(of_mass));
    }
    if fills.is_empty() {
        fills.clone_from(&apparatus.run.measured);
    }
    let found = measured::compare(&apparatus, &fills, arguments.uncertainty_percent / 100.0, watch)?;
    if arguments.json {
        super::json(&answer(&found))
    } else {
        Ok(text(&found))
    }
}

fn fill(piece: &str, volume_ml: f64) -> Fill {
    Fill {
        piece: piece.to_owned(),
        volume_ml,
    }
}

fn text(found: &Comparison) -> String {
    let mut lines = vec![format!(
        "{:<20} {:>10} {:>10} {:>10} {:>10}",
        "mL", "wanted", "predicted", "measured", "off"
    )];
    lines.extend(found.vessels.iter().map(|vessel| {
        format!(
            "{:<20} {:>10.3} {:>10.3} {:>10.3} {:>+10.3}",
            vessel.name,
            vessel.target_ml,
            vessel.predicted_ml,
            vessel.measured_ml,
            vessel.measured_ml - vessel.predicted_ml
        )
    }));
    lines.push(format!("root mean square of the differences: {:.3} mL", found.off_ml));
    for explanation in &found.explanations {
        lines.push(format!(
            "trial: {}; there remain {:.3} mL",
            explanation.causes_text(),
            explanation.remains_ml
        ));
    }
    lines.push(found.verdict());
    lines.join("\n") + "\n"
}

fn answer(found: &Comparison) -> CompareAnswer<'_> {
    let vessels = found.vessels.iter().map(|vessel| VesselAnswer {
        piece: &vessel.name,
        target_ml: vessel.target_ml,
        predicted_ml: vessel.predicted_ml,
        measured_ml: vessel.measured_ml,
    });
    let explanations = found.explanations.iter().map(|explanation| ExplanationAnswer {
        causes: explanation
            .causes
            .iter()
            .map(|cause| CauseAnswer {
                dimension: &cause.name,
                deviation: cause.deviation,
                unit: cause.unit.symbol(),
                sigmas: cause.sigmas,
            })
            .collect(),
        fills_ml: &explanation.fills_ml,
        remains_ml: explanation.remains_ml,
        counts: explanation.is_enough,
    });
    CompareAnswer {
        vessels: vessels.collect(),
        uncertainty_percent: found.uncertainty * 100.0,
        off_ml: found.off_ml,
        agrees: found.agrees,
        explanations: explanations.collect(),
        verdict: found.verdict(),
    }
}
