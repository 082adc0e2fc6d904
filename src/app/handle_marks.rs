//! Handles as they are drawn and taken hold of: focus, keys, and what assistive tools are told.

use super::field::value_text;
use super::handles::{Handle, Look, head_of};
use super::theme::{self, Palette};
use super::view::Placed;
use crate::model::limits::Unit;
use crate::model::param::Parameter;
use crate::units::LengthUnit;
use egui::accesskit::{Action, ActionData, Role};
use egui::{
    CursorIcon, EventFilter, Id, Key, Modifiers, Painter, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, Vec2,
    WidgetInfo, vec2,
};

/// Radius of a handle as it is drawn, points.
const RADIUS: f32 = 9.0;

/// What the mark of a handle at a place covers.
pub(crate) fn room(at: Pos2) -> Rect {
    Rect::from_center_size(at, Vec2::splat(2.0 * RADIUS))
}

/// A handle in this frame.
pub(crate) struct Mark {
    /// What the pointer does to it.
    pub response: Response,
    /// A value asked for by keys or an assistive tool, with the position of its number among those of the handle.
    pub asked: Option<(usize, f64)>,
}

/// Draws a handle with its numbers; `None` when it lies outside of the bench. `is_told` when they stand beside it
/// anyway.
pub(crate) fn show(
    ui: &Ui,
    handle: &Handle,
    (parameters, unit): (&[Parameter], LengthUnit),
    screen: Placed,
    bench: Rect,
    is_held: bool,
    is_told: bool,
) -> Option<Mark> {
    let first = parameters.first()?;
    let at = handle.at(screen);
    let rect = Rect::from_center_size(at, Vec2::splat(theme::TARGET));
    // One that is held stays, wherever it is pulled to.
    if !bench.contains_rect(rect) && !is_held {
        return None;
    }
    let colours = theme::of(ui);
    let id = Id::unique("handle")
        .with(&handle.measure.owner)
        .with(&handle.measure.key);
    let response = ui.interact(rect, id, Sense::click_and_drag());
    let words = words(parameters, unit);
    let response = if is_held {
        ui.set_cursor_icon(CursorIcon::Grabbing);
        response
    } else if is_told {
        response.on_hover_cursor(CursorIcon::Grab)
    } else {
        response
            .on_hover_cursor(CursorIcon::Grab)
            .on_hover_text(format!("{words}. Pull, or click and type."))
    };
    let is_hot = is_held || response.hovered();
    let painter = ui.painter_at(bench.expand(theme::TARGET));
    paint(&painter, colours, handle.look, at, handle.pull(screen), is_hot);
    if response.has_focus() {
        painter.circle_stroke(at, RADIUS + 4.0, Stroke::new(2.0, colours.accent));
    }
    // A slider has one number; the corner of a bridge opens two to be typed into.
    let (role, name) = match parameters {
        [one] => (Role::Slider, &one.label[..]),
        _ => (Role::Button, head_of(&first.label)),
    };
    response.widget_info(|| WidgetInfo::labeled(role, true, name));
    ui.ctx().accesskit_node_builder(id, |node| {
        node.set_value(words);
        if role == Role::Slider {
            node.set_numeric_value(first.value);
            node.set_min_numeric_value(first.limit.min);
            node.set_max_numeric_value(first.limit.max);
            node.set_numeric_value_step(first.limit.step);
            node.add_action(Action::SetValue);
        }
    });
    let by_tool = || asked_by_tool(ui, id).map(|value| (0, value));
    let asked = keys(ui, &response, parameters).or_else(by_tool);
    Some(Mark { response, asked })
}

fn words(parameters: &[Parameter], unit: LengthUnit) -> String {
    let value = |parameter: &Parameter| value_text(parameter.value, parameter.limit.unit, unit);
    match parameters {
        [one] => format!("{} {}", one.label, value(one)),
        several => {
            let head = several.first().map_or("", |first| head_of(&first.label));
            let detail = |parameter: &Parameter| {
                let detail = parameter.label.strip_prefix(head).unwrap_or_default();
                format!("{} {}", detail.trim_start_matches(": "), value(parameter))
            };
            let details: Vec<String> = several.iter().map(detail).collect();
            format!("{head}: {}", details.join(", "))
        }
    }
}

