//! A chart on paper: black and coloured ink on white, as SVG.
//!
//! Lines differ by dashes and by the shapes set along them as well as by ink, and each is named beside its run.

use super::chart::{Chart, Dash, INKS, Line, Mark, MarkKind, Panel, Rank, STYLES, Scale, Shape};
use super::labels::{self, Named};
use svg::Document;
use svg::node::element::{Circle, Group, Line as Stroke, Path, Rectangle, Text, Title};

/// Width of the sheet; a quarter of a millimetre each.
const WIDTH: f64 = 960.0;
/// Height of the first panel, and of each further one.
const HEIGHTS: [f64; 2] = [360.0, 170.0];
/// Left, top, right and bottom margins around the panels.
const MARGINS: [f64; 4] = [84.0, 74.0, 28.0, 88.0];
/// Gap between panels.
const GAP: f64 = 22.0;
/// Size of the text.
const TEXT: f64 = 15.0;
/// Width of a letter, on the safe side, as a part of the size of the text.
const LETTER: f64 = 0.56;
/// Dashes of a line across.
const GUIDE_DASHES: &str = "9 5";
/// Distance of the shapes set along a line.
const SHAPES: f64 = 84.0;

const BLACK: &str = "#17242a";
const GREY: &str = "#5a6a72";
const RULE: &str = "#d7dee2";
const LOSS_INK: [u8; 3] = [0xB0, 0x2A, 0x12];
const BACKGROUND_INK: [u8; 3] = [0xA9, 0xB4, 0xBA];

/// The place of a panel on the sheet.
#[derive(Clone, Copy)]
struct Frame {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

impl Frame {
    fn x(&self, scale: &Scale, value: f64) -> f64 {
        self.left + part(scale, value) * (self.right - self.left)
    }

    fn y(&self, scale: &Scale, value: f64) -> f64 {
        self.bottom - part(scale, value) * (self.bottom - self.top)
    }
}

/// Where a value lies on a scale, from 0 to 1; a scale without extent puts all at 0.
fn part(scale: &Scale, value: f64) -> f64 {
    let span = scale.high - scale.low;
    if span > 0.0 { (value - scale.low) / span } else { 0.0 }
}

impl Chart {
    /// The chart as an SVG document.
    pub fn svg(&self) -> String {
        let further = self.panels.len().saturating_sub(1) as f64;
        let tall = HEIGHTS[0] + further * (HEIGHTS[1] + GAP);
        let height = MARGINS[1] + tall + MARGINS[3];
        let mut document = Document::new()
            .set("viewBox", (0, 0, WIDTH, height))
            .set("width", format!("{}mm", WIDTH / 4.0))
            .set("height", format!("{}mm", height / 4.0))
            .set("font-family", "sans-serif")
            .set("font-size", TEXT)
            .add(Title::new(plain(&self.title)))
            .add(box_of([0.0, 0.0, WIDTH, height]).set("fill", "#ffffff"))
            .add(text(&self.title, [MARGINS[0], 34.0], "start", BLACK).set("font-weight", "bold"));
        let mut top = MARGINS[1];
        let mut whole = Frame {
            left: MARGINS[0],
            top,
            right: WIDTH - MARGINS[2],
            bottom: top + tall,
        };
        for (i, panel) in self.panels.iter().enumerate() {
            let frame = Frame {
                top,
                bottom: top + HEIGHTS[i.min(1)],
                ..whole
            };
            document = document.add(self.panel(panel, frame));
            (top, whole.bottom) = (frame.bottom + GAP, frame.bottom);
        }
        for value in self.x.divisions(9) {
            let at = [whole.x(&self.x, value), whole.bottom + 20.0];
            document = document.add(text(&self.x.division_text(value), at, "middle", BLACK));
        }
        let middle = (whole.left + whole.right) / 2.0;
        document
            .add(self.marks(whole))
            .add(text(&self.x.title(), [middle, whole.bottom + 44.0], "middle", BLACK))
            .add(text(&self.note, [whole.left, whole.bottom + 72.0], "start", GREY).set("font-size", 13))
            .to_string()
    }

