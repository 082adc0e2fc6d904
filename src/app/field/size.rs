//! A field that holds a tube size: typed as outside diameter by wall, stepped and dragged through the stock, or
//! chosen from the list of the stock.

use super::{Cell, Deed, Shown, refuse, sentence};
use crate::app::picker::{Choice, Face, Picker};
use crate::app::theme;
use crate::data::STOCK;
use crate::model::{Apparatus, TubeSize};
use crate::units::LengthUnit;
use egui::accesskit::Role;
use egui::{Id, Ui};

/// A drag over so many points goes to the next size of the stock.
const POINTS_A_SIZE: f64 = 12.0;

/// A tube size that lies in stock.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct InStock {
    /// Outside diameter and wall.
    pub size: TubeSize,
    /// The user's remark on a size of their own.
    pub note: Option<String>,
}

/// The sizes in stock, the user's own among them, by outside diameter and then wall.
pub(crate) fn stock_of(apparatus: &Apparatus) -> Vec<InStock> {
    let own = apparatus.own_stock.iter().map(|own| InStock {
        size: own.tube,
        note: Some(own.note.clone()),
    });
    let listed = STOCK.iter().map(|row| InStock {
        size: TubeSize::new(row.od_mm, row.wall_mm),
        note: None,
    });
    // An own size comes before the same one of the catalogue, which is then left out.
    let mut all: Vec<InStock> = own.chain(listed).collect();
    let key = |row: &InStock| (row.size.od_mm, row.size.wall_mm);
    all.sort_by(|a, b| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal));
    all.dedup_by(|a, b| a.size == b.size);
    all
}

/// What the user did to a size in this frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum SizeChange {
    /// The size is being dragged: show it, but it is not final.
    Preview(TubeSize),
    /// The drag is over.
    Keep,
    /// A final size.
    Set(TubeSize),
    /// A final outside diameter with whatever wall there is, mm.
    SetDiameter(f64),
}

/// A tube size with the list of the stock.
pub(crate) struct SizeField<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// The size; `None` where several pieces differ.
    pub value: Option<TubeSize>,
    /// Whose stock to choose from.
    pub apparatus: &'a Apparatus,
    /// The unit in which lengths are shown.
    pub length_unit: LengthUnit,
    /// Width of field and button together, points.
    pub width: f32,
    /// Whether its place in the drawing is pointed at.
    pub is_lit: bool,
    /// Size of the type, points.
    pub type_size: f32,
}

