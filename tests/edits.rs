//! Every change can be taken back: random sequences of every kind of edit, valid and invalid, through the document
//! and its history.

#![cfg(feature = "window")]
#![allow(clippy::unwrap_used, reason = "a test fails by it")]

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::cell::RefCell;
use std::collections::BTreeMap;
use vialwright::app::Document;
use vialwright::model::cutting::Grafts;
use vialwright::model::job::Input;
use vialwright::model::{
    Ampoule, Apparatus, Bottom, Bridge, Bulb, BulbShape, Edit, Element, End, Fill, Fitting, FittingKind, Form, Gas,
    OwnSize, Piece, Place, Route, Row, Run, Seat, Stop, Tube, TubeSize, file, param,
};
use vialwright::starter::{self, Wish};

/// Declares the kinds of edit. A variant of [`Edit`] that is not listed here does not compile, and one that is listed
/// needs its arm in [`make`].
macro_rules! kinds {
    ($($kind:ident),* $(,)?) => {
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        enum Kind { $($kind),* }

        impl Kind {
            const ALL: &[Self] = &[$(Self::$kind),*];

            fn of(edit: &Edit) -> Self {
                match edit { $(Edit::$kind { .. } => Self::$kind),* }
            }
        }
    };
}

kinds!(
    Title,
    Add,
    AddRow,
    Remove,
    Move,
    MoveAlong,
    Turn,
    Seat,
    SeatRow,
    Set,
    SetSize,
    SetEnd,
    Reshape,
    Rename,
    AddElement,
    RemoveElement,
    Depart,
    Rejoin,
    Liquid,
    Fill,
    OwnStock,
    Mirror,
    MirrorPieces,
    Graft,
    Job,
    Run,
    Gas,
    DripsInto,
    Capillarity,
    Measured,
    AddStop,
    SetStop,
    MoveStop,
    RemoveStop,
);

/// Kinds that nothing can be wrong with: no name, number or text that could be refused.
const ALWAYS_ACCEPTED: &[Kind] = &[Kind::Mirror, Kind::Capillarity];

/// What happens to the document in one go.
#[derive(Clone, Copy, Debug)]
enum Deed {
    /// A finished change.
    Change,
    /// A drag: shown several times, then kept.
    Drag,
    /// A drag that is given up.
    Abandon,
    /// Undo instead.
    Undo,
    /// Redo instead.
    Redo,
}

/// Dice for one edit; what they mean depends on the apparatus at that moment.
#[derive(Clone, Debug)]
struct Dice {
    deed: Deed,
    kind: Kind,
    picks: [usize; 6],
    number: f64,
    text: String,
}

impl Dice {
    /// One of a list, by one of the dice.
    fn of<'a, T>(&self, die: usize, list: &'a [T]) -> &'a T {
        &list[self.picks[die] % list.len()]
    }

    fn is(&self, die: usize, one_in: usize) -> bool {
        self.picks[die].is_multiple_of(one_in)
    }
}

fn dice() -> impl Strategy<Value = Dice> {
    let deed = prop_oneof![
        12 => Just(Deed::Change),
        3 => Just(Deed::Drag),
        1 => Just(Deed::Abandon),
        2 => Just(Deed::Undo),
        1 => Just(Deed::Redo),
    ];
    let number = prop_oneof![
        4 => (-40..400_i32).prop_map(f64::from),
        4 => (0..600_u32).prop_map(|tenths| f64::from(tenths) / 10.0),
        2 => -5.0..120.0_f64,
        1 => any::<f64>(),
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-0.0), Just(1e300)],
    ];
    let text = prop_oneof![3 => "[a-z]{1,6}", 1 => "[a-z]{1,3}-[0-9]", 1 => ".{0,8}", 1 => Just("\n".to_owned())];
    let kind = proptest::sample::select(Kind::ALL);
    (deed, kind, any::<[usize; 6]>(), number, text).prop_map(|(deed, kind, picks, number, text)| Dice {
        deed,
        kind,
        picks,
        number,
        text,
    })
}

