//! Colours, type and sizes by meaning, for the light and the dark theme.
//!
//! Nothing else in the window names a colour. The tests hold the contrasts: 4.5:1 for text, 3:1 for marks.

use crate::out::chart::INKS;
use egui::{Color32, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin, Stroke, TextStyle, Theme};
use std::sync::Arc;

/// Name of the heavier of the two weights.
const HEAVY: &str = "heavy";

/// Smallest side of anything that can be clicked, points.
pub(crate) const TARGET: f32 = 24.0;

/// How long a motion takes, seconds.
const MOTION_S: f32 = 0.1;

/// Least and greatest scale of text and controls that the commands give.
const SCALE: (f32, f32) = (0.7, 3.0);

/// The colours of one theme, named by what they mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Palette {
    /// Behind the glass.
    pub bench: Color32,
    /// Behind numbers and fields.
    pub panel: Color32,
    /// Fields that can be typed into.
    pub field: Color32,
    /// Lines between parts of the window.
    pub rule: Color32,
    /// Outlines of fields and buttons.
    pub outline: Color32,
    /// Text.
    pub text: Color32,
    /// Text that stands back: units, captions.
    pub quiet: Color32,
    /// The one accent: selection, needle, focus.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// Behind a selected row.
    pub chosen: Color32,
    /// A refusal, liquid lost, or a finding that must be mended.
    pub stop: Color32,
    /// A finding that may well fail.
    pub watch: Color32,
    /// A finding worth knowing.
    pub note: Color32,
    /// Lines of charts, in the order of their styles.
    pub series: [Color32; 8],
    /// Glass cut by the drawing plane.
    pub wall: Color32,
    /// Glass of the selected piece.
    pub wall_chosen: Color32,
    /// Fine line at both sides of the wall.
    pub edge: Color32,
    /// The empty bore.
    pub bore: Color32,
    /// Centrelines.
    pub centreline: Color32,
    /// Liquid cut by the drawing plane.
    pub liquid: Color32,
    /// Liquid in front of or behind the drawing plane.
    pub liquid_beyond: Color32,
    /// The surface of the liquid.
    pub level: Color32,
    /// Target level and seal-off place.
    pub mark: Color32,
    /// The rim of the tilt ring.
    pub ring: Color32,
    /// Divisions of the tilt ring and the roll scale.
    pub division: Color32,
}

const LIGHT: Palette = Palette {
    bench: Color32::from_rgb(0xEA, 0xEF, 0xF1),
    panel: Color32::from_rgb(0xFA, 0xFB, 0xFB),
    field: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    rule: Color32::from_rgb(0xD2, 0xDB, 0xDF),
    outline: Color32::from_rgb(0x7F, 0x90, 0x97),
    text: Color32::from_rgb(0x17, 0x24, 0x2A),
    quiet: Color32::from_rgb(0x4C, 0x5D, 0x65),
    accent: Color32::from_rgb(0x0A, 0x62, 0x73),
    on_accent: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    chosen: Color32::from_rgb(0xD5, 0xE9, 0xEC),
    stop: Color32::from_rgb(0xB0, 0x2A, 0x12),
    watch: Color32::from_rgb(0x8A, 0x5A, 0x00),
    note: Color32::from_rgb(0x2A, 0x5F, 0x92),
    series: colours(INKS),
    wall: Color32::from_rgb(0xA6, 0xCF, 0xD7),
    wall_chosen: Color32::from_rgb(0x5F, 0xB9, 0xC9),
    edge: Color32::from_rgb(0x2B, 0x58, 0x63),
    bore: Color32::from_rgb(0xFC, 0xFE, 0xFE),
    centreline: Color32::from_rgb(0x8C, 0xA3, 0xAB),
    liquid: Color32::from_rgb(0xE3, 0xA1, 0x3A),
    liquid_beyond: Color32::from_rgb(0xF4, 0xDD, 0xB4),
    level: Color32::from_rgb(0x7A, 0x46, 0x00),
    mark: Color32::from_rgb(0x5A, 0x3F, 0x9C),
    ring: Color32::from_rgb(0xF7, 0xFA, 0xFA),
    division: Color32::from_rgb(0x5E, 0x72, 0x7A),
};

