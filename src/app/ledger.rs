//! The ledger: one row a vessel, units once in the head, sums below. Rows can be put in the order of any column and
//! chosen as on the bench.

use super::columns::{Choice, Column, Sort};
use super::fill_bar;
use super::lists;
use super::reading::Reading;
use super::scene::Still;
use super::session::Session;
use super::symbols;
use super::theme;
use super::vessel::Vessel;
use crate::findings::Severity;
use crate::units::{LengthUnit, volume_text};
use egui::accesskit::{Role, SortDirection};
use egui::text::{LayoutJob, TextWrapping};
use egui::{
    Align, Align2, Color32, FontId, Id, Layout, Modifiers, Pos2, Rect, Response, ScrollArea, Sense, Stroke, StrokeKind,
    Ui, UiBuilder, WidgetInfo, pos2, vec2,
};

const ROW: f32 = 28.0;
const HEAD: f32 = 38.0;
const TOTAL: f32 = 20.0;
/// Width from which all columns are shown, points.
const WIDE: f32 = 540.0;
/// Room for the bar beside what scrolls, points.
const SCROLL: f32 = 8.0;

/// Where the columns stand.
struct Columns {
    shown: &'static [Column],
    /// Width of the names.
    names: f32,
    /// Left and right edges of the columns of numbers.
    edges: Vec<(f32, f32)>,
}

impl Columns {
    fn new(shown: &'static [Column], left: f32, width: f32) -> Self {
        let width = width - SCROLL;
        let names = (width * 0.24).clamp(62.0, 120.0);
        let weights: f32 = shown.iter().map(|column| column.weight()).sum();
        let each = (width - names) / weights.max(1.0);
        let mut from = left + names;
        let edges = shown.iter().map(|column| {
            let to = from + each * column.weight();
            (std::mem::replace(&mut from, to), to)
        });
        Self {
            shown,
            names,
            edges: edges.collect(),
        }
    }

    /// Right edge of a column of numbers.
    fn right(&self, index: usize) -> f32 {
        self.edges.get(index).map_or(0.0, |edges| edges.1)
    }

    /// Right edge of the last.
    fn end(&self) -> f32 {
        self.edges.last().map_or(0.0, |edges| edges.1)
    }
}

/// Shows the ledger, with its heading where there is none above it.
pub(crate) fn show(ui: &mut Ui, session: &mut Session, still: &Still, has_heading: bool) {
    // The panel keeps its height whatever the ledger holds.
    let rect = ui.available_rect_before_wrap();
    let mut within = ui.new_child(UiBuilder::new().max_rect(rect));
    ui.advance_cursor_after_rect(rect);
    fill(&mut within, session, still, has_heading);
}

fn fill(ui: &mut Ui, session: &mut Session, still: &Still, has_heading: bool) {
    let mut reading = Reading::of(ui.ctx());
    let all = ui.available_width() >= WIDE;
    if has_heading || !all || still.run.is_some() {
        ui.horizontal(|ui| {
            if has_heading {
                ui.heading("Ledger");
            }
            if let Some(run) = &still.run {
                let colours = theme::of(ui);
                ui.label(
                    egui::RichText::new(&run.when)
                        .font(theme::plain(12.0))
                        .color(colours.accent),
                );
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                for choice in Choice::ALL.into_iter().rev().filter(|_| !all) {
                    let chosen = reading.columns == choice;
                    let response = ui.selectable_label(chosen, choice.name());
                    if response.on_hover_text("Which columns are shown").clicked() {
                        reading.columns = choice;
                    }
                }
            });
        });
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let unit = session.length_unit;
    let left = ui.available_rect_before_wrap().left();
    let columns = Columns::new(reading.columns.columns(all), left, ui.available_width());
    if let Some(clicked) = heads(ui, &columns, reading.sort, unit) {
        reading.sort = reading.sort.after(clicked);
    }
    let ordered = reading.sort.apply(&still.vessels, unit);
    let sums = sums(still);
    let room = (ui.available_height() - sums.len() as f32 * TOTAL - 5.0).max(ROW);
    ScrollArea::vertical()
        .id_salt("ledger")
        .max_height(room)
        .min_scrolled_height(room)
        .auto_shrink([false, false])
        .show(ui, |ui| rows(ui, session, &ordered, &columns));
    let (line, _) = ui.allocate_exact_size(vec2(ui.available_width(), 4.0), Sense::hover());
    ui.painter()
        .hline(line.x_range(), line.top(), Stroke::new(1.0, theme::of(ui).rule));
    for sum in &sums {
        sum.show(ui, &columns);
    }
    Reading::change(ui.ctx(), |now| {
        (now.sort, now.columns) = (reading.sort, reading.columns)
    });
}