/// Names that can be meant: mostly those that exist.
struct Names {
    pieces: Vec<String>,
    rows: Vec<String>,
    members: Vec<String>,
    tubes: Vec<String>,
    all: Vec<String>,
}

impl Names {
    fn of(apparatus: &Apparatus) -> Self {
        let pieces: Vec<String> = apparatus.pieces.iter().map(|piece| piece.name.clone()).collect();
        let rows: Vec<String> = apparatus.rows.iter().map(|row| row.name.clone()).collect();
        let members: Vec<String> = apparatus.names().split_off(pieces.len());
        let tubes = apparatus
            .pieces
            .iter()
            .filter(|piece| matches!(piece.form, Form::Tube(_)))
            .map(|piece| piece.name.clone());
        let nobody = || "nobody".to_owned();
        let or_nobody = |list: &[String]| if list.is_empty() { vec![nobody()] } else { list.to_vec() };
        let all = [pieces.as_slice(), &rows, &members, &[nobody(), String::new()]].concat();
        Self {
            tubes: or_nobody(&tubes.collect::<Vec<_>>()),
            pieces: or_nobody(&pieces),
            rows: or_nobody(&rows),
            members: or_nobody(&members),
            all,
        }
    }

    /// A fitting name, or now and then any.
    fn pick(&self, dice: &Dice, list: &[String]) -> String {
        if dice.is(0, 6) {
            dice.of(1, &self.all)
        } else {
            dice.of(1, list)
        }
        .clone()
    }
}

/// A tube size: mostly one that can be.
fn size(dice: &Dice) -> TubeSize {
    match dice.picks[5] % 5 {
        0 => TubeSize::new(dice.number, dice.number / 10.0),
        n => TubeSize::new(6.0 + 3.0 * n as f64, 1.0),
    }
}

fn length(dice: &Dice) -> f64 {
    if dice.is(4, 3) {
        dice.number
    } else {
        5.0 + (dice.picks[4] % 60) as f64
    }
}

fn place(dice: &Dice, names: &Names) -> Place {
    let hosts = [names.pieces.as_slice(), &names.members].concat();
    Place {
        host: names.pick(dice, &hosts),
        at_mm: length(dice),
        turn_deg: [90.0, -90.0, 0.0, 180.0, dice.number][dice.picks[2] % 5],
    }
}

fn seat(dice: &Dice, names: &Names) -> Seat {
    match dice.picks[3] % 4 {
        0 => Seat::Free {
            x_mm: dice.number,
            y_mm: 10.0,
            heading_deg: length(dice),
        },
        1 => Seat::Between {
            from: place(dice, names),
            to: Place {
                host: dice.of(2, &names.pieces).clone(),
                at_mm: 0.0,
                turn_deg: 90.0,
            },
        },
        _ => Seat::On(place(dice, names)),
    }
}

fn end(dice: &Dice) -> End {
    match dice.picks[3] % 5 {
        0 => End::Open,
        1 => End::Round,
        2 => End::Flat,
        3 => End::Port,
        _ => End::Joint {
            designation: dice.text.clone(),
            stoppered: dice.is(4, 2),
        },
    }
}

fn element(dice: &Dice) -> Element {
    let length_mm = length(dice);
    match dice.picks[3] % 5 {
        0 => Element::Straight { length_mm },
        1 => Element::Bend {
            angle_deg: dice.number,
            radius_mm: length_mm,
        },
        2 => Element::Taper {
            length_mm,
            to: size(dice),
        },
        3 => Element::Neck {
            size: size(dice),
            taper_mm: 8.0,
            length_mm,
        },
        _ => Element::Bulb {
            size: size(dice),
            length_mm,
        },
    }
}

