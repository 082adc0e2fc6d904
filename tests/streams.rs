//! Where an overflow goes, on a level header with three vials square to it: expectations derived by hand.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails the test")]

use nalgebra::{Rotation2, Vector2};
use vialwright::geom::{Interior, Pool, Port, Primitive, RunsTo, Shape, Stance};

const BORE: f64 = 6.8;
const MOUTH: f64 = 3.0;

fn frustum([x0, y0]: [f64; 2], [x1, y1]: [f64; 2], r_from: f64, r_to: f64) -> Shape {
    Shape::Frustum {
        from: Vector2::new(x0, y0),
        to: Vector2::new(x1, y1),
        r_from,
        r_to,
    }
}

fn tube(piece: usize, from: [f64; 2], to: [f64; 2], r: f64) -> Primitive {
    let shape = frustum(from, to, r, r);
    Primitive { piece, shape }
}

/// Header from x = 0 to 160 (piece 0), vials at 40, 80 and 120 (pieces 1 to 3), a port on top at 20 (piece 4).
fn comb() -> Interior {
    let mut primitives = vec![tube(0, [0.0, 0.0], [160.0, 0.0], BORE)];
    for (piece, x) in [(1, 40.0), (2, 80.0), (3, 120.0)] {
        primitives.push(tube(piece, [x, 0.0], [x, -20.0], MOUTH));
        primitives.push(tube(piece, [x, -20.0], [x, -60.0], 5.0));
    }
    primitives.push(tube(4, [20.0, 0.0], [20.0, 40.0], MOUTH));
    let port = Port {
        piece: 4,
        at: Vector2::new(20.0, 40.0),
        heading: std::f64::consts::FRAC_PI_2,
        r: MOUTH,
    };
    let names = ["header", "vial-1", "vial-2", "vial-3", "pump"]
        .map(str::to_owned)
        .to_vec();
    Interior::new(names, primitives, vec![port]).unwrap()
}

fn basin(interior: &Interior, stance: Stance, piece: usize) -> Pool {
    interior
        .at(stance)
        .basins()
        .into_iter()
        .find(|b| b.piece == piece)
        .unwrap()
}

#[test]
fn vials_pass_on_downhill_in_both_directions() {
    let comb = comb();
    for (tilt, order) in [(-5.0, [1, 2, 3, 0]), (5.0, [3, 2, 1, 0])] {
        for pair in order.windows(2) {
            let runs_to = basin(&comb, Stance::new(tilt, 0.0), pair[0]).runs_to;
            assert_eq!(runs_to, Some(RunsTo::Piece(pair[1])), "tilt {tilt}, from {}", pair[0]);
        }
    }
}

#[test]
fn vials_brim_in_turn() {
    let comb = comb();
    let stance = Stance::new(-5.0, 0.0);
    let brim = basin(&comb, stance, 1).brim.unwrap();
    // Two vials and a half: the first two at their brims, the rest in the third.
    let settled = comb.at(stance).settle(&[(1, 2.5 * brim)]);
    let held: Vec<_> = settled.pools.iter().map(|p| (p.piece, p.volume / brim)).collect();
    assert_eq!(held.iter().map(|h| h.0).collect::<Vec<_>>(), [1, 2, 3]);
    for (got, exact) in held.iter().map(|h| h.1).zip([1.0, 1.0, 0.5]) {
        assert!((got - exact).abs() < 1e-9, "{held:?}");
    }
    // The first runs past the full second into the third.
    assert_eq!(settled.pools[0].runs_to, Some(RunsTo::Piece(3)));
    assert!(settled.lost.is_empty());
}

#[test]
fn a_stream_passes_below_a_mouth_at_the_side() {
    let comb = comb();
    let tilt = -5.0_f64;
    // The lowest line lies at the angle psi from the vials, tan psi = tan roll / cos tilt; the mouth reaches to
    // sin psi = MOUTH / BORE.
    let psi = (MOUTH / BORE).asin();
    let limit = (psi.tan() * tilt.to_radians().cos()).atan().to_degrees();
    for side in [1.0, -1.0] {
        let within = basin(&comb, Stance::new(tilt, side * (limit - 0.01)), 1).runs_to;
        assert_eq!(within, Some(RunsTo::Piece(2)));
        let beyond = basin(&comb, Stance::new(tilt, side * (limit + 0.01)), 1).runs_to;
        assert_eq!(beyond, Some(RunsTo::Piece(0)));
    }
}

#[test]
fn a_level_header_runs_as_if_tilted_a_little_more() {
    // Tilt larger by an infinitesimal amount: the right end stands higher, so streams go left. What the left end of the
    // header keeps is infinitesimal too, no hollow: the first vial, brimful with it, runs over into the second.
    let comb = comb();
    for (from, to) in [(3, 2), (2, 1), (1, 2)] {
        assert_eq!(basin(&comb, Stance::default(), from).runs_to, Some(RunsTo::Piece(to)));
    }
}