fn rows(ui: &mut Ui, session: &mut Session, rows: &[&Vessel], columns: &Columns) {
    lists::describe(ui, Role::ListBox, "Vessels", rows.len());
    ui.ctx()
        .accesskit_node_builder(ui.unique_id(), |node| node.set_multiselectable());
    if rows.is_empty() {
        ui.add_space(6.0);
        let words = "Each ampoule and bulb gets a row here, with what it holds.";
        ui.label(egui::RichText::new(words).color(theme::of(ui).quiet));
        return;
    }
    let ids: Vec<Id> = rows.iter().map(|vessel| row_id(&vessel.name)).collect();
    let focused = ui.memory(egui::Memory::focused);
    let at = focused.and_then(|id| ids.iter().position(|row| *row == id));
    let moved = at.and_then(|at| lists::moved_by_key(ui, ids[at], at, rows.len()));
    if let Some((to, extend)) = moved {
        ui.memory_mut(|memory| memory.request_focus(ids[to]));
        let name = &rows[to].name;
        if extend {
            let kept = session.selection.names().iter().filter(|kept| *kept != name);
            let names: Vec<String> = kept.cloned().chain([name.clone()]).collect();
            session.selection.set(names);
        } else {
            session.selection.only(name);
        }
    }
    // The row of a piece that was chosen elsewhere is brought into view.
    let followed = Id::unique("ledger follows");
    let shown = session.selection.shown().map(str::to_owned);
    let chosen_elsewhere = ui.data(|data| data.get_temp(followed)) != Some(shown.clone());
    for (i, vessel) in rows.iter().enumerate() {
        let response = row(ui, session, vessel, columns, (i, ids[i]));
        if response.clicked() {
            let modifiers = ui.input(|input| input.modifiers);
            choose(session, rows, i, modifiers);
        }
        let arrived = moved.is_some_and(|(to, _)| to == i);
        if arrived || (chosen_elsewhere && shown.as_ref() == Some(&vessel.name)) {
            ui.scroll_to_rect(response.rect, None);
        }
    }
    let shown = session.selection.shown().map(str::to_owned);
    ui.data_mut(|data| data.insert_temp(followed, shown));
}

fn row_id(name: &str) -> Id {
    Id::unique("ledger row").with(name)
}

/// Chooses by a click on row `at`: alone, one more or less, or all from the one chosen last.
fn choose(session: &mut Session, rows: &[&Vessel], at: usize, modifiers: Modifiers) {
    let Some(vessel) = rows.get(at) else { return };
    let last = session.selection.shown();
    let from = last.and_then(|last| rows.iter().position(|row| row.name == last));
    match from {
        Some(from) if modifiers.shift => {
            let between = &rows[from.min(at)..=from.max(at)];
            let names = between.iter().map(|row| row.name.clone());
            if from <= at {
                session.selection.set(names);
            } else {
                session.selection.set(names.rev());
            }
        }
        _ if modifiers.command || modifiers.shift => session.selection.toggle(&vessel.name),
        _ => session.selection.only(&vessel.name),
    }
}

