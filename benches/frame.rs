//! Times of whole frames of the window with 12, 48 and 200 pieces: while the glass is turned, while a dimension is
//! dragged and while it is zoomed. A frame is everything between the system's events and the triangles for the
//! graphics device; what that device does with them is not counted.
//!
//! `cargo bench --bench frame`; the table is in milliseconds.
#![allow(clippy::print_stdout, reason = "the table is this bench's output")]

use criterion::{BenchmarkId, Criterion};
use egui::{Context, Event, Modifiers, PointerButton, Pos2, RawInput, Rect, pos2, vec2};
use std::hint::black_box;
use std::time::{Duration, Instant};
use vialwright::app::{Command, Opening, Window};
use vialwright::model::{
    Ampoule, Apparatus, Bottom, Bulb, BulbShape, Charge, Element, End, Fill, Form, Piece, Place, Row, Seat, Tube,
    TubeSize, file,
};

const PIECES: [usize; 3] = [12, 48, 200];
const SCREEN: egui::Vec2 = vec2(1280.0, 800.0);
/// Where a drag in the particulars takes hold: the receiver's first length is there.
const FRAMES: usize = 240;

fn on(host: &str, at_mm: f64, turn_deg: f64) -> Place {
    Place {
        host: host.to_owned(),
        at_mm,
        turn_deg,
    }
}

fn tube(name: &str, seat: Seat, size: TubeSize, length_mm: f64) -> Piece {
    let course = vec![Element::Straight { length_mm }];
    Piece {
        name: name.to_owned(),
        seat,
        form: Form::Tube(Tube {
            size,
            course,
            start: End::Round,
            end: End::Round,
        }),
    }
}

fn ampoule() -> Ampoule {
    Ampoule {
        stem: TubeSize::new(8.0, 1.0),
        stem_mm: 20.0,
        funnel_mm: 12.0,
        neck: TubeSize::new(7.0, 1.0),
        neck_mm: 20.0,
        seal_mm: 10.0,
        shoulder_mm: 10.0,
        body: TubeSize::new(14.0, 1.0),
        body_mm: 24.0,
        bottom: Bottom::Round,
        target_ml: 1.5,
    }
}

/// A receiver, a trunk, and headers on it with rows of vials that all hold liquid: `count` pieces in all.
fn apparatus(count: usize) -> Apparatus {
    let headers = count.div_ceil(40);
    let vials = count - headers - 2;
    let mut pieces = vec![
        tube(
            "trunk",
            Seat::Free {
                x_mm: 0.0,
                y_mm: 0.0,
                heading_deg: -90.0,
            },
            TubeSize::new(22.0, 1.8),
            140.0 * headers as f64,
        ),
        Piece {
            name: "receiver".to_owned(),
            seat: Seat::On(on("trunk", 10.0, -120.0)),
            form: Form::Bulb(Bulb {
                shape: BulbShape::Sphere,
                body: TubeSize::new(60.0, 1.8),
                neck: TubeSize::new(18.0, 1.2),
                neck_mm: 70.0,
            }),
        },
    ];
    let mut rows = Vec::new();
    let mut left = vials;
    for k in 0..headers {
        let members = left.div_ceil(headers - k);
        left -= members;
        let (header, row) = (
            format!("header-{}", k + 1),
            format!("vial-{}", (b'a' + k as u8) as char),
        );
        let seat = Seat::On(on("trunk", 30.0 + 140.0 * k as f64, 90.0));
        pieces.push(tube(
            &header,
            seat,
            TubeSize::new(18.0, 1.2),
            40.0 + 32.0 * members as f64,
        ));
        rows.push(Row {
            name: row,
            first: on(&header, 40.0, -90.0),
            pitch_mm: 32.0,
            count: members,
            pattern: ampoule(),
            departures: Vec::new(),
        });
    }
    let members = rows.iter().flat_map(|row| (1..=row.count).map(|k| row.member_name(k)));
    let fills = members
        .map(|piece| Fill { piece, volume_ml: 1.2 })
        .chain([Fill {
            piece: "receiver".to_owned(),
            volume_ml: 40.0,
        }])
        .collect();
    Apparatus {
        title: format!("{count} pieces"),
        pieces,
        rows,
        charge: Charge {
            liquid: "Rubidium".to_owned(),
            fills,
        },
        ..Apparatus::default()
    }
}

/// A window without a screen, and the hand that drives it.
struct Bench {
    ctx: Context,
    window: Window,
    time: f64,
    triangles: usize,
}

impl Bench {
    fn new(count: usize) -> Self {
        let apparatus = apparatus(count);
        assert_eq!(apparatus.names().len(), count);
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bench.json");
        std::fs::write(&path, file::write(&apparatus)).expect("a file");
        let ctx = Context::default();
        let opening = Opening {
            path: Some(path),
            system_dialogs: false,
        };
        let window = Window::new(&ctx, opening);
        let mut bench = Self {
            ctx,
            window,
            time: 0.0,
            triangles: 0,
        };
        assert_eq!(bench.window.session().document.now().names().len(), count);
        for _ in 0..5 {
            bench.frame(Vec::new());
        }
        bench
    }

