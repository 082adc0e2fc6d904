//! What an empty bench offers: the starter, an example, or a blank bench.

use super::command::Command;
use super::examples::Example;
use super::sketch::Sketch;
use super::theme;
use crate::model::Apparatus;
use crate::starter::{self, Wish};
use egui::{
    Align2, CursorIcon, Rect, Response, RichText, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, UiBuilder,
    WidgetInfo, pos2, vec2,
};

/// What was chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Chosen {
    /// Something that a command does.
    Do(Command),
    /// An empty bench to put pieces on.
    Blank,
}

/// Least and greatest width of a choice, and its height, points.
const WIDTH: (f32, f32) = (170.0, 236.0);
const HEIGHT: f32 = 178.0;
const GAP: f32 = 12.0;
/// Between examples, and height of the words above them, points.
const ROW_GAP: f32 = 5.0;
const ROW_HEAD: f32 = 17.0;
/// Around everything, points.
const MARGIN: egui::Vec2 = vec2(20.0, 18.0);
/// Height of the sentence above the choices with what lies below it, points.
const SENTENCE: f32 = 30.0;

/// The pictures of the choices, made when they are first shown.
#[derive(Default)]
pub(crate) struct Choices {
    pictures: Option<Pictures>,
}

struct Pictures {
    starter: Sketch,
    examples: Vec<(Example, Sketch)>,
}

impl Pictures {
    fn new() -> Self {
        let default = starter::start(&Wish::default()).map_or_else(|_| Apparatus::default(), |start| start.apparatus);
        Self {
            starter: Sketch::small(&default),
            examples: Example::ALL
                .map(|example| (example, Sketch::small(&example.apparatus())))
                .into(),
        }
    }
}

impl Choices {
    /// Shows the choices in the middle of `bench`.
    pub(crate) fn show(&mut self, ui: &mut Ui, bench: Rect) -> Option<Chosen> {
        let pictures = self.pictures.get_or_insert_with(Pictures::new);
        let colours = theme::of(ui);
        ui.painter().rect_filled(bench, 0.0, colours.bench);
        // Side by side where there is room for it, else one below the other.
        let room = bench.width() - 2.0 * MARGIN.x - 32.0;
        let beside = room >= 3.0 * WIDTH.0 + 2.0 * GAP;
        let columns = if beside { 3.0 } else { 1.0 };
        let width = ((room - GAP * (columns - 1.0)) / columns).clamp(WIDTH.0, WIDTH.1);
        let card_size = vec2(width, HEIGHT);
        let rows = 4.0 - columns.min(3.0);
        let inner = vec2(
            columns * width + (columns - 1.0) * GAP,
            SENTENCE + rows * HEIGHT + (rows - 1.0) * GAP,
        );
        let size = (inner + 2.0 * MARGIN).min(bench.size() - vec2(8.0, 8.0));
        let frame = Rect::from_center_size(bench.center(), size);
        ui.painter().rect(
            frame,
            10.0,
            colours.panel,
            Stroke::new(1.0, colours.rule),
            StrokeKind::Inside,
        );
        let mut chosen = None;
        let place = UiBuilder::new().max_rect(frame.shrink2(MARGIN));
        ui.scope_builder(place, |ui| {
            ScrollArea::vertical()
                .id_salt("choices")
                .auto_shrink(false)
                .show(ui, |ui| {
                    ui.spacing_mut().item_spacing = vec2(GAP, GAP);
                    ui.spacing_mut().scroll.floating_allocated_width = 0.0;
                    let words = "Nothing stands on the bench yet. How do you want to begin?";
                    ui.label(RichText::new(words).font(theme::heavy(14.5)));
                    let layout = if beside {
                        egui::Layout::left_to_right(egui::Align::Min)
                    } else {
                        egui::Layout::top_down(egui::Align::Min)
                    };
                    ui.with_layout(layout, |ui| {
                        let keys = Command::Starter.shortcut().map(|keys| ui.ctx().format_shortcut(&keys));
                        let detail = format!("Sized from a few numbers\n{}", keys.unwrap_or_default());
                        let (rect, response) = card(ui, card_size, "Starter", &detail);
                        pictures.starter.paint(&ui.painter_at(rect), colours, rect);
                        if response.clicked() {
                            chosen = Some(Chosen::Do(Command::Starter));
                        }
                        ui.vertical(|ui| {
                            ui.spacing_mut().item_spacing.y = ROW_GAP;
                            let (head, _) = ui.allocate_exact_size(vec2(width, ROW_HEAD), Sense::hover());
                            let (at, words) = (head.left_bottom(), "Or a worked example");
                            let font = theme::heavy(13.0);
                            ui.painter().text(at, Align2::LEFT_BOTTOM, words, font, colours.text);
                            let row_size = vec2(width, (HEIGHT - ROW_HEAD) / 4.0 - ROW_GAP);
                            for (example, sketch) in &mut pictures.examples {
                                if row(ui, row_size, *example, sketch).clicked() {
                                    chosen = Some(Chosen::Do(Command::Example(*example)));
                                }
                            }
                        });
                        let (rect, response) = card(ui, card_size, "Blank", "Piece by piece from the tray");
                        blank_picture(ui, rect);
                        if response.clicked() {
                            chosen = Some(Chosen::Blank);
                        }
                    });
                });
        });
        chosen
    }
}

