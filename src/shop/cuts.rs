//! The cut list: every blank with its length, marks, bends and mass, laid out on lengths of stock.

use std::collections::BTreeMap;

use super::Case;
use super::blanks::{Blank, Mark, Place, blanks, bought};
use super::leaf::{Block, Field, Figure, Leaf, Table};
use super::nest::{NestError, Nesting, nest};
use super::parts::{area, density_g_per_mm3, short, size_text};
use super::texts::{self, field};
use crate::data;
use crate::model::TubeSize;
use crate::model::job::Input;
use crate::stages;
use crate::units::fixed;

/// Lengths that differ by less than this are cut alike, mm.
const ALIKE_MM: f64 = 0.01;

/// Blanks that are cut alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// The first of them; all others differ in the name of their piece alone.
    pub blank: Blank,
    /// Pieces that they are for.
    pub pieces: Vec<String>,
    /// Cut beyond those.
    pub spares: usize,
}

impl Cut {
    /// How many are cut.
    pub fn count(&self) -> usize {
        self.pieces.len() + self.spares
    }

    /// The pieces in words: `vial-1 to vial-6`.
    pub fn names(&self) -> String {
        texts::names(&self.pieces)
    }

    fn is_alike(&self, other: &Blank) -> bool {
        let own = &self.blank;
        let near = |a: f64, b: f64| (a - b).abs() < ALIKE_MM;
        let same_place = |a: Place, b: Place| match (a, b) {
            (Place::At(a), Place::At(b)) => near(a, b),
            (Place::Between(a, c), Place::Between(b, d)) => near(a, b) && near(c, d),
            (a, b) => a == b,
        };
        let same_mark = |(a, b): (&Mark, &Mark)| a.what == b.what && same_place(a.place, b.place);
        (own.stock, own.part, &own.ends) == (other.stock, other.part, &other.ends)
            && near(own.finished_mm, other.finished_mm)
            && near(own.cut_mm(), other.cut_mm())
            && own.marks.len() == other.marks.len()
            && own.marks.iter().zip(&other.marks).all(same_mark)
            && own.bends == other.bends
    }
}

/// Blanks of one size on their stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Size {
    /// The tube.
    pub stock: TubeSize,
    /// For each piece to be laid out the index of its cut.
    pub cuts: Vec<usize>,
    /// The layout.
    pub nesting: Result<Nesting, NestError>,
}

/// The cut list.
#[derive(Clone, Debug, PartialEq)]
pub struct CutList {
    /// Blanks, those alike told once.
    pub cuts: Vec<Cut>,
    /// The sizes, the widest first.
    pub sizes: Vec<Size>,
    /// What is bought ready: which, and for which piece.
    pub bought: Vec<(String, String)>,
    /// Length of the stock, mm.
    pub stock_mm: f64,
    /// Lost at a cut, mm.
    pub kerf_mm: f64,
}

impl CutList {
    /// The cut list of a job.
    pub fn of(job: &stages::Case) -> Self {
        let number = |input: Input| job.inputs.value(input).unwrap_or(0.0);
        let spares = number(Input::SpareBlanks) as usize;
        let mut cuts: Vec<Cut> = Vec::new();
        for blank in blanks(job) {
            match cuts.iter_mut().find(|cut| cut.is_alike(&blank)) {
                Some(cut) => cut.pieces.push(blank.piece),
                None => cuts.push(Cut {
                    spares: if is_ampoule(job, &blank.piece) { spares } else { 0 },
                    pieces: vec![blank.piece.clone()],
                    blank,
                }),
            }
        }
        let (stock_mm, kerf_mm) = (number(Input::StockLength), number(Input::Kerf));
        let pieces = &job.built.placed.pieces;
        Self {
            sizes: sizes(&cuts, stock_mm, kerf_mm),
            bought: pieces
                .iter()
                .filter_map(|piece| Some((bought(&piece.form)?, piece.name.clone())))
                .collect(),
            cuts,
            stock_mm,
            kerf_mm,
        }
    }

    /// Mass of all that is cut, g.
    pub fn mass_g(&self) -> f64 {
        self.cuts
            .iter()
            .map(|cut| cut.blank.mass_g() * cut.count() as f64)
            .sum()
    }

