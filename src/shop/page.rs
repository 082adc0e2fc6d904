//! A page as a flat list of drawn things, for every writer alike.
//!
//! Millimetres of the paper, x to the right and y **down** from the upper left corner; angles are anticlockwise as seen.

use crate::geom::glass::{Path, Stroke};
use nalgebra::Vector2;

/// A point of the page, mm.
pub type Point = Vector2<f64>;

/// A format of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 x 297 mm (ISO 216).
    A4,
    /// 297 x 420 mm (ISO 216).
    A3,
    /// 8.5 x 11 in (ANSI A).
    Letter,
}

impl Paper {
    /// Width and height, upright, mm.
    pub fn portrait(self) -> Point {
        match self {
            Self::A4 => Point::new(210.0, 297.0),
            Self::A3 => Point::new(297.0, 420.0),
            Self::Letter => Point::new(215.9, 279.4),
        }
    }

    /// Width and height, lying, mm.
    pub fn landscape(self) -> Point {
        self.portrait().yx()
    }

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::Letter => "Letter",
        }
    }
}

/// A page.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Width and height, mm.
    pub size: Point,
    /// Its entry in the list of contents, where it begins something.
    pub bookmark: Option<String>,
    /// What is on it, in the order of reading and of painting.
    pub parts: Vec<Part>,
}

impl Page {
    /// An empty page.
    pub fn new(size: Point) -> Self {
        Self {
            size,
            bookmark: None,
            parts: Vec::new(),
        }
    }
}

/// What belongs together on a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it is to a reader who cannot see it.
    pub role: Role,
    /// Nothing is drawn beyond these corners, upper left and lower right.
    pub clip: Option<[Point; 2]>,
    /// What is drawn.
    pub things: Vec<Thing>,
}

impl Part {
    /// An empty part without clipping.
    pub fn new(role: Role) -> Self {
        Self {
            role,
            clip: None,
            things: Vec::new(),
        }
    }

    /// The same elsewhere.
    pub fn moved(mut self, by: Point) -> Self {
        let placing = Shift(by);
        self.clip = self.clip.map(|corners| corners.map(|p| p + by));
        for thing in &mut self.things {
            match thing {
                Thing::Line { path, .. } | Thing::Area { path, .. } => placing.path(path),
                Thing::Text(text) => text.at += by,
            }
        }
        self
    }

    /// The same larger, from the upper left corner of the page.
    pub fn enlarged(mut self, by: f64) -> Self {
        self.clip = self.clip.map(|corners| corners.map(|p| p * by));
        for thing in &mut self.things {
            match thing {
                Thing::Line { path, .. } | Thing::Area { path, .. } => enlarge(path, by),
                Thing::Text(text) => {
                    text.at *= by;
                    text.size *= by;
                }
            }
        }
        self
    }

    /// Draws a straight line.
    pub fn line(&mut self, layer: Layer, from: Point, to: Point) {
        let strokes = vec![Stroke::Line { to }];
        self.path(layer, polyline(from, strokes, false));
    }

    /// Draws a line through points.
    pub fn lines(&mut self, layer: Layer, points: &[Point]) {
        if let Some(path) = through(points, false) {
            self.path(layer, path);
        }
    }

    /// Draws an upright rectangle.
    pub fn rectangle(&mut self, layer: Layer, corner: Point, size: Point) {
        self.path(layer, rectangle(corner, size));
    }

    /// Draws a circle.
    pub fn circle(&mut self, layer: Layer, centre: Point, radius: f64) {
        self.path(layer, circle(centre, radius));
    }

    /// Draws a path.
    pub fn path(&mut self, layer: Layer, path: Path) {
        self.things.push(Thing::Line { layer, path });
    }

    /// Fills a path.
    pub fn fill(&mut self, tone: Tone, path: Path) {
        self.things.push(Thing::Area { tone, path });
    }

    /// Fills a polygon.
    pub fn fill_polygon(&mut self, tone: Tone, points: &[Point]) {
        if let Some(path) = through(points, true) {
            self.fill(tone, path);
        }
    }

