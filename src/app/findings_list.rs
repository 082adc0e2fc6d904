//! The findings as a list: grouped by severity, each with what, why, how to mend it and how it is known.

use super::lists;
use super::reading::Reading;
use super::session::Session;
use super::stages::{Silencing, silence};
use super::symbols;
use super::theme::{self, Palette};
use crate::findings::{Finding, Review, Severity};
use crate::model::Apparatus;
use egui::accesskit::Role;
use egui::text::{LayoutJob, TextFormat};
use egui::{Id, RichText, ScrollArea, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use serde::{Deserialize, Serialize};

/// Width from which what, why and mend stand beside each other, points.
const WIDE: f32 = 640.0;
/// Room for the sign at the left of a row, points.
const SIGN: f32 = 26.0;
/// Gap between columns, points.
const GAP: f32 = 14.0;
/// Room above and below the text of a row, points.
const PAD: f32 = 5.0;

const SEVERITIES: [Severity; 3] = [Severity::Stop, Severity::Watch, Severity::Note];

/// Which severities are listed, and pinned on the bench; remembered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Filter {
    stop: bool,
    watch: bool,
    note: bool,
}

impl Default for Filter {
    fn default() -> Self {
        Self {
            stop: true,
            watch: true,
            note: true,
        }
    }
}

impl Filter {
    /// Whether a severity passes.
    pub(crate) fn shows(self, severity: Severity) -> bool {
        match severity {
            Severity::Stop => self.stop,
            Severity::Watch => self.watch,
            Severity::Note => self.note,
        }
    }

    fn toggle(&mut self, severity: Severity) {
        let shown = match severity {
            Severity::Stop => &mut self.stop,
            Severity::Watch => &mut self.watch,
            Severity::Note => &mut self.note,
        };
        *shown = !*shown;
    }
}

/// The list, and what is kept of it from frame to frame.
#[derive(Debug, Default)]
pub(crate) struct FindingsList {
    /// The piece whose findings are to be brought into view.
    wanted: Option<String>,
    silencing: Silencing,
}

/// How many findings of each severity there are, in words.
pub(crate) fn count_words(findings: &[Finding]) -> String {
    let counts = SEVERITIES.map(|severity| (severity, count(findings, severity)));
    let words = counts.into_iter().filter(|(_, count)| *count > 0);
    let words: Vec<String> = words
        .map(|(severity, count)| symbols::counted(count, severity))
        .collect();
    if words.is_empty() {
        "nothing found".to_owned()
    } else {
        words.join(", ")
    }
}

fn count(findings: &[Finding], severity: Severity) -> usize {
    findings.iter().filter(|finding| finding.severity == severity).count()
}

/// The count at the foot of the window; whether it was clicked.
pub(crate) fn show_count(ui: &mut Ui, findings: &[Finding], is_open: bool) -> bool {
    let colours = theme::of(ui);
    let counts = SEVERITIES.map(|severity| (severity, count(findings, severity)));
    let counts: Vec<(Severity, usize)> = counts.into_iter().filter(|(_, count)| *count > 0).collect();
    let text = |words: String| ui.painter().layout_no_wrap(words, theme::plain(13.0), colours.text);
    let parts: Vec<_> = counts
        .iter()
        .map(|(severity, count)| (Some(*severity), text(symbols::counted(*count, *severity))))
        .collect();
    let parts = if parts.is_empty() {
        vec![(None, text("Nothing found".to_owned()))]
    } else {
        parts
    };
    let width = parts
        .iter()
        .map(|(severity, galley)| galley.size().x + if severity.is_some() { 30.0 } else { 10.0 })
        .sum::<f32>();
    let (rect, response) = ui.allocate_exact_size(vec2(width + 6.0, theme::TARGET), Sense::click());
    let words = format!("Findings: {}", count_words(findings));
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_open, &words));
    let line = ui.style().interact(&response).bg_stroke;
    let fill = if is_open || response.hovered() {
        colours.chosen
    } else {
        colours.field
    };
    ui.painter().rect(rect, 4.0, fill, line, StrokeKind::Inside);
    if response.has_focus() {
        let stroke = Stroke::new(2.0, colours.accent);
        ui.painter().rect_stroke(rect, 4.0, stroke, StrokeKind::Outside);
    }
    let mut x = rect.left() + 8.0;
    for (severity, galley) in parts {
        if let Some(severity) = severity {
            symbols::severity(ui.painter(), severity, pos2(x + 6.0, rect.center().y), 6.5, colours);
            x += 16.0;
        }
        let y = rect.center().y - galley.size().y / 2.0;
        let advance = galley.size().x + 14.0;
        ui.painter().galley(pos2(x, y), galley, colours.text);
        x += advance;
    }
    response
        .on_hover_text("What is wrong, doubtful or worth a note (G)")
        .clicked()
}

