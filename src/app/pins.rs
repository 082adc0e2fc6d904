//! The findings at their place on the bench: one pin a piece, with the sign of the gravest and their number.
//!
//! A pin stands beside its place, joined to it by a line, where it covers neither another pin nor a name. Where there
//! is no such place it is counted into the nearest pin.

use super::findings_list::{self, Filter};
use super::reading::Reading;
use super::ring::Ring;
use super::symbols;
use super::theme::{self, Palette};
use super::view::Placed;
use crate::findings::Finding;
use crate::out::drawing::Drawing;
use egui::accesskit::Role;
use egui::{Align2, CursorIcon, Id, Pos2, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2};

/// Height of a pin, points.
const HIGH: f32 = 22.0;
/// Width of a pin without and with a number, points.
const WIDE: [f32; 2] = [22.0, 36.0];
/// Distances from its place at which a pin is tried, points.
const REACHES: [f32; 3] = [26.0, 40.0, 58.0];
/// Free space around a pin, points.
const CLEAR: f32 = 2.0;
/// Pins that look for a spot beside the glass; with more of them the glass is covered anyhow.
const MOST_CAREFUL: usize = 24;
/// Findings that are told on hover at most.
const MOST_TOLD: usize = 4;

/// A pin: what it tells of and where it stands.
#[derive(Clone, Debug, PartialEq)]
struct Pin {
    /// Indices of its findings, the gravest first.
    findings: Vec<usize>,
    /// The place on the glass.
    place: Pos2,
    rect: Rect,
}

/// Shows the pins clear of `taken`; gives the index of the finding whose pin was clicked.
pub(crate) fn show(
    ui: &Ui,
    findings: &[Finding],
    drawing: &Drawing,
    placed: &Placed,
    (bench, ring, taken): (Rect, &Ring, &[Rect]),
) -> Option<usize> {
    let filter = Reading::of(ui.ctx()).filter;
    let covers = |rect: Rect| {
        let corners = [
            rect.left_top(),
            rect.right_top(),
            rect.right_bottom(),
            rect.left_bottom(),
        ];
        if corners.into_iter().any(|corner| ring.is_on_rim(corner)) {
            return true;
        }
        let rect = rect.shrink(3.0);
        let points = [
            rect.center(),
            rect.left_center(),
            rect.right_center(),
            rect.center_top(),
            rect.center_bottom(),
        ];
        let mut points = points.into_iter().map(|at| placed.to_world(at));
        points.any(|at| drawing.piece_at(at, 0.0).is_some())
    };
    let surroundings = Surroundings {
        bench,
        taken,
        covers: &covers,
    };
    let pins = arranged(findings, filter, &surroundings, |at| placed.to_screen(at));
    let colours = theme::of(ui);
    let painter = ui.painter_at(bench);
    for pin in &pins {
        let near = pin.rect.shrink(4.0).clamp(pin.place);
        painter.line_segment([pin.place, near], Stroke::new(1.0, colours.division));
        painter.circle(pin.place, 2.5, colours.field, Stroke::new(1.2, colours.division));
    }
    let mut clicked = None;
    for pin in &pins {
        let Some(first) = pin.findings.first().and_then(|i| findings.get(*i)) else {
            continue;
        };
        let id = Id::unique("pin").with(&first.piece);
        let response = ui.interact(pin.rect, id, Sense::click());
        let words = words(findings, pin);
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
        let fill = if response.hovered() {
            colours.chosen
        } else {
            colours.field
        };
        if pin.findings.len() > 1 {
            let line = Stroke::new(1.0, colours.outline);
            painter.rect(pin.rect, HIGH / 2.0, fill, line, StrokeKind::Inside);
        } else {
            painter.circle_filled(pin.rect.center(), HIGH / 2.0, fill);
        }
        let sign = pos2(pin.rect.left() + HIGH / 2.0, pin.rect.center().y);
        symbols::severity(&painter, first.severity, sign, 7.0, colours);
        if pin.findings.len() > 1 {
            let at = pos2(pin.rect.right() - 8.0, pin.rect.center().y);
            let count = pin.findings.len().to_string();
            painter.text(at, Align2::RIGHT_CENTER, count, theme::heavy(12.0), colours.text);
        }
        if response.has_focus() {
            let stroke = Stroke::new(2.0, colours.accent);
            painter.rect_stroke(pin.rect.expand(2.0), HIGH / 2.0 + 2.0, stroke, StrokeKind::Outside);
        }
        if response.clicked() {
            clicked = pin.findings.first().copied();
        }
        let response = response.on_hover_cursor(CursorIcon::PointingHand);
        response.on_hover_ui(|ui| tell(ui, findings, pin, colours));
    }
    clicked
}

