//! Dimensions as on a workshop drawing: what is measured, and where lines, arrows and texts stand so that they can be
//! read.
//!
//! [`survey()`] lists what is measured on the pieces asked for. [`lay_out`] places it around the glass for lettering of
//! a given size and leaves out what finds no room. Everything is flat, in millimetres of the apparatus frame, and
//! holds for every tilt: turned with the glass, a text that would stand on its head changes to the other side of its
//! line, and both sides are kept free. Screens and printed sheets read the same result.
//!
//! The practice is that of ISO 129-1: extension lines leave a gap at the outline and run a little beyond the dimension
//! line; lines stand outside the glass with the shortest nearest to it; texts stand above the line and read from below
//! or from the right; the unit of length is said once for the whole drawing; what follows from other numbers
//! stands in brackets.

mod clear;
mod forms;
mod layout;
mod survey;
mod trials;

pub use layout::{Pen, lay_out};
pub use survey::survey;

use crate::model::TubeSize;
use crate::model::limits::Limit;
use crate::model::place::{Point, Segment};
use crate::units::LengthUnit;
use nalgebra::Vector2;

/// A number of the design that a dimension sets: its value is `offset + factor * shown`.
#[derive(Clone, Debug, PartialEq)]
pub struct Knob {
    /// Piece, row or member that it belongs to.
    pub owner: String,
    /// Its key.
    pub key: String,
    /// What is shown, for people: `Body: wall of vial-2`.
    pub name: String,
    /// The number as shown.
    pub shown: f64,
    /// Change of the number of the design for a change of what is shown; never 0.
    pub factor: f64,
    /// The number of the design where 0 is shown.
    pub offset: f64,
    /// The limit of the number of the design.
    pub limit: &'static Limit,
}

impl Knob {
    /// The number of the design for a number shown; multiples of 1e-9 so that sums leave no tails.
    pub fn value_of(&self, shown: f64) -> f64 {
        ((self.offset + self.factor * shown) * 1e9).round() / 1e9
    }

    /// Least and greatest number that may be shown.
    pub fn range(&self) -> (f64, f64) {
        let ends = [self.limit.min, self.limit.max].map(|value| (value - self.offset) / self.factor);
        (ends[0].min(ends[1]), ends[0].max(ends[1]))
    }
}

/// What a dimension says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measure {
    /// Outside diameter and wall.
    Size(TubeSize),
    /// A diameter, mm.
    Diameter(f64),
    /// A length, mm.
    Length(f64),
    /// Equal lengths one after the other.
    Pitch {
        /// Each, mm.
        each_mm: f64,
        /// How many.
        gaps: usize,
    },
    /// A radius, mm.
    Radius(f64),
    /// An angle without its sense, degrees.
    Angle(f64),
}

impl Measure {
    /// As it stands on the drawing, the unit of length understood.
    pub fn text(&self, unit: LengthUnit) -> String {
        let length = |mm| figures(mm, unit);
        match *self {
            Self::Size(TubeSize { od_mm, wall_mm }) => format!("⌀{} × {}", length(od_mm), length(wall_mm)),
            Self::Diameter(mm) => format!("⌀{}", length(mm)),
            Self::Length(mm) => length(mm),
            Self::Pitch { each_mm, gaps: 1 } => length(each_mm),
            Self::Pitch { each_mm, gaps } => {
                format!("{gaps} × {} (= {})", length(each_mm), length(each_mm * gaps as f64))
            }
            Self::Radius(mm) => format!("R{}", length(mm)),
            // Tenths, as of a millimetre.
            Self::Angle(deg) => format!("{}°", figures(deg, LengthUnit::Millimetre)),
        }
    }

    /// In words with its unit, for assistive tools.
    pub fn words(&self, unit: LengthUnit) -> String {
        match *self {
            Self::Size(TubeSize { od_mm, wall_mm }) => {
                format!("{}, wall {}", unit.entered_text(od_mm), unit.entered_text(wall_mm))
            }
            Self::Diameter(mm) | Self::Length(mm) | Self::Radius(mm) => unit.entered_text(mm),
            Self::Pitch { each_mm, .. } => unit.entered_text(each_mm),
            Self::Angle(deg) => format!("{}°", LengthUnit::Millimetre.entered_number(deg)),
        }
    }
}

