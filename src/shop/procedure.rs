//! The run sheet: the whole procedure in its order, with this design's numbers, what is to be seen at each stance and
//! lines for what is measured.

use super::Case;
use super::leaf::{Block, Field, Figure, Leaf, Step};
use super::parts::short;
use super::pouring::{fills, pour, seal};
use super::steps::{step, value, words};
use super::texts::{self, Subject, cautions, field};
use crate::data::liquids::Family;
use crate::model::job::Input;
use crate::model::{FittingKind, Form};
use crate::stages::Verdict;
use crate::units::si::{
    in_mbar_litres_per_second, in_millilitres, leak_text, mass_text, millilitres, ml_text, pressure_text, significant,
    temperature_text, time_text,
};
use crate::units::{MM3_PER_ML, angle_text};

/// The sheet.
pub fn leaf(case: &Case) -> Leaf {
    let mut blocks = vec![Block::Fields(head(case)), Block::Figure(Figure::Overview)];
    blocks.extend(SAFETY.iter().map(|text| Block::Caution((*text).to_owned())));
    blocks.extend(liquid_cautions(case).into_iter().map(Block::Caution));
    let unknown = case.review().unknown.len();
    if unknown > 0 {
        blocks.push(Block::Note(format!(
            "{unknown} rules could not be judged for want of numbers; the review names them."
        )));
    }
    let parts: [(&str, Subject, Vec<Step>); 8] = [
        ("Before", Subject::Blow, before(case)),
        ("Charge", Subject::Charge, charge(case)),
        ("Leak test, pumping and purging", Subject::Gas, gas(case)),
        ("Distilling", Subject::Still, still(case)),
        ("Pouring", Subject::Pour, pour(case)),
        ("Sealing off", Subject::Seal, seal(case)),
        ("Keeping", Subject::Keep, keep(case)),
        ("Cleaning up", Subject::Clean, clean(case)),
    ];
    for (title, subject, steps) in parts {
        blocks.push(Block::Heading(title.to_owned()));
        blocks.extend(cautions(case, subject).into_iter().map(Block::Caution));
        blocks.push(Block::Steps(steps));
        if subject == Subject::Seal {
            blocks.push(Block::Table(fills(case)));
        }
    }
    blocks.extend(silenced(case));
    blocks.push(Block::Heading("Where the figures are from".to_owned()));
    blocks.push(Block::Note(texts::origins(case, &CHOICES).join(" ")));
    Leaf {
        title: "Run sheet".to_owned(),
        blocks,
    }
}

/// Inputs of the job that the sheet hangs on.
const CHOICES: [Input; 16] = [
    Input::Filling,
    Input::Pot,
    Input::Receiver,
    Input::StillTilt,
    Input::PurgeLow,
    Input::PurgeFill,
    Input::Cycles,
    Input::Wanted,
    Input::PumpEnd,
    Input::Loss,
    Input::Exposed,
    Input::Closing,
    Input::ClosingT,
    Input::ShutGas,
    Input::Flame,
    Input::Warmest,
];

/// Dangers of the whole.
const SAFETY: [&str; 3] = [
    "Evacuated glass can burst inwards. Goggles and face shield, a blast shield before the glass, nothing scratched.",
    "Never heat a closed volume. Sealed ampoules: behind the shield, hands off until cold.",
    "Liquid nitrogen only on what is being pumped; no air into a cold trap; vent it before it warms.",
];

fn head(case: &Case) -> Vec<Field> {
    vec![
        field("Design", case.apparatus().title.clone()),
        field("Liquid", case.apparatus().charge.liquid.clone()),
        field("Operator", ""),
        field("Second person", ""),
        field("Date", ""),
        field("Batch", ""),
    ]
}

