//! What the glass bears: pressure inside and outside, heat, annealing.

use super::case::Case;
use super::seal::Seal;
use super::sheet::{Line, Sheet, Verdict};
use crate::data::glass;
use crate::model::job::{Input, Stage};
use crate::model::{Bottom, BulbShape, Element, End, Form, TubeSize};
use crate::physics::anneal::{self, CoolingRate, Faces};
use crate::physics::{Working, strength};
use crate::units::si::{
    Length, Pressure, in_kelvins_apart, in_millimetres, interval_text, kelvins_apart, metres, millibars, millimetres,
    mm_text, percent_text, percents, pressure_text, stress_text, temperature_text, time_text,
};

/// What kind of wall it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wall {
    /// A tube.
    Tube,
    /// A bulb.
    Bulb,
    /// A flat end.
    Flat,
}

/// A wall with what it bears.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its piece.
    pub piece: String,
    /// Which part of it.
    pub part: &'static str,
    /// Kind.
    pub wall: Wall,
    /// Outside diameter and wall.
    pub size: TubeSize,
    /// Internal pressure above the outside at which it reaches the design stress.
    pub rated: Pressure,
    /// External pressure at which it buckles, or a flat end reaches the design stress.
    pub collapses: Pressure,
}

/// The stage.
#[derive(Clone, Debug)]
pub struct Strength {
    /// Every wall, the weakest inside first.
    pub parts: Vec<Part>,
    /// Part of the rating that is trusted.
    pub derating: f64,
    /// Greatest pressure above the outside while it is worked with.
    pub over: Pressure,
    /// Ampoules with the pressure above the outside at the warmest, and what is trusted of their rating.
    pub ampoules: Vec<(String, Verdict<Pressure>, Pressure)>,
    /// Stress of the difference of temperature, quenched.
    pub quenched: Pressure,
    /// Stress of the same difference across a wall.
    pub across: Pressure,
    /// Thickest wall, at a joint counted as both walls.
    pub thickest: Length,
    /// Its fastest cooling for the makers' stress.
    pub cooling: CoolingRate,
    /// Stress of a strain reading; an error when there is none.
    pub strain: Verdict<Pressure>,
    /// In words.
    pub sheet: Sheet,
}

pub(super) fn work_out(case: &Case, seal: &Seal) -> Strength {
    let mut sheet = Sheet::new(Stage::Strength);
    sheet.inputs = case.inputs.lines(Stage::Strength);
    let derating = case.inputs.value(Input::Derating).unwrap_or(25.0) / 100.0;
    let over = millibars(case.inputs.value(Input::Over).unwrap_or(0.0));
    let mut parts = parts(case);
    parts.sort_by(|a, b| a.rated.value.total_cmp(&b.rated.value));
    let ampoules = seal
        .necks
        .iter()
        .map(|neck| {
            let own = parts
                .iter()
                .filter(|part| part.piece == neck.vessel.name && part.part != "stem");
            let rated = own.map(|part| part.rated.value).fold(f64::INFINITY, f64::min);
            let pressure = neck.warm.clone().map(|warm| warm.pressure - strength::atmosphere());
            (
                neck.vessel.name.clone(),
                pressure,
                crate::units::si::pascals(rated * derating),
            )
        })
        .collect();
    let difference = kelvins_apart(case.inputs.value(Input::Difference).unwrap_or(20.0));
    let thickest = thickest(case);
    let strain = (|| {
        let nm = case.number(Input::Strain)?;
        let path = case.number(Input::StrainPath)?;
        Ok(strength::stress_of_strain(metres(nm * 1e-9), millimetres(path)))
    })();
    let stage = Strength {
        quenched: strength::quench_stress(difference),
        across: strength::thermal_wall(difference),
        cooling: anneal::makers_rate(glass::cool_from_550_3mm(), thickest),
        parts,
        derating,
        over,
        ampoules,
        thickest,
        strain,
        sheet,
    };
    stage.write(case, difference)
}

