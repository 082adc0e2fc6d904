//! The course of a tube and the corners of a bridge as lines with what can be done to each: add, move, remove.

use super::aim::Aim;
use super::control;
use super::entry::Entry;
use super::lines::{self, Menu};
use super::reason;
use crate::app::field::{self, sentence};
use crate::app::picker::{Face, Picker};
use crate::app::session::Session;
use crate::data::nearest_stock;
use crate::model::{Bridge, Edit, Element, Form, Route, Tube, TubeSize};
use egui::{Id, Rect, Ui};

/// Elements that can be added.
const ELEMENTS: [&str; 5] = ["straight", "bend", "taper", "neck", "bulb"];

/// Something done to the course or the corners.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Deed {
    Earlier(usize),
    Later(usize),
    Remove(usize),
    /// Put a new one, for a course of the kind in `ELEMENTS`, at a position.
    Add(usize, usize),
}

/// What the lines belong to.
#[derive(Clone, Debug)]
enum Chain {
    Course(Tube),
    Corners(Bridge, Vec<[f64; 2]>),
    /// Neither, or several pieces.
    None,
}

/// The lines as they were shown.
#[derive(Default)]
pub(super) struct Rows {
    /// Where each line stands, by the key of its entry.
    pub rects: Vec<(String, Rect)>,
    /// Key of the line that is hot.
    pub hot: Option<String>,
}

/// Shows the entries of a form in order, elements and corners with their menus.
pub(super) fn show(ui: &mut Ui, session: &mut Session, entries: &[&Entry], lit: Option<&str>) -> Rows {
    let (name, chain) = chain_of(session, entries);
    let mut rows = Rows::default();
    let mut deed = None;
    let mut group = String::new();
    let mut has_button = matches!(chain, Chain::None);
    for entry in entries {
        if entry.aim == Aim::End(true) && !has_button {
            deed = add_button(ui, session, &name, &chain).or(deed);
            has_button = true;
        }
        let (head, _) = entry.parts();
        let is_first = head != group || head.is_empty();
        head.clone_into(&mut group);
        let index = position(entry.aim.key());
        let caption = caption(entry, is_first, index.is_some());
        let is_lit = lit.is_some_and(|key| key == entry.aim.key());
        let offers = index.filter(|_| starts_block(entry)).map(|i| (i, chain.offers(i)));
        let line = match &offers {
            Some((i, offers)) if !offers.is_empty() => {
                let label = format!("{}: more", chain.thing(*i));
                let words: Vec<&str> = offers.iter().map(|(words, _)| words.as_str()).collect();
                let menu = Menu {
                    id: menu_id(&name, Some(*i)),
                    label: &label,
                    choices: &words,
                };
                let line = lines::show(ui, session, entry, (&caption, is_lit), Some(&menu));
                say_refusal(ui, session, menu.id);
                deed = line
                    .chosen
                    .and_then(|at| offers.get(at))
                    .map(|(_, deed)| *deed)
                    .or(deed);
                line
            }
            _ => lines::show(ui, session, entry, (&caption, is_lit), None),
        };
        if line.is_hot {
            rows.hot = Some(entry.aim.key().to_owned());
        }
        rows.rects.push((entry.aim.key().to_owned(), line.rect));
    }
    if !has_button {
        deed = add_button(ui, session, &name, &chain).or(deed);
    }
    if let Some(deed) = deed {
        carry_out(ui, session, &name, &chain, deed);
    }
    rows
}

/// The single owner of the entries and what it is a chain of.
fn chain_of(session: &Session, entries: &[&Entry]) -> (String, Chain) {
    let owner = match entries.first().map(|entry| entry.owners.as_slice()) {
        Some([owner]) => owner.clone(),
        _ => return (String::new(), Chain::None),
    };
    let chain = match session.document.now().piece(&owner).map(|piece| &piece.form) {
        Some(Form::Tube(tube)) => Chain::Course(tube.clone()),
        Some(Form::Bridge(bridge)) => match &bridge.route {
            Route::Via { corners_mm } => Chain::Corners(bridge.clone(), corners_mm.clone()),
            Route::Straight | Route::Arched { .. } => Chain::None,
        },
        _ => Chain::None,
    };
    (owner, chain)
}

