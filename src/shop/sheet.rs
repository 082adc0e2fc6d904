//! The sheets there are, the formats each can have, and the way from a design to bytes.

use super::date::Date;
use super::drawing::{self, Finished};
use super::figures::Pictures;
use super::header::{self, Heading};
use super::page::{Page, Paper};
use super::pdf::{self, About, PdfError};
use super::plate::Plate;
use super::{dxf, svg, template, typeset};
use crate::geom::build::Built;
use crate::model::Apparatus;
use thiserror::Error;

/// A sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// The glass in full size.
    Template,
    /// The dimensioned drawing.
    Drawing,
}

impl What {
    /// All sheets.
    pub const ALL: [Self; 2] = [Self::Template, Self::Drawing];

    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Template => "template",
            Self::Drawing => "drawing",
        }
    }

    /// Its title.
    pub fn title(self) -> &'static str {
        match self {
            Self::Template => "Full-size template",
            Self::Drawing => "Workshop drawing",
        }
    }

    /// The formats it can have; the usual one first.
    pub fn formats(self) -> &'static [Format] {
        match self {
            Self::Template => &[Format::Pdf, Format::Svg],
            Self::Drawing => &[Format::Pdf, Format::Svg, Format::Dxf],
        }
    }
}

/// A format of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Pages to print.
    Pdf,
    /// One drawing as vectors.
    Svg,
    /// One drawing for machines and drawing programs.
    Dxf,
    /// Tables.
    Csv,
}

impl Format {
    /// All formats.
    pub const ALL: [Self; 4] = [Self::Pdf, Self::Svg, Self::Dxf, Self::Csv];

    /// Its name on the command line, and the ending of its files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pdf => "pdf",
            Self::Svg => "svg",
            Self::Dxf => "dxf",
            Self::Csv => "csv",
        }
    }
}

/// Why there is no sheet.
#[derive(Debug, Error)]
pub enum SheetError {
    /// The sheet has no such format.
    #[error("the sheet \"{}\" can't be {}; it can be {}", what.name(), format.name(), names(what.formats()))]
    Pair {
        /// The sheet.
        what: What,
        /// The format.
        format: Format,
    },
    /// There is no glass to draw.
    #[error("the design has no glass")]
    Empty,
    /// It could not be written as PDF.
    #[error(transparent)]
    Pdf(#[from] PdfError),
    /// It could not be written as DXF.
    #[error(transparent)]
    Dxf(#[from] dxf::WriteError),
}

fn names(formats: &[Format]) -> String {
    let names: Vec<&str> = formats.iter().map(|format| format.name()).collect();
    names.join(" or ")
}

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// The sheet.
    pub what: What,
    /// Its format.
    pub format: Format,
    /// Its paper.
    pub paper: Paper,
    /// The day that it carries.
    pub date: Date,
}

/// Makes a sheet. The same design and order give the same bytes.
///
/// # Errors
/// When the sheet has no such format, there is no glass, or the writer refuses.
pub fn make(order: Order, apparatus: &Apparatus, built: &Built) -> Result<Vec<u8>, SheetError> {
    let Order {
        what,
        format,
        paper,
        date,
    } = order;
    if !what.formats().contains(&format) {
        return Err(SheetError::Pair { what, format });
    }
    if built.outsides.is_empty() {
        return Err(SheetError::Empty);
    }
    let heading = Heading {
        design: apparatus.title.clone(),
        sheet: what.title().to_owned(),
        date,
    };
    let plate = Plate::of(built);
    let pictures = Pictures {
        plate: &plate,
        outcome: None,
    };
    let about = About {
        title: format!("{}: {}", apparatus.title, heading.sheet),
        subject: heading.sheet.clone(),
        date,
    };
    let picture = |page: &Page| svg::write(page, &about.title, &about.subject).into_bytes();
    match (what, format) {
        (What::Template, Format::Svg) => Ok(picture(&template::whole(&plate, &heading))),
        (What::Template, _) => {
            let mut pages = template::pages(&plate, &heading, paper);
            let count = pages.len();
            header::number(&mut pages, &heading, 0, count);
            Ok(pdf::write(&pages, &about)?)
        }
        (What::Drawing, format) => {
            let Finished {
                mut pages,
                scale,
                left_out,
            } = drawing::drawing(&plate, apparatus, &heading, paper);
            match (format, pages.first()) {
                (Format::Svg, Some(page)) => return Ok(picture(page)),
                (Format::Dxf, Some(page)) => return Ok(dxf::write(page, scale)?),
                _ => {}
            }
            if let Some(leaf) = left_out {
                let mut listed = typeset::pages(&leaf, &pictures, paper, &mut 0);
                let (before, count) = (pages.len(), pages.len() + listed.len());
                header::number(&mut listed, &heading, before, count);
                pages.append(&mut listed);
            }
            Ok(pdf::write(&pages, &about)?)
        }
    }
}
