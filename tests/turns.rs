//! The events of a turn: closed forms, and what must hold whatever the glass.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails the test")]

use nalgebra::{Rotation2, Vector2};
use proptest::prelude::*;
use vialwright::geom::events::{Asked, Event, Turn, Turning, Vessel, What, of_turn};
use vialwright::geom::{Interior, Port, Primitive, Question, RunsTo, Shape, Stance, tilts};

/// Primitives with the names of their pieces and ports.
#[derive(Clone, Debug, Default)]
struct Glass {
    names: Vec<String>,
    primitives: Vec<Primitive>,
    ports: Vec<Port>,
}

impl Glass {
    fn piece(&mut self, name: &str) -> usize {
        self.names.push(name.to_owned());
        self.names.len() - 1
    }

    fn tube(&mut self, piece: usize, from: Vector2<f64>, to: Vector2<f64>, r_from: f64, r_to: f64) {
        let shape = Shape::Frustum { from, to, r_from, r_to };
        self.primitives.push(Primitive { piece, shape });
    }

    fn ball(&mut self, piece: usize, centre: Vector2<f64>, r: f64) {
        let shape = Shape::Spheroid {
            centre,
            heading: 0.0,
            semi_axial: r,
            semi_radial: r,
        };
        self.primitives.push(Primitive { piece, shape });
    }

    fn port(&mut self, piece: usize, at: Vector2<f64>, heading: f64, r: f64) {
        self.ports.push(Port { piece, at, heading, r });
    }

    fn interior(&self) -> Interior {
        Interior::new(self.names.clone(), self.primitives.clone(), self.ports.clone()).unwrap()
    }

    /// The same glass seen from behind. Only frusta and spheres are known here.
    fn mirrored(&self) -> Self {
        let flip = |p: Vector2<f64>| Vector2::new(-p.x, p.y);
        let shape = |shape: Shape| match shape {
            Shape::Frustum { from, to, r_from, r_to } => Shape::Frustum {
                from: flip(from),
                to: flip(to),
                r_from,
                r_to,
            },
            Shape::Spheroid {
                centre,
                heading,
                semi_axial,
                semi_radial,
            } => Shape::Spheroid {
                centre: flip(centre),
                heading: std::f64::consts::PI - heading,
                semi_axial,
                semi_radial,
            },
            Shape::Torus { .. } => shape,
        };
        Self {
            names: self.names.clone(),
            primitives: (self.primitives.iter())
                .map(|p| Primitive {
                    piece: p.piece,
                    shape: shape(p.shape),
                })
                .collect(),
            ports: (self.ports.iter())
                .map(|p| Port {
                    at: flip(p.at),
                    heading: std::f64::consts::PI - p.heading,
                    ..*p
                })
                .collect(),
        }
    }
}

const UP: f64 = std::f64::consts::FRAC_PI_2;

/// Every piece is asked about; those in `targets` with a target.
fn ask(glass: &Glass, turning: Turning, given: &[(usize, f64)], targets: &[(usize, f64)]) -> Turn {
    let target = |piece: usize| targets.iter().find(|(at, _)| *at == piece).map(|(_, v)| *v);
    let asked = Asked {
        turning,
        given: given.to_vec(),
        vessels: (0..glass.names.len())
            .map(|piece| Vessel {
                piece,
                target: target(piece),
            })
            .collect(),
    };
    of_turn(&glass.interior(), &asked, &|| true).unwrap()
}

const TILT: Turning = Turning::Tilt { roll_deg: 0.0 };

/// An upright cylinder of radius 10 and length 60, open at the top.
fn beaker() -> Glass {
    let mut glass = Glass::default();
    let beaker = glass.piece("beaker");
    glass.tube(beaker, Vector2::zeros(), Vector2::new(0.0, 60.0), 10.0, 10.0);
    glass.port(beaker, Vector2::new(0.0, 60.0), UP, 10.0);
    glass
}

/// What the beaker keeps at a tilt, by slices: the level goes through the lip.
fn kept_by_beaker(tilt_deg: f64) -> f64 {
    let (r, length) = (10.0, 60.0);
    let steep = tilt_deg.to_radians().tan();
    let n = 200_000;
    let slice = |i: usize| {
        // x = -r cos(a), so that the ends are smooth.
        let a = std::f64::consts::PI * (i as f64 + 0.5) / f64::from(n);
        let (x, half) = (-r * a.cos(), r * a.sin());
        let height = (length - (r - x) * steep).max(0.0);
        2.0 * half * height * r * a.sin() * std::f64::consts::PI / f64::from(n)
    };
    (0..n as usize).map(slice).sum()
}