fn ampoule(dice: &Dice) -> Ampoule {
    Ampoule {
        stem: TubeSize::new(8.0, 1.0),
        stem_mm: 20.0,
        funnel_mm: 10.0,
        neck: TubeSize::new(6.0, 1.5),
        neck_mm: 20.0,
        seal_mm: 10.0,
        shoulder_mm: 8.0,
        body: size(dice),
        body_mm: length(dice),
        bottom: match dice.picks[2] % 3 {
            0 => Bottom::Round,
            1 => Bottom::Flat,
            _ => Bottom::Conical { length_mm: 9.5 },
        },
        target_ml: 1.5,
    }
}

fn form(dice: &Dice) -> Form {
    let kinds = |dice: &Dice| match dice.picks[3] % 6 {
        0 => FittingKind::VacuumPort,
        1 => FittingKind::GasPort,
        2 => FittingKind::Stopcock { open: dice.is(4, 2) },
        3 => FittingKind::Cap,
        _ => FittingKind::Joint {
            designation: "14/23".to_owned(),
            stoppered: dice.is(4, 2),
        },
    };
    match dice.picks[2] % 5 {
        0 => Form::Tube(Tube {
            size: size(dice),
            course: vec![Element::Straight { length_mm: 40.0 }, element(dice)],
            start: End::Round,
            end: end(dice),
        }),
        1 => Form::Bulb(Bulb {
            shape: match dice.picks[3] % 3 {
                0 => BulbShape::Sphere,
                1 => BulbShape::Pear,
                _ => BulbShape::Flask { flat_mm: length(dice) },
            },
            body: TubeSize::new(40.0, 1.4),
            neck: size(dice),
            neck_mm: 45.0,
        }),
        2 => Form::Bridge(Bridge {
            size: size(dice),
            bend_radius_mm: length(dice),
            route: match dice.picks[3] % 3 {
                0 => Route::Straight,
                1 => Route::Arched { rise_mm: 40.0 },
                _ => Route::Via {
                    corners_mm: vec![[10.0, dice.number], [30.0, 20.0]],
                },
            },
        }),
        3 => Form::Ampoule(ampoule(dice)),
        _ => Form::Fitting(Fitting {
            kind: kinds(dice),
            size: size(dice),
            length_mm: length(dice),
        }),
    }
}

fn gas(dice: &Dice) -> Gas {
    match dice.picks[4] % 4 {
        0 => Gas::Evacuated,
        1 => Gas::Open,
        _ => Gas::Filled {
            pressure_mbar: dice.number,
        },
    }
}

fn stop(dice: &Dice, names: &Names) -> Stop {
    let sealed = match dice.picks[5] % 8 {
        0 | 1 => vec![dice.of(1, &names.members).clone()],
        2 => vec![dice.of(1, &names.members).clone(), names.pick(dice, &names.members)],
        _ => Vec::new(),
    };
    Stop {
        name: dice.text.clone(),
        wait_s: length(dice),
        seals: sealed,
        ..Stop::at(dice.number, length(dice))
    }
}

/// The form of the piece itself with other numbers, or any other form.
fn reshaped(dice: &Dice, apparatus: &Apparatus, name: &str) -> Form {
    match apparatus.find(name).map(|piece| piece.form) {
        Some(Form::Ampoule(_)) if !dice.is(3, 5) => Form::Ampoule(ampoule(dice)),
        Some(Form::Fitting(fitting)) if !dice.is(3, 5) => Form::Fitting(Fitting {
            length_mm: length(dice),
            ..fitting
        }),
        Some(Form::Bulb(bulb)) if !dice.is(3, 5) => Form::Bulb(Bulb {
            shape: BulbShape::Pear,
            ..bulb
        }),
        _ => form(dice),
    }
}