const DARK: Palette = Palette {
    bench: Color32::from_rgb(0x12, 0x18, 0x1B),
    panel: Color32::from_rgb(0x1B, 0x22, 0x26),
    field: Color32::from_rgb(0x11, 0x17, 0x1A),
    rule: Color32::from_rgb(0x31, 0x3C, 0x42),
    outline: Color32::from_rgb(0x72, 0x84, 0x8C),
    text: Color32::from_rgb(0xE6, 0xED, 0xEF),
    quiet: Color32::from_rgb(0xA3, 0xB3, 0xB9),
    accent: Color32::from_rgb(0x6F, 0xCB, 0xDB),
    on_accent: Color32::from_rgb(0x07, 0x1D, 0x22),
    chosen: Color32::from_rgb(0x1D, 0x41, 0x49),
    stop: Color32::from_rgb(0xFF, 0x9A, 0x80),
    watch: Color32::from_rgb(0xE8, 0xBE, 0x52),
    note: Color32::from_rgb(0x8C, 0xBE, 0xF0),
    series: colours([
        [0x7C, 0xB6, 0xF6],
        [0xF2, 0x9E, 0x5C],
        [0x5C, 0xCF, 0xA8],
        [0xB4, 0xBE, 0xC6],
        [0xDA, 0x9C, 0xEC],
        [0xD2, 0xCB, 0x5A],
        [0xFF, 0x8D, 0xA6],
        [0x5F, 0xCB, 0xE4],
    ]),
    wall: Color32::from_rgb(0x3A, 0x60, 0x6A),
    wall_chosen: Color32::from_rgb(0x2F, 0x86, 0x97),
    edge: Color32::from_rgb(0xA9, 0xD3, 0xDB),
    bore: Color32::from_rgb(0x0B, 0x10, 0x12),
    centreline: Color32::from_rgb(0x5E, 0x74, 0x7B),
    liquid: Color32::from_rgb(0xAD, 0x74, 0x1C),
    liquid_beyond: Color32::from_rgb(0x52, 0x3D, 0x19),
    level: Color32::from_rgb(0xFF, 0xE2, 0xA8),
    mark: Color32::from_rgb(0xC6, 0xB4, 0xFF),
    ring: Color32::from_rgb(0x1E, 0x27, 0x2B),
    division: Color32::from_rgb(0x8C, 0xA0, 0xA8),
};

/// Inks as colours.
const fn colours(inks: [[u8; 3]; 8]) -> [Color32; 8] {
    let mut found = [Color32::BLACK; 8];
    let mut i = 0;
    while i < found.len() {
        let [r, g, b] = inks[i];
        found[i] = Color32::from_rgb(r, g, b);
        i += 1;
    }
    found
}

/// The colours of `theme`.
pub(crate) fn palette(theme: Theme) -> &'static Palette {
    match theme {
        Theme::Light => &LIGHT,
        Theme::Dark => &DARK,
    }
}

/// The colours that `ui` is drawn in.
pub(crate) fn of(ui: &egui::Ui) -> &'static Palette {
    palette(ui.ctx().theme())
}

/// The heavier weight at `size` points, for headings and the present value.
pub(crate) fn heavy(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name(HEAVY.into()))
}

/// The ordinary weight at `size` points.
pub(crate) fn plain(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}

/// Gives `ctx` the typeface, sizes and both themes' colours.
pub(crate) fn install(ctx: &egui::Context) {
    ctx.set_fonts(fonts());
    // Where the system has no say, a lit bench is the likelier surroundings.
    ctx.options_mut(|options| options.fallback_theme = Theme::Light);
    for theme in [Theme::Light, Theme::Dark] {
        ctx.style_mut_of(theme, |style| dress(style, palette(theme)));
    }
}

/// Lets things move to their new places, or take them at once.
pub(crate) fn set_motion(ctx: &egui::Context, less: bool) {
    ctx.all_styles_mut(|style| {
        style.animation_time = if less { 0.0 } else { MOTION_S };
        style.scroll_animation = if less {
            egui::style::ScrollAnimation::none()
        } else {
            egui::style::ScrollAnimation::duration(MOTION_S)
        };
    });
}

/// Chooses light or dark colours. A frame that has begun in the others is laid out once more.
pub(crate) fn choose(ctx: &egui::Context, preference: egui::ThemePreference) {
    ctx.set_theme(preference);
    ctx.request_discard("the colours have changed");
    ctx.request_repaint();
}

/// Makes text and controls larger by a part of their usual size, or smaller.
pub(crate) fn scale_by(ctx: &egui::Context, part: f32) {
    let scale = ((ctx.zoom_factor() + part) * 10.0).round() / 10.0;
    ctx.set_zoom_factor(scale.clamp(SCALE.0, SCALE.1));
}

/// The frame of a dialog over the window.
pub(crate) fn dialog(ctx: &egui::Context) -> egui::Frame {
    egui::Frame::popup(&ctx.global_style()).inner_margin(Margin::same(18))
}

