//! The tray: the pieces that can be put on the bench, each as a small section drawing made as the bench makes its
//! own.

use super::Window;
use super::deed::{Fitting, Item};
use super::ghost::{Ghost, Tint};
use super::region::Region;
use super::theme;
use super::view::View;
use crate::geom::build::build;
use crate::model::fresh::Kind;
use crate::model::{Apparatus, Element, Form, Piece, Place, Route, Seat};
use crate::out::drawing::Drawing;
use egui::accesskit::Role;
use egui::{
    Align2, CursorIcon, Frame, Key, Margin, Panel, Rect, Response, ScrollArea, Sense, Stroke, StrokeKind, Ui,
    WidgetInfo, vec2,
};
use nalgebra::Vector2;

/// Width of the tray, points.
pub(crate) const WIDTH: f32 = 84.0;
/// Height of a drawing, points.
const HEIGHT: f32 = 56.0;

/// What was done on the tray in this frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Picked {
    /// An item was taken by the pointer; true when it is being drawn out.
    Taken(Item, bool),
    /// An item was chosen by key or an assistive tool.
    Chosen(Item),
}

/// The state of the tray.
#[derive(Default)]
pub(crate) struct Tray {
    fitting: Fitting,
    drawings: Vec<(Item, Sketch)>,
}

/// A section drawing fitted into the space of an item.
struct Sketch {
    ghost: Ghost,
    view: View,
}

impl Window {
    /// Shows the tray at the left and takes what is picked there.
    pub(super) fn show_tray(&mut self, ui: &mut Ui) {
        let frame = Frame::new()
            .fill(theme::of(ui).panel)
            .inner_margin(Margin::symmetric(4, 6));
        let in_hand = self.bench.editor.in_hand();
        let picked = Panel::left("tray")
            .resizable(false)
            .exact_size(WIDTH)
            .frame(frame)
            .show(ui, |ui| {
                Region::Tray.mark(ui, ui.max_rect().expand(2.0));
                self.tray.show(ui, in_hand)
            })
            .inner;
        match picked {
            Some(Picked::Taken(item, carried)) => self.bench.editor.take(item, carried),
            Some(Picked::Chosen(item)) => self.bench.editor.put(&mut self.session, item),
            None => {}
        }
    }
}

impl Tray {
    /// Shows the tray; gives what was picked.
    pub(crate) fn show(&mut self, ui: &mut Ui, in_hand: Option<Item>) -> Option<Picked> {
        let mut picked = None;
        ScrollArea::vertical()
            .id_salt("tray")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = 2.0;
                let items = [Item::Tube, Item::Bulb, Item::Bridge, Item::Ampoule, Item::Row];
                for item in items.into_iter().chain([Item::Fitting(self.fitting)]) {
                    picked = self.item(ui, item, in_hand == Some(item)).or(picked);
                }
                picked = self.choice_of_fitting(ui).or(picked);
            });
        picked
    }

    fn item(&mut self, ui: &mut Ui, item: Item, is_in_hand: bool) -> Option<Picked> {
        let colours = theme::of(ui);
        let size = vec2(ui.available_width(), HEIGHT + 20.0);
        let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
        let label = caption(item);
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, item.label()));
        let response = response
            .on_hover_cursor(CursorIcon::PointingHand)
            .on_hover_text(hint(item));
        let painter = ui.painter_at(rect);
        let fill = if is_in_hand || response.hovered() || response.has_focus() {
            colours.chosen
        } else {
            colours.panel
        };
        painter.rect_filled(rect, 5.0, fill);
        if is_in_hand || response.has_focus() {
            painter.rect_stroke(rect, 5.0, Stroke::new(2.0, colours.accent), StrokeKind::Inside);
        }
        let space = Rect::from_min_size(rect.min + vec2(6.0, 4.0), vec2(rect.width() - 12.0, HEIGHT - 4.0));
        if let Some(sketch) = self.sketch(item, space) {
            let placed = sketch.view.placed(space, 0.0);
            let tint = Tint {
                bore: colours.panel,
                ..Tint::glass(colours)
            };
            sketch.ghost.paint(&painter, &placed, &tint, 0.6);
        }
        // Where the bar to scroll by stands beside it, a long name is set smaller.
        let set = |size| painter.layout_no_wrap(label.to_owned(), theme::plain(size), colours.text);
        let mut galley = set(12.0);
        if galley.size().x > rect.width() {
            galley = set((12.0 * rect.width() / galley.size().x).max(9.0));
        }
        let place = Align2::CENTER_BOTTOM.anchor_size(rect.center_bottom() - vec2(0.0, 4.0), galley.size());
        painter.galley(place.min, galley, colours.text);
        picked(ui, &response, item)
    }

    /// Which fitting the last item is.
    fn choice_of_fitting(&mut self, ui: &mut Ui) -> Option<Picked> {
        let mut picked = None;
        ui.vertical_centered(|ui| {
            let button = ui.menu_button("Fittings…", |ui| {
                theme::outline_focus(ui);
                for fitting in Fitting::ALL {
                    if ui.selectable_label(*fitting == self.fitting, fitting.label()).clicked() {
                        self.fitting = *fitting;
                        picked = Some(Picked::Taken(Item::Fitting(*fitting), false));
                        ui.close();
                    }
                }
            });
            button
                .response
                .on_hover_text("Vacuum port, gas port, stopcock, ground joint or cap");
        });
        picked
    }

    fn sketch(&mut self, item: Item, space: Rect) -> Option<&Sketch> {
        if !self.drawings.iter().any(|(other, _)| *other == item) {
            let sketch = Sketch::of(item, space)?;
            self.drawings.push((item, sketch));
        }
        self.drawings
            .iter()
            .find(|(other, _)| *other == item)
            .map(|(_, sketch)| sketch)
    }
}

