//! Circular segments in closed form.

use std::f64::consts::PI;

use super::solve::SHORT;

/// Area of the part `nu <= c` of a disc of radius `r`; `c` is held to [-r, r].
///
/// Written in the half-angle `a = acos(-c/r)` of the wet arc: `r^2 (a - sin a cos a)`, with sine and cosine by `c`. For
/// small `a` the series replaces the difference, which would cancel.
pub(super) fn segment(r: f64, c: f64) -> f64 {
    if c <= -r {
        return 0.0;
    }
    if c >= r {
        return PI * r * r;
    }
    // sin(a/2) = sqrt(depth / 2r), exact for shallow liquid.
    let a = 2.0 * ((r + c) / (2.0 * r)).sqrt().min(1.0).asin();
    if a < 0.05 {
        // a - sin a cos a = (2a - sin 2a)/2 with x = 2a: x^3/12 - x^5/240 + x^7/10080 - ...
        let x2 = 4.0 * a * a;
        let less = 2.0 * a * x2 * (1.0 / 12.0 - x2 * (1.0 / 240.0 - x2 * (1.0 / 10_080.0 - x2 / 725_760.0)));
        return r * r * less;
    }
    r * r * a + c * ((r - c) * (r + c)).sqrt()
}

/// Mean over `x` from `x0` to `x1` (within [-1, 1]) of the wet area `nu <= x` of a unit disc, and of its chord
/// `2 sqrt(1 - x^2)`.
///
/// Antiderivative of the area in the half-angle `a` (`x = -cos a`): `sin a - a cos a - sin^3 a / 3`, the ungula of a
/// cylinder (reference: classical solid geometry). Close limits are averaged by quadrature instead, where the
/// difference would cancel.
pub(super) fn means(x0: f64, x1: f64) -> (f64, f64) {
    if (x1 - x0).abs() < 0.1 {
        return SHORT.integrate(0.0, 1.0, |l| {
            let x = x0 + l * (x1 - x0);
            (segment(1.0, x), chord(1.0, x))
        });
    }
    let whole = |x: f64| x * (1.0 - x * x).max(0.0).sqrt() + x.clamp(-1.0, 1.0).asin();
    let by = x1 - x0;
    ((ungula(x1) - ungula(x0)) / by, (whole(x1) - whole(x0)) / by)
}

fn ungula(x: f64) -> f64 {
    let a = 2.0 * ((1.0 + x) / 2.0).max(0.0).sqrt().min(1.0).asin();
    let s = a.sin();
    s - a * a.cos() - s * s * s / 3.0
}

/// Length of the chord at `c` of a disc of radius `r`, 0 outside.
pub(super) fn chord(r: f64, c: f64) -> f64 {
    2.0 * ((r - c) * (r + c)).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn segment_against_the_textbook_form() {
        // Horizontal cylinder R=10, L=100, depth 5: 6141.85 mm3 (closed form 1.2: L [R^2 acos((R-h)/R) - ...]).
        let (r, h): (f64, f64) = (10.0, 5.0);
        let exact = r * r * ((r - h) / r).acos() - (r - h) * (2.0 * r * h - h * h).sqrt();
        assert!((segment(r, h - r) / exact - 1.0).abs() < 1e-14);
    }

    #[test]
    fn shallow_segment_joins_its_series() {
        for c in [-0.9988, -0.99875, -0.99874] {
            let a = f64::acos(-c);
            assert!((segment(1.0, c) / (a - a.sin() * a.cos()) - 1.0).abs() < 1e-11);
        }
    }

    #[test]
    fn means_agree_on_both_sides_of_the_switch() {
        for x0 in [-1.0, -0.7, 0.2, 0.8] {
            let (near, far) = (x0 + 0.0999, x0 + 0.1001);
            assert!((means(x0, near).0 - means(x0, far).0).abs() < 3e-4);
            let direct = |x1: f64| (ungula(x1) - ungula(x0)) / (x1 - x0);
            assert!((means(x0, near).0 - direct(near)).abs() < 1e-12);
        }
    }
}
