//! The engine against classical closed forms (numbered as in the project's reference of formulas, which gives
//! worked numbers to six digits; the forms here are evaluated in full) to 1e-9 relative.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails the test")]

use std::f64::consts::PI;

use nalgebra::Vector2;
use vialwright::geom::{Interior, Port, Primitive, Shape, Stance};

fn frustum(x0: f64, y0: f64, x1: f64, y1: f64, r0: f64, r1: f64) -> Shape {
    Shape::Frustum {
        from: Vector2::new(x0, y0),
        to: Vector2::new(x1, y1),
        r_from: r0,
        r_to: r1,
    }
}

fn sphere(x: f64, y: f64, r: f64) -> Shape {
    Shape::Spheroid {
        centre: Vector2::new(x, y),
        heading: 0.0,
        semi_axial: r,
        semi_radial: r,
    }
}

fn interior(shapes: &[Shape]) -> Interior {
    let primitives = shapes.iter().map(|&shape| Primitive { piece: 0, shape }).collect();
    Interior::new(vec!["vessel".into()], primitives, Vec::new()).unwrap()
}

fn with_port(shapes: &[Shape], x: f64, y: f64, heading_deg: f64, r: f64) -> Interior {
    let primitives = shapes.iter().map(|&shape| Primitive { piece: 0, shape }).collect();
    let port = Port {
        piece: 0,
        at: Vector2::new(x, y),
        heading: heading_deg.to_radians(),
        r,
    };
    Interior::new(vec!["vessel".into()], primitives, vec![port]).unwrap()
}

#[track_caller]
fn close(got: f64, exact: f64, part: f64) {
    assert!(
        ((got - exact) / exact).abs() <= part,
        "got {got}, exact {exact}, off by {:e}",
        got / exact - 1.0
    );
}

#[test]
fn sphere_caps_1_1() {
    let cap = |r: f64, h: f64| PI * h * h * (3.0 * r - h) / 3.0;
    for (r, h, printed) in [(25.0, 10.0, 6806.78), (40.0, 55.0, 205_905.0)] {
        close(cap(r, h), printed, 3e-6);
        for stance in [Stance::new(0.0, 0.0), Stance::new(33.0, 0.0), Stance::new(-120.0, 48.0)] {
            let below = interior(&[sphere(0.0, 0.0, r)]).at(stance).below(0, h - r);
            close(below.volume, cap(r, h), 1e-12);
            close(below.free_surface, PI * h * (2.0 * r - h), 1e-12);
        }
    }
}

#[test]
fn horizontal_cylinder_1_2() {
    let partial = |r: f64, l: f64, h: f64| l * (r * r * ((r - h) / r).acos() - (r - h) * (2.0 * r * h - h * h).sqrt());
    for (r, l, h, printed) in [(10.0, 100.0, 5.0, 6141.85), (12.0, 80.0, 16.0, 25_630.9)] {
        close(partial(r, l, h), printed, 3e-6);
        let tube = interior(&[frustum(0.0, 0.0, l, 0.0, r, r)]);
        // Level as drawn, and lying on its back after any roll: the axis stays level.
        for stance in [
            Stance::new(0.0, 0.0),
            Stance::new(0.0, 25.0),
            Stance::new(0.0, 90.0),
            Stance::new(180.0, -40.0),
        ] {
            let below = tube.at(stance).below(0, h - r);
            close(below.volume, partial(r, l, h), 1e-12);
            close(below.free_surface, 2.0 * l * (2.0 * r * h - h * h).sqrt(), 1e-12);
        }
    }
}

/// Volume of a cylinder's ungula (1.3): wetted half-angle `a`, highest wall point `h`.
fn ungula(r: f64, h: f64, a: f64) -> f64 {
    let b = r * (1.0 - a.cos());
    h * r.powi(3) / b * (a.sin() - a.sin().powi(3) / 3.0 - a * a.cos())
}

#[test]
fn ungula_1_3() {
    let (r, high) = (10.0, 30.0);
    for (deg, printed) in [(90.0, 2000.0), (60.0, 755.522), (120.0, 3393.43)] {
        let a = f64::to_radians(deg);
        close(ungula(r, high, a), printed, 2e-6);
        // A plane through (r, H) on the wall and through the chord r cos a on the bottom.
        let b = r * (1.0 - a.cos());
        let tilt = high.atan2(b);
        let glass = interior(&[frustum(0.0, 0.0, 0.0, 200.0, r, r)]);
        let stance = Stance::new(-tilt.to_degrees(), 0.0);
        let level = stance.up().dot(&nalgebra::Vector3::new(r, high, 0.0));
        close(glass.at(stance).below(0, level).volume, ungula(r, high, a), 1e-10);
    }
}

