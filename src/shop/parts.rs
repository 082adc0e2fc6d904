//! What a piece is made of along its centreline, with the glass of each part.

use crate::model::place::{Centreline, Segment};
use crate::model::{Ampoule, Bottom, Bulb, BulbShape, Element, End, Fitting, FittingKind, Tube, TubeSize};
use crate::units::{angle_text, fixed};
use std::f64::consts::PI;

/// Density of the glass, g/mm3.
pub fn density_g_per_mm3() -> f64 {
    crate::data::glass::density().value * 1e-6
}

/// Cross-section of the glass of a tube, mm2.
pub fn area(size: TubeSize) -> f64 {
    PI * size.wall_mm * (size.od_mm - size.wall_mm)
}

/// A part of a blank along its centreline.
pub(super) struct Part {
    pub(super) stock: TubeSize,
    /// Along the centreline, mm.
    pub(super) length_mm: f64,
    /// Its glass, mm3.
    glass_mm3: f64,
    /// What it is, when it has to be marked.
    pub(super) what: Option<String>,
    /// Bend: angle and radius.
    pub(super) bend: Option<(f64, f64)>,
    /// A straight run, which can be held.
    pub(super) is_run: bool,
}

impl Part {
    fn run(stock: TubeSize, length_mm: f64) -> Self {
        Self {
            stock,
            length_mm,
            glass_mm3: area(stock) * length_mm,
            what: None,
            bend: None,
            is_run: true,
        }
    }

    fn bend(stock: TubeSize, angle_deg: f64, radius_mm: f64) -> Self {
        Self {
            bend: Some((angle_deg, radius_mm)),
            what: Some(format!(
                "bend {} {}, R {}",
                angle_text(angle_deg.abs()),
                if angle_deg < 0.0 { "clockwise" } else { "anticlockwise" },
                short(radius_mm)
            )),
            is_run: false,
            ..Self::run(stock, angle_deg.to_radians().abs() * radius_mm)
        }
    }

    fn worked(stock: TubeSize, length_mm: f64, glass_mm3: f64, what: Option<String>) -> Self {
        Self {
            stock,
            length_mm,
            glass_mm3,
            what,
            bend: None,
            is_run: false,
        }
    }

    /// Length of tube with its glass, mm.
    pub(super) fn used_mm(&self) -> f64 {
        self.glass_mm3 / area(self.stock)
    }
}

/// A number without zeros behind its point.
pub(super) fn short(mm: f64) -> String {
    let text = fixed(mm, 1);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A size of tube in words.
pub fn size_text(size: TubeSize) -> String {
    format!("{} \u{d7} {}", short(size.od_mm), short(size.wall_mm))
}

fn cone(length: f64, r0: f64, r1: f64) -> f64 {
    PI / 3.0 * length * (r0 * r0 + r0 * r1 + r1 * r1)
}

/// Glass of a taper between two sizes, mm3.
fn taper_glass(length: f64, a: TubeSize, b: TubeSize) -> f64 {
    cone(length, a.od_mm / 2.0, b.od_mm / 2.0) - cone(length, a.bore_mm() / 2.0, b.bore_mm() / 2.0)
}

/// Glass of a hemisphere, mm3.
fn dome_glass(size: TubeSize) -> f64 {
    PI / 12.0 * (size.od_mm.powi(3) - size.bore_mm().powi(3))
}

/// Glass of a bulb blown in a tube, mm3, over its outside length, by Simpson's rule: the tube runs through it.
fn inline_bulb_glass(tube: TubeSize, bulb: TubeSize, length: f64) -> f64 {
    const STEPS: usize = 2000;
    let half = length / 2.0;
    let round = |x: f64, axial: f64, radial: f64| radial * radial * (1.0 - (x / axial).powi(2)).max(0.0);
    let at = |x: f64| {
        let outer = round(x, half, bulb.od_mm / 2.0).max((tube.od_mm / 2.0).powi(2));
        let inside = (half - bulb.wall_mm).max(f64::MIN_POSITIVE);
        let inner = round(x, inside, bulb.bore_mm() / 2.0).max((tube.bore_mm() / 2.0).powi(2));
        PI * (outer - inner)
    };
    let step = length / STEPS as f64;
    let weight = |k: usize| match k {
        0 | STEPS => 1.0,
        k if k % 2 == 1 => 4.0,
        _ => 2.0,
    };
    (0..=STEPS)
        .map(|k| weight(k) * at(-half + step * k as f64))
        .sum::<f64>()
        * step
        / 3.0
}

fn wider(a: TubeSize, b: TubeSize) -> TubeSize {
    if b.od_mm > a.od_mm { b } else { a }
}

/// A tube.
pub(super) fn tube_parts(tube: &Tube) -> Vec<Part> {
    let mut now = tube.size;
    let mut parts = Vec::new();
    for element in &tube.course {
        parts.push(match *element {
            Element::Straight { length_mm } => Part::run(now, length_mm),
            Element::Bend { angle_deg, radius_mm } => Part::bend(now, angle_deg, radius_mm),
            Element::Taper { length_mm, to } => {
                let stock = wider(now, to);
                let what = format!("taper to {}", size_text(if stock == now { to } else { now }));
                let glass = taper_glass(length_mm, now, to);
                now = to;
                Part::worked(stock, length_mm, glass, Some(what))
            }
            Element::Neck {
                size,
                taper_mm,
                length_mm,
            } => {
                let glass = 2.0 * taper_glass(taper_mm, now, size) + area(size) * length_mm;
                let what = format!("neck {}, {} parallel", size_text(size), short(length_mm));
                Part::worked(now, 2.0 * taper_mm + length_mm, glass, Some(what))
            }
            Element::Bulb { size, length_mm } => {
                let what = format!("bulb {} by {}", size_text(size), short(length_mm));
                Part::worked(now, length_mm, inline_bulb_glass(now, size, length_mm), Some(what))
            }
        });
    }
    parts.extend(end_part(now, &tube.end));
    parts
}

/// What an end adds beyond the last element.
fn end_part(size: TubeSize, end: &End) -> Option<Part> {
    match end {
        End::Round => Some(Part::worked(size, size.od_mm / 2.0, dome_glass(size), None)),
        End::Flat => {
            let floor = PI / 4.0 * size.od_mm.powi(2) * size.wall_mm;
            Some(Part::worked(size, size.wall_mm, floor, None))
        }
        End::Open | End::Joint { .. } | End::Port => None,
    }
}

/// A bulb with its neck; `glass_mm3` is all its glass.
pub(super) fn bulb_parts(bulb: &Bulb, glass_mm3: f64) -> Vec<Part> {
    let (r, neck) = (bulb.body.od_mm / 2.0, bulb.neck.od_mm / 2.0);
    // A pear's cone has sides at 60 degrees; its apex stands two radii from the centre.
    let reach = match bulb.shape {
        BulbShape::Pear => 2.0 * r - neck * 3f64.sqrt(),
        BulbShape::Sphere | BulbShape::Flask { .. } => (r * r - neck * neck).max(0.0).sqrt(),
    };
    let straight = (bulb.neck_mm - reach).max(0.0);
    let run = Part::run(bulb.neck, straight);
    let body = (glass_mm3 - run.glass_mm3).max(0.0);
    let what = format!("{} {}", shape_word(bulb.shape), size_text(bulb.body));
    let rest = bulb.neck_mm + r - straight;
    vec![run, Part::worked(bulb.neck, rest, body, Some(what))]
}

fn shape_word(shape: BulbShape) -> &'static str {
    match shape {
        BulbShape::Sphere => "bulb",
        BulbShape::Pear => "pear",
        BulbShape::Flask { .. } => "flask",
    }
}

