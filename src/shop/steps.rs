//! Steps of the run sheet, put together.

use super::Case;
use super::leaf::Step;
use super::texts::{self, blank_fields, field};
use crate::model::job::Input;
use crate::stages::Verdict;

/// A step that says what is done.
pub(super) fn step(text: impl Into<String>) -> Step {
    Step {
        text: text.into(),
        cautions: Vec::new(),
        fields: Vec::new(),
        figure: None,
    }
}

impl Step {
    /// With lines to write on.
    pub(super) fn log(mut self, labels: &[&str]) -> Self {
        self.fields.extend(blank_fields(labels));
        self
    }

    /// With a field that is known.
    pub(super) fn told(mut self, label: impl Into<String>, value: impl Into<String>) -> Self {
        self.fields.push(field(label, value));
        self
    }

    /// With a caution.
    pub(super) fn warned(mut self, text: impl Into<String>) -> Self {
        self.cautions.push(texts::sentence(&text.into()));
        self
    }
}

/// A verdict in words.
pub(super) fn words<T>(verdict: &Verdict<T>, text: impl FnOnce(&T) -> String) -> String {
    verdict.as_ref().map_or_else(|why| format!("not known ({why})"), text)
}

/// A number of the job in words; where it is open, that.
pub(super) fn value(case: &Case, input: Input) -> String {
    texts::value(case, input).unwrap_or_else(|| "a value of your own".to_owned())
}
