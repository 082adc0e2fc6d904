//! Quadrature, roots and minima.
//!
//! **Quadrature.** Every integrand of the engine is analytic inside the interval between its breakpoints and may
//! carry half-integer powers (square roots, three-halves powers) at the ends, since discs open like `sqrt`.
//! Gauss-Legendre in `theta` after `x = mid + half * sin(theta)`, `theta` in [-pi/2, pi/2], makes such an end
//! analytic (`1 - sin` has a double zero there), so the convergence is geometric in the number of nodes.
//! The nodes come from the `gauss-quad` crate (Golub-Welsch class, 1e-16).

use std::sync::LazyLock;

use gauss_quad::GaussLegendre;

/// A node of a rule on [-1, 1].
#[derive(Debug)]
struct Node {
    x: f64,
    weight: f64,
    /// Weights of the last two Legendre coefficients that the nodes show, as parts of the integral.
    tails: [f64; 2],
}

/// A rule clustered at both ends.
#[derive(Debug)]
pub(super) struct Rule(Vec<Node>);

impl Rule {
    fn clustered(nodes: usize) -> Self {
        let half_pi = std::f64::consts::FRAC_PI_2;
        let node = |&(x, w): &(f64, f64)| {
            let theta = half_pi * x;
            let weight = w * half_pi * theta.cos();
            let (mut before, mut legendre) = (1.0, x);
            for k in 1..nodes.saturating_sub(1) {
                let k = k as f64;
                (before, legendre) = (legendre, ((2.0 * k + 1.0) * x * legendre - k * before) / (k + 1.0));
            }
            let degree = nodes as f64 - 1.0;
            Node {
                x: theta.sin(),
                weight,
                tails: [
                    (2.0 * degree + 1.0) * legendre * weight,
                    (2.0 * degree - 1.0) * before * weight,
                ],
            }
        };
        let pairs = std::num::NonZeroUsize::new(nodes).map(GaussLegendre::new);
        Self(pairs.map(|rule| rule.iter().map(node).collect()).unwrap_or_default())
    }

    /// Integral of `f` from `a` to `b`, two values at once.
    pub(super) fn integrate(&self, a: f64, b: f64, mut f: impl FnMut(f64) -> (f64, f64)) -> (f64, f64) {
        let (mid, half) = (0.5 * (a + b), 0.5 * (b - a));
        let mut sum = (0.0, 0.0);
        for node in &self.0 {
            let (v, s) = f(mid + half * node.x);
            sum.0 += node.weight * v;
            sum.1 += node.weight * s;
        }
        (sum.0 * half, sum.1 * half)
    }

    /// The same with the error to be expected of each.
    ///
    /// Where the Legendre coefficients of the integrand fall off geometrically, the error is of the order of the square of
    /// the last one shown, as a part of the integral; where they fall off like a power, of the last one itself. The
    /// power 3/2 between the two holds for all but weak kinks and is too strict for smooth integrands.
    fn judged(&self, a: f64, b: f64, f: &mut impl FnMut(f64) -> (f64, f64)) -> [(f64, f64); 2] {
        let (mid, half) = (0.5 * (a + b), 0.5 * (b - a));
        let mut sums = [[0.0; 3]; 2];
        for node in &self.0 {
            let (v, s) = f(mid + half * node.x);
            for (sum, value) in sums.iter_mut().zip([v, s]) {
                sum[0] += node.weight * value;
                sum[1] += node.tails[0] * value;
                sum[2] += node.tails[1] * value;
            }
        }
        sums.map(|[sum, last, before]| {
            let tail = last.abs() + before.abs();
            let part = (tail / sum.abs().max(tail).max(f64::MIN_POSITIVE)).sqrt();
            (sum * half, tail * part * half.abs())
        })
    }
}

/// The rule along an axis or arc between breakpoints: 24 nodes give the last digits. Of a whole joint, its halves
/// give the error.
pub(super) static ALONG: LazyLock<Rule> = LazyLock::new(|| Rule::clustered(24));
/// The rule along a joint or bend cut by a level: one application mostly does.
pub(super) static CUT_JOINT: LazyLock<Rule> = LazyLock::new(|| Rule::clustered(16));