fn make(dice: &Dice, apparatus: &Apparatus) -> Edit {
    let names = Names::of(apparatus);
    let any_name = || names.pick(dice, &names.all);
    let new_name = || if dice.is(5, 7) { any_name() } else { dice.text.clone() };
    match dice.kind {
        Kind::Title => Edit::Title(dice.text.repeat(1 + dice.picks[0] % 200)),
        Kind::Add => Edit::Add(Piece {
            name: new_name(),
            seat: seat(dice, &names),
            form: form(dice),
        }),
        Kind::AddRow => Edit::AddRow(Row {
            name: new_name(),
            first: place(dice, &names),
            pitch_mm: 40.0,
            count: dice.picks[3] % 6,
            pattern: ampoule(dice),
            departures: Vec::new(),
        }),
        Kind::Remove => Edit::Remove(if dice.is(3, 2) {
            vec![any_name()]
        } else {
            vec![any_name(), any_name()]
        }),
        Kind::Move => Edit::Move {
            piece: names.pick(dice, &names.pieces),
            x_mm: dice.number,
            y_mm: length(dice),
        },
        Kind::MoveAlong => Edit::MoveAlong {
            piece: any_name(),
            at_mm: length(dice),
        },
        Kind::Turn => Edit::Turn {
            piece: any_name(),
            angle_deg: dice.number,
        },
        Kind::Seat => Edit::Seat {
            piece: names.pick(dice, &names.pieces),
            seat: seat(dice, &names),
        },
        Kind::SeatRow => Edit::SeatRow {
            row: names.pick(dice, &names.rows),
            first: place(dice, &names),
        },
        Kind::Set => {
            let piece = any_name();
            let numbers = apparatus.parameters(&piece).unwrap_or_default();
            match numbers.get(dice.picks[2] % (numbers.len() + 1)) {
                Some(number) => {
                    let value = match dice.picks[3] % 5 {
                        0 => number.limit.min,
                        1 => dice.number,
                        2 => number.value * 1.07,
                        _ => number.limit.nearest(number.value + number.limit.step),
                    };
                    let key = number.key.clone();
                    Edit::Set { piece, key, value }
                }
                None => Edit::Set {
                    piece,
                    key: dice.text.clone(),
                    value: dice.number,
                },
            }
        }
        Kind::SetSize => {
            let piece = any_name();
            let form = apparatus.find(&piece).map(|piece| piece.form);
            let keys = form.map_or_else(Vec::new, |form| param::sizes_of(&form));
            let key = keys.get(dice.picks[2] % (keys.len() + 1));
            let key = key.map_or_else(|| "body".to_owned(), |(key, _)| key.clone());
            Edit::SetSize {
                piece,
                key,
                size: size(dice),
            }
        }
        Kind::SetEnd => Edit::SetEnd {
            piece: names.pick(dice, &names.tubes),
            far: dice.is(2, 2),
            end: end(dice),
        },
        Kind::Reshape => {
            let piece = any_name();
            let form = reshaped(dice, apparatus, &piece);
            Edit::Reshape { piece, form }
        }
        Kind::Rename => Edit::Rename {
            from: any_name(),
            to: new_name(),
        },
        Kind::AddElement => Edit::AddElement {
            piece: names.pick(dice, &names.tubes),
            index: dice.picks[2] % 5,
            element: element(dice),
        },
        Kind::RemoveElement => Edit::RemoveElement {
            piece: names.pick(dice, &names.tubes),
            index: dice.picks[2] % 5,
        },
        Kind::Depart => Edit::Depart {
            member: names.pick(dice, &names.members),
        },
        Kind::Rejoin => Edit::Rejoin {
            member: names.pick(dice, &names.members),
        },
        Kind::Liquid => Edit::Liquid(dice.text.repeat(1 + dice.picks[0] % 200)),
        Kind::Fill => Edit::Fill {
            piece: any_name(),
            volume_ml: if dice.is(3, 3) { 0.0 } else { dice.number },
        },
        Kind::OwnStock => Edit::OwnStock(vec![OwnSize {
            tube: size(dice),
            note: dice.text.clone(),
        }]),
        Kind::Mirror => Edit::Mirror,
        Kind::Job => {
            let mut job = apparatus.job.clone();
            let input = *dice.of(2, Input::ALL);
            job.set(input, (!dice.is(3, 4)).then_some(dice.number));
            job.pot = dice.is(4, 2).then(any_name);
            job.silence("arms-close", &any_name(), &dice.text);
            Edit::Job {
                words: "Change the job".to_owned(),
                job: Box::new(job),
            }
        }
        Kind::Run => Edit::Run(Run {
            gas: gas(dice),
            drips_into: dice.is(3, 2).then(any_name),
            capillarity: dice.is(4, 2),
            measured: (dice.is(5, 2))
                .then(|| Fill {
                    piece: any_name(),
                    volume_ml: dice.number,
                })
                .into_iter()
                .collect(),
            stops: vec![stop(dice, &names), Stop::at(dice.number, 0.0)],
        }),
        Kind::Gas => Edit::Gas(gas(dice)),
        Kind::Capillarity => Edit::Capillarity(dice.is(3, 2)),
        Kind::Measured => Edit::Measured {
            piece: any_name(),
            volume_ml: (!dice.is(3, 3)).then_some(dice.number),
        },
        Kind::DripsInto => Edit::DripsInto((!dice.is(3, 3)).then(any_name)),
        Kind::AddStop => Edit::AddStop {
            index: dice.picks[2] % (apparatus.run.stops.len() + 2),
            stop: stop(dice, &names),
        },
        Kind::SetStop => Edit::SetStop {
            index: dice.picks[2] % (apparatus.run.stops.len() + 1),
            stop: stop(dice, &names),
        },
        Kind::MoveStop => Edit::MoveStop {
            from: dice.picks[2] % (apparatus.run.stops.len() + 1),
            to: dice.picks[3] % apparatus.run.stops.len().max(1),
        },
        Kind::RemoveStop => Edit::RemoveStop {
            index: dice.picks[2] % (apparatus.run.stops.len() + 1),
        },
        Kind::MirrorPieces => Edit::MirrorPieces(vec![any_name(), names.pick(dice, &names.pieces)]),
        Kind::Graft => {
            let cutting = apparatus.cutting(&[any_name(), dice.of(2, &names.pieces).clone()]);
            // Made for an empty bench, its names are taken on this one.
            let (bench, onto) = match dice.picks[3] % 3 {
                0 => (&Apparatus::default(), None),
                1 => (apparatus, None),
                _ => (apparatus, Some(dice.of(4, &names.all).as_str())),
            };
            let graft = cutting.and_then(|cutting| bench.graft(&cutting, onto).ok());
            graft.unwrap_or_else(|| Edit::Graft(Grafts::default()))
        }
    }
}

