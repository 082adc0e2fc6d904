//! Turns of phrase that several sheets share.

use super::Case;
use super::leaf::Field;
use crate::findings::{Finding, Severity};
use crate::model::job::Input;
use crate::stages::Origin;
use crate::units::si::significant;

/// The glass, as it is asked for.
pub(super) const GLASS: &str = "borosilicate 3.3 (ISO 3585)";

/// Names in words: runs of numbered ones as `vial-1 to vial-6`, others one by one.
pub(super) fn names(list: &[String]) -> String {
    let numbered = |name: &str| -> Option<(String, u64)> {
        let (stem, number) = name.rsplit_once('-')?;
        Some((stem.to_owned(), number.parse().ok()?))
    };
    let mut words: Vec<String> = Vec::new();
    let mut at = 0;
    while at < list.len() {
        let mut end = at;
        if let Some((stem, first)) = numbered(&list[at]) {
            while list.get(end + 1).and_then(|name| numbered(name))
                == Some((stem.clone(), first + (end + 1 - at) as u64))
            {
                end += 1;
            }
        }
        words.push(match end - at {
            0 => list[at].clone(),
            1 => format!("{}, {}", list[at], list[end]),
            _ => format!("{} to {}", list[at], list[end]),
        });
        at = end + 1;
    }
    words.join(", ")
}

/// A number of the job in words with its unit; none when it is open.
pub(super) fn value(case: &Case, input: Input) -> Option<String> {
    let value = case.job().inputs.value(input)?;
    let text = significant(value, 6);
    let text = match text.contains('.') && !text.contains('e') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    };
    let told = match input.limit().unit.symbol() {
        "deg" => format!("{text}\u{b0}"),
        symbol => format!("{text} {symbol}"),
    };
    Some(told.trim_end().to_owned())
}

/// Numbers of the job with where they are from.
pub(super) fn origins(case: &Case, inputs: &[Input]) -> Vec<String> {
    let told = inputs.iter().filter_map(|&input| {
        let from = match case.job().inputs.origin(input)? {
            Origin::Given => "given".to_owned(),
            Origin::Proposed(why) => format!("proposed: {why}"),
        };
        Some(format!(
            "{}: {}; {from}.",
            capital(input.limit().label),
            value(case, input)?
        ))
    });
    told.collect()
}

/// A text that begins a sentence.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// A text as a sentence of its own.
pub(super) fn sentence(text: &str) -> String {
    let text = capital(text.trim_end());
    if text.ends_with('.') { text } else { text + "." }
}

/// A finding as a caution: what, why, and what to do.
pub(super) fn caution(finding: &Finding) -> String {
    let about = if finding.piece.is_empty() {
        String::new()
    } else {
        format!("{}: ", finding.piece)
    };
    let word = match finding.severity {
        Severity::Stop => "STOP. ",
        Severity::Watch | Severity::Note => "",
    };
    format!(
        "{word}{about}{}. {} {}",
        finding.what.trim_end_matches('.'),
        finding.why,
        finding.mend
    )
}

/// What a finding is about, in the order of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Subject {
    /// Blowing the glass.
    Blow,
    /// What goes in.
    Charge,
    /// Pumping and purging.
    Gas,
    /// Distilling.
    Still,
    /// Pouring.
    Pour,
    /// Sealing off.
    Seal,
    /// Keeping what is sealed.
    Keep,
    /// Cleaning up.
    Clean,
}

/// The subject of a rule; what is not known here is told with the blowing, which is read first.
pub(super) fn subject(rule: &str) -> Subject {
    known_subject(rule).unwrap_or(Subject::Blow)
}

fn known_subject(rule: &str) -> Option<Subject> {
    Some(match rule {
        "neck-wider"
        | "seal-outside"
        | "bend-tight"
        | "not-in-stock"
        | "joint-unknown"
        | "beyond-host"
        | "corner-no-room"
        | "leg-not-up"
        | "arm-wider"
        | "arm-nearly-as-wide"
        | "arms-close"
        | "glass-overlaps"
        | "not-connected"
        | "closed-while-heated"
        | "oven-too-small"
        | "run-between-bends"
        | "strain-reading" => Subject::Blow,
        "liquid-unknown" | "charge-short" | "charge-surplus" | "target-differs" | "target-too-large"
        | "reaction-wrong" | "yield-hopeful" | "pot-overfull" => Subject::Charge,
        "no-port" | "purge-never" | "purge-short" | "leak-too-large" | "dead-end" | "residual-gas"
        | "metal-in-wrong-gas" | "overpressure" | "collapses" | "flat-end-weak" => Subject::Gas,
        "not-distillable"
        | "pot-too-hot"
        | "still-backwards"
        | "still-slow"
        | "still-past-exposure"
        | "pot-deep"
        | "pot-splashes"
        | "receiver-solid"
        | "receiver-runs-over"
        | "shock" => Subject::Still,
        "filling-solid" | "poured-in-air" | "neck-plugs" | "neck-not-entered" | "seal-wetted" => Subject::Pour,
        "neck-hard-to-seal" | "necks-close" | "neck-short" | "neck-thin" | "neck-sucked-in" | "seal-near-liquid"
        | "torch-no-room" | "tail-short" | "neck-blows-out" | "pump-cut-off" | "gas-condenses"
        | "seal-under-vapour" => Subject::Seal,
        "ampoule-too-full"
        | "ampoule-full-when-warm"
        | "ampoule-bursts-frozen"
        | "ampoule-pressure"
        | "ampoule-above-two-bar"
        | "derating-hopeful" => Subject::Keep,
        "quench-unreached" | "quench-violent" | "quench-much-gas" | "residue-behind-seal" => Subject::Clean,
        _ => return None,
    })
}

/// What stands about a subject, as cautions.
pub(super) fn cautions(case: &Case, about: Subject) -> Vec<String> {
    let findings = case.review().findings.iter();
    findings
        .filter(|finding| subject(finding.rule) == about)
        .map(caution)
        .collect()
}

/// A field.
pub(super) fn field(label: impl Into<String>, value: impl Into<String>) -> Field {
    Field {
        label: label.into(),
        value: value.into(),
    }
}

/// Lines to write on.
pub(super) fn blank_fields(labels: &[&str]) -> Vec<Field> {
    labels.iter().map(|label| field(*label, "")).collect()
}

#[cfg(test)]
mod tests {
    use crate::findings::RULES;

    #[test]
    fn every_rule_has_its_place_in_the_work() {
        for rule in RULES {
            assert!(super::known_subject(rule.id).is_some(), "{}", rule.id);
        }
    }

    #[test]
    fn numbered_names_are_told_as_runs() {
        let of = |list: &[&str]| super::names(&list.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>());
        assert_eq!(of(&["vial-1", "vial-2", "vial-3"]), "vial-1 to vial-3");
        assert_eq!(
            of(&["vial-1", "vial-2", "vial-4", "pot"]),
            "vial-1, vial-2, vial-4, pot"
        );
        assert_eq!(of(&["a-1", "b-2"]), "a-1, b-2");
        assert_eq!(of(&[]), "");
    }
}
