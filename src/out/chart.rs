//! Charts as finished numbers: scales with names and units, lines over shared places, marks; and their table.
//!
//! A chart holds what the engine answered, unrounded. The bench draws it, [`super::chart_svg`] draws it on paper, and
//! [`Chart::csv`] writes it down; none of them computes.

use crate::units::{LengthUnit, fixed};
use std::ops::Range;
use thiserror::Error;

/// Why a table could not be written.
#[derive(Debug, Error)]
pub enum ChartError {
    /// The writer refused.
    #[error("the table can't be written: {0}")]
    Csv(#[from] csv::Error),
    /// What was written is no text.
    #[error("the table is no text: {0}")]
    Text(#[from] std::string::FromUtf8Error),
}

/// A finished chart: panels above one another over one scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chart {
    /// What it shows.
    pub title: String,
    /// How it was come by, in one sentence.
    pub note: String,
    /// The scale along the bottom.
    pub x: Scale,
    /// Where the lines have values, in rising order.
    pub xs: Vec<f64>,
    /// The panels, the uppermost first.
    pub panels: Vec<Panel>,
    /// Places along the bottom that mean something.
    pub marks: Vec<Mark>,
}

/// What is counted along one side, and from where to where.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scale {
    /// Name, such as `Volume`.
    pub name: String,
    /// Symbol of the unit for people.
    pub unit: Unit,
    /// Least value shown.
    pub low: f64,
    /// Greatest value shown.
    pub high: f64,
}

/// The units that charts have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Inches.
    Inch,
    /// Millilitres.
    Millilitre,
    /// Square centimetres.
    SquareCentimetre,
    /// Degrees.
    Degree,
    /// Seconds.
    Second,
}

impl From<LengthUnit> for Unit {
    fn from(unit: LengthUnit) -> Self {
        match unit {
            LengthUnit::Millimetre => Self::Millimetre,
            LengthUnit::Inch => Self::Inch,
        }
    }
}

impl Unit {
    /// Symbol for people.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
            Self::Millilitre => "mL",
            Self::SquareCentimetre => "cm²",
            Self::Degree => "°",
            Self::Second => "s",
        }
    }

    /// Symbol in plain letters, for the head of a table.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
            Self::Millilitre => "mL",
            Self::SquareCentimetre => "cm2",
            Self::Degree => "deg",
            Self::Second => "s",
        }
    }

    /// A value with its unit, with no more digits than it deserves and the true minus sign.
    pub fn text(self, value: f64) -> String {
        let number = |digits| fixed(value, digits).replace('-', "−");
        match self {
            Self::Millimetre => format!("{} mm", number(1)),
            Self::Inch => format!("{} in", number(3)),
            Self::Millilitre => format!("{} mL", number(2)),
            Self::SquareCentimetre => format!("{} cm²", number(2)),
            Self::Degree => format!("{}°", number(1)),
            Self::Second => format!("{} s", number(0)),
        }
    }

    /// Whether a value is shown apart from zero.
    pub fn shows(self, value: f64) -> bool {
        value.abs()
            >= match self {
                Self::Millimetre | Self::Degree => 0.05,
                Self::Second => 0.5,
                Self::Inch => 0.0005,
                Self::Millilitre | Self::SquareCentimetre => 0.005,
            }
    }
}

/// Lines over the places of a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Panel {
    /// The scale up the side.
    pub y: Scale,
    /// The lines.
    pub lines: Vec<Line>,
    /// Values up the side that mean something, drawn across.
    pub guides: Vec<Guide>,
}

/// A value that means something for all lines of a panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Guide {
    /// What it is.
    pub name: String,
    /// The value.
    pub at: f64,
}

/// A line: one value for each place of the chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// What it belongs to.
    pub name: String,
    /// How it is drawn.
    pub rank: Rank,
    /// Its values; what is not finite is left out.
    pub values: Vec<f64>,
}

/// How much a line is to be seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rank {
    /// Thin and without a name, behind the others.
    #[default]
    Background,
    /// In one of the [`STYLES`], counted round, with its name.
    Named(usize),
    /// What nobody may overlook: liquid lost.
    Loss,
}