/// The same where a volume counts to a thousandth.
pub(super) static ROUGH_JOINT: LazyLock<Rule> = LazyLock::new(|| Rule::clustered(8));
/// The rule along an axis where a volume counts to a millionth.
pub(super) static ROUGH_ALONG: LazyLock<Rule> = LazyLock::new(|| Rule::clustered(10));
/// The rule over a part of a unit disc no longer than a tenth: the last digits, as little happens there.
pub(super) static SHORT: LazyLock<Rule> = LazyLock::new(|| Rule::clustered(12));

/// Integral of `f` from `a` to `b` by a rule and bisection, until halving an interval changes it by less than `tolerance`
/// (absolute) or `depth` halvings are reached: for what is found once, where a feature that falls between the nodes must
/// not be missed.
pub(super) fn halved(
    rule: &Rule,
    (a, b): (f64, f64),
    tolerance: f64,
    depth: u32,
    f: &mut impl FnMut(f64) -> f64,
) -> f64 {
    let whole = rule.integrate(a, b, |s| (f(s), 0.0)).0;
    refine(rule, (a, b), whole, tolerance, depth, f)
}

fn refine(
    rule: &Rule,
    (a, b): (f64, f64),
    whole: f64,
    tolerance: f64,
    depth: u32,
    f: &mut impl FnMut(f64) -> f64,
) -> f64 {
    let mid = 0.5 * (a + b);
    let left = rule.integrate(a, mid, |s| (f(s), 0.0)).0;
    let right = rule.integrate(mid, b, |s| (f(s), 0.0)).0;
    if depth == 0 || (left + right - whole).abs() <= tolerance {
        return left + right;
    }
    refine(rule, (a, mid), left, tolerance, depth - 1, f) + refine(rule, (mid, b), right, tolerance, depth - 1, f)
}

/// Integral of `f` from `a` to `b` by a rule and bisection, until the error to be expected of each value is below its
/// `tolerance` (absolute) or `depth` halvings are reached. The tolerance is not shared out among the halves: the expected
/// error overstates the error that is left by far, as the rule converges geometrically.
pub(super) fn adaptive(
    rule: &Rule,
    (a, b): (f64, f64),
    tolerance: (f64, f64),
    depth: u32,
    f: &mut impl FnMut(f64) -> (f64, f64),
) -> (f64, f64) {
    let [(volume, volume_error), (surface, surface_error)] = rule.judged(a, b, f);
    if depth == 0 || volume_error <= tolerance.0 && surface_error <= tolerance.1 {
        return (volume, surface);
    }
    let mid = 0.5 * (a + b);
    let left = adaptive(rule, (a, mid), tolerance, depth - 1, f);
    let right = adaptive(rule, (mid, b), tolerance, depth - 1, f);
    (left.0 + right.0, left.1 + right.1)
}

/// Real roots of `a x^2 + b x + c`, ascending, without cancellation. Two equal roots count twice; a vanishing
/// polynomial has none.
pub(super) fn quadratic(a: f64, b: f64, c: f64) -> impl Iterator<Item = f64> {
    let mut roots = [f64::NAN; 2];
    if a == 0.0 {
        if b != 0.0 {
            roots[0] = -c / b;
        }
    } else {
        let discriminant = b * b - 4.0 * a * c;
        if discriminant >= 0.0 {
            let q = -0.5 * (b + discriminant.sqrt().copysign(b));
            roots = if q == 0.0 { [0.0, 0.0] } else { [q / a, c / q] };
            if roots[1] < roots[0] {
                roots.swap(0, 1);
            }
        }
    }
    roots.into_iter().filter(|x| x.is_finite())
}

/// A root of `f` between `a` and `b`, where `f` changes sign, to the last digits: the ITP-like mix of false
/// position (Illinois) and bisection. Where `f` jumps, the place of the jump.
pub(super) fn bracketed_root(mut a: f64, mut b: f64, tolerance: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return a;
    }
    if fb == 0.0 {
        return b;
    }
    for step in 0..200 {
        if (b - a).abs() <= tolerance {
            break;
        }
        let secant = (a * fb - b * fa) / (fb - fa);
        // Every third step halves, so that a jump or a flat side cannot stall the search.
        let x = if step % 3 == 2 || !secant.is_finite() || (secant - a) * (secant - b) >= 0.0 {
            0.5 * (a + b)
        } else {
            secant
        };
        let fx = f(x);
        if fx == 0.0 {
            return x;
        }
        if (fx > 0.0) == (fb > 0.0) {
            (b, fb) = (x, fx);
            fa *= 0.5;
        } else {
            (a, fa) = (x, fx);
            fb *= 0.5;
        }
    }
    0.5 * (a + b)
}