    fn panel(&self, panel: &Panel, frame: Frame) -> Group {
        let mut group = Group::new();
        for value in panel.y.divisions(((frame.bottom - frame.top) / 50.0) as usize) {
            let y = frame.y(&panel.y, value);
            group = group.add(line([frame.left, y], [frame.right, y], RULE, 1.0)).add(text(
                &panel.y.division_text(value),
                [frame.left - 8.0, y + 5.0],
                "end",
                BLACK,
            ));
        }
        for value in self.x.divisions(9) {
            let x = frame.x(&self.x, value);
            group = group.add(line([x, frame.top], [x, frame.bottom], RULE, 1.0));
        }
        let middle = (frame.top + frame.bottom) / 2.0;
        let title = text(&panel.y.title(), [24.0, middle], "middle", BLACK);
        group = group.add(title.set("transform", format!("rotate(-90 24 {middle:.1})")));
        for guide in &panel.guides {
            let y = frame.y(&panel.y, guide.at);
            let across = line([frame.left, y], [frame.right, y], BLACK, 1.2).set("stroke-dasharray", GUIDE_DASHES);
            let words = text(&guide.name, [frame.left + 6.0, y - 4.0], "start", BLACK).set("font-size", 13);
            group = group.add(across).add(words);
        }
        let mut named = Vec::new();
        for line in &panel.lines {
            let runs = line.runs(panel.y.unit);
            let points = self.points(panel, line, frame);
            let shown: Vec<&[[f64; 2]]> = runs.iter().filter_map(|run| points.get(run.clone())).collect();
            group = group.add(drawn(line, &shown, panel.lines.len() > 1, frame));
            if line.rank != Rank::Background && !shown.is_empty() {
                named.push((
                    line,
                    Named {
                        name: plain(&line.name),
                        points: shown.iter().copied().flatten().copied().collect(),
                    },
                ));
            }
        }
        group = group.add(
            box_of([frame.left, frame.top, frame.right, frame.bottom])
                .set("fill", "none")
                .set("stroke", GREY),
        );
        if self.panels.iter().map(|panel| panel.lines.len()).sum::<usize>() < 2 {
            return group;
        }
        let (lines, names): (Vec<&Line>, Vec<Named>) = named.into_iter().unzip();
        let within = [frame.left + 4.0, frame.top + 4.0, frame.right - 4.0, frame.bottom - 4.0];
        let width = |text: &str| LETTER * TEXT * text.chars().count() as f64;
        for label in labels::place(within, &names, frame.y(&panel.y, 0.0), TEXT + 2.0, width) {
            let ink = lines.get(label.line).map_or_else(|| GREY.to_owned(), |line| ink(line));
            let at = [(label.rect[0] + label.rect[2]) / 2.0, label.rect[3] - 4.0];
            let halo = text(&label.text, at, "middle", &ink)
                .set("stroke", "#ffffff")
                .set("stroke-width", 4)
                .set("stroke-linejoin", "round")
                .set("paint-order", "stroke");
            group = group.add(halo);
        }
        group
    }

    fn points(&self, panel: &Panel, line: &Line, frame: Frame) -> Vec<[f64; 2]> {
        let places = self.xs.iter().zip(&line.values);
        places
            .map(|(x, value)| [frame.x(&self.x, *x), frame.y(&panel.y, *value)])
            .collect()
    }

