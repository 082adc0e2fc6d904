//! The paper behind the glass: grid, rulers, and the scale at which all is seen.
//!
//! The grid belongs to the glass and turns with it: a place on the grid stays the same place of the glass. The rulers
//! belong to the screen. They read while the glass is held upright; tilted, a reading along the screen would be no
//! length of the glass, and so their bands stay empty.

use super::theme::{self, Palette};
use super::view::Placed;
use crate::units::LengthUnit;
use egui::{Align2, Color32, Pos2, Rect, Stroke, Ui, epaint::TextShape, pos2, vec2};
use nalgebra::Vector2;
use serde::{Deserialize, Serialize};
use std::f32::consts::FRAC_PI_2;

/// Divisions in the unit shown; each is a multiple of the ones before.
fn divisions_of(unit: LengthUnit) -> &'static [f64] {
    match unit {
        LengthUnit::Millimetre => &[1.0, 5.0, 10.0, 50.0, 100.0, 500.0, 1000.0, 5000.0, 10_000.0],
        LengthUnit::Inch => &[0.125, 0.25, 0.5, 1.0, 2.0, 10.0, 20.0, 100.0, 200.0, 1000.0],
    }
}

/// Fine divisions stand no nearer to each other, points.
const FINE: f64 = 8.0;
/// Numbered divisions stand no nearer to each other, points.
const NUMBERED: f64 = 48.0;
/// Width of a ruler, points.
const BAND: f32 = 18.0;

/// What is shown on the bench beside the glass. It is remembered from run to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Sheet {
    /// Dimensions.
    pub dimensions: bool,
    /// The grid.
    pub grid: bool,
    /// The rulers.
    pub rulers: bool,
}

impl Default for Sheet {
    fn default() -> Self {
        Self {
            dimensions: false,
            grid: true,
            rulers: false,
        }
    }
}

impl Sheet {
    /// The part of the bench that the rulers leave free.
    pub(crate) fn inside(self, bench: Rect) -> Rect {
        if self.rulers {
            Rect::from_min_max(bench.min + vec2(BAND, BAND), bench.max)
        } else {
            bench
        }
    }
}

/// The fine and the numbered division for a scale, points to the unit shown.
fn divisions(scale: f64, unit: LengthUnit) -> (f64, f64) {
    let all = divisions_of(unit);
    let first = |least: f64, above: f64| {
        let wide = all.iter().copied().filter(|d| *d > above);
        wide.into_iter().find(|d| d * scale >= least).unwrap_or(above * 2.0)
    };
    let fine = first(FINE, 0.0);
    (fine, first(NUMBERED, fine))
}

/// Whole multiples of a division between two coordinates, and whether each is one of the numbered division too.
fn multiples(low: f64, high: f64, fine: f64, numbered: f64) -> impl Iterator<Item = (f64, bool)> {
    let every = (numbered / fine).round();
    // A view is at most some thousands of points wide and divisions stand at least eight apart.
    let count = ((high / fine).floor() - (low / fine).ceil()).clamp(-1.0, 4000.0);
    let start = (low / fine).ceil();
    std::iter::successors(Some(0.0), |k| Some(k + 1.0))
        .take_while(move |k| *k <= count)
        .map(move |k| ((start + k) * fine, (start + k) % every == 0.0))
}

/// The same in millimetres.
fn divisions_mm(placed: &Placed, unit: LengthUnit) -> (f64, f64) {
    let in_unit = unit.to_mm(1.0);
    let (fine, numbered) = divisions(placed.scale() * in_unit, unit);
    (fine * in_unit, numbered * in_unit)
}

