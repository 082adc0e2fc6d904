//! The particulars of a tube or a bridge: a list of what it is made of, and its section beside the list when it is
//! slim, above it when it is not.

use super::control;
use super::course::{self, Rows};
use super::entry::Entry;
use super::section::{Laid, Section, Spot, stroke};
use crate::app::session::Session;
use crate::app::theme;
use crate::out::callouts::Mark;
use egui::{Align, Id, Layout, Painter, Pos2, Rect, Sense, Ui, UiBuilder, Vec2, pos2, vec2};

/// A piece narrower than this part of its length stands beside the list.
const SLIM: f64 = 0.3;
/// Least and greatest width of the section beside the list, points.
const STRIP: (f32, f32) = (52.0, 120.0);
/// Least and greatest height of the section above the list, points.
const BAND: (f32, f32) = (96.0, 180.0);
/// Room around the glass for numbers, points.
const MARGIN: f32 = 24.0;
/// A piece is turned from how it is drawn on the bench where it would there be smaller than this part of its size.
const LARGER: f64 = 0.75;
/// Greatest scale of the drawing, points per millimetre.
const GREATEST: f64 = 4.0;

/// Shows section and list. `is_level`: the piece is drawn as it stands on the bench, up being up.
pub(super) fn show(ui: &mut Ui, session: &mut Session, section: &Section<'_>, entries: &[&Entry], is_level: bool) {
    let narrow = section.narrowest_deg();
    if is_beside(section, is_level) {
        beside(ui, session, section, entries, narrow);
    } else {
        // As drawn on the bench it is recognised at once; laid along the column only where that makes it much larger.
        let room = Vec2::new(ui.available_width() - 2.0 * MARGIN, BAND.1 - 2.0 * MARGIN);
        let scale = |tilt_deg: f64| {
            let extent = section.extent(tilt_deg);
            (f64::from(room.x) / extent.x).min(f64::from(room.y) / extent.y)
        };
        let along = narrow + 90.0;
        let is_as_drawn = is_level || scale(0.0) >= LARGER * scale(along);
        above(ui, session, section, entries, if is_as_drawn { 0.0 } else { along });
    }
}

/// Whether the section stands beside the list.
pub(super) fn is_beside(section: &Section<'_>, is_level: bool) -> bool {
    let extent = section.extent(section.narrowest_deg());
    !is_level && extent.x <= SLIM * extent.y
}

/// What is marked in the drawing.
fn spots<'a>(session: &Session, section: &Section<'_>, entries: &[&'a Entry]) -> Vec<Spot<'a>> {
    let marked = entries.iter().filter(|entry| section.mark(entry.aim.key()).is_some());
    let spot = |entry: &&'a Entry| Spot {
        entry,
        length_unit: session.length_unit,
        lane: None,
    };
    marked.map(spot).collect()
}

/// A click on a number's place goes to its field. To be called after the fields, which would take the click for one
/// elsewhere and give the focus away.
fn follow_click(ui: &Ui, clicked: Option<&str>, entries: &[&Entry]) {
    if let Some(entry) = entries.iter().find(|entry| clicked == Some(entry.aim.key())) {
        ui.memory_mut(|memory| memory.request_focus(control::id_of(entry)));
    }
}

fn label_of<'a>(entries: &[&'a Entry], key: Option<&str>) -> Option<&'a str> {
    let key = key.filter(|key| !key.is_empty())?;
    entries
        .iter()
        .find(|entry| entry.aim.key() == key)
        .map(|entry| entry.label.as_str())
}

