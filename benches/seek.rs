//! Times of what is found for twelve vessels: an even run, and a thousand glasses as a hand might make them.
//!
//! `cargo bench --bench seek`; the README's numbers are taken from here. Each is carried out once: it takes seconds.
#![allow(clippy::print_stdout, reason = "the times are this bench's output")]

use std::time::Instant;

use vialwright::geom::build::build;
use vialwright::geom::{Interior, Stance};
use vialwright::model::Stop;
use vialwright::run::Plan;
use vialwright::seek::even::{Question, even};
use vialwright::seek::spread::{self, Tolerances, spread};
use vialwright::seek::{Unwatched, targets};
use vialwright::starter::{Wish, start};

fn main() {
    let wish = Wish {
        vessels: 12,
        ..Wish::default()
    };
    let mut apparatus = start(&wish).expect("the starter's own wish can be met").apparatus;
    let built = build(&apparatus).expect("it can be built");
    let interior = Interior::new(built.names, built.primitives, built.ports).expect("its interior is sound");
    let targets = targets(&apparatus, &interior);
    // The charge is the targets and a little for the heel.
    let wanted: f64 = targets.iter().map(|target| target.volume).sum();
    let given: f64 = apparatus.charge.fills.iter().map(|fill| fill.volume_ml).sum();
    for fill in &mut apparatus.charge.fills {
        fill.volume_ml *= 1.01 * wanted / 1000.0 / given;
    }
    apparatus.run.stops = vec![Stop::at(0.0, 0.0)];
    let plan = Plan::of(&apparatus, &interior);
    let question = Question {
        targets,
        tolerance: 0.03,
        tilts: (-100.0, 100.0),
        rolls: (0.0, 0.0),
        finish: Stance::default(),
        most_stops: 2,
    };
    let began = Instant::now();
    let found = even(&interior, &plan, &question, &Unwatched).expect("nobody stops it");
    println!(
        "even run of {} vessels: {:.2} s, {} runs tried, met: {}",
        question.targets.len(),
        began.elapsed().as_secs_f64(),
        found.runs,
        found.is_met
    );
    let stops = found.stops.iter().map(|s| Stop::at(s.tilt_deg, s.roll_deg));
    apparatus.run.stops.extend(stops);
    apparatus.run.stops.push(Stop::at(0.0, 0.0));
    let ask = spread::Question {
        samples: 1000,
        seed: 1,
        tolerances: Tolerances::default(),
    };
    let began = Instant::now();
    let spread = spread(&apparatus, ask, &Unwatched).expect("nobody stops it");
    println!(
        "{} glasses of them: {:.2} s",
        spread.samples,
        began.elapsed().as_secs_f64()
    );
}
