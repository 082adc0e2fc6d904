//! Times of whole frames of the window with 12, 48 and 200 pieces: while the glass is turned and while a length is
//! dragged, with and without dimensions. A frame is everything between the system's events and the triangles for the
//! graphics device; what that device does with them is not counted.
//!
//! `cargo bench --bench frame`.
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
const SCREEN: egui::Vec2 = vec2(1440.0, 900.0);
/// Frames for the table.
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
    fn new(count: usize, dimensions: bool) -> Self {
        let apparatus = apparatus(count);
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bench.json");
        std::fs::write(&path, file::write(&apparatus)).expect("a file");
        let ctx = Context::default();
        let opening = Opening {
            path: Some(path),
            ..Opening::default()
        };
        let window = Window::new(&ctx, opening);
        let mut bench = Self {
            ctx,
            window,
            time: 0.0,
            triangles: 0,
        };
        assert_eq!(bench.window.session().document.now().names().len(), count);
        bench.frames(3);
        if dimensions {
            let ctx = bench.ctx.clone();
            bench.window.carry_out(&ctx, Command::Dimensions);
        }
        bench.frames(3);
        bench
    }

    /// One frame, up to the triangles.
    fn frame(&mut self, events: Vec<Event>) -> egui::PlatformOutput {
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
        output.platform_output
    }

    fn frames(&mut self, count: usize) {
        for _ in 0..count {
            self.frame(Vec::new());
        }
    }

    /// Where the control or piece of that name is, as an assistive tool is told.
    fn find(&mut self, name: &str) -> Rect {
        self.ctx.enable_accesskit();
        let output = self.frame(Vec::new());
        self.ctx.disable_accesskit();
        let update = output.accesskit_update.expect("an assistive tool was asked for");
        let mut nodes = update.nodes.iter().map(|(_, node)| node);
        let node = nodes.find(|node| node.label() == Some(name)).expect(name);
        let bounds = node.bounds().expect("it has a place");
        let at = |x: f64, y: f64| pos2(x as f32, y as f32);
        Rect::from_min_max(at(bounds.x0, bounds.y0), at(bounds.x1, bounds.y1))
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
}

/// A drag that is under way and never ends: each step moves the hand a little.
struct Drag {
    bench: Bench,
    path: Box<dyn Fn(usize) -> Pos2>,
    step: usize,
}

impl Drag {
    fn begin(mut bench: Bench, path: impl Fn(usize) -> Pos2 + 'static) -> Self {
        bench.press(path(0), true);
        let mut drag = Self {
            bench,
            path: Box::new(path),
            step: 0,
        };
        for _ in 0..20 {
            drag.step();
        }
        drag
    }

    fn step(&mut self) {
        self.step += 1;
        let at = (self.path)(self.step);
        self.bench.frame(vec![Event::PointerMoved(at)]);
    }
}

/// The glass is turned by the rim of the tilt ring.
fn turning(mut bench: Bench) -> Drag {
    let rim = bench.find("Tilt ring");
    let drag = Drag::begin(bench, move |step| {
        let angle = step as f32 * 0.01;
        rim.center() + vec2(-angle.sin(), -angle.cos()) * (rim.width() / 2.0 - 10.0)
    });
    assert!(drag.bench.window.session().stance.tilt_deg > 1.0, "the glass turns");
    drag
}

/// A length that all vials of a row have is dragged to and fro in its field.
fn dragging(mut bench: Bench) -> Drag {
    let vial = bench.find("vial-a-2").center();
    bench.press(vial, true);
    bench.press(vial, false);
    bench.frames(5);
    let field = bench.find("Stem: length").center();
    let before = bench.window.session().document.revision();
    let drag = Drag::begin(bench, move |step| {
        let swing = (step % 80) as f32;
        field + vec2(if swing < 40.0 { swing } else { 80.0 - swing }, 0.0)
    });
    let after = drag.bench.window.session().document.revision();
    assert!(after > before + 10, "the length follows the hand");
    drag
}

type Gesture = fn(Bench) -> Drag;

/// What is measured: words, gesture, whether dimensions are shown.
const SCENES: [(&str, Gesture, bool); 4] = [
    ("turning", turning, false),
    ("turning, dimensions shown", turning, true),
    ("dragging a length", dragging, false),
    ("dragging a length, dimensions shown", dragging, true),
];

fn benches(c: &mut Criterion) {
    for (words, gesture, dimensions) in SCENES {
        let mut group = c.benchmark_group(words);
        for count in PIECES {
            // Made only when it is among what is measured.
            let mut drag = None;
            group.bench_function(BenchmarkId::from_parameter(count), |b| {
                let drag = drag.get_or_insert_with(|| gesture(Bench::new(count, dimensions)));
                b.iter(|| drag.step());
            });
        }
        group.finish();
    }
}

/// Time that this thread has had a processor, where the system tells it: on a busy machine frames take longer than
/// the work in them.
fn busy() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    Some(Duration::from_nanos(text.split_whitespace().next()?.parse().ok()?))
}

/// Median and worst time of a frame over four seconds at 60 Hz, what of it is work, and what the median consists of.
fn table() {
    println!(
        "{:<38}{:>7}{:>9}{:>9}{:>9}{:>11}  of which",
        "ms a frame", "pieces", "median", "worst", "work", "triangles"
    );
    for (words, gesture, dimensions) in SCENES {
        for count in PIECES {
            let mut drag = gesture(Bench::new(count, dimensions));
            let before = busy();
            let mut times: Vec<Duration> = (0..FRAMES)
                .map(|_| {
                    let began = Instant::now();
                    drag.step();
                    began.elapsed()
                })
                .collect();
            let work = busy()
                .zip(before)
                .map(|(after, before)| (after - before) / FRAMES as u32);
            times.sort();
            let ms = |t: Duration| t.as_secs_f64() * 1e3;
            let parts = drag.bench.window.frame_times();
            let parts: Vec<String> = parts
                .iter()
                .map(|(part, [_, median, _])| format!("{part} {median:.2}"))
                .collect();
            println!(
                "{words:<38}{count:>7}{:>9.2}{:>9.2}{:>9}{:>11}  {}",
                ms(times[FRAMES / 2]),
                ms(times[FRAMES - 1]),
                work.map_or_else(|| "?".to_owned(), |work| format!("{:.2}", ms(work))),
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
