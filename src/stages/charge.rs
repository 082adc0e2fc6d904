//! How much product is needed, and how much of which reagent.

use super::case::Case;
use super::sheet::{Line, Sheet, Verdict};
use super::way::Way;
use crate::data::law::NoValue;
use crate::data::liquids::Family;
use crate::model::job::{Input, Stage};
use crate::physics::reaction::{Needed, Reaction, STOICHIOMETRY};
use crate::physics::{Working, capillary};
use crate::units::si::{
    Length, Mass, MassDensity, ThermodynamicTemperature, Volume, amount_text, celsius, density_text, grams,
    in_millilitres, in_millimetres, mass_text, metres, millilitres, millimetres, ml_text, moles, percent_text,
    percents, seconds, significant, temperature_text, viscosity_text,
};
use std::f64::consts::PI;

/// Time that a film drains before the glass is sealed, s.
const DRAIN_S: f64 = 60.0;
/// Part of the targets that is proposed as heel when nothing is given.
const HEEL_PART: f64 = 0.005;

/// The charge.
#[derive(Clone, Debug)]
pub struct Charge {
    /// Temperature at which the ampoules are filled.
    pub filling: ThermodynamicTemperature,
    /// Density there.
    pub density: Verdict<MassDensity>,
    /// Volume asked for in all ampoules.
    pub targets: Verdict<Volume>,
    /// Volume of spare ampoules.
    pub spares: Volume,
    /// What stays in pot and receiver.
    pub heel: Volume,
    /// What stays on the walls.
    pub film: Verdict<Volume>,
    /// First runnings.
    pub first: Volume,
    /// Product needed.
    pub needed: Verdict<Volume>,
    /// The same as a mass.
    pub needed_mass: Verdict<Mass>,
    /// Reagents, when a reaction is given.
    pub reagents: Option<Verdict<Vec<Needed>>>,
    /// In words.
    pub sheet: Sheet,
}

pub(super) fn work_out(case: &Case) -> Charge {
    let mut sheet = Sheet::new(Stage::Charge);
    sheet.inputs = case.inputs.lines(Stage::Charge);
    let filling = celsius(case.inputs.value(Input::Filling).unwrap_or(20.0));
    let density = case.liquid().and_then(|liquid| liquid.density_at(filling));
    let asked = asked(case, density.as_ref().ok().copied());
    let count = case.vessels.len();
    let targets = asked.clone().map(|asked| asked.iter().copied().sum::<Volume>());
    let mean = targets
        .clone()
        .map(|sum| if count == 0 { sum } else { sum / count as f64 });
    let spare_count = case.inputs.value(Input::Spares).unwrap_or(0.0);
    let spares = mean.clone().map_or(millilitres(0.0), |mean| mean * spare_count);
    let proposed_heel = targets.clone().map_or(millilitres(0.0), |targets| targets * HEEL_PART);
    let heel = case.inputs.value(Input::Heel).map_or(proposed_heel, millilitres);
    let (film, film_line) = film(case, filling);
    let first = millilitres(case.inputs.value(Input::FirstRunnings).unwrap_or(0.0));
    let needed = targets
        .clone()
        .map(|targets| targets + spares + heel + first + film.clone().unwrap_or(millilitres(0.0)));
    let needed_mass = needed.clone().and_then(|volume| Ok(volume * density.clone()?));
    let mut lines = Vec::new();
    let mut line = Line::of("density at the filling temperature", &density, |rho| density_text(*rho));
    if let Some(law) = case.liquid.as_ref().and_then(|liquid| liquid.density.as_ref()) {
        line = line.worked(Working::of_property(law, filling));
    }
    lines.push(line);
    if let Ok(asked) = &asked
        && let (Some(least), Some(most)) = (least(asked), most(asked))
    {
        let each = if in_millilitres(most - least) < 5e-3 {
            ml_text(least)
        } else {
            format!("{} to {}", ml_text(least), ml_text(most))
        };
        lines.push(Line::new(format!("in each of {count} ampoules"), each));
        if let (Ok(rho), Some(Ok(molar))) = (&density, case.liquid.as_ref().map(|liquid| liquid.molar_mass())) {
            let mass = least * *rho;
            lines.push(
                Line::new(
                    "the same as mass and amount",
                    format!("{}, {}", mass_text(mass), amount_text(mass / molar)),
                )
                .worked(
                    Working::of(&BY_DENSITY)
                        .with("V", "volume in an ampoule", ml_text(least))
                        .with(
                            "rho",
                            format!("density at {}", temperature_text(filling)),
                            density_text(*rho),
                        )
                        .with(
                            "M",
                            "molar mass",
                            format!("{} g/mol", significant(molar.value * 1e3, 6)),
                        ),
                ),
            );
        }
    }
    sheet.group("Wanted", lines);
    let mut lines = vec![
        Line::of(format!("in {count} ampoules"), &targets, |v| ml_text(*v)),
        Line::new(format!("in {spare_count:.0} spare ampoules"), ml_text(spares)),
        Line::new("heel of pot and receiver", ml_text(heel)).caution(if case.inputs.value(Input::Heel).is_some() {
            "as given".to_owned()
        } else {
            format!(
                "proposed: {} % of what is wanted, common practice; the glass may keep more",
                significant(HEEL_PART * 100.0, 1)
            )
        }),
        film_line,
        Line::new("first runnings", ml_text(first)),
        Line::of("product needed", &needed, |v| ml_text(*v)),
        Line::of("product needed, mass", &needed_mass, |m| mass_text(*m)),
    ];
    let given = case.given();
    if let Ok(needed) = &needed {
        let over = given - *needed;
        let words = if over >= millilitres(0.0) { "left over" } else { "short" };
        lines.push(
            Line::new(
                "charge drawn in the design",
                format!(
                    "{}, {} {words}",
                    ml_text(given),
                    ml_text(if over < millilitres(0.0) { -over } else { over })
                ),
            )
            .caution("the fills of the design are what pours; they are not changed by this sheet"),
        );
    }
    sheet.group("Product", lines);
    let reagents = reagents(case, &needed_mass, &mut sheet);
    if let Some(liquid) = &case.liquid {
        let origin = |fact: &crate::data::law::Fact<String>| {
            format!("{} ({}; {})", fact.value, fact.origin.source, fact.origin.known.words())
        };
        if let Some(hazards) = &liquid.hazards {
            sheet.cautions.push(format!("{}: {}", liquid.name, origin(hazards)));
        }
        if let Some(never) = &liquid.never {
            sheet
                .cautions
                .push(format!("{} must not meet: {}", liquid.name, origin(never)));
        }
    }
    Charge {
        filling,
        density,
        targets,
        spares,
        heel,
        film,
        first,
        needed,
        needed_mass,
        reagents,
        sheet,
    }
}