impl Rank {
    /// The style and its place in the table; none for what has a look of its own.
    pub fn style(self) -> Option<(usize, Style)> {
        match self {
            Self::Named(index) => Some((index % STYLES.len(), STYLES[index % STYLES.len()])),
            Self::Background | Self::Loss => None,
        }
    }
}

/// What a [`Mark`] stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// As it is now.
    Present,
    /// The volume wanted.
    Target,
    /// The seal-off place.
    Seal,
    /// Where it runs over.
    Brim,
}

impl MarkKind {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Present => "now",
            Self::Target => "target",
            Self::Seal => "seal-off",
            Self::Brim => "brim",
        }
    }
}

/// A place along the bottom that means something.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// What is there.
    pub kind: MarkKind,
    /// Where.
    pub x: f64,
    /// The value of the first line there, if it has one.
    pub y: Option<f64>,
}

/// How a line is drawn, apart from its colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Style {
    /// Its dashes.
    pub dash: Dash,
    /// The shape set along it.
    pub shape: Shape,
}

/// Dashes of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// None: a solid line.
    Solid,
    /// Long dashes.
    Long,
    /// Short dashes.
    Short,
    /// Dots.
    Dots,
}

/// A shape set along a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// A disc.
    Disc,
    /// A square.
    Square,
    /// A triangle that points up.
    Up,
    /// A square on its corner.
    Diamond,
    /// An upright cross.
    Plus,
    /// A triangle that points down.
    Down,
    /// A slanting cross.
    Cross,
    /// A star of lines.
    Star,
}

/// The ways to draw lines that can be told apart without colour, in the order in which they are used.
pub const STYLES: [Style; 8] = {
    const fn style(dash: Dash, shape: Shape) -> Style {
        Style { dash, shape }
    }
    [
        style(Dash::Solid, Shape::Disc),
        style(Dash::Long, Shape::Square),
        style(Dash::Short, Shape::Up),
        style(Dash::Dots, Shape::Diamond),
        style(Dash::Long, Shape::Plus),
        style(Dash::Solid, Shape::Down),
        style(Dash::Dots, Shape::Cross),
        style(Dash::Short, Shape::Star),
    ]
};

/// Ink of each style on white, red, green and blue.
pub const INKS: [[u8; 3]; 8] = [
    [0x1B, 0x5E, 0xA6],
    [0xA8, 0x4B, 0x00],
    [0x00, 0x6E, 0x52],
    [0x4A, 0x4F, 0x57],
    [0x86, 0x35, 0x98],
    [0x5E, 0x5E, 0x00],
    [0xB0, 0x1E, 0x4C],
    [0x00, 0x6A, 0x85],
];

impl Line {
    /// The parts of the line that show something: runs of places with values that differ from zero by as much as is
    /// shown, each with the place before and after it. A line that is zero is the scale's own.
    pub fn runs(&self, unit: Unit) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        for (i, value) in self.values.iter().enumerate() {
            if !value.is_finite() || !unit.shows(*value) {
                continue;
            }
            let is_known = |at: &usize| self.values.get(*at).is_some_and(|value| value.is_finite());
            let start = i.checked_sub(1).filter(is_known).unwrap_or(i);
            let end = Some(i + 1).filter(is_known).unwrap_or(i) + 1;
            match runs.last_mut() {
                Some(last) if start < last.end => last.end = end,
                _ => runs.push(start..end),
            }
        }
        runs
    }
}

impl Scale {
    /// Name and unit, as they stand beside the scale.
    pub fn title(&self) -> String {
        format!("{}, {}", self.name, self.unit.symbol())
    }

    /// Name and unit, as they stand at the head of a table.
    fn head(&self, of: &str) -> String {
        let of = if of.is_empty() {
            String::new()
        } else {
            format!(" of {of}")
        };
        format!("{}{of} ({})", self.name, self.unit.plain())
    }

    /// Where the scale is divided, with no more than `most` divisions: steps of 1, 2 or 5, of parts of a turn for
    /// angles.
    pub fn divisions(&self, most: usize) -> Vec<f64> {
        let span = self.high - self.low;
        if !(span > 0.0 && span.is_finite()) || most == 0 {
            return Vec::new();
        }
        let step = step_of(self.unit, span / most as f64);
        let first = (self.low / step - 1e-9).ceil();
        // Counted, not added up, so that zero is zero.
        (0..=most)
            .map(|i| (first + i as f64) * step + 0.0)
            .take_while(|value| *value <= self.high + 1e-9 * span)
            .collect()
    }

