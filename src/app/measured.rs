//! The page of the shelf on which measured fills are noted after the run and held against it.
//!
//! The comparison runs beside the window, tells how far it is and can be given up. The newest design is compared, and one
//! that is still being dragged is waited for.

use super::field::{self, TextField};
use super::region::is_clicked;
use super::scene::Scene;
use super::seeker::{Compared, Found, Search, Sought};
use super::session::Session;
use super::stages::apply;
use super::theme;
use crate::model::{Apparatus, Edit, Form};
use crate::shop::measured::{Comparison, ENOUGH, Explanation, UNCERTAINTY_PART, uncertainty_ml};
use crate::stages::filling_density;
use crate::units::si::{density_text, grams, in_millilitres};
use crate::units::{self, ParseError, Quantity, fixed, signed};
use egui::accesskit::{Live, Role};
use egui::{Align, Button, Grid, Id, Label, Layout, ProgressBar, RichText, ScrollArea, Ui, Vec2, WidgetInfo, vec2};

/// From this width on table and verdict stand beside each other, points.
const WIDE: f32 = 800.0;
/// Width of the table beside the verdict, points.
const TABLE: f32 = 536.0;
/// Widths of the table's columns, points: name, target, predicted, field, difference, explained.
const COLUMNS: [f32; 6] = [84.0, 52.0, 66.0, 96.0, 104.0, 66.0];
/// Height of the heads of the columns, points.
const HEAD: f32 = 34.0;
/// The column with the fields.
const FIELD: usize = 3;
/// How often a comparison under way is looked at, s.
const LOOK_S: f32 = 0.1;

/// The page.
#[derive(Default)]
pub(crate) struct Measured {
    search: Option<Search>,
    found: Option<(Result<Compared, String>, u64)>,
    /// Revision whose comparison was given up.
    given_up: Option<u64>,
}

impl Measured {
    /// Another document is open: what is under way is given up.
    pub(crate) fn forget(&mut self) {
        *self = Self::default();
    }