/// The bundled typeface in two weights, before the fonts that come with the toolkit.
fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let regular = include_bytes!("../../assets/fonts/VialwrightSans-Regular.otf");
    let semi_bold = include_bytes!("../../assets/fonts/VialwrightSans-SemiBold.otf");
    fonts
        .font_data
        .insert("regular".into(), Arc::new(FontData::from_static(regular)));
    fonts
        .font_data
        .insert("semi-bold".into(), Arc::new(FontData::from_static(semi_bold)));
    let fallback = fonts
        .families
        .get(&FontFamily::Proportional)
        .cloned()
        .unwrap_or_default();
    let with = |first: &str| {
        std::iter::once(first.to_owned())
            .chain(fallback.iter().cloned())
            .collect::<Vec<_>>()
    };
    fonts.families.insert(FontFamily::Name(HEAVY.into()), with("semi-bold"));
    fonts.families.insert(FontFamily::Proportional, with("regular"));
    fonts
}

fn dress(style: &mut egui::Style, palette: &Palette) {
    style.text_styles = [
        (TextStyle::Small, plain(11.5)),
        (TextStyle::Body, plain(13.5)),
        (TextStyle::Button, plain(13.5)),
        (TextStyle::Heading, heavy(14.5)),
        (TextStyle::Monospace, FontId::new(13.0, FontFamily::Monospace)),
    ]
    .into();
    style.spacing.interact_size = egui::vec2(40.0, TARGET);
    style.spacing.item_spacing = egui::vec2(8.0, 4.0);
    style.spacing.button_padding = egui::vec2(8.0, 3.0);
    style.spacing.menu_margin = Margin::same(6);
    style.spacing.window_margin = Margin::same(16);
    // Room for the bar beside what scrolls, so that it never covers a field.
    style.spacing.scroll.floating_allocated_width = 8.0;
    style.interaction.tooltip_delay = 0.4;
    style.interaction.selectable_labels = false;
    style.animation_time = MOTION_S;

    let visuals = &mut style.visuals;
    visuals.override_text_color = None;
    visuals.weak_text_color = Some(palette.quiet);
    visuals.panel_fill = palette.panel;
    visuals.window_fill = palette.panel;
    visuals.window_stroke = Stroke::new(1.0, palette.outline);
    visuals.window_corner_radius = CornerRadius::same(8);
    visuals.menu_corner_radius = CornerRadius::same(6);
    visuals.extreme_bg_color = palette.field;
    visuals.text_edit_bg_color = Some(palette.field);
    visuals.faint_bg_color = palette.bench;
    visuals.error_fg_color = palette.stop;
    visuals.warn_fg_color = palette.stop;
    visuals.hyperlink_color = palette.accent;
    visuals.selection.bg_fill = palette.chosen;
    visuals.selection.stroke = Stroke::new(1.5, palette.accent);
    visuals.text_cursor.stroke = Stroke::new(1.5, palette.accent);
    // A blinking caret would wake the program twice a second.
    visuals.text_cursor.blink = false;
    visuals.disabled_alpha = 0.55;

    let radius = CornerRadius::same(4);
    let widgets = &mut visuals.widgets;
    widgets.noninteractive.bg_fill = palette.panel;
    widgets.noninteractive.weak_bg_fill = palette.panel;
    widgets.noninteractive.bg_stroke = Stroke::new(1.0, palette.rule);
    widgets.noninteractive.fg_stroke = Stroke::new(1.0, palette.text);
    for (state, fill, line, text) in [
        (&mut widgets.inactive, palette.field, palette.outline, palette.text),
        (&mut widgets.hovered, palette.chosen, palette.accent, palette.text),
        (&mut widgets.active, palette.chosen, palette.accent, palette.text),
        (&mut widgets.open, palette.chosen, palette.accent, palette.text),
    ] {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::new(1.0, line);
        state.fg_stroke = Stroke::new(1.0, text);
        state.corner_radius = radius;
        state.expansion = 0.0;
    }
    widgets.active.bg_stroke.width = 2.0;
    widgets.noninteractive.corner_radius = radius;
}