    /// The number beside a division.
    pub fn division_text(&self, value: f64) -> String {
        let digits = if value == value.round() {
            0
        } else if value * 10.0 == (value * 10.0).round() {
            1
        } else {
            2
        };
        fixed(value, digits).replace('-', "−")
    }
}

/// The least step that is not less than `least` and reads well.
pub fn step_of(unit: Unit, least: f64) -> f64 {
    if unit == Unit::Degree && least > 5.0 {
        let parts = [10.0, 15.0, 30.0, 45.0, 90.0];
        return parts.into_iter().find(|part| *part >= least).unwrap_or(180.0);
    }
    let power = 10f64.powf(least.log10().floor());
    let steps = [1.0, 2.0, 5.0].map(|part| part * power);
    let found = steps.into_iter().find(|step| *step >= least * (1.0 - 1e-9));
    found.unwrap_or(10.0 * power)
}

impl Chart {
    /// What it shows, in words: the marks, and of each line the value at the present place.
    pub fn words(&self) -> String {
        let mut words = self.title.clone();
        let unit = self.panels.first().map_or(Unit::Millilitre, |panel| panel.y.unit);
        for mark in &self.marks {
            words += &format!("; {} at {}", mark.kind.name(), self.x.unit.text(mark.x));
            if let Some(y) = mark.y {
                words += &format!(", {}", unit.text(y));
            }
        }
        let present = self.marks.iter().find(|mark| mark.kind == MarkKind::Present);
        let Some(at) = present.and_then(|mark| self.nearest(mark.x)) else {
            return words;
        };
        for panel in &self.panels {
            for line in panel.lines.iter().filter(|_| self.has_names()) {
                let value = line.values.get(at).copied().unwrap_or(f64::NAN);
                if panel.y.unit.shows(value) {
                    words += &format!("; {} {}", line.name, panel.y.unit.text(value));
                }
            }
        }
        words
    }

    /// Whether its lines are told apart by names.
    fn has_names(&self) -> bool {
        self.panels.iter().map(|panel| panel.lines.len()).sum::<usize>() > 1
    }

    /// Index of the place nearest to `x`.
    pub fn nearest(&self, x: f64) -> Option<usize> {
        let after = self.xs.partition_point(|at| *at < x);
        let before = after.checked_sub(1);
        let candidates = before.into_iter().chain((after < self.xs.len()).then_some(after));
        candidates.min_by(|a, b| (self.xs[*a] - x).abs().total_cmp(&(self.xs[*b] - x).abs()))
    }