/// A bracket, no longer than `tolerance`, of a root of `f` between two places, given with their values, in this order;
/// both ends where `f` vanishes. Chandrupatla's method: inverse quadratic steps where three values show that they are safe, else halving
/// (Adv. Eng. Softw. 28 (1997) 145, from memory).
pub(super) fn root_bracket(ends: [(f64, f64); 2], tolerance: f64, mut f: impl FnMut(f64) -> f64) -> (f64, f64) {
    // `x1` is the newest place, `x2` the other end of the bracket, `x3` the end given up last.
    let [(mut x2, mut f2), (mut x1, mut f1)] = ends;
    let forward = x1 >= x2;
    // The secant first: most functions here are nearly straight.
    let mut part = f1 / (f1 - f2);
    for _ in 0..200 {
        if f1 == 0.0 || f2 == 0.0 {
            let root = if f1 == 0.0 { x1 } else { x2 };
            return (root, root);
        }
        let width = (x2 - x1).abs();
        if width <= tolerance {
            break;
        }
        // A hair inside the ends, so that the bracket closes as soon as the root is known.
        let hair = (0.4 * tolerance / width).min(0.5);
        let x = x1 + part.clamp(hair, 1.0 - hair) * (x2 - x1);
        if x == x1 || x == x2 {
            break;
        }
        let value = f(x);
        let (x3, f3) = if (value > 0.0) == (f1 > 0.0) {
            (x1, f1)
        } else {
            let given_up = (x2, f2);
            (x2, f2) = (x1, f1);
            given_up
        };
        (x1, f1) = (x, value);
        let xi = (x1 - x2) / (x3 - x2);
        let phi = (f1 - f2) / (f3 - f2);
        let quadratic = f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2);
        let is_safe = 1.0 - (1.0 - xi).sqrt() < phi && phi < xi.sqrt() && quadratic.is_finite();
        part = if is_safe { quadratic } else { 0.5 };
    }
    if (x1 <= x2) == forward { (x1, x2) } else { (x2, x1) }
}

/// Least value of `f` between `a` and `b` and its place, for a function with one valley there (golden section,
/// then the parabola's last step is left out: kinks are common).
pub(super) fn valley(mut a: f64, mut b: f64, steps: u32, mut f: impl FnMut(f64) -> f64) -> (f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    let (mut x1, mut x2) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut f1, mut f2) = (f(x1), f(x2));
    for _ in 0..steps {
        if f1 <= f2 {
            b = x2;
            (x2, f2) = (x1, f1);
            x1 = b - GOLDEN * (b - a);
            f1 = f(x1);
        } else {
            a = x1;
            (x1, f1) = (x2, f2);
            x2 = a + GOLDEN * (b - a);
            f2 = f(x2);
        }
    }
    if f1 <= f2 { (x1, f1) } else { (x2, f2) }
}

/// Lowest place of `f` near `x`, which is lower than the ends `a` and `b` of its valley: steps to the vertex of the
/// parabola through the three lowest places, and by golden section where that leaves the bracket or hardly shrinks
/// it (Brent, Algorithms for Minimization without Derivatives, 1973, chapter 5). Known to `tolerance`, or to the root
/// of rounding, where the values no longer differ. A kink is found as well, in more steps.
pub(super) fn vertex(
    (mut a, mut b): (f64, f64),
    (mut x, mut fx): (f64, f64),
    tolerance: f64,
    mut f: impl FnMut(f64) -> f64,
) -> f64 {
    const GOLDEN: f64 = 0.381_966_011_250_105_2;
    // The second and third lowest places.
    let (mut w, mut fw, mut v, mut fv) = (x, fx, x, fx);
    let (mut step, mut before_last) = (0.0f64, 0.0f64);
    for _ in 0..60 {
        let middle = 0.5 * (a + b);
        if (x - middle).abs() <= 2.0 * tolerance - 0.5 * (b - a) {
            break;
        }
        let (r, q) = ((x - w) * (fx - fv), (x - v) * (fx - fw));
        let p = (x - v) * q - (x - w) * r;
        let bend = 2.0 * (q - r);
        let way = -p / bend;
        let is_good = way.is_finite() && way.abs() < 0.5 * before_last.abs() && x + way > a && x + way < b;
        before_last = step;
        step = if is_good {
            way
        } else {
            let side = if x >= middle { a - x } else { b - x };
            before_last = side;
            GOLDEN * side
        };
        let next = x + if step.abs() >= tolerance {
            step
        } else {
            tolerance.copysign(step)
        };
        let value = f(next);
        if value <= fx {
            if next >= x {
                a = x
            } else {
                b = x
            }
            ((v, fv), (w, fw), (x, fx)) = ((w, fw), (x, fx), (next, value));
        } else {
            if next < x {
                a = next
            } else {
                b = next
            }
            if value <= fw || w == x {
                ((v, fv), (w, fw)) = ((w, fw), (next, value));
            } else if value <= fv || v == x || v == w {
                (v, fv) = (next, value);
            }
        }
    }
    x
}