/// The heads of the columns; gives the one that was clicked.
fn heads(ui: &mut Ui, columns: &Columns, sort: Sort, length_unit: LengthUnit) -> Option<Column> {
    let colours = theme::of(ui);
    let (line, _) = ui.allocate_exact_size(vec2(ui.available_width(), HEAD), Sense::hover());
    let mut clicked = None;
    let first = columns.edges.first().map_or(line.right(), |edges| edges.0);
    let spans = columns.shown.iter().zip(&columns.edges);
    let spans = spans.map(|(column, (from, to))| (*column, *from, *to));
    for (column, from, to) in std::iter::once((Column::Name, line.left(), first)).chain(spans) {
        let rect = Rect::from_min_max(pos2(from + 1.0, line.top()), pos2(to + 3.0, line.bottom()));
        let (name, unit) = column.head(length_unit);
        let response = ui.interact(rect, Id::unique("ledger head").with(name), Sense::click());
        let sorted = (sort.column == Some(column)).then_some(sort.falling);
        let order = match sorted {
            None => "as in the design",
            Some(false) => "rising",
            Some(true) => "falling",
        };
        let label = if unit.is_empty() {
            name.to_owned()
        } else {
            format!("{name}, {unit}")
        };
        response.widget_info(|| WidgetInfo::labeled(Role::ColumnHeader, true, &label));
        ui.ctx().accesskit_node_builder(response.id, |node| {
            node.set_description(column.meaning());
            node.set_value(order);
            match sorted {
                None => node.clear_sort_direction(),
                Some(false) => node.set_sort_direction(SortDirection::Ascending),
                Some(true) => node.set_sort_direction(SortDirection::Descending),
            }
        });
        let response = response.on_hover_text(format!("{}. Click to put in order: {order} now.", column.meaning()));
        if response.clicked() {
            clicked = Some(column);
        }
        let painter = ui.painter();
        if response.hovered() {
            painter.rect_filled(rect, 3.0, colours.bench);
        }
        if response.has_focus() {
            painter.rect_stroke(rect, 3.0, Stroke::new(2.0, colours.accent), StrokeKind::Inside);
        }
        let (font, colour) = if sorted.is_some() {
            (theme::heavy(11.5), colours.text)
        } else {
            (theme::plain(11.5), colours.quiet)
        };
        let arrow = sorted.map_or("", |falling| if falling { "↓ " } else { "↑ " });
        if column == Column::Name {
            let at = pos2(line.left() + 6.0, line.bottom() - 5.0);
            painter.text(at, Align2::LEFT_BOTTOM, format!("{arrow}{name}"), font, colour);
        } else {
            let at = pos2(to, line.bottom() - 5.0);
            painter.text(at - vec2(0.0, 14.0), Align2::RIGHT_BOTTOM, name, font.clone(), colour);
            painter.text(at, Align2::RIGHT_BOTTOM, format!("{arrow}{unit}"), font, colour);
        }
    }
    ui.painter()
        .hline(line.x_range(), line.bottom(), Stroke::new(1.0, colours.rule));
    clicked
}

fn row(ui: &mut Ui, session: &Session, vessel: &Vessel, columns: &Columns, (index, id): (usize, Id)) -> Response {
    let colours = theme::of(ui);
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    let response = ui.interact(rect, id, Sense::click());
    let selected = session.selection.contains(&vessel.name);
    let unit = session.length_unit;
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, selected, vessel.words(unit)));
    ui.ctx()
        .accesskit_node_builder(id, |node| node.set_position_in_set(index));
    if !ui.is_rect_visible(rect) {
        return response;
    }
    if selected || response.hovered() {
        let fill = if selected { colours.chosen } else { colours.bench };
        ui.painter().rect_filled(rect, 3.0, fill);
    }
    if selected {
        // A bar at the side, so that the choice is not told by colour alone.
        let side = Rect::from_min_max(rect.min, pos2(rect.left() + 3.0, rect.bottom()));
        ui.painter().rect_filled(side, 1.0, colours.accent);
    }
    if response.has_focus() {
        let stroke = Stroke::new(2.0, colours.accent);
        ui.painter().rect_stroke(rect, 3.0, stroke, StrokeKind::Inside);
    }
    let middle = rect.top() + 11.0;
    let font = if selected { theme::heavy } else { theme::plain };
    let left = pos2(rect.left() + 6.0, middle);
    elided(ui, left, columns.names - 8.0, &vessel.name, font(13.0), colours.text);
    for (i, column) in columns.shown.iter().enumerate() {
        cell(ui, vessel, *column, unit, pos2(columns.right(i), middle));
    }
    let bar = Rect::from_min_max(
        pos2(rect.left() + 6.0, rect.bottom() - 8.0),
        pos2(columns.end(), rect.bottom() - 3.0),
    );
    fill_bar::show(ui, bar, vessel);
    response.on_hover_ui(|ui| {
        ui.set_max_width(300.0);
        ui.label(vessel.words(unit));
    })
}