    /// Shows the page.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene) {
        self.follow(ui, session, scene);
        let names = vessels(session.document.now());
        if names.is_empty() {
            let words = "There are no ampoules yet. What each of them holds after the run is noted here.";
            ui.label(RichText::new(words).color(theme::of(ui).quiet));
            return;
        }
        if ui.available_width() < WIDE {
            ScrollArea::both()
                .id_salt("measured")
                .auto_shrink(false)
                .show(ui, |ui| {
                    self.verdict(ui, session);
                    ui.add_space(6.0);
                    self.table(ui, session, &names);
                    ui.add_space(6.0);
                    self.reasons(ui, session);
                });
            return;
        }
        ui.horizontal_top(|ui| {
            ui.vertical(|ui| {
                ui.set_width(TABLE);
                ScrollArea::vertical()
                    .id_salt("measured fills")
                    .auto_shrink([false, false])
                    .show(ui, |ui| self.table(ui, session, &names));
            });
            ui.separator();
            ui.vertical(|ui| {
                ScrollArea::vertical()
                    .id_salt("verdict")
                    .auto_shrink(false)
                    .show(ui, |ui| {
                        self.verdict(ui, session);
                        self.reasons(ui, session);
                    });
            });
        });
    }

    /// Takes what was found and asks for what has changed.
    fn follow(&mut self, ui: &Ui, session: &Session, scene: &Scene) {
        while let Some(search) = &self.search
            && let Some(found) = search.answer()
        {
            let revision = search.revision;
            let found = match found {
                Found::Compared(compared) => Ok(compared),
                Found::Nothing(why) => Err(why),
                Found::Even(..) | Found::Size(_) | Found::Spread(_) => return,
            };
            if is_whole(&found) {
                self.search = None;
            }
            self.found = Some((found, revision));
        }
        let revision = session.document.revision();
        if let Some(search) = &self.search {
            if search.revision == revision {
                ui.ctx().request_repaint_after_secs(LOOK_S);
                return;
            }
            self.search = None;
        }
        let is_known = |(found, of): &(Result<Compared, String>, u64)| *of == revision && is_whole(found);
        let is_known = self.found.as_ref().is_some_and(is_known);
        let is_wanted = !is_known && self.given_up != Some(revision) && !session.document.is_previewing();
        if is_wanted {
            let apparatus = session.document.settled();
            self.search = Some(Search::begin(ui.ctx(), Sought::Comparison, apparatus, scene, revision));
        }
    }

    fn compared(&self) -> Option<&Compared> {
        self.found.as_ref().and_then(|(found, _)| found.as_ref().ok())
    }

    fn comparison(&self) -> Option<&Comparison> {
        self.compared()?.comparison.as_ref()
    }

    fn table(&self, ui: &mut Ui, session: &mut Session, names: &[(String, Option<f64>)]) {
        let explained = self.comparison().and_then(Comparison::best).is_some();
        Grid::new("fills").striped(true).spacing(vec2(6.0, 2.0)).show(ui, |ui| {
            let heads = [
                ("Ampoule", ""),
                ("Target", "mL"),
                ("Predicted", "mL"),
                ("Measured", "mL or g"),
                ("Difference", "mL"),
                ("Explained", "mL"),
            ];
            for (column, (name, unit)) in heads.into_iter().enumerate().take(5 + usize::from(explained)) {
                head(ui, column, name, unit);
                if column == FIELD {
                    ui.label("");
                }
            }
            ui.end_row();
            for (name, target_ml) in names {
                self.row(ui, session, name, *target_ml, explained);
                ui.end_row();
            }
        });
        let refusals = names.iter().filter_map(|(name, _)| {
            let text = session
                .document
                .now()
                .run
                .measured_ml(name)
                .map_or_else(String::new, text_of);
            field::refusal_of(ui, id_of(name), &text).map(|why| format!("{name}: {why}"))
        });
        for refusal in refusals.collect::<Vec<_>>() {
            ui.label(RichText::new(refusal).color(theme::of(ui).stop));
        }
    }

    fn row(&self, ui: &mut Ui, session: &mut Session, name: &str, target_ml: Option<f64>, explained: bool) {
        let colours = theme::of(ui);
        let number = |ml: Option<f64>| RichText::new(ml.map_or_else(|| "–".to_owned(), |ml| fixed(ml, 2)));
        let predicted = self.compared().and_then(|compared| {
            let mut vessels = compared.predicted.iter();
            vessels
                .find(|vessel| vessel.name == name)
                .map(|vessel| vessel.predicted_ml)
        });
        let measured = session.document.now().run.measured_ml(name);
        cell(ui, 0, RichText::new(name));
        cell(ui, 1, number(target_ml));
        cell(ui, 2, number(predicted));
        entry(ui, session, name, measured);
        match predicted.zip(measured) {
            Some((predicted, measured)) => {
                let off = measured - predicted;
                let part = if predicted > 0.0 {
                    format!(" ({} %)", signed(off / predicted * 100.0, 0))
                } else {
                    String::new()
                };
                let words = RichText::new(signed(off, 2) + &part);
                let is_off = off.abs() > ENOUGH * uncertainty_ml(measured, UNCERTAINTY_PART);
                let words = if is_off {
                    words.font(theme::heavy(13.5)).color(colours.watch)
                } else {
                    words
                };
                cell(ui, 4, words);
            }
            None => cell(ui, 4, RichText::new("–").color(colours.quiet)),
        }
        if explained {
            let with = self.comparison().and_then(|comparison| {
                let at = comparison.vessels.iter().position(|vessel| vessel.name == name)?;
                comparison.best()?.fills_ml.get(at).copied()
            });
            cell(ui, 5, number(with));
        }
    }

    fn verdict(&mut self, ui: &mut Ui, session: &Session) {
        let colours = theme::of(ui);
        let quiet = |text: &str| RichText::new(text).font(theme::plain(12.5)).color(colours.quiet);
        if let Some(search) = &self.search {
            let part = search.part();
            let mut gives_up = false;
            ui.horizontal_wrapped(|ui| {
                ui.label(quiet("Being compared…"));
                ui.add(ProgressBar::new(part).show_percentage().desired_width(96.0));
                gives_up = ui.button("Give it up").clicked();
            });
            if gives_up {
                self.given_up = Some(session.document.revision());
                self.search = None;
            }
        } else if self.given_up == Some(session.document.revision()) {
            ui.horizontal(|ui| {
                ui.label(quiet("The comparison was given up."));
                if ui.button("Compare").clicked() {
                    self.given_up = None;
                }
            });
        }
        let measured = &session.document.now().run.measured;
        if measured.is_empty() {
            ui.add(Label::new(how_to(session.document.now())).wrap());
        }
        match &self.found {
            Some((Err(why), _)) => {
                say(ui, RichText::new(why).color(colours.watch));
            }
            Some((Ok(compared), _)) => {
                if let Some(why) = &compared.refusal {
                    say(ui, RichText::new(why).color(colours.watch));
                }
                if let Some(comparison) = compared.comparison.as_ref().filter(|_| !measured.is_empty()) {
                    say(ui, RichText::new(comparison.verdict()).font(theme::heavy(14.0)));
                }
            }
            None => {}
        }
    }

    /// What the verdict stands on.
    fn reasons(&self, ui: &mut Ui, session: &Session) {
        let Some(compared) = self
            .compared()
            .filter(|_| !session.document.now().run.measured.is_empty())
        else {
            return;
        };
        if let Some(comparison) = &compared.comparison {
            reasons(ui, comparison, compared.predicted.len());
        }
    }
}