    /// The list as a table for other programs, one row for each kind of blank.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn csv(&self) -> Result<String, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record([
            "blank",
            "pieces",
            "part",
            "od_mm",
            "wall_mm",
            "finished_mm",
            "cut_mm",
            "count",
            "spares",
            "datum_end",
            "far_end",
            "marks_mm",
            "bends_deg_mm",
            "mass_g",
        ])?;
        for (i, cut) in self.cuts.iter().enumerate() {
            let blank = &cut.blank;
            let marks = blank
                .marks
                .iter()
                .map(|mark| format!("{} {}", mark.what, mark.place.text()));
            let bends = blank.bends.iter().map(|(angle, radius)| format!("{angle} {radius}"));
            writer.write_record([
                (i + 1).to_string(),
                cut.pieces.join(" "),
                blank.part.to_owned(),
                blank.stock.od_mm.to_string(),
                blank.stock.wall_mm.to_string(),
                fixed(blank.finished_mm, 2),
                fixed(blank.cut_mm(), 2),
                cut.count().to_string(),
                cut.spares.to_string(),
                blank.ends[0].clone(),
                blank.ends[1].clone(),
                marks.collect::<Vec<_>>().join("; "),
                bends.collect::<Vec<_>>().join("; "),
                fixed(blank.mass_g(), 3),
            ])?;
        }
        let bytes = writer.into_inner().map_err(|error| error.into_error())?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

fn is_ampoule(job: &stages::Case, name: &str) -> bool {
    job.vessels.iter().any(|vessel| vessel.name == name)
}

fn sizes(cuts: &[Cut], stock_mm: f64, kerf_mm: f64) -> Vec<Size> {
    // By outside diameter and wall in micrometres, so that they can be ordered.
    let key = |size: TubeSize| ((size.od_mm * 1e3).round() as u64, (size.wall_mm * 1e3).round() as u64);
    let mut groups: BTreeMap<(u64, u64), Vec<usize>> = BTreeMap::new();
    for (i, cut) in cuts.iter().enumerate() {
        let group = groups.entry(key(cut.blank.stock)).or_default();
        group.extend(std::iter::repeat_n(i, cut.count()));
    }
    let sizes = groups.into_values().rev().filter_map(|indices| {
        let lengths: Vec<f64> = indices.iter().map(|i| cuts[*i].blank.cut_mm()).collect();
        Some(Size {
            stock: cuts.get(*indices.first()?)?.blank.stock,
            nesting: nest(&lengths, stock_mm, kerf_mm),
            cuts: indices,
        })
    });
    sizes.collect()
}

/// The sheet.
pub fn leaf(case: &Case) -> Leaf {
    let list = CutList::of(case.job());
    let mut blocks = vec![Block::Fields(head(case, &list)), Block::Heading("Blanks".to_owned())];
    blocks.push(Block::Table(table(&list)));
    blocks.push(Block::Note(
        "Finished: along the centreline, from where the glass leaves its host, closed ends included. Cut: with the \
         allowances below. A neck, taper or bulb counts as the tube that has its volume of glass."
            .to_owned(),
    ));
    blocks.push(Block::Heading(
        "Marks and bends, from the datum end of the cut blank".to_owned(),
    ));
    blocks.push(Block::Table(marks(&list)));
    blocks.push(Block::Heading("Allowances".to_owned()));
    blocks.push(Block::Table(allowances(&list)));
    blocks.extend(stock(&list));
    if !list.bought.is_empty() {
        blocks.push(Block::Heading("Bought ready".to_owned()));
        blocks.push(Block::Table(Table {
            heads: ["Part", "For", "Got \u{2026}"].map(str::to_owned).to_vec(),
            rows: list
                .bought
                .iter()
                .map(|(what, piece)| vec![what.clone(), piece.clone(), String::new()])
                .collect(),
            numbers: vec![false; 3],
        }));
    }
    blocks.push(Block::Heading("Where the figures are from".to_owned()));
    blocks.push(Block::Note(texts::origins(case, &CHOICES).join(" ")));
    Leaf {
        title: "Cut list".to_owned(),
        blocks,
    }
}

/// Inputs of the job that the list hangs on.
const CHOICES: [Input; 6] = [
    Input::StockLength,
    Input::Kerf,
    Input::Butt,
    Input::SideSeal,
    Input::PulledOff,
    Input::SpareBlanks,
];

