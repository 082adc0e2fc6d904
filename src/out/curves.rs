//! The charts of the program: volume against height in one piece, and everything against tilt.
//!
//! Each number is what the engine answers at that height or tilt; between them the lines are straight.

use super::chart::{Chart, Line, Mark, MarkKind, Panel, Rank, STYLES, Scale, Unit};
use crate::geom::{Interior, Posture, Stance, TurnStep};
use crate::units::{LengthUnit, MM2_PER_CM2, MM3_PER_ML};

/// Steps of height from the lowest place to the brim.
const HEIGHTS: usize = 120;
/// Room above the highest value, as a part of the scale.
const HEADROOM: f64 = 0.08;
/// Volumes that are no more than this are rounding, mL.
const NOTHING_ML: f64 = 1e-6;

/// What the chart of one piece is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece<'a> {
    /// Index of the piece.
    pub piece: usize,
    /// Its name.
    pub name: &'a str,
    /// How the glass is held.
    pub stance: Stance,
    /// The unit in which heights are shown.
    pub length_unit: LengthUnit,
    /// Height `u . p` of the liquid in it, mm.
    pub level: Option<f64>,
    /// Height `u . p` of its seal-off place, mm.
    pub seal: Option<f64>,
    /// Volume wanted, mL.
    pub target_ml: Option<f64>,
}

/// What the chart of a turn is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Turn<'a> {
    /// Pieces whose volumes are shown, by index.
    pub pieces: &'a [usize],
    /// Pieces that are named where there are too many to name all.
    pub chosen: &'a [usize],
    /// The piece whose free surface is shown.
    pub surface_of: Option<usize>,
    /// How the glass is held now.
    pub stance: Stance,
}

/// Volume against height in one piece, from its lowest place to its brim, to the liquid where that stands higher, or
/// to its highest place where nothing can run over. Nothing when the piece has no bore.
pub fn against_height(posture: &Posture<'_>, about: &Piece<'_>) -> Option<Chart> {
    let (bottom, top) = posture.extent(about.piece)?;
    let brim = posture.sill_of_piece(about.piece);
    let level = about.level.filter(|level| *level > bottom);
    let limit = brim.unwrap_or(top).max(level.unwrap_or(bottom));
    if limit <= bottom {
        return None;
    }
    let target = about.target_ml.filter(|ml| *ml > 0.0);
    let sounding = posture.sounding(about.piece);
    let highest = if brim == Some(limit) { limit.next_down() } else { limit };
    let target_at = target.and_then(|ml| sounding.height_of(ml * MM3_PER_ML, highest));
    let marked = [
        (MarkKind::Present, level),
        (MarkKind::Target, target_at),
        (MarkKind::Seal, about.seal),
        (MarkKind::Brim, brim),
    ];
    let marked: Vec<(MarkKind, f64)> = marked.into_iter().filter_map(|(kind, at)| Some((kind, at?))).collect();
    let volume_ml = |height: f64| {
        // At the sill itself what lies beyond it would count already.
        let height = if brim == Some(height) {
            height.next_down()
        } else {
            height
        };
        sounding.below(height).volume / MM3_PER_ML
    };
    let mut heights: Vec<f64> = (0..=HEIGHTS)
        .map(|i| (bottom + (limit - bottom) * i as f64 / HEIGHTS as f64).min(limit))
        .chain(
            marked
                .iter()
                .map(|(_, at)| *at)
                .filter(|at| (bottom..=limit).contains(at)),
        )
        .collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    let values: Vec<f64> = heights.iter().map(|height| volume_ml(*height)).collect();
    let most = values.iter().copied().fold(0.0, f64::max);
    let above = |height: f64| about.length_unit.from_mm(height - bottom);
    let marks: Vec<Mark> = marked
        .iter()
        .map(|&(kind, at)| Mark {
            kind,
            x: above(at),
            y: (bottom..=limit).contains(&at).then(|| volume_ml(at)),
        })
        .collect();
    let highest = marks.iter().map(|mark| mark.x).fold(above(limit), f64::max);
    let lowest = marks.iter().map(|mark| mark.x).fold(0.0, f64::min);
    let mut note = format!(
        "Height above the lowest place of {}; volume of all that joins it below that height.",
        about.name
    );
    if target.is_some() && target_at.is_none() {
        note += " The target does not fit at this stance.";
    }
    Some(Chart {
        title: format!("Volume against height in {}, {}", about.name, held(about.stance)),
        note,
        x: scale(
            "Height",
            about.length_unit.into(),
            lowest,
            highest + HEADROOM / 2.0 * (highest - lowest),
        ),
        xs: heights.iter().map(|height| above(*height)).collect(),
        panels: vec![Panel {
            y: scale("Volume", Unit::Millilitre, 0.0, most * (1.0 + HEADROOM)),
            lines: vec![Line {
                name: about.name.to_owned(),
                rank: Rank::Named(0),
                values,
            }],
            ..Panel::default()
        }],
        marks,
    })
}

