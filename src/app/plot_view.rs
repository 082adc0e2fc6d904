//! A panel of a chart on the screen: the same lines, shapes and names as on paper, in the colours of the theme.

use super::theme::{self, Palette};
use crate::out::chart::{Chart, Dash, Line, Mark, MarkKind, Panel, Rank, Scale, Shape};
use crate::out::labels::{self, Label, Named};
use egui::{Align2, Color32, Pos2, Rangef, Rect, Response, Sense, Stroke, Ui, pos2, vec2};
use egui_plot::{
    AxisHints, GridMark, HLine, LineStyle, MarkerShape, Plot, PlotPoint, PlotPoints, PlotTransform, Points,
};

/// Width kept for the numbers beside a panel, so that panels above one another line up.
const SIDE: f32 = 56.0;
/// Room to the right of a panel, for half of the last number of its scale, points.
const MARGIN: f32 = 12.0;
/// Distance from a line that is not seen, points.
const UNSEEN: f64 = 0.25;
/// Distance of the shapes set along a line, points.
const SHAPES: f64 = 84.0;
/// Height of a line of text in a panel.
const TEXT: f32 = 15.0;

/// Where the names of the lines stand, kept while the lines and the panel stay as they are.
#[derive(Debug, Default)]
pub(crate) struct Names {
    made_for: Option<(u64, Rect)>,
    labels: Vec<Label>,
}

/// How a panel is shown.
pub(crate) struct Look<'a> {
    /// Distinguishes it from others.
    pub id: &'static str,
    /// Its height with the scale along the bottom, points.
    pub height: f32,
    /// Whether the scale along the bottom is shown.
    pub has_foot: bool,
    /// Whether the marks are named in it.
    pub names_marks: bool,
    /// Whether it can be clicked and dragged.
    pub is_live: bool,
    /// A number that changes with the lines.
    pub version: u64,
    /// Names of the lines that are drawn stronger.
    pub strong: &'a [String],
}

/// What the user does with a panel.
pub(crate) struct Shown {
    pub response: Response,
    /// The place along the bottom under the pointer.
    pub pointed: Option<f64>,
}