fn head(case: &Case, list: &CutList) -> Vec<Field> {
    let blanks: usize = list.cuts.iter().map(Cut::count).sum();
    let lengths: usize = list
        .sizes
        .iter()
        .flat_map(|size| &size.nesting)
        .map(|n| n.bars.len())
        .sum();
    vec![
        field("Design", case.apparatus().title.clone()),
        field("Glass", texts::GLASS),
        field("Blanks to cut", blanks.to_string()),
        field("Mass of the blanks", format!("{} g", fixed(list.mass_g(), 0))),
        field("Lengths of stock", format!("{lengths} of {} mm", short(list.stock_mm))),
        field("Lost at each cut", format!("{} mm", short(list.kerf_mm))),
        field("Cut by", ""),
        field("Date", ""),
    ]
}

fn table(list: &CutList) -> Table {
    let heads = [
        "No.",
        "For",
        "Tube, mm",
        "Finished, mm",
        "Cut, mm",
        "Pieces",
        "Datum end",
        "Far end",
        "g each",
        "Cut \u{2026}",
    ];
    let rows = list.cuts.iter().enumerate().map(|(i, cut)| {
        let blank = &cut.blank;
        let names = match blank.part {
            "" => cut.names(),
            part => format!("{}: {part}", cut.names()),
        };
        let count = match cut.spares {
            0 => cut.pieces.len().to_string(),
            spares => format!("{} + {spares} spare", cut.pieces.len()),
        };
        vec![
            (i + 1).to_string(),
            names,
            // A size stays on one line.
            size_text(blank.stock).replace(' ', "\u{a0}"),
            fixed(blank.finished_mm, 1),
            fixed(blank.cut_mm(), 0),
            count,
            blank.ends[0].clone(),
            blank.ends[1].clone(),
            fixed(blank.mass_g(), 1),
            String::new(),
        ]
    });
    Table {
        rows: rows.collect(),
        heads: heads.map(str::to_owned).to_vec(),
        numbers: [true, false, false, true, true, false, false, false, true, false].to_vec(),
    }
}

fn marks(list: &CutList) -> Table {
    let mut rows = Vec::new();
    for (i, cut) in list.cuts.iter().enumerate() {
        for mark in &cut.blank.marks {
            rows.push(vec![
                (i + 1).to_string(),
                cut.names(),
                mark.what.clone(),
                mark.place.text(),
            ]);
        }
    }
    Table {
        heads: ["No.", "For", "Mark", "mm"].map(str::to_owned).to_vec(),
        rows,
        numbers: vec![true, false, false, true],
    }
}

fn allowances(list: &CutList) -> Table {
    let rows = list.cuts.iter().enumerate().map(|(i, cut)| {
        let what = cut
            .blank
            .allowances
            .iter()
            .map(|(what, mm)| format!("{what} {}", short(*mm)));
        let gathered = cut.blank.used_mm - cut.blank.finished_mm;
        let gathered = match gathered {
            g if g > 0.05 => Some(format!("gathered into necks and bulbs {}", short(g))),
            g if g < -0.05 => Some(format!("drawn out {}", short(-g))),
            _ => None,
        };
        let words: Vec<String> = gathered.into_iter().chain(what).collect();
        let words = if words.is_empty() {
            "none".to_owned()
        } else {
            words.join("; ")
        };
        vec![(i + 1).to_string(), cut.names(), words]
    });
    Table {
        heads: ["No.", "For", "Between finished and cut length, mm"]
            .map(str::to_owned)
            .to_vec(),
        rows: rows.collect(),
        numbers: vec![true, false, false],
    }
}

