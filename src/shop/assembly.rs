//! The assembly sheet: every piece by itself, then the joins in an order that keeps a route for breath open, annealing
//! and checks.

use super::Case;
use super::blanks::{Blank, Place};
use super::cuts::{Cut, CutList};
use super::leaf::{Block, Figure, Leaf, Step};
use super::parts::{short, size_text};
use super::texts::{self, Subject, blank_fields, field};
use crate::data::glass;
use crate::model::place::{CONTACT_MM, Point};
use crate::model::{Element, Form, Piece};
use crate::physics::anneal;
use crate::stages::build::Step as Join;
use crate::units::si::{celsius, in_millimetres, mm_text, temperature_text, time_text};
use crate::units::{angle_text, length_text};

/// Seals nearer than this to one that is worked are kept warm, mm: the trade's least distance of joins.
const NEAR_MM: f64 = 30.0;

/// The sheet.
pub fn leaf(case: &Case) -> Leaf {
    let list = CutList::of(case.job());
    let mut blocks = vec![
        Block::Fields(vec![
            field("Design", case.apparatus().title.clone()),
            field("Glass", texts::GLASS),
            field("Made by", ""),
            field("Date", ""),
        ]),
        Block::Figure(Figure::Overview),
    ];
    blocks.extend(SAFETY.iter().map(|text| Block::Caution((*text).to_owned())));
    let build = case.stages.build();
    blocks.extend(
        build
            .sheet
            .cautions
            .iter()
            .map(|text| Block::Caution(texts::sentence(text))),
    );
    let joined = |name: &str| build.steps.iter().any(|join| is_about(case, name, &join.piece));
    let findings = case.review().findings.iter();
    let whole = findings.filter(|finding| texts::subject(finding.rule) == Subject::Blow && !joined(&finding.piece));
    blocks.extend(whole.map(|finding| Block::Caution(texts::caution(finding))));
    blocks.push(Block::Heading("Each piece by itself".to_owned()));
    blocks.push(Block::Text(
        "Numbers of blanks, marks and allowances are those of the cut list. Blow from the datum end; it stays open."
            .to_owned(),
    ));
    blocks.push(Block::Steps(pieces(&list)));
    blocks.push(Block::Heading("Joins, in this order".to_owned()));
    blocks.push(Block::Steps(joins(case)));
    blocks.push(Block::Heading("Annealing".to_owned()));
    blocks.push(Block::Steps(anneal(case)));
    blocks.push(Block::Heading("Checks".to_owned()));
    blocks.push(Block::Steps(checks(case)));
    blocks.push(Block::Note(
        "Support, distances of joins and hand tolerances: common practice of the trade, recalled. Annealing: makers' \
         table, recalled; see the strength stage for its working."
            .to_owned(),
    ));
    Leaf {
        title: "Assembly".to_owned(),
        blocks,
    }
}

/// Dangers of the work itself.
const SAFETY: [&str; 2] = [
    "Hot glass looks like cold. Eyewear for borosilicate: a filter rated for infrared, didymium alone is not enough. \
     Ventilate; no oil on oxygen; flashback arrestors on the torch.",
    "Never seal on, warm or anneal glass that has held residue: it must be rinsed, neutralised and declared clean.",
];

/// Whether a finding about a piece or row concerns a piece.
fn is_about(case: &Case, named: &str, piece: &str) -> bool {
    let rows = case.apparatus().rows.iter().filter(|row| row.name == named);
    named == piece || rows.into_iter().any(|row| row.member_of_name(piece).is_some())
}

fn findings_of(case: &Case, piece: &str) -> Vec<String> {
    let findings = case.review().findings.iter();
    let own =
        findings.filter(|found| texts::subject(found.rule) == Subject::Blow && is_about(case, &found.piece, piece));
    own.map(texts::caution).collect()
}

/// Making every piece; parts of one piece are joined at once.
fn pieces(list: &CutList) -> Vec<Step> {
    let mut steps = Vec::new();
    for (i, cut) in list.cuts.iter().enumerate() {
        steps.push(make(i, cut));
        let is_last = list.cuts.get(i + 1).is_none_or(|next| next.pieces != cut.pieces);
        let first = list
            .cuts
            .iter()
            .position(|other| other.pieces == cut.pieces)
            .unwrap_or(i);
        if is_last && first < i {
            let parts: Vec<String> = (first..=i).map(|k| (k + 1).to_string()).collect();
            steps.push(Step {
                text: format!(
                    "{}: join blanks {} end to end. Breath by the datum end of blank {}; nothing else is open.",
                    cut.names(),
                    parts.join(" and "),
                    first + 1
                ),
                cautions: Vec::new(),
                fields: blank_fields(&["Mass of each with its blank's number, g", "Initials"]),
                figure: None,
            });
        }
    }
    steps
}

