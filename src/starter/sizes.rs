//! The tubes, and the dimensions of an ampoule for its target.

use super::{BODY_LENGTH, Refusal, Sizes, Wish, limit};
use crate::data::STOCK;
use crate::findings::{ARM_EASY, body_ml};
use crate::geom::build::build;
use crate::geom::{Interior, Stance};
use crate::model::fresh::ARM_PITCH_DIAMETERS;
use crate::model::limits::{Limit, Unit};
use crate::model::{Ampoule, Apparatus, Bottom, Form, Piece, Seat, TubeSize};
use crate::units::MM3_PER_ML;
use std::f64::consts::PI;

/// The target stands in this part of what bottom and straight body hold: room for expansion and for a shaky hand. Where
/// that can't be metered out, the next greater part is tried.
const FILL_PARTS: [f64; 4] = [0.62, 0.68, 0.74, 0.8];
/// A target is metered out surely when what the stem would hold back is less than this part of it.
const SURE_PART: f64 = 0.95;
/// Shortest body, mm.
const BODY_LEAST_MM: f64 = 6.0;
/// Length of a body that is in proportion, in bores.
const BODY_BORES: f64 = 2.2;
/// Least length from the level to the seal-off place, mm: the flame must not reach the liquid.
const ROOM_MM: f64 = 30.0;
/// A neck with more than this part of the body's bore leaves nothing to seal.
const NECK_PART: f64 = 0.7;
/// From the header's outside to the funnel of a stem, mm.
const STEM_FREE_MM: f64 = 12.0;
/// Between the outsides of neighbouring bodies, mm.
const BODY_GAP_MM: f64 = 15.0;
/// Distance of vials that leaves a hand room as well as its torch, mm.
const EASY_PITCH_MM: f64 = 40.0;
/// Turn of the vials from the header, degrees: leaning back, they meter out before the header stands upright.
pub(super) const LEAN_DEG: f64 = -110.0;

static HEADER: Limit = limit("header", "header", Unit::Mm, 8.0, 32.0, 1.0);
static BODY: Limit = limit("body", "body", Unit::Mm, 7.0, 36.0, 1.0);
static NECK: Limit = limit("neck", "neck", Unit::Mm, 3.0, 12.0, 1.0);
static BRIDGE: Limit = limit("bridge", "bridge", Unit::Mm, 6.0, 26.0, 1.0);

/// A tube that can be chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The header.
    Header,
    /// An ampoule's body.
    Body,
    /// An ampoule's neck.
    Neck,
    /// The bridge, the riser, and the necks that they join.
    Bridge,
}

impl Part {
    /// Every part.
    pub const ALL: [Self; 4] = [Self::Header, Self::Body, Self::Neck, Self::Bridge];

    /// Its name, in lower case.
    pub fn words(self) -> &'static str {
        self.limit().label
    }

    /// Limit of its outside diameter.
    pub fn limit(self) -> &'static Limit {
        match self {
            Self::Header => &HEADER,
            Self::Body => &BODY,
            Self::Neck => &NECK,
            Self::Bridge => &BRIDGE,
        }
    }
}

impl<T> Sizes<T> {
    /// What belongs to a part.
    pub fn of(&self, part: Part) -> &T {
        match part {
            Part::Header => &self.header,
            Part::Body => &self.body,
            Part::Neck => &self.neck,
            Part::Bridge => &self.bridge,
        }
    }

    /// The same, to be changed.
    pub fn of_mut(&mut self, part: Part) -> &mut T {
        match part {
            Part::Header => &mut self.header,
            Part::Body => &mut self.body,
            Part::Neck => &mut self.neck,
            Part::Bridge => &mut self.bridge,
        }
    }
}

/// The tubes and the ampoule.
#[derive(Clone, Debug)]
pub(super) struct Choice {
    pub(super) sizes: Sizes<TubeSize>,
    pub(super) ampoule: Ampoule,
    /// From the target's level to the seal-off place, mm.
    pub(super) room_mm: f64,
    /// Distance between vials, mm.
    pub(super) pitch_mm: f64,
}

