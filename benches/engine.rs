//! Times of the engine on combs of 4 to 192 vessels: a settled state, a full turn, its events, a dragged dimension, and
//! how the cost of a vessel grows with their number.
//!
//! `cargo bench --bench engine`; the README's table is taken from here.
#![allow(clippy::print_stdout, reason = "the growth table is this bench's output")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{BenchmarkId, Criterion};
use nalgebra::Vector2;
use vialwright::geom::events::{Asked, Turning, Vessel, of_turn};
use vialwright::geom::{Interior, Port, Postures, Primitive, Shape, Stance, pour};

const VESSELS: [usize; 4] = [4, 12, 48, 192];
const PITCH: f64 = 34.0;
/// Charge in the receiver, mm3 for each vessel.
const CHARGE: f64 = 1500.0;

/// Level, sloping, steep, rolled, and past the vertical.
const STANCES: [Stance; 6] = [
    Stance::new(0.0, 0.0),
    Stance::new(-4.0, 0.0),
    Stance::new(-38.0, 0.0),
    Stance::new(-12.0, 10.0),
    Stance::new(64.0, -24.0),
    Stance::new(117.0, 3.0),
];

/// The parts of a comb, as they are before an interior is made of them.
struct Comb {
    pieces: Vec<String>,
    primitives: Vec<Primitive>,
    ports: Vec<Port>,
}

impl Comb {
    /// A header with a receiver bulb on an arm at its left, a port at its right, and `count` vessels below. The body of
    /// the middle one has the bore radius `body_r`, mm.
    fn new(count: usize, body_r: f64) -> Self {
        let mut comb = Self {
            pieces: Vec::new(),
            primitives: Vec::new(),
            ports: Vec::new(),
        };
        let length = PITCH * count as f64 + 40.0;
        let header = comb.piece("header");
        comb.tube(header, [(-10.0, 0.0, 7.2), (length, 0.0, 7.2)]);
        let receiver = comb.piece("receiver");
        comb.tube(receiver, [(-5.0, 0.0, 6.0), (-40.0, 24.0, 6.0)]);
        // The receiver holds the whole charge: its volume grows with the number of vessels.
        let r = (2.0 * CHARGE * count as f64 * 0.75 / std::f64::consts::PI)
            .cbrt()
            .max(16.0);
        comb.ball(receiver, (-36.0 - 0.8 * r, 22.0 + 0.6 * r), r);
        for k in 0..count {
            let x = 30.0 + PITCH * k as f64;
            let r = if k == count / 2 { body_r } else { 5.5 };
            let vessel = comb.piece(&format!("vial-{}", k + 1));
            comb.tube(vessel, [(x, 0.0, 3.0), (x, -24.0, 3.0)]);
            comb.tube(vessel, [(x, -24.0, 3.0), (x, -32.0, 1.5)]);
            comb.tube(vessel, [(x, -32.0, 1.5), (x, -50.0, 1.5)]);
            comb.tube(vessel, [(x, -50.0, 1.5), (x, -58.0, r)]);
            comb.tube(vessel, [(x, -58.0, r), (x, -92.0, r)]);
            comb.ball(vessel, (x, -92.0), r);
        }
        let line = comb.piece("line");
        comb.tube(line, [(length - 12.0, 0.0, 4.0), (length - 12.0, 45.0, 4.0)]);
        let at = Vector2::new(length - 12.0, 45.0);
        comb.ports.push(Port {
            piece: line,
            at,
            heading: std::f64::consts::FRAC_PI_2,
            r: 4.0,
        });
        comb
    }

    fn piece(&mut self, name: &str) -> usize {
        self.pieces.push(name.to_owned());
        self.pieces.len() - 1
    }

    fn tube(&mut self, piece: usize, [from, to]: [(f64, f64, f64); 2]) {
        let shape = Shape::Frustum {
            from: Vector2::new(from.0, from.1),
            to: Vector2::new(to.0, to.1),
            r_from: from.2,
            r_to: to.2,
        };
        self.primitives.push(Primitive { piece, shape });
    }

    fn ball(&mut self, piece: usize, centre: (f64, f64), r: f64) {
        let shape = Shape::Spheroid {
            centre: Vector2::new(centre.0, centre.1),
            heading: 0.0,
            semi_axial: r,
            semi_radial: r,
        };
        self.primitives.push(Primitive { piece, shape });
    }

    fn interior(self) -> Interior {
        Interior::new(self.pieces, self.primitives, self.ports).expect("the comb is sound")
    }
}

/// The charge: all of it in the receiver.
fn charge(interior: &Interior, count: usize) -> Vec<(usize, f64)> {
    let receiver = interior.piece_index("receiver").expect("the comb has a receiver");
    vec![(receiver, CHARGE * count as f64)]
}

/// A full turn in half-degree steps; at each step the brim volumes of all basins. Returns their number, to be kept.
fn brims_over_a_turn(interior: &Interior) -> usize {
    (0..720)
        .map(|k| interior.at(Stance::new(f64::from(k) * 0.5, 0.0)).basins().len())
        .sum()
}