#[test]
fn open_vial_1_4() {
    let (r, l): (f64, f64) = (10.0, 60.0);
    let vial = with_port(&[frustum(0.0, 0.0, 0.0, l, r, r)], 0.0, l, 90.0, r);
    for (phi, printed) in [(45.0, 15_708.0), (75.0, 7384.58), (80.0, 4316.25)] {
        let tan = f64::to_radians(phi).tan();
        let exact = if r * tan <= l / 2.0 {
            PI * r * r * (l - r * tan)
        } else {
            ungula(r, l, (1.0 - l / tan / r).acos())
        };
        close(exact, printed, 3e-6);
        for stance in [
            Stance::new(phi, 0.0),
            Stance::new(-phi, 0.0),
            Stance::new(0.0, phi),
            Stance::new(0.0, -phi),
        ] {
            let posture = vial.at(stance);
            let basins = posture.basins();
            assert_eq!(basins.len(), 1);
            close(basins[0].brim.unwrap(), exact, 1e-9);
        }
    }
}

#[test]
fn frustums_1_5() {
    for (r0, r1, h, printed) in [(7.25, 6.10, 23.0, 3227.40), (3.0, 10.0, 12.0, 1746.73)] {
        let exact = PI * h * (r0 * r0 + r0 * r1 + r1 * r1) / 3.0;
        close(exact, printed, 3e-6);
        close(
            interior(&[frustum(0.0, 0.0, 0.0, h, r0, r1)]).total_volume(),
            exact,
            1e-13,
        );
        // Filled to the height z: the frustum below z.
        let z = 0.37 * h;
        let rz = r0 + (r1 - r0) * 0.37;
        let below = interior(&[frustum(0.0, 0.0, 0.0, h, r0, r1)])
            .at(Stance::default())
            .below(0, z);
        close(below.volume, PI * z * (r0 * r0 + r0 * rz + rz * rz) / 3.0, 1e-12);
        close(below.free_surface, PI * rz * rz, 1e-12);
    }
}

/// A cone cut by an inclined plane, from its apex: the plane's distance times the area of the elliptic cut / 3.
#[test]
fn inclined_cone_from_the_apex() {
    let half = 20f64.to_radians();
    let (h, tilt) = (50.0, 35f64);
    // Apex at the origin, axis up; after tilting, a level at 30 mm above the apex cuts an ellipse.
    let cone = interior(&[frustum(0.0, 0.0, 0.0, h, 0.0, h * half.tan())]);
    let level = 20.0;
    let t = tilt.to_radians();
    // Along the steepest line the axis points at the angles t - half and t + half from the vertical.
    let (near, far) = (level / (t - half).cos(), level / (t + half).cos());
    let long = 0.5 * (near * near + far * far - 2.0 * near * far * (2.0 * half).cos()).sqrt();
    let short = (near * far).sqrt() * half.sin();
    let exact = level * PI * long * short / 3.0;
    for stance in [Stance::new(tilt, 0.0), Stance::new(-tilt, 0.0), Stance::new(0.0, tilt)] {
        let below = cone.at(stance).below(0, level);
        close(below.volume, exact, 1e-12);
        close(below.free_surface, PI * long * short, 1e-12);
    }
}

#[test]
fn bends_1_6() {
    for (r, radius, deg, printed) in [(4.0, 20.0, 90.0, 1579.14), (5.0, 25.0, 180.0, 6168.50)] {
        let bend = Shape::Torus {
            centre: Vector2::zeros(),
            radius,
            r,
            start: 0.0,
            sweep: f64::to_radians(deg),
        };
        let exact = PI * r * r * radius * f64::to_radians(deg);
        close(exact, printed, 3e-6);
        close(interior(&[bend]).total_volume(), exact, 1e-13);
    }
    // A half ring lying flat, half full: half its volume, its surface the half annulus.
    let flat = interior(&[Shape::Torus {
        centre: Vector2::zeros(),
        radius: 25.0,
        r: 5.0,
        start: 0.0,
        sweep: PI,
    }]);
    let below = flat.at(Stance::new(0.0, 90.0)).below(0, 0.0);
    close(below.volume, 0.5 * PI * 25.0 * PI * 25.0, 1e-12);
    close(below.free_surface, 0.5 * PI * (30.0 * 30.0 - 20.0 * 20.0), 1e-12);
    // A U standing up, filled to the height of its ends' centres: all of it; to half its depth, by symmetry equal
    // to the complement of the same in the arch.
    let u = interior(&[Shape::Torus {
        centre: Vector2::zeros(),
        radius: 25.0,
        r: 5.0,
        start: 0.0,
        sweep: -PI,
    }]);
    let arch = interior(&[Shape::Torus {
        centre: Vector2::zeros(),
        radius: 25.0,
        r: 5.0,
        start: 0.0,
        sweep: PI,
    }]);
    let whole = u.total_volume();
    // The arch's two legs are parted below its crest: each holds half of what is below.
    let leg = arch.at(Stance::default()).below(0, 18.0).volume;
    close(u.at(Stance::default()).below(0, -18.0).volume, whole - 2.0 * leg, 1e-11);
}