/// Shows one panel of a chart.
pub(crate) fn show(ui: &mut Ui, chart: &Chart, panel: &Panel, look: &Look<'_>, names: &mut Names) -> Shown {
    let colours = theme::of(ui);
    let wide = (ui.available_width() - MARGIN).max(80.0);
    let width = f64::from(wide - SIDE).max(1.0);
    let x_count = (width / 64.0) as usize;
    let y_count = (look.height / 34.0).max(2.0) as usize;
    let axis = |hints: AxisHints<'static>, scale: &Scale| {
        let numbers = scale.clone();
        hints
            .formatter(move |mark, _| numbers.division_text(mark.value))
            .label_spacing(Rangef::new(1.0, 2.0))
            .tick_label_color(colours.quiet)
            .tick_label_font(theme::plain(11.5))
    };
    // A panel with a line of its own below others is too low for more beside it than the unit.
    let is_captioned = chart.panels.len() > 1 && panel.lines.len() == 1;
    let title = if is_captioned {
        panel.y.unit.symbol().to_owned()
    } else {
        panel.y.title()
    };
    let title = egui::RichText::new(title).font(theme::plain(11.5)).color(colours.quiet);
    let y_axis = axis(AxisHints::new_y(), &panel.y).label(title).min_thickness(SIDE);
    let title = egui::RichText::new(chart.x.title())
        .font(theme::plain(11.5))
        .color(colours.quiet);
    let x_axis = axis(AxisHints::new_x(), &chart.x).label(title);
    let (x_marks, y_marks) = (grid(&chart.x, x_count), grid(&panel.y, y_count));
    let sense = if look.is_live {
        Sense::click_and_drag()
    } else {
        Sense::hover()
    };
    let plot = Plot::new(look.id)
        .height(look.height)
        .width(wide)
        .custom_y_axes(vec![y_axis])
        .custom_x_axes(if look.has_foot { vec![x_axis] } else { Vec::new() })
        .x_grid_spacer(move |_| x_marks.clone())
        .y_grid_spacer(move |_| y_marks.clone())
        .grid_spacing(Rangef::new(1.0, 2.0))
        .grid_color(colours.rule)
        .grid_fade(0.0)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_drag(false)
        .allow_boxed_zoom(false)
        .allow_axis_zoom_drag(false)
        .allow_double_click_reset(false)
        .show_crosshair(false)
        .label_formatter(|_| None)
        .sense(sense);
    let per_point = [
        (chart.x.high - chart.x.low) / width,
        (panel.y.high - panel.y.low) / f64::from(look.height),
    ];
    let shown = plot.show(ui, |plot| {
        plot.set_plot_bounds_x(chart.x.low..=chart.x.high);
        plot.set_plot_bounds_y(panel.y.low..=panel.y.high);
        let back_first = |line: &&Line| line.rank != Rank::Background;
        let mut lines: Vec<&Line> = panel.lines.iter().collect();
        lines.sort_by_key(back_first);
        for line in lines {
            let strong = look.strong.contains(&line.name);
            for run in line.runs(panel.y.unit) {
                let points = run.filter_map(|i| Some([*chart.xs.get(i)?, *line.values.get(i)?]));
                let points = thinned(&points.collect::<Vec<_>>(), per_point);
                plot.line(drawn(line, points, colours, strong));
            }
            if let Some((_, style)) = line.rank.style().filter(|_| panel.lines.len() > 1) {
                let points = PlotPoints::from(shapes(chart, panel, line, width));
                let shape = Points::new(line.name.clone(), points).shape(marker(style.shape));
                plot.points(shape.radius(3.6).color(colour(line, colours)));
            }
        }
        for guide in &panel.guides {
            let style = LineStyle::Dashed { length: 9.0 };
            plot.hline(
                HLine::new(guide.name.clone(), guide.at)
                    .color(colours.mark)
                    .width(1.4)
                    .style(style),
            );
        }
        for mark in &chart.marks {
            plot.vline(upright(mark, colours));
            if let Some(y) = mark.y {
                let spot = Points::new(mark.kind.name(), vec![[mark.x, y]]);
                plot.points(spot.radius(4.0).filled(true).color(mark_colour(mark.kind, colours)));
            }
        }
    });
    let at = |x: f64, y: f64| shown.transform.position_from_point(&PlotPoint::new(x, y));
    let frame = *shown.transform.frame();
    let painter = ui.painter().with_clip_rect(frame.intersect(ui.clip_rect()));
    for guide in &panel.guides {
        let galley = painter.layout_no_wrap(guide.name.clone(), theme::plain(11.5), colours.mark);
        let foot = pos2(frame.left() + 6.0, at(0.0, guide.at).y - 2.0);
        let rect = Align2::LEFT_BOTTOM.anchor_size(foot, galley.size());
        painter.rect_filled(rect.expand2(vec2(2.0, 0.0)), 2.0, colours.field.gamma_multiply(0.85));
        painter.galley(rect.min, galley, colours.mark);
    }
    if look.names_marks {
        name_marks(&painter, chart, frame, colours, |x| at(x, 0.0).x);
    }
    if let [line] = &panel.lines[..]
        && is_captioned
    {
        let words = format!("{} in {}", panel.y.name, line.name);
        let galley = painter.layout_no_wrap(words, theme::heavy(11.5), colour(line, colours));
        let rect = Rect::from_min_size(frame.left_top() + vec2(6.0, 2.0), galley.size());
        painter.rect_filled(rect.expand2(vec2(2.0, 0.0)), 2.0, colours.field.gamma_multiply(0.85));
        painter.galley(rect.min, galley, colours.text);
    } else if panel.lines.len() > 1 {
        name_lines(&painter, chart, panel, look.version, names, &shown.transform, colours);
    }
    let pointer = shown.response.hover_pos().or(shown.response.interact_pointer_pos());
    let pointed = pointer.map(|pointer| shown.transform.value_from_position(pointer).x);
    if let Some(index) = pointed
        .and_then(|x| chart.nearest(x))
        .filter(|_| shown.response.hovered())
    {
        let x = at(chart.xs[index], 0.0).x;
        painter.vline(x, frame.y_range(), Stroke::new(1.0, colours.outline));
    }
    Shown {
        response: shown.response,
        pointed,
    }
}

fn grid(scale: &Scale, most: usize) -> Vec<GridMark> {
    let values = scale.divisions(most);
    let step_size = match values[..] {
        [a, b, ..] => b - a,
        _ => 1.0,
    };
    values.into_iter().map(|value| GridMark { value, step_size }).collect()
}

/// The colour of a line and of its name.
fn colour(line: &Line, colours: &Palette) -> Color32 {
    match line.rank {
        Rank::Named(index) => colours.series[index % colours.series.len()],
        Rank::Loss => colours.stop,
        Rank::Background => colours.rule,
    }
}