/// A full turn in half-degree steps; each step starts from the pools of the one before. Returns what was lost, mm3.
fn pour_over_a_turn(interior: &Interior, count: usize) -> f64 {
    let mut held = charge(interior, count);
    let mut lost = 0.0;
    for k in 0..720 {
        let settled = interior.at(Stance::new(f64::from(k) * -0.5, 0.0)).settle(&held);
        held = settled.pools.iter().map(|p| (p.piece, p.volume)).collect();
        lost += settled.lost.iter().map(|(_, v)| v).sum::<f64>();
    }
    lost
}

/// A run of three stances after the first: over to where the liquid runs, on, and back. Returns what is left in the glass, mm3.
fn run_of_three(interior: &Interior, count: usize) -> f64 {
    let stops = [50.0, 0.0, -20.0, 20.0].map(|tilt| Stance::new(tilt, 0.0));
    let filled = interior.at(stops[0]).give(&charge(interior, count));
    let glass = Postures::new(interior);
    let end = stops
        .windows(2)
        .fold(filled, |liquid, way| pour(&glass, liquid, way[0], way[1]).last());
    end.volume()
}

/// What the tilt ring asks: every event of a full turn, with metering angles of all vials.
fn ring_question(interior: &Interior, count: usize) -> Asked {
    let vessel = |(piece, name): (usize, &String)| match name.as_str() {
        "receiver" => Some(Vessel { piece, target: None }),
        name if name.starts_with("vial") => Some(Vessel {
            piece,
            target: Some(CHARGE),
        }),
        _ => None,
    };
    Asked {
        turning: Turning::Tilt { roll_deg: 0.0 },
        given: charge(interior, count),
        vessels: interior.pieces().iter().enumerate().filter_map(vessel).collect(),
    }
}

/// One step of a dragged dimension: the middle vessel's bore changes, everything is built anew and settled.
fn dragged(count: usize, step: usize) -> usize {
    let interior = Comb::new(count, 4.5 + 0.01 * (step % 100) as f64).interior();
    interior.at(STANCES[1]).settle(&charge(&interior, count)).pools.len()
}

fn benches(c: &mut Criterion) {
    let mut group = c.benchmark_group("settled state");
    for count in VESSELS {
        let interior = Comb::new(count, 5.5).interior();
        let given = charge(&interior, count);
        group.bench_function(BenchmarkId::from_parameter(count), |b| {
            let mut k = 0;
            b.iter(|| {
                k += 1;
                black_box(interior.at(STANCES[k % STANCES.len()]).settle(&given))
            });
        });
    }
    group.finish();

    let mut group = c.benchmark_group("all brims over a full turn");
    group.sample_size(10);
    for count in VESSELS {
        let interior = Comb::new(count, 5.5).interior();
        group.bench_function(BenchmarkId::from_parameter(count), |b| {
            b.iter(|| brims_over_a_turn(black_box(&interior)))
        });
    }
    group.finish();

    let mut group = c.benchmark_group("pour over a full turn");
    group.sample_size(10);
    for count in VESSELS {
        let interior = Comb::new(count, 5.5).interior();
        group.bench_function(BenchmarkId::from_parameter(count), |b| {
            b.iter(|| pour_over_a_turn(black_box(&interior), count));
        });
    }
    group.finish();

    let mut group = c.benchmark_group("run of three stances");
    group.sample_size(10);
    for count in VESSELS {
        let interior = Comb::new(count, 5.5).interior();
        group.bench_function(BenchmarkId::from_parameter(count), |b| {
            b.iter(|| run_of_three(black_box(&interior), count));
        });
    }
    group.finish();

    let mut group = c.benchmark_group("events of a full turn");
    group.sample_size(10);
    for count in VESSELS {
        let interior = Comb::new(count, 5.5).interior();
        let asked = ring_question(&interior, count);
        group.bench_function(BenchmarkId::from_parameter(count), |b| {
            b.iter(|| of_turn(black_box(&interior), &asked, &|| true));
        });
    }
    group.finish();

    let mut group = c.benchmark_group("dragged dimension");
    for count in VESSELS {
        group.bench_function(BenchmarkId::from_parameter(count), |b| {
            let mut step = 0;
            b.iter(|| {
                step += 1;
                black_box(dragged(count, step))
            });
        });
    }
    group.finish();
}

/// Mean time of a call, over at least a fifth of a second.
fn mean_time(mut call: impl FnMut(usize)) -> Duration {
    let began = Instant::now();
    let mut calls = 0;
    while began.elapsed() < Duration::from_millis(200) {
        call(calls);
        calls += 1;
    }
    began.elapsed() / u32::try_from(calls).unwrap_or(u32::MAX)
}

/// Cost of a vessel among 192 over that of one among 12: 1 is linear growth, 16 quadratic.
fn growth() {
    let per_vessel = |count: usize| {
        let interior = Comb::new(count, 5.5).interior();
        let given = charge(&interior, count);
        let settled = mean_time(|k| {
            black_box(interior.at(STANCES[k % STANCES.len()]).settle(&given));
        });
        let rebuilt = mean_time(|step| {
            black_box(dragged(count, step));
        });
        [settled, rebuilt].map(|t| t.as_secs_f64() / count as f64)
    };
    let (few, many) = (per_vessel(12), per_vessel(192));
    println!("cost of a vessel among 192 over one among 12 (1 is linear, 16 quadratic):");
    println!("  settled state     {:.2}", many[0] / few[0]);
    println!("  dragged dimension {:.2}", many[1] / few[1]);
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    benches(&mut criterion);
    criterion.final_summary();
    growth();
}
