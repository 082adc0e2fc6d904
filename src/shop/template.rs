//! The full-size template: the glass 1:1 with its centrelines, tangent points, meetings, necks and seal-off places, to
//! compare the work with. On paper it is tiled; as one sheet it is as large as it must be.

use super::font::{self, broken};
use super::header::{self, BAR, BESIDE, CHECK, Heading, MARGIN, TOP, check_bar};
use super::names::{self, Kept};
use super::page::{Anchor, Layer, Page, Paper, Part, Placing, Point, Role, Text, Tone, Weight, circle, rectangle};
use super::plate::{Details, Plate, SMALL};
use super::tiling::{OVERLAP, ROOM, Tile, Tiling};
use crate::units::fixed;
use nalgebra::Vector2;

/// What is drawn.
const DETAILS: Details = Details {
    tinted: false,
    centrelines: true,
    marks: true,
    ticks: true,
    is_small: false,
};

/// What the marks on the glass are.
const LEGEND: &str = "Bars across: bends, tapers and necks begin and end; on a body also its fill, held upright. Ringed \
                      crosses on the glass: centrelines meet. Thick dashes: seal off here.";

/// The tiled template: an overview with the map of the tiles, then the tiles that show glass.
pub fn pages(plate: &Plate<'_>, heading: &Heading, paper: Paper) -> Vec<Page> {
    let [low, high] = plate.extent(0.0);
    let tiling = Tiling::of(low, high, paper);
    let shown = shown(plate, &tiling);
    let mut pages = Vec::with_capacity(shown.len() + 1);
    if shown.len() > 1 {
        pages.push(map(plate, &tiling, &shown));
    }
    pages.extend(shown.iter().map(|tile| tile_page(plate, &tiling, tile, &shown)));
    if let Some(first) = pages.first_mut() {
        first.bookmark = Some(heading.sheet.clone());
    }
    pages
}

/// The template as one sheet.
pub fn whole(plate: &Plate<'_>, heading: &Heading) -> Page {
    let [low, high] = plate.extent(0.0);
    let border = Vector2::new(MARGIN + 10.0, TOP + 4.0);
    let size = high - low + Vector2::repeat(2.0 * ROOM) + border + Vector2::new(MARGIN, 34.0);
    let size = Vector2::new(size.x.max(BAR + 130.0), size.y.max(BAR + 70.0));
    let origin = Point::new(border.x + ROOM - low.x, border.y + ROOM + high.y);
    let mut page = Page::new(size);
    let window = [border, size - Vector2::new(MARGIN, 34.0)];
    glass(&mut page, plate, full_size(origin), window, Vec::new());
    bars(&mut page, size.y - 26.0);
    header::number(std::slice::from_mut(&mut page), heading, 0, 1);
    page
}

fn full_size(origin: Point) -> Placing {
    Placing {
        scale: 1.0,
        turn: 0.0,
        origin,
    }
}

/// The tiles with glass on them.
fn shown<'t>(plate: &Plate<'_>, tiling: &'t Tiling) -> Vec<&'t Tile> {
    tiling.tiles.iter().filter(|tile| shows_glass(plate, tile)).collect()
}

/// Whether a wall runs through a tile.
fn shows_glass(plate: &Plate<'_>, tile: &Tile) -> bool {
    // Of an arc that is drawn as chords this close no part that matters lies beyond them.
    let mut outlines = plate.drawing.glass.iter().map(|glass| glass.outer.points(0.05));
    outlines.any(|points| crosses(&points, tile))
}

/// Whether a closed line crosses a tile: it is looked at every 2 mm.
fn crosses(points: &[Vector2<f64>], tile: &Tile) -> bool {
    let n = points.len();
    (0..n).any(|i| {
        let (a, b) = (points[i], points[(i + 1) % n]);
        let steps = ((b - a).norm() / 2.0).ceil().max(1.0) as usize;
        (0..=steps).any(|k| tile.holds(a + (b - a) * (k as f64 / steps as f64)))
    })
}