/// The points without those that lie on the line between others, as far as can be seen: dashes are even only along
/// pieces that are longer than they. `per_point` is the size of a point on the screen along x and y.
fn thinned(points: &[[f64; 2]], per_point: [f64; 2]) -> Vec<[f64; 2]> {
    let Some((&first, rest)) = points.split_first() else {
        return Vec::new();
    };
    let seen = |p: [f64; 2]| [p[0] / per_point[0], p[1] / per_point[1]];
    let mut kept = vec![first];
    // The directions from the last kept point that miss none of the points since by more than can be seen.
    let mut from = seen(first);
    let mut slopes = (f64::NEG_INFINITY, f64::INFINITY);
    let mut before = first;
    for &point in rest {
        let [x, y] = seen(point);
        let run = (x - from[0]).max(1e-9);
        let here = ((y - from[1] - UNSEEN) / run, (y - from[1] + UNSEEN) / run);
        let slope = (y - from[1]) / run;
        if slope < slopes.0 || slope > slopes.1 {
            kept.push(before);
            from = seen(before);
            let run = (x - from[0]).max(1e-9);
            slopes = ((y - from[1] - UNSEEN) / run, (y - from[1] + UNSEEN) / run);
        } else {
            slopes = (slopes.0.max(here.0), slopes.1.min(here.1));
        }
        before = point;
    }
    if rest.is_empty() {
        return kept;
    }
    kept.push(before);
    kept
}

/// One run of a line.
fn drawn(line: &Line, points: Vec<[f64; 2]>, colours: &Palette, strong: bool) -> egui_plot::Line<'static> {
    let name = format!("{} from {:?}", line.name, points.first());
    let (width, style) = match (line.rank, line.rank.style()) {
        (Rank::Loss, _) => (4.0, LineStyle::Dashed { length: 10.0 }),
        (_, None) => (1.0, LineStyle::Solid),
        (_, Some((_, style))) => {
            let width = if strong { 2.8 } else { 1.6 };
            let style = match style.dash {
                Dash::Solid => LineStyle::Solid,
                Dash::Long => LineStyle::Dashed { length: 11.0 },
                Dash::Short => LineStyle::Dashed { length: 5.0 },
                Dash::Dots => LineStyle::Dotted { spacing: 5.0 },
            };
            (width, style)
        }
    };
    // A dot of a dotted line is as wide as two lines.
    let width = if matches!(style, LineStyle::Dotted { .. }) {
        width * 0.55
    } else {
        width
    };
    egui_plot::Line::new(name, points)
        .color(colour(line, colours))
        .width(width)
        .style(style)
        // A band is as high as the line is wide, and so too thin where the line is steep.
        .allow_band(false)
}

/// Where the shapes of a line stand: at like distances, at other places for each style, and not where it shows nothing.
fn shapes(chart: &Chart, panel: &Panel, line: &Line, width: f64) -> Vec<[f64; 2]> {
    let Some((index, _)) = line.rank.style() else {
        return Vec::new();
    };
    let step = SHAPES / width * (chart.x.high - chart.x.low);
    let mut next = chart.x.low + step * (0.3 + index as f64 / 8.0);
    let mut found = Vec::new();
    for (x, y) in chart.xs.iter().zip(&line.values) {
        if *x >= next && y.is_finite() && *y > panel.y.high * 0.004 {
            found.push([*x, *y]);
            next = x + step;
        }
    }
    found
}

fn marker(shape: Shape) -> MarkerShape {
    match shape {
        Shape::Disc => MarkerShape::Circle,
        Shape::Square => MarkerShape::Square,
        Shape::Up => MarkerShape::Up,
        Shape::Diamond => MarkerShape::Diamond,
        Shape::Plus => MarkerShape::Plus,
        Shape::Down => MarkerShape::Down,
        Shape::Cross => MarkerShape::Cross,
        Shape::Star => MarkerShape::Asterisk,
    }
}

fn upright(mark: &Mark, colours: &Palette) -> egui_plot::VLine {
    let (width, style) = match mark.kind {
        MarkKind::Present => (2.0, LineStyle::Solid),
        MarkKind::Target => (1.4, LineStyle::Dashed { length: 9.0 }),
        MarkKind::Seal => (1.4, LineStyle::Dashed { length: 3.0 }),
        MarkKind::Brim => (1.2, LineStyle::Dotted { spacing: 4.0 }),
    };
    egui_plot::VLine::new(mark.kind.name(), mark.x)
        .color(mark_colour(mark.kind, colours))
        .width(width)
        .style(style)
}

fn mark_colour(kind: MarkKind, colours: &Palette) -> Color32 {
    match kind {
        MarkKind::Present => colours.accent,
        MarkKind::Brim => colours.level,
        MarkKind::Target | MarkKind::Seal => colours.mark,
    }
}

