//! The sheets there are, the formats each can have, and the way from a design to bytes.

use super::case::Case;
use super::cuts::CutList;
use super::date::Date;
use super::drawing;
use super::figures::Pictures;
use super::header::{self, Heading};
use super::leaf::{Block, Leaf, Table};
use super::measured::{self, CompareError};
use super::page::{Page, Paper};
use super::pdf::{self, About, PdfError};
use super::plate::Plate;
use super::{assembly, cuts, dxf, order, procedure, svg, template, typeset};
use thiserror::Error;

/// A sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// The glass in full size.
    Template,
    /// The dimensioned drawing.
    Drawing,
    /// What is cut from which stock.
    Cuts,
    /// How it is put together.
    Assembly,
    /// How it is used.
    Run,
    /// What was measured after the run, against what it was to leave.
    Measured,
    /// The form for a glass shop.
    Order,
    /// All of them.
    Dossier,
}

impl What {
    /// All sheets, in the order in which they are needed.
    pub const ALL: [Self; 8] = [
        Self::Template,
        Self::Drawing,
        Self::Cuts,
        Self::Assembly,
        Self::Run,
        Self::Measured,
        Self::Order,
        Self::Dossier,
    ];

    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Template => "template",
            Self::Drawing => "drawing",
            Self::Cuts => "cuts",
            Self::Assembly => "assembly",
            Self::Run => "run",
            Self::Measured => "measured",
            Self::Order => "order",
            Self::Dossier => "dossier",
        }
    }

    /// Its title.
    pub fn title(self) -> &'static str {
        match self {
            Self::Template => "Full-size template",
            Self::Drawing => "Workshop drawing",
            Self::Cuts => "Cut list",
            Self::Assembly => "Assembly sheet",
            Self::Run => "Run sheet",
            Self::Measured => "Measured fills",
            Self::Order => "Order form",
            Self::Dossier => "Dossier",
        }
    }

    /// The formats it can have; the usual one first.
    pub fn formats(self) -> &'static [Format] {
        match self {
            Self::Template => &[Format::Pdf, Format::Svg],
            Self::Drawing => &[Format::Pdf, Format::Svg, Format::Dxf],
            Self::Cuts => &[Format::Pdf, Format::Csv],
            Self::Assembly | Self::Run | Self::Measured | Self::Order | Self::Dossier => &[Format::Pdf],
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
    /// A table.
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
    /// What was measured can't be compared.
    #[error(transparent)]
    Measured(#[from] CompareError),
    /// It could not be written as PDF.
    #[error(transparent)]
    Pdf(#[from] PdfError),
    /// It could not be written as DXF.
    #[error(transparent)]
    Dxf(#[from] dxf::WriteError),
    /// It could not be written as a table.
    #[error("the table can't be written: {0}")]
    Csv(#[from] csv::Error),
}

fn names(formats: &[Format]) -> String {
    let names: Vec<&str> = formats.iter().map(|format| format.name()).collect();
    names.join(" or ")
}

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Request {
    /// The sheet.
    pub what: What,
    /// Its format.
    pub format: Format,
    /// Its paper.
    pub paper: Paper,
    /// The day that it carries.
    pub date: Date,
}

/// Makes a sheet. The same design and request give the same bytes.
///
/// # Errors
/// When the sheet has no such format, there is no glass, or the writer refuses.
pub fn make(request: Request, case: &Case<'_>) -> Result<Vec<u8>, SheetError> {
    let Request { what, format, .. } = request;
    if !what.formats().contains(&format) {
        return Err(SheetError::Pair { what, format });
    }
    check(what, case)?;
    let plate = Plate::of(case.built());
    let press = Press::new(case, &plate, request.paper, request.date);
    let about = About {
        title: format!("{}: {}", case.apparatus().title, what.title()),
        subject: what.title().to_owned(),
        date: request.date,
    };
    let picture = |page: &Page| svg::write(page, &about.title, &about.subject).into_bytes();
    match format {
        Format::Csv => Ok(CutList::of(case.job()).csv()?.into_bytes()),
        Format::Svg if what == What::Template => Ok(picture(&template::whole(&plate, &press.heading(what)))),
        Format::Svg => Ok(picture(&press.whole_drawing())),
        Format::Dxf => Ok(dxf::write(&press.whole_drawing(), request.date)?),
        Format::Pdf => Ok(pdf::write(&press.document(what), &about)?),
    }
}

/// The pages of a sheet, to be looked at.
///
/// # Errors
/// When there is no glass, or nothing of what the sheet tells.
pub fn pages(what: What, paper: Paper, date: Date, case: &Case<'_>) -> Result<Vec<Page>, SheetError> {
    check(what, case)?;
    let plate = Plate::of(case.built());
    Ok(Press::new(case, &plate, paper, date).document(what))
}

/// Whether there is what a sheet tells.
fn check(what: What, case: &Case<'_>) -> Result<(), SheetError> {
    if case.built().outsides.is_empty() {
        return Err(SheetError::Empty);
    }
    if what == What::Measured {
        case.comparison()?;
    }
    Ok(())
}

/// What sheets are made with.
struct Press<'a> {
    case: &'a Case<'a>,
    plate: &'a Plate<'a>,
    paper: Paper,
    date: Date,
}

/// The pages of a sheet, not yet numbered.
struct Section {
    what: What,
    /// Pages with a title block, which need no head.
    framed: Vec<Page>,
    pages: Vec<Page>,
}

impl Section {
    fn len(&self) -> usize {
        self.framed.len() + self.pages.len()
    }
}

impl<'a> Press<'a> {
    fn new(case: &'a Case<'a>, plate: &'a Plate<'a>, paper: Paper, date: Date) -> Self {
        Self {
            case,
            plate,
            paper,
            date,
        }
    }
}

impl Press<'_> {
    /// What pictures are drawn from; only sheets that have some ask for the run.
    fn pictures(&self) -> Pictures<'_> {
        Pictures {
            plate: self.plate,
            outcome: self.case.outcome(),
        }
    }

    fn heading(&self, what: What) -> Heading {
        Heading {
            design: self.case.apparatus().title.clone(),
            sheet: what.title().to_owned(),
            date: self.date,
        }
    }

    fn whole_drawing(&self) -> Page {
        drawing::whole(self.plate, self.case.apparatus(), &self.heading(What::Drawing))
    }

    /// All pages of a sheet with their numbers.
    fn document(&self, what: What) -> Vec<Page> {
        let mut tables = 0;
        let is_in_dossier = |what: &What| match what {
            What::Dossier => false,
            What::Measured => self.case.comparison().is_ok(),
            _ => true,
        };
        let sheets: Vec<What> = match what {
            What::Dossier => What::ALL.into_iter().filter(is_in_dossier).collect(),
            one => vec![one],
        };
        let mut sections: Vec<Section> = sheets.iter().map(|what| self.section(*what, &mut tables)).collect();
        if what == What::Dossier {
            // The list of contents is as long whatever the numbers in it are.
            let length = self.contents(&sections, 0, &mut tables).len();
            let pages = self.contents(&sections, length, &mut tables);
            let contents = Section {
                what,
                framed: Vec::new(),
                pages,
            };
            sections.insert(0, contents);
        }
        let count = sections.iter().map(Section::len).sum();
        let mut document = Vec::with_capacity(count);
        for mut section in sections {
            let mut before = document.len();
            header::number_framed(&mut section.framed, before, count);
            before += section.framed.len();
            header::number(&mut section.pages, &self.heading(section.what), before, count);
            document.append(&mut section.framed);
            document.append(&mut section.pages);
        }
        document
    }

    fn section(&self, what: What, tables: &mut usize) -> Section {
        let mut framed = Vec::new();
        if what == What::Drawing {
            let apparatus = self.case.apparatus();
            framed = drawing::pages(self.plate, apparatus, &self.heading(what), self.paper);
        }
        let mut set = |leaf: &Leaf| typeset::pages(leaf, &self.pictures(), self.paper, tables);
        let pages = match what {
            What::Template => template::pages(self.plate, &self.heading(what), self.paper),
            What::Cuts => set(&cuts::leaf(self.case)),
            What::Assembly => set(&assembly::leaf(self.case)),
            What::Run => set(&procedure::leaf(self.case)),
            What::Measured => match self.case.comparison() {
                Ok(comparison) => set(&measured::leaf(comparison)),
                Err(_) => Vec::new(),
            },
            What::Order => set(&order::leaf(self.case)),
            What::Drawing | What::Dossier => Vec::new(),
        };
        Section { what, framed, pages }
    }

    /// The list of contents, itself `length` pages long.
    fn contents(&self, sections: &[Section], length: usize, tables: &mut usize) -> Vec<Page> {
        let mut first = length + 1;
        let rows = sections.iter().map(|section| {
            let row = vec![
                section.what.title().to_owned(),
                first.to_string(),
                section.len().to_string(),
            ];
            first += section.len();
            row
        });
        let leaf = Leaf {
            title: self.case.apparatus().title.clone(),
            blocks: vec![
                Block::Heading("Contents".to_owned()),
                Block::Table(Table {
                    heads: ["Sheet", "From page", "Pages"].map(str::to_owned).to_vec(),
                    rows: rows.collect(),
                    numbers: vec![false, true, true],
                }),
                Block::Figure(super::leaf::Figure::Overview),
            ],
        };
        typeset::pages(&leaf, &self.pictures(), self.paper, tables)
    }
}
