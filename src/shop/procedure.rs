//! The run sheet: the whole procedure in its order, with this design's numbers, what is to be seen at each stance and
//! lines for what is measured.

use super::Case;
use super::leaf::{Block, Field, Figure, Leaf, Step, Table};
use super::parts::short;
use super::texts::{self, Subject, blank_fields, cautions, field};
use crate::data::liquids::Family;
use crate::geom::RunsTo;
use crate::model::job::Input;
use crate::model::{FittingKind, Form, Gas};
use crate::run::Outcome;
use crate::stages::{Verdict, Vessel};
use crate::units::si::{
    in_grams, in_mbar_litres_per_second, in_millilitres, in_millimetres, leak_text, mass_text, millilitres, ml_text,
    mm_text, pressure_text, significant, temperature_text, time_text,
};
use crate::units::{MM3_PER_ML, angle_text, fixed, volume_text};

/// Volumes below this are not told of, mL.
const LEAST_ML: f64 = 0.005;

/// The sheet.
pub fn leaf(case: &Case) -> Leaf {
    let mut blocks = vec![Block::Fields(head(case)), Block::Figure(Figure::Overview)];
    blocks.extend(SAFETY.iter().map(|text| Block::Caution((*text).to_owned())));
    blocks.extend(liquid_cautions(case).into_iter().map(Block::Caution));
    let unknown = case.review.unknown.len();
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
    blocks.extend(texts::origins(case, &CHOICES).into_iter().map(Block::Note));
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

fn step(text: impl Into<String>) -> Step {
    Step {
        text: text.into(),
        cautions: Vec::new(),
        fields: Vec::new(),
        figure: None,
    }
}

impl Step {
    fn log(mut self, labels: &[&str]) -> Self {
        self.fields.extend(blank_fields(labels));
        self
    }

    fn told(mut self, label: impl Into<String>, value: impl Into<String>) -> Self {
        self.fields.push(field(label, value));
        self
    }

    fn warned(mut self, text: impl Into<String>) -> Self {
        self.cautions.push(texts::sentence(&text.into()));
        self
    }
}

/// A verdict in words.
fn words<T>(verdict: &Verdict<T>, text: impl FnOnce(&T) -> String) -> String {
    verdict.as_ref().map_or_else(|why| format!("not known ({why})"), text)
}

/// A number of the job in words; where it is open, that.
fn value(case: &Case, input: Input) -> String {
    texts::value(case, input).unwrap_or_else(|| "a value of your own".to_owned())
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
    if case.outcome.is_some()
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

fn pour(case: &Case) -> Vec<Step> {
    let Some(outcome) = &case.outcome else {
        return vec![step("The design has no run: find one before the glass is turned.")];
    };
    let gas = match case.apparatus().run.gas {
        Gas::Evacuated => "evacuated".to_owned(),
        Gas::Open => "open to the air".to_owned(),
        Gas::Filled { pressure_mbar } => format!("filled to {} mbar, ports closed", short(pressure_mbar)),
    };
    let filling = temperature_text(case.stages.charge().filling);
    let mut steps = vec![
        step(format!("Glass {gas}; liquid and every wall at {filling} or above."))
            .log(&["Header, \u{b0}C", "Gauge, mbar"]),
    ];
    steps.extend((0..outcome.stops.len()).map(|stop| stance(case, outcome, stop)));
    steps
}

/// One stop of the run.
fn stance(case: &Case, outcome: &Outcome, stop: usize) -> Step {
    let (halt, run) = (&outcome.halts[stop], &case.apparatus().run);
    let way = if stop == 0 {
        "Begin at".to_owned()
    } else {
        let rate = run.stops.get(stop).map_or(0.0, |stop| stop.rate_deg_per_s);
        format!(
            "In {} s, at {}\u{b0} a second, turn to",
            fixed(halt.turn_s, 0),
            short(rate)
        )
    };
    let mut text = format!(
        "{}. {way} tilt {}, roll {}; rest {} s.",
        run.stop_name(stop),
        angle_text(halt.stance.tilt_deg),
        angle_text(halt.stance.roll_deg),
        fixed(halt.wait_s, 0)
    );
    if let Some(told) = passages(case, outcome, stop) {
        text += &told;
    }
    let mut made = step(text);
    for (piece, name) in case.built().names.iter().enumerate() {
        let ml = case.held_ml(stop, piece).unwrap_or(0.0);
        let is_vessel = case.job().vessels.iter().any(|vessel| vessel.piece == piece);
        if is_vessel || ml > LEAST_ML {
            made = made.told(name, volume_text(ml));
        }
    }
    for &(port, lost) in &outcome.stops[stop].settled.lost {
        let piece = case
            .interior()
            .ports()
            .get(port)
            .map_or("a port", |port| case.job().name(port.piece));
        made = made.warned(format!(
            "{} have run out of {piece} by now.",
            volume_text(lost / MM3_PER_ML)
        ));
    }
    for seal in outcome.wet_seals.iter().filter(|seal| seal.stop == stop) {
        let name = case.job().name(seal.piece);
        made = made.warned(format!(
            "liquid stands {} mm over the seal-off place of {name}.",
            fixed(seal.head_mm, 1)
        ));
    }
    made.figure = Some(Figure::Moment { stop });
    made.log(&["Seen otherwise"])
}

/// What fills on the way to a stop, in its order.
fn passages(case: &Case, outcome: &Outcome, stop: usize) -> Option<String> {
    let leg = stop.checked_sub(1)?;
    let mut names: Vec<&str> = Vec::new();
    let vessels: Vec<usize> = case.job().vessels.iter().map(|vessel| vessel.piece).collect();
    for passage in outcome
        .transfers
        .iter()
        .filter(|passage| passage.begins.leg == leg && passage.begins < passage.ends)
    {
        if let RunsTo::Piece(piece) = passage.to
            && vessels.contains(&piece)
            && passage.volume > LEAST_ML * MM3_PER_ML
            && !names.contains(&case.job().name(piece))
        {
            names.push(case.job().name(piece));
        }
    }
    (!names.is_empty()).then(|| format!(" Liquid comes into {}.", names.join(", then ")))
}

/// Ampoules in the order in which they are sealed: that of the run, else the farthest from the pump first.
fn order<'a>(case: &Case<'a>) -> Vec<&'a Vessel> {
    let in_run: Vec<&String> = case.apparatus().run.stops.iter().flat_map(|stop| &stop.seals).collect();
    let far = case.stages.seal().order.iter();
    let mut names: Vec<&String> = in_run.into_iter().chain(far).collect();
    names.extend(case.job().vessels.iter().map(|vessel| &vessel.name));
    let mut list: Vec<&Vessel> = Vec::new();
    for name in names {
        let found = case.job().vessels.iter().find(|vessel| vessel.name == *name);
        if let Some(vessel) = found.filter(|vessel| list.iter().all(|known| known.piece != vessel.piece)) {
            list.push(vessel);
        }
    }
    list
}

