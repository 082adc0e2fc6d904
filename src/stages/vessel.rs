//! An ampoule as the stages see it: neck, seal-off place, inside volume below it.

use crate::geom::build::Built;
use crate::geom::glass::MarkKind;
use crate::model::place::Point;
use crate::model::{Ampoule, Bottom, Form};
use crate::units::MM3_PER_ML;
use crate::units::si::{Length, Volume, millilitres, millimetres};
use std::f64::consts::PI;

/// An ampoule.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    /// Index of the piece.
    pub piece: usize,
    /// Its name.
    pub name: String,
    /// What it is.
    pub ampoule: Ampoule,
    /// Seal-off place on the drawing.
    pub seal: Point,
    /// Heading from mouth to bottom, degrees.
    pub heading_deg: f64,
    /// Volume wanted.
    pub target: Volume,
    /// Inside volume below the seal-off place.
    pub sealed: Volume,
}

impl Vessel {
    /// Height above the lowest inside point at which a volume stands in it upright; none when it stands above the seal-off
    /// place.
    pub fn height_of(&self, volume: Volume) -> Option<Length> {
        upright_height(&self.ampoule, volume)
    }
}

/// The ampoules of a design.
pub(super) fn of(built: &Built) -> Vec<Vessel> {
    let pieces = built.placed.pieces.iter().enumerate();
    pieces
        .filter_map(|(piece, placed)| {
            let Form::Ampoule(ampoule) = &placed.form else {
                return None;
            };
            let line = built.placed.lines.get(piece)?;
            let marks = built
                .glass
                .get(piece)
                .map(|glass| glass.marks.as_slice())
                .unwrap_or_default();
            let seal = marks.iter().find(|mark| mark.kind == MarkKind::Seal);
            let at_mm = ampoule.stem_mm + ampoule.funnel_mm + ampoule.seal_mm;
            Some(Vessel {
                piece,
                name: placed.name.clone(),
                seal: seal.map_or_else(|| line.spot(at_mm).at, |mark| mark.at),
                heading_deg: line.end().heading_deg,
                target: millilitres(ampoule.target_ml),
                sealed: millilitres(below_seal_mm3(ampoule) / MM3_PER_ML),
                ampoule: ampoule.clone(),
            })
        })
        .collect()
}

/// Volume of a cone frustum by its diameters, mm3.
fn frustum(length: f64, d0: f64, d1: f64) -> f64 {
    PI * length / 12.0 * (d0 * d0 + d0 * d1 + d1 * d1)
}

/// Inside volume below the seal-off place, mm3.
fn below_seal_mm3(ampoule: &Ampoule) -> f64 {
    let (neck, body) = (ampoule.neck.bore_mm(), ampoule.body.bore_mm());
    let rest = (ampoule.neck_mm - ampoule.seal_mm).max(0.0);
    let straight = match ampoule.bottom {
        Bottom::Flat => (ampoule.body_mm - ampoule.body.wall_mm).max(0.0),
        Bottom::Round | Bottom::Conical { .. } => ampoule.body_mm,
    };
    let bottom = match ampoule.bottom {
        Bottom::Round => PI / 12.0 * body.powi(3),
        Bottom::Flat => 0.0,
        Bottom::Conical { length_mm } => frustum(length_mm, body, 0.0),
    };
    frustum(rest, neck, neck) + frustum(ampoule.shoulder_mm, neck, body) + frustum(straight, body, body) + bottom
}

/// Height above the lowest inside point at which a volume stands in an upright ampoule, from its own bores; none when it
/// stands above the seal-off place.
pub(super) fn upright_height(ampoule: &Ampoule, volume: Volume) -> Option<Length> {
    let wanted = crate::units::si::in_millilitres(volume) * MM3_PER_ML;
    let (mut low, mut high) = (0.0, seal_height_mm(ampoule));
    if below_height_mm3(ampoule, high) < wanted {
        return None;
    }
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if below_height_mm3(ampoule, middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(millimetres(f64::midpoint(low, high)))
}

/// Height of the seal-off place above the lowest inside point of the upright ampoule, mm.
pub(super) fn seal_height_mm(ampoule: &Ampoule) -> f64 {
    let bottom = match ampoule.bottom {
        Bottom::Round => ampoule.body.bore_mm() / 2.0,
        Bottom::Flat => -ampoule.body.wall_mm,
        Bottom::Conical { length_mm } => length_mm,
    };
    bottom + ampoule.body_mm + ampoule.shoulder_mm + (ampoule.neck_mm - ampoule.seal_mm)
}

/// Volume of the upright ampoule below a height above its lowest inside point, mm3.
fn below_height_mm3(ampoule: &Ampoule, height: f64) -> f64 {
    let (neck, body) = (ampoule.neck.bore_mm(), ampoule.body.bore_mm());
    let r = body / 2.0;
    let (mut left, mut volume) = (height, 0.0);
    let mut take = |length: f64, part: &dyn Fn(f64) -> f64| {
        let h = left.clamp(0.0, length.max(0.0));
        volume += part(h);
        left -= length.max(0.0);
    };
    match ampoule.bottom {
        Bottom::Round => take(r, &|h| PI * h * h * (3.0 * r - h) / 3.0),
        Bottom::Flat => {}
        Bottom::Conical { length_mm } => take(length_mm, &|h| frustum(h, 0.0, body * h / length_mm)),
    }
    let straight = match ampoule.bottom {
        Bottom::Flat => ampoule.body_mm - ampoule.body.wall_mm,
        Bottom::Round | Bottom::Conical { .. } => ampoule.body_mm,
    };
    take(straight, &|h| frustum(h, body, body));
    let shoulder = ampoule.shoulder_mm;
    take(shoulder, &|h| {
        let d = if shoulder > 0.0 {
            body + (neck - body) * h / shoulder
        } else {
            body
        };
        frustum(h, body, d)
    });
    take(f64::INFINITY, &|h| frustum(h, neck, neck));
    volume
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::geom::{Interior, Stance};
    use crate::model::sample;
    use crate::units::si::{in_millilitres, in_millimetres};

    #[test]
    fn volumes_and_heights_agree_with_the_engine() {
        let mut ampoule = sample::ampoule();
        for bottom in [Bottom::Round, Bottom::Flat, Bottom::Conical { length_mm: 9.0 }] {
            ampoule.bottom = bottom;
            let mut apparatus = sample::apparatus();
            apparatus.rows[0].pattern = ampoule.clone();
            let built = build(&apparatus).unwrap();
            let vessels = of(&built);
            let vessel = vessels.iter().find(|vessel| vessel.name == "vial-1").unwrap();
            assert_eq!((vessels.len(), vessel.heading_deg), (3, -90.0));
            let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
            let posture = interior.at(Stance::default());
            let lowest = posture.extent(vessel.piece).unwrap().0;
            assert!((vessel.seal.y - lowest - seal_height_mm(&ampoule)).abs() < 1e-9);
            let below = posture.below(vessel.piece, vessel.seal.y);
            assert!(
                (below.volume / MM3_PER_ML - in_millilitres(vessel.sealed)).abs() < 1e-6,
                "{bottom:?}"
            );
            let height = upright_height(&ampoule, millilitres(1.5)).unwrap();
            let below = posture.below(vessel.piece, lowest + in_millimetres(height));
            assert!((below.volume / MM3_PER_ML - 1.5).abs() < 1e-6, "{bottom:?}");
            assert_eq!(upright_height(&ampoule, millilitres(50.0)), None);
        }
    }
}