fn starts() -> Vec<Apparatus> {
    let examples = [
        include_str!("../examples/rubidium-six.json"),
        include_str!("../examples/gallium-indium-eight.json"),
        include_str!("../examples/benzene-d6-five.json"),
        include_str!("../examples/teaching-three.json"),
    ];
    let mut list: Vec<Apparatus> = examples.into_iter().map(|text| file::read(text).unwrap()).collect();
    let wish = Wish {
        vessels: 3,
        return_tube: true,
        gas_port: true,
        ..Wish::default()
    };
    list.push(starter::start(&wish).unwrap().apparatus);
    for (i, apparatus) in list.iter_mut().enumerate() {
        let sealed = Stop {
            seals: apparatus.rows[0].member_names().take(i).collect(),
            ..Stop::at(20.0, 5.0)
        };
        apparatus.run.stops = vec![Stop::default(), sealed, Stop::at(0.0, 0.0)];
    }
    list.push(Apparatus::default());
    list
}

/// How often edits of a kind were accepted and refused.
type Tally = BTreeMap<Kind, (usize, usize)>;

/// The history as it must be: the text after every step, and how many steps are done.
struct Expected {
    texts: Vec<String>,
    done: usize,
}

impl Expected {
    fn step(&mut self, text: String) {
        if text != self.texts[self.done] {
            self.texts.truncate(self.done + 1);
            self.texts.push(text);
            self.done += 1;
        }
    }
}