fn make(index: usize, cut: &Cut) -> Step {
    let blank = &cut.blank;
    let mut deeds: Vec<String> = Vec::new();
    for mark in &blank.marks {
        deeds.push(match mark.place {
            Place::Between(..) => format!("{} from {} mm", mark.what, mark.place.text()),
            Place::At(at) => format!("mark {} mm: {}", short(at), mark.what),
            Place::Blown => format!("mark on the finished bulb: {}", mark.what),
        });
    }
    deeds.extend(closing(blank));
    let what = if blank.part.is_empty() {
        String::new()
    } else {
        format!(", {}", blank.part)
    };
    let deeds = if deeds.is_empty() {
        "fire-polish what stays open".to_owned()
    } else {
        deeds.join("; ")
    };
    let neck = blank.marks.iter().any(|mark| mark.what.starts_with("neck"));
    let mut fields = Vec::new();
    let mut cautions = Vec::new();
    if neck {
        fields.push(field("Bore of the neck by gauge, mm", ""));
        cautions.push(
            "Shrink the neck evenly all round: a wall thinner than 0.7 of the mean is sucked in first.".to_owned(),
        );
    }
    fields.push(field("Initials", ""));
    Step {
        text: format!(
            "Blank {} for {}{what}, {} mm, cut {} mm, {} \u{d7}: {deeds}.",
            index + 1,
            cut.names(),
            size_text(blank.stock),
            short(blank.cut_mm()),
            cut.count(),
        ),
        cautions,
        fields,
        figure: None,
    }
}

/// Ends that are closed while the piece is made.
fn closing(blank: &Blank) -> Option<String> {
    let end = &blank.ends[1];
    match end.as_str() {
        "closed round, last" => Some("leave the far end open: it is closed last of all".to_owned()),
        end if end.starts_with("closed") => {
            Some(format!("far end {end}; pull the point off thin, flame the lump away"))
        }
        _ => None,
    }
}

/// The joins.
fn joins(case: &Case) -> Vec<Step> {
    let placed = &case.built().placed;
    let mut made: Vec<(String, Point)> = Vec::new();
    let mut steps = Vec::new();
    for join in &case.stages.build().steps {
        let Some(index) = placed.index(&join.piece) else {
            continue;
        };
        let spots = [placed.lines[index].start.at, placed.lines[index].end().at];
        let near = nearest(&made, &spots[..join.to.len()]);
        steps.push(join_step(case, join, &placed.pieces[index], near));
        let own = spots.iter().take(join.to.len());
        made.extend(own.map(|spot| (join.piece.clone(), *spot)));
    }
    steps
}

/// The earlier seal nearest to those of a join.
fn nearest(made: &[(String, Point)], spots: &[Point]) -> Option<(String, f64)> {
    let pairs = made
        .iter()
        .flat_map(|(name, at)| spots.iter().map(move |spot| (name, (at - spot).norm())));
    let near = pairs.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((near.0.clone(), near.1))
}

fn join_step(case: &Case, join: &Join, piece: &Piece, near: Option<(String, f64)>) -> Step {
    let mut cautions = findings_of(case, &join.piece);
    if join.to.is_empty() {
        return Step {
            text: format!(
                "Lay {} on the template and secure it. {}",
                join.piece,
                support(&piece.form)
            ),
            cautions,
            fields: blank_fields(&["Initials"]),
            figure: None,
        };
    }
    let plugged: Vec<String> = join
        .open
        .iter()
        .filter(|name| Some(*name) != join.vent.as_ref())
        .cloned()
        .collect();
    let vent = join.vent.clone().unwrap_or_else(|| "NONE".to_owned());
    if join.vent.is_none() {
        cautions.insert(
            0,
            "No open route: this join heats a closed volume. Do not make it like this.".to_owned(),
        );
    }
    let (keep, check) = (near.as_ref().map(keep_off), check(piece));
    if let Some((name, mm)) = near.filter(|(_, mm)| *mm < NEAR_MM) {
        cautions.push(format!(
            "The seal of {name} is {} away: warm it along, or it cracks.",
            length_text(mm)
        ));
    }
    Step {
        text: format!("{} {}. {}", join.piece, seats(case, piece), support(&piece.form)),
        cautions,
        fields: vec![
            field("Breath by", vent),
            field(
                "Plugged",
                if plugged.is_empty() {
                    "nothing".to_owned()
                } else {
                    texts::names(&plugged)
                },
            ),
            field(
                "Keep the heat off",
                keep.unwrap_or_else(|| "nothing joined yet".to_owned()),
            ),
            field("Check", check),
            field("Initials", ""),
        ],
        figure: None,
    }
}

fn keep_off((name, mm): &(String, f64)) -> String {
    format!("seal of {name}, {}", length_text(*mm))
}