/// Chooses what was left open.
pub(super) fn choose(wish: &Wish) -> Result<Choice, Refusal> {
    let body = wish.sizes.body.unwrap_or_else(|| suited_body(wish.target_ml));
    let neck = wish.sizes.neck.unwrap_or_else(|| suited_neck(body));
    let most_mm = NECK_PART * body.bore_mm();
    if neck.bore_mm() > most_mm {
        return Err(Refusal::NeckTooWide {
            neck_mm: neck.bore_mm(),
            most_mm,
        });
    }
    let stem = thin()
        .find(|size| size.bore_mm() >= neck.bore_mm() + 0.5)
        .unwrap_or(neck);
    // Bodies stand side by side across their own direction, not along the header.
    let lean = LEAN_DEG.to_radians().sin().abs();
    let apart_mm = ((body.od_mm + BODY_GAP_MM) / lean).max(EASY_PITCH_MM);
    let header = wish
        .sizes
        .header
        .unwrap_or_else(|| suited_header(apart_mm, stem, wish.vessels));
    if stem.od_mm > header.od_mm {
        return Err(Refusal::StemTooWide {
            stem_mm: stem.od_mm,
            header_mm: header.od_mm,
        });
    }
    let bridge = wish.sizes.bridge.unwrap_or_else(|| arm_on(header.od_mm, 16.0));
    let (ampoule, room_mm) = metered(wish.target_ml, header, [stem, neck, body])?;
    Ok(Choice {
        sizes: Sizes {
            header,
            body,
            neck,
            bridge,
        },
        ampoule,
        room_mm,
        pitch_mm: apart_mm.max(ARM_PITCH_DIAMETERS * header.od_mm).ceil(),
    })
}

/// The thinnest stock of every outside diameter.
fn thin() -> impl DoubleEndedIterator<Item = TubeSize> {
    STOCK
        .iter()
        .enumerate()
        .filter(|(i, row)| *i == 0 || STOCK[i - 1].od_mm < row.od_mm)
        .map(|(_, row)| TubeSize::new(row.od_mm, row.wall_mm))
}

/// The widest thin stock that is easily joined to a tube and no wider than `most_mm`; the narrowest of all where even
/// that is too wide.
pub(super) fn arm_on(main_od_mm: f64, most_mm: f64) -> TubeSize {
    let widest = (ARM_EASY * main_od_mm).min(most_mm);
    thin()
        .rfind(|size| size.od_mm <= widest)
        .or_else(|| thin().next())
        .unwrap_or(TubeSize::new(widest, 0.1 * widest))
}

/// A tube in which the target makes a body of good proportion.
fn suited_body(target_ml: f64) -> TubeSize {
    let bore_mm = (target_ml * MM3_PER_ML / FILL_PARTS[0] * 4.0 / (PI * BODY_BORES)).cbrt();
    let in_limit = |size: &TubeSize| BODY.allows(size.od_mm);
    let off = |size: &TubeSize| (size.bore_mm() - bore_mm).abs();
    thin()
        .filter(in_limit)
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or(TubeSize::new(12.0, 1.0))
}

/// The widest of the usual necks that leaves enough of the body to seal: liquid passes it best.
fn suited_neck(body: TubeSize) -> TubeSize {
    let usual = [(7.0, 1.0), (6.0, 1.0), (5.0, 0.8), (4.0, 0.8)].map(|(od, wall)| TubeSize::new(od, wall));
    let narrowest = TubeSize::new(3.0, 0.7);
    let fits = |neck: &TubeSize| neck.bore_mm() <= NECK_PART * body.bore_mm();
    usual.into_iter().find(fits).unwrap_or(narrowest)
}

