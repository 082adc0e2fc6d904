//! The signs of a finding's severity: an octagon, a triangle, a ring. They differ by shape first.

use super::theme::Palette;
use crate::findings::Severity;
use egui::{Color32, Painter, Pos2, Shape, Stroke, pos2, vec2};

/// The word for a severity.
pub(crate) fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "stop",
        Severity::Watch => "watch",
        Severity::Note => "note",
    }
}

/// The same at the head of a group.
pub(crate) fn title(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "Stop",
        Severity::Watch => "Watch",
        Severity::Note => "Note",
    }
}

/// What it means.
pub(crate) fn meaning(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "It cannot be made or cannot work",
        Severity::Watch => "It may well fail",
        Severity::Note => "Worth knowing",
    }
}

/// The colour of a severity.
pub(crate) fn colour(severity: Severity, colours: &Palette) -> Color32 {
    match severity {
        Severity::Stop => colours.stop,
        Severity::Watch => colours.watch,
        Severity::Note => colours.note,
    }
}

/// Draws the sign of a severity, `radius` points large.
pub(crate) fn severity(painter: &Painter, severity: Severity, at: Pos2, radius: f32, colours: &Palette) {
    let colour = colour(severity, colours);
    let sign = colours.field;
    match severity {
        Severity::Stop => {
            painter.add(Shape::convex_polygon(
                corners(at, radius, 8, 22.5),
                colour,
                Stroke::NONE,
            ));
            let bar = vec2(radius * 0.5, 0.0);
            painter.line_segment([at - bar, at + bar], Stroke::new(radius * 0.34, sign));
        }
        Severity::Watch => {
            let down = vec2(0.0, radius * 0.18);
            let triangle = corners(at + down, radius * 1.15, 3, -90.0);
            painter.add(Shape::convex_polygon(triangle, colour, Stroke::NONE));
            let stroke = Stroke::new(radius * 0.26, sign);
            painter.line_segment([at - vec2(0.0, radius * 0.38), at + vec2(0.0, radius * 0.22)], stroke);
            painter.circle_filled(at + vec2(0.0, radius * 0.5), radius * 0.15, sign);
        }
        Severity::Note => {
            let width = radius * 0.3;
            painter.circle(at, radius - width / 2.0, sign, Stroke::new(width, colour));
            painter.circle_filled(at, radius * 0.28, colour);
        }
    }
}

/// Corners of a regular polygon, the first at `start_deg` clockwise from the right.
fn corners(at: Pos2, radius: f32, count: usize, start_deg: f32) -> Vec<Pos2> {
    (0..count)
        .map(|i| {
            let angle = (start_deg + 360.0 * i as f32 / count as f32).to_radians();
            pos2(at.x + radius * angle.cos(), at.y + radius * angle.sin())
        })
        .collect()
}