/// A number; what is over the target, at the brim or at the seal-off place has a sign before it.
fn cell(ui: &Ui, vessel: &Vessel, column: Column, unit: LengthUnit, right: Pos2) {
    let colours = theme::of(ui);
    let painter = ui.painter();
    let Some(text) = column.text(vessel, unit) else {
        painter.text(right, Align2::RIGHT_CENTER, "–", theme::plain(13.0), colours.quiet);
        return;
    };
    let over = column == Column::Part && vessel.is_over();
    let brim = column == Column::Brim && vessel.at_brim;
    let reached = column == Column::Room && (vessel.seal_reached || vessel.room_mm.is_some_and(|room| room < 0.0));
    let small = column == Column::Volume && vessel.band_ml.is_some();
    let font: FontId = match (over || brim, column == Column::Room && vessel.seal_reached) {
        (_, true) => theme::heavy(11.5),
        (true, _) => theme::heavy(13.0),
        _ if small => theme::plain(11.0),
        _ => theme::plain(13.0),
    };
    let colour = if reached { colours.stop } else { colours.text };
    let rect = painter.text(right, Align2::RIGHT_CENTER, text, font, colour);
    let before = pos2(rect.left() - 7.0, rect.center().y);
    if over {
        let at = before + vec2(0.0, 0.5);
        painter.text(at, Align2::CENTER_CENTER, "↑", theme::heavy(12.0), colours.level);
    }
    if brim {
        fill_bar::notch(ui, before + vec2(0.0, 4.0), 4.5);
    }
}

/// Text that ends in an ellipsis where it has no room.
fn elided(ui: &Ui, left: Pos2, width: f32, text: &str, font: FontId, colour: Color32) {
    let mut job = LayoutJob::simple_singleline(text.to_owned(), font, colour);
    job.wrap = TextWrapping::truncate_at_width(width);
    let galley = ui.painter().layout_job(job);
    let at = left - vec2(0.0, galley.size().y / 2.0);
    ui.painter().galley(at, galley, colour);
}

/// A line below the rows.
struct Sum {
    words: String,
    volume_ml: f64,
    /// Of which parts it is made.
    parts: String,
    /// Why it is there.
    why: &'static str,
    /// Whether it should not be.
    is_loss: bool,
}

fn sums(still: &Still) -> Vec<Sum> {
    let sum = |words: &str, volume_ml: f64, why| Sum {
        words: words.to_owned(),
        volume_ml,
        parts: String::new(),
        why,
        is_loss: false,
    };
    let mut sums = vec![sum("Held", still.held_ml, "All liquid in all pieces")];
    if still.targets_ml > 0.0 {
        sums.push(sum(
            "Targets",
            still.targets_ml,
            "What all vessels together are to hold",
        ));
    }
    if !still.heel_ml.is_empty() {
        let heel = still.heel_ml.iter().map(|(_, ml)| ml).sum();
        let parts: Vec<String> = still
            .heel_ml
            .iter()
            .map(|(name, ml)| format!("{name} {}", volume_text(*ml)))
            .collect();
        sums.push(Sum {
            parts: parts.join(", "),
            ..sum("Heel", heel, "What stands in pieces that have no target")
        });
    }
    if still.left_over_ml > 0.0 {
        sums.push(Sum {
            is_loss: true,
            ..sum("No room for", still.left_over_ml, "More than the glass holds")
        });
    }
    for (port, volume_ml) in &still.lost_ml {
        sums.push(Sum {
            is_loss: true,
            ..sum(
                &format!("Lost through {port}"),
                *volume_ml,
                "It has run out of an open end",
            )
        });
    }
    sums
}

impl Sum {
    fn show(&self, ui: &mut Ui, columns: &Columns) {
        let colours = theme::of(ui);
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), TOTAL), Sense::hover());
        let mut words = format!("{}: {}", self.words, volume_text(self.volume_ml));
        if !self.parts.is_empty() {
            words += &format!(" ({})", self.parts);
        }
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &words));
        let y = rect.center().y;
        let colour = if self.is_loss { colours.stop } else { colours.text };
        let mut left = rect.left() + 6.0;
        if self.is_loss {
            symbols::severity(ui.painter(), Severity::Stop, pos2(left + 6.0, y), 6.0, colours);
            left += 17.0;
        }
        let number = crate::units::fixed(self.volume_ml, 2);
        let right = columns.right(0).max(left + 120.0_f32.min(columns.end() - left));
        let right = if self.is_loss { right } else { columns.right(0) };
        let shown = ui
            .painter()
            .text(pos2(right, y), Align2::RIGHT_CENTER, number, theme::heavy(13.0), colour);
        elided(
            ui,
            pos2(left, y),
            shown.left() - left - 4.0,
            &self.words,
            theme::plain(13.0),
            colour,
        );
        if !self.parts.is_empty() {
            let from = pos2(right + 12.0, y);
            elided(
                ui,
                from,
                columns.end() - from.x,
                &self.parts,
                theme::plain(11.5),
                colours.quiet,
            );
        }
        response.on_hover_text(format!("{words}. {}.", self.why));
    }
}