/// What the pointer or a key did to an item.
fn picked(ui: &Ui, response: &Response, item: Item) -> Option<Picked> {
    if response.drag_started() {
        return Some(Picked::Taken(item, true));
    }
    if !response.clicked() {
        return None;
    }
    let by_pointer = ui.input(|input| input.pointer.any_released());
    let by_key = ui.input(|input| input.key_pressed(Key::Enter) || input.key_pressed(Key::Space));
    Some(if by_pointer && !by_key {
        Picked::Taken(item, false)
    } else {
        Picked::Chosen(item)
    })
}

fn caption(item: Item) -> &'static str {
    match item {
        Item::Row => "Row",
        Item::Fitting(Fitting::Joint) => "Joint",
        item => item.label(),
    }
}

fn hint(item: Item) -> &'static str {
    match item {
        Item::Tube => "Tube. Click, then click on the bench or pull it out to its length.",
        Item::Bulb => "Bulb on a neck. Click, then click where it goes.",
        Item::Bridge => "Bridge. Click, then pull from one piece to another.",
        Item::Ampoule => "Ampoule. Click, then click on the piece that it hangs on.",
        Item::Row => "Row of ampoules. Click, then click on the piece that it hangs on.",
        Item::Fitting(_) => "Fitting. Click, then click on the piece that it sits on.",
    }
}

impl Sketch {
    /// The drawing of a new piece; what needs a host is drawn on a stub of one.
    fn of(item: Item, space: Rect) -> Option<Self> {
        let built = build(&example(item)).ok()?;
        let (centre, reach) = extent(&Drawing::new(&built));
        let scale = f64::from(space.width() / reach.0).min(f64::from(space.height() / reach.1));
        Some(Self {
            ghost: Ghost::from_glass(built.glass.iter(), scale),
            view: View { pivot: centre, scale },
        })
    }
}

/// Middle and size of a drawing, mm.
#[allow(clippy::cast_possible_truncation, reason = "a size on the screen")]
fn extent(drawing: &Drawing) -> (Vector2<f64>, (f32, f32)) {
    let (low, high) = drawing.extent().unwrap_or_default();
    let size = high - low;
    (
        (low + high) / 2.0,
        (size.x.max(1.0) as f32 * 1.06, size.y.max(1.0) as f32 * 1.06),
    )
}

/// A small apparatus that shows an item.
fn example(item: Item) -> Apparatus {
    let mut apparatus = Apparatus::default();
    let kind = item.kind();
    let free = |x_mm: f64, heading_deg: f64| Seat::Free {
        x_mm,
        y_mm: 0.0,
        heading_deg,
    };
    let stub = |name: &str, seat: Seat, length_mm: f64| {
        let mut form = Kind::Tube.form();
        if let Form::Tube(tube) = &mut form {
            tube.course = vec![Element::Straight { length_mm }];
        }
        Piece {
            name: name.to_owned(),
            seat,
            form,
        }
    };
    let on = |host: &str, at_mm: f64, turn_deg: f64| Place {
        host: host.to_owned(),
        at_mm,
        turn_deg,
    };
    match item {
        Item::Tube => apparatus.pieces.push(stub("tube", free(0.0, 0.0), 64.0)),
        Item::Bulb | Item::Ampoule => {
            let piece = apparatus.new_piece(&kind, free(0.0, -90.0));
            apparatus.pieces.push(piece);
        }
        Item::Bridge => {
            apparatus.pieces.push(stub("left", free(-38.0, 90.0), 24.0));
            apparatus.pieces.push(stub("right", free(38.0, 90.0), 24.0));
            let between = Seat::Between {
                from: on("left", 24.0, 0.0),
                to: on("right", 24.0, 0.0),
            };
            let mut piece = apparatus.new_piece(&kind, between);
            if let Form::Bridge(bridge) = &mut piece.form {
                bridge.route = Route::Arched { rise_mm: 34.0 };
            }
            apparatus.pieces.push(piece);
        }
        Item::Row => {
            apparatus.pieces.push(stub("host", free(0.0, 0.0), 150.0));
            if let Ok(placed) = apparatus.place() {
                let mut row = apparatus.new_row(&placed, on("host", 31.0, -90.0));
                row.pitch_mm = 44.0;
                apparatus.rows.push(row);
            }
        }
        Item::Fitting(_) => {
            apparatus.pieces.push(stub("host", free(0.0, 0.0), 60.0));
            let piece = apparatus.new_piece(&kind, Seat::On(on("host", 30.0, 90.0)));
            apparatus.pieces.push(piece);
        }
    }
    apparatus
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_item_has_a_drawing_that_fits() {
        let space = Rect::from_min_size(egui::pos2(0.0, 0.0), vec2(72.0, 52.0));
        for item in Item::ALL {
            let sketch = Sketch::of(*item, space).expect("a drawing");
            assert!(sketch.view.scale > 0.2, "{item:?} is too small to be told");
            let placed = sketch.view.placed(space, 0.0);
            let built = build(&example(*item)).expect("an example");
            let drawing = Drawing::new(&built);
            for corner in drawing.bounds().into_iter().flatten().flatten() {
                assert!(space.expand(0.5).contains(placed.to_screen(corner)), "{item:?}");
            }
        }
    }
}
