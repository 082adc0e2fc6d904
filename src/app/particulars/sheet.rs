//! The particulars of a piece that is straight and slim: its section hangs in the middle, the fields stand at both
//! sides, each led to its place.

use super::control;
use super::entry::{Entry, Kind};
use super::section::{LANE, Section, Spot, stroke};
use crate::app::field;
use crate::app::session::Session;
use crate::app::theme;
use crate::out::callouts::Mark;
use crate::units::LengthUnit;
use egui::{Align, Align2, Layout, Pos2, Rect, Sense, Stroke, Ui, UiBuilder, pos2, vec2};

/// Width of the right column: a length, points.
const RIGHT: f32 = 74.0;
/// Height of a caption, points.
const CAPTION: f32 = 14.0;
/// Space between fields, points.
const GAP: f32 = 3.0;
/// Greatest scale of the drawing, points per millimetre.
const GREATEST: f64 = 5.0;
/// Least height of the drawing, points.
const LEAST_HEIGHT: f32 = 140.0;

/// Width of the left column: a tube size and its button, points.
fn left_width(unit: LengthUnit) -> f32 {
    match unit {
        LengthUnit::Millimetre => 126.0,
        LengthUnit::Inch => 140.0,
    }
}

/// A field with its place.
struct Slot<'a> {
    entry: &'a Entry,
    mark: Mark,
    left: bool,
    refusal: Option<String>,
    height: f32,
}

/// Shows the section with its fields, and gives the entries that have no place in it.
pub(super) fn show<'a>(
    ui: &mut Ui,
    session: &mut Session,
    section: &Section<'_>,
    entries: &[&'a Entry],
) -> Vec<&'a Entry> {
    let (placed, rest): (Vec<&Entry>, Vec<&Entry>) = entries
        .iter()
        .partition(|entry| section.mark(entry.aim.key()).is_some());
    let full = ui.available_width();
    let unit = session.length_unit;
    let left_width = left_width(unit);
    let mut slots: Vec<Slot<'_>> = placed
        .into_iter()
        .filter_map(|entry| {
            let mark = section.mark(entry.aim.key())?;
            let left = stands_left(entry, mark);
            let refusal = control::refusal(ui, session, entry);
            let width = if left { left_width } else { RIGHT };
            let below = refusal.as_ref().map_or(0.0, |text| control::height_of(ui, text, width));
            Some(Slot {
                entry,
                mark,
                left,
                refusal,
                height: caption_height(entry) + theme::TARGET + below + GAP,
            })
        })
        .collect();
    let column = |left: bool, slots: &[Slot<'_>]| -> f32 {
        slots
            .iter()
            .filter(|slot| slot.left == left)
            .map(|slot| slot.height)
            .sum()
    };
    let height = column(true, &slots).max(column(false, &slots)).max(LEAST_HEIGHT);
    let (area, _) = ui.allocate_exact_size(vec2(full, height), Sense::hover());
    let middle = Rect::from_min_max(
        pos2(area.left() + left_width + 4.0, area.top()),
        pos2(area.right() - RIGHT - 4.0, area.bottom()),
    );
    // Room for the dimension lines and the leaders beside the glass, and for the host above its mouth.
    let has_left_lane = slots
        .iter()
        .any(|slot| slot.left && matches!(slot.mark, Mark::Length { .. }));
    let glass = Rect::from_min_max(
        middle.min + vec2(if has_left_lane { LANE + 6.0 } else { 6.0 }, 10.0),
        middle.max - vec2(LANE + 8.0, 6.0),
    );
    let laid = section.lay(glass, middle, section.hanging_deg(), GREATEST);
    slots.sort_by(|a, b| laid.at(a.mark.anchor()).y.total_cmp(&laid.at(b.mark.anchor()).y));

    let lane = laid.bounds.width() / 2.0 + LANE;
    let spots: Vec<Spot<'_>> = slots
        .iter()
        .map(|slot| Spot {
            entry: slot.entry,
            length_unit: unit,
            lane: matches!(slot.mark, Mark::Length { .. }).then(|| (is_left_of_axis(slot), lane)),
        })
        .collect();
    let pointed = section.listen(ui, &laid, &spots);
    let mut hot = pointed.at.clone();
    let mut doors: Vec<Pos2> = vec![Pos2::ZERO; slots.len()];
    for left in [true, false] {
        let own: Vec<usize> = (0..slots.len()).filter(|&i| slots[i].left == left).collect();
        let wanted: Vec<f32> = own
            .iter()
            .map(|&i| laid.at(slots[i].mark.anchor()).y - caption_height(slots[i].entry) - theme::TARGET / 2.0)
            .collect();
        let heights: Vec<f32> = own.iter().map(|&i| slots[i].height).collect();
        let tops = spread(&wanted, &heights, (area.top(), area.bottom()));
        let (x, width) = if left {
            (area.left(), left_width)
        } else {
            (area.right() - RIGHT, RIGHT)
        };
        for (&i, top) in own.iter().zip(tops) {
            let rect = Rect::from_min_size(pos2(x, top), vec2(width, slots[i].height - GAP));
            let is_lit = pointed.at.as_deref() == Some(slots[i].entry.aim.key());
            let seen = slot_field(ui, session, &slots[i], rect, is_lit);
            doors[i] = if left {
                seen.rect.right_center()
            } else {
                seen.rect.left_center()
            };
            if seen.is_hot {
                hot = Some(slots[i].entry.aim.key().to_owned());
            }
        }
    }
    section.paint(ui, &laid);
    let colours = theme::of(ui);
    let painter = ui.painter_at(area);
    let draw = |slot: &Slot<'_>, door: Pos2, is_lit: bool| {
        let stroke = stroke(colours, is_lit);
        let end = laid.meets(slot.mark, is_left_of_axis(slot), Some(lane));
        match slot.mark {
            // The arrows of a diameter show when it is lit; otherwise the leader ends at the wall.
            Mark::Diameter { .. } if !is_lit => _ = painter.circle_filled(end, 2.0, stroke.color),
            Mark::Point { .. } if !is_lit => {}
            mark => laid.paint_mark(&painter, mark, is_left_of_axis(slot), Some(lane), stroke),
        }
        leader(&painter, door, end, stroke);
    };
    let is_hot = |slot: &Slot<'_>| hot.as_deref() == Some(slot.entry.aim.key());
    // What is lit lies over the rest.
    for (slot, door) in slots.iter().zip(&doors).filter(|(slot, _)| !is_hot(slot)) {
        draw(slot, *door, false);
    }
    for (slot, door) in slots.iter().zip(&doors).filter(|(slot, _)| is_hot(slot)) {
        draw(slot, *door, true);
    }
    let lit = slots.iter().find(|slot| is_hot(slot));
    pointed.tell(ui, lit.map(|slot| slot.entry.label.as_str()));
    // After the fields, which would take the click for one elsewhere and give the focus away.
    if let Some(slot) = slots
        .iter()
        .find(|slot| pointed.clicked.as_deref() == Some(slot.entry.aim.key()))
    {
        ui.memory_mut(|memory| memory.request_focus(control::id_of(slot.entry)));
    }
    rest
}