/// Volume, mass and amount by density.
const BY_DENSITY: crate::physics::Formula = crate::physics::Formula {
    name: "mass and amount",
    text: "m = V rho,  n = m / M",
    holds: "liquid at the filling temperature",
    source: "definition of density and molar mass",
    known: crate::data::Known::Read,
};

/// Volume asked for in each ampoule, in order.
fn asked(case: &Case, density: Option<MassDensity>) -> Verdict<Vec<Volume>> {
    let by_mass = |mass: Mass| {
        let rho = density
            .ok_or_else(|| NoValue::Because("the density at the filling temperature is not known".to_owned()))?;
        Ok(vec![mass / rho; case.vessels.len()])
    };
    if let Some(g) = case.inputs.value(Input::AskedG) {
        return by_mass(grams(g));
    }
    if let Some(mol) = case.inputs.value(Input::AskedMol) {
        return by_mass(moles(mol) * case.liquid()?.molar_mass()?);
    }
    Ok(case.vessels.iter().map(|vessel| vessel.target).collect())
}

fn least(list: &[Volume]) -> Option<Volume> {
    list.iter().copied().min_by(|a, b| a.value.total_cmp(&b.value))
}

fn most(list: &[Volume]) -> Option<Volume> {
    list.iter().copied().max_by(|a, b| a.value.total_cmp(&b.value))
}

/// What a liquid that wets leaves on the way to the farthest ampoule, and in the receiver.
fn film(case: &Case, t: ThermodynamicTemperature) -> (Verdict<Volume>, Line) {
    const WHAT: &str = "film on the walls";
    let found = (|| {
        let liquid = case.liquid()?;
        let contact = liquid.contact.as_ref();
        let (_, high) = contact.ok_or_else(|| NoValue::Because("the contact angle is not known".to_owned()))?;
        if high.value.value.to_degrees() > super::pouring::FILMS_BELOW_DEG {
            return Err(NoValue::Because(
                "it may bead instead of filming; beads that stick are not counted".to_owned(),
            ));
        }
        let receiver = case.receiver()?;
        let ways = case
            .vessels
            .iter()
            .filter_map(|vessel| Way::between(case.built, receiver, vessel.piece));
        let way = ways.max_by(|a, b| a.length_mm().total_cmp(&b.length_mm()));
        let way = way.ok_or_else(|| NoValue::Because("no way from the receiver to an ampoule".to_owned()))?;
        let length = millimetres(way.length_mm());
        let (mu, rho) = (liquid.viscosity_at(t)?, liquid.density_at(t)?);
        let thickness = capillary::film_thickness(mu, length, rho, seconds(DRAIN_S));
        let area: f64 = way.bores.iter().map(|bore| PI * bore.d_mm * bore.length_mm).sum();
        let body = case.form(receiver).map_or(0.0, |form| match form {
            crate::model::Form::Bulb(bulb) => PI * bulb.body.bore_mm().powi(2),
            _ => 0.0,
        });
        let volume = metres(thickness.value) * crate::units::si::mm2(area + body);
        Ok((volume, thickness, length, mu))
    })();
    match found {
        Ok((volume, thickness, length, mu)) => {
            let line = Line::new(WHAT, ml_text(volume)).worked(
                Working::of(&capillary::FILM)
                    .with("mu", "viscosity at filling", viscosity_text(mu))
                    .with(
                        "z",
                        "from receiver to the farthest ampoule",
                        format!("{} mm", significant(in_millimetres(length), 3)),
                    )
                    .with("t", "draining", format!("{DRAIN_S} s"))
                    .with("d", "thickness", thickness_text(thickness)),
            );
            (Ok(volume), line)
        }
        Err(why) => {
            let line = Line::unknown(WHAT, why.to_string());
            (Err(why), line)
        }
    }
}

