//! The order form for a glass shop: what such forms ask, filled in from the design.

use std::collections::BTreeMap;

use super::Case;
use super::leaf::{Block, Figure, Leaf, Table};
use super::parts::{short, size_text};
use super::texts::{self, blank_fields, field};
use crate::model::job::Input;
use crate::model::{End, FittingKind, Form, TubeSize, param};
use crate::units::si::mm_text;

/// The sheet.
pub fn leaf(case: &Case) -> Leaf {
    let (across, high) = case.stages.build().extent;
    let job = case.job();
    let mut blocks = vec![
        Block::Fields(blank_fields(&[
            "Asked for by",
            "Telephone, e-mail",
            "Group or company, who pays",
            "Order or fund number",
            "Drawing number, revision",
            "Quantity",
            "Wanted by",
            "Budget at most",
        ])),
        Block::Heading("The work".to_owned()),
        Block::Fields(vec![
            field("What", case.apparatus().title.clone()),
            field("New, copy or repair", ""),
            field("Glass", texts::GLASS),
            field("Over all", format!("{} by {}", mm_text(across), mm_text(high))),
            field("Ampoules", job.vessels.len().to_string()),
            field("Annealing", "oven, before and after the last joins; polariscope"),
        ]),
        Block::Figure(Figure::Overview),
        Block::Heading("Service".to_owned()),
        Block::Fields(service(case)),
    ];
    blocks.extend(hazards(case).into_iter().map(Block::Caution));
    blocks.push(Block::Caution(
        "Glass that comes back for repair must arrive clean: rinsed, neutralised and declared so here, or it is not touched."
            .to_owned(),
    ));
    blocks.push(Block::Fields(blank_fields(&[
        "Has held",
        "Cleaned with",
        "Declared clean by",
        "Date, signature",
    ])));
    blocks.push(Block::Heading("Tube".to_owned()));
    blocks.push(Block::Table(tubes(case)));
    let joints = joints(case);
    if !joints.rows.is_empty() {
        blocks.push(Block::Heading("Joints, stopcocks and ports".to_owned()));
        blocks.push(Block::Table(joints));
    }
    blocks.push(Block::Heading("Tolerances".to_owned()));
    blocks.push(Block::Table(tolerances(case)));
    blocks.push(Block::Heading("To be settled by the shop".to_owned()));
    blocks.push(Block::Fields(blank_fields(&[
        "Could it be simpler, stronger, easier to clean",
        "Parts for the oven",
        "Accepted by, date",
        "Price",
    ])));
    blocks.push(Block::Note(
        "Fields as glass shops ask for them; hand tolerances: common practice of the trade, recalled.".to_owned(),
    ));
    Leaf {
        title: "Order to the glass shop".to_owned(),
        blocks,
    }
}

fn service(case: &Case) -> Vec<super::Field> {
    let inputs = &case.job().inputs;
    let liquid = case.apparatus().charge.liquid.clone();
    let hottest = [Input::Pot, Input::Receiver, Input::Filling];
    let hottest = hottest
        .into_iter()
        .filter_map(|input| inputs.value(input))
        .reduce(f64::max);
    let or_open = |input: Input| texts::value(case, input).unwrap_or_default();
    vec![
        field("Will hold", liquid),
        field("Charge", crate::units::si::ml_text(case.job().given())),
        field(
            "Hottest in use",
            hottest.map_or_else(String::new, |c| format!("{} \u{b0}C", short(c))),
        ),
        field("Pumped to", or_open(Input::PumpEnd)),
        field("Above the outside at most", or_open(Input::Over)),
        field(
            "Leak test",
            case.stages
                .gas()
                .allowed
                .clone()
                .map_or_else(|_| String::new(), crate::units::si::leak_text),
        ),
    ]
}

