//! Sets leaves onto pages: chunks that stay whole, one below the other, and a new page where the next has no room.

use super::blocks;
use super::figures::Pictures;
use super::header::{BOTTOM, MARGIN, TOP};
use super::leaf::Leaf;
use super::page::{Page, Paper, Part, Point};

/// What stays whole on a page. Its parts lie in a frame of their own: x from the left edge of the text, y from its top.
#[derive(Clone, Debug, Default)]
pub struct Chunk {
    /// Height, mm.
    pub height: f64,
    /// Space above it where it does not begin a page, mm.
    pub above: f64,
    /// What is drawn.
    pub parts: Vec<Part>,
    /// Whether it stays with the next chunk.
    pub keeps_next: bool,
    /// What goes before it on a new page: the head of its table.
    pub head: Option<Box<Chunk>>,
}

impl Chunk {
    /// Height with the space above, mm.
    fn whole(&self) -> f64 {
        self.above + self.height
    }
}

/// Sets a leaf onto upright pages. Tables are counted on from `tables`.
pub fn pages(leaf: &Leaf, pictures: &Pictures<'_>, paper: Paper, tables: &mut usize) -> Vec<Page> {
    let size = paper.portrait();
    let width = size.x - 2.0 * MARGIN;
    let chunks = blocks::chunks(leaf, pictures, width, tables);
    let mut setter = Setter {
        size,
        pages: vec![Page::new(size)],
        y: TOP,
        is_fresh: true,
    };
    for (i, chunk) in chunks.iter().enumerate() {
        // What stays with the next needs room for it too; a chain longer than a page is broken.
        let mut need = chunk.whole();
        let mut k = i;
        while chunks[k].keeps_next && k + 1 < chunks.len() {
            k += 1;
            need += chunks[k].whole();
        }
        setter.put(chunk, need);
    }
    let mut pages = setter.pages;
    if let Some(first) = pages.first_mut() {
        first.bookmark = Some(leaf.title.clone());
    }
    pages
}

struct Setter {
    size: Point,
    pages: Vec<Page>,
    y: f64,
    /// Whether nothing stands on the page yet.
    is_fresh: bool,
}

impl Setter {
    fn put(&mut self, chunk: &Chunk, need: f64) {
        let end = self.size.y - BOTTOM;
        let whole_page = end - TOP;
        let has_room = self.y + chunk.whole() <= end && (self.y + need <= end || need > whole_page);
        if !has_room && !self.is_fresh {
            self.pages.push(Page::new(self.size));
            self.y = TOP;
            self.is_fresh = true;
            if let Some(head) = &chunk.head {
                self.place(head);
            }
        }
        self.place(chunk);
    }

    fn place(&mut self, chunk: &Chunk) {
        if !self.is_fresh {
            self.y += chunk.above;
        }
        let by = Point::new(MARGIN, self.y);
        if let Some(page) = self.pages.last_mut() {
            page.parts.extend(chunk.parts.iter().map(|part| part.clone().moved(by)));
        }
        self.y += chunk.height;
        self.is_fresh = false;
    }
}

#[cfg(test)]
mod tests {
    use super::super::leaf::{Block, Field, Step, Table};
    use super::super::page::{Role, Thing};
    use super::*;

    fn long_leaf() -> Leaf {
        let row = |k: usize| vec![format!("piece-{k}"), format!("{k}.5"), String::new()];
        Leaf {
            title: "Cut list".to_owned(),
            blocks: vec![
                Block::Heading("Pieces".to_owned()),
                Block::Table(Table {
                    heads: vec!["Piece".to_owned(), "Length, mm".to_owned(), "Cut…".to_owned()],
                    rows: (0..90).map(row).collect(),
                    numbers: vec![false, true, false],
                }),
                Block::Caution("Wear didymium glasses.".repeat(30)),
                Block::Steps(vec![Step {
                    text: "Fuse the arm. ".repeat(40),
                    cautions: vec!["Keep an open route.".to_owned()],
                    fields: vec![Field {
                        label: "Bore measured, mm".to_owned(),
                        value: String::new(),
                    }],
                    figure: None,
                }]),
            ],
        }
    }

    #[test]
    fn everything_stands_within_its_page_and_heads_are_repeated() {
        let built = crate::geom::build::Built::default();
        let plate = super::super::plate::Plate::of(&built);
        let pictures = Pictures {
            plate: &plate,
            outcome: None,
        };
        let pages = pages(&long_leaf(), &pictures, Paper::A4, &mut 0);
        assert!(pages.len() >= 3, "90 rows and more");
        let mut rows = 0;
        for page in &pages {
            let texts = page
                .parts
                .iter()
                .flat_map(|part| &part.things)
                .filter_map(|thing| match thing {
                    Thing::Text(text) => Some(text),
                    _ => None,
                });
            let mut heads = 0;
            for text in texts {
                let width = super::super::font::width(&text.text, text.weight, text.size);
                assert!(text.at.x >= MARGIN && text.at.y >= TOP && text.at.y <= page.size.y - BOTTOM);
                assert!(width <= page.size.x - 2.0 * MARGIN + 1e-9, "{}", text.text);
                heads += usize::from(text.text == "Length, mm");
                rows += usize::from(text.text.starts_with("piece-"));
            }
            let cells = page
                .parts
                .iter()
                .any(|part| matches!(part.role, Role::Cell { is_head: false, .. }));
            assert_eq!(heads, usize::from(cells), "a head over the rows of every page");
        }
        assert_eq!(rows, 90, "no row is lost");
    }
}