fn thickness_text(thickness: Length) -> String {
    format!("{} \u{b5}m", significant(in_millimetres(thickness) * 1e3, 2))
}

/// A reaction with what goes in and what else comes out.
type Worked = (Reaction, Vec<Needed>, Vec<(String, Mass)>);

fn reagents(case: &Case, needed: &Verdict<Mass>, sheet: &mut Sheet) -> Option<Verdict<Vec<Needed>>> {
    let text = case.apparatus.job.reaction.trim();
    if text.is_empty() {
        sheet.group(
            "Reagents",
            vec![
                Line::of("liquid to weigh in", needed, |mass| mass_text(*mass))
                    .caution("no reaction is given: the liquid goes in as it is"),
            ],
        );
        return None;
    }
    let because = |error: String| NoValue::Because(error);
    let yield_part = percents(case.inputs.value(Input::Yield).unwrap_or(80.0));
    let excess = percents(case.inputs.value(Input::Excess).unwrap_or(0.0));
    let found: Verdict<Worked> = (|| {
        let reaction = Reaction::parse(text).map_err(|error| because(error.to_string()))?;
        let liquid = case.liquid()?;
        let formula = liquid.formula.as_deref();
        let formula =
            formula.ok_or_else(|| because(format!("{} has no formula to look for among the products", liquid.name)))?;
        let product = reaction
            .product(formula)
            .map_err(|error| because(error.to_string()))?
            .clone();
        let amount = needed.clone()? / product.molar;
        let list = reaction.needed(&product, amount, yield_part, excess);
        // What else comes out, of the part that reacts.
        let turns = amount / product.count;
        let others = reaction.products.iter().filter(|part| part.formula != product.formula);
        let others = others
            .map(|part| (part.formula.clone(), turns * part.count * part.molar))
            .collect();
        Ok((reaction, list, others))
    })();
    let lines = match &found {
        Err(why) => vec![Line::unknown("reagents", why.to_string())],
        Ok((reaction, list, others)) => {
            let mut lines = vec![Line::new("reaction, balanced", text)];
            for (i, (needed, part)) in list.iter().zip(&reaction.reagents).enumerate() {
                let role = if i == 0 { "limiting" } else { "in excess as given" };
                let mut working = Working::of(&STOICHIOMETRY)
                    .with(
                        "M",
                        format!("molar mass of {}", part.formula),
                        format!("{} g/mol", significant(part.molar.value * 1e3, 7)),
                    )
                    .with("nu", "its number in the reaction", significant(part.count, 3))
                    .with("yield", "expected", percent_text(yield_part));
                if i > 0 {
                    working = working.with("excess", "of this reagent", percent_text(excess));
                }
                let value = format!("{} ({}), {role}", mass_text(needed.mass), amount_text(needed.amount));
                lines.push(Line::new(needed.formula.clone(), value).worked(working));
            }
            for (needed, part) in list.iter().zip(&reaction.reagents) {
                let used = needed_for(list, part.count, reaction, yield_part.value);
                let left = needed.mass - used * part.molar;
                lines.push(
                    Line::new(format!("{} left over", part.formula), mass_text(left))
                        .caution("with the product that did not form, at the expected yield"),
                );
            }
            for (formula, mass) in others {
                lines.push(Line::new(format!("{formula} formed"), mass_text(*mass)));
            }
            lines
        }
    };
    sheet.group("Reagents", lines);
    Some(found.map(|(_, list, _)| list))
}

/// Amount of a reagent with a number `count` that really reacts, from the first reagent and the yield.
fn needed_for(
    list: &[Needed],
    count: f64,
    reaction: &Reaction,
    yield_part: f64,
) -> crate::units::si::AmountOfSubstance {
    let first = list.first().map_or(moles(0.0), |first| first.amount);
    let number = reaction.reagents.first().map_or(1.0, |part| part.count);
    first / number * count * yield_part
}

/// Whether a liquid is one that alloys and pours without filming.
pub(super) fn is_metal(case: &Case) -> bool {
    case.liquid
        .as_ref()
        .is_some_and(|liquid| matches!(liquid.family, Family::AlkaliMetal | Family::Metal))
}
