//! The stops as cards in their order: a picture of the glass with its liquid, name, stance and wait; of the selected one
//! the fields. Arrow keys go from card to card, Delete takes a stop out.

use super::player::Place;
use super::{RunStrip, fields};
use crate::app::lists;
use crate::app::scene::Scene;
use crate::app::session::Session;
use crate::app::theme;
use crate::geom::Stance;
use crate::model::{Edit, Stop, limits};
use egui::accesskit::Role;
use egui::{
    Align2, EventFilter, Id, Key, Layout, Modifiers, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, UiBuilder,
    WidgetInfo, pos2, vec2,
};

/// Height of a card, points.
const HEIGHT: f32 = 66.0;
/// Width of a card, and of the selected one.
const WIDTHS: [f32; 2] = [150.0, 528.0];
/// Width of the picture.
const PICTURE: f32 = 58.0;
/// Space around what stands in a card.
const PAD: f32 = 5.0;

/// Shows the cards.
pub(super) fn show(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, scene: &Scene) {
    strip.in_field = None;
    strip
        .thumbs
        .refresh(session.document.revision(), scene, PICTURE.min(HEIGHT - 2.0 * PAD));
    ScrollArea::horizontal()
        .id_salt("stops")
        .auto_shrink([false, true])
        .show(ui, |ui| {
            let count = super::run(session).stops.len();
            lists::describe(ui, Role::ListBox, "Stops of the run", count);
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = 6.0;
                for stop in 0..count {
                    card(ui, strip, session, stop);
                }
                add(ui, strip, session);
            });
        });
}

fn id_of(stop: usize) -> Id {
    Id::unique("run stop").with(stop)
}

fn card(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session, index: usize) {
    // A stop may have gone within the frame.
    let Some(stop) = super::run(session).stops.get(index).cloned() else {
        return;
    };
    let is_selected = strip.selected == Some(index);
    let width = WIDTHS[usize::from(is_selected)];
    let (rect, _) = ui.allocate_exact_size(vec2(width, HEIGHT), Sense::hover());
    let response = ui.interact(rect, id_of(index), Sense::click());
    let name = name(index, &stop);
    let words = format!(
        "Stop {}, {name}: tilt {}, wait {} s",
        index + 1,
        super::happenings::stance_text(Stance::new(stop.tilt_deg, stop.roll_deg)),
        crate::units::fixed(stop.wait_s, 0)
    );
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, is_selected, &words));
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_position_in_set(index));
    if is_selected && std::mem::take(&mut strip.look) {
        ui.scroll_to_rect(rect, None);
    }
    if !ui.is_rect_visible(rect) {
        return;
    }
    let colours = theme::of(ui);
    let is_here = strip.is_on() && strip.player.moment(strip.score()).1 == Some(index);
    let fill = if is_selected || response.hovered() {
        colours.chosen
    } else {
        colours.field
    };
    let line = if response.has_focus() {
        Stroke::new(2.0, colours.accent)
    } else {
        Stroke::new(1.0, if is_selected { colours.accent } else { colours.rule })
    };
    ui.painter().rect(rect, 5.0, fill, line, StrokeKind::Inside);
    if is_here {
        let top = Rect::from_min_max(rect.min + vec2(4.0, 0.0), pos2(rect.right() - 4.0, rect.top() + 3.0));
        ui.painter().rect_filled(top, 1.0, colours.accent);
    }
    let inner = rect.shrink(PAD);
    let picture = Rect::from_min_size(inner.min, vec2(PICTURE, inner.height()));
    let stance = Stance::new(stop.tilt_deg, stop.roll_deg);
    let rest = strip.shown().and_then(|poured| poured.end.outcome.stops.get(index));
    let pools = rest.map_or_else(Vec::new, |rest| rest.settled.pools.clone());
    strip.thumbs.paint(ui, picture, stance, pools);
    let mut beside = inner;
    beside.min.x = picture.right() + 7.0;
    if is_selected {
        let builder = UiBuilder::new()
            .max_rect(beside)
            .layout(Layout::top_down(egui::Align::Min));
        let mut within = ui.new_child(builder);
        fields::show(&mut within, strip, session, index);
    } else {
        texts(ui, beside, &name, &stop, index);
    }
    if response.clicked() {
        response.request_focus();
        strip.go(session, Place::Stop(index));
    }
    if response.has_focus() {
        keys(ui, strip, session, index);
    }
    if !is_selected {
        response.on_hover_text(words);
    }
}

/// The name of a stop, or what is said in its place.
fn name(index: usize, stop: &Stop) -> String {
    if stop.name.is_empty() {
        format!("stop {}", index + 1)
    } else {
        stop.name.clone()
    }
}