#[test]
fn a_trough_rolled_gives_all_vials_their_share_at_once() {
    // Lying as a trough (vials level or above), then rolled upright: from the same liquid at the same level every mouth
    // takes the same. At rest upright the header is empty but for what its ends keep, and that is nothing.
    let comb = comb();
    let upright = comb.at(Stance::default());
    let brims: Vec<f64> = upright
        .basins()
        .iter()
        .filter(|b| b.piece > 0)
        .map(|b| b.brim.unwrap())
        .collect();
    for brim in &brims {
        assert!((brim / brims[0] - 1.0).abs() < 1e-9, "{brims:?}");
    }
    let trough = comb.at(Stance::new(0.0, 95.0)).settle(&[(0, 3000.0)]);
    assert_eq!(trough.pools.len(), 1, "{:?}", trough.pools);
    assert_eq!(trough.pools[0].pieces, [0]);
}

#[test]
fn what_tops_everything_leaves_by_the_port() {
    let comb = comb();
    // Upside down the port is the lowest mouth of all.
    let settled = comb.at(Stance::new(180.0, 0.0)).settle(&[(2, 2000.0)]);
    let lost: f64 = settled.lost.iter().map(|l| l.1).sum();
    let kept: f64 = settled.pools.iter().map(|p| p.volume).sum();
    assert!((lost + kept - 2000.0).abs() < 1e-9 && lost > 0.0, "{lost} {kept}");
    assert!(settled.lost.iter().all(|l| l.0 == 0));
}

#[test]
fn a_stream_lies_on_the_wall_of_a_pointed_bottom() {
    // A body (piece 0) of bore 8 that ends in a point (piece 1), and a side arm (piece 2) from the middle of the point's
    // wall, which lies on the lower side: the stream follows the wall from the rim and meets the arm's mouth before the
    // tip. The rim lies on both walls only to rounding, so many stances are tried.
    let primitives = |turn: f64| {
        let at = |x: f64, y: f64| <[f64; 2]>::from(Rotation2::new(turn) * Vector2::new(x, y));
        vec![
            tube(0, at(0.0, 60.0), at(0.0, 0.0), 8.0),
            Primitive {
                piece: 1,
                shape: frustum(at(0.0, 0.0), at(0.0, -12.0), 8.0, 0.0),
            },
            tube(2, at(2.0, -4.0), at(30.0, -32.0), 1.5),
        ]
    };
    let names = ["body", "tip", "arm"].map(str::to_owned).to_vec();
    for k in 0..200 {
        let tilt = -1.0 - 0.16 * f64::from(k);
        let turn = 0.37 * f64::from(k);
        let interior = Interior::new(names.clone(), primitives(turn), Vec::new()).unwrap();
        let settled = interior
            .at(Stance::new(tilt - turn.to_degrees(), 0.0))
            .settle(&[(0, 50.0)]);
        let held: Vec<_> = settled.pools.iter().map(|p| p.piece).collect();
        assert_eq!(held, [2], "tilt {tilt}, turned by {turn}");
    }
}

#[test]
fn a_stream_runs_straight_down_a_flat_end() {
    // A body (piece 0) whose flat end has two small tubes below, 6 mm apart. What runs over from the higher one (piece 1)
    // runs down the end at the angle psi from the line between them, tan psi = tan roll / sin tilt, and meets the mouth of
    // the lower one (piece 2), of 1.5 mm, up to sin psi = 1.5 / 6. Else it comes to the wall, and along it to the corner.
    let primitives = vec![
        tube(0, [0.0, 40.0], [0.0, 0.0], 8.0),
        tube(1, [-3.0, 2.0], [-3.0, -15.0], 1.5),
        tube(2, [3.0, 2.0], [3.0, -20.0], 1.5),
    ];
    let names = ["body", "higher", "lower"].map(str::to_owned).to_vec();
    let interior = Interior::new(names, primitives, Vec::new()).unwrap();
    let tilt = -10.0_f64;
    let psi = (1.5_f64 / 6.0).asin();
    let limit = (psi.tan() * tilt.to_radians().sin().abs()).atan().to_degrees();
    for side in [1.0, -1.0] {
        let within = basin(&interior, Stance::new(tilt, side * (limit - 0.01)), 1).runs_to;
        assert_eq!(within, Some(RunsTo::Piece(2)));
        let beyond = basin(&interior, Stance::new(tilt, side * (limit + 0.01)), 1).runs_to;
        assert_eq!(beyond, Some(RunsTo::Piece(0)));
    }
}
