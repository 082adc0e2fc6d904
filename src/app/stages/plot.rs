//! The plots of a stage.

use super::page::heading;
use crate::app::theme;
use crate::stages::Plot as Drawn;
use crate::units::si::significant;
use egui::accesskit::Role;
use egui::{Id, RichText, Sense, Ui, WidgetInfo};
use egui_plot::{AxisHints, Line, Plot, PlotPoints};

/// Height of a plot, points.
const HEIGHT: f32 = 150.0;

/// Shows a plot; `place` tells it from the others of its stage.
pub(super) fn show(ui: &mut Ui, drawn: &Drawn, place: usize) {
    let colours = theme::of(ui);
    heading(ui, drawn.title);
    let quiet = |text: &str| RichText::new(text).font(theme::plain(11.5)).color(colours.quiet);
    let log = drawn.log_y;
    let up = move |value: f64| if log { value.max(1e-300).log10() } else { value };
    let y = AxisHints::new_y()
        .label(quiet(drawn.y))
        .tick_label_color(colours.quiet)
        .tick_label_font(theme::plain(11.0))
        .min_thickness(52.0)
        .formatter(move |mark, _| {
            let value = if log { 10f64.powf(mark.value) } else { mark.value };
            significant(value, 2)
        });
    let x = AxisHints::new_x()
        .label(quiet(drawn.x))
        .tick_label_color(colours.quiet)
        .tick_label_font(theme::plain(11.0));
    let shown = Plot::new(Id::unique("plot of a stage").with((drawn.title, place)))
        .height(HEIGHT)
        .custom_y_axes(vec![y])
        .custom_x_axes(vec![x])
        .grid_color(colours.rule)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_drag(false)
        .allow_boxed_zoom(false)
        .allow_axis_zoom_drag(false)
        .allow_double_click_reset(false)
        .show_crosshair(false)
        .sense(Sense::hover())
        .label_formatter(|_| None)
        .show(ui, |plot| {
            for curve in &drawn.curves {
                let points: PlotPoints<'_> = curve.points.iter().map(|[x, y]| [*x, up(*y)]).collect();
                plot.line(Line::new(curve.name.clone(), points).color(colours.accent).width(2.0));
            }
        });
    let words = told(drawn);
    shown
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    shown.response.on_hover_text(words);
    ui.add_space(8.0);
}

/// A plot in words: both ends of its first curve.
fn told(drawn: &Drawn) -> String {
    let ends = drawn
        .curves
        .first()
        .and_then(|curve| Some((curve.points.first()?, curve.points.last()?)));
    let end = |[x, y]: &[f64; 2]| format!("{} at {}", significant(*y, 3), significant(*x, 3));
    match ends {
        Some((first, last)) => format!(
            "{}: {} from {} to {}, along {}",
            drawn.title,
            drawn.y,
            end(first),
            end(last),
            drawn.x
        ),
        None => drawn.title.to_owned(),
    }
}