fn liquid_cautions(case: &Case) -> Vec<String> {
    let Some(liquid) = &case.job().liquid else {
        return vec![format!(
            "Nothing is known of \"{}\": read its safety data sheet.",
            case.apparatus().charge.liquid
        )];
    };
    let facts = [("", &liquid.hazards), (" must not meet", &liquid.never)];
    let known = facts.into_iter().filter_map(|(what, fact)| {
        let fact = fact.as_ref()?;
        Some(texts::capital(&format!("{}{what}: {}.", liquid.name, fact.value)))
    });
    let mut list: Vec<String> = known.collect();
    if crate::physics::quench::heats(liquid).is_ok() {
        list.push(
            "Alkali metal: dry powder of class D or dry sand within reach; no water, carbon dioxide or halon; not alone."
                .to_owned(),
        );
    }
    list
}

fn before(case: &Case) -> Vec<Step> {
    let mut steps = vec![
        step("The glass: annealed, free of strain between crossed polars, clean and dry.").log(&["Checked by"]),
        step("Set the apparatus up as drawn; level the header with its marks.")
            .log(&["Level error, tilt \u{b0}", "Level error, roll \u{b0}"]),
    ];
    if !case.job().vessels.is_empty() {
        steps.push(
            step("Number the ampoules from the receiver on; tares are those of the blanks, from the assembly sheet.")
                .log(&["Numbered by"]),
        );
    }
    steps
}

fn charge(case: &Case) -> Vec<Step> {
    let charge = case.stages.charge();
    let into = case.job().pot.or(case.job().receiver);
    let into = into.map_or("the glass", |piece| case.job().name(piece));
    let needed = words(&charge.needed, |volume| ml_text(*volume));
    let mass = words(&charge.needed_mass, |mass| mass_text(*mass));
    let density = words(&charge.density, |rho| crate::units::si::density_text(*rho));
    let mut steps = vec![
        step(format!(
            "Wanted in the end: {needed}, {mass}, at {}.",
            temperature_text(charge.filling)
        ))
        .told("Density then", density)
        .told("Drawn as charge in the design", ml_text(case.job().given())),
    ];
    match &charge.reagents {
        Some(Ok(list)) => {
            steps.push(step(format!("Reaction: {}.", case.apparatus().job.reaction)));
            steps.extend(list.iter().map(|needed| {
                let name = &needed.formula;
                step(format!("Weigh {} of {name} into {into}.", mass_text(needed.mass))).log(&["Weighed, g", "Lot"])
            }));
        }
        Some(Err(why)) => steps.push(step(format!("Reagents: not known ({why}).")).log(&["Weighed, g", "Lot"])),
        None => steps.push(step(format!("Weigh {mass} into {into}.")).log(&["Weighed, g", "Lot"])),
    }
    let inlets = case.built().placed.pieces.iter().filter(|piece| match &piece.form {
        Form::Fitting(fitting) => match fitting.kind {
            FittingKind::Cap => true,
            FittingKind::Joint { stoppered, .. } => stoppered,
            _ => false,
        },
        _ => false,
    });
    steps.extend(inlets.map(|piece| {
        let is_cap = matches!(&piece.form, Form::Fitting(fitting) if fitting.kind == FittingKind::Cap);
        let name = &piece.name;
        if is_cap {
            step(format!("Seal {name} off, the rest open to the line."))
                .warned("no residue in the flame: wipe the inlet dry first")
                .log(&["Sealed by"])
        } else {
            step(format!("Stopper {name} and secure it.")).log(&["Done by"])
        }
    }));
    steps
}