fn tile_page(plate: &Plate<'_>, tiling: &Tiling, tile: &Tile, shown: &[&Tile]) -> Page {
    let mut page = Page::new(tiling.page);
    let origin = tiling.corner + Vector2::new(-tile.low.x, tile.high.y);
    let placing = full_size(origin);
    let window = [tiling.corner, tiling.corner + tiling.window];
    let mut part = Part::new(Role::Title);
    let title = if shown.len() > 1 {
        format!("Full-size template, tile {}", tile.name())
    } else {
        "Full-size template".to_owned()
    };
    part.text(Text::new(title, Point::new(tiling.corner.x, TOP - 2.2), 3.4).bold());
    page.parts.push(part);
    let mut part = Part::new(Role::Furniture);
    let [x, y] = [tile.low.x, tile.low.y].map(|mm| fixed(mm, 2));
    let place = format!("lower left corner of the frame: x {x}, y {y} mm");
    let place = Text::new(place, Point::new(tiling.corner.x + tiling.window.x, TOP - 2.2), 2.6);
    part.text(place.anchored(Anchor::End).toned(Tone::Grey));
    page.parts.push(part);
    let mut frame = Part::new(Role::Furniture);
    frame.rectangle(Layer::Rule, tiling.corner, tiling.window);
    frame.clip = Some(window);
    let mut kept = Vec::new();
    for mark in tiling.registers().into_iter().filter(|mark| tile.holds(*mark)) {
        let at = placing.point(mark);
        register(&mut frame, at);
        kept.push([at - Vector2::repeat(4.0), at + Vector2::repeat(4.0)]);
    }
    for (text, place) in neighbours(plate, &placing, window, tile, shown) {
        frame.text(text);
        kept.push(place);
    }
    glass(&mut page, plate, placing, window, kept);
    page.parts.push(frame);
    bars(&mut page, tiling.page.y - 23.0);
    page
}

/// The glass within a window, with its names, which keep clear of what is `kept`.
fn glass(page: &mut Page, plate: &Plate<'_>, placing: Placing, window: [Point; 2], kept: Vec<[Point; 2]>) {
    let mut part = Part::new(Role::Figure("The glass in full size.".to_owned()));
    part.clip = Some(window);
    plate.draw(&mut part, &placing, DETAILS);
    page.parts.push(part);
    let mut part = Part::new(Role::Text);
    let mut wanted = plate.names(&placing, false);
    wanted.extend(plate.fittings(&placing));
    let ticks = plate.drawing.ticks.iter().map(|tick| {
        let [a, b] = tick.ends.map(|p| placing.point(p));
        [a.inf(&b), a.sup(&b)]
    });
    let kept = Kept {
        texts: ticks.chain(kept).collect(),
        ..Kept::default()
    };
    let is_glass = |p: Point| plate.is_at(&placing, p, 0.6);
    names::draw(&mut part, &names::place(&wanted, window, &is_glass, &kept));
    page.parts.push(part);
}

/// A mark that lies on two tiles.
fn register(part: &mut Part, at: Point) {
    let arm = Vector2::new(4.0, 0.0);
    part.line(Layer::Register, at - arm, at + arm);
    part.line(Layer::Register, at - arm.yx(), at + arm.yx());
    part.circle(Layer::Register, at, 2.0);
}

/// The names of the tiles that are laid to this one, beside their edges where no glass is, and what each covers.
fn neighbours(
    plate: &Plate<'_>,
    placing: &Placing,
    [low, high]: [Point; 2],
    tile: &Tile,
    shown: &[&Tile],
) -> Vec<(Text, [Point; 2])> {
    const SIZE: f64 = 2.5;
    let size = high - low;
    let mut found = Vec::new();
    for other in shown {
        let across = other.column as i64 - tile.column as i64;
        let down = other.row as i64 - tile.row as i64;
        if across.abs() + down.abs() != 1 {
            continue;
        }
        let words = format!("{} joins here", other.name());
        let half = font::width(&words, Weight::Regular, SIZE) / 2.0;
        let inset = 1.0 + SIZE / 2.0;
        let place = |part: f64| match (across, down) {
            (-1, _) => Point::new(low.x + inset, low.y + size.y * part),
            (1, _) => Point::new(high.x - inset, low.y + size.y * part),
            (_, -1) => Point::new(low.x + size.x * part, low.y + inset),
            _ => Point::new(low.x + size.x * part, high.y - inset),
        };
        let reach = if across == 0 {
            Vector2::new(half, SIZE / 2.0)
        } else {
            Vector2::new(SIZE / 2.0, half)
        };
        let is_free = |middle: &Point| {
            let along = (-4..=4).flat_map(|k| [-1.0, 1.0].map(|side| (f64::from(k) / 4.0, side)));
            let mut corners = along.map(|(part, side)| {
                let by = if across == 0 {
                    Vector2::new(part, side)
                } else {
                    Vector2::new(side, part)
                };
                middle + reach.component_mul(&by)
            });
            corners.all(|p| !plate.is_at(placing, p, 1.0))
        };
        let mut places = [0.5, 0.4, 0.6, 0.35, 0.65, 0.15, 0.85].into_iter().map(place);
        let middle = places.find(is_free).unwrap_or_else(|| place(0.5));
        // The baseline lies below the middle of the letters, or beside it where they run upwards.
        let drop = SIZE * font::CAPITALS / 2.0;
        let (angle, at) = if across == 0 {
            (0.0, middle + Vector2::new(0.0, drop))
        } else {
            (90.0, middle + Vector2::new(drop, 0.0))
        };
        let text = Text::new(words, at, SIZE).turned(angle).toned(Tone::Grey);
        found.push((text.anchored(Anchor::Middle), [middle - reach, middle + reach]));
    }
    found
}

