//! Where on the glass a finding belongs: the neck, the join or the middle of its piece.

use super::Finding;
use crate::geom::build::Built;
use crate::geom::glass::MarkKind;
use nalgebra::Vector2;

/// The place of a finding on a centreline, mm; none for one that is about the whole apparatus. A finding about a row
/// stands at its first member.
pub(super) fn of(finding: &Finding, built: &Built) -> Option<Vector2<f64>> {
    let named = |name: &str| built.names.iter().position(|at| at == name);
    let piece = named(&finding.piece).or_else(|| named(&format!("{}-1", finding.piece)))?;
    let line = built.placed.lines.get(piece)?;
    let middle = line.spot(line.length_mm / 2.0).at;
    match finding.rule {
        "neck-wider" | "seal-outside" | "neck-hard-to-seal" | "necks-close" => {
            let marks = built.glass.get(piece).map(|glass| glass.marks.as_slice());
            let seal = marks.unwrap_or_default().iter().find(|m| m.kind == MarkKind::Seal);
            Some(seal.map_or(middle, |mark| mark.at))
        }
        "arm-wider" | "arm-nearly-as-wide" | "arms-close" | "beyond-host" | "not-connected" => Some(line.start.at),
        "target-too-large" | "joint-unknown" => Some(line.end().at),
        _ => Some(middle),
    }
}
