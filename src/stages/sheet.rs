//! A stage in words: inputs, results with their workings, plots, cautions.

use crate::data::law::NoValue;
use crate::model::job::Stage;
use crate::physics::Working;
use serde::Serialize;

/// Something worked out, or why it is not known.
pub type Verdict<T> = Result<T, NoValue>;

/// A stage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sheet {
    /// Its name.
    pub title: &'static str,
    /// What went in.
    pub inputs: Vec<InputLine>,
    /// What came out.
    pub groups: Vec<Group>,
    /// Curves that say more than numbers.
    pub plots: Vec<Plot>,
    /// What holds for the stage as a whole.
    pub cautions: Vec<String>,
}

/// An input with its value and where that is from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InputLine {
    /// Its key in the design file.
    pub key: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Its value with its unit; `not given` when it is open.
    pub value: String,
    /// `given`, `proposed` with the reason, or what is missing without it.
    pub origin: String,
}

/// Lines that belong together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Group {
    /// What they are about.
    pub title: String,
    /// The lines.
    pub lines: Vec<Line>,
}

/// One result.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// What it is.
    pub what: String,
    /// Its value in words, with its unit.
    pub value: String,
    /// How it was worked out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub working: Option<Working>,
    /// What would make the number wrong.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// Whether it could not be worked out.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub unknown: bool,
}

impl Line {
    /// A result.
    pub fn new(what: impl Into<String>, value: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            value: value.into(),
            working: None,
            caution: None,
            unknown: false,
        }
    }

    /// A result that may be unknown; then it says why.
    pub fn of<T>(what: impl Into<String>, verdict: &Verdict<T>, text: impl FnOnce(&T) -> String) -> Self {
        match verdict {
            Ok(value) => Self::new(what, text(value)),
            Err(why) => Self::unknown(what, why.to_string()),
        }
    }

    /// What is not known, and why.
    pub fn unknown(what: impl Into<String>, why: impl Into<String>) -> Self {
        Self {
            unknown: true,
            ..Self::new(what, format!("unknown: {}", why.into()))
        }
    }

    /// With its working; an unknown result has none.
    #[must_use]
    pub fn worked(mut self, working: Working) -> Self {
        self.working = (!self.unknown).then_some(working);
        self
    }

    /// With a caution.
    #[must_use]
    pub fn caution(mut self, text: impl Into<String>) -> Self {
        self.caution = Some(text.into());
        self
    }
}

/// A plot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plot {
    /// What it shows.
    pub title: &'static str,
    /// Quantity and unit along.
    pub x: &'static str,
    /// Quantity and unit upwards.
    pub y: &'static str,
    /// Whether the upward axis is logarithmic.
    pub log_y: bool,
    /// The curves.
    pub curves: Vec<Curve>,
}

/// A curve of a plot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Curve {
    /// What it is.
    pub name: String,
    /// Its points.
    pub points: Vec<[f64; 2]>,
}

impl Sheet {
    /// An empty sheet of a stage.
    pub(super) fn new(stage: Stage) -> Self {
        Self {
            title: stage.title(),
            inputs: Vec::new(),
            groups: Vec::new(),
            plots: Vec::new(),
            cautions: Vec::new(),
        }
    }

    /// Adds a group, unless it is empty.
    pub(super) fn group(&mut self, title: impl Into<String>, lines: Vec<Line>) {
        if !lines.is_empty() {
            self.groups.push(Group {
                title: title.into(),
                lines,
            });
        }
    }

    /// Adds a plot, unless it has no curve with two points.
    pub(super) fn plot(&mut self, plot: Plot) {
        if plot.curves.iter().any(|curve| curve.points.len() > 1) {
            self.plots.push(plot);
        }
    }

    /// The sheet as a page.
    pub fn text(&self, with_working: bool) -> String {
        let mut lines = vec![self.title.to_owned(), String::new()];
        for input in &self.inputs {
            lines.push(format!("  {:<32} {:<16} {}", input.what, input.value, input.origin));
        }
        for group in &self.groups {
            lines.push(String::new());
            lines.push(group.title.clone());
            for line in &group.lines {
                lines.push(format!("  {:<44} {}", line.what, line.value));
                let working = line.working.iter().filter(|_| with_working).flat_map(Working::lines);
                lines.extend(working.map(|text| format!("      {text}")));
                lines.extend(line.caution.iter().map(|text| format!("      Caution: {text}")));
            }
        }
        if !self.cautions.is_empty() {
            lines.push(String::new());
            lines.extend(self.cautions.iter().map(|text| format!("Caution: {text}")));
        }
        lines.join("\n") + "\n"
    }
}
