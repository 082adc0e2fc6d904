//! The ledger: one row a vessel, units once in the head.

use super::scene::{Still, Vessel};
use super::session::Session;
use super::theme;
use egui::{Align2, Color32, FontId, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

const ROW: f32 = 30.0;
const HEAD: f32 = 36.0;

/// Heads of the columns of numbers: name and unit.
const HEADS: [(&str, &str); 4] = [("Volume", "mL"), ("Level", "mm"), ("Brim", "mL"), ("Surface", "cm²")];

/// Right edges of the columns of numbers, as parts of the width after the names.
fn columns(rect: Rect) -> [f32; 4] {
    let names = (rect.width() * 0.24).clamp(62.0, 110.0);
    let each = (rect.width() - names - 6.0) / 4.0;
    [1.0, 2.0, 3.0, 4.0].map(|i| rect.left() + names + each * i)
}

/// Shows the ledger; a click on a row selects the vessel.
pub(crate) fn show(ui: &mut Ui, session: &mut Session, still: &Still) {
    let colours = theme::of(ui);
    let (head, _) = ui.allocate_exact_size(vec2(ui.available_width(), HEAD), Sense::hover());
    let painter = ui.painter().clone();
    painter.text(
        head.left_bottom() + vec2(6.0, -6.0),
        Align2::LEFT_BOTTOM,
        "Vessel",
        theme::plain(11.5),
        colours.quiet,
    );
    for ((name, unit), right) in HEADS.into_iter().zip(columns(head)) {
        let unit = if unit == "mm" {
            session.length_unit.symbol()
        } else {
            unit
        };
        let at = pos2(right, head.bottom() - 6.0);
        painter.text(
            at - vec2(0.0, 14.0),
            Align2::RIGHT_BOTTOM,
            name,
            theme::plain(11.5),
            colours.quiet,
        );
        painter.text(at, Align2::RIGHT_BOTTOM, unit, theme::plain(11.5), colours.quiet);
    }
    painter.hline(head.x_range(), head.bottom(), Stroke::new(1.0, colours.rule));
    for vessel in &still.vessels {
        row(ui, session, vessel);
    }
    let (line, _) = ui.allocate_exact_size(vec2(ui.available_width(), 4.0), Sense::hover());
    painter.hline(line.x_range(), line.top(), Stroke::new(1.0, colours.rule));
    total(ui, "In the glass", still.held_ml, colours.text);
    if still.left_over_ml > 0.0 {
        total(ui, "No room for", still.left_over_ml, colours.stop);
    }
    for (port, volume_ml) in &still.lost_ml {
        total(ui, &format!("Lost through {port}"), *volume_ml, colours.stop);
    }
}

fn row(ui: &mut Ui, session: &mut Session, vessel: &Vessel) {
    let colours = theme::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::click());
    let selected = session.selection.contains(&vessel.name);
    response
        .widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, selected, vessel.words(session.length_unit)));
    if response.clicked() {
        session.selection.only(&vessel.name);
    }
    let painter = ui.painter();
    if selected || response.hovered() {
        painter.rect_filled(rect, 3.0, if selected { colours.chosen } else { colours.bench });
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 3.0, Stroke::new(2.0, colours.accent), egui::StrokeKind::Inside);
    }
    let middle = rect.top() + 11.0;
    let right = columns(rect);
    let names = Rect::from_min_max(rect.min, pos2(right[0] - 44.0, rect.bottom()));
    let font = if selected {
        theme::heavy(13.0)
    } else {
        theme::plain(13.0)
    };
    painter.with_clip_rect(names.intersect(ui.clip_rect())).text(
        pos2(rect.left() + 6.0, middle),
        Align2::LEFT_CENTER,
        &vessel.name,
        font,
        colours.text,
    );
    let numbers = [
        Some(format!("{:.2}", vessel.volume_ml)),
        vessel.level_mm.map(|v| session.length_unit.number(v)),
        vessel.brim_ml.map(|v| format!("{v:.2}")),
        vessel.free_surface_cm2.map(|v| format!("{v:.2}")),
    ];
    for (number, right) in numbers.into_iter().zip(right) {
        let (text, colour) = number.map_or(("–".to_owned(), colours.quiet), |text| (text, colours.text));
        let font: FontId = theme::plain(13.0);
        painter.text(pos2(right, middle), Align2::RIGHT_CENTER, text, font, colour);
    }
    let bar = Rect::from_min_max(
        pos2(rect.left() + 6.0, rect.bottom() - 8.0),
        pos2(rect.right() - 6.0, rect.bottom() - 4.0),
    );
    fill_bar(ui, bar, vessel);
}

/// The fill against the target: the bar is full at one and a half times the target, a tick stands at the target.
fn fill_bar(ui: &Ui, bar: Rect, vessel: &Vessel) {
    let Some(target_ml) = vessel.target_ml.filter(|t| *t > 0.0) else {
        return;
    };
    let colours = theme::of(ui);
    #[allow(clippy::cast_possible_truncation, reason = "a part of the bar's width")]
    let part = (vessel.volume_ml / target_ml / 1.5).clamp(0.0, 1.0) as f32;
    let painter = ui.painter();
    painter.rect(
        bar,
        2.0,
        colours.field,
        Stroke::new(1.0, colours.rule),
        egui::StrokeKind::Inside,
    );
    let mut filled = bar;
    filled.set_width(bar.width() * part);
    painter.rect_filled(filled, 2.0, colours.liquid);
    let x = bar.left() + bar.width() / 1.5;
    painter.vline(x, bar.top() - 2.0..=bar.bottom() + 2.0, Stroke::new(1.5, colours.mark));
}

fn total(ui: &mut Ui, words: &str, volume_ml: f64, colour: Color32) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{words}: {volume_ml:.2} mL")));
    let painter = ui.painter();
    let y = rect.center().y;
    painter.text(
        pos2(rect.left() + 6.0, y),
        Align2::LEFT_CENTER,
        words,
        theme::plain(13.0),
        colour,
    );
    let text = format!("{volume_ml:.2}");
    painter.text(
        pos2(columns(rect)[0], y),
        Align2::RIGHT_CENTER,
        text,
        theme::heavy(13.0),
        colour,
    );
}