#[test]
fn a_cylinder_pours_where_the_closed_form_says() {
    let base = std::f64::consts::PI * 100.0;
    for filled_mm in [20.0, 35.0, 50.0] {
        let volume = base * filled_mm;
        let turn = ask(&beaker(), TILT, &[(0, volume)], &[(0, base * 40.0)]);
        // While the bottom stays covered the brim volume is base (length - r tan t).
        let spill = |filled: f64| ((60.0 - filled) / 10.0f64).atan().to_degrees();
        let exact = if filled_mm >= 30.0 {
            Some(spill(filled_mm))
        } else {
            None
        };
        for way in [1.0, -1.0] {
            let began: Vec<&Event> = (turn.events.iter())
                .filter(|e| matches!(e.what, What::Begins { .. }) && e.at_deg * way > 0.0)
                .collect();
            assert_eq!(began.len(), 1, "{:?}", turn.events);
            let What::Begins { volume: held, to } = began[0].what else {
                unreachable!()
            };
            assert_eq!(to, Some(RunsTo::Port(0)));
            assert!((held - volume).abs() < 1e-9 * volume);
            if let Some(exact) = exact {
                assert!(
                    (began[0].at_deg * way - exact).abs() < 1e-6,
                    "{} {exact}",
                    began[0].at_deg
                );
            }
            assert!((kept_by_beaker(began[0].at_deg.abs()) - volume).abs() < 1e-4 * volume);
            let drained: Vec<&Event> = (turn.events.iter())
                .filter(|e| matches!(e.what, What::Drained { .. }) && e.at_deg * way > 0.0)
                .collect();
            assert_eq!(drained.len(), 1, "{:?}", turn.events);
            let heel = kept_by_beaker(drained[0].at_deg.abs());
            assert!((heel / (0.005 * volume) - 1.0).abs() < 1e-3, "{heel} of {volume}");
            let meters: Vec<f64> = (turn.events.iter())
                .filter(|e| matches!(e.what, What::Meters { .. }) && e.at_deg * way > 0.0)
                .map(|e| e.at_deg * way)
                .collect();
            assert_eq!(meters.len(), 1);
            assert!((meters[0] - spill(40.0)).abs() < 1e-6, "{meters:?}");
        }
        let hold = turn.holds[0];
        assert!(
            (hold.from_deg + hold.to_deg).abs() < 1e-6,
            "as the glass is its own mirror image"
        );
        assert_eq!(turn.losses.len(), 2);
        for loss in &turn.losses {
            assert!((loss.from_deg.abs() - hold.to_deg).abs() < 1e-3);
            assert!(loss.to_deg.abs() > 89.0 && loss.to_deg.abs() < 90.1, "{loss:?}");
            assert!(
                loss.before == 0.0 && (loss.by_end - volume).abs() < 1e-6 * volume,
                "{loss:?}"
            );
        }
    }
}

#[test]
fn liquid_that_does_not_fit_runs_from_the_start() {
    let base = std::f64::consts::PI * 100.0;
    let turn = ask(&beaker(), TILT, &[(0, base * 75.0)], &[]);
    assert!(turn.holds.is_empty());
    let start: Vec<&Event> = turn.events.iter().filter(|e| e.at_deg == 0.0).collect();
    let [
        Event {
            what: What::Begins { to, .. },
            ..
        },
    ] = start[..]
    else {
        panic!("{start:?}")
    };
    assert_eq!(*to, Some(RunsTo::Port(0)));
    let lost = |at_start: bool| {
        let here = turn.moments.iter().filter(|m| (m.at_deg == 0.0) == at_start);
        here.map(|m| m.lost[0]).fold(f64::INFINITY, f64::min)
    };
    assert!((lost(true) - base * 15.0).abs() < 1e-6);
    assert!(lost(false) >= base * 15.0 - 1e-6, "what is lost stays lost");
}

#[test]
fn nothing_happens_where_there_is_no_liquid() {
    let turn = ask(&beaker(), TILT, &[], &[]);
    assert!(turn.events.is_empty() && turn.holds.is_empty() && turn.losses.is_empty());
    assert!(turn.moments.iter().all(|m| m.held.is_empty() && m.lost == [0.0]));
}

