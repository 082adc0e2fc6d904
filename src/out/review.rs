//! The review of a design as a page and as JSON.

use serde::Serialize;

use crate::findings::{Finding, Review, Severity};

/// A finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingAnswer {
    /// Id of the rule.
    pub rule: &'static str,
    /// `stop`, `watch` or `note`.
    pub severity: &'static str,
    /// The piece or row; empty for the whole apparatus.
    pub piece: String,
    /// What was found.
    pub what: String,
    /// Why it matters, with the numbers.
    pub why: String,
    /// How it can be mended.
    pub mend: String,
    /// Where the rule's figures are from.
    pub source: &'static str,
    /// `read`, `memory` or `common practice`.
    pub known: &'static str,
    /// Why it is silenced; absent when it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub silenced: Option<String>,
}

/// What could not be judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct UnknownAnswer {
    /// Id of the rule.
    pub rule: &'static str,
    /// What it would have looked at.
    pub about: &'static str,
    /// The piece; empty for the whole apparatus.
    pub piece: String,
    /// Why it could not.
    pub why: String,
}

/// The answer of `check`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReviewAnswer {
    /// The design.
    pub title: String,
    /// Findings that stand, the gravest first.
    pub findings: Vec<FindingAnswer>,
    /// Findings that are silenced.
    pub silenced: Vec<FindingAnswer>,
    /// What could not be judged.
    pub unknown: Vec<UnknownAnswer>,
}

/// A severity in words.
fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "stop",
        Severity::Watch => "watch",
        Severity::Note => "note",
    }
}

fn answer(finding: &Finding, silenced: Option<&String>) -> FindingAnswer {
    FindingAnswer {
        rule: finding.rule,
        severity: word(finding.severity),
        piece: finding.piece.clone(),
        what: finding.what.clone(),
        why: finding.why.clone(),
        mend: finding.mend.clone(),
        source: finding.source,
        known: finding.known.words(),
        silenced: silenced.cloned(),
    }
}

impl ReviewAnswer {
    /// Puts an answer together.
    pub fn new(title: &str, review: &Review) -> Self {
        Self {
            title: title.to_owned(),
            findings: review.findings.iter().map(|finding| answer(finding, None)).collect(),
            silenced: review
                .silenced
                .iter()
                .map(|(finding, reason)| answer(finding, Some(reason)))
                .collect(),
            unknown: review
                .unknown
                .iter()
                .map(|unknown| UnknownAnswer {
                    rule: unknown.rule,
                    about: unknown.about,
                    piece: unknown.piece.clone(),
                    why: unknown.why.clone(),
                })
                .collect(),
        }
    }

    /// The answer as a person reads it.
    pub fn text(&self) -> String {
        let mut lines = vec![self.title.clone(), String::new(), self.summary()];
        for (severity, head) in [
            ("stop", "STOP: it cannot be made or cannot work"),
            ("watch", "WATCH: it may well fail"),
            ("note", "NOTE: worth knowing"),
        ] {
            let of_it: Vec<&FindingAnswer> = self
                .findings
                .iter()
                .filter(|finding| finding.severity == severity)
                .collect();
            if !of_it.is_empty() {
                lines.extend([String::new(), head.to_owned()]);
                of_it.iter().for_each(|finding| finding.write(&mut lines));
            }
        }
        if !self.silenced.is_empty() {
            lines.extend([String::new(), "SILENCED, with the reason given".to_owned()]);
            self.silenced.iter().for_each(|finding| finding.write(&mut lines));
        }
        if !self.unknown.is_empty() {
            lines.extend([String::new(), "NOT JUDGED: unknown is not fine".to_owned()]);
            lines.extend(self.unknown.iter().map(|unknown| {
                let of = if unknown.piece.is_empty() {
                    String::new()
                } else {
                    format!(" of {}", unknown.piece)
                };
                format!("  {}{of}: {}", unknown.about, unknown.why)
            }));
        }
        lines.join("\n") + "\n"
    }

    fn summary(&self) -> String {
        let count = |severity: &str| {
            self.findings
                .iter()
                .filter(|finding| finding.severity == severity)
                .count()
        };
        let counted =
            |number: usize, one: &str, many: &str| format!("{number} {}", if number == 1 { one } else { many });
        format!(
            "{}, {}, {}; {} silenced, {} not judged.",
            counted(count("stop"), "stop", "stops"),
            counted(count("watch"), "watch", "watches"),
            counted(count("note"), "note", "notes"),
            self.silenced.len(),
            self.unknown.len()
        )
    }
}

impl FindingAnswer {
    fn write(&self, lines: &mut Vec<String>) {
        let piece = if self.piece.is_empty() {
            String::new()
        } else {
            format!("{}: ", self.piece)
        };
        lines.push(format!("  {piece}{}.", self.what));
        lines.push(format!("    {}", self.why));
        lines.push(format!("    {}", self.mend));
        if let Some(reason) = &self.silenced {
            lines.push(format!("    Silenced: {reason}"));
        }
        lines.push(format!("    [{}: {} ({})]", self.rule, self.source, self.known));
    }
}