/// Sizes, choices and volumes stand at the left, lengths at the right; the seal-off place at the left, beside the
/// neck's own length.
fn stands_left(entry: &Entry, mark: Mark) -> bool {
    let is_length = matches!(mark, Mark::Length { .. }) && matches!(entry.kind, Kind::Number(_));
    !is_length || entry.aim.key() == "seal_mm"
}

/// A hanging piece runs down the screen, so that the right of its direction is the left of the screen.
fn is_left_of_axis(slot: &Slot<'_>) -> bool {
    match slot.mark {
        Mark::Length { .. } => !slot.left,
        _ => slot.left,
    }
}

fn slot_field(ui: &mut Ui, session: &mut Session, slot: &Slot<'_>, rect: Rect, is_lit: bool) -> control::Seen {
    let builder = UiBuilder::new()
        .id_salt(control::id_of(slot.entry))
        .max_rect(rect)
        .layout(Layout::top_down(Align::Min));
    let mut ui = ui.new_child(builder);
    ui.spacing_mut().item_spacing.y = 0.0;
    if caption_height(slot.entry) > 0.0 {
        let (line, _) = ui.allocate_exact_size(vec2(rect.width(), CAPTION), Sense::hover());
        let quiet = theme::of(&ui).quiet;
        let at = line.left_center() + vec2(1.0, 0.0);
        ui.painter()
            .text(at, Align2::LEFT_CENTER, caption(slot.entry), theme::plain(11.5), quiet);
    }
    let look = (is_lit, field::IN_DRAWING);
    let seen = control::show(&mut ui, session, slot.entry, rect.width(), look);
    if let Some(refusal) = &slot.refusal {
        control::say(&mut ui, refusal);
    }
    seen
}

/// A switch carries its own words.
fn caption_height(entry: &Entry) -> f32 {
    if entry.kind == Kind::Switch { 0.0 } else { CAPTION }
}

/// A short name beside the drawing, which shows the rest.
fn caption(entry: &Entry) -> String {
    let (group, detail) = entry.parts();
    match entry.aim.key() {
        "seal_mm" => "Seal-off place".to_owned(),
        "neck_mm" if group.is_empty() => "To the centre".to_owned(),
        "flat_mm" => "Flat".to_owned(),
        super::section::TARGET => "Target".to_owned(),
        "bottom.length_mm" => "Cone".to_owned(),
        _ if group.is_empty() => detail.to_owned(),
        _ => group.to_owned(),
    }
}

/// A line from a field to the place of its number.
fn leader(painter: &egui::Painter, door: Pos2, end: Pos2, stroke: Stroke) {
    let out = if end.x > door.x { 5.0 } else { -5.0 };
    let knee = pos2(door.x + out, door.y);
    painter.line_segment([door, knee], stroke);
    painter.line_segment([knee, end], stroke);
}

/// Tops of boxes of these heights, in order and without overlap between `top` and `bottom`, each as near as can be
/// to where it is wanted.
fn spread(wanted: &[f32], heights: &[f32], (top, bottom): (f32, f32)) -> Vec<f32> {
    let mut tops: Vec<f32> = wanted.to_vec();
    let mut least = top;
    for (at, height) in tops.iter_mut().zip(heights) {
        *at = at.max(least);
        least = *at + height;
    }
    let mut greatest = bottom;
    for (at, height) in tops.iter_mut().zip(heights).rev() {
        *at = at.min(greatest - height);
        greatest = *at;
    }
    tops
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_stand_where_they_are_wanted_and_never_on_each_other() {
        assert_eq!(spread(&[10.0, 60.0], &[20.0, 20.0], (0.0, 100.0)), [10.0, 60.0]);
        assert_eq!(spread(&[10.0, 15.0], &[20.0, 20.0], (0.0, 100.0)), [10.0, 30.0]);
        assert_eq!(spread(&[85.0, 95.0], &[20.0, 20.0], (0.0, 100.0)), [60.0, 80.0]);
        assert_eq!(
            spread(&[-5.0, 40.0, 41.0], &[30.0, 30.0, 40.0], (0.0, 100.0)),
            [0.0, 30.0, 60.0]
        );
    }
}