/// Selects what a finding is about: its piece, or all members of its row.
pub(crate) fn select(session: &mut Session, finding: &Finding) {
    let apparatus = session.document.now();
    let members = members(apparatus, &finding.piece);
    if !members.is_empty() {
        session.selection.set(members);
    } else if apparatus.find(&finding.piece).is_some() {
        session.selection.only(&finding.piece);
    }
}

/// Names of the members of a row; empty for anything else.
pub(crate) fn members(apparatus: &Apparatus, name: &str) -> Vec<String> {
    let row = apparatus.rows.iter().find(|row| row.name == name);
    row.map(|row| (1..=row.count).map(|member| row.member_name(member)).collect())
        .unwrap_or_default()
}

impl FindingsList {
    /// Brings the findings of a piece into view when the list is shown next.
    pub(crate) fn bring_into_view(&mut self, piece: &str) {
        self.wanted = Some(piece.to_owned());
    }

    /// Shows filter and list; `problem` tells why the glass could not be built.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, review: &Review, problem: Option<&str>) {
        let findings = &review.findings[..];
        if let Some(problem) = problem {
            ui.label(RichText::new(
                "The glass could not be worked out, so it could not all be judged:",
            ));
            ui.label(RichText::new(problem).color(theme::of(ui).stop));
        }
        let mut filter = Reading::of(ui.ctx()).filter;
        if !findings.is_empty() {
            let before = filter;
            ui.horizontal(|ui| {
                for severity in SEVERITIES {
                    if chip(ui, severity, count(findings, severity), filter.shows(severity)) {
                        filter.toggle(severity);
                    }
                }
            });
            if filter != before {
                Reading::change(ui.ctx(), |reading| reading.filter = filter);
            }
        }
        ScrollArea::vertical()
            .id_salt("findings")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                lists::describe(ui, Role::List, "List of findings", findings.len());
                ui.spacing_mut().item_spacing.y = 2.0;
                if findings.is_empty() && problem.is_none() {
                    ui.label(RichText::new("Nothing found.").font(theme::heavy(13.5)));
                }
                self.rows(ui, session, findings, filter);
                silence::list(ui, session, &review.silenced);
                silence::list_unknown(ui, &review.unknown);
                ui.add_space(6.0);
            });
    }

    fn rows(&mut self, ui: &mut Ui, session: &mut Session, findings: &[Finding], filter: Filter) {
        let ids: Vec<Id> = (0..findings.len()).map(|i| Id::unique("finding").with(i)).collect();
        let shown: Vec<usize> = (0..findings.len())
            .filter(|i| filter.shows(findings[*i].severity))
            .collect();
        let focused = ui.memory(egui::Memory::focused);
        let at = focused.and_then(|id| shown.iter().position(|i| ids[*i] == id));
        let moved = at.and_then(|at| lists::moved_by_key(ui, ids[shown[at]], at, shown.len()));
        if let Some((to, _)) = moved {
            ui.memory_mut(|memory| memory.request_focus(ids[shown[to]]));
            select(session, &findings[shown[to]]);
        }
        let wanted = self.wanted.take();
        let mut is_sought = wanted.is_some();
        let mut group = None;
        for (place, &i) in shown.iter().enumerate() {
            let finding = &findings[i];
            if group != Some(finding.severity) {
                group = Some(finding.severity);
                ui.add_space(4.0);
                let head = format!(
                    "{}, {}. {}.",
                    symbols::title(finding.severity),
                    count(findings, finding.severity),
                    symbols::meaning(finding.severity)
                );
                ui.label(RichText::new(head).font(theme::heavy(12.5)).color(theme::of(ui).quiet));
            }
            let response = row(ui, session, finding, ids[i]);
            if response.clicked() {
                select(session, finding);
            }
            if response.has_focus() {
                self.silencing.come_near(finding);
            }
            if self.silencing.is_of(finding) || is_selected(session, &finding.piece) {
                self.silencing.offer(ui, session, finding, SIGN);
            }
            let is_wanted = is_sought && wanted.as_ref() == Some(&finding.piece);
            if is_wanted || moved.is_some_and(|(to, _)| to == place) {
                is_sought &= !is_wanted;
                response.scroll_to_me(if is_wanted { Some(egui::Align::Center) } else { None });
            }
        }
    }
}

