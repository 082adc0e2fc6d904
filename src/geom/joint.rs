//! Joints: where bores meet at an angle, what one adds to the others.
//!
//! The slice of a primitive is a disc, less the sections of lower primitives. Across it every half-depth is the root of a
//! quadratic, so between breakpoints (roots of quadratics: walls, equal depths, the level at a floor or ceiling) the
//! integral is a closed form; only sections of bends need the clustered rule. Along the joint the slices are summed by
//! bisection between the places where the level touches the wall or passes the rim.

use nalgebra::Vector2;

use super::care::Care;
use super::shape::{Along, Slice, Solid, root_sum};
use super::solve::{ALONG, CUT_JOINT, ROUGH_JOINT, adaptive, halved, quadratic, sign_changes};
use super::spans::{Level, stretches};
use super::sweep::{Cut, bend_touches};
use super::tolerance::{FULL_JOINT_PART, JOINT_PART, JOINT_SURFACE_PART, ROUGH_JOINT_PART, SQUARE};

/// Room for one slice at a time, kept from slice to slice.
#[derive(Default)]
struct Scratch {
    marks: Vec<f64>,
    others: Vec<Option<Along>>,
}

/// Volume (and free surface) that `own` adds to lower solids `met` between `a` and `b`, below a level if given.
pub(super) fn joint(
    own: &Solid,
    met: &[Solid],
    (a, b): (f64, f64),
    level: Option<Level<'_>>,
    care: Care,
) -> (f64, f64) {
    let arm = match *own {
        Solid::Bend { radius, .. } => radius,
        _ => 1.0,
    };
    let bore = std::f64::consts::PI * own.widest().powi(2) * arm * (b - a);
    let face = 2.0 * own.widest() * arm * (b - a);
    let mut scratch = Scratch::default();
    let is_rough = care == Care::Shares;
    let (rule, volume_part, surface_part, depth) = if is_rough {
        (&ROUGH_JOINT, ROUGH_JOINT_PART, f64::INFINITY, 3)
    } else {
        (&CUT_JOINT, JOINT_PART, JOINT_SURFACE_PART, 12)
    };
    let full = |from: f64, to: f64, scratch: &mut Scratch| {
        let tolerance = (volume_part * bore, f64::INFINITY);
        adaptive(rule, (from, to), tolerance, depth, &mut |s| {
            across(own, met, s, None, scratch)
        })
        .0
    };
    let Some(level) = level else {
        if is_rough {
            return (full(a, b, &mut scratch), 0.0);
        }
        let slice = &mut |s: f64| across(own, met, s, None, &mut scratch).0;
        return (halved(&ALONG, (a, b), FULL_JOINT_PART * bore, 12, slice), 0.0);
    };
    let touches = match Cut::new(own, level) {
        Some(cut) if cut.across < SQUARE => {
            let at = cut.h0 / cut.a;
            let (from, to) = if cut.a > 0.0 {
                (a, at.clamp(a, b))
            } else {
                (at.clamp(a, b), b)
            };
            let volume = if to > from { full(from, to, &mut scratch) } else { 0.0 };
            let surface = if at > a && at < b {
                across(own, met, at, None, &mut scratch).0 / cut.a.abs()
            } else {
                0.0
            };
            return (volume, surface);
        }
        Some(cut) => cut.touches(own).into_iter().flatten().map(|(s, _)| s).collect(),
        None => bend_touches(own, level),
    };
    let tolerance = (volume_part * bore, surface_part * face);
    let shortest = 1e-13 * (b - a);
    let (mut volume, mut surface) = (0.0, 0.0);
    let mut marks = touches;
    for (a, b) in stretches(&mut marks, a, b, shortest) {
        let slice = own.slice(0.5 * (a + b));
        let h = level.height - level.u.xy().dot(&slice.centre);
        let reach = slice.r * root_sum(level.u.xy().dot(&slice.n), level.u.z);
        if h >= reach {
            volume += full(a, b, &mut scratch);
        } else if h > -reach {
            // Only here, where the level lies within the slices, does it cross other walls in them.
            let mut marks = Vec::new();
            if !is_rough {
                rim_crossings(own, met, a, b, level, &mut marks);
                lower_crossings(own, met, a, b, level, &mut marks);
            }
            for part in stretches(&mut marks, a, b, shortest) {
                let (v, s) = adaptive(rule, part, tolerance, depth, &mut |s| {
                    across(own, met, s, Some(level), &mut scratch)
                });
                volume += v;
                surface += s;
            }
        }
    }
    (volume, surface)
}