/// Volumes held against tilt, what is lost with them, and below the free surface of one piece.
pub fn against_tilt(interior: &Interior, steps: &[TurnStep], about: &Turn<'_>) -> Chart {
    let name = |piece: usize| interior.pieces().get(piece).cloned().unwrap_or_default();
    let mut named = 0;
    let mut lines: Vec<Line> = Vec::new();
    for &piece in about.pieces {
        let is_named = about.pieces.len() <= STYLES.len()
            || if about.chosen.is_empty() {
                named < STYLES.len()
            } else {
                about.chosen.contains(&piece) && named < STYLES.len()
            };
        lines.push(Line {
            name: name(piece),
            rank: if is_named { Rank::Named(named) } else { Rank::Background },
            values: steps
                .iter()
                .map(|step| step.held.get(piece).map_or(f64::NAN, |v| v / MM3_PER_ML))
                .collect(),
        });
        named += usize::from(is_named);
    }
    let lost: Vec<f64> = steps.iter().map(|step| step.lost / MM3_PER_ML).collect();
    if lost.iter().any(|ml| *ml > NOTHING_ML) {
        lines.push(Line {
            name: "lost".to_owned(),
            rank: Rank::Loss,
            values: lost,
        });
    }
    let mut panels = vec![Panel {
        y: scale("Volume", Unit::Millilitre, 0.0, top_of(&lines)),
        lines,
        ..Panel::default()
    }];
    if let Some(piece) = about.surface_of {
        let surface = |step: &TurnStep| step.free_surface.get(piece).map_or(f64::NAN, |a| a / MM2_PER_CM2);
        let rank = about.pieces.iter().position(|at| *at == piece);
        let lines = vec![Line {
            name: name(piece),
            rank: rank
                .and_then(|at| panels[0].lines.get(at))
                .map(|line| line.rank)
                .filter(|rank| *rank != Rank::Background)
                .unwrap_or(Rank::Named(0)),
            values: steps.iter().map(surface).collect(),
        }];
        panels.push(Panel {
            y: scale("Free surface", Unit::SquareCentimetre, 0.0, top_of(&lines)),
            lines,
            ..Panel::default()
        });
    }
    let roll = Unit::Degree.text(about.stance.roll_deg);
    Chart {
        title: format!("Held against tilt, at roll {roll}"),
        note: "Each tilt on its own, from the charge as given; anticlockwise is positive.".to_owned(),
        x: scale("Tilt", Unit::Degree, -180.0, 180.0),
        xs: steps.iter().map(|step| step.tilt_deg).collect(),
        panels,
        marks: vec![Mark {
            kind: MarkKind::Present,
            x: about.stance.tilt_deg,
            y: None,
        }],
    }
}

fn scale(name: &str, unit: Unit, low: f64, high: f64) -> Scale {
    Scale {
        name: name.to_owned(),
        unit,
        low,
        high,
    }
}

/// A scale's upper end for these lines.
fn top_of(lines: &[Line]) -> f64 {
    let values = lines.iter().flat_map(|line| &line.values).copied();
    let most = values.filter(|value| value.is_finite()).fold(0.0, f64::max);
    if most > NOTHING_ML {
        most * (1.0 + HEADROOM)
    } else {
        1.0
    }
}