/// The findings of a pin, the gravest first.
fn tell(ui: &mut Ui, findings: &[Finding], pin: &Pin, colours: &Palette) {
    ui.set_max_width(340.0);
    for finding in pin.findings.iter().take(MOST_TOLD).filter_map(|i| findings.get(*i)) {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(Vec2::splat(16.0), Sense::hover());
            symbols::severity(ui.painter(), finding.severity, rect.center(), 7.0, colours);
            let what = format!("{}: {}", finding.piece, finding.what);
            ui.add(egui::Label::new(egui::RichText::new(what).font(theme::heavy(13.0))).wrap());
        });
        ui.label(&finding.why);
    }
    let more = pin.findings.len().saturating_sub(MOST_TOLD);
    if more > 0 {
        ui.label(egui::RichText::new(format!("and {more} more in the list")).color(colours.quiet));
    }
}

fn words(findings: &[Finding], pin: &Pin) -> String {
    let list: Vec<Finding> = pin.findings.iter().filter_map(|i| findings.get(*i)).cloned().collect();
    let Some(first) = list.first() else {
        return String::new();
    };
    format!(
        "Pin at {}: {}. {}",
        first.piece,
        findings_list::count_words(&list),
        first.what
    )
}

/// What pins keep clear of.
struct Surroundings<'a> {
    bench: Rect,
    /// Names.
    taken: &'a [Rect],
    /// Whether a rectangle lies on glass or on the ring, which pins leave bare where they can.
    covers: &'a dyn Fn(Rect) -> bool,
}

/// The pins, each at the first free spot around its place, beside the glass where there is one.
fn arranged(
    findings: &[Finding],
    filter: Filter,
    around: &Surroundings<'_>,
    to_screen: impl Fn(nalgebra::Vector2<f64>) -> Pos2,
) -> Vec<Pin> {
    let mut pins: Vec<Pin> = Vec::new();
    let Surroundings { bench, taken, covers } = *around;
    for (first, members) in by_piece(findings, filter) {
        let Some(place) = first.at.map(&to_screen).filter(|place| bench.contains(*place)) else {
            continue;
        };
        let size = vec2(WIDE[usize::from(members.len() > 1)], HIGH);
        let is_free = |rect: &Rect| {
            // With room for a number, should it get one.
            let rect = Rect::from_min_size(rect.min, vec2(WIDE[1], HIGH)).expand(CLEAR);
            bench.contains_rect(rect)
                && !taken.iter().any(|t| t.intersects(rect))
                && !pins
                    .iter()
                    .any(|pin| pin.rect.intersects(rect) || rect.contains(pin.place))
        };
        let sees_glass = pins.len() < MOST_CAREFUL;
        let bare = spots(place, size).find(|rect| sees_glass && is_free(rect) && !covers(*rect));
        let spot = bare.or_else(|| spots(place, size).find(is_free));
        match (spot, nearest(&mut pins, place)) {
            (Some(rect), _) => pins.push(Pin {
                findings: members,
                place,
                rect,
            }),
            (None, Some(pin)) => {
                pin.findings.extend(members);
                pin.findings.sort_by_key(|i| (findings[*i].severity, *i));
                pin.rect.set_width(WIDE[1].max(pin.rect.width()));
            }
            (None, None) => {}
        }
    }
    pins
}

/// The findings that pass, by piece, the pieces with the gravest first.
fn by_piece(findings: &[Finding], filter: Filter) -> Vec<(&Finding, Vec<usize>)> {
    let mut found: Vec<(&Finding, Vec<usize>)> = Vec::new();
    // Findings come the gravest first, and so do the groups.
    for (i, finding) in findings.iter().enumerate() {
        if !filter.shows(finding.severity) || finding.at.is_none() {
            continue;
        }
        match found.iter_mut().find(|(first, _)| first.piece == finding.piece) {
            Some((_, members)) => members.push(i),
            None => found.push((finding, vec![i])),
        }
    }
    found
}