/// Marks what has the focus in a menu by its outline as elsewhere; a menu has no outlines of its own.
pub(crate) fn outline_focus(ui: &mut egui::Ui) {
    let line = of(ui).accent;
    ui.visuals_mut().widgets.active.bg_stroke = Stroke::new(2.0, line);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn linear(c: u8) -> f64 {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    }

    /// Relative luminance by WCAG 2.2.
    fn luminance(colour: Color32) -> f64 {
        0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
    }

    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    // What an eye without a cone sees of linear red, green and blue (Machado, Oliveira and Fernandes, 2009).
    const PROTAN: [[f64; 3]; 3] = [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ];
    const DEUTAN: [[f64; 3]; 3] = [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ];
    const TRITAN: [[f64; 3]; 3] = [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ];

    /// Linear red, green and blue as an eye without a cone sees them.
    fn seen(colour: Color32, lacking: [[f64; 3]; 3]) -> [f64; 3] {
        let rgb = [colour.r(), colour.g(), colour.b()].map(linear);
        lacking.map(|row| row.iter().zip(rgb).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0))
    }

    /// Difference of two colours in CIE L*a*b* (D65).
    fn difference(a: [f64; 3], b: [f64; 3]) -> f64 {
        let lab = |[r, g, b]: [f64; 3]| {
            let f = |t: f64| {
                if t > 0.008856 {
                    t.cbrt()
                } else {
                    7.787 * t + 16.0 / 116.0
                }
            };
            let x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
            let y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
            let z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
            [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
        };
        let (a, b) = (lab(a), lab(b));
        a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn text_is_legible() {
        for p in [&LIGHT, &DARK] {
            for back in [p.bench, p.panel, p.field, p.chosen, p.ring] {
                for text in [p.text, p.quiet, p.accent, p.stop, p.watch, p.note] {
                    assert!(
                        contrast(text, back) >= 4.5,
                        "{text:?} on {back:?}: {}",
                        contrast(text, back)
                    );
                }
            }
            assert!(contrast(p.on_accent, p.accent) >= 4.5);
        }
    }

    #[test]
    fn lines_of_charts_can_be_told_from_the_ground_and_named_in_their_colour() {
        for p in [&LIGHT, &DARK] {
            for series in p.series {
                for back in [p.field, p.panel] {
                    assert!(
                        contrast(series, back) >= 4.5,
                        "{series:?} on {back:?}: {}",
                        contrast(series, back)
                    );
                }
            }
        }
    }

    #[test]
    fn lines_of_charts_differ_for_eyes_that_lack_a_cone() {
        for p in [&LIGHT, &DARK] {
            for lacking in [DEUTAN, PROTAN, TRITAN] {
                // Four lines are common; with more, dashes and shapes carry it.
                for (i, a) in p.series[..4].iter().enumerate() {
                    for b in &p.series[..i] {
                        let apart = difference(seen(*a, lacking), seen(*b, lacking));
                        assert!(apart >= 11.0, "{a:?} and {b:?} without a cone: {apart}");
                    }
                }
            }
        }
    }

    #[test]
    fn marks_can_be_told_from_what_lies_behind_them() {
        for p in [&LIGHT, &DARK] {
            let pairs = [
                (p.edge, p.wall),
                (p.edge, p.bench),
                (p.edge, p.bore),
                (p.level, p.liquid),
                (p.level, p.bore),
                (p.mark, p.bore),
                (p.mark, p.bench),
                (p.level, p.bench),
                (p.level, p.ring),
                (p.mark, p.ring),
                (p.stop, p.ring),
                (p.division, p.ring),
                (p.division, p.bench),
                (p.outline, p.field),
                (p.accent, p.ring),
            ];
            for (mark, back) in pairs {
                assert!(
                    contrast(mark, back) >= 3.0,
                    "{mark:?} on {back:?}: {}",
                    contrast(mark, back)
                );
            }
        }
    }

    #[test]
    fn marks_can_be_told_from_what_lies_behind_them_without_a_cone_and_in_grey() {
        const GREY: [[f64; 3]; 3] = [[0.2126, 0.7152, 0.0722]; 3];
        let light = |colour, eye| {
            let [r, g, b] = seen(colour, eye);
            0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05
        };
        for p in [&LIGHT, &DARK] {
            for eye in [DEUTAN, PROTAN, TRITAN, GREY] {
                for mark in [p.level, p.mark, p.text, p.stop, p.division, p.accent] {
                    for back in [p.bench, p.ring] {
                        let (a, b) = (light(mark, eye), light(back, eye));
                        let apart = a.max(b) / a.min(b);
                        assert!(apart >= 3.0, "{mark:?} on {back:?}: {apart}");
                    }
                }
            }
        }
    }

    #[test]
    fn typeface_has_the_symbols_and_tabular_figures() {
        let ctx = egui::Context::default();
        install(&ctx);
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            ui.fonts_mut(|fonts| {
                for font in [plain(14.0), heavy(14.0)] {
                    for symbol in "⌀→←↑↓°µ≤≥±×·²³−–…✓".chars() {
                        assert!(fonts.has_glyph(&font, symbol), "{symbol} in {font:?}");
                    }
                    let width = fonts.glyph_width(&font, '0');
                    for figure in "123456789".chars() {
                        assert!(
                            (fonts.glyph_width(&font, figure) - width).abs() < 0.05,
                            "{figure} in {font:?}"
                        );
                    }
                }
            });
        });
        output.textures_delta.clear();
    }
}