fn beside(ui: &mut Ui, session: &mut Session, section: &Section<'_>, entries: &[&Entry], tilt_deg: f64) {
    let full = ui.available_width();
    let strip = (full - course::LEAST_WIDTH).clamp(STRIP.0, STRIP.1);
    // The list says how high the section may be; its height is known from the frame before.
    let memory = Id::unique("height of the course").with(entries.first().map(|entry| &entry.owners));
    let guess = entries.len() as f32 * (theme::TARGET + 4.0);
    let height = ui.data(|data| data.get_temp::<f32>(memory)).unwrap_or(guess);
    let area = Rect::from_min_size(ui.cursor().min, vec2(full, height));
    let middle = Rect::from_min_max(area.min, pos2(area.left() + strip, area.bottom()));
    let glass = Rect::from_min_max(middle.min + vec2(3.0, 10.0), middle.max - vec2(13.0, 10.0));
    let laid = section.lay(glass, middle, tilt_deg, GREATEST);
    let pointed = section.listen(ui, &laid, &spots(session, section, entries));

    let list = Rect::from_min_max(pos2(area.left() + strip, area.top()), area.max);
    let builder = UiBuilder::new()
        .id_salt("course")
        .max_rect(list)
        .layout(Layout::top_down(Align::Min));
    let mut column = ui.new_child(builder);
    let rows = course::show(&mut column, session, entries, pointed.at.as_deref());
    let used = column.min_rect().height();
    if (used - height).abs() > 0.5 {
        ui.data_mut(|data| data.insert_temp(memory, used));
        ui.ctx().request_discard("the section follows the height of the list");
    }
    ui.allocate_rect(Rect::from_min_size(area.min, vec2(full, used)), Sense::hover());

    let hot = rows.hot.clone().or(pointed.at.clone());
    section.paint(ui, &laid);
    let painter = ui.painter().with_clip_rect(area.intersect(ui.clip_rect()));
    leaders(&painter, ui, section, &laid, &rows, hot.as_deref(), list.left());
    paint_lit(&painter, ui, section, &laid, hot.as_deref());
    pointed.tell(ui, label_of(entries, hot.as_deref()));
    follow_click(ui, pointed.clicked.as_deref(), entries);
}

/// A leader from each element of the list to its place.
fn leaders(painter: &Painter, ui: &Ui, section: &Section<'_>, laid: &Laid, rows: &Rows, hot: Option<&str>, edge: f32) {
    let colours = theme::of(ui);
    let block = |key: &str| {
        key.rsplit_once('.')
            .map_or(key.to_owned(), |(block, _)| block.to_owned())
    };
    let hot = hot.map(block);
    let mut last = String::new();
    for (key, rect) in &rows.rects {
        let own = block(key);
        if own == last {
            continue;
        }
        last.clone_from(&own);
        let Some(mark) = section.mark(key) else { continue };
        let is_lit = hot.as_deref() == Some(own.as_str());
        let stroke = stroke(colours, is_lit);
        let end = laid.at(mark.anchor());
        let door = pos2(edge - 3.0, rect.center().y);
        let knee = pos2(door.x - 6.0, door.y);
        painter.line_segment([door, knee], stroke);
        painter.line_segment([knee, end], stroke);
        painter.circle_filled(end, 2.0, stroke.color);
    }
}

/// The lines of the number that is lit.
fn paint_lit(painter: &Painter, ui: &Ui, section: &Section<'_>, laid: &Laid, hot: Option<&str>) {
    if let Some(mark) = hot.and_then(|key| section.mark(key)) {
        laid.paint_mark(
            painter,
            mark,
            laid.is_free_at_left(mark),
            None,
            stroke(theme::of(ui), true),
        );
    }
}

fn above(ui: &mut Ui, session: &mut Session, section: &Section<'_>, entries: &[&Entry], tilt_deg: f64) {
    let full = ui.available_width();
    let extent = section.extent(tilt_deg);
    #[allow(clippy::cast_possible_truncation, reason = "a height on the screen")]
    let natural = (extent.y * (f64::from(full - 2.0 * MARGIN) / extent.x).min(GREATEST)) as f32;
    let height = (natural + 2.0 * MARGIN).clamp(BAND.0, BAND.1);
    let (area, _) = ui.allocate_exact_size(vec2(full, height), Sense::hover());
    let laid = section.lay(area.shrink(MARGIN), area, tilt_deg, GREATEST);
    let pointed = section.listen(ui, &laid, &spots(session, section, entries));
    let painter = ui.painter().with_clip_rect(area.intersect(ui.clip_rect()));
    section.paint(ui, &laid);
    ui.add_space(4.0);
    let rows = course::show(ui, session, entries, pointed.at.as_deref());
    let hot = rows.hot.or(pointed.at.clone());
    numbers(&painter, ui, session, section, &laid, entries, hot.as_deref());
    paint_lit(&painter, ui, section, &laid, hot.as_deref());
    pointed.tell(ui, label_of(entries, hot.as_deref()));
    follow_click(ui, pointed.clicked.as_deref(), entries);
}