/// Position in the course or among the corners that a key belongs to.
fn position(key: &str) -> Option<usize> {
    let rest = key.strip_prefix("course.").or_else(|| key.strip_prefix("corners."))?;
    rest.split('.').next()?.parse().ok()
}

/// Whether an entry is the first of its element or corner.
fn starts_block(entry: &Entry) -> bool {
    let (head, detail) = entry.parts();
    let is_second = head.ends_with("taper to")
        || matches!(detail, "radius" | "each taper" | "parallel part" | "up")
        || (head.ends_with("bulb") && detail == "length");
    !is_second
}

/// The words before a control: the first of a block names it, the others say what they are.
fn caption(entry: &Entry, is_first: bool, is_link: bool) -> String {
    let (head, detail) = entry.parts();
    if head.ends_with("taper to") {
        return "     To".to_owned();
    }
    if is_link && !starts_block(entry) {
        return format!("     {}", sentence(detail));
    }
    match head.split_once(", ") {
        // `2, bend` is written `2 Bend`.
        Some((number, kind)) if is_link => format!("{number} {}", sentence(kind)),
        _ if is_link => format!("{head}, {detail}"),
        _ if head.is_empty() || !is_first => sentence(detail),
        _ if detail == "size" => head.to_owned(),
        _ => format!("{head}, {detail}"),
    }
}

fn menu_id(name: &str, index: Option<usize>) -> Id {
    Id::unique("chain").with(name).with(index)
}

fn add_button(ui: &mut Ui, session: &Session, name: &str, chain: &Chain) -> Option<Deed> {
    let (label, choices): (&str, &[&str]) = match chain {
        Chain::Course(_) => ("Add to the course", &["Straight", "Bend", "Taper", "Neck", "Bulb"]),
        Chain::Corners(..) => ("Add a corner", &["At the end"]),
        Chain::None => return None,
    };
    let id = menu_id(name, None);
    let picker = Picker {
        id,
        label,
        face: Face::Words(label),
        width: ui.available_width().min(160.0),
        list_width: 160.0,
        is_searched: false,
        is_lit: false,
    };
    let (_, chosen) = picker.show(ui, || (choices.iter().map(|text| (*text).into()).collect(), None));
    say_refusal(ui, session, id);
    chosen.map(|kind| Deed::Add(chain.len(), kind))
}

fn say_refusal(ui: &mut Ui, session: &Session, id: Id) {
    if let Some(refusal) = field::refusal_of(ui, id, &session.document.revision().to_string()) {
        control::say(ui, &refusal);
    }
}

impl Chain {
    fn len(&self) -> usize {
        match self {
            Self::Course(tube) => tube.course.len(),
            Self::Corners(_, corners) => corners.len(),
            Self::None => 0,
        }
    }

    /// What a link is called.
    fn thing(&self, index: usize) -> String {
        let number = index + 1;
        match self {
            Self::Course(tube) => {
                let kind = tube.course.get(index).map_or("element", kind_word);
                format!("{number}, {kind}")
            }
            Self::Corners(..) | Self::None => format!("Corner {number}"),
        }
    }

    /// What can be done to a link.
    fn offers(&self, index: usize) -> Vec<(String, Deed)> {
        let mut offers = Vec::new();
        if index > 0 {
            offers.push(("Move earlier".to_owned(), Deed::Earlier(index)));
        }
        if index + 1 < self.len() {
            offers.push(("Move later".to_owned(), Deed::Later(index)));
        }
        match self {
            Self::Course(_) => {
                for (kind, word) in ELEMENTS.iter().enumerate() {
                    offers.push((format!("Add a {word} after it"), Deed::Add(index + 1, kind)));
                }
            }
            Self::Corners(..) => offers.push(("Add a corner after it".to_owned(), Deed::Add(index + 1, 0))),
            Self::None => return Vec::new(),
        }
        offers.push(("Remove".to_owned(), Deed::Remove(index)));
        offers
    }