/// Complete elliptic integrals K and E by the arithmetic-geometric mean (Gauss), modulus `k`.
fn elliptic(k: f64) -> (f64, f64) {
    let (mut a, mut b, mut c) = (1.0, (1.0 - k * k).sqrt(), k);
    let (mut sum, mut power) = (0.5 * c * c, 1.0);
    // Quadratic convergence: eight steps reach rounding for any modulus used here.
    for _ in 0..8 {
        (a, b, c) = (0.5 * (a + b), (a * b).sqrt(), 0.5 * (a - b));
        sum += power * c * c;
        power *= 2.0;
    }
    let complete = PI / (2.0 * a);
    (complete, complete * (1.0 - sum))
}

#[test]
fn crossed_cylinders_1_7() {
    for (a, b, printed) in [(3.0, 5.0, 269.370), (2.0, 10.0, 250.064), (5.0, 5.0, 666.667)] {
        let common = if a == b {
            16.0 * f64::powi(a, 3) / 3.0
        } else {
            let (k, e) = elliptic(a / b);
            8.0 * b / 3.0 * ((a * a + b * b) * e - (b * b - a * a) * k)
        };
        close(common, printed, 3e-6);
        let (la, lb): (f64, f64) = (40.0, 60.0);
        let exact = PI * a * a * la + PI * b * b * lb - common;
        let across = frustum(0.0, -la / 2.0, 0.0, la / 2.0, a, a);
        let along = frustum(-lb / 2.0, 0.0, lb / 2.0, 0.0, b, b);
        for shapes in [[along, across], [across, along]] {
            let cross = interior(&shapes);
            // The joint's own error is held to 1e-9 of the bore along it.
            close(cross.total_volume(), exact, 1e-9);
        }
        // A branch from one side adds its length from the axis less half of the common volume.
        let branch = interior(&[along, frustum(0.0, 0.0, 0.0, la / 2.0, a, a)]);
        close(
            branch.total_volume(),
            PI * b * b * lb + PI * a * a * la / 2.0 - common / 2.0,
            1e-9,
        );
    }
}

#[test]
fn spheroid_caps_1_8() {
    let cap = |a: f64, c: f64, h: f64| PI * a * a * h * h * (3.0 * c - h) / (3.0 * c * c);
    for (a, c, printed) in [(10.0, 15.0, 653.451), (15.0, 10.0, 2035.75)] {
        close(cap(a, c, 6.0), printed, 3e-6);
        let heading = 30f64.to_radians();
        let egg = interior(&[Shape::Spheroid {
            centre: Vector2::new(3.0, 4.0),
            heading,
            semi_axial: c,
            semi_radial: a,
        }]);
        // Turned until the axis stands upright, and once more upside down.
        for tilt in [60.0, -120.0] {
            let stance = Stance::new(tilt, 0.0);
            let centre = stance.up().dot(&nalgebra::Vector3::new(3.0, 4.0, 0.0));
            close(egg.at(stance).below(0, centre - c + 6.0).volume, cap(a, c, 6.0), 1e-12);
        }
    }
}

#[test]
fn round_bottom_is_a_frustum_plus_half_a_sphere() {
    let (r, l) = (4.0, 30.0);
    let tube = frustum(0.0, 0.0, 0.0, l, r, r);
    for shapes in [[tube, sphere(0.0, 0.0, r)], [sphere(0.0, 0.0, r), tube]] {
        let vial = interior(&shapes);
        close(vial.total_volume(), PI * r * r * l + 2.0 / 3.0 * PI * r.powi(3), 1e-12);
        let below = vial.at(Stance::default()).below(0, 10.0);
        close(below.volume, PI * r * r * 10.0 + 2.0 / 3.0 * PI * r.powi(3), 1e-12);
        close(below.free_surface, PI * r * r, 1e-12);
    }
}

#[test]
fn communicating_tubes_share_a_level() {
    // A U of 12 mm bore: below the level, bend and both legs are one pool.
    let (r, radius) = (6.0, 20.0);
    let u = interior(&[
        frustum(-radius, 60.0, -radius, 0.0, r, r),
        Shape::Torus {
            centre: Vector2::zeros(),
            radius,
            r,
            start: PI,
            sweep: PI,
        },
        frustum(radius, 0.0, radius, 60.0, r, r),
    ]);
    let given = 9000.0;
    let settled = u.at(Stance::default()).settle(&[(0, given)]);
    assert_eq!(settled.pools.len(), 1);
    let bend = PI * r * r * PI * radius;
    close(settled.pools[0].level, (given - bend) / (2.0 * PI * r * r), 1e-12);
    close(settled.pools[0].free_surface, 2.0 * PI * r * r, 1e-12);
}