/// Names of the marks at the upper edge, each in the first row where it has room.
fn name_marks(painter: &egui::Painter, chart: &Chart, frame: Rect, colours: &Palette, x_of: impl Fn(f64) -> f32) {
    let mut marks: Vec<&Mark> = chart.marks.iter().collect();
    marks.sort_by(|a, b| a.x.total_cmp(&b.x));
    let mut ends: Vec<f32> = Vec::new();
    for mark in marks {
        let colour = mark_colour(mark.kind, colours);
        let galley = painter.layout_no_wrap(mark.kind.name().to_owned(), theme::plain(11.5), colour);
        let width = galley.size().x;
        let x = x_of(mark.x);
        // To the right of its line, or to the left at the edge.
        let left = if x + 4.0 + width > frame.right() {
            x - 4.0 - width
        } else {
            x + 4.0
        };
        let row = ends.iter().position(|end| left > end + 4.0).unwrap_or(ends.len());
        match ends.get_mut(row) {
            Some(end) => *end = left + width,
            None => ends.push(left + width),
        }
        let rect = Rect::from_min_size(pos2(left, frame.top() + 2.0 + TEXT * row as f32), galley.size());
        painter.rect_filled(rect.expand2(vec2(2.0, 0.0)), 2.0, colours.field.gamma_multiply(0.85));
        painter.galley(rect.min, galley, colour);
    }
}

#[allow(clippy::cast_possible_truncation, reason = "places on the screen")]
fn name_lines(
    painter: &egui::Painter,
    chart: &Chart,
    panel: &Panel,
    version: u64,
    names: &mut Names,
    transform: &PlotTransform,
    colours: &Palette,
) {
    let is_named = |line: &&Line| line.rank != Rank::Background && !line.runs(panel.y.unit).is_empty();
    let named: Vec<&Line> = panel.lines.iter().filter(is_named).collect();
    let frame = *transform.frame();
    if names.made_for != Some((version, frame)) {
        let on_screen = |line: &Line| {
            let runs = line.runs(panel.y.unit);
            let places = runs.into_iter().flatten();
            let points = places.filter_map(|i| chart.xs.get(i).zip(line.values.get(i)));
            let points = points.map(|(x, y)| transform.position_from_point(&PlotPoint::new(*x, *y)));
            Named {
                name: line.name.clone(),
                points: points.map(|p| [f64::from(p.x), f64::from(p.y)]).collect(),
            }
        };
        let lines: Vec<Named> = named.iter().map(|line| on_screen(line)).collect();
        let width = |text: &str| {
            let galley = painter.layout_no_wrap(text.to_owned(), theme::heavy(11.5), Color32::BLACK);
            f64::from(galley.size().x)
        };
        let within = [
            frame.left() + 3.0,
            frame.top() + TEXT + 2.0,
            frame.right() - 3.0,
            frame.bottom() - 2.0,
        ];
        let base = transform.position_from_point(&PlotPoint::new(0.0, 0.0)).y;
        let within = within.map(f64::from);
        names.labels = labels::place(within, &lines, f64::from(base), f64::from(TEXT), width);
        names.made_for = Some((version, frame));
    }
    for label in &names.labels {
        let Some(line) = named.get(label.line) else { continue };
        let at = pos2(label.rect[0] as f32, label.rect[1] as f32);
        let size = vec2((label.rect[2] - label.rect[0]) as f32, TEXT);
        let rect = Rect::from_min_size(at, size);
        painter.rect_filled(rect.expand2(vec2(2.0, -1.0)), 2.0, colours.field.gamma_multiply(0.85));
        let middle: Pos2 = rect.center();
        painter.text(
            middle,
            Align2::CENTER_CENTER,
            &label.text,
            theme::heavy(11.5),
            colour(line, colours),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinned_lines_keep_their_corners_and_stay_where_they_were() {
        let values = |i: f64| {
            if i < 40.0 {
                0.0
            } else if i < 80.0 {
                10.0
            } else {
                10.0 - (i - 80.0).powi(2) / 40.0
            }
        };
        let points: Vec<[f64; 2]> = (0..=100).map(|i| [f64::from(i), values(f64::from(i))]).collect();
        let thin = thinned(&points, [0.5, 0.1]);
        assert!(thin.len() < 30, "{}", thin.len());
        assert_eq!((thin.first(), thin.last()), (points.first(), points.last()));
        for corner in [[39.0, 0.0], [40.0, 10.0]] {
            assert!(thin.contains(&corner), "{corner:?} in {thin:?}");
        }
        for [x, y] in points {
            let after = thin.iter().position(|p| p[0] >= x).unwrap().max(1);
            let ([x0, y0], [x1, y1]) = (thin[after - 1], thin[after]);
            let on_line = y0 + (y1 - y0) * (x - x0) / (x1 - x0);
            assert!(
                (on_line - y).abs() / 0.1 <= 2.0 * UNSEEN + 1e-9,
                "{x}: {on_line} for {y}"
            );
        }
        assert!(thinned(&[], [1.0, 1.0]).is_empty());
        assert_eq!(thinned(&[[1.0, 2.0]], [1.0, 1.0]), [[1.0, 2.0]]);
    }
}