/// Spots for a pin, the best first: to the upper right, then around, then farther off.
fn spots(place: Pos2, size: Vec2) -> impl Iterator<Item = Rect> {
    const WAYS: [f32; 8] = [-45.0, -135.0, 45.0, 135.0, 0.0, 180.0, -90.0, 90.0];
    REACHES.into_iter().flat_map(move |reach| {
        WAYS.into_iter().map(move |way| {
            let (sin, cos) = way.to_radians().sin_cos();
            Rect::from_center_size(place + vec2(cos, sin) * reach, size)
        })
    })
}

fn nearest(pins: &mut [Pin], place: Pos2) -> Option<&mut Pin> {
    pins.iter_mut().min_by(|a, b| {
        let far = |pin: &Pin| pin.rect.center().distance_sq(place);
        far(a).total_cmp(&far(b))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::Known;
    use crate::findings::Severity;
    use nalgebra::Vector2;

    fn finding(severity: Severity, piece: &str, at: [f64; 2]) -> Finding {
        Finding {
            severity,
            rule: "rule",
            piece: piece.to_owned(),
            what: "It is bent".to_owned(),
            why: String::new(),
            mend: String::new(),
            known: Known::Memory,
            at: Some(Vector2::from(at)),
        }
    }

    #[allow(clippy::cast_possible_truncation, reason = "places on a screen")]
    fn screen(at: Vector2<f64>) -> Pos2 {
        pos2(at.x as f32, at.y as f32)
    }

    fn bench() -> Rect {
        Rect::from_min_size(Pos2::ZERO, vec2(600.0, 400.0))
    }

    fn around(taken: &[Rect]) -> Surroundings<'_> {
        Surroundings {
            bench: bench(),
            taken,
            covers: &|rect| rect.intersects(Rect::from_min_size(pos2(0.0, 0.0), vec2(600.0, 20.0))),
        }
    }

    #[test]
    fn a_pin_leaves_the_glass_bare_where_it_can() {
        let list = [finding(Severity::Stop, "a", [300.0, 24.0])];
        let pins = arranged(&list, Filter::default(), &around(&[]), screen);
        assert!(pins[0].rect.top() > 20.0, "{pins:?}");
    }

    #[test]
    fn pins_cover_neither_each_other_nor_names() {
        let list: Vec<Finding> = (0..14)
            .map(|i| {
                finding(
                    Severity::Watch,
                    &format!("vial-{i}"),
                    [60.0 + 34.0 * f64::from(i), 200.0],
                )
            })
            .collect();
        let name = Rect::from_center_size(pos2(300.0, 175.0), vec2(60.0, 16.0));
        let pins = arranged(&list, Filter::default(), &around(&[name]), screen);
        assert_eq!(pins.len(), list.len());
        for (i, pin) in pins.iter().enumerate() {
            assert!(!pin.rect.intersects(name) && bench().contains_rect(pin.rect), "{pin:?}");
            for other in &pins[..i] {
                assert!(!pin.rect.intersects(other.rect), "{pin:?} {other:?}");
            }
        }
    }

    #[test]
    fn several_findings_at_one_piece_are_one_pin_led_by_the_gravest() {
        let list = [
            finding(Severity::Stop, "b", [300.0, 200.0]),
            finding(Severity::Watch, "a", [100.0, 200.0]),
            finding(Severity::Note, "b", [320.0, 220.0]),
        ];
        let pins = arranged(&list, Filter::default(), &around(&[]), screen);
        assert_eq!(pins.len(), 2);
        assert_eq!(pins[0].findings, [0, 2]);
        assert!(words(&list, &pins[0]).starts_with("Pin at b: 1 stop, 1 note"));
    }

    #[test]
    fn what_finds_no_spot_is_counted_into_the_nearest_pin() {
        let list: Vec<Finding> = (0..60)
            .map(|i| finding(Severity::Note, &format!("vial-{i}"), [300.0, 200.0]))
            .collect();
        let pins = arranged(&list, Filter::default(), &around(&[]), screen);
        assert!(pins.len() < list.len());
        assert_eq!(pins.iter().map(|pin| pin.findings.len()).sum::<usize>(), list.len());
        for (i, pin) in pins.iter().enumerate() {
            assert!(
                pins[..i].iter().all(|other| !other.rect.intersects(pin.rect)),
                "{pin:?}"
            );
        }
    }

    #[test]
    fn what_is_filtered_out_or_outside_has_no_pin() {
        let list = [
            finding(Severity::Stop, "a", [900.0, 200.0]),
            Finding {
                at: None,
                ..finding(Severity::Stop, "", [0.0, 0.0])
            },
        ];
        assert!(arranged(&list, Filter::default(), &around(&[]), screen).is_empty());
    }
}