/// The layout of each size.
fn stock(list: &CutList) -> Vec<Block> {
    let mut blocks = vec![Block::Heading("Stock".to_owned())];
    for size in &list.sizes {
        let name = size_text(size.stock);
        if data::stock(size.stock.od_mm, size.stock.wall_mm).is_none() {
            blocks.push(Block::Caution(format!(
                "{name} mm is not in the catalogue: ask whether it can be had"
            )));
        }
        match &size.nesting {
            Ok(nesting) => {
                let metre = area(size.stock) * 1000.0 * density_g_per_mm3();
                let offcuts: Vec<String> = nesting.bars.iter().map(|bar| short(bar.offcut_mm)).collect();
                blocks.push(Block::Text(format!(
                    "{name} mm, {} g a metre: {}. Left over: {} mm.",
                    fixed(metre, 0),
                    nesting.words(),
                    offcuts.join(", ")
                )));
                let bars = nesting.bars.iter().map(|bar| {
                    let pieces = bar.pieces.iter().map(|piece| size.cuts[*piece]);
                    let named = pieces.map(|cut| ((cut + 1).to_string(), list.cuts[cut].blank.cut_mm()));
                    named.collect()
                });
                blocks.push(Block::Figure(Figure::Stock(bars.collect(), list.stock_mm)));
            }
            Err(NestError::TooLong { piece, length_mm, .. }) => {
                let cut = &list.cuts[size.cuts[*piece]];
                blocks.push(Block::Caution(format!(
                    "{name} mm: blank {} for {} takes {} mm and does not fit on stock of {} mm; make it of two with a \
                     butt seal, or buy longer stock",
                    size.cuts[*piece] + 1,
                    cut.names(),
                    fixed(*length_mm, 0),
                    short(list.stock_mm)
                )));
            }
            Err(error @ NestError::NoLength) => blocks.push(Block::Caution(format!("{name} mm: {error}"))),
        }
    }
    blocks
}

#[cfg(test)]
mod tests {
    use super::super::trials::{EXAMPLES, job};
    use super::*;
    use crate::geom::{Interior, Primitive};
    use crate::model::{Bottom, Form};
    use std::f64::consts::PI;

    fn list(name: &str) -> CutList {
        job(name, CutList::of)
    }