    /// The form after a deed.
    fn after(&self, deed: Deed) -> Option<Form> {
        match self {
            Self::Course(tube) => {
                let mut tube = tube.clone();
                match deed {
                    Deed::Add(at, kind) => {
                        let element = new_element(kind, size_before(&tube, at));
                        tube.course.insert(at.min(tube.course.len()), element);
                    }
                    other => rearrange(&mut tube.course, other),
                }
                Some(Form::Tube(tube))
            }
            Self::Corners(bridge, corners) => {
                let mut corners_mm = corners.clone();
                match deed {
                    Deed::Add(at, _) => {
                        let at = at.min(corners_mm.len());
                        corners_mm.insert(at, new_corner(&corners_mm, at));
                    }
                    other => rearrange(&mut corners_mm, other),
                }
                Some(Form::Bridge(Bridge {
                    route: Route::Via { corners_mm },
                    ..bridge.clone()
                }))
            }
            Self::None => None,
        }
    }

    /// Words for the history.
    fn words(&self, deed: Deed, name: &str) -> String {
        match deed {
            Deed::Earlier(index) | Deed::Later(index) => format!("Move {} of {name}", self.thing(index).to_lowercase()),
            Deed::Remove(index) => format!("Remove {} of {name}", self.thing(index).to_lowercase()),
            Deed::Add(_, kind) => match self {
                Self::Course(_) => {
                    let word = ELEMENTS.get(kind).copied().unwrap_or("straight");
                    format!("Add a {word} to {name}")
                }
                _ => format!("Add a corner to {name}"),
            },
        }
    }
}

fn rearrange<T>(list: &mut Vec<T>, deed: Deed) {
    match deed {
        Deed::Earlier(index) if index > 0 && index < list.len() => list.swap(index, index - 1),
        Deed::Later(index) if index + 1 < list.len() => list.swap(index, index + 1),
        Deed::Remove(index) if index < list.len() => _ = list.remove(index),
        _ => {}
    }
}

fn kind_word(element: &Element) -> &'static str {
    match element {
        Element::Straight { .. } => ELEMENTS[0],
        Element::Bend { .. } => ELEMENTS[1],
        Element::Taper { .. } => ELEMENTS[2],
        Element::Neck { .. } => ELEMENTS[3],
        Element::Bulb { .. } => ELEMENTS[4],
    }
}

/// The size of a tube before the element at a position.
pub(super) fn size_before(tube: &Tube, at: usize) -> TubeSize {
    let before = tube.course.iter().take(at).rev();
    let mut tapers = before.filter_map(|element| match element {
        Element::Taper { to, .. } => Some(*to),
        _ => None,
    });
    tapers.next().unwrap_or(tube.size)
}

/// A new element in proportion to the tube that it continues.
fn new_element(kind: usize, size: TubeSize) -> Element {
    let narrower = |part: f64| {
        let row = nearest_stock(size.od_mm * part, size.wall_mm);
        row.map_or(size, |row| TubeSize::new(row.od_mm, row.wall_mm))
    };
    match kind {
        1 => Element::Bend {
            angle_deg: 90.0,
            // Wide enough to be bent by hand without flattening.
            radius_mm: (2.0 * size.od_mm).round(),
        },
        2 => Element::Taper {
            length_mm: size.od_mm.round(),
            to: narrower(0.7),
        },
        3 => Element::Neck {
            size: narrower(0.5),
            taper_mm: 10.0,
            length_mm: 20.0,
        },
        4 => Element::Bulb {
            size: TubeSize::new((1.8 * size.od_mm).round(), size.wall_mm),
            length_mm: (2.2 * size.od_mm).round(),
        },
        _ => Element::Straight { length_mm: 30.0 },
    }
}

