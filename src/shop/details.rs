//! Views and notes of different sizes laid out over as few pages as can be: in rows, the highest first, each in the first
//! row or on the first page with room for it; what room is left is shared out.

use super::font;
use super::page::{Anchor, Page, Part, Point, Role, Text, Weight};
use super::view::View;
use nalgebra::Vector2;

/// Space about an item, and height of the title of a view, mm.
const SPACE: f64 = 4.0;
const TITLE: f64 = 7.0;
/// Size of the type of a title, mm.
const SIZE: f64 = 3.6;
/// Size of the type of a note, and distance of its lines, mm.
const NOTE: f64 = 2.8;
const LINE: f64 = 3.9;

/// What is laid out.
pub(super) enum Item<'a> {
    /// A view under its title.
    View(String, Box<View<'a>>),
    /// Lines of a note, and its width.
    Note(Vec<String>, f64),
}

impl<'a> Item<'a> {
    /// A view under its title.
    pub(super) fn view(title: String, view: View<'a>) -> Self {
        Self::View(title, Box::new(view))
    }

    /// A note over a width, in parts that are no higher than there is room, mm.
    pub(super) fn notes(text: &str, width: f64, room: f64) -> Vec<Self> {
        let lines = font::broken(text, Weight::Regular, NOTE, width - 2.0 * SPACE);
        let count = (((room - 2.0 * SPACE) / LINE) as usize).max(1);
        let parts = lines.chunks(count);
        parts.map(|lines| Self::Note(lines.to_vec(), width)).collect()
    }

    /// Width and height about a view, mm.
    pub(super) fn about_a_view() -> Vector2<f64> {
        Vector2::new(2.0 * SPACE, TITLE + 2.0 * SPACE)
    }

    /// Width and height, mm.
    pub(super) fn size(&self) -> Vector2<f64> {
        match self {
            Self::View(title, view) => {
                let size = view.size() + Self::about_a_view();
                Vector2::new(size.x.max(font::width(title, Weight::SemiBold, SIZE) + SPACE), size.y)
            }
            Self::Note(lines, width) => Vector2::new(*width, LINE * lines.len() as f64 + 2.0 * SPACE),
        }
    }

    /// Draws it with its upper left corner at a place.
    pub(super) fn draw(&self, page: &mut Page, corner: Point) {
        match self {
            Self::View(title, view) => {
                let size = self.size();
                view.draw(page, [corner + Vector2::new(0.0, TITLE), corner + size]);
                let mut part = Part::new(Role::Heading);
                let at = Point::new(corner.x + size.x / 2.0, corner.y + TITLE);
                part.text(Text::new(title, at, SIZE).bold().anchored(Anchor::Middle));
                page.parts.push(part);
            }
            Self::Note(lines, _) => {
                let mut part = Part::new(Role::Text);
                let mut at = corner + Vector2::new(SPACE, SPACE);
                for line in lines {
                    at.y += LINE;
                    part.text(Text::new(line, at, NOTE));
                }
                page.parts.push(part);
            }
        }
    }
}

/// Pages of a size with items in an area of each.
pub(super) fn pages(items: &[Item<'_>], size: Point, area: [Point; 2]) -> Vec<Page> {
    let room = area[1] - area[0];
    let sizes: Vec<Vector2<f64>> = items.iter().map(Item::size).collect();
    let mut pages = Vec::new();
    for rows in pack(&sizes, room) {
        let mut page = Page::new(size);
        let height: f64 = rows.iter().map(|row| row.height).sum();
        let above = ((room.y - height) / (rows.len() + 1) as f64).max(0.0);
        let mut y = area[0].y;
        for row in rows {
            y += above;
            let before = ((room.x - row.width) / (row.items.len() + 1) as f64).max(0.0);
            let mut x = area[0].x;
            for k in row.items {
                x += before;
                items[k].draw(&mut page, Point::new(x, y));
                x += sizes[k].x;
            }
            y += row.height;
        }
        pages.push(page);
    }
    pages
}

/// A row of items.
#[derive(Clone, Debug, Default, PartialEq)]
struct Row {
    width: f64,
    height: f64,
    /// Indices, in their order.
    items: Vec<usize>,
}

/// The rows of every page. An item larger than the room has a page of its own.
fn pack(sizes: &[Vector2<f64>], room: Vector2<f64>) -> Vec<Vec<Row>> {
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by(|a, b| sizes[*b].y.total_cmp(&sizes[*a].y));
    let mut pages: Vec<Vec<Row>> = Vec::new();
    for k in order {
        let size = sizes[k];
        // The rows that are there are at least as high as this item.
        let mut rows = pages.iter_mut().flatten();
        if let Some(row) = rows.find(|row| row.width + size.x <= room.x) {
            row.width += size.x;
            row.items.push(k);
            row.items.sort_unstable();
            continue;
        }
        let row = Row {
            width: size.x,
            height: size.y,
            items: vec![k],
        };
        let height = |page: &Vec<Row>| page.iter().map(|row| row.height).sum::<f64>();
        match pages.iter_mut().find(|page| height(page) + size.y <= room.y) {
            Some(page) => page.push(row),
            None => pages.push(vec![row]),
        }
    }
    pages
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_item_has_its_place_and_no_page_could_hold_the_next(
            sizes in prop::collection::vec((5.0..260.0_f64, 5.0..150.0_f64), 0..20),
        ) {
            let room = Vector2::new(267.0, 150.0);
            let sizes: Vec<Vector2<f64>> = sizes.into_iter().map(|(x, y)| Vector2::new(x, y)).collect();
            let pages = pack(&sizes, room);
            let mut all: Vec<usize> = pages.iter().flatten().flat_map(|row| row.items.clone()).collect();
            all.sort_unstable();
            prop_assert_eq!(all, (0..sizes.len()).collect::<Vec<usize>>());
            for rows in &pages {
                prop_assert!(rows.iter().map(|row| row.height).sum::<f64>() <= room.y + 1e-9);
                for row in rows {
                    let width: f64 = row.items.iter().map(|k| sizes[*k].x).sum();
                    prop_assert!((width - row.width).abs() < 1e-9 && width <= room.x + 1e-9);
                    prop_assert!(row.items.iter().all(|k| sizes[*k].y <= row.height));
                }
            }
        }
    }

    #[test]
    fn what_is_low_goes_under_what_is_wide() {
        let sizes = [(200.0, 60.0), (60.0, 119.0), (80.0, 90.0), (100.0, 30.0)].map(|(x, y)| Vector2::new(x, y));
        let pages = pack(&sizes, Vector2::new(267.0, 150.0));
        let items = |page: usize| -> Vec<Vec<usize>> { pages[page].iter().map(|row| row.items.clone()).collect() };
        assert_eq!(items(0), [vec![1, 2, 3]]);
        assert_eq!(items(1), [vec![0]]);
    }
}