#[test]
fn a_turn_that_is_no_longer_wanted_is_given_up() {
    let glass = beaker();
    let asked = Asked {
        turning: TILT,
        given: vec![(0, 5000.0)],
        vessels: vec![Vessel { piece: 0, target: None }],
    };
    assert_eq!(of_turn(&glass.interior(), &asked, &|| false), None);
}

/// A level header with a receiver on an arm at its left, three vials below and a pump line on top at the right.
fn row() -> Glass {
    let mut glass = Glass::default();
    let header = glass.piece("header");
    glass.tube(header, Vector2::zeros(), Vector2::new(200.0, 0.0), 7.0, 7.0);
    let receiver = glass.piece("receiver");
    glass.tube(receiver, Vector2::new(8.0, 0.0), Vector2::new(-30.0, 20.0), 6.0, 6.0);
    glass.ball(receiver, Vector2::new(-46.0, 2.0), 24.0);
    for k in 0..3 {
        let x = 50.0 + 40.0 * f64::from(k);
        let vial = glass.piece(&format!("vial-{}", k + 1));
        glass.tube(vial, Vector2::new(x, 0.0), Vector2::new(x, -25.0), 4.0, 4.0);
        glass.tube(vial, Vector2::new(x, -25.0), Vector2::new(x, -70.0), 6.0, 6.0);
        glass.ball(vial, Vector2::new(x, -70.0), 6.0);
    }
    let pump = glass.piece("pump");
    glass.tube(pump, Vector2::new(190.0, 0.0), Vector2::new(190.0, 40.0), 4.0, 4.0);
    glass.port(pump, Vector2::new(190.0, 40.0), UP, 4.0);
    glass
}

#[test]
fn vials_fill_in_their_order_and_pass_on_to_the_next() {
    let glass = row();
    let turn = ask(&glass, TILT, &[(1, 11_000.0)], &[]);
    let filled: Vec<&Event> = (turn.events.iter().rev())
        .filter(|e| e.at_deg < 0.0 && matches!(e.what, What::Brims { .. }) && e.piece >= 2)
        .collect();
    let pieces: Vec<usize> = filled.iter().map(|e| e.piece).collect();
    assert!(
        pieces.starts_with(&[2, 3]),
        "clockwise, from the left: {:?}",
        turn.events
    );
    let What::Brims { volume, to } = filled[0].what else {
        unreachable!()
    };
    assert_eq!(to, Some(RunsTo::Piece(3)));
    // Where it is at its brim it holds its brim volume.
    let stance = Stance::new(filled[0].at_deg, 0.0);
    let interior = glass.interior();
    let brim = interior.at(stance).brim_of_piece(2);
    assert!((volume - brim).abs() < 1e-4 * brim, "{volume} {brim}");
    let begins = (turn.events.iter().rev()).find(|e| e.at_deg < 0.0 && matches!(e.what, What::Begins { .. }));
    let What::Begins { to, .. } = begins.unwrap().what else {
        unreachable!()
    };
    assert_eq!(to, Some(RunsTo::Piece(2)), "first into the nearest vial");
}

#[test]
fn a_roll_has_its_own_events() {
    let glass = row();
    let brim = glass.interior().at(Stance::default()).brim_of_piece(1);
    let turning = Turning::Roll { tilt_deg: 0.0 };
    let turn = ask(&glass, turning, &[(1, 0.95 * brim)], &[(2, 3_000.0)]);
    assert!(turn.moments.first().unwrap().at_deg == -90.0 && turn.moments.last().unwrap().at_deg == 90.0);
    let mut mirrored: Vec<Event> = turn
        .events
        .iter()
        .map(|e| Event {
            at_deg: -e.at_deg,
            ..*e
        })
        .collect();
    mirrored.sort_by(|a, b| a.at_deg.total_cmp(&b.at_deg).then(a.piece.cmp(&b.piece)));
    // The glass is the same before and behind its plane.
    alike(&turn.events, &mirrored, 1e-3).unwrap();
    assert!(turn.events.iter().any(|e| matches!(e.what, What::Begins { .. })));
}