    /// Writes a text.
    pub fn text(&mut self, text: Text) {
        if !text.text.is_empty() {
            self.things.push(Thing::Text(text));
        }
    }
}

/// What a part is to a reader who cannot see it.
#[derive(Clone, Debug, PartialEq)]
pub enum Role {
    /// Frames, page numbers and the like: not read.
    Furniture,
    /// Title of the sheet.
    Title,
    /// A heading.
    Heading,
    /// A paragraph.
    Text,
    /// A picture with a description.
    Figure(String),
    /// A cell of a table; tables are counted through the document, rows through the table.
    Cell {
        /// Which table.
        table: usize,
        /// Which row.
        row: usize,
        /// Whether it heads a column.
        is_head: bool,
    },
}

/// Something drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Thing {
    /// A line.
    Line {
        /// What it shows.
        layer: Layer,
        /// Where it runs.
        path: Path,
    },
    /// A filled area without an edge.
    Area {
        /// Its tone.
        tone: Tone,
        /// Its outline.
        path: Path,
    },
    /// A text.
    Text(Text),
}

/// A text on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// The text.
    pub text: String,
    /// Where its anchor stands on the baseline, mm.
    pub at: Point,
    /// Size of the type, mm.
    pub size: f64,
    /// Weight of the type.
    pub weight: Weight,
    /// Which place of the text stands at `at`.
    pub anchor: Anchor,
    /// Turn about the anchor, degrees anticlockwise.
    pub angle_deg: f64,
    /// Its tone.
    pub tone: Tone,
    /// The layer it goes to where there are layers.
    pub layer: Layer,
}

impl Text {
    /// A black text that starts at a place.
    pub fn new(text: impl Into<String>, at: Point, size: f64) -> Self {
        Self {
            text: text.into(),
            at,
            size,
            weight: Weight::Regular,
            anchor: Anchor::Start,
            angle_deg: 0.0,
            tone: Tone::Black,
            layer: Layer::Text,
        }
    }

    /// In the heavier weight.
    pub fn bold(self) -> Self {
        Self {
            weight: Weight::SemiBold,
            ..self
        }
    }

    /// With another place at its anchor.
    pub fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// In another tone.
    pub fn toned(self, tone: Tone) -> Self {
        Self { tone, ..self }
    }

    /// On another layer.
    pub fn on(self, layer: Layer) -> Self {
        Self { layer, ..self }
    }

    /// Turned, degrees anticlockwise.
    pub fn turned(self, angle_deg: f64) -> Self {
        Self { angle_deg, ..self }
    }
}

/// Weight of the type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// For reading.
    Regular,
    /// For headings and names.
    SemiBold,
}

/// Which place of a text stands at its anchor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Where it starts.
    Start,
    /// Its middle.
    Middle,
    /// Where it ends.
    End,
}

/// A tone of the print. All are told apart in black and white.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Lines and texts.
    Black,
    /// What stands back.
    Grey,
    /// Behind heads of tables.
    Pale,
    /// Paper.
    White,
    /// Walls of glass.
    Wall,
    /// Liquid.
    Liquid,
    /// Behind a caution.
    Signal,
}

impl Tone {
    /// Red, green and blue.
    pub fn rgb(self) -> [u8; 3] {
        match self {
            Self::Black => [0, 0, 0],
            Self::Grey => [85, 85, 85],
            Self::Pale => [236, 238, 240],
            Self::White => [255, 255, 255],
            Self::Wall => [221, 227, 232],
            Self::Liquid => [143, 190, 224],
            Self::Signal => [255, 240, 190],
        }
    }
}

/// What a line or text shows; a layer of the drawing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layer {
    /// Outside of the glass.
    Wall,
    /// Inside of the glass.
    Bore,
    /// Centrelines.
    Centre,
    /// Where bends begin and end.
    Tangent,
    /// Where centrelines meet.
    Cross,
    /// Seal-off places.
    Seal,
    /// Levels and surfaces of liquid.
    Level,
    /// Dimension and extension lines.
    Dimension,
    /// Names of pieces, joints and notes on the glass.
    Name,
    /// Frames, and what is set off.
    Frame,
    /// Rules of tables and forms.
    Rule,
    /// Marks by which pages are laid together, and bars to check the printer.
    Register,
    /// Texts beside the drawing.
    Text,
}