/// Arrow keys while the handle has the focus: a step of its number, a tenth with shift, ten with the command key. Of
/// two numbers the arrows to the sides change the first, those up and down the second.
fn keys(ui: &Ui, response: &Response, parameters: &[Parameter]) -> Option<(usize, f64)> {
    if !response.has_focus() {
        return None;
    }
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    let steps = |keys: [(Key, f64); 2]| {
        ui.input_mut(|input| {
            let mut steps = 0.0;
            for (modifiers, size) in [
                (Modifiers::SHIFT, 0.1),
                (Modifiers::COMMAND, 10.0),
                (Modifiers::NONE, 1.0),
            ] {
                for (key, sense) in keys {
                    steps += input.count_and_consume_key(modifiers, key) as f64 * size * sense;
                }
            }
            steps
        })
    };
    let level = steps([(Key::ArrowRight, 1.0), (Key::ArrowLeft, -1.0)]);
    let upright = steps([(Key::ArrowUp, 1.0), (Key::ArrowDown, -1.0)]);
    let (index, steps) = match parameters {
        [_] => (0, level + upright),
        _ if level != 0.0 => (0, level),
        _ => (1, upright),
    };
    let parameter = parameters.get(index).filter(|_| steps != 0.0)?;
    let least = if parameter.limit.unit == Unit::Count { 1.0 } else { 0.0 };
    let by = steps.abs().max(least) * steps.signum() * parameter.limit.step;
    Some((index, ((parameter.value + by) * 1e6).round() / 1e6))
}

fn asked_by_tool(ui: &Ui, id: Id) -> Option<f64> {
    ui.input(|input| {
        let mut requests = input.accesskit_action_requests(id, Action::SetValue);
        requests.find_map(|request| match request.data {
            Some(ActionData::NumericValue(value)) => Some(value),
            _ => None,
        })
    })
}

/// A disc with a sign of what pulling it does.
fn paint(painter: &Painter, colours: &Palette, look: Look, at: Pos2, pull: Vec2, is_hot: bool) {
    let (fill, sign) = if is_hot {
        (colours.accent, colours.on_accent)
    } else {
        (colours.panel, colours.accent)
    };
    painter.circle_filled(at, RADIUS + 1.5, colours.bench.gamma_multiply(0.85));
    painter.circle(at, RADIUS, fill, Stroke::new(1.5, colours.accent));
    let stroke = Stroke::new(1.6, sign);
    match look {
        Look::Arrows => {
            arrow(painter, at, pull, 3.2, sign);
            arrow(painter, at, -pull, 3.2, sign);
        }
        Look::Cross => {
            for way in [pull, -pull, pull.rot90(), -pull.rot90()] {
                arrow(painter, at, way, 2.6, sign);
            }
        }
        Look::Arc => {
            let points: Vec<Pos2> = (0..=14)
                .map(|i| {
                    let angle = (-210.0 + 16.0 * i as f32).to_radians();
                    at + vec2(angle.cos(), angle.sin()) * 4.6
                })
                .collect();
            let ends = [(points[1], points[0]), (points[13], points[14])];
            painter.add(Shape::line(points, stroke));
            for (before, end) in ends {
                let along = (end - before).normalized();
                let side = vec2(-along.y, along.x) * 2.6;
                let tip = end + along * 2.8;
                painter.add(Shape::convex_polygon(
                    vec![tip, end + side, end - side],
                    sign,
                    Stroke::NONE,
                ));
            }
        }
        Look::Count => {
            painter.line_segment([at - vec2(4.5, 0.0), at + vec2(4.5, 0.0)], stroke);
            painter.line_segment([at - vec2(0.0, 4.5), at + vec2(0.0, 4.5)], stroke);
        }
    }
}

/// The head of an arrow off the middle of a handle.
fn arrow(painter: &Painter, at: Pos2, way: Vec2, half_width: f32, colour: egui::Color32) {
    let (tip, foot, side) = (way * 6.0, way * 2.2, way.rot90() * half_width);
    let points = vec![at + tip, at + foot + side, at + foot - side];
    painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
}