    /// Upright lines at the marks, each with its name above in the first row where it has room.
    fn marks(&self, frame: Frame) -> Group {
        let mut group = Group::new();
        let mut rows = [f64::NEG_INFINITY; 2];
        let mut marks: Vec<&Mark> = self.marks.iter().collect();
        marks.sort_by(|a, b| a.x.total_cmp(&b.x));
        for mark in marks {
            let x = frame.x(&self.x, mark.x);
            let mut upright = line([x, frame.top], [x, frame.bottom], BLACK, 1.6);
            if let Some(dashes) = mark_dashes(mark.kind) {
                upright = upright.set("stroke-dasharray", dashes);
            }
            group = group.add(upright);
            if let (Some(y), Some(panel)) = (mark.y, self.panels.first()) {
                let first = Frame {
                    bottom: frame.top + HEIGHTS[0],
                    ..frame
                };
                let spot = Circle::new().set("cx", two(x)).set("cy", two(first.y(&panel.y, y)));
                group = group.add(
                    spot.set("r", 4)
                        .set("fill", "#ffffff")
                        .set("stroke", BLACK)
                        .set("stroke-width", 1.6),
                );
            }
            let words = format!("{} {}", mark.kind.name(), self.x.unit.text(mark.x));
            let half = LETTER * TEXT * words.chars().count() as f64 / 2.0;
            let at = x.clamp(frame.left + half, (frame.right - half).max(frame.left + half));
            let row = usize::from(at - half < rows[0] + 6.0);
            rows[row] = at + half;
            let y = frame.top - 6.0 - 17.0 * row as f64;
            group = group.add(text(&words, [at, y], "middle", BLACK));
        }
        group
    }
}

/// A line, in the runs that show something, with the shapes along it where there are others.
fn drawn(line: &Line, runs: &[&[[f64; 2]]], has_shapes: bool, frame: Frame) -> Group {
    let ink = ink(line);
    let mut data = String::new();
    for run in runs {
        for (i, [x, y]) in run.iter().enumerate() {
            data += &format!("{}{x:.2} {y:.2}", if i == 0 { "M" } else { " L" });
        }
    }
    let mut path = Path::new().set("fill", "none").set("stroke", ink.as_str());
    let mut group = Group::new().add(Title::new(plain(&line.name)));
    let Some((index, style)) = line.rank.style() else {
        path = match line.rank {
            Rank::Loss => path.set("stroke-width", 4).set("stroke-dasharray", "12 6"),
            _ => path.set("stroke-width", 0.8),
        };
        return group.add(path.set("d", data));
    };
    let dashes = match style.dash {
        Dash::Solid => None,
        Dash::Long => Some("14 7"),
        Dash::Short => Some("6 5"),
        Dash::Dots => Some("2 5"),
    };
    if let Some(dashes) = dashes {
        path = path.set("stroke-dasharray", dashes);
    }
    group = group.add(
        path.set("stroke-width", 2)
            .set("stroke-linejoin", "round")
            .set("d", data),
    );
    // The shapes of lines that cross stand at different places.
    let mut next = frame.left + SHAPES * (0.3 + index as f64 / STYLES.len() as f64);
    for &[x, y] in runs.iter().copied().flatten() {
        if has_shapes && x >= next && y < frame.bottom - 1.0 {
            group = group.add(shape(style.shape, [x, y], &ink));
            next = x + SHAPES;
        }
    }
    group
}

fn shape(shape: Shape, [x, y]: [f64; 2], ink: &str) -> Path {
    let r = 4.5;
    let polygon = |points: &[[f64; 2]]| {
        let corners: Vec<String> = points
            .iter()
            .map(|[dx, dy]| format!("{:.2} {:.2}", x + r * dx, y + r * dy))
            .collect();
        (format!("M{} Z", corners.join(" L")), true)
    };
    let strokes = |ends: &[[f64; 2]]| {
        let lines: Vec<String> = ends
            .iter()
            .map(|[dx, dy]| {
                let (dx, dy) = (r * dx, r * dy);
                format!("M{:.2} {:.2} L{:.2} {:.2}", x - dx, y - dy, x + dx, y + dy)
            })
            .collect();
        (lines.join(" "), false)
    };
    let (data, filled) = match shape {
        Shape::Disc => (
            format!(
                "M{:.2} {y:.2} a{r} {r} 0 1 0 {d} 0 a{r} {r} 0 1 0 -{d} 0 Z",
                x - r,
                d = 2.0 * r
            ),
            true,
        ),
        Shape::Square => polygon(&[[-0.9, -0.9], [0.9, -0.9], [0.9, 0.9], [-0.9, 0.9]]),
        Shape::Up => polygon(&[[0.0, -1.1], [1.0, 0.8], [-1.0, 0.8]]),
        Shape::Down => polygon(&[[0.0, 1.1], [1.0, -0.8], [-1.0, -0.8]]),
        Shape::Diamond => polygon(&[[0.0, -1.2], [1.2, 0.0], [0.0, 1.2], [-1.2, 0.0]]),
        Shape::Plus => strokes(&[[1.1, 0.0], [0.0, 1.1]]),
        Shape::Cross => strokes(&[[0.9, 0.9], [0.9, -0.9]]),
        Shape::Star => strokes(&[[1.1, 0.0], [0.55, 0.95], [0.55, -0.95]]),
    };
    let path = Path::new().set("d", data);
    if filled {
        path.set("fill", ink)
    } else {
        path.set("fill", "none").set("stroke", ink).set("stroke-width", 1.8)
    }
}

fn mark_dashes(kind: MarkKind) -> Option<&'static str> {
    match kind {
        MarkKind::Present => None,
        MarkKind::Target => Some("10 4"),
        MarkKind::Seal => Some("4 4"),
        MarkKind::Brim => Some("12 3 2 3"),
    }
}

