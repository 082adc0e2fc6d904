//! What stands on every page: design, sheet and date above, the number of the page below; and the bars by which the
//! printer's scale is checked.

use super::date::Date;
use super::page::{Anchor, Layer, Page, Part, Point, Role, Text, Tone};

/// Space about everything, mm: printers leave out the outermost 4 to 6 mm.
pub const MARGIN: f64 = 12.0;
/// Where the contents of a page begin, mm from its upper edge.
pub const TOP: f64 = 25.0;
/// Where the contents of a page end, mm from its lower edge.
pub const BOTTOM: f64 = 20.0;
/// Length of the check bars, mm.
pub const BAR: f64 = 100.0;

/// What the pages of a sheet say of themselves.
#[derive(Clone, Debug, PartialEq)]
pub struct Heading {
    /// Name of the design.
    pub design: String,
    /// Title of the sheet.
    pub sheet: String,
    /// Day that it carries.
    pub date: Date,
}

/// Puts heads and feet onto the pages of a sheet, of which `before` go before them in the document and `count` are in
/// all.
pub fn number(pages: &mut [Page], heading: &Heading, before: usize, count: usize) {
    for (index, page) in pages.iter_mut().enumerate() {
        let mut part = Part::new(Role::Furniture);
        let (right, foot) = (page.size.x - MARGIN, page.size.y - 9.0);
        let most = right - MARGIN - 34.0;
        let design = fitted(&heading.design, most * 0.6, 3.4);
        let sheet = fitted(&heading.sheet, most * 0.4, 3.4);
        let width = super::font::width(&design, super::page::Weight::SemiBold, 3.4);
        part.text(Text::new(design, Point::new(MARGIN, 15.0), 3.4).bold());
        part.text(Text::new(sheet, Point::new(MARGIN + width + 4.0, 15.0), 3.4).toned(Tone::Grey));
        let date = Text::new(heading.date.to_string(), Point::new(right, 15.0), 3.0);
        part.text(date.anchored(Anchor::End).toned(Tone::Grey));
        part.line(Layer::Rule, Point::new(MARGIN, 17.5), Point::new(right, 17.5));
        let number = format!("page {} of {count}", before + index + 1);
        part.text(Text::new(number, Point::new(right, foot), 3.0).anchored(Anchor::End));
        page.parts.push(part);
    }
}

/// Puts numbers under the frames of pages that have a title block.
pub fn number_framed(pages: &mut [Page], before: usize, count: usize) {
    for (index, page) in pages.iter_mut().enumerate() {
        let mut part = Part::new(Role::Furniture);
        let number = format!("page {} of {count}", before + index + 1);
        let at = Point::new(page.size.x - MARGIN, page.size.y - 6.0);
        part.text(Text::new(number, at, 2.6).anchored(Anchor::End));
        page.parts.push(part);
    }
}

/// A text shortened to a width with an ellipsis.
pub fn fitted(text: &str, most: f64, size: f64) -> String {
    let width = |text: &str| super::font::width(text, super::page::Weight::SemiBold, size);
    if width(text) <= most {
        return text.to_owned();
    }
    let mut short = text.to_owned();
    while !short.is_empty() && width(&short) + width("…") > most {
        short.pop();
    }
    format!("{}…", short.trim_end())
}

/// A bar of 100 mm with marks every 10 mm, to the right from its start, or downwards.
pub fn check_bar(part: &mut Part, start: Point, is_upright: bool) {
    let (along, across) = if is_upright {
        (Point::new(0.0, 1.0), Point::new(-1.0, 0.0))
    } else {
        (Point::new(1.0, 0.0), Point::new(0.0, -1.0))
    };
    part.line(Layer::Register, start, start + along * BAR);
    for k in 0..=10 {
        let length = if k % 10 == 0 { 3.0 } else { 1.5 };
        let at = start + along * (f64::from(k) * BAR / 10.0);
        part.line(Layer::Register, at, at + across * length);
    }
    let middle = start + along * (BAR / 2.0) + across * 2.2;
    let text = Text::new("100 mm", middle, 2.6).anchored(Anchor::Middle);
    part.text(text.turned(if is_upright { 90.0 } else { 0.0 }));
}

/// What to do with the bars.
pub const CHECK: &str =
    "Measure both bars: each must be 100.0 mm. If not, print again at 100 %, without fitting to the page.";
/// What not to do with a full-size sheet.
pub const BESIDE: &str = "Compare hot glass beside this sheet. Never lay it on paper: it burns.";