/// What the liquid does to people and must not meet.
fn hazards(case: &Case) -> Vec<String> {
    let Some(liquid) = &case.job().liquid else {
        return Vec::new();
    };
    let hazards = liquid
        .hazards
        .as_ref()
        .map(|fact| format!("{}: {}.", liquid.name, fact.value));
    let never = liquid
        .never
        .as_ref()
        .map(|fact| format!("{} must not meet: {}.", liquid.name, fact.value));
    hazards
        .into_iter()
        .chain(never)
        .map(|text| texts::capital(&text))
        .collect()
}

/// Tubes by size with the pieces made of them.
fn tubes(case: &Case) -> Table {
    let key = |size: TubeSize| ((size.od_mm * 1e3).round() as u64, (size.wall_mm * 1e3).round() as u64);
    let mut groups: BTreeMap<(u64, u64), (TubeSize, Vec<String>)> = BTreeMap::new();
    for piece in &case.built().placed.pieces {
        for (_, size) in param::sizes_of(&piece.form) {
            let group = groups.entry(key(size)).or_insert_with(|| (size, Vec::new()));
            if !group.1.contains(&piece.name) {
                group.1.push(piece.name.clone());
            }
        }
    }
    let rows = groups.into_values().map(|(size, pieces)| {
        let stock = match crate::data::stock(size.od_mm, size.wall_mm) {
            Some(_) => "catalogue",
            None => "drawn or blown",
        };
        vec![
            size_text(size),
            short(size.bore_mm()),
            texts::names(&pieces),
            stock.to_owned(),
        ]
    });
    Table {
        heads: ["Outside \u{d7} wall, mm", "Bore, mm", "In", "Tube"]
            .map(str::to_owned)
            .to_vec(),
        rows: rows.collect(),
        numbers: vec![false, true, false, false],
    }
}

fn joints(case: &Case) -> Table {
    let mut rows = Vec::new();
    for piece in &case.built().placed.pieces {
        let mut add = |what: String| rows.push(vec![piece.name.clone(), what]);
        match &piece.form {
            Form::Tube(tube) => {
                for end in [&tube.start, &tube.end] {
                    match end {
                        End::Joint { designation, .. } => add(format!("ground joint {designation}")),
                        End::Port => add("port to the line, fitting to be agreed".to_owned()),
                        End::Open | End::Round | End::Flat => {}
                    }
                }
            }
            Form::Fitting(fitting) => add(match &fitting.kind {
                FittingKind::VacuumPort => format!("to the pump, {} mm", size_text(fitting.size)),
                FittingKind::GasPort => format!("to the gas line, {} mm", size_text(fitting.size)),
                FittingKind::Stopcock { .. } => format!("stopcock, arms {} mm", size_text(fitting.size)),
                FittingKind::Joint { designation, .. } => format!("ground joint {designation}"),
                FittingKind::Cap => format!("closed by hand after charging, {} mm", size_text(fitting.size)),
            }),
            Form::Bulb(_) | Form::Bridge(_) | Form::Ampoule(_) => {}
        }
    }
    Table {
        heads: ["Piece", "What"].map(str::to_owned).to_vec(),
        rows,
        numbers: vec![false, false],
    }
}

/// What hands hold, and what is asked; an empty cell is for a tighter wish.
fn tolerances(case: &Case) -> Table {
    let hands = [
        ["Lengths", "\u{b1}1 mm"],
        ["Over all", "\u{b1}3 mm"],
        ["Places of joins", "\u{b1}1 mm"],
        ["Angles", "\u{b1}2\u{b0}"],
        ["Out of plane, in 300 mm", "3 mm"],
        ["Bore of necks, which controls", "\u{b1}20 %"],
    ];
    let mut rows: Vec<Vec<String>> = hands.map(|row| row.map(str::to_owned).to_vec()).to_vec();
    if !case.job().vessels.is_empty() {
        rows.push(vec!["Volume of ampoules".to_owned(), "\u{b1}5 %".to_owned()]);
    }
    for row in &mut rows {
        row.push(String::new());
    }
    Table {
        heads: ["What", "By hand", "Tighter, and why \u{2026}"]
            .map(str::to_owned)
            .to_vec(),
        rows,
        numbers: vec![false; 3],
    }
}