/// A length with as many digits as one that was entered, and none after the point where it is whole.
fn figures(mm: f64, unit: LengthUnit) -> String {
    let text = unit.entered_number(mm);
    let whole = text.trim_end_matches('0').strip_suffix('.');
    whole.map_or(text.clone(), str::to_owned)
}

/// A dimension: what it says, what it sets and where it is measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// Index of the piece that it belongs to.
    pub piece: usize,
    /// What it is, for people: `Pitch of vial`.
    pub name: String,
    /// What it says.
    pub measure: Measure,
    /// The numbers that it sets: outside diameter and wall of a size, else one; none where it only follows from
    /// others.
    pub knobs: Vec<Knob>,
    /// Which of two goes first when there is no room for both; 0 is first.
    pub rank: u8,
    figure: Figure,
    /// Pieces to whose centrelines its lines lead, so that they run through their glass.
    through: Vec<usize>,
    /// Dimensions of the same group stand on the same side where they can.
    group: usize,
}

impl Dimension {
    /// As it stands on the drawing; in brackets where it only follows from other numbers.
    pub fn text(&self, unit: LengthUnit) -> String {
        let text = self.measure.text(unit);
        if self.knobs.is_empty() {
            format!("({text})")
        } else {
            text
        }
    }
}

/// Where a dimension is measured.
#[derive(Clone, Debug, PartialEq)]
enum Figure {
    /// From one point to another in the direction `along`; `clear_mm` is the half-width of what lies between.
    Between {
        ends: [Point; 2],
        along: Vector2<f64>,
        clear_mm: f64,
    },
    /// Along a bent centreline.
    Along { path: Vec<Segment>, clear_mm: f64 },
    /// A straight part with parallel walls at `r_mm` on both sides of its axis.
    Tube { from: Point, to: Point, r_mm: f64 },
    /// A round body on an axis.
    Ball {
        centre: Point,
        axis: Vector2<f64>,
        r_mm: f64,
    },
    /// The radius of a bend: its arc of a centreline with the half-width of the glass.
    Bend { arc: Segment, clear_mm: f64 },
    /// The angle of a bend.
    Sweep { arc: Segment, clear_mm: f64 },
    /// The turn of a guest from its host's direction about the place where it sits.
    Turn {
        vertex: Point,
        from_deg: f64,
        turn_deg: f64,
        clear_mm: f64,
    },
}

/// The end of a dimension line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrow {
    /// Its tip.
    pub tip: Point,
    /// Unit vector in which it points.
    pub towards: Vector2<f64>,
}

/// A text beside its line. As drawn it stands to the left of `along`; turned on its head, to the right.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// The text.
    pub text: String,
    /// The point of the line beside the middle of the text.
    pub at: Point,
    /// Unit vector of the line; its x is not negative.
    pub along: Vector2<f64>,
    /// Width of the text, mm.
    pub width_mm: f64,
    /// Height of the text, mm.
    pub height_mm: f64,
    /// Distance of the text from its line, mm.
    pub gap_mm: f64,
}

impl Label {
    /// Whether the text stands on the other side of its line when the glass is turned by `tilt_deg`, to be read from
    /// below or from the right.
    pub fn is_turned_over(&self, tilt_deg: f64) -> bool {
        let angle = (self.along.y.atan2(self.along.x).to_degrees() + tilt_deg).rem_euclid(360.0);
        // A vertical line is read from the right. The limits lie where no one draws, so that parallel texts change
        // together.
        (90.503..270.503).contains(&angle)
    }

    /// Unit vector in which the text runs.
    pub fn reading(&self, turned_over: bool) -> Vector2<f64> {
        if turned_over { -self.along } else { self.along }
    }