/// Pushes the places between `at(0)` and `at(samples)` where `f` changes sign: between samples of unlike sign, and
/// where it dips through zero between samples of like sign, as far as the parabola through three of them shows it.
pub(super) fn sign_changes(samples: usize, at: impl Fn(usize) -> f64, f: impl Fn(f64) -> f64, cuts: &mut Vec<f64>) {
    let root = |a: f64, b: f64| bracketed_root(a, b, 1e-13 * (1.0 + b.abs()), &f);
    let (mut earlier, mut before) = (f64::NAN, f(at(0)));
    for i in 1..=samples {
        let now = f(at(i));
        if (before > 0.0) != (now > 0.0) && before.is_finite() && now.is_finite() {
            cuts.push(root(at(i - 1), at(i)));
        }
        let [x, y, z] = [earlier, before, now].map(|v| v * 1f64.copysign(before));
        if i >= 2 && x >= y && z >= y {
            let bend = x - 2.0 * y + z;
            // The vertex of the parabola; a dip to less than half of the sample is looked into.
            if bend > 0.0 && y - (z - x) * (z - x) / (8.0 * bend) < 0.5 * y {
                let (dip, value) = valley(at(i - 2), at(i), 24, |t| f(t) * 1f64.copysign(before));
                if value < 0.0 {
                    cuts.extend([root(at(i - 2), dip), root(dip, at(i))]);
                }
            }
        }
        (earlier, before) = (before, now);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clustered_rule_integrates_half_integer_ends() {
        // Quarter circle: pi/4; three-halves power: 2/5.
        let (v, s) = ALONG.integrate(0.0, 1.0, |x| ((1.0 - x * x).sqrt(), x.powf(1.5)));
        assert!((v - std::f64::consts::FRAC_PI_4).abs() < 1e-14, "{v}");
        assert!((s - 0.4).abs() < 1e-14, "{s}");
    }

    #[test]
    fn quadratic_keeps_small_roots() {
        let roots: Vec<f64> = quadratic(1.0, -1e9, 1.0).collect();
        assert!(
            (roots[0] - 1e-9).abs() < 1e-24 && (roots[1] - 1e9).abs() < 1e-6,
            "{roots:?}"
        );
    }

    #[test]
    fn vertex_is_found_in_few_steps() {
        for (a, b, x, f) in [
            (0.0, 3.0, 1.4, (|t| (t - 1.25f64).powi(2)) as fn(f64) -> f64),
            (2.0, 4.5, 3.3, f64::cos),
            (-1.0, 2.0, 0.5, |t| (t - 0.3f64).powi(4) + 0.1 * (t - 0.3).powi(2)),
        ] {
            let mut calls = 0;
            let found = vertex((a, b), (x, f(x)), 1e-8, |t| {
                calls += 1;
                f(t)
            });
            let exact = [1.25, std::f64::consts::PI, 0.3];
            assert!(exact.iter().any(|e| (e - found).abs() < 2e-8), "{found}");
            assert!(calls < 25, "{calls}");
        }
        let kink = vertex((0.0, 1.0), (0.5, 0.2), 1e-8, |t: f64| (t - 0.3).abs());
        assert!((kink - 0.3).abs() < 1e-7, "{kink}");
    }

    #[test]
    fn root_of_a_jump_is_the_jump() {
        let x = bracketed_root(0.0, 1.0, 1e-12, |x| if x < 0.3 { -1.0 } else { 2.0 });
        assert!((x - 0.3).abs() < 1e-11);
    }
}