fn parts(case: &Case) -> Vec<Part> {
    let stress = glass::design_stress();
    let mut list = Vec::new();
    for piece in &case.built.placed.pieces {
        let mut add = |part: &'static str, wall: Wall, size: TubeSize| {
            let (od, w) = (millimetres(size.od_mm), millimetres(size.wall_mm));
            let (rated, collapses) = match wall {
                Wall::Tube => (strength::lame_pressure(stress, od, w), strength::tube_buckling(od, w)),
                Wall::Bulb => (
                    strength::sphere_pressure(stress, od, w),
                    strength::sphere_buckling(od, w) * strength::REAL_SHELL,
                ),
                Wall::Flat => {
                    let a = millimetres(size.bore_mm() / 2.0);
                    // Supported is the worse of the two; a flame-made corner lies between.
                    let per_bar = strength::plate_supported(crate::units::si::bars(1.0), a, w);
                    let bears = crate::units::si::bars((stress / per_bar).value);
                    (bears, bears)
                }
            };
            list.push(Part {
                piece: piece.name.clone(),
                part,
                wall,
                size,
                rated,
                collapses,
            });
        };
        match &piece.form {
            Form::Tube(tube) => {
                add("tube", Wall::Tube, tube.size);
                let mut now = tube.size;
                for element in &tube.course {
                    match *element {
                        Element::Taper { to, .. } => {
                            add("tube", Wall::Tube, to);
                            now = to;
                        }
                        Element::Neck { size, .. } => add("neck", Wall::Tube, size),
                        Element::Bulb { size, .. } => add("bulb", Wall::Bulb, size),
                        Element::Straight { .. } | Element::Bend { .. } => {}
                    }
                }
                if tube.end == End::Flat {
                    add("flat end", Wall::Flat, now);
                }
                if tube.start == End::Flat {
                    add("flat end", Wall::Flat, tube.size);
                }
            }
            Form::Bulb(bulb) => {
                add("neck", Wall::Tube, bulb.neck);
                add("body", Wall::Bulb, bulb.body);
                if let BulbShape::Flask { flat_mm } = bulb.shape
                    && flat_mm > 0.0
                {
                    let flat = flat_mm.min(bulb.body.od_mm);
                    add("flat bottom", Wall::Flat, TubeSize::new(flat, bulb.body.wall_mm));
                }
            }
            Form::Bridge(bridge) => add("tube", Wall::Tube, bridge.size),
            Form::Ampoule(ampoule) => {
                add("stem", Wall::Tube, ampoule.stem);
                add("neck", Wall::Tube, ampoule.neck);
                add("body", Wall::Tube, ampoule.body);
                if ampoule.bottom == Bottom::Flat {
                    add("flat bottom", Wall::Flat, ampoule.body);
                }
            }
            Form::Fitting(fitting) => add("tube", Wall::Tube, fitting.size),
        }
    }
    list
}

/// The thickest glass: where a piece is joined, its wall and its host's meet.
fn thickest(case: &Case) -> Length {
    let wall = |form: &Form| match form {
        Form::Tube(tube) => tube.size.wall_mm,
        Form::Bulb(bulb) => bulb.body.wall_mm.max(bulb.neck.wall_mm),
        Form::Bridge(bridge) => bridge.size.wall_mm,
        Form::Ampoule(ampoule) => ampoule.stem.wall_mm,
        Form::Fitting(fitting) => fitting.size.wall_mm,
    };
    let pieces = &case.built.placed.pieces;
    let joints = pieces.iter().flat_map(|piece| {
        piece.seat.places().filter_map(|place| {
            let host = pieces.get(case.built.placed.index(&place.host)?)?;
            Some(wall(&piece.form) + wall(&host.form))
        })
    });
    let alone = pieces.iter().map(|piece| wall(&piece.form));
    millimetres(joints.chain(alone).fold(0.0, f64::max))
}