/// A new corner at a position: half way between its neighbours, or as far beyond the last as that is from the one
/// before.
fn new_corner(corners: &[[f64; 2]], at: usize) -> [f64; 2] {
    let start = [0.0, 0.0];
    let before = at.checked_sub(1).and_then(|i| corners.get(i)).copied().unwrap_or(start);
    if let Some(after) = corners.get(at) {
        return [(before[0] + after[0]) / 2.0, (before[1] + after[1]) / 2.0];
    }
    let earlier = at.checked_sub(2).and_then(|i| corners.get(i)).copied().unwrap_or(start);
    let step = [before[0] - earlier[0], before[1] - earlier[1]];
    if step == [0.0, 0.0] {
        return [before[0], before[1] + 30.0];
    }
    [before[0] + step[0], before[1] + step[1]]
}

fn carry_out(ui: &Ui, session: &mut Session, name: &str, chain: &Chain, deed: Deed) {
    let Some(form) = chain.after(deed) else { return };
    let edit = Edit::Reshape {
        piece: name.to_owned(),
        form,
    };
    match session.document.settled().apply(&edit) {
        Ok(next) => session.document.change(&chain.words(deed, name), next),
        Err(error) => {
            let index = match deed {
                Deed::Earlier(index) | Deed::Later(index) | Deed::Remove(index) => Some(index),
                Deed::Add(at, _) => at.checked_sub(1).filter(|_| at < chain.len()),
            };
            let reason = reason::of(&error, session.length_unit);
            field::refuse(
                ui,
                menu_id(name, index),
                reason,
                None,
                session.document.revision().to_string(),
            );
        }
    }
}

/// Least width of the lines, points: a caption, a tube size and the menu.
pub(super) const LEAST_WIDTH: f32 = 224.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample;

    fn header() -> Tube {
        match sample::apparatus().pieces.remove(0).form {
            Form::Tube(tube) => tube,
            _ => panic!("a tube"),
        }
    }

    #[test]
    fn links_are_moved_added_and_removed() {
        let chain = Chain::Course(header());
        let kinds = |deed: Deed| match chain.after(deed) {
            Some(Form::Tube(tube)) => tube.course.iter().map(kind_word).collect::<Vec<_>>(),
            _ => panic!("a tube"),
        };
        let start = ["straight", "bend", "taper", "neck", "bulb", "straight"];
        assert_eq!(kinds(Deed::Later(9)), start);
        assert_eq!(kinds(Deed::Earlier(0)), start);
        assert_eq!(kinds(Deed::Later(0))[..2], ["bend", "straight"]);
        assert_eq!(kinds(Deed::Earlier(2))[..3], ["straight", "taper", "bend"]);
        assert_eq!(kinds(Deed::Remove(3))[2..], ["taper", "bulb", "straight"]);
        assert_eq!(kinds(Deed::Add(6, 1))[5..], ["straight", "bend"]);
        assert_eq!(kinds(Deed::Add(1, 3))[..3], ["straight", "neck", "bend"]);
    }

    #[test]
    fn a_new_element_continues_the_tube_it_follows() {
        let tube = header();
        // Before the taper the tube measures 16 mm, after it 10 mm.
        assert_eq!(size_before(&tube, 2), TubeSize::new(16.0, 1.2));
        assert_eq!(size_before(&tube, 3), TubeSize::new(10.0, 1.0));
        for (kind, word) in ELEMENTS.iter().enumerate() {
            for size in [
                TubeSize::new(3.0, 0.7),
                TubeSize::new(16.0, 1.2),
                TubeSize::new(50.0, 3.2),
            ] {
                let mut apparatus = sample::apparatus();
                let course = vec![new_element(kind, size)];
                apparatus.pieces[0].form = Form::Tube(Tube {
                    size,
                    course,
                    ..header()
                });
                assert_eq!(apparatus.check(), Ok(()), "{word} of {size:?}");
            }
        }
    }

    #[test]
    fn a_new_corner_lies_between_its_neighbours_or_beyond_the_last() {
        let corners = [[0.0, 40.0], [100.0, 40.0]];
        assert_eq!(new_corner(&corners, 0), [0.0, 20.0]);
        assert_eq!(new_corner(&corners, 1), [50.0, 40.0]);
        assert_eq!(new_corner(&corners, 2), [200.0, 40.0]);
        assert_eq!(new_corner(&[], 0), [0.0, 30.0]);
    }
}