/// Compares events by kind, piece and, within `deg`, angle.
fn alike(a: &[Event], b: &[Event], deg: f64) -> Result<(), TestCaseError> {
    let key = |e: &Event| match e.what {
        What::Begins { .. } => 0,
        What::Brims { .. } => 1,
        What::Drained { .. } => 2,
        What::Meters { .. } => 3,
    };
    let sorted = |events: &[Event]| {
        let mut events = events.to_vec();
        events.sort_by(|x, y| {
            (x.piece, key(x))
                .cmp(&(y.piece, key(y)))
                .then(x.at_deg.total_cmp(&y.at_deg))
        });
        events
    };
    let (a, b) = (sorted(a), sorted(b));
    let of = |events: &[Event]| events.iter().map(|e| (e.piece, key(e))).collect::<Vec<_>>();
    prop_assert_eq!(of(&a), of(&b), "\n{:?}\n{:?}", a, b);
    for (x, y) in a.iter().zip(&b) {
        prop_assert!((x.at_deg - y.at_deg).abs() <= deg, "\n{:?}\n{:?}", x, y);
    }
    Ok(())
}

/// A header on a slope with a receiver at the left, vials at odd angles and a pump line.
fn comb() -> impl Strategy<Value = Glass> {
    let vial = (0.0..1.0f64, -130.0..-50.0f64, 2.0..4.5f64, 4.0..7.0f64, 15.0..45.0f64);
    let vials = prop::collection::vec(vial, 2..5);
    (vials, -8.0..8.0f64, 5.5..9.0f64, 14.0..25.0f64, any::<bool>()).prop_map(|(vials, slope, bore, bulb, open)| {
        let along = Rotation2::new(slope.to_radians()) * Vector2::x();
        let normal = Rotation2::new(UP) * along;
        let length = 36.0 * (vials.len() as f64 + 1.0);
        let mut glass = Glass::default();
        let header = glass.piece("header");
        glass.tube(header, Vector2::zeros(), along * length, bore, bore);
        let receiver = glass.piece("receiver");
        let arm = normal * 15.0 - along * 30.0;
        glass.tube(receiver, along * 8.0, arm, 0.8 * bore, 0.8 * bore);
        glass.ball(receiver, arm - (along + normal) * (0.6 * bulb), bulb);
        for (i, (shift, angle, neck, body, long)) in vials.into_iter().enumerate() {
            let vial = glass.piece(&format!("vial-{}", i + 1));
            let from = along * (36.0 * (i as f64 + 0.8 + 0.4 * shift));
            let down = Rotation2::new((angle + slope).to_radians()) * Vector2::x();
            let places = [0.0, bore + 12.0, bore + 20.0, bore + 20.0 + long];
            let radii = [neck.min(0.8 * bore), neck.min(0.8 * bore), body, body];
            for k in 0..3 {
                glass.tube(
                    vial,
                    from + down * places[k],
                    from + down * places[k + 1],
                    radii[k],
                    radii[k + 1],
                );
            }
            glass.ball(vial, from + down * places[3], body);
        }
        if open {
            let pump = glass.piece("pump");
            let foot = along * (length - 8.0);
            glass.tube(pump, foot, foot + normal * 40.0, 0.6 * bore, 0.6 * bore);
            glass.port(pump, foot + normal * 40.0, slope.to_radians() + UP, 0.6 * bore);
        }
        glass
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn what_was_given_is_held_or_lost_all_along(glass in comb(), volume in 500.0..14_000.0f64, roll in prop_oneof![2 => Just(0.0), 1 => -60.0..60.0f64]) {
        let turn = ask(&glass, Turning::Tilt { roll_deg: roll }, &[(1, volume)], &[]);
        for end in [turn.moments.first(), turn.moments.last()].into_iter().flatten() {
            prop_assert!(end.at_deg.abs() == 180.0 || end.held.is_empty(), "{:?}", end);
        }
        for m in &turn.moments {
            let found = m.held.iter().map(|h| h.1).sum::<f64>() + m.lost.iter().sum::<f64>() + m.left_over;
            prop_assert!((found - volume).abs() <= 1e-12 * volume * turn.moments.len() as f64, "{} of {} at {}", found, volume, m.at_deg);
        }
        for pair in turn.moments.windows(2) {
            prop_assert!(pair[0].at_deg < pair[1].at_deg);
            for (a, b) in pair[0].lost.iter().zip(&pair[1].lost) {
                let grows_outwards = if pair[1].at_deg <= 0.0 { a >= b } else { b >= a };
                prop_assert!(grows_outwards, "{} {} at {}", a, b, pair[0].at_deg);
            }
        }
        for loss in &turn.losses {
            prop_assert!(loss.before >= 0.0 && loss.by_end > loss.before && loss.by_end <= volume * (1.0 + 1e-9));
            prop_assert!(loss.to_deg.abs() >= loss.from_deg.abs() && loss.from_deg * loss.to_deg >= 0.0);
        }
        for end in [turn.moments.first(), turn.moments.last()].into_iter().flatten() {
            let last = turn.losses.iter().filter(|l| l.to_deg * end.at_deg > 0.0).map(|l| l.by_end).fold(0.0, f64::max);
            let lost: f64 = end.lost.iter().sum();
            prop_assert!((lost - last).abs() <= 1e-9 * volume, "{} {}", lost, last);
        }
    }

    #[test]
    fn mirrored_glass_has_mirrored_events(glass in comb(), volume in 500.0..14_000.0f64, roll in prop_oneof![2 => Just(0.0), 1 => -60.0..60.0f64]) {
        let turning = Turning::Tilt { roll_deg: roll };
        let targets = [(2, 1_000.0), (3, 1_000.0)];
        let ours = ask(&glass, turning, &[(1, volume)], &targets);
        let theirs = ask(&glass.mirrored(), turning, &[(1, volume)], &targets);
        // What runs into a hollow and out of it again within one step is not seen from every side.
        let is_much = |e: &&Event| match e.what {
            What::Begins { volume: v, .. } | What::Brims { volume: v, .. } => v >= 0.03 * volume,
            What::Drained { .. } | What::Meters { .. } => true,
        };
        let own: Vec<Event> = ours.events.iter().filter(is_much).copied().collect();
        let back = theirs.events.iter().filter(is_much);
        let back: Vec<Event> = back.map(|e| Event { at_deg: -e.at_deg, ..*e }).collect();
        // Where a vessel that a trickle keeps near its brim runs over anew hangs on how much of it came.
        alike(&own, &back, 0.05)?;
        prop_assert_eq!(ours.losses.len(), theirs.losses.len());
    }

    #[test]
    fn the_first_events_are_those_of_the_piece_alone(glass in comb(), part in 0.05..0.95f64, target in 300.0..2_000.0f64) {
        let interior = glass.interior();
        let brim = interior.at(Stance::default()).brim_of_piece(1);
        prop_assume!(brim.is_finite() && brim > 100.0);
        let volume = part * brim;
        let turn = ask(&glass, TILT, &[(1, volume)], &[(2, target)]);
        let question = Question { volume: Some(volume), target: None, heel: None };
        let exact = tilts(&interior, 1, question, Stance::default()).spill;
        for (found, exact, way) in [
            (turn.holds[0].to_deg, exact.anticlockwise, 1.0),
            (-turn.holds[0].from_deg, exact.clockwise.map(|t| -t), -1.0),
        ] {
            let exact = exact.unwrap_or(180.0);
            // Where the lowest point of the piece leaps into another hollow the liquid does not follow.
            let brim = |t: f64| interior.at(Stance::new(way * t, 0.0)).brim_of_piece(1);
            if exact < 60.0 && (brim(exact - 1e-6) - volume).abs() < 1e-5 * volume {
                prop_assert!((found - exact).abs() < 1e-3, "{} {}", found, exact);
            }
        }
        let question = Question { volume: None, target: Some(target), heel: None };
        let exact = tilts(&interior, 2, question, Stance::default()).metering;
        for (way, exact) in [(1.0, exact.anticlockwise), (-1.0, exact.clockwise)] {
            let found = turn.events.iter().find(|e| matches!(e.what, What::Meters { .. }) && e.at_deg * way > 0.0);
            let found = found.map(|e| e.at_deg);
            // Where two hollows of a vessel are equal it is a vessel of both for that one angle.
            let goes_through = |t: &f64| {
                let brim = |side: f64| interior.at(Stance::new(t + side, 0.0)).brim_of_piece(2);
                (brim(-1e-3) < target) != (brim(1e-3) < target)
            };
            match exact.filter(|t| t.abs() < 179.0 && goes_through(t)) {
                Some(t) => prop_assert!(found.is_some_and(|f| (f - t).abs() < 1e-3), "{:?} {}", found, t),
                None => prop_assert!(exact.is_some() || found.is_none_or(|f| f.abs() >= 179.0), "{:?}", found),
            }
        }
    }
}