fn gas(case: &Case) -> Vec<Step> {
    let gas = case.stages.gas();
    let volume = millilitres(case.interior().total_volume() / MM3_PER_ML);
    let port = words(&gas.port, |port| case.job().name(*port).to_owned());
    let allowed = words(&gas.allowed, |leak| {
        let litres = in_millilitres(volume) * 1e-3;
        let rise = in_mbar_litres_per_second(*leak) * 3600.0 / litres;
        format!(
            "{}, in its {} a rise of {} mbar an hour",
            leak_text(*leak),
            ml_text(volume),
            significant(rise, 2)
        )
    });
    let name = case.apparatus().job.gas.trim();
    let name = if name.is_empty() { "argon" } else { name };
    let mut steps = vec![
        step(format!(
            "Leak-up through {port}: isolate, log the pressure. A leak rises straight, outgassing bends over. At most {allowed}."
        ))
        .log(&["First reading, mbar", "Last reading, mbar", "After, h"]),
    ];
    let cycles = case.job().inputs.value(Input::Cycles).unwrap_or(0.0) as usize;
    let left = words(&gas.left_ppm, |ppm| format!("{} ppm", significant(*ppm, 2)));
    let needed = words(&gas.cycles_needed, |n| {
        n.map_or_else(|| "none".to_owned(), |n| n.to_string())
    });
    let mut purge = step(format!(
        "{cycles} times: pump to {}, fill with {name} to {}. Oxygen left then: {left}; for {} it takes {needed}.",
        value(case, Input::PurgeLow),
        value(case, Input::PurgeFill),
        value(case, Input::Wanted)
    ));
    for cycle in 1..=cycles.min(12) {
        purge
            .fields
            .push(field(format!("Cycle {cycle}: low, filled, mbar"), ""));
    }
    if let Some(end) = gas.dead_ends.first() {
        purge = purge.warned(format!(
            "Wait {} at each fill: gas mixes so slowly into {}.",
            time_text(end.mixes),
            end.piece
        ));
    }
    steps.push(purge);
    let time = words(&gas.pump_down, |time| time_text(*time));
    steps.push(
        step(format!(
            "Pump down to {}: {time} by the pump alone; water from the walls takes longer.",
            value(case, Input::PumpEnd)
        ))
        .log(&["Gauge, mbar", "At"]),
    );
    steps
}

fn still(case: &Case) -> Vec<Step> {
    let still = case.stages.still();
    let (Some(pot), Some(receiver)) = (case.job().pot, case.job().receiver) else {
        return vec![step(
            "The design has no pot and receiver: nothing is distilled. The charge lies where the design puts it.",
        )];
    };
    let (pot, receiver) = (case.job().name(pot), case.job().name(receiver));
    let t = |t: &Verdict<_>| words(t, |t| temperature_text(*t));
    let mut steps = match still.pot_t.is_ok() {
        true => distil(case, pot, receiver),
        false => vec![
            step(format!(
                "It is not distilled: no pot temperature is given. Let the charge run from {pot} into {receiver} at {}.",
                t(&still.receiver_t)
            ))
            .told("Wanted in the receiver", ml_text(case.job().given()))
            .log(&["In the receiver, mL", "Ended at"]),
        ],
    };
    if case.outcome().is_some()
        && let Some(last) = steps.last_mut()
    {
        last.figure = Some(Figure::Moment { stop: 0 });
    }
    steps.extend(case.stages.seal().tube_necks.iter().map(|neck| {
        step(format!(
            "Seal the neck in {} ({} mm outside, bore {} mm): the pot is cut off.",
            neck.piece,
            short(neck.od_mm),
            short(neck.bore_mm)
        ))
        .warned("its wall must be dry: liquid in a seal leaves it smoky and leaking")
        .log(&["Gauge, mbar", "Sealed at"])
    }));
    steps
}