    /// One frame, up to the triangles.
    fn frame(&mut self, events: Vec<Event>) {
        self.time += 1.0 / 60.0;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SCREEN)),
            time: Some(self.time),
            events,
            ..RawInput::default()
        };
        let Self { ctx, window, .. } = self;
        let output = ctx.run_ui(input, |ui| window.show(ui));
        let primitives = ctx.tessellate(output.shapes, output.pixels_per_point);
        self.triangles = primitives
            .iter()
            .map(|p| match &p.primitive {
                egui::epaint::Primitive::Mesh(mesh) => mesh.indices.len() / 3,
                egui::epaint::Primitive::Callback(_) => 0,
            })
            .sum();
        black_box(&primitives);
    }

    fn press(&mut self, at: Pos2, pressed: bool) {
        self.frame(vec![
            Event::PointerMoved(at),
            Event::PointerButton {
                pos: at,
                button: PointerButton::Primary,
                pressed,
                modifiers: Modifiers::NONE,
            },
        ]);
    }

    fn command(&mut self, command: Command) {
        let ctx = self.ctx.clone();
        self.window.carry_out(&ctx, command);
        self.frame(Vec::new());
    }
}

/// A drag that is under way and never ends: each step moves the hand a little.
struct Drag {
    bench: Bench,
    path: fn(usize) -> Pos2,
    step: usize,
}

impl Drag {
    fn step(&mut self) {
        self.step += 1;
        let at = (self.path)(self.step);
        self.bench.frame(vec![Event::PointerMoved(at)]);
    }
}

/// Along the rim of the tilt ring.
fn around(step: usize) -> Pos2 {
    // The bench as it lies in a window of this size with the column of numbers beside it.
    let centre = pos2(467.0, 399.5);
    let angle = (step as f32) * 0.01;
    centre + vec2(-angle.sin(), -angle.cos()) * 322.0
}

/// To and fro over the field of a length in the particulars.
fn sideways(step: usize) -> Pos2 {
    let swing = (step % 80) as f32;
    FIELD + vec2(10.0 + if swing < 40.0 { swing } else { 80.0 - swing }, 0.0)
}

/// The field of the target volume or, for a bulb, the outside diameter of its body.
const FIELD: Pos2 = pos2(1210.0, 198.0);

fn turning(count: usize, dimensions: bool) -> Drag {
    let mut bench = Bench::new(count);
    prepare(&mut bench, dimensions);
    bench.press(around(0), true);
    let mut drag = Drag {
        bench,
        path: around,
        step: 0,
    };
    for _ in 0..10 {
        drag.step();
    }
    assert!(drag.bench.window.session().stance.tilt_deg > 1.0, "the ring is turned");
    drag
}

fn dragging(count: usize, dimensions: bool) -> Drag {
    let mut bench = Bench::new(count);
    prepare(&mut bench, dimensions);
    // A key at a time: the first piece of the list is chosen in its combination box.
    bench.press(pos2(1100.0, 77.0), true);
    bench.press(pos2(1100.0, 77.0), false);
    for _ in 0..5 {
        bench.frame(Vec::new());
    }
    bench.press(pos2(1100.0, 108.0), true);
    bench.press(pos2(1100.0, 108.0), false);
    for _ in 0..5 {
        bench.frame(Vec::new());
    }
    assert!(!bench.window.session().selection.is_empty(), "a piece is chosen");
    bench.press(FIELD, true);
    let before = bench.window.session().document.revision();
    let mut drag = Drag {
        bench,
        path: sideways,
        step: 0,
    };
    for _ in 0..10 {
        drag.step();
    }
    assert!(
        drag.bench.window.session().document.revision() > before + 5,
        "a number is dragged"
    );
    drag
}

fn prepare(_bench: &mut Bench, _dimensions: bool) {}

fn benches(c: &mut Criterion) {
    for (name, make) in [
        ("a frame while turning", turning as fn(usize, bool) -> Drag),
        ("a frame while dragging a dimension", dragging),
    ] {
        let mut group = c.benchmark_group(name);
        for count in PIECES {
            let mut drag = make(count, false);
            group.bench_function(BenchmarkId::from_parameter(count), |b| b.iter(|| drag.step()));
        }
        group.finish();
    }
}

/// Median and worst time of a frame, over a second's drag and more.
fn table() {
    println!(
        "{:<40}{:>8}{:>12}{:>12}{:>12}",
        "ms a frame", "pieces", "median", "worst", "triangles"
    );
    for (name, make) in [
        ("turning", turning as fn(usize, bool) -> Drag),
        ("dragging a dimension", dragging),
    ] {
        for count in PIECES {
            let mut drag = make(count, false);
            let mut times: Vec<Duration> = (0..FRAMES)
                .map(|_| {
                    let began = Instant::now();
                    drag.step();
                    began.elapsed()
                })
                .collect();
            times.sort();
            let ms = |t: Duration| t.as_secs_f64() * 1e3;
            let parts = drag.bench.window.frame_times();
            let parts: Vec<String> = parts
                .iter()
                .map(|(part, [_, median, _])| format!("{part} {median:.2}"))
                .collect();
            println!(
                "{name:<40}{count:>8}{:>12.2}{:>12.2}{:>12}  {}",
                ms(times[FRAMES / 2]),
                ms(times[FRAMES - 1]),
                drag.bench.triangles,
                parts.join(", ")
            );
        }
    }
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    benches(&mut criterion);
    criterion.final_summary();
    // With the name of a benchmark only that one is wanted.
    if std::env::args().skip(1).all(|argument| argument.starts_with('-')) {
        table();
    }
}