impl Strength {
    fn write(mut self, case: &Case, difference: crate::units::si::TemperatureInterval) -> Self {
        let mut sheet = std::mem::replace(&mut self.sheet, Sheet::new(Stage::Strength));
        let mut seen: Vec<(&str, &'static str, TubeSize)> = Vec::new();
        let mut lines = Vec::new();
        let row_of = |name: &str| -> String {
            let rows = case.apparatus.rows.iter();
            let row = rows.filter(|row| row.member_of_name(name).is_some_and(|member| !row.departs(member)));
            row.map(|row| format!("{} (each)", row.name))
                .next()
                .unwrap_or_else(|| name.to_owned())
        };
        for part in &self.parts {
            let shown = row_of(&part.piece);
            let same = |(piece, what, size): &(&str, &'static str, TubeSize)| {
                row_of(piece) == shown && *what == part.part && *size == part.size
            };
            if seen.iter().any(same) {
                continue;
            }
            seen.push((&part.piece, part.part, part.size));
            lines.push(self.line(&shown, part));
        }
        sheet.group("Pressure: rated inside, trusted inside, collapse from outside", lines);
        let lines = self.ampoules.iter().map(|(name, pressure, trusted)| {
            let line = Line::of(format!("{name}, warmest"), pressure, |p| {
                let (words, p) = if p.value < 0.0 { ("below", -*p) } else { ("above", *p) };
                format!(
                    "{} {words} the outside; {} are trusted",
                    pressure_text(p),
                    pressure_text(*trusted)
                )
            });
            line.caution("stop at 2 to 3 bar for any unrated hand-made ampoule, behind a shield (judgement)")
        });
        sheet.group("Sealed ampoules", lines.collect());
        sheet.group("Heat", self.heat_lines(difference));
        sheet.group("Annealing", self.anneal_lines());
        let read = Line::of("stress of the strain reading", &self.strain, |stress| {
            stress_text(*stress)
        });
        sheet.group("Polariscope", vec![read.worked(Working::of(&strength::STRAIN))]);
        sheet.cautions.push(
            "the design stress of 7 N/mm\u{b2} covers clean, annealed, round tube with open ends. Flame-closed ends, scratches, heat and repairs are not covered; no number here makes the glass safe".to_owned(),
        );
        self.sheet = sheet;
        self
    }

    fn line(&self, name: &str, part: &Part) -> Line {
        let value = format!(
            "{}, {}, {}",
            pressure_text(part.rated),
            pressure_text(part.rated * self.derating),
            pressure_text(part.collapses)
        );
        let (inside, outside) = match part.wall {
            Wall::Tube => (&strength::LAME, &strength::TUBE_BUCKLING),
            Wall::Bulb => (&strength::SPHERE_INSIDE, &strength::SPHERE_BUCKLING),
            Wall::Flat => (&strength::PLATE, &strength::PLATE),
        };
        let mut working = Working::of(inside)
            .with("OD", "outside diameter", mm_text(millimetres(part.size.od_mm)))
            .with("w", "wall", mm_text(millimetres(part.size.wall_mm)))
            .with("sigma", "design stress", stress_text(glass::design_stress()))
            .with(
                "trusted",
                "part of the rating",
                percent_text(percents(self.derating * 100.0)),
            );
        if part.wall != Wall::Flat {
            working = working
                .with("outside", "collapse", outside.text)
                .from(outside.source, outside.known);
        }
        Line::new(format!("{name}, {}", part.part), value).worked(working)
    }

    fn heat_lines(&self, difference: crate::units::si::TemperatureInterval) -> Vec<Line> {
        let limit = strength::quench_limit(glass::design_stress());
        let working = || {
            Working::of(&strength::THERMAL)
                .with("dT", "difference as given", interval_text(difference))
                .with("alpha", "expansion", "3.3e\u{2212}6 1/K")
        };
        vec![
            Line::new(format!("{} across a wall", interval_text(difference)), stress_text(self.across)).worked(working()),
            Line::new(format!("{} at once on a surface", interval_text(difference)), stress_text(self.quenched)).worked(working()),
            Line::new("difference at once that reaches the design stress", interval_text(limit)),
            Line::new("makers' limit for tube", interval_text(kelvins_apart(glass::shock()))).caution(
                "the makers' 120 K stand for the short-time strength of good surfaces; a scratched or worked surface bears far less",
            ),
        ]
    }

    fn anneal_lines(&self) -> Vec<Line> {
        let (hold_t, d) = (glass::anneal_temperature(), self.thickest);
        let rate = |for_3_mm: f64| anneal::makers_rate(for_3_mm, d).text();
        let derived = anneal::fastest_cooling(anneal::makers_stress(), d, Faces::One);
        vec![
            Line::new("thickest joint", mm_text(d)).caution("both walls where a piece is joined; a lump left in the flame is thicker"),
            Line::new(format!("hold at {}", temperature_text(hold_t)), format!("{} to 30 min", time_text(anneal::hold(hold_t))))
                .worked(Working::of(&anneal::HOLD)),
            Line::new("then cool, 550 to 480 \u{b0}C", rate(glass::cool_from_550_3mm())),
            Line::new("480 to 400 \u{b0}C", rate(glass::cool_from_480_3mm())),
            Line::new("400 to 20 \u{b0}C, at most", rate(glass::cool_from_400_3mm()))
                .caution("makers' table recalled, carried to this wall as 1/wall\u{b2}; closed vessels cool from one face: a quarter"),
            Line::new("fastest for 0.5 N/mm\u{b2} left, one face cooled", derived.text()).worked(
                Working::of(&anneal::COOLING)
                    .with("d", "twice the thickest joint", format!("{} mm", crate::units::si::significant(2.0 * in_millimetres(d), 3)))
                    .with("lag", "middle behind the surface at that rate", interval_text(anneal::centre_lag(derived, d, Faces::One))),
            ),
        ]
    }

    /// Whether the difference given is more than a surface at the design stress bears.
    pub fn is_beyond_quench(&self, difference_k: f64) -> bool {
        difference_k > in_kelvins_apart(strength::quench_limit(glass::design_stress()))
    }
}