    fn cut<'a>(list: &'a CutList, piece: &str, part: &str) -> &'a Cut {
        let found = |cut: &&Cut| cut.pieces.iter().any(|name| name == piece) && cut.blank.part == part;
        list.cuts.iter().find(found).unwrap()
    }

    #[track_caller]
    fn near(got: f64, expected: f64) {
        assert!((got - expected).abs() < 0.006, "got {got}, expected {expected}");
    }

    /// Worked out by hand from the dimensions of the design.
    #[test]
    fn rubidium_is_cut_from_these() {
        let list = list("rubidium-six");
        // From the receiver's outside (20 mm from its centre): 45 + 45 mm x 15 deg + 332 and the round end of 9, less 20.
        let header = &cut(&list, "header", "").blank;
        let arc = 45.0 * 15f64.to_radians();
        near(header.finished_mm, 45.0 + arc + 332.0 + 9.0 - 20.0);
        // The hemisphere's glass: 2/3 (9^3 - 7.8^3) / (9^2 - 7.8^2) mm of tube in place of 9.
        let dome = 2.0 / 3.0 * (729.0 - 7.8f64.powi(3)) / (81.0 - 7.8f64.powi(2));
        near(header.used_mm, 45.0 + arc + 332.0 - 20.0 + dome);
        near(header.cut_mm(), header.used_mm + 3.0 + 40.0);
        assert_eq!(header.ends, ["side seal to receiver", "closed round"]);
        // Tangent points of the bend, the first and last join: 3 mm of side seal before them.
        let at = |what: &str| {
            let mark = header.marks.iter().find(|mark| mark.what.starts_with(what)).unwrap();
            match mark.place {
                Place::At(at) => at,
                place => panic!("{place:?}"),
            }
        };
        let bend = header
            .marks
            .iter()
            .find(|mark| mark.what == "bend 15.0\u{b0} clockwise, R 45");
        let Some(Place::Between(from, to)) = bend.map(|bend| bend.place) else {
            panic!("{bend:?}");
        };
        near(from, 3.0 + 25.0);
        near(to, 3.0 + 25.0 + arc);
        near(at("vial-1"), 3.0 + 98.0 - 20.0);
        near(at("vial-6"), 3.0 + 98.0 + 5.0 * 45.0 - 20.0);
        near(at("pump"), 3.0 + 370.0 - 20.0);
        // Stem 20, funnel 15 and neck 20 leave the header's outside after 9 / sin 110 deg.
        let stem = cut(&list, "vial-4", "stem and neck");
        let within = 9.0 / 110f64.to_radians().sin();
        near(stem.blank.finished_mm, 55.0 - within);
        let (a8, a7) = (PI * 7.0, PI * 6.0);
        // The funnel's glass is that of the mean of its end sections but for the squares of what they differ by.
        let funnel = PI * 15.0 / 3.0 * ((16.0 + 14.0 + 12.25) - (9.0 + 7.5 + 6.25));
        near(stem.blank.used_mm, 20.0 - within + funnel / a8 + 20.0 * a7 / a8);
        // Longer side of the saddle: 4 mm / tan 70 deg; a butt seal at the body.
        near(
            stem.blank.cut_mm(),
            stem.blank.used_mm + 3.0 + 4.0 / 70f64.to_radians().tan() + 1.0,
        );
        assert_eq!((stem.pieces.len(), stem.spares), (6, 1));
        near(stem.blank.mass_g(), a8 * stem.blank.cut_mm() * 2.23e-3);
        let body = &cut(&list, "vial-4", "body").blank;
        assert_eq!(
            (body.stock, body.finished_mm),
            (TubeSize::new(14.0, 1.0), 10.0 + 20.0 + 7.0)
        );
        // The receiver's sphere of 40 x 1.4 less what the neck takes out of it, from tube of 14 x 1.
        let receiver = &cut(&list, "receiver", "").blank;
        let sphere = 4.0 / 3.0 * PI * (8000.0 - 18.6f64.powi(3)) / (PI * 13.0);
        assert!(
            (receiver.used_mm - (30.0 + sphere)).abs() < 3.0,
            "{} {sphere}",
            receiver.used_mm
        );
        let header = receiver.marks.iter().find(|mark| mark.what.starts_with("header"));
        assert_eq!(header.unwrap().place, Place::Blown);
    }

    #[test]
    fn nothing_is_forgotten_and_no_glass_lost() {
        for (name, _) in EXAMPLES {
            job(name, |job| {
                let list = CutList::of(job);
                for piece in &job.built.names {
                    let is_cut = list.cuts.iter().any(|cut| cut.pieces.contains(piece));
                    let is_bought = list.bought.iter().any(|(_, bought)| bought == piece);
                    assert!(is_cut != is_bought, "{name}: {piece}");
                }
                // The engine's volume of all walls, without what is bought and with the flat floors it leaves out.
                let share = |primitives: &[Primitive]| {
                    let solid = Interior::new(job.built.names.clone(), primitives.to_vec(), Vec::new()).unwrap();
                    let volumes = solid.piece_volumes();
                    let is_cut = |piece: &usize| bought(&job.built.placed.pieces[*piece].form).is_none();
                    (0..volumes.len())
                        .filter(is_cut)
                        .map(|piece| volumes[piece])
                        .sum::<f64>()
                };
                let floors = job.built.placed.pieces.iter().map(|piece| match &piece.form {
                    Form::Ampoule(ampoule) if ampoule.bottom == Bottom::Flat => {
                        PI / 4.0 * ampoule.body.od_mm.powi(2) * ampoule.body.wall_mm
                    }
                    _ => 0.0,
                });
                let walls = share(&job.built.outsides) - share(&job.built.primitives) + floors.sum::<f64>();
                let of = |cut: &Cut| cut.blank.used_mm * area(cut.blank.stock) * cut.pieces.len() as f64;
                let blanks: f64 = list.cuts.iter().map(of).sum();
                // Holes and the saddles of side seals are what differs.
                assert!((blanks / walls - 1.0).abs() < 0.02, "{name}: {blanks} of {walls} mm3");
            });
        }
    }

    #[test]
    fn every_blank_lies_on_stock_once() {
        for (name, _) in EXAMPLES {
            let list = list(name);
            let mut laid = vec![0; list.cuts.len()];
            for size in &list.sizes {
                let nesting = size.nesting.as_ref().unwrap();
                assert!(nesting.is_best(), "{name}");
                for piece in nesting.bars.iter().flat_map(|bar| &bar.pieces) {
                    laid[size.cuts[*piece]] += 1;
                    assert_eq!(list.cuts[size.cuts[*piece]].blank.stock, size.stock);
                }
            }
            let counts: Vec<usize> = list.cuts.iter().map(Cut::count).collect();
            assert_eq!(laid, counts, "{name}");
            let csv = list.csv().unwrap();
            let mut reader = csv::Reader::from_reader(csv.as_bytes());
            let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
            assert_eq!(rows.len(), list.cuts.len());
            let mass: f64 = rows
                .iter()
                .map(|row| row[13].parse::<f64>().unwrap() * row[7].parse::<f64>().unwrap())
                .sum();
            assert!((mass - list.mass_g()).abs() < 0.05);
        }
    }
}