/// What a blank bench says, in the middle of the ring.
pub(crate) fn say_blank(ui: &mut Ui, bench: Rect) {
    let words = "Take a piece from the tray: click it, then click here.";
    let words = RichText::new(words).color(theme::of(ui).quiet);
    let place = Rect::from_center_size(bench.center(), vec2(0.8 * bench.width(), theme::TARGET));
    ui.put(place, egui::Label::new(words).selectable(false));
}

/// A choice with room for a picture above its name; gives the place of the picture.
fn card(ui: &mut Ui, size: egui::Vec2, name: &str, detail: &str) -> (Rect, Response) {
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let response = response.on_hover_cursor(CursorIcon::PointingHand);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
    back(ui, rect, &response);
    let colours = theme::of(ui);
    let lines = detail.lines().filter(|line| !line.is_empty()).count();
    #[allow(clippy::cast_precision_loss, reason = "two lines at most")]
    let foot = rect.bottom() - 12.0 - 15.0 * lines as f32;
    let painter = ui.painter();
    painter.text(
        pos2(rect.left() + 12.0, foot),
        Align2::LEFT_BOTTOM,
        name,
        theme::heavy(14.5),
        colours.text,
    );
    painter.text(
        pos2(rect.left() + 12.0, foot + 2.0),
        Align2::LEFT_TOP,
        detail,
        theme::plain(12.0),
        colours.quiet,
    );
    let picture = Rect::from_min_max(rect.min + vec2(12.0, 10.0), pos2(rect.right() - 12.0, foot - 22.0));
    (picture, response)
}

/// An example: its picture and its name.
fn row(ui: &mut Ui, size: egui::Vec2, example: Example, sketch: &mut Sketch) -> Response {
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let response = response.on_hover_cursor(CursorIcon::PointingHand);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, example.name()));
    back(ui, rect, &response);
    let colours = theme::of(ui);
    let picture = Rect::from_min_size(rect.min + vec2(6.0, 3.0), vec2(0.32 * size.x, size.y - 6.0));
    sketch.paint(&ui.painter_at(picture), colours, picture);
    let words = example.name().replacen(", ", ",\n", 1);
    let at = pos2(picture.right() + 8.0, rect.center().y);
    ui.painter()
        .text(at, Align2::LEFT_CENTER, words, theme::plain(12.0), colours.text);
    response
}

/// The frame of a choice: under the pointer and in focus it stands out.
fn back(ui: &Ui, rect: Rect, response: &Response) {
    let colours = theme::of(ui);
    let fill = if response.hovered() {
        colours.chosen
    } else {
        colours.bench
    };
    let line = if response.has_focus() {
        Stroke::new(2.0, colours.accent)
    } else {
        Stroke::new(1.0, colours.outline)
    };
    ui.painter().rect(rect, 6.0, fill, line, StrokeKind::Inside);
}

/// A bench with nothing on it: the rim of the tilt ring and a plumb line.
fn blank_picture(ui: &Ui, rect: Rect) {
    let colours = theme::of(ui);
    let radius = rect.height() / 2.0 - 3.0;
    let painter = ui.painter();
    painter.circle_stroke(rect.center(), radius, Stroke::new(4.0, colours.ring));
    painter.circle_stroke(rect.center(), radius - 3.0, Stroke::new(1.0, colours.division));
    for k in 0..24_u8 {
        let way = egui::Vec2::angled(f32::from(k) * std::f32::consts::TAU / 24.0);
        let ends = [
            rect.center() + way * (radius - 3.0),
            rect.center() + way * (radius - 7.0),
        ];
        painter.line_segment(ends, Stroke::new(1.0, colours.division));
    }
}