    /// The numbers as a table with comma-separated values: one row a place, units in the head, numbers unrounded. A
    /// mark that stands on a place is named in its row.
    ///
    /// # Errors
    /// When the writer refuses.
    pub fn csv(&self) -> Result<String, ChartError> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let named = self.has_names();
        let lines: Vec<(&Panel, &Line)> = self
            .panels
            .iter()
            .flat_map(|panel| panel.lines.iter().map(move |line| (panel, line)))
            .collect();
        let mut head = vec![self.x.head("")];
        head.extend(
            lines
                .iter()
                .map(|(panel, line)| panel.y.head(if named { &line.name } else { "" })),
        );
        head.push("Mark".to_owned());
        writer.write_record(&head)?;
        for (i, x) in self.xs.iter().enumerate() {
            let mut row = vec![x.to_string()];
            row.extend(lines.iter().map(|(_, line)| match line.values.get(i) {
                Some(value) if value.is_finite() => value.to_string(),
                _ => String::new(),
            }));
            let here = self.marks.iter().filter(|mark| mark.x == *x);
            row.push(here.map(|mark| mark.kind.name()).collect::<Vec<_>>().join(", "));
            writer.write_record(&row)?;
        }
        let bytes = writer.into_inner().map_err(csv::IntoInnerError::into_error);
        Ok(String::from_utf8(bytes.map_err(csv::Error::from)?)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(crate) fn scale(name: &str, unit: Unit, low: f64, high: f64) -> Scale {
        Scale {
            name: name.to_owned(),
            unit,
            low,
            high,
        }
    }

    fn chart() -> Chart {
        let line = |name: &str, values: [f64; 3]| Line {
            name: name.to_owned(),
            rank: Rank::Named(0),
            values: values.to_vec(),
        };
        Chart {
            title: "Held".to_owned(),
            x: scale("Tilt", Unit::Degree, -90.0, 90.0),
            xs: vec![-90.0, 0.0, 90.0],
            panels: vec![
                Panel {
                    y: scale("Volume", Unit::Millilitre, 0.0, 2.0),
                    lines: vec![
                        line("vial, \"left\"", [0.0, 1.0 / 3.0, 2.0]),
                        line("vial-2", [1.0, 0.0, f64::NAN]),
                    ],
                    ..Panel::default()
                },
                Panel {
                    y: scale("Free surface", Unit::SquareCentimetre, 0.0, 2.0),
                    lines: vec![line("vial-2", [1.5, 0.0, 0.0])],
                    ..Panel::default()
                },
            ],
            marks: vec![Mark {
                kind: MarkKind::Present,
                x: 0.0,
                y: None,
            }],
            ..Chart::default()
        }
    }

    #[test]
    fn the_table_gives_every_number_back() {
        let chart = chart();
        let text = chart.csv().unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let head: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
        assert_eq!(
            head,
            [
                "Tilt (deg)",
                "Volume of vial, \"left\" (mL)",
                "Volume of vial-2 (mL)",
                "Free surface of vial-2 (cm2)",
                "Mark"
            ]
        );
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(rows.len(), 3);
        assert_eq!(rows[1][1].parse::<f64>().unwrap(), 1.0 / 3.0, "no digit is lost");
        assert_eq!(&rows[2][2], "", "what is not known is empty");
        assert_eq!((&rows[0][4], &rows[1][4]), ("", "now"));
    }

    #[test]
    fn a_line_is_drawn_where_it_shows_something() {
        let line = Line {
            values: vec![0.0, 0.0, 1.0, 2.0, 0.0, 0.001, f64::NAN, 3.0, 0.0, 4.0],
            ..Line::default()
        };
        assert_eq!(line.runs(Unit::Millilitre), [1..5, 7..10]);
        assert!(Line::default().runs(Unit::Millilitre).is_empty());
    }

    #[test]
    fn the_words_name_what_is_not_empty() {
        assert_eq!(chart().words(), "Held; now at 0.0°; vial, \"left\" 0.33 mL");
    }

    #[test]
    fn divisions_read_well_and_lie_within() {
        for (unit, low, high, most, expected) in [
            (Unit::Millilitre, 0.0, 1.7, 6, vec![0.0, 0.5, 1.0, 1.5]),
            (
                Unit::Degree,
                -180.0,
                180.0,
                8,
                vec![-180.0, -135.0, -90.0, -45.0, 0.0, 45.0, 90.0, 135.0, 180.0],
            ),
            (Unit::Millimetre, -3.0, 12.0, 4, vec![0.0, 5.0, 10.0]),
        ] {
            assert_eq!(scale("", unit, low, high).divisions(most), expected);
        }
        assert!(scale("", Unit::Degree, 5.0, 5.0).divisions(4).is_empty());
        assert!(scale("", Unit::Degree, 0.0, f64::NAN).divisions(4).is_empty());
        let scale = scale("Volume", Unit::Millilitre, 0.0, 1.0);
        assert_eq!(scale.title(), "Volume, mL");
        assert_eq!([0.0, 0.5, -0.25].map(|v| scale.division_text(v)), ["0", "0.5", "−0.25"]);
    }

    #[test]
    fn styles_differ_without_their_colours() {
        for (i, style) in STYLES.iter().enumerate() {
            assert!(!STYLES[..i].contains(style), "{style:?}");
            assert!(STYLES[..i].iter().all(|other| other.shape != style.shape), "{style:?}");
        }
    }

    #[test]
    fn the_nearest_place_is_found() {
        let chart = chart();
        for (x, at) in [(-500.0, 0), (-46.0, 0), (-44.0, 1), (0.0, 1), (91.0, 2)] {
            assert_eq!(chart.nearest(x), Some(at), "{x}");
        }
        assert_eq!(Chart::default().nearest(0.0), None);
    }
}
