//! What a sheet says, before it has pages: plain data that anything can set in type.

/// One sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Leaf {
    /// Its title.
    pub title: String,
    /// What stands on it, in order.
    pub blocks: Vec<Block>,
}

/// A part of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading.
    Heading(String),
    /// Running text.
    Text(String),
    /// A warning, set off unmistakably and with a sign.
    Caution(String),
    /// A source or an assumption, small.
    Note(String),
    /// Form fields in two columns.
    Fields(Vec<Field>),
    /// A table.
    Table(Table),
    /// Numbered steps, each with a box to tick.
    Steps(Vec<Step>),
    /// A picture.
    Figure(Figure),
}

/// A form field.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// What is asked.
    pub label: String,
    /// What is known; empty, there is a line to write on.
    pub value: String,
}

/// A table.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// The rows; an empty cell in a column whose head ends with `…` is a line to write on.
    pub rows: Vec<Vec<String>>,
    /// Whether a column holds numbers and stands to the right.
    pub numbers: Vec<bool>,
}

/// A step.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is done.
    pub text: String,
    /// What to mind while doing it.
    pub cautions: Vec<String>,
    /// What is written down.
    pub fields: Vec<Field>,
    /// What is seen.
    pub figure: Option<Figure>,
}

/// A picture.
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    /// The whole apparatus, names at the vessels.
    Overview,
    /// The glass at a stop of the run with the liquid drawn.
    Moment {
        /// Which stop, from 0.
        stop: usize,
    },
    /// Bars of stock: the pieces (name and length, mm) on each, and the length of the stock, mm.
    Stock(Vec<Vec<(String, f64)>>, f64),
}