fn held(stance: Stance) -> String {
    let [tilt, roll] = [stance.tilt_deg, stance.roll_deg].map(|deg| Unit::Degree.text(deg));
    format!("tilt {tilt}, roll {roll}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::geom::turn;
    use crate::model::sample;

    fn interior() -> Interior {
        let built = build(&sample::apparatus()).unwrap();
        Interior::new(built.names, built.primitives, built.ports).unwrap()
    }

    #[test]
    fn the_line_of_heights_runs_through_its_marks() {
        let interior = interior();
        let piece = interior.piece_index("vial-2").unwrap();
        let stance = Stance::new(7.0, 0.0);
        let posture = interior.at(stance);
        let settled = posture.settle(&[(piece, 1000.0)]);
        let pool = settled.main_pool(piece).unwrap();
        let about = Piece {
            piece,
            name: "vial-2",
            stance,
            length_unit: LengthUnit::Millimetre,
            level: Some(pool.level),
            seal: Some(pool.level + 300.0),
            target_ml: Some(1.5),
        };
        let chart = against_height(&posture, &about).unwrap();
        let at = |kind: MarkKind| chart.marks.iter().find(|mark| mark.kind == kind).copied();
        let (now, target) = (at(MarkKind::Present).unwrap(), at(MarkKind::Target).unwrap());
        assert!((now.y.unwrap() - 1.0).abs() < 1e-6, "{now:?}");
        assert!((now.x - (pool.level - pool.bottom)).abs() < 1e-9, "{now:?}");
        assert!((target.y.unwrap() - 1.5).abs() < 1e-6, "{target:?}");
        let brim = at(MarkKind::Brim).unwrap();
        assert!(
            (brim.y.unwrap() * 1000.0 - posture.brim_of_piece(piece)).abs() < 1e-3,
            "{brim:?}"
        );
        let seal = at(MarkKind::Seal).unwrap();
        assert_eq!(seal.y, None, "above the brim there is no volume");
        assert!(chart.x.high > seal.x && chart.xs.last().is_some_and(|x| *x < seal.x));
        let (bottom, _) = posture.extent(piece).unwrap();
        let line = &chart.panels[0].lines[0];
        assert_eq!(line.values.len(), chart.xs.len());
        for (x, value) in chart.xs.iter().zip(&line.values) {
            let height = (bottom + x).min(bottom + brim.x - 1e-9);
            let below = posture.below(piece, height).volume / MM3_PER_ML;
            assert!((below - value).abs() < 1e-8, "{x}: {below} {value}");
        }
        assert!(chart.xs.contains(&now.x) && chart.xs.contains(&target.x));
        assert!(chart.csv().unwrap().contains("target"));
    }

    #[test]
    fn a_target_that_does_not_fit_is_said_to() {
        let interior = interior();
        let piece = interior.piece_index("vial-2").unwrap();
        let stance = Stance::new(90.0, 0.0);
        let posture = interior.at(stance);
        let about = Piece {
            piece,
            name: "vial-2",
            stance,
            length_unit: LengthUnit::Millimetre,
            level: None,
            seal: None,
            target_ml: Some(900.0),
        };
        let chart = against_height(&posture, &about).unwrap();
        assert!(chart.note.contains("does not fit"), "{}", chart.note);
        assert!(chart.marks.iter().all(|mark| mark.kind != MarkKind::Target));
        let unknown = Piece { piece: 999, ..about };
        assert_eq!(against_height(&posture, &unknown), None);
    }

    #[test]
    fn a_turn_is_drawn_as_it_was_computed() {
        let interior = interior();
        let pieces: Vec<usize> = (0..interior.pieces().len()).collect();
        let tilts = (-12..=12).map(|i| f64::from(15 * i));
        let steps = turn(&interior, &[(0, 6000.0)], 0.0, tilts, || true).unwrap();
        let about = Turn {
            pieces: &pieces,
            chosen: &[1],
            surface_of: Some(0),
            stance: Stance::new(-30.0, 0.0),
        };
        let chart = against_tilt(&interior, &steps, &about);
        assert_eq!(chart.xs.len(), 25);
        let [volumes, surface] = &chart.panels[..] else {
            panic!("two panels")
        };
        for (i, step) in steps.iter().enumerate() {
            for piece in &pieces {
                assert_eq!(volumes.lines[*piece].values[i], step.held[*piece] / 1000.0);
            }
            assert_eq!(surface.lines[0].values[i], step.free_surface[0] / 100.0);
        }
        let loss = volumes.lines.last().unwrap();
        assert_eq!((loss.name.as_str(), loss.rank), ("lost", Rank::Loss));
        let words = chart.words();
        assert!(words.contains("now at −30.0°"), "{words}");
    }

    #[test]
    fn of_too_many_lines_the_chosen_ones_are_named() {
        let interior = interior();
        let pieces: Vec<usize> = (0..interior.pieces().len()).cycle().take(20).collect();
        let steps = turn(&interior, &[], 0.0, [0.0], || true).unwrap();
        let named = |chosen: &[usize]| {
            let about = Turn {
                pieces: &pieces,
                chosen,
                surface_of: None,
                stance: Stance::default(),
            };
            let chart = against_tilt(&interior, &steps, &about);
            let lines = &chart.panels[0].lines;
            lines.iter().filter(|line| line.rank != Rank::Background).count()
        };
        assert_eq!(named(&[]), STYLES.len());
        assert_eq!(named(&[1]), pieces.iter().filter(|piece| **piece == 1).count());
    }
}