/// An ampoule.
pub(super) fn ampoule_parts(ampoule: &Ampoule) -> Vec<Part> {
    let (stem, neck, body) = (ampoule.stem, ampoule.neck, ampoule.body);
    let mut parts = vec![Part::run(stem, ampoule.stem_mm)];
    let drawn = taper_glass(ampoule.funnel_mm, stem, neck);
    parts.push(Part::worked(stem, ampoule.funnel_mm, drawn, Some("funnel".to_owned())));
    let what = format!("neck {}", size_text(neck));
    parts.push(Part::worked(
        stem,
        ampoule.neck_mm,
        area(neck) * ampoule.neck_mm,
        Some(what),
    ));
    let shoulder = taper_glass(ampoule.shoulder_mm, neck, body);
    parts.push(Part::worked(
        body,
        ampoule.shoulder_mm,
        shoulder,
        Some("shoulder".to_owned()),
    ));
    match ampoule.bottom {
        Bottom::Round => {
            parts.push(Part::run(body, ampoule.body_mm));
            parts.push(Part::worked(body, body.od_mm / 2.0, dome_glass(body), None));
        }
        Bottom::Flat => {
            parts.push(Part::run(body, (ampoule.body_mm - body.wall_mm).max(0.0)));
            let floor = PI / 4.0 * body.od_mm.powi(2) * body.wall_mm;
            parts.push(Part::worked(body, body.wall_mm, floor, None));
        }
        Bottom::Conical { length_mm } => {
            parts.push(Part::run(body, ampoule.body_mm));
            // The outside runs parallel to the inside at one wall's distance.
            let inside = body.bore_mm() / 2.0;
            let outer = length_mm + body.wall_mm * length_mm.hypot(inside) / inside;
            let glass = cone(outer, body.od_mm / 2.0, 0.0) - cone(length_mm, inside, 0.0);
            parts.push(Part::worked(body, outer, glass, Some("cone".to_owned())));
        }
    }
    parts
}

/// A fitting.
pub(super) fn fitting_parts(fitting: &Fitting) -> Vec<Part> {
    let mut parts = vec![Part::run(fitting.size, fitting.length_mm)];
    if fitting.kind == FittingKind::Cap {
        parts.extend(end_part(fitting.size, &End::Round));
    }
    parts
}

/// A bridge of one size.
pub(super) fn bridge_parts(size: TubeSize, line: &Centreline) -> Vec<Part> {
    let segments = line.segments.iter().map(|segment| match *segment {
        Segment::Line { length_mm, .. } => Part::run(size, length_mm),
        Segment::Arc {
            radius_mm, turn_deg, ..
        } => Part::bend(size, turn_deg, radius_mm),
    });
    segments.collect()
}