/// Writes the numbers at their places, as far as they do not lie on each other: the one that is lit first.
fn numbers(
    painter: &Painter,
    ui: &Ui,
    session: &Session,
    section: &Section<'_>,
    laid: &Laid,
    entries: &[&Entry],
    hot: Option<&str>,
) {
    let colours = theme::of(ui);
    let mut order: Vec<&Entry> = entries.to_vec();
    order.sort_by_key(|entry| rank(entry, section, hot));
    let glass = section.knots(laid);
    let mut taken: Vec<Rect> = Vec::new();
    for entry in order {
        let key = entry.aim.key();
        let Some(mark) = section.mark(key).filter(|_| has_number(key)) else {
            continue;
        };
        let is_lit = hot == Some(key);
        let line = stroke(colours, is_lit);
        let (font, colour) = if is_lit {
            (theme::heavy(11.5), colours.accent)
        } else {
            (theme::plain(11.5), colours.text)
        };
        let text = match key.strip_prefix("corners.").and_then(|rest| rest.strip_suffix(".x_mm")) {
            Some(_) => entry.parts().0.to_owned(),
            None => entry.value_text(session.length_unit),
        };
        let galley = painter.layout_no_wrap(text, font, colour);
        // A dimension line goes to the other side where something is in its way, or is left out.
        let outer = laid.is_free_at_left(mark);
        let is_clear = |left: &bool| {
            let line = laid.dimension_line(mark, *left);
            line.is_none_or(|line| is_lit || !taken.iter().any(|other| other.intersects(line)))
        };
        let Some(left) = [outer, !outer].into_iter().find(is_clear) else {
            continue;
        };
        let anchor = laid.meets(mark, left, None);
        let outwards = match mark {
            Mark::Length { .. } | Mark::Diameter { .. } => (anchor - laid.at(mark.anchor())).normalized(),
            Mark::Turn { .. } | Mark::Radius { .. } | Mark::Point { .. } => {
                (anchor - laid.bounds.center()).normalized()
            }
        };
        let own = laid.dimension_line(mark, left);
        let is_free = |rect: Rect| {
            let on_glass = glass
                .iter()
                .any(|(at, radius)| rect.distance_to_pos(*at) < *radius + 1.0);
            laid.clip.contains_rect(rect) && !on_glass && !taken.iter().chain(&own).any(|other| other.intersects(rect))
        };
        let place = free_place(anchor, outwards, galley.size(), is_free);
        let Some(rect) = place else { continue };
        taken.push(rect.expand(1.0));
        let near = rect.clamp(anchor);
        if near.distance(anchor) > 6.0 {
            painter.line_segment([near, anchor], line);
        }
        taken.extend(own);
        match mark {
            Mark::Length { .. } | Mark::Radius { .. } => laid.paint_mark(painter, mark, left, None, line),
            Mark::Diameter { .. } => _ = painter.circle_filled(anchor, 2.0, line.color),
            Mark::Turn { .. } | Mark::Point { .. } => {}
        }
        painter.galley(rect.min, galley, colour);
    }
}

/// Whether a number is written in the drawing: corners are named once, and hosts and places are not.
fn has_number(key: &str) -> bool {
    !(key.starts_with("seat.") || key.ends_with(".y_mm") || matches!(key, "" | "start" | "end"))
}

/// The order in which numbers take their places.
fn rank(entry: &Entry, section: &Section<'_>, hot: Option<&str>) -> u8 {
    let key = entry.aim.key();
    if hot == Some(key) {
        return 0;
    }
    match section.mark(key) {
        Some(Mark::Length { .. } | Mark::Point { .. }) => 1,
        Some(Mark::Turn { .. }) => 2,
        Some(Mark::Diameter { .. }) => 3,
        Some(Mark::Radius { .. }) => 4,
        None => 5,
    }
}

/// A place for a number near its anchor that is free, `outwards` from it first.
fn free_place(anchor: Pos2, outwards: Vec2, size: Vec2, is_free: impl Fn(Rect) -> bool) -> Option<Rect> {
    let mut directions: Vec<Vec2> = (0_u8..8)
        .map(|i| Vec2::angled(f32::from(i) * std::f32::consts::FRAC_PI_4))
        .collect();
    directions.sort_by(|a, b| b.dot(outwards).total_cmp(&a.dot(outwards)));
    let mut places = [4.0, 14.0, 24.0].into_iter().flat_map(|gap| {
        let directions = directions.clone();
        directions.into_iter().map(move |direction| {
            let half = size.x / 2.0 * direction.x.abs() + size.y / 2.0 * direction.y.abs();
            Rect::from_center_size(anchor + direction * (gap + half), size)
        })
    });
    places.find(|rect| is_free(*rect))
}