fn run(start: &Apparatus, sequence: &[Dice], tally: &RefCell<Tally>) -> Result<(), TestCaseError> {
    let mut document = Document::new(start.clone(), None);
    let mut expected = Expected {
        texts: vec![file::write(start)],
        done: 0,
    };
    for dice in sequence {
        match dice.deed {
            Deed::Undo => {
                document.undo();
                expected.done = expected.done.saturating_sub(1);
            }
            Deed::Redo => {
                document.redo();
                expected.done = (expected.done + 1).min(expected.texts.len() - 1);
            }
            Deed::Change | Deed::Drag | Deed::Abandon => {
                let edit = make(dice, document.settled());
                prop_assert_eq!(Kind::of(&edit), dice.kind);
                let before = document.settled().clone();
                let result = before.apply(&edit);
                prop_assert_eq!(&before, document.settled());
                let mut tally = tally.borrow_mut();
                let (accepted, refused) = tally.entry(dice.kind).or_default();
                match result {
                    Err(error) => {
                        *refused += 1;
                        prop_assert!(!error.to_string().is_empty());
                    }
                    Ok(next) => {
                        *accepted += 1;
                        prop_assert!(next.check().is_ok());
                        perform(&mut document, dice.deed, &edit, next, &mut expected);
                    }
                }
            }
        }
        let text = file::write(document.now());
        prop_assert!(text == expected.texts[expected.done], "the document is what was done");
        match file::read(&text) {
            Ok(back) => prop_assert!(back == *document.now() && file::write(&back) == text, "it is read back"),
            Err(error) => prop_assert!(false, "not read back: {error}"),
        }
    }
    while document.redo_words().is_some() {
        document.redo();
    }
    let last = expected.texts.len() - 1;
    prop_assert!(file::write(document.now()) == expected.texts[last]);
    for _ in 0..last {
        prop_assert!(document.undo_words().is_some_and(|words| !words.is_empty()));
        document.undo();
    }
    prop_assert_eq!(document.undo_words(), None);
    prop_assert!(
        file::write(document.now()) == file::write(start),
        "undo to the start gives the bytes of the start"
    );
    prop_assert!(!document.is_unsaved());
    for _ in 0..last {
        document.redo();
    }
    prop_assert!(
        file::write(document.now()) == expected.texts[last],
        "redo to the end gives the bytes of the end"
    );
    Ok(())
}

fn perform(document: &mut Document, deed: Deed, edit: &Edit, next: Apparatus, expected: &mut Expected) {
    let text = file::write(&next);
    match deed {
        Deed::Change => document.change(&edit.words(), next),
        Deed::Drag | Deed::Abandon => {
            // On the way something else is shown.
            if let Ok(between) = document.settled().apply(&Edit::Title("on the way".to_owned())) {
                document.preview(between);
            }
            document.preview(next);
            if matches!(deed, Deed::Abandon) {
                document.abandon();
                return;
            }
            document.keep(&edit.words());
        }
        Deed::Undo | Deed::Redo => return,
    }
    expected.step(text);
}

#[test]
fn a_thousand_sequences_of_edits_can_be_taken_back() {
    let starts = starts();
    let tally = RefCell::new(Tally::new());
    let strategy = (0..starts.len(), proptest::collection::vec(dice(), 1..=30));
    let mut runner = TestRunner::new(Config::with_cases(1000));
    let result = runner.run(&strategy, |(start, sequence)| run(&starts[start], &sequence, &tally));
    result.unwrap();
    // The sequences are worth something only if every kind of edit came through, and every kind was refused.
    let tally = tally.into_inner();
    for kind in Kind::ALL {
        let (accepted, refused) = tally.get(kind).copied().unwrap_or_default();
        assert!(accepted >= 20, "{kind:?}: accepted {accepted} times");
        assert!(
            refused >= 20 || ALWAYS_ACCEPTED.contains(kind),
            "{kind:?}: refused {refused} times"
        );
    }
}