fn texts(ui: &Ui, rect: Rect, name: &str, stop: &Stop, index: usize) {
    let colours = theme::of(ui);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let line = |row: f32, text: &str, font, colour| {
        let at = pos2(rect.left(), rect.top() + 9.0 + 18.5 * row);
        painter.text(at, Align2::LEFT_CENTER, text, font, colour);
    };
    let head = if stop.name.is_empty() {
        name.to_owned()
    } else {
        format!("{} {name}", index + 1)
    };
    line(0.0, &head, theme::heavy(13.0), colours.text);
    let stance = super::happenings::stance_text(Stance::new(stop.tilt_deg, stop.roll_deg));
    line(1.0, &stance, theme::plain(12.5), colours.text);
    let mut wait = format!("{} s", crate::units::fixed(stop.wait_s, 0));
    if !stop.seals.is_empty() {
        wait += &format!(", seals {}", stop.seals.len());
    }
    line(2.0, &wait, theme::plain(12.0), colours.quiet);
}

/// Arrow keys go on to the next card, with Ctrl they take the stop along; Delete takes it out.
fn keys(ui: &Ui, strip: &mut RunStrip, session: &mut Session, index: usize) {
    let filter = EventFilter {
        horizontal_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id_of(index), filter));
    let last = super::run(session).stops.len().saturating_sub(1);
    let pressed = |modifiers, key| ui.input_mut(|input| input.consume_key(modifiers, key));
    let to = |forward: bool| {
        if forward {
            (index + 1).min(last)
        } else {
            index.saturating_sub(1)
        }
    };
    let mut focus = None;
    for (key, forward) in [(Key::ArrowLeft, false), (Key::ArrowRight, true)] {
        if pressed(Modifiers::COMMAND, key) {
            move_stop(strip, session, index, to(forward));
            focus = strip.selected;
        } else if pressed(Modifiers::NONE, key) {
            strip.go(session, Place::Stop(to(forward)));
            focus = Some(to(forward));
        }
    }
    if pressed(Modifiers::NONE, Key::Delete) {
        remove(strip, session, index);
        focus = strip.selected;
    }
    if let Some(stop) = focus {
        ui.memory_mut(|memory| memory.request_focus(id_of(stop)));
    }
}

/// Moves a stop to another position.
pub(super) fn move_stop(strip: &mut RunStrip, session: &mut Session, from: usize, to: usize) {
    if from != to && strip.change(session, &Edit::MoveStop { from, to }) {
        strip.select(session, to);
    }
}

/// Takes a stop out; the one that comes in its place is selected.
pub(super) fn remove(strip: &mut RunStrip, session: &mut Session, index: usize) {
    if strip.change(session, &Edit::RemoveStop { index }) {
        let left = super::run(session).stops.len();
        strip.selected = left.checked_sub(1).map(|last| index.min(last));
        if let Some(stop) = strip.selected.filter(|_| strip.is_on()) {
            strip.go(session, Place::Stop(stop));
        }
    }
}

/// The card that adds the present stance.
fn add(ui: &mut Ui, strip: &mut RunStrip, session: &mut Session) {
    let is_full = super::run(session).stops.len() as f64 >= limits::STOPS.max;
    let (rect, _) = ui.allocate_exact_size(vec2(WIDTHS[0], HEIGHT), Sense::hover());
    let sense = if is_full { Sense::hover() } else { Sense::click() };
    let response = ui.interact(rect, Id::unique("add a stop"), sense);
    let words = "Add the present stance as a stop";
    response.widget_info(|| WidgetInfo::labeled(Role::Button, !is_full, words));
    let colours = theme::of(ui);
    let line = if response.has_focus() || response.hovered() {
        Stroke::new(1.5, colours.accent)
    } else {
        Stroke::new(1.0, colours.outline)
    };
    let corners = [
        rect.left_top(),
        rect.right_top(),
        rect.right_bottom(),
        rect.left_bottom(),
        rect.left_top(),
    ];
    ui.painter().extend(egui::Shape::dashed_line(&corners, line, 5.0, 4.0));
    let middle = rect.center();
    let stance = super::happenings::stance_text(session.stance);
    for (down, text, font, colour) in [
        (-17.0, "+ Add this stance", theme::heavy(13.0), colours.text),
        (2.0, stance.as_str(), theme::plain(12.5), colours.text),
        (19.0, "Shift+S", theme::plain(11.5), colours.quiet),
    ] {
        ui.painter()
            .text(middle + vec2(0.0, down), Align2::CENTER_CENTER, text, font, colour);
    }
    if response
        .on_hover_text("Adds it after the selected stop, or at the end")
        .clicked()
    {
        strip.add_present(session);
    }
}
