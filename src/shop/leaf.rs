//! What stands on a sheet for the workshop, as plain data: headings, tables, steps, fields and figures in their order.
//! Nothing here knows of pages; `typeset` sets a leaf onto them.

/// The contents of one sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Leaf {
    /// Title of the sheet, as it stands in the header of every page.
    pub title: String,
    /// Its contents from top to bottom.
    pub blocks: Vec<Block>,
}

/// A part of a sheet that runs over the full width.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading; it stays with what follows.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A danger to people or glass, set off unmistakably, with a sign.
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

/// A field of a form.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// What is asked for.
    pub label: String,
    /// What is known; where empty, a line to write on.
    pub value: String,
}

/// A table with a head of one row.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// Rows of cells, as many as there are heads. An empty cell in a column whose head ends with "…" is a line to
    /// write on.
    pub rows: Vec<Vec<String>>,
    /// Whether a column holds numbers and is aligned to the right.
    pub numbers: Vec<bool>,
}

/// A step of work.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is to be done.
    pub text: String,
    /// What to beware of while doing it.
    pub cautions: Vec<String>,
    /// What is written down while doing it.
    pub fields: Vec<Field>,
    /// How it looks.
    pub figure: Option<Figure>,
}

/// A picture that the sheet draws from the apparatus.
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    /// The whole apparatus, names at the vessels.
    Overview,
    /// The glass at a stop of the run with the liquid drawn.
    Moment {
        /// Index of the stop.
        stop: usize,
    },
    /// Bars of stock: the pieces on each with their lengths, mm, and the length of the stock, mm.
    Stock(Vec<Vec<(String, f64)>>, f64),
}