/// Whether there is nothing more to come.
fn is_whole(found: &Result<Compared, String>) -> bool {
    found.as_ref().map_or(true, |compared| compared.is_whole)
}

/// How much was measured, what was tried, and when an explanation counts.
fn reasons(ui: &mut Ui, comparison: &Comparison, of: usize) {
    let colours = theme::of(ui);
    let small = |text: String| RichText::new(text).font(theme::plain(12.5)).color(colours.quiet);
    let counted = format!(
        "{} of {of} measured. The differences are {} mL, root mean square.",
        comparison.vessels.len(),
        fixed(comparison.off_ml, 3)
    );
    ui.add(Label::new(small(counted)).wrap());
    let tried: Vec<&Explanation> = comparison.explanations.iter().filter(|e| !e.is_enough).collect();
    if !tried.is_empty() {
        ui.add_space(6.0);
        let words = RichText::new("Tried, and not enough")
            .font(theme::heavy(12.5))
            .color(colours.quiet);
        let heading = ui.label(words);
        heading.widget_info(|| WidgetInfo::labeled(Role::Heading, true, "Tried, and not enough"));
    }
    for explanation in tried {
        let fills: Vec<String> = explanation.fills_ml.iter().map(|ml| fixed(*ml, 2)).collect();
        let words = format!(
            "– {}. It would give {} mL; there remain {} mL.",
            explanation.causes_text(),
            fills.join(", "),
            fixed(explanation.remains_ml, 3)
        );
        ui.add(Label::new(RichText::new(words).font(theme::plain(13.0))).wrap());
    }
    ui.add_space(6.0);
    let note = format!(
        "A fill is taken to be known to {} %. An explanation counts when twice that or less remains and nothing deviates \
         by more than three standard deviations. That it explains does not make it the cause.",
        fixed(comparison.uncertainty * 100.0, 0)
    );
    ui.add(Label::new(small(note)).wrap());
}

/// A sentence that is told as soon as it changes.
fn say(ui: &mut Ui, words: RichText) {
    let response = ui.add(Label::new(words).wrap());
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_live(Live::Polite));
}

/// What is to be done while nothing is measured.
fn how_to(apparatus: &Apparatus) -> RichText {
    let by_mass = match filling_density(apparatus) {
        Ok(density) => format!(" or 4.6 g, which counts with {}", density_text(density)),
        Err(_) => String::new(),
    };
    RichText::new(format!(
        "Nothing is measured yet. When the ampoules are sealed off, type what each of them holds into its field: \
         2.31 ml{by_mass}. From three on it is looked for what would explain the difference."
    ))
}

/// The field of a vessel, and the button that empties it.
fn entry(ui: &mut Ui, session: &mut Session, name: &str, measured: Option<f64>) {
    let text = measured.map_or_else(String::new, text_of);
    let id = id_of(name);
    let label = format!("Measured in {name}");
    let field = TextField {
        id,
        label: &label,
        value: Some(&text),
        width: COLUMNS[FIELD],
        hint: "A volume, or a mass with its unit; empty when nothing was measured",
    };
    let typed = field.show(ui).change;
    let note = |volume_ml: Option<f64>| Edit::Measured {
        piece: name.to_owned(),
        volume_ml,
    };
    match typed.map(|typed| read(&typed, session.document.settled())) {
        Some(Ok(volume_ml)) if volume_ml == measured => field::forget(ui, id),
        Some(Ok(volume_ml)) => apply(ui, session, id, &note(volume_ml), &text),
        Some(Err(why)) => field::refuse(ui, id, why, None, text.clone()),
        None => {}
    }
    let size = Vec2::splat(theme::TARGET);
    if measured.is_some() {
        let response = ui.add(Button::new("×").min_size(size)).on_hover_text("Not measured");
        let words = format!("Forget what was measured in {name}");
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
        if is_clicked(&response) {
            apply(ui, session, id, &note(None), &text);
        }
    } else {
        ui.allocate_space(size);
    }
}

