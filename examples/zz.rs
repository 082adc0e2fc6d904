use vialwright::*;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    for name in [
        "teaching-three",
        "rubidium-six",
        "benzene-d6-five",
        "gallium-indium-eight",
    ] {
        let text = std::fs::read_to_string(format!("examples/{name}.json")).unwrap();
        let apparatus = model::file::read(&text).unwrap();
        let built = geom::build::build(&apparatus).unwrap();
        let interior = geom::Interior::new(built.names, built.primitives, built.ports).unwrap();
        let mut plan = run::Plan::of(&apparatus, &interior);
        plan.halts = vec![run::Halt::default()];
        let targets = seek::targets(&apparatus, &interior);
        let stops: usize = args.get(1).map_or(1, |s| s.parse().unwrap());
        let roll: f64 = args.get(2).map_or(0.0, |s| s.parse().unwrap());
        let q = seek::even::Question {
            targets: targets.clone(),
            tolerance: 0.03,
            tilts: (-100.0, 100.0),
            rolls: (-roll, roll),
            finish: geom::Stance::default(),
            most_stops: stops,
        };
        let t = std::time::Instant::now();
        let e = seek::even::even(&interior, &plan, &q, &seek::Unwatched).unwrap();
        println!(
            "{name}: {:?} runs {} met {} charge {:.2} targets {:.2}",
            t.elapsed(),
            e.runs,
            e.is_met,
            plan.given.iter().map(|g| g.1).sum::<f64>() / 1000.0,
            targets.iter().map(|t| t.volume).sum::<f64>() / 1000.0
        );
        println!("  stops {:?}", e.stops);
        println!(
            "  target {:.2} held {:.3?} heel {:.3} lost {:.3} worst {:.4}",
            targets[0].volume / 1000.0,
            e.shares.held.iter().map(|h| h / 1000.0).collect::<Vec<_>>(),
            e.shares.heel / 1000.0,
            e.shares.lost / 1000.0,
            e.shares.worst(&targets)
        );
        println!("  {:?}", e.obstacles);
        println!("  level {:.2?} lip {:.2?}", e.by_level_error, e.by_lip_height);
        if args.len() > 3 {
            let mut a = apparatus.clone();
            a.run.stops = std::iter::once(geom::Stance::default())
                .chain(e.stops.iter().copied())
                .chain([q.finish])
                .map(|s| model::Stop::at(s.tilt_deg, s.roll_deg))
                .collect();
            let t = std::time::Instant::now();
            let s = seek::spread::spread(
                &a,
                seek::spread::Question {
                    samples: 300,
                    seed: 1,
                    tolerances: Default::default(),
                },
                &seek::Unwatched,
            )
            .unwrap();
            println!(
                "  spread {:?} {} {} losing {}",
                t.elapsed(),
                s.samples,
                s.unbuildable,
                s.losing
            );
            for v in &s.vessels {
                println!(
                    "    {} mean {:.3} sd {:.3} under {:.2} brim {:.2}",
                    interior.pieces()[v.piece],
                    v.mean / 1000.0,
                    v.deviation / 1000.0,
                    v.under,
                    v.brimful
                );
            }
            for w in s.weights.iter().take(5) {
                println!("    {:.2} {}", w.part, w.dimension);
            }
        }
    }
}