/// The widest usual header that does not spread the vials, and that the stem is easily joined to. A long one is wider.
fn suited_header(apart_mm: f64, stem: TubeSize, vessels: usize) -> TubeSize {
    let least = (stem.od_mm / ARM_EASY).max(if vessels > 12 { 18.0 } else { 14.0 });
    let wanted = (apart_mm / ARM_PITCH_DIAMETERS).min(22.0).max(least);
    let in_limit = |size: &TubeSize| size.od_mm >= least && size.od_mm <= HEADER.max;
    let off = |size: &TubeSize| (size.od_mm - wanted).abs();
    thin()
        .filter(in_limit)
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or(TubeSize::new(16.0, 1.2))
}

/// The ampoule for a target that can be metered out, and the room from its level to the seal-off place, mm.
fn metered(target_ml: f64, header: TubeSize, tubes: [TubeSize; 3]) -> Result<(Ampoule, f64), Refusal> {
    let mut least_ml = f64::INFINITY;
    for part in FILL_PARTS {
        let (ampoule, room_mm) = ampoule(target_ml, part, header, tubes)?;
        let held_back = held_back_ml(&ampoule, header) / SURE_PART;
        if held_back <= target_ml {
            return Ok((ampoule, room_mm));
        }
        least_ml = least_ml.min(held_back);
    }
    Err(Refusal::TooLittle { least_ml })
}

/// What an ampoule on its header holds, mL, when it leans back so far that liquid from the header no longer runs into
/// it: then the funnel's end stands as high as the stem's lip, and what is in the stem runs back. Less than that can't
/// be metered out.
fn held_back_ml(ampoule: &Ampoule, header: TubeSize) -> f64 {
    let (stem, neck) = (ampoule.stem.bore_mm() / 2.0, ampoule.neck.bore_mm() / 2.0);
    // Where the header, which falls away from the stem, cuts the stem's lower side.
    let (sin, cos) = LEAN_DEG.to_radians().sin_cos();
    let lip_mm = (header.bore_mm() / 2.0 + stem * cos) / -sin;
    let slope = ((stem - neck) / (ampoule.stem_mm + ampoule.funnel_mm - lip_mm)).atan();
    let piece = Piece {
        name: String::from("ampoule"),
        seat: Seat::Free {
            x_mm: 0.0,
            y_mm: 0.0,
            heading_deg: -slope.to_degrees(),
        },
        form: Form::Ampoule(ampoule.clone()),
    };
    let alone = Apparatus {
        pieces: vec![piece],
        ..Apparatus::default()
    };
    let interior = build(&alone)
        .ok()
        .and_then(|built| Interior::new(built.names, built.primitives, Vec::new()).ok());
    let level = -lip_mm * slope.sin() - stem * slope.cos();
    interior.map_or(f64::INFINITY, |interior| {
        interior.at(Stance::default()).below(0, level).volume / MM3_PER_ML
    })
}

/// The ampoule for a target that fills a part of its body, and the room from its level to the seal-off place, mm.
fn ampoule(
    target_ml: f64,
    part: f64,
    header: TubeSize,
    [stem, neck, body]: [TubeSize; 3],
) -> Result<(Ampoule, f64), Refusal> {
    let r = body.bore_mm() / 2.0;
    let held = target_ml * MM3_PER_ML / part;
    let length_mm = |r: f64| held / (PI * r * r) - 2.0 / 3.0 * r;
    let body_mm = halves(length_mm(r).max(r).max(BODY_LEAST_MM));
    if !BODY_LENGTH.allows(body_mm) {
        let mut bore_mm = body.bore_mm();
        while length_mm(bore_mm / 2.0) > BODY_LENGTH.max {
            bore_mm += 0.1;
        }
        return Err(Refusal::BodyTooLong {
            length_mm: body_mm,
            bore_mm,
        });
    }
    let free_mm = r + body_mm - level_mm(target_ml * MM3_PER_ML, r);
    let shoulder_mm = (1.2 * (body.od_mm - neck.od_mm)).max(8.0).ceil();
    let seal_mm = 10.0;
    let neck_mm = (seal_mm + ROOM_MM - shoulder_mm - free_mm).max(20.0).ceil();
    let ampoule = Ampoule {
        stem,
        stem_mm: (header.od_mm / 2.0 + STEM_FREE_MM).ceil(),
        funnel_mm: 12.0,
        neck,
        neck_mm,
        seal_mm,
        shoulder_mm,
        body,
        body_mm,
        bottom: Bottom::Round,
        target_ml,
    };
    Ok((ampoule, free_mm + shoulder_mm + neck_mm - seal_mm))
}