/// Reads what was typed: a volume, or a mass that the liquid's density makes one, mL; nothing where nothing is typed.
fn read(text: &str, apparatus: &Apparatus) -> Result<Option<f64>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let complain = |error: ParseError| field::sentence(&error.to_string()) + ".";
    let ml = match units::parse(text, Quantity::Volume) {
        Err(ParseError::Unit { .. }) => {
            let mass = units::parse(text, Quantity::Mass).map_err(|error| match error {
                ParseError::Unit { unit, .. } => format!("\"{unit}\" is no unit of a volume or a mass."),
                error => complain(error),
            })?;
            let density = filling_density(apparatus)
                .map_err(|why| format!("A mass can't be made a volume: {why}. Type a volume."))?;
            in_millilitres(grams(mass) / density)
        }
        other => other.map_err(complain)?,
    };
    Ok(Some(ml))
}

/// Names of the ampoules with their targets, mL, and of what else was measured.
fn vessels(apparatus: &Apparatus) -> Vec<(String, Option<f64>)> {
    let mut found: Vec<(String, Option<f64>)> = Vec::new();
    for piece in apparatus.expanded() {
        if let Form::Ampoule(ampoule) = &piece.form {
            found.push((piece.name.clone(), Some(ampoule.target_ml)));
        }
    }
    for fill in &apparatus.run.measured {
        if found.iter().all(|(name, _)| *name != fill.piece) {
            found.push((fill.piece.clone(), None));
        }
    }
    found
}

fn id_of(name: &str) -> Id {
    Id::unique("measured fill").with(name)
}

/// A measured volume with as many digits as it was given, two at least and three at most.
fn text_of(ml: f64) -> String {
    let text = fixed(ml, 3);
    format!("{} mL", text.strip_suffix('0').unwrap_or(&text))
}

/// The head of a column, its unit under its name.
fn head(ui: &mut Ui, column: usize, name: &str, unit: &str) {
    let quiet = theme::of(ui).quiet;
    let end = if [0, FIELD].contains(&column) {
        Align::Min
    } else {
        Align::Max
    };
    ui.allocate_ui_with_layout(vec2(COLUMNS[column], HEAD), Layout::top_down(end), |ui| {
        ui.set_min_size(vec2(COLUMNS[column], HEAD));
        ui.spacing_mut().item_spacing.y = 0.0;
        for words in [name, unit] {
            ui.label(RichText::new(words).font(theme::plain(12.0)).color(quiet));
        }
    });
}

/// A cell of the table; numbers end at the right.
fn cell(ui: &mut Ui, column: usize, words: RichText) {
    let layout = if column == 0 {
        Layout::left_to_right(Align::Center)
    } else {
        Layout::right_to_left(Align::Center)
    };
    ui.allocate_ui_with_layout(vec2(COLUMNS[column], theme::TARGET), layout, |ui| {
        ui.set_min_size(vec2(COLUMNS[column], theme::TARGET));
        ui.add(Label::new(words).truncate());
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rubidium() -> Apparatus {
        crate::model::file::read(include_str!("../../examples/rubidium-six.json")).unwrap()
    }

    #[test]
    fn a_fill_is_read_as_volume_or_mass() {
        let apparatus = rubidium();
        assert_eq!(read("2.31 ml", &apparatus), Ok(Some(2.31)));
        assert_eq!(read("1,5", &apparatus), Ok(Some(1.5)));
        assert_eq!(read(" ", &apparatus), Ok(None));
        // Liquid rubidium near its melting point: 1.46 to 1.48 g/mL.
        let of_mass = read("2.94 g", &apparatus).unwrap().unwrap();
        assert!((1.97..2.03).contains(&of_mass), "{of_mass}");
        assert!(read("2 mm", &apparatus).unwrap_err().contains("a volume or a mass"));
        let mut unknown = apparatus;
        unknown.charge.liquid = "moonshine".to_owned();
        assert!(read("2 g", &unknown).unwrap_err().contains("Type a volume"));
        assert_eq!(read("2 ml", &unknown), Ok(Some(2.0)));
    }

    #[test]
    fn what_was_typed_is_shown_as_it_was() {
        assert_eq!(text_of(2.31), "2.31 mL");
        assert_eq!(text_of(2.315), "2.315 mL");
        assert_eq!(text_of(2.0), "2.00 mL");
    }
}
