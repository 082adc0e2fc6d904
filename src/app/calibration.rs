//! True size: how many pixels of this screen make a millimetre, measured against a card that everybody carries.

use super::field::{self, Change, Field};
use super::theme;
use crate::units::{self, Quantity};
use egui::{Context, Id, Modal, RichText, Sense, Slider, Stroke, StrokeKind, Ui, WidgetInfo, accesskit::Role, vec2};
use serde::{Deserialize, Serialize};

/// Width, height and corner radius of an identification card, mm. Source: ISO/IEC 7810:2019, size ID-1.
const CARD_MM: [f64; 3] = [85.60, 53.98, 3.18];
/// Pixels to a millimetre where nothing is known: the 96 to the inch that a toolkit assumes at scale 1.
const ASSUMED: f64 = 96.0 / units::MM_PER_INCH;
/// Points to a millimetre that can be set.
const RANGE: (f64, f64) = (1.5, 12.0);

/// What has been measured, for each scale of a screen: one computer may have several. The context holds it while the
/// program runs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Screens {
    /// Scale of the screen in hundredths, and its pixels to a millimetre.
    measured: Vec<(u32, f64)>,
}

impl Screens {
    fn id() -> Id {
        Id::unique("screens")
    }

    /// As they are known now.
    pub(crate) fn of(ctx: &Context) -> Self {
        ctx.data(|data| data.get_temp(Self::id())).unwrap_or_default()
    }

    /// Makes them known.
    pub(crate) fn set(&self, ctx: &Context) {
        ctx.data_mut(|data| data.insert_temp(Self::id(), self.clone()));
    }

    fn pixels_per_mm(&self, screen: u32) -> Option<f64> {
        self.measured
            .iter()
            .find(|(of, _)| *of == screen)
            .map(|(_, pixels)| *pixels)
    }

    fn note(&mut self, screen: u32, pixels_per_mm: f64) {
        self.measured.retain(|(of, _)| *of != screen);
        self.measured.push((screen, pixels_per_mm));
    }
}

/// The scale of the screen in hundredths, by which it is recognised.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to a small positive number"
)]
fn screen(ctx: &Context) -> u32 {
    let scale = ctx.native_pixels_per_point().unwrap_or(1.0);
    (scale * 100.0).round().clamp(1.0, 10_000.0) as u32
}

/// Points to a millimetre at true size, and whether they have been measured on this screen.
pub(crate) fn points_per_mm(ctx: &Context) -> (f64, bool) {
    let screen = screen(ctx);
    let measured = Screens::of(ctx).pixels_per_mm(screen);
    let pixels = measured.unwrap_or(ASSUMED * f64::from(screen) / 100.0);
    (pixels / f64::from(ctx.pixels_per_point()), measured.is_some())
}

/// The dialog in which an outline is fitted to a card.
#[derive(Default)]
pub(crate) struct Calibration {
    /// Points to a millimetre as they are being set; `None` while the dialog is closed.
    draft: Option<f64>,
}

impl Calibration {
    /// Opens the dialog.
    pub(crate) fn open(&mut self, ctx: &Context) {
        self.draft = Some(points_per_mm(ctx).0.clamp(RANGE.0, RANGE.1));
    }

    /// Whether it is open.
    pub(crate) fn is_open(&self) -> bool {
        self.draft.is_some()
    }