/// The next half millimetre.
fn halves(mm: f64) -> f64 {
    (2.0 * mm).ceil() / 2.0
}

/// Level of a volume above the pole of an upright tube with a round bottom, mm and mm3.
fn level_mm(volume: f64, r: f64) -> f64 {
    let bottom = 2.0 / 3.0 * PI * r.powi(3);
    if volume >= bottom {
        return r + (volume - bottom) / (PI * r * r);
    }
    // A cap of height h holds PI h^2 (r - h / 3), which grows with h up to the hemisphere.
    let (mut low, mut high) = (0.0, r);
    for _ in 0..60 {
        let h = (low + high) / 2.0;
        if PI * h * h * (r - h / 3.0) < volume {
            low = h;
        } else {
            high = h;
        }
    }
    high
}

/// Inside volume of an ampoule below its seal-off place, mL: what is closed in when it is sealed.
pub fn sealed_ml(ampoule: &Ampoule) -> f64 {
    let (neck, body) = (ampoule.neck.bore_mm() / 2.0, ampoule.body.bore_mm() / 2.0);
    let shoulder = PI / 3.0 * ampoule.shoulder_mm * (neck * neck + neck * body + body * body);
    let neck = PI * neck * neck * (ampoule.neck_mm - ampoule.seal_mm);
    body_ml(ampoule) + (shoulder + neck) / MM3_PER_ML
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_those_of_a_round_bottom() {
        let r = 6.0;
        let half = 2.0 / 3.0 * PI * r * r * r;
        assert!((level_mm(half, r) - r).abs() < 1e-9);
        assert!((level_mm(half + PI * r * r * 5.0, r) - 11.0).abs() < 1e-9);
        let h: f64 = 2.5;
        assert!((level_mm(PI * h * h * (r - h / 3.0), r) - h).abs() < 1e-9);
    }

    #[test]
    fn room_and_sealed_volume_are_those_of_the_engine() {
        let choice = choose(&Wish::default()).unwrap();
        let piece = Piece {
            name: "vial".to_owned(),
            seat: Seat::Free {
                x_mm: 0.0,
                y_mm: 0.0,
                heading_deg: -90.0,
            },
            form: Form::Ampoule(choice.ampoule.clone()),
        };
        let built = build(&Apparatus {
            pieces: vec![piece],
            ..Apparatus::default()
        })
        .unwrap();
        let interior = Interior::new(built.names, built.primitives, Vec::new()).unwrap();
        let posture = interior.at(Stance::default());
        let a = &choice.ampoule;
        let seal = -(a.stem_mm + a.funnel_mm + a.seal_mm);
        let sealed = posture.below(0, seal).volume / MM3_PER_ML;
        assert!((sealed - sealed_ml(a)).abs() < 1e-6, "{sealed}");
        let level = posture.settle(&[(0, a.target_ml * MM3_PER_ML)]).pools[0].level;
        assert!((seal - level - choice.room_mm).abs() < 1e-4, "{level}");
    }

    #[test]
    fn what_is_chosen_is_in_stock_and_in_its_limit() {
        for target in [0.1, 0.5, 1.5, 5.0, 25.0] {
            let wish = Wish {
                target_ml: target,
                ..Wish::default()
            };
            let sizes = choose(&wish).unwrap().sizes;
            for part in Part::ALL {
                assert!(
                    super::super::offered(part).any(|s| s == *sizes.of(part)),
                    "{target} {part:?} {sizes:?}"
                );
            }
        }
    }
}