/// A kind of line: width and lengths of dashes and gaps, mm. Widths and patterns after ISO 128-20.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineKind {
    /// Width, mm.
    pub width: f64,
    /// Dashes and gaps in turn, mm; none for a full line.
    pub dashes: &'static [f64],
    /// Tone.
    pub tone: Tone,
}

impl Layer {
    /// All layers.
    pub const ALL: [Self; 13] = [
        Self::Wall,
        Self::Bore,
        Self::Centre,
        Self::Tangent,
        Self::Cross,
        Self::Seal,
        Self::Level,
        Self::Dimension,
        Self::Name,
        Self::Frame,
        Self::Rule,
        Self::Register,
        Self::Text,
    ];

    /// Its name in a drawing file.
    pub fn name(self) -> &'static str {
        match self {
            Self::Wall => "WALL",
            Self::Bore => "BORE",
            Self::Centre => "CENTRELINE",
            Self::Tangent => "TANGENT",
            Self::Cross => "CROSS",
            Self::Seal => "SEAL",
            Self::Level => "LEVEL",
            Self::Dimension => "DIMENSION",
            Self::Name => "NAME",
            Self::Frame => "FRAME",
            Self::Rule => "RULE",
            Self::Register => "REGISTER",
            Self::Text => "TEXT",
        }
    }

    /// How its lines are drawn.
    pub fn kind(self) -> LineKind {
        let full = |width| (width, &[][..], Tone::Black);
        let (width, dashes, tone) = match self {
            Self::Wall => full(0.35),
            Self::Bore | Self::Cross | Self::Tangent | Self::Name => full(0.18),
            Self::Centre => (0.13, &[6.0, 0.8, 0.5, 0.8][..], Tone::Grey),
            Self::Seal => (0.5, &[1.5, 0.8][..], Tone::Black),
            Self::Level => full(0.25),
            Self::Dimension => full(0.13),
            Self::Frame => full(0.5),
            Self::Rule | Self::Text => (0.13, &[][..], Tone::Grey),
            Self::Register => full(0.18),
        };
        LineKind { width, dashes, tone }
    }
}

fn polyline(start: Point, strokes: Vec<Stroke>, closed: bool) -> Path {
    Path { start, strokes, closed }
}

/// The line through points; none where there are fewer than two.
pub fn through(points: &[Point], closed: bool) -> Option<Path> {
    let (&start, rest) = points.split_first()?;
    let strokes: Vec<Stroke> = rest.iter().map(|&to| Stroke::Line { to }).collect();
    (!strokes.is_empty()).then(|| polyline(start, strokes, closed))
}

/// An upright rectangle from its upper left corner.
pub fn rectangle(corner: Point, size: Point) -> Path {
    let far = corner + size;
    let to = |x, y| Stroke::Line { to: Point::new(x, y) };
    let strokes = vec![to(far.x, corner.y), to(far.x, far.y), to(corner.x, far.y)];
    polyline(corner, strokes, true)
}

/// A circle.
pub fn circle(centre: Point, radius: f64) -> Path {
    let arc = Stroke::Arc {
        centre,
        heading: 0.0,
        semi_axial: radius,
        semi_radial: radius,
        start: 0.0,
        sweep: std::f64::consts::TAU,
    };
    polyline(arc.point(0.0), vec![arc], true)
}

fn enlarge(path: &mut Path, by: f64) {
    path.start *= by;
    for stroke in &mut path.strokes {
        match stroke {
            Stroke::Line { to } => *to *= by,
            Stroke::Arc {
                centre,
                semi_axial,
                semi_radial,
                ..
            } => {
                *centre *= by;
                *semi_axial *= by;
                *semi_radial *= by;
            }
        }
    }
}