    /// Shows the dialog while it is open; gives the points to a millimetre once they are settled.
    pub(crate) fn show(&mut self, ctx: &Context) -> Option<f64> {
        let mut draft = self.draft?;
        let mut settled = None;
        let mut closed = false;
        let modal = Modal::new(Id::unique("true size"))
            .frame(theme::dialog(ctx))
            .show(ctx, |ui| {
                // The card must fit beside the dialog's margins.
                let most = (f64::from(ctx.content_rect().width()) - 90.0) / CARD_MM[0];
                let range = (RANGE.0, most.clamp(RANGE.0 + 0.5, RANGE.1));
                draft = draft.clamp(range.0, range.1);
                ui.set_width(points(CARD_MM[0] * draft).max(380.0_f32.min(ctx.content_rect().width() - 80.0)));
                ui.heading("True size on this screen");
                ui.label("Hold a bank or identity card to the screen and make the outline as large as the card.");
                ui.add_space(6.0);
                card(ui, draft);
                ui.add_space(6.0);
                fit(ui, &mut draft, range);
                ui.add_space(8.0);
                ui.horizontal(|ui| {
                    if ui.button("Keep").clicked() {
                        settled = Some(draft);
                    }
                    if ui.button("Cancel").clicked() {
                        closed = true;
                    }
                });
            });
        self.draft = Some(draft).filter(|_| settled.is_none() && !closed && !modal.should_close());
        if let Some(points) = settled {
            let mut screens = Screens::of(ctx);
            screens.note(screen(ctx), points * f64::from(ctx.pixels_per_point()));
            screens.set(ctx);
        }
        settled
    }
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "lengths on the screen need no more than f32"
)]
fn points(length: f64) -> f32 {
    length as f32
}

/// The card's outline.
fn card(ui: &mut Ui, points_per_mm: f64) {
    let colours = theme::of(ui);
    let [width, height, corner] = CARD_MM.map(|mm| points(mm * points_per_mm));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, "Outline of a card"));
    ui.painter().rect(
        rect,
        corner,
        colours.bench,
        Stroke::new(1.5, colours.accent),
        StrokeKind::Inside,
    );
    let words = "85.6 mm × 54.0 mm, as ISO/IEC 7810 ID-1";
    ui.painter().text(
        rect.center(),
        egui::Align2::CENTER_CENTER,
        words,
        theme::plain(12.0),
        colours.quiet,
    );
}

/// The slider, and the field for a width that was measured.
fn fit(ui: &mut Ui, draft: &mut f64, range: (f64, f64)) {
    ui.horizontal(|ui| {
        let label = ui.label("Size of the outline");
        ui.spacing_mut().slider_width = (ui.available_width() - 20.0).clamp(120.0, 320.0);
        let slider = Slider::new(draft, range.0..=range.1).step_by(0.005).show_value(false);
        ui.add(slider).labelled_by(label.id);
    });
    ui.label("Or measure its width with a rule and type what you read:");
    let id = Id::unique("measured width");
    let field = Field {
        id,
        label: "Measured width of the outline",
        value: CARD_MM[0],
        unit: "mm",
        digits: 1,
        step: 0.1,
        range: (CARD_MM[0] * *draft / range.1, CARD_MM[0] * *draft / range.0),
    };
    let (low, high) = field.range;
    let parse = |text: &str| units::parse(text, Quantity::Length).map_err(|error| error.to_string());
    match field.show(ui, parse) {
        Some(Change::Set(measured)) if !(low..=high).contains(&measured) => {
            let reason = format!("The outline can be no narrower than {low:.0} mm and no wider than {high:.0} mm.");
            field::answer(ui, id, Some(reason), measured, CARD_MM[0]);
        }
        // The outline as it is drawn now measures so many millimetres.
        Some(Change::Set(measured)) => {
            *draft *= CARD_MM[0] / measured;
            field::forget(ui, id);
        }
        Some(Change::Preview(_) | Change::Keep) | None => {}
    }
    if let Some(refusal) = field::refusal(ui, id, CARD_MM[0]) {
        ui.label(RichText::new(refusal).color(theme::of(ui).stop));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_screen_keeps_its_own_measure() {
        let mut screens = Screens::default();
        screens.note(100, 3.8);
        screens.note(200, 9.1);
        screens.note(100, 3.9);
        assert_eq!(screens.pixels_per_mm(100), Some(3.9));
        assert_eq!(screens.pixels_per_mm(200), Some(9.1));
        assert_eq!(screens.pixels_per_mm(150), None);
    }

    #[test]
    fn without_a_measure_a_point_is_a_96th_of_an_inch() {
        let ctx = Context::default();
        let (points, is_measured) = points_per_mm(&ctx);
        assert!((points - 96.0 / 25.4).abs() < 1e-9 && !is_measured);
    }
}