/// Draws the grid over the bench; it turns with the glass.
pub(crate) fn paint_grid(
    painter: &egui::Painter,
    colours: &Palette,
    (placed, unit): (&Placed, LengthUnit),
    bench: Rect,
) {
    let (fine, numbered) = divisions_mm(placed, unit);
    let corners = [
        bench.left_top(),
        bench.right_top(),
        bench.right_bottom(),
        bench.left_bottom(),
    ]
    .map(|corner| placed.to_world(corner));
    let low = corners.iter().fold(corners[0], |low, p| low.inf(p));
    let high = corners.iter().fold(corners[0], |high, p| high.sup(p));
    let strokes = [0.3, 0.7].map(|share| Stroke::new(1.0, between(colours.bench, colours.rule, share)));
    // The numbered lines come last, over the crossings.
    for bold in [false, true] {
        let stroke = strokes[usize::from(bold)];
        for (x, is_numbered) in multiples(low.x, high.x, fine, numbered) {
            if is_numbered == bold {
                line(painter, [(x, low.y), (x, high.y)], placed, stroke);
            }
        }
        for (y, is_numbered) in multiples(low.y, high.y, fine, numbered) {
            if is_numbered == bold {
                line(painter, [(low.x, y), (high.x, y)], placed, stroke);
            }
        }
    }
}

/// A line of the grid; where it runs along the pixels it fills whole ones.
fn line(painter: &egui::Painter, ends: [(f64, f64); 2], placed: &Placed, stroke: Stroke) {
    let [mut a, mut b] = ends.map(|(x, y)| placed.to_screen(Vector2::new(x, y)));
    if (a.x - b.x).abs() < 0.01 {
        let x = painter.round_to_pixel_center(a.x);
        (a.x, b.x) = (x, x);
    }
    if (a.y - b.y).abs() < 0.01 {
        let y = painter.round_to_pixel_center(a.y);
        (a.y, b.y) = (y, y);
    }
    painter.line_segment([a, b], stroke);
}

fn between(from: Color32, to: Color32, share: f32) -> Color32 {
    from.lerp_to_gamma(to, share)
}

/// Draws both rulers along the top and the left of `bench`.
pub(crate) fn paint_rulers(
    ui: &Ui,
    colours: &Palette,
    (placed, unit): (&Placed, LengthUnit),
    bench: Rect,
    tilt_deg: f64,
) {
    let painter = ui.painter_at(bench);
    let top = Rect::from_min_max(bench.min, pos2(bench.right(), bench.top() + BAND));
    let left = Rect::from_min_max(bench.min, pos2(bench.left() + BAND, bench.bottom()));
    for band in [top, left] {
        painter.rect_filled(band, 0.0, colours.panel);
    }
    let edge = Stroke::new(1.0, colours.rule);
    let (x, y) = (
        painter.round_to_pixel_center(left.right()),
        painter.round_to_pixel_center(top.bottom()),
    );
    painter.hline(bench.x_range(), y, edge);
    painter.vline(x, bench.y_range(), edge);
    if tilt_deg != 0.0 {
        let words = "The rulers read while the glass is held as drawn";
        painter.text(
            pos2(left.right() + 8.0, top.center().y),
            Align2::LEFT_CENTER,
            words,
            theme::plain(11.0),
            colours.quiet,
        );
        return;
    }
    let (fine, numbered) = divisions_mm(placed, unit);
    let (low, high) = (placed.to_world(bench.left_bottom()), placed.to_world(bench.right_top()));
    let tick = Stroke::new(1.0, colours.division);
    // Numbers of a ruler are round.
    let number = |mm: f64| {
        let value = (unit.from_mm(mm) * 1e3).round() / 1e3;
        // Adding zero turns -0 into 0.
        format!("{}", value + 0.0).replace('-', "−")
    };
    for (mm, is_numbered) in multiples(low.x, high.x, fine, numbered) {
        let at = painter.round_to_pixel_center(placed.to_screen(Vector2::new(mm, 0.0)).x);
        if at <= left.right() {
            continue;
        }
        let length = if is_numbered { BAND - 4.0 } else { 4.0 };
        painter.vline(at, (top.bottom() - length)..=top.bottom(), tick);
        if is_numbered {
            let place = pos2(at + 3.0, top.top() + 7.5);
            painter.text(
                place,
                Align2::LEFT_CENTER,
                number(mm),
                theme::plain(10.5),
                colours.quiet,
            );
        }
    }
    for (mm, is_numbered) in multiples(low.y, high.y, fine, numbered) {
        let at = painter.round_to_pixel_center(placed.to_screen(Vector2::new(0.0, mm)).y);
        if at <= top.bottom() {
            continue;
        }
        let length = if is_numbered { BAND - 4.0 } else { 4.0 };
        painter.hline((left.right() - length)..=left.right(), at, tick);
        if is_numbered {
            // Written upwards, beside the division.
            let galley = painter.layout_no_wrap(number(mm), theme::plain(10.5), colours.quiet);
            let corner = pos2(left.left() + 7.5 - galley.size().y / 2.0, at - 3.0);
            painter.add(TextShape::new(corner, galley, colours.quiet).with_angle(-FRAC_PI_2));
        }
    }
    // The corner covers what would lie under both.
    let corner = Rect::from_min_max(bench.min, pos2(left.right(), top.bottom()));
    painter.rect_filled(corner.shrink(0.5), 0.0, colours.panel);
    painter.text(
        corner.center(),
        Align2::CENTER_CENTER,
        unit.symbol(),
        theme::plain(9.5),
        colours.quiet,
    );
    if let Some(at) = ui.ctx().pointer_hover_pos().filter(|at| bench.contains(*at)) {
        follow(&painter, colours, at, left, top);
    }
}

