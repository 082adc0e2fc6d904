//! Marks at their places on a scale: drawn, found under the pointer, and told to assistive tools.

use super::mark_paint::{self, Symbol};
use super::marks::{Group, Kind, Weight};
use super::ring::degrees;
use super::theme::{self, Palette};
use egui::accesskit::{Action, Role};
use egui::{Align2, FontId, Id, Painter, Pos2, Rect, Sense, Stroke, Ui, Vec2, WidgetInfo};

/// Marks that are drawn as one, at their place.
pub(crate) struct Spot<'a> {
    /// The marks.
    pub group: Group<'a>,
    /// The place of each on the edge of the scale.
    pub feet: Vec<Pos2>,
    /// Unit vector away from the scale there, for each.
    pub outs: Vec<Vec2>,
    /// The symbol; of a notch, the place of its number.
    pub symbol: Symbol,
    /// What is written beside it, and its middle.
    pub label: Option<(String, Pos2)>,
}

/// The size of a symbol, points, where a plain one has `size`.
pub(crate) fn symbol_size(group: &Group<'_>, size: f32) -> f32 {
    match (group.kind, group.weight) {
        (Kind::Loss, _) => 1.3 * size,
        (_, Weight::Back) => 0.75 * size,
        (_, Weight::Strong) => 1.15 * size,
        (_, Weight::Plain) => size,
    }
}

/// What is written beside a group, with the size of the text, points. Marks that stand back have no words.
pub(crate) fn label(group: &Group<'_>) -> Option<(String, Vec2)> {
    let text = group.label().filter(|_| group.weight != Weight::Back)?;
    let each = if group.weight == Weight::Strong { 7.2 } else { 6.4 };
    #[allow(clippy::cast_precision_loss, reason = "a label has a few characters")]
    let size = Vec2::new(text.chars().count() as f32 * each, 11.0);
    Some((text, size))
}

impl Spot<'_> {
    fn font(&self) -> FontId {
        if self.group.weight == Weight::Strong {
            theme::heavy(11.5)
        } else {
            theme::plain(10.5)
        }
    }

    /// Draws it; `notch` is the size of a notch in the scale.
    pub(crate) fn paint(&self, painter: &Painter, colours: &Palette, notch: f32) {
        let colour = mark_paint::colour(colours, self.group.kind, self.group.weight);
        let is_notch = self.group.kind == Kind::Brims;
        for (foot, out) in self.feet.iter().zip(&self.outs) {
            if is_notch {
                let size = symbol_size(&self.group, notch);
                let notch = Symbol {
                    centre: *foot - *out * (0.5 * size - 1.0),
                    out: *out,
                    size,
                };
                notch.paint(painter, self.group.kind, colour);
            }
            let towards = self.symbol.centre - self.symbol.out * (0.5 * self.symbol.size);
            if self.label.is_some() || !is_notch {
                painter.line_segment([*foot, towards], Stroke::new(0.8, colour.gamma_multiply(0.8)));
            }
        }
        if !is_notch {
            self.symbol.paint(painter, self.group.kind, colour);
        }
        if let Some((text, at)) = &self.label {
            painter.text(*at, Align2::CENTER_CENTER, text, self.font(), colour);
        }
    }

    /// How far a position is from what can be clicked.
    fn distance(&self, at: Pos2) -> f32 {
        let label = self.label.iter().map(|(_, place)| *place);
        let feet = self.feet.iter().copied().filter(|_| self.group.kind == Kind::Brims);
        let places = feet.chain(label).chain([self.symbol.centre]);
        places.map(|place| (place - at).length()).fold(f32::INFINITY, f32::min)
    }
}

/// The spot under a position: the nearest within reach.
pub(crate) fn under<'a, 'b>(spots: &'b [Spot<'a>], at: Pos2) -> Option<&'b Spot<'a>> {
    let near = spots.iter().map(|spot| (spot.distance(at), spot));
    let nearest = near.min_by(|a, b| a.0.total_cmp(&b.0));
    nearest
        .filter(|(distance, _)| *distance <= theme::TARGET / 2.0)
        .map(|(_, spot)| spot)
}

/// An accessible node for each spot of a scale, which its name begins with; the angle that an assistive tool asked for.
pub(crate) fn nodes(ui: &Ui, scale: &str, spots: &[Spot<'_>]) -> Option<f64> {
    let mut asked = None;
    let base = Id::unique("mark").with(scale);
    for (i, spot) in spots.iter().enumerate() {
        let Group { kind, marks, .. } = &spot.group;
        let twins = spots[..i]
            .iter()
            .filter(|s| s.group.kind == *kind && s.group.marks[0].name == marks[0].name);
        let id = base.with((*kind, &marks[0].name, twins.count()));
        let rect = Rect::from_center_size(spot.symbol.centre, Vec2::splat(theme::TARGET));
        let response = ui.interact(rect, id, Sense::hover());
        let name = format!("{scale}: {}", spot.group.headline());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
        ui.ctx().accesskit_node_builder(id, |node| {
            let value = match &marks[..] {
                [mark] => format!("{}, {:.2} mL", degrees(mark.at_deg), mark.volume_ml),
                _ => degrees(spot.group.at_deg()),
            };
            node.set_value(value);
            node.set_description(spot.group.words());
            node.add_action(Action::Click);
        });
        if ui.input(|input| input.has_accesskit_action_request(id, Action::Click)) {
            asked = Some(spot.group.at_deg());
        }
    }
    asked
}