/// Both check bars and the words to them.
fn bars(page: &mut Page, foot: f64) {
    let mut part = Part::new(Role::Furniture);
    check_bar(&mut part, Point::new(MARGIN + 4.0, TOP + 2.0), true);
    check_bar(&mut part, Point::new(MARGIN + 9.0, foot), false);
    page.parts.push(part);
    let mut words = Part::new(Role::Text);
    let at = Point::new(MARGIN + 9.0, foot + 5.0);
    words.text(Text::new(CHECK, at, 2.8));
    words.text(Text::new(BESIDE, at + Vector2::new(0.0, 4.2), 2.8).bold());
    let legend = Point::new(at.x + BAR + 6.0, foot - 4.4);
    let most = page.size.x - MARGIN - legend.x;
    for (k, line) in broken(LEGEND, Weight::Regular, 2.5, most).into_iter().enumerate() {
        words.text(Text::new(line, legend + Vector2::new(0.0, 3.3 * k as f64), 2.5));
    }
    page.parts.push(words);
}

/// The map: the whole glass, reduced, with the tiles over it.
fn map(plate: &Plate<'_>, tiling: &Tiling, shown: &[&Tile]) -> Page {
    let mut page = Page::new(tiling.page);
    let mut part = Part::new(Role::Title);
    let left = tiling.corner.x;
    part.text(Text::new("Full-size template: map of the tiles", Point::new(left, TOP + 4.0), 4.6).bold());
    page.parts.push(part);
    let mut part = Part::new(Role::Text);
    let lines = [
        format!("{} tiles. Neighbours overlap by {OVERLAP} mm.", shown.len()),
        "1. Print at 100 % and check both bars of every page with a rule.".to_owned(),
        "2. Lay the pages together so that the ringed crosses of both coincide; fix them with tape.".to_owned(),
        "3. Check a long dimension of the drawing over the joint before you rely on it.".to_owned(),
    ];
    for (k, line) in lines.iter().enumerate() {
        part.text(Text::new(
            line.clone(),
            Point::new(left, TOP + 11.0 + 5.0 * k as f64),
            3.2,
        ));
    }
    page.parts.push(part);

    let area = [Point::new(left, TOP + 32.0), tiling.corner + tiling.window];
    let all = shown.iter().map(|tile| (tile.low, tile.high));
    let ends = all.reduce(|(low, high), (a, b)| (low.inf(&a), high.sup(&b)));
    let (low, high) = ends.unwrap_or((Vector2::zeros(), Vector2::repeat(1.0)));
    let room = area[1] - area[0];
    let scale = (room.x / (high.x - low.x)).min(room.y / (high.y - low.y));
    let placing = Placing {
        scale,
        turn: 0.0,
        origin: area[0]
            + Vector2::new(
                (room.x - (high.x - low.x) * scale) / 2.0 - low.x * scale,
                high.y * scale,
            ),
    };
    let mut part = Part::new(Role::Figure("The whole glass with the tiles over it.".to_owned()));
    plate.draw(
        &mut part,
        &placing,
        Details {
            tinted: true,
            is_small: scale < SMALL,
            ..Details::default()
        },
    );
    for tile in shown {
        let corner = placing.point(Vector2::new(tile.low.x, tile.high.y));
        part.path(Layer::Rule, rectangle(corner, (tile.high - tile.low) * scale));
        let middle = corner + Vector2::repeat(7.0);
        part.fill(Tone::White, circle(middle, 5.0));
        part.circle(Layer::Rule, middle, 5.0);
        let text = Text::new(tile.name(), middle + Vector2::new(0.0, 1.5), 4.0).bold();
        part.text(text.anchored(Anchor::Middle));
    }
    page.parts.push(part);
    bars(&mut page, tiling.page.y - 23.0);
    page
}

#[cfg(test)]
mod tests {
    use super::super::outline::Outlines;
    use super::*;
    use crate::geom::build::build;

    #[test]
    fn all_of_the_glass_is_on_the_pages_and_no_page_is_empty() {
        let built = build(&crate::model::sample::apparatus()).expect("the sample");
        let plate = Plate::of(&built);
        let outlines = Outlines::of(&built);
        let walls: Vec<Vector2<f64>> = outlines.outer.iter().flat_map(|(_, path)| path.points(0.01)).collect();
        let [low, high] = plate.extent(0.0);
        for paper in [Paper::A4, Paper::A3, Paper::Letter] {
            let tiling = Tiling::of(low, high, paper);
            let shown = shown(&plate, &tiling);
            for p in &walls {
                assert!(shown.iter().any(|tile| tile.holds(*p)), "{p} on {}", paper.name());
            }
            for tile in &shown {
                assert!(tile.low.x <= high.x && tile.high.x >= low.x && tile.low.y <= high.y && tile.high.y >= low.y);
            }
        }
    }
}