fn seal(case: &Case) -> Vec<Step> {
    let seal = case.stages.seal();
    let mut first = step(format!(
        "Set the pressure: {} in the glass, at most {} cold with the gas shut in at {}. Contents at {}.",
        pressure_text(seal.closing),
        pressure_text(seal.greatest),
        value(case, Input::ShutGas),
        value(case, Input::ClosingT),
    ))
    .log(&["Gauge, mbar", "Contents, \u{b0}C"])
    .warned("clear the necks first: warm them downwards, tap, look for liquid at every seal");
    if let Some(bath) = texts::value(case, Input::Bath) {
        first = first.told("Bath", bath);
    }
    let mut steps = vec![first];
    for (i, vessel) in order(case).into_iter().enumerate() {
        let neck = seal.necks.iter().find(|neck| neck.vessel.piece == vessel.piece);
        let above = neck.map_or_else(String::new, |neck| {
            format!(", {} above the liquid", words(&neck.above_liquid, |mm| mm_text(*mm)))
        });
        let room = neck.and_then(|neck| neck.torch_room.as_ref()).map_or_else(
            || "no other glass near".to_owned(),
            |(piece, room)| format!("{} to {piece}", mm_text(*room)),
        );
        let ampoule = &vessel.ampoule;
        steps.push(
            step(format!(
                "{}. {}: soft flame all round, shrink the neck ({} mm outside, bore {} mm) at the mark, {} mm below its upper end{above}; draw off, round the tip, soft flame, still air.",
                i + 1,
                vessel.name,
                short(ampoule.neck.od_mm),
                short(ampoule.neck.bore_mm()),
                short(ampoule.seal_mm)
            ))
            .told("In the flame", value(case, Input::Flame))
            .told("Room for the torch", room)
            .log(&["Gauge before, mbar", "Sealed at", "Initials"]),
        );
    }
    steps
}

/// What is in every ampoule: expected, and lines for what is measured.
fn fills(case: &Case) -> Table {
    let density = case.stages.charge().density.clone().ok();
    let last = case
        .outcome
        .as_ref()
        .map_or(0, |outcome| outcome.stops.len().saturating_sub(1));
    let rows = case.job().vessels.iter().map(|vessel| {
        let held = case.held_ml(last, vessel.piece);
        let expected = millilitres(held.unwrap_or_else(|| in_millilitres(vessel.target)));
        let height = vessel.height_of(expected);
        vec![
            vessel.name.clone(),
            fixed(in_millilitres(vessel.target), 2),
            fixed(in_millilitres(expected), 2),
            density.map_or_else(|| "not known".to_owned(), |rho| fixed(in_grams(expected * rho), 3)),
            height.map_or_else(|| "over the seal".to_owned(), |mm| fixed(in_millimetres(mm), 1)),
            String::new(),
            String::new(),
            String::new(),
        ]
    });
    Table {
        heads: [
            "Ampoule",
            "Wanted, mL",
            "Expected, mL",
            "Expected, g",
            "Stands at, mm",
            "Seen at, mm \u{2026}",
            "Mass, g \u{2026}",
            "Volume, mL \u{2026}",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: rows.collect(),
        numbers: vec![false, true, true, true, true, false, false, false],
    }
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
    if case.review.silenced.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![Block::Heading("Judged and put away".to_owned())];
    blocks.extend(
        case.review
            .silenced
            .iter()
            .map(|(finding, reason)| Block::Note(format!("{} Put away because: {reason}.", texts::caution(finding)))),
    );
    blocks
}