/// A switch for one severity; whether it was clicked.
fn chip(ui: &mut Ui, severity: Severity, count: usize, is_on: bool) -> bool {
    let colours = theme::of(ui);
    let words = format!("{} {count}", symbols::title(severity));
    // Spaces leave room for the sign.
    let response = ui.selectable_label(is_on, format!("      {words}"));
    let label = format!("Show {}: {count}", symbols::word(severity));
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, is_on, &label));
    let at = response.rect.left_center() + vec2(15.0, 0.0);
    symbols::severity(ui.painter(), severity, at, 6.5, colours);
    let hint = if is_on {
        "Listed and pinned; click to hide"
    } else {
        "Hidden; click to list and pin"
    };
    response.on_hover_text(hint).clicked()
}

/// A finding: sign, what, why, how to mend it, how it is known.
fn row(ui: &mut Ui, session: &Session, finding: &Finding, id: Id) -> egui::Response {
    let colours = theme::of(ui);
    let width = ui.available_width() - 10.0;
    let room = width - SIGN;
    let columns = if width >= WIDE {
        let rest = room - 2.0 * GAP;
        vec![rest * 0.28, rest * 0.38, rest * 0.34]
    } else {
        vec![room]
    };
    let jobs = jobs(finding, colours, columns.len() > 1);
    let galleys: Vec<_> = jobs
        .into_iter()
        .enumerate()
        .map(|(i, mut job)| {
            job.wrap.max_width = columns.get(i).or(columns.last()).copied().unwrap_or(room);
            ui.painter().layout_job(job)
        })
        .collect();
    let is_wide = columns.len() > 1;
    let heights = galleys.iter().map(|galley| galley.size().y);
    let height = if is_wide {
        heights.fold(0.0, f32::max)
    } else {
        heights.sum()
    };
    let size = vec2(width, (height + 2.0 * PAD).max(theme::TARGET));
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let response = ui.interact(rect, id, Sense::click());
    let selected = is_selected(session, &finding.piece);
    let words = words(finding);
    response.widget_info(|| WidgetInfo::selected(Role::ListItem, true, selected, &words));
    if selected || response.hovered() {
        let fill = if selected { colours.chosen } else { colours.bench };
        ui.painter().rect_filled(rect, 3.0, fill);
    }
    if response.has_focus() {
        let stroke = Stroke::new(2.0, colours.accent);
        ui.painter().rect_stroke(rect, 3.0, stroke, StrokeKind::Inside);
    }
    let sign = pos2(rect.left() + 12.0, rect.top() + PAD + 8.0);
    symbols::severity(ui.painter(), finding.severity, sign, 7.0, colours);
    let mut at = pos2(rect.left() + SIGN, rect.top() + PAD);
    for (galley, width) in galleys.into_iter().zip(columns.iter().cycle()) {
        let size = galley.size();
        ui.painter().galley(at, galley, colours.text);
        if is_wide {
            at.x += width + GAP;
        } else {
            at.y += size.y;
        }
    }
    response
}