/// Before and behind the drawing plane; without roll the level meets both alike.
fn sides(level: Level<'_>) -> &'static [f64] {
    if level.u.z == 0.0 { &[1.0] } else { &[-1.0, 1.0] }
}

/// Where the level passes through the curve in which the wall of `own` meets the wall of a lower solid.
fn rim_crossings(own: &Solid, met: &[Solid], a: f64, b: f64, level: Level<'_>, marks: &mut Vec<f64>) {
    const SAMPLES: usize = 12;
    let at = |i: usize| a + (b - a) * i as f64 / SAMPLES as f64;
    for other in met {
        for root in 0..2 {
            for &side in sides(level) {
                let above = |sigma: f64| {
                    let slice = own.slice(sigma);
                    let Some(along) = other.along(&slice.centre, &slice.n) else {
                        return f64::NAN;
                    };
                    let rim = quadratic(along.q[2] + 1.0, along.q[1], along.q[0] - slice.r * slice.r).nth(root);
                    rim.filter(|t| t.abs() <= slice.r).map_or(f64::NAN, |t| {
                        let z = side * ((slice.r - t) * (slice.r + t)).sqrt();
                        let p = slice.centre + slice.n * t;
                        level.u.x * p.x + level.u.y * p.y + level.u.z * z - level.height
                    })
                };
                sign_changes(SAMPLES, at, above, marks);
            }
        }
    }
}

/// Where the level touches the wall of a lower solid, or passes the rim of its end, within the slices of `own`: the
/// slices' shares begin or end there like a square root, or jump.
fn lower_crossings(own: &Solid, met: &[Solid], a: f64, b: f64, level: Level<'_>, marks: &mut Vec<f64>) {
    const SAMPLES: usize = 12;
    let at = |i: usize| a + (b - a) * i as f64 / SAMPLES as f64;
    let z = level.u.z.abs();
    // Height of the level over the centre of a slice, its slope there, and the lower solid along the line.
    let line = |other: &Solid, sigma: f64| {
        let slice = own.slice(sigma);
        let along = other.along(&slice.centre, &slice.n)?;
        Some((
            level.height - level.u.xy().dot(&slice.centre),
            level.u.xy().dot(&slice.n),
            along,
        ))
    };
    for other in met {
        if matches!(other, Solid::Bend { .. }) {
            bend_level_crossings(own, other, a, b, level, marks);
            continue;
        }
        let touches =
            |sigma: f64| line(other, sigma).map_or(f64::NAN, |(h, slope, along)| touching(&along, h, slope, z));
        sign_changes(SAMPLES, at, touches, marks);
        for far in [false, true] {
            for &side in sides(level) {
                let above = |sigma: f64| {
                    line(other, sigma).map_or(f64::NAN, |(h, slope, along)| {
                        let t = if far { along.hi } else { along.lo };
                        if t.is_finite() {
                            h - slope * t + side * z * along.at(t).max(0.0).sqrt()
                        } else {
                            f64::NAN
                        }
                    })
                };
                sign_changes(SAMPLES, at, above, marks);
            }
        }
    }
}

/// The same against a bend, by the points at which the level meets the wall of the slice (with no roll, at which it
/// crosses the drawing plane): where one of them passes the wall or an end of the bend.
fn bend_level_crossings(own: &Solid, bend: &Solid, a: f64, b: f64, level: Level<'_>, marks: &mut Vec<f64>) {
    const SAMPLES: usize = 24;
    let at = |i: usize| a + (b - a) * i as f64 / SAMPLES as f64;
    let z = level.u.z.abs();
    for root in 0..2 {
        // Squared half-depth of the bend there, and of the slice.
        let squares = |sigma: f64| {
            let Slice { centre, n, r, .. } = own.slice(sigma);
            let (h, slope) = (level.height - level.u.xy().dot(&centre), level.u.xy().dot(&n));
            let mut crossings = Vec::with_capacity(2);
            level_crossings(&Along::disc(r), h, slope, z, &mut crossings);
            let t = crossings.get(root).copied().filter(|t| t.abs() <= r)?;
            // Beyond the ends the square is minus infinity; any finite negative serves for the sign.
            Some((bend.depth_squared(&(centre + n * t)).max(-1e6), (r - t) * (r + t)))
        };
        sign_changes(
            SAMPLES,
            at,
            |s| squares(s).map_or(f64::NAN, |(bend, own)| bend - own),
            marks,
        );
        sign_changes(SAMPLES, at, |s| squares(s).map_or(f64::NAN, |(bend, _)| bend), marks);
    }
}

/// One slice of a joint: area that `own` adds to `met` (times the measure), below the level if given, and the
/// derivative of that by the level.
fn across(own: &Solid, met: &[Solid], sigma: f64, level: Option<Level<'_>>, scratch: &mut Scratch) -> (f64, f64) {
    let slice = own.slice(sigma);
    let Slice { centre, n, r, w0, w1 } = slice;
    if r <= 0.0 {
        return (0.0, 0.0);
    }
    let disc = Along::disc(r);
    // The level over the line: height of the level above the centre, slope, and how much a half-depth counts.
    let line = level.map(|l| (l.height - l.u.xy().dot(&centre), l.u.xy().dot(&n), l.u.z.abs()));
    let Scratch { marks, others } = scratch;
    others.clear();
    others.extend(met.iter().map(|s| s.along(&centre, &n)));
    breakpoints(&slice, met, others, line, marks);
    let lower_square = |t: f64| {
        let deepest = |(along, solid): (&Option<Along>, &Solid)| match along {
            Some(along) => along.inside(t).unwrap_or(0.0),
            None => solid.depth_squared(&(centre + n * t)).max(0.0),
        };
        others.iter().zip(met).map(deepest).fold(0.0, f64::max)
    };
    // The deepest lower solid is the same all over an interval between breakpoints.
    let lower_depth = |t0: f64, t1: f64| {
        let mid = 0.5 * (t0 + t1);
        let inside = |along: &Along| along.inside(mid).unwrap_or(0.0);
        let deepest = others.iter().flatten().max_by(|x, y| inside(x).total_cmp(&inside(y)));
        match deepest {
            Some(along) if others.iter().all(Option::is_some) => quadric_depth(along, t0, t1, w0, w1),
            _ => {
                ALONG
                    .integrate(t0, t1, |t| (lower_square(t).sqrt() * (w0 + w1 * t), 0.0))
                    .0
            }
        }
    };
    let (mut volume, mut surface) = (0.0, 0.0);
    // The closed form at the end of the interval before.
    let mut reached = None;
    for pair in marks.windows(2) {
        let (t0, t1) = (pair[0], pair[1]);
        let mid = 0.5 * (t0 + t1);
        let (own_square, lower) = (disc.at(mid), lower_square(mid));
        if t1 - t0 <= 1e-14 * r || lower >= own_square {
            continue;
        }
        let own_wet = Column::new(line, mid, own_square);
        let lower_wet = Column::new(line, mid, lower);
        // A wet length is (level - axis) / z + d in part, 2 d when full; the first term is the same for both.
        if own_wet.depths == 0.0 {
            continue;
        }
        let before = match reached {
            Some((t, depth)) if t == t0 => depth,
            _ => disc_depth(r, t0, w0, w1),
        };
        let depth = disc_depth(r, t1, w0, w1);
        reached = Some((t1, depth));
        volume += own_wet.depths * (depth - before);
        if lower_wet.depths > 0.0 && lower > 0.0 {
            volume -= lower_wet.depths * lower_depth(t0, t1);
        }
        let open = own_wet.open - lower_wet.open;
        if open != 0.0
            && let Some((h, slope, z)) = line
        {
            // Simpson's rule is exact for the quadratic.
            let above = |t: f64| (h - slope * t) / z * (w0 + w1 * t);
            volume += open * (t1 - t0) / 6.0 * (above(t0) + 4.0 * above(mid) + above(t1));
            surface += open * (t1 - t0) * (w0 + w1 * mid) / z;
        }
    }
    if let Some((h, slope, 0.0)) = line
        && slope != 0.0
    {
        let t = h / slope;
        let (own, lower) = (disc.at(t), lower_square(t));
        if t.abs() < r && own > lower {
            surface += 2.0 * (own.sqrt() - lower.sqrt()) * (w0 + w1 * t) / slope.abs();
        }
    }
    (volume, surface)
}

/// Where, across a slice, walls cross each other or the level: between these places every column is of one kind.
fn breakpoints(
    slice: &Slice,
    met: &[Solid],
    others: &[Option<Along>],
    line: Option<(f64, f64, f64)>,
    marks: &mut Vec<f64>,
) {
    let Slice { centre, n, r, .. } = slice;
    marks.clear();
    marks.extend([-r, *r]);
    if let Some((h, slope, z)) = line {
        level_crossings(&Along::disc(*r), h, slope, z, marks);
    }
    for (other, solid) in others.iter().zip(met) {
        match other {
            Some(along) => {
                marks.extend([along.lo, along.hi]);
                marks.extend(quadratic(along.q[2], along.q[1], along.q[0]));
                marks.extend(quadratic(along.q[2] + 1.0, along.q[1], along.q[0] - r * r));
                if let Some((h, slope, z)) = line {
                    level_crossings(along, h, slope, z, marks);
                }
            }
            None => bend_crossings(solid, centre, n, *r, line, marks),
        }
    }
    for (i, p) in others.iter().enumerate() {
        for q in others.iter().skip(i + 1) {
            if let (Some(p), Some(q)) = (p, q) {
                marks.extend(quadratic(p.q[2] - q.q[2], p.q[1] - q.q[1], p.q[0] - q.q[0]));
            }
        }
    }
    marks.retain(|t| *t >= -r && t <= r);
    marks.sort_unstable_by(f64::total_cmp);
}

/// How a column stands to the level, the same all over an interval between breakpoints.
struct Column {
    /// How many half-depths of it are wet: 0 dry, 1 in part, 2 full.
    depths: f64,
    /// 1 where the level lies within it, else 0.
    open: f64,
}

impl Column {
    fn new(line: Option<(f64, f64, f64)>, t: f64, depth_squared: f64) -> Self {
        let Some((h, slope, z)) = line else {
            return Self { depths: 2.0, open: 0.0 };
        };
        let (above, depth) = (h - slope * t, z * depth_squared.max(0.0).sqrt());
        if above >= depth {
            Self { depths: 2.0, open: 0.0 }
        } else if above <= -depth {
            Self { depths: 0.0, open: 0.0 }
        } else {
            Self { depths: 1.0, open: 1.0 }
        }
    }
}

/// An antiderivative of `(w0 + w1 t) sqrt(r^2 - t^2)`.
fn disc_depth(r: f64, t: f64, w0: f64, w1: f64) -> f64 {
    let d = ((r - t) * (r + t)).max(0.0).sqrt();
    w0 * 0.5 * (t * d + r * r * t.atan2(d)) - w1 * d * d * d / 3.0
}

/// Integral of `(w0 + w1 t) sqrt(Q(t))` over an interval where `Q >= 0`: in closed form where `Q` is clearly curved,
/// else by the clustered rule, where the closed form would cancel.
fn quadric_depth(along: &Along, t0: f64, t1: f64, w0: f64, w1: f64) -> f64 {
    let [_, q1, q2] = along.q;
    let value = |t: f64| along.at(t).max(0.0);
    let (width, mid) = (t1 - t0, 0.5 * (t0 + t1));
    if w1 == 0.0 && q2.abs() * width * width < 1e-14 * value(mid) {
        // Of a straight line, as where a branch stands square on its host.
        let (p, q) = (value(t0).sqrt(), value(t1).sqrt());
        return w0 * width / 1.5 * (p * p + p * q + q * q) / (p + q);
    }
    if q2.abs() * width * width < 1e-3 * value(mid) {
        return ALONG.integrate(t0, t1, |t| (value(t).sqrt() * (w0 + w1 * t), 0.0)).0;
    }
    let discriminant = q1 * q1 - 4.0 * along.q[0] * q2;
    let plain = |t: f64| {
        let (root, slope) = (value(t).sqrt(), 2.0 * q2 * t + q1);
        // By the tangent, as the rounding of `root` then cancels between the two terms; the sine loses half the digits at its ends.
        let inverse = if q2 < 0.0 {
            -slope.atan2(2.0 * (-q2).sqrt() * root) / (-q2).sqrt()
        } else {
            // The same root as the difference of logarithms, whose argument keeps its sign over the interval.
            (2.0 * q2.sqrt() * root + slope).abs().max(f64::MIN_POSITIVE).ln() / q2.sqrt()
        };
        slope * root / (4.0 * q2) - discriminant / (8.0 * q2) * inverse
    };
    let area = plain(t1) - plain(t0);
    if w1 == 0.0 {
        return w0 * area;
    }
    let cube = |t: f64| value(t).powf(1.5);
    let moment = (cube(t1) - cube(t0)) / (3.0 * q2) - q1 / (2.0 * q2) * area;
    w0 * area + w1 * moment
}

/// Where the level passes the floor or the ceiling of the columns of a quadric over a line: roots of
/// `(h - slope t)^2 = z^2 Q(t)`, with the discriminant written so that a small `z` does not cancel.
fn level_crossings(along: &Along, h: f64, slope: f64, z: f64, marks: &mut Vec<f64>) {
    if z == 0.0 {
        if slope != 0.0 {
            marks.push(h / slope);
        }
        return;
    }
    let [_, q1, q2] = along.q;
    let a = slope * slope - z * z * q2;
    let half_b = slope * h + 0.5 * z * z * q1;
    if a.abs() < 1e-300 {
        return;
    }
    let inner = touching(along, h, slope, z);
    if inner >= 0.0 {
        let root = z * inner.sqrt();
        marks.extend([(half_b - root) / a, (half_b + root) / a]);
    }
}

/// Discriminant of the level over a line against a quadric, over `z^2`: zero where the level touches its section. With
/// `z = 0`, `slope^2` times the squared half-depth where the level crosses the line.
fn touching(along: &Along, h: f64, slope: f64, z: f64) -> f64 {
    let [q0, q1, q2] = along.q;
    slope * slope * q0 + slope * h * q1 + q2 * h * h + z * z * (0.25 * q1 * q1 - q0 * q2)
}

/// Breakpoints over a line against a bend: its wall and its ends exactly; between them, by sampling, equal depth with
/// the disc and the level.
fn bend_crossings(
    bend: &Solid,
    centre: &Vector2<f64>,
    n: &Vector2<f64>,
    r: f64,
    line: Option<(f64, f64, f64)>,
    marks: &mut Vec<f64>,
) {
    const SAMPLES: usize = 8;
    let mut exact = vec![-r, r];
    bend.outline_crossings(centre, n, &mut exact);
    exact.retain(|t| *t >= -r && *t <= r);
    exact.sort_by(f64::total_cmp);
    let depth = |t: f64| bend.depth_squared(&(centre + n * t)).max(0.0);
    for pair in exact.windows(2) {
        // Just inside, so that a sample at an end does not fall beyond the bend.
        let (a, b) = (
            pair[0] + 1e-9 * (pair[1] - pair[0]),
            pair[1] - 1e-9 * (pair[1] - pair[0]),
        );
        let at = |i: usize| a + (b - a) * i as f64 / SAMPLES as f64;
        sign_changes(SAMPLES, at, |t| depth(t) - (r - t) * (r + t), marks);
        if let Some((h, slope, z)) = line {
            // Ceiling and floor apart: for a small roll they lie closer together than the samples.
            for side in [-1.0, 1.0] {
                sign_changes(SAMPLES, at, |t| h - slope * t + side * z * depth(t).sqrt(), marks);
            }
        }
    }
    marks.extend(exact);
}