fn ink(line: &Line) -> String {
    let [r, g, b] = match line.rank {
        Rank::Named(index) => INKS[index % INKS.len()],
        Rank::Loss => LOSS_INK,
        Rank::Background => BACKGROUND_INK,
    };
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Without what no document may hold.
fn plain(words: &str) -> String {
    words.chars().filter(|c| !c.is_control()).collect()
}

fn two(value: f64) -> String {
    format!("{value:.2}")
}

fn text(words: &str, [x, y]: [f64; 2], anchor: &str, colour: &str) -> Text {
    Text::new(plain(words))
        .set("x", two(x))
        .set("y", two(y))
        .set("text-anchor", anchor)
        .set("fill", colour)
}

fn line(from: [f64; 2], to: [f64; 2], colour: &str, width: f64) -> Stroke {
    Stroke::new()
        .set("x1", two(from[0]))
        .set("y1", two(from[1]))
        .set("x2", two(to[0]))
        .set("y2", two(to[1]))
        .set("stroke", colour)
        .set("stroke-width", width)
}

fn box_of([left, top, right, bottom]: [f64; 4]) -> Rectangle {
    Rectangle::new()
        .set("x", two(left))
        .set("y", two(top))
        .set("width", two(right - left))
        .set("height", two(bottom - top))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::out::chart::Unit;
    use quick_xml::Reader;
    use quick_xml::events::Event;

    fn chart() -> Chart {
        let scale = |name: &str, unit, low, high| Scale {
            name: name.to_owned(),
            unit,
            low,
            high,
        };
        let xs: Vec<f64> = (0..=40).map(|i| -180.0 + 9.0 * f64::from(i)).collect();
        let line = |name: &str, rank, height: f64| Line {
            name: name.to_owned(),
            rank,
            values: xs.iter().map(|x| height * (1.0 - (x / 180.0).powi(2))).collect(),
        };
        Chart {
            title: "Held <by> each & every \"vial\"\u{1}".to_owned(),
            note: "From the charge as given.".to_owned(),
            x: scale("Tilt", Unit::Degree, -180.0, 180.0),
            panels: vec![
                Panel {
                    y: scale("Volume", Unit::Millilitre, 0.0, 2.0),
                    lines: vec![
                        line("a<b", Rank::Named(0), 1.0),
                        line("c", Rank::Named(9), 1.9),
                        line("d", Rank::Background, 0.5),
                        line("lost", Rank::Loss, 0.2),
                    ],
                    ..Panel::default()
                },
                Panel {
                    y: scale("Free surface", Unit::SquareCentimetre, 0.0, 3.0),
                    lines: vec![line("c", Rank::Named(1), 2.0)],
                    ..Panel::default()
                },
            ],
            marks: vec![Mark {
                kind: MarkKind::Present,
                x: -27.0,
                y: Some(0.9),
            }],
            xs,
        }
    }

    /// Names of elements, and all text, of a document that must be sound.
    fn read(document: &str) -> (Vec<String>, Vec<String>) {
        let mut reader = Reader::from_str(document);
        reader.config_mut().check_end_names = true;
        let (mut names, mut texts) = (Vec::new(), Vec::new());
        loop {
            match reader.read_event().unwrap() {
                Event::Eof => return (names, texts),
                Event::Start(element) | Event::Empty(element) => {
                    assert!(element.attributes().all(|attribute| attribute.is_ok()));
                    names.push(String::from_utf8(element.name().as_ref().to_vec()).unwrap());
                }
                Event::Text(text) => texts.push(text.decode().unwrap().into_owned()),
                Event::GeneralRef(reference) => texts.push(reference.decode().unwrap().into_owned()),
                _ => {}
            }
        }
    }

    #[test]
    fn the_document_is_sound_and_holds_every_line() {
        let svg = chart().svg();
        let (names, texts) = read(&svg);
        assert_eq!(names[0], "svg");
        // Lines of three styles and their shapes.
        assert!(names.iter().filter(|name| *name == "path").count() > 5 + 2 * 6);
        let text = texts.join(" ");
        for expected in [
            "Volume, mL",
            "Free surface, cm²",
            "Tilt, °",
            "now −27.0°",
            "From the charge as given.",
        ] {
            assert!(text.contains(expected), "{expected} in {text}");
        }
        assert!(!svg.contains('\u{1}') && !svg.contains("NaN"));
        for ink in [INKS[0], INKS[1]] {
            let [r, g, b] = ink;
            assert!(svg.contains(&format!("#{r:02x}{g:02x}{b:02x}")), "{ink:?}");
        }
        assert!(svg.contains("stroke-dasharray=\"14 7\""));
    }

    #[test]
    fn points_stand_where_their_numbers_do() {
        let chart = chart();
        let frame = Frame {
            left: 100.0,
            top: 50.0,
            right: 500.0,
            bottom: 250.0,
        };
        let points = chart.points(&chart.panels[0], &chart.panels[0].lines[0], frame);
        assert_eq!(points.len(), chart.xs.len());
        // Tilt 0, volume 1 of 2: the middle.
        assert_eq!(points[20], [300.0, 150.0]);
        assert_eq!(points[0], [100.0, 250.0]);
    }

    #[test]
    fn a_chart_without_lines_is_a_document_too() {
        let (names, _) = read(&Chart::default().svg());
        assert_eq!(names[0], "svg");
    }
}