/// Where a piece is joined, in words.
fn seats(case: &Case, piece: &Piece) -> String {
    let placed = &case.built().placed;
    let places = piece.seat.places().map(|place| {
        let length = placed
            .index(&place.host)
            .map_or(0.0, |host| placed.lines[host].length_mm);
        let is_end = place.at_mm <= CONTACT_MM || place.at_mm >= length - CONTACT_MM;
        if is_end && place.turn_deg.rem_euclid(180.0) == 0.0 {
            format!("end to end with {}", place.host)
        } else {
            format!(
                "to {} at {} of its centreline, {} to its axis",
                place.host,
                length_text(place.at_mm),
                angle_text(place.turn_deg)
            )
        }
    });
    places.collect::<Vec<_>>().join(" and ")
}

fn support(form: &Form) -> &'static str {
    match form {
        Form::Tube(_) => "On rollers of cork or graphite, free to shorten.",
        Form::Bulb(_) => "Held at its neck; the bulb lies in a ring of cork.",
        Form::Bridge(_) => "Both sides clamped over the template, one clamp loose: the glass shortens a little.",
        Form::Ampoule(_) => "Ampoule held low and loosely; turn the host so that its weight hangs straight.",
        Form::Fitting(_) => "Held in line with its axis until it is stiff.",
    }
}

/// What is measured after a join.
fn check(piece: &Piece) -> String {
    match &piece.form {
        Form::Ampoule(_) => "place \u{b1}1 mm, angle \u{b1}2\u{b0}, hangs in the plane".to_owned(),
        Form::Tube(tube)
            if tube
                .course
                .iter()
                .any(|element| matches!(element, Element::Bend { .. })) =>
        {
            "angle \u{b1}2\u{b0}, lies flat on the template".to_owned()
        }
        Form::Bridge(_) => "lies flat on the template, no strain when the clamp is loosed".to_owned(),
        Form::Tube(_) | Form::Bulb(_) | Form::Fitting(_) => "place \u{b1}1 mm, angle \u{b1}2\u{b0}".to_owned(),
    }
}

fn anneal(case: &Case) -> Vec<Step> {
    let (build, strength) = (case.stages.build(), case.stages.strength());
    let hold = glass::anneal_temperature();
    let (across, high) = build.extent;
    let whole = across.value.max(high.value);
    let size = format!("{} by {}", mm_text(across), mm_text(high));
    let rate = |for_3_mm: f64| anneal::makers_rate(for_3_mm, strength.thickest).text();
    let first = match &build.oven {
        Ok(oven) if whole <= oven.value => format!("The whole, {size}, goes into the oven of {}.", mm_text(*oven)),
        Ok(oven) => format!(
            "The whole, {size}, does not go into the oven of {}: anneal the parts, make the last joins on the template and \
             flame-anneal those.",
            mm_text(*oven)
        ),
        Err(_) => format!("Compare the whole, {size}, with the oven; what does not go in is annealed in parts."),
    };
    let step = |text: String, labels: &[&str]| Step {
        text,
        cautions: Vec::new(),
        fields: blank_fields(labels),
        figure: None,
    };
    vec![
        step(first, &["Oven used"]),
        step(
            format!(
                "Hold at {} for {} to 30 min.",
                temperature_text(hold),
                time_text(anneal::hold(hold))
            ),
            &["In at", "Temperature, \u{b0}C"],
        ),
        step(
            format!(
                "Cool for the thickest joint of {} mm: from {} to {} at {}, to {} at {}, then at most {}.",
                short(in_millimetres(strength.thickest)),
                temperature_text(celsius(550.0)),
                temperature_text(celsius(480.0)),
                rate(glass::cool_from_550_3mm()),
                temperature_text(celsius(400.0)),
                rate(glass::cool_from_480_3mm()),
                rate(glass::cool_from_400_3mm()),
            ),
            &["Out at", "Initials"],
        ),
    ]
}

fn checks(case: &Case) -> Vec<Step> {
    let step = |text: String, labels: &[&str]| Step {
        text,
        cautions: Vec::new(),
        fields: blank_fields(labels),
        figure: None,
    };
    let (across, high) = case.stages.build().extent;
    let mut steps = vec![
        step(
            "Every seal between crossed polars with the tint plate: no orange or blue against the ground.".to_owned(),
            &["Seals to be annealed again", "Initials"],
        ),
        step(
            format!(
                "Over all {} by {}, \u{b1}3 mm; flat within 3 mm in 300.",
                mm_text(across),
                mm_text(high)
            ),
            &["Across, mm", "High, mm", "Out of plane, mm"],
        ),
    ];
    let leak = case.stages.gas().allowed.clone();
    let leak = leak.map_or_else(|why| format!("no limit is known: {why}"), crate::units::si::leak_text);
    steps.push(step(
        format!("Leak test, all ports closed but the gauge: a straight rise of at most {leak}."),
        &["First reading, mbar", "After, h", "Last reading, mbar", "Initials"],
    ));
    steps
}