impl SizeField<'_> {
    /// Width that holds any usual size and the button, points.
    pub(crate) const WIDTH: f32 = 146.0;

    /// Shows field and button.
    pub(crate) fn show(self, ui: &mut Ui) -> Shown<SizeChange> {
        ui.spacing_mut().item_spacing.x = 0.0;
        let shown = ui.horizontal(|ui| {
            let field = self.field(ui);
            let (button, chosen) = self.list(ui);
            Shown {
                change: field.change.or(chosen),
                rect: field.rect.union(button.rect),
                is_hot: field.is_hot || button.hovered() || button.has_focus(),
            }
        });
        shown.inner
    }

    fn stands(&self) -> String {
        let size = self.value.map(|size| format!("{} {}", size.od_mm, size.wall_mm));
        size.unwrap_or_default()
    }

    fn field(&self, ui: &mut Ui) -> Shown<SizeChange> {
        let start_id = self.id.with("start");
        let unit = self.length_unit;
        let hint = self.value.map(|size| {
            format!(
                "Outside diameter × wall, bore {}\nType such as 16 x 1.2, or step through the stock",
                unit.entered_text(size.bore_mm())
            )
        });
        let cell = Cell {
            id: self.id,
            label: self.label,
            text: self.value.map(|size| unit.size_number(size.od_mm, size.wall_mm)),
            unit: unit.symbol(),
            stands: self.stands(),
            width: self.width - theme::TARGET,
            drags: self.value.is_some(),
            steps: self.value.is_some(),
            from_left: false,
            is_lit: self.is_lit,
            hint: hint.unwrap_or_default(),
            type_size: self.type_size,
        };
        let shown = cell.show(ui, Role::EditableComboBox, |_| ());
        let change = match shown.change {
            Some(Deed::Typed(text)) => match unit.parse_size(&text) {
                Ok((od_mm, Some(wall_mm))) => Some(SizeChange::Set(TubeSize::new(od_mm, wall_mm))),
                Ok((od_mm, None)) => Some(SizeChange::SetDiameter(od_mm)),
                Err(error) => {
                    let reason = format!("{}: write diameter x wall.", sentence(&error.to_string()));
                    refuse(ui, self.id, reason, Some(text), self.stands());
                    None
                }
            },
            Some(Deed::Stepped(steps)) => self.neighbour(self.value, steps).map(SizeChange::Set),
            Some(Deed::Held) => {
                ui.data_mut(|data| data.insert_temp(start_id, self.value.map(|size| (size.od_mm, size.wall_mm))));
                None
            }
            Some(Deed::Dragged(points)) => {
                let start = ui.data(|data| data.get_temp::<Option<(f64, f64)>>(start_id)).flatten();
                let start = start.map(|(od_mm, wall_mm)| TubeSize::new(od_mm, wall_mm));
                let steps = (points / POINTS_A_SIZE).trunc();
                let size = if steps == 0.0 {
                    start
                } else {
                    self.neighbour(start, steps)
                };
                size.filter(|size| self.value != Some(*size)).map(SizeChange::Preview)
            }
            Some(Deed::LetGo) => Some(SizeChange::Keep),
            None => None,
        };
        Shown {
            change,
            rect: shown.rect,
            is_hot: shown.is_hot,
        }
    }

    /// The size so many steps from `from` in the stock; the last one where there are no more.
    fn neighbour(&self, from: Option<TubeSize>, steps: f64) -> Option<TubeSize> {
        let from = from?;
        let stock = stock_of(self.apparatus);
        let key = |size: TubeSize| (size.od_mm, size.wall_mm);
        let smaller = stock.iter().filter(|row| key(row.size) < key(from)).count() as f64;
        let greater = stock.iter().filter(|row| key(row.size) > key(from)).count() as f64;
        let last = stock.len() as f64 - 1.0;
        // A size that is not in stock lies between two neighbours.
        let place = if steps > 0.0 {
            last - greater + steps
        } else {
            smaller + steps
        };
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to the positions of the list"
        )]
        let place = place.clamp(0.0, last.max(0.0)) as usize;
        stock.get(place).map(|row| row.size)
    }

    fn list(&self, ui: &mut Ui) -> (egui::Response, Option<SizeChange>) {
        let label = format!("{}: stock", self.label);
        let picker = Picker {
            id: self.id.with("stock"),
            label: &label,
            face: Face::Arrow,
            width: theme::TARGET,
            list_width: 240.0,
            is_searched: true,
            is_lit: false,
        };
        let (button, chosen) = picker.show(ui, || {
            let stock = stock_of(self.apparatus);
            let present = stock.iter().position(|row| Some(row.size) == self.value);
            let choices = stock.iter().map(|row| Choice {
                text: self.length_unit.size_text(row.size.od_mm, row.size.wall_mm),
                remark: match &row.note {
                    Some(note) if note.is_empty() => "own".to_owned(),
                    Some(note) => note.clone(),
                    None => format!("bore {}", self.length_unit.entered_text(row.size.bore_mm())),
                },
            });
            (choices.collect(), present)
        });
        let size = chosen.and_then(|i| stock_of(self.apparatus).get(i).map(|row| row.size));
        (button, size.map(SizeChange::Set))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::OwnSize;

    fn field(apparatus: &Apparatus) -> SizeField<'_> {
        SizeField {
            id: Id::unique("size"),
            label: "Tube",
            value: None,
            apparatus,
            length_unit: LengthUnit::Millimetre,
            width: SizeField::WIDTH,
            is_lit: false,
            type_size: super::super::IN_LIST,
        }
    }

    #[test]
    fn own_sizes_stand_in_their_place_and_once() {
        let own = |od_mm, wall_mm| OwnSize {
            tube: TubeSize::new(od_mm, wall_mm),
            note: "rack 2".into(),
        };
        let apparatus = Apparatus {
            own_stock: vec![own(13.5, 1.25), own(16.0, 1.2)],
            ..Apparatus::default()
        };
        let stock = stock_of(&apparatus);
        assert_eq!(stock.len(), STOCK.len() + 1);
        let place = stock.iter().position(|row| row.size.od_mm == 13.5).unwrap();
        assert_eq!(stock[place - 1].size, TubeSize::new(13.0, 2.2));
        assert_eq!(stock[place + 1].size, TubeSize::new(14.0, 1.0));
        let same = stock.iter().find(|row| row.size == TubeSize::new(16.0, 1.2)).unwrap();
        assert_eq!(same.note.as_deref(), Some("rack 2"));
    }

    #[test]
    fn steps_go_through_the_stock_and_stop_at_its_ends() {
        let apparatus = Apparatus::default();
        let field = field(&apparatus);
        for (from, steps, to) in [
            ((16.0, 1.2), 1.0, (16.0, 1.8)),
            ((16.0, 1.2), -1.0, (15.0, 2.5)),
            ((16.0, 1.3), 1.0, (16.0, 1.8)),
            ((16.0, 1.3), -1.0, (16.0, 1.2)),
            ((3.0, 0.7), -1.0, (3.0, 0.7)),
            ((50.0, 3.2), 5.0, (50.0, 3.2)),
        ] {
            let from = TubeSize::new(from.0, from.1);
            assert_eq!(
                field.neighbour(Some(from), steps),
                Some(TubeSize::new(to.0, to.1)),
                "{from:?}"
            );
        }
    }
}