/// Distilling from the pot into the receiver.
fn distil(case: &Case, pot: &str, receiver: &str) -> Vec<Step> {
    let still = case.stages.still();
    let t = |t: &Verdict<_>| words(t, |t| temperature_text(*t));
    let is_metal = case
        .job()
        .liquid
        .as_ref()
        .is_some_and(|liquid| matches!(liquid.family, Family::AlkaliMetal | Family::Metal));
    let stance = case.job().still_stance();
    let p = |p: &Verdict<_>| words(p, |p| pressure_text(*p));
    let first = step(format!(
        "Stance for distilling: tilt {}, roll {}. {pot} at {} (vapour {}), {receiver} at {} (vapour {}); every wall between warmer than {receiver}.",
        angle_text(stance.tilt_deg),
        angle_text(stance.roll_deg),
        t(&still.pot_t),
        p(&still.pot_p),
        t(&still.receiver_t),
        p(&still.receiver_p),
    ))
    .log(&["Pot, \u{b0}C", "Receiver, \u{b0}C", "Begun at"]);
    let first = first.warned(if is_metal {
        "degas first: 10 to 20 K above the melting point until the gauge falls; then not faster than 2 to 5 K a minute"
    } else {
        "degas first: freeze, pump, thaw, until nothing more rises"
    });
    let over = step(format!(
        "Distil over: {} for the charge at most at this rate.",
        words(&still.time, |time| time_text(*time))
    ))
    .told("Wanted in the receiver", ml_text(case.job().given()))
    .log(&["In the receiver, mL", "Ended at"]);
    vec![first, over]
}

fn keep(case: &Case) -> Vec<Step> {
    let seal = case.stages.seal();
    let mut steps = vec![
        step("Let the tips cool in still air. Look at every tip between crossed polars and through a lens: no channel, no lump, no thread.")
            .log(&["Ampoules set aside"]),
        step("Weigh, subtract the tare of the blank and the stub drawn off, write mass and number on every ampoule.")
            .log(&["Weighed by"])
            .warned("label the hazard and the date; store behind a shield for a day"),
    ];
    let mut told: Vec<String> = Vec::new();
    for neck in &seal.necks {
        let warm = words(&neck.warm, |warm| pressure_text(warm.pressure));
        let text = format!("Pressure inside at {}: {warm}.", temperature_text(seal.warmest));
        if !told.contains(&text) {
            told.push(text);
        }
    }
    if !told.is_empty() {
        steps.push(step(told.join(" ")));
    }
    steps
}

fn clean(case: &Case) -> Vec<Step> {
    let clean = case.stages.clean();
    let residue = words(&clean.residue, |mass| mass_text(*mass));
    let mut first = step(format!(
        "Residue to be quenched: {residue} by heel and film; weigh what is really left."
    ));
    for pocket in clean.pockets.iter().take(12) {
        let reach = if pocket.reached {
            "reached by a quench"
        } else {
            "NOT reached by a quench"
        };
        first = first.told(
            format!("Hollows of {} keep up to", pocket.piece),
            format!("{}, {reach}", ml_text(pocket.volume)),
        );
    }
    let mut steps = vec![first.log(&["Weighed, g"])];
    let quench = case.apparatus().job.quench.trim();
    let with = if quench.is_empty() {
        String::new()
    } else {
        format!(" with {quench}")
    };
    let mut second = step(format!("Quench or rinse{with}, in small portions, vented."));
    if let Ok(hydrogen) = &clean.hydrogen {
        second = second.told("Hydrogen given off, at 20 \u{b0}C", ml_text(*hydrogen));
    }
    if let Ok(heat) = &clean.heat {
        second = second.told("Heat, at most", crate::units::si::heat_text(*heat));
    }
    for text in &clean.sheet.cautions {
        second = second.warned(text.clone());
    }
    steps.push(second.log(&["Done by", "Disposed of as"]));
    steps.push(
        step("Declare the glass clean in writing before anybody warms or repairs it.").log(&["Declared by, date"]),
    );
    steps
}

/// What was silenced, with the reasons: whoever works with the glass is to know.
fn silenced(case: &Case) -> Vec<Block> {
    if case.review().silenced.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![Block::Heading("Judged and put away".to_owned())];
    blocks.extend(
        case.review()
            .silenced
            .iter()
            .map(|(finding, reason)| Block::Note(format!("{} Put away because: {reason}.", texts::caution(finding)))),
    );
    blocks
}