    /// Corners of the text, mm: from where it starts at its foot, anticlockwise.
    pub fn corners(&self, turned_over: bool) -> [Point; 4] {
        let along = self.reading(turned_over) * (self.width_mm / 2.0);
        let up = Vector2::new(-along.y, along.x).normalize();
        let (foot, head) = (up * self.gap_mm, up * (self.gap_mm + self.height_mm));
        [
            self.at - along + foot,
            self.at + along + foot,
            self.at + along + head,
            self.at - along + head,
        ]
    }
}

/// A dimension in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// Which: an index into what was to be laid out.
    pub dimension: usize,
    /// The dimension line or the leader.
    pub line: Vec<Point>,
    /// Extension lines.
    pub extensions: Vec<[Point; 2]>,
    /// The ends of the dimension line.
    pub arrows: Vec<Arrow>,
    /// The text.
    pub label: Label,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_have_no_more_digits_than_were_entered() {
        for (measure, text) in [
            (Measure::Size(TubeSize::new(16.0, 1.2)), "⌀16 × 1.2"),
            (Measure::Size(TubeSize::new(6.35, 1.0)), "⌀6.35 × 1"),
            (Measure::Length(45.0), "45"),
            (Measure::Length(12.5), "12.5"),
            (Measure::Length(0.1 + 0.2), "0.3"),
            (Measure::Pitch { each_mm: 45.0, gaps: 5 }, "5 × 45 (= 225)"),
            (Measure::Pitch { each_mm: 45.0, gaps: 1 }, "45"),
            (Measure::Radius(35.0), "R35"),
            (Measure::Angle(105.0), "105°"),
        ] {
            assert_eq!(measure.text(LengthUnit::Millimetre), text);
        }
        assert_eq!(
            Measure::Pitch { each_mm: 45.0, gaps: 5 }.words(LengthUnit::Millimetre),
            "45.0 mm"
        );
        assert_eq!(
            Measure::Size(TubeSize::new(16.0, 1.2)).words(LengthUnit::Millimetre),
            "16.0 mm, wall 1.2 mm"
        );
        let inch = LengthUnit::Inch;
        assert_eq!(Measure::Size(TubeSize::new(6.35, 1.0)).text(inch), "⌀0.250 × 0.039");
        assert_eq!(Measure::Length(254.0).text(inch), "10");
        assert_eq!(Measure::Angle(-7.5).text(inch), "−7.5°");
        assert_eq!(Measure::Radius(25.4).words(inch), "1.000 in");
    }

    #[test]
    fn a_label_is_read_from_below_or_from_the_right_at_every_tilt() {
        for heading in [0.0_f64, 15.0, 45.0, 89.0, 90.0, -30.0, -89.0] {
            let (sin, cos) = heading.to_radians().sin_cos();
            let label = Label {
                text: "45".to_owned(),
                at: Point::new(3.0, 4.0),
                along: Vector2::new(cos, sin),
                width_mm: 8.0,
                height_mm: 3.0,
                gap_mm: 0.5,
            };
            for tilt in -180..=180 {
                let reading = label.reading(label.is_turned_over(f64::from(tilt)));
                let turn = f64::from(tilt).to_radians();
                let seen = reading.y.atan2(reading.x) + turn;
                let up = seen.sin_cos();
                assert!(
                    up.1 > -0.01 && (up.1 > 0.01 || up.0 > 0.0),
                    "{heading} at {tilt}: reads at {}",
                    seen.to_degrees()
                );
            }
        }
    }

    #[test]
    fn a_knob_turns_what_is_shown_into_what_is_stored() {
        let knob = Knob {
            owner: "vial".to_owned(),
            key: "first.at_mm".to_owned(),
            name: String::new(),
            shown: 188.0,
            factor: 1.0,
            offset: -90.0,
            limit: &crate::model::limits::AT,
        };
        assert_eq!(knob.value_of(188.0), 98.0);
        assert_eq!(knob.range(), (90.0, 10090.0));
        let knob = Knob {
            factor: -1.0,
            offset: 0.0,
            ..knob
        };
        assert_eq!(knob.value_of(110.0), -110.0);
        assert_eq!(knob.range(), (-10000.0, 0.0));
    }
}