/// Where the pointer is, on both rulers.
fn follow(painter: &egui::Painter, colours: &Palette, at: Pos2, left: Rect, top: Rect) {
    let stroke = Stroke::new(1.5, colours.accent);
    if at.x > left.right() {
        painter.vline(painter.round_to_pixel_center(at.x), top.y_range(), stroke);
    }
    if at.y > top.bottom() {
        painter.hline(left.x_range(), painter.round_to_pixel_center(at.y), stroke);
    }
}

/// How many times smaller or larger than the glass the picture is: `1 : 1.4` or `2.5 : 1`. `scale` and `true_scale`
/// are points to a millimetre, of the view and of this screen.
pub(crate) fn proportion(scale: f64, true_scale: f64) -> String {
    let ratio = scale / true_scale;
    let figures = |value: f64| {
        let digits = usize::from(value < 99.95);
        let text = format!("{value:.digits$}");
        text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
    };
    if ratio >= 1.0 {
        format!("{} : 1", figures(ratio))
    } else {
        format!("1 : {}", figures(1.0 / ratio))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn divisions_follow_the_scale() {
        for (scale, fine, numbered) in [
            (0.05, 500.0, 1000.0),
            (0.1, 100.0, 500.0),
            (0.5, 50.0, 100.0),
            (1.4, 10.0, 50.0),
            (4.0, 5.0, 50.0),
            (7.0, 5.0, 10.0),
            (9.0, 1.0, 10.0),
            (400.0, 1.0, 5.0),
        ] {
            assert_eq!(divisions(scale, LengthUnit::Millimetre), (fine, numbered), "{scale}");
        }
        for unit in [LengthUnit::Millimetre, LengthUnit::Inch] {
            let mut scale = unit.to_mm(0.05);
            while scale < unit.to_mm(400.0) {
                let (fine, numbered) = divisions(scale, unit);
                assert!(
                    fine * scale >= FINE && numbered * scale >= NUMBERED && numbered % fine == 0.0,
                    "{scale}"
                );
                scale *= 1.03;
            }
        }
    }

    #[test]
    fn multiples_begin_and_end_within() {
        let found: Vec<_> = multiples(-12.0, 11.0, 5.0, 10.0).collect();
        assert_eq!(
            found,
            [(-10.0, true), (-5.0, false), (0.0, true), (5.0, false), (10.0, true)]
        );
        assert_eq!(multiples(1.0, 2.0, 5.0, 10.0).count(), 0);
    }

    #[test]
    fn proportions_read_like_those_on_a_drawing() {
        for (scale, text) in [
            (4.0, "1 : 1"),
            (2.0, "1 : 2"),
            (2.857, "1 : 1.4"),
            (10.0, "2.5 : 1"),
            (0.05, "1 : 80"),
            (400.0, "100 : 1"),
        ] {
            assert_eq!(proportion(scale, 4.0), text);
        }
    }
}