/// Whether the piece or a member of the row is selected.
fn is_selected(session: &Session, name: &str) -> bool {
    let apparatus = session.document.now();
    session.selection.contains(name)
        || session
            .selection
            .names()
            .iter()
            .any(|chosen| apparatus.member(chosen).is_some_and(|(row, _)| row.name == name))
}

/// The texts of a row: three side by side, or one below another.
fn jobs(finding: &Finding, colours: &Palette, is_wide: bool) -> Vec<LayoutJob> {
    let format = |font, color| TextFormat {
        font_id: font,
        color,
        ..TextFormat::default()
    };
    let (plain, heavy) = (theme::plain(13.0), theme::heavy(13.0));
    let mut what = LayoutJob::default();
    if !finding.piece.is_empty() {
        what.append(&finding.piece, 0.0, format(heavy.clone(), colours.accent));
        what.append("  ", 0.0, format(plain.clone(), colours.text));
    }
    what.append(&finding.what, 0.0, format(heavy, colours.text));
    let mut why = LayoutJob::default();
    why.append(&finding.why, 0.0, format(plain.clone(), colours.text));
    let mut mend = LayoutJob::default();
    mend.append("To mend: ", 0.0, format(plain.clone(), colours.quiet));
    mend.append(&finding.mend, 0.0, format(plain.clone(), colours.text));
    let known = format!(
        "{}Known from: {}",
        if is_wide { "\n" } else { "  " },
        finding.known.words()
    );
    mend.append(&known, 0.0, format(theme::plain(12.0), colours.quiet));
    vec![what, why, mend]
}

/// A finding in words, for assistive tools and for its pin.
pub(crate) fn words(finding: &Finding) -> String {
    let piece = if finding.piece.is_empty() {
        String::new()
    } else {
        format!("{}: ", finding.piece)
    };
    format!(
        "{}. {piece}{}. {} To mend: {} Known from: {}",
        symbols::title(finding.severity),
        finding.what,
        finding.why,
        finding.mend,
        finding.known.words()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::Known;
    use crate::model::sample;

    fn finding(severity: Severity, piece: &str) -> Finding {
        Finding {
            severity,
            rule: "rule",
            piece: piece.to_owned(),
            what: "It is bent".to_owned(),
            why: "By 3.0 mm.".to_owned(),
            mend: "Straighten it.".to_owned(),
            source: "a book",
            known: Known::Memory,
            at: None,
        }
    }

    #[test]
    fn counts_name_what_there_is() {
        use Severity::{Note, Stop};
        let list = [finding(Stop, "a"), finding(Note, "b"), finding(Note, "c")];
        assert_eq!(count_words(&list), "1 stop, 2 notes");
        assert_eq!(count_words(&[]), "nothing found");
    }

    #[test]
    fn words_say_what_why_and_how_to_mend_it() {
        assert_eq!(
            words(&finding(Severity::Watch, "vial-2")),
            "Watch. vial-2: It is bent. By 3.0 mm. To mend: Straighten it. Known from: memory"
        );
        assert!(words(&finding(Severity::Watch, "")).starts_with("Watch. It is bent."));
    }

    #[test]
    fn a_finding_about_a_row_is_about_its_members() {
        let apparatus = sample::apparatus();
        assert_eq!(members(&apparatus, "vial"), ["vial-1", "vial-2", "vial-3"]);
        assert!(members(&apparatus, "header").is_empty());
    }
}