/// A move over the page.
struct Shift(Point);

impl Shift {
    fn path(&self, path: &mut Path) {
        path.start += self.0;
        for stroke in &mut path.strokes {
            match stroke {
                Stroke::Line { to } => *to += self.0,
                Stroke::Arc { centre, .. } => *centre += self.0,
            }
        }
    }
}

/// How a drawing in its own millimetres, y up, is put onto a page: turned, scaled, and moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placing {
    /// Millimetres of paper for one of the drawing.
    pub scale: f64,
    /// Turn, radians anticlockwise.
    pub turn: f64,
    /// Where the drawing's origin comes to stand, mm of the page.
    pub origin: Point,
}

impl Placing {
    /// A point on the page.
    pub fn point(&self, p: Vector2<f64>) -> Point {
        let (sin, cos) = self.turn.sin_cos();
        let turned = Vector2::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y) * self.scale;
        self.origin + Vector2::new(turned.x, -turned.y)
    }

    /// The point of the drawing that comes to stand at a point of the page.
    pub fn back(&self, p: Point) -> Vector2<f64> {
        let (sin, cos) = self.turn.sin_cos();
        let turned = Vector2::new(p.x - self.origin.x, self.origin.y - p.y) / self.scale;
        Vector2::new(cos * turned.x + sin * turned.y, cos * turned.y - sin * turned.x)
    }

    /// A direction on the page.
    pub fn way(&self, v: Vector2<f64>) -> Vector2<f64> {
        let (sin, cos) = self.turn.sin_cos();
        Vector2::new(cos * v.x - sin * v.y, -(sin * v.x + cos * v.y))
    }

    /// A path on the page. The page's y runs the other way, so arcs change their sense.
    pub fn path(&self, path: &Path) -> Path {
        let strokes = path.strokes.iter().map(|stroke| match *stroke {
            Stroke::Line { to } => Stroke::Line { to: self.point(to) },
            Stroke::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start,
                sweep,
            } => Stroke::Arc {
                centre: self.point(centre),
                heading: -(heading + self.turn),
                semi_axial: semi_axial * self.scale,
                semi_radial: semi_radial * self.scale,
                start: -start,
                sweep: -sweep,
            },
        });
        Path {
            start: self.point(path.start),
            strokes: strokes.collect(),
            closed: path.closed,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_placed_arc_runs_through_the_placed_points() {
        let arc = Stroke::Arc {
            centre: Vector2::new(10.0, 5.0),
            heading: 0.4,
            semi_axial: 8.0,
            semi_radial: 3.0,
            start: 0.3,
            sweep: 1.9,
        };
        let path = polyline(arc.point(0.0), vec![arc], false);
        let placing = Placing {
            scale: 0.5,
            turn: 0.7,
            origin: Point::new(100.0, 80.0),
        };
        let placed = placing.path(&path);
        for part in [0.0, 0.3, 1.0] {
            let (on_page, there) = (placed.strokes[0].point(part), placing.point(arc.point(part)));
            assert!((on_page - there).norm() < 1e-12, "{on_page} and {there}");
            assert!((placing.back(there) - arc.point(part)).norm() < 1e-12);
        }
        // Up on the drawing is up on the page, at half the length.
        let upright = Placing { turn: 0.0, ..placing };
        assert_eq!(upright.point(Vector2::new(0.0, 10.0)), Point::new(100.0, 75.0));
    }

    #[test]
    fn what_is_enlarged_keeps_its_shape() {
        let mut part = Part::new(Role::Furniture);
        part.circle(Layer::Wall, Point::new(10.0, 20.0), 4.0);
        part.text(Text::new("8", Point::new(1.0, 2.0), 3.0));
        let mut twice = Part::new(Role::Furniture);
        twice.circle(Layer::Wall, Point::new(20.0, 40.0), 8.0);
        twice.text(Text::new("8", Point::new(2.0, 4.0), 6.0));
        assert_eq!(part.enlarged(2.0), twice);
    }
}
