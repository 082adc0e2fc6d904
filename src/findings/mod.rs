//! Findings: what is doubtful or impossible at the bench, each with the numbers behind it and a way to mend it.
//!
//! The rules stand in one table, [`RULES`]: id, what it is about, source, how that is known, and the function that
//! judges. Those of the glass need nothing but its shape; those of the job need its stages worked out. A finding never
//! stands in the way of an edit. What could not be judged is said to be [`Unknown`]: nothing is fine merely because
//! it was not computed.

mod arms;
mod blowing;
mod charging;
mod cleaning;
mod connection;
mod courses;
mod distilling;
mod necks;
mod overlap;
mod place;
mod purging;
mod sealing;
mod strain;
mod table;
mod touching;

pub use courses::body_ml;
pub use table::RULES;

use crate::data::Known;
use crate::data::law::NoValue;
use crate::geom::build::Built;
use crate::model::{Apparatus, Form, Row};
use crate::stages::{Case, Stages};
use crate::units::LengthUnit;
use nalgebra::Vector2;
use std::cell::OnceCell;

pub(crate) use arms::ARM_EASY;

/// How grave a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// It cannot be made or cannot work.
    Stop,
    /// It may well fail.
    Watch,
    /// Worth knowing.
    Note,
}

/// Something found in a design.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How grave.
    pub severity: Severity,
    /// Id of the rule.
    pub rule: &'static str,
    /// Name of the piece or row; empty for the whole apparatus.
    pub piece: String,
    /// What was found.
    pub what: String,
    /// Why it matters, with the numbers.
    pub why: String,
    /// How it can be mended.
    pub mend: String,
    /// Where the rule's figure is from.
    pub source: &'static str,
    /// How the rule's figure is known.
    pub known: Known,
    /// Where on the glass it belongs, mm; none for the whole apparatus.
    pub at: Option<Vector2<f64>>,
}

impl Finding {
    /// The same with its lengths told in `unit`.
    pub fn told_in(self, unit: LengthUnit) -> Self {
        Self {
            what: unit.retold(&self.what),
            why: unit.retold(&self.why),
            mend: unit.retold(&self.mend),
            ..self
        }
    }
}

/// A rule.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// Its id; stands in files and answers.
    pub id: &'static str,
    /// What it looks at, in a few words.
    pub about: &'static str,
    /// Where its figures are from.
    pub source: &'static str,
    /// How they are known.
    pub known: Known,
    judge: Judge,
}

/// What a rule needs to know.
#[derive(Clone, Copy, Debug)]
enum Judge {
    /// The shape of the glass.
    Glass(fn(&Glass, &mut Found)),
    /// The stages of the job.
    Job(fn(&Work, &mut Found)),
}

/// What the rules of the glass look at.
struct Glass<'a> {
    apparatus: &'a Apparatus,
    built: &'a Built,
    roots: OnceCell<Vec<usize>>,
}

impl<'a> Glass<'a> {
    fn new(apparatus: &'a Apparatus, built: &'a Built) -> Self {
        Self {
            apparatus,
            built,
            roots: OnceCell::new(),
        }
    }

    /// For each piece the least piece that its bore communicates with.
    fn roots(&self) -> &[usize] {
        self.roots.get_or_init(|| connection::roots(self.built))
    }

    /// Every form once: a row's pattern under the row's name, departures under the member's.
    fn forms(&self) -> Vec<(String, Form)> {
        let pieces = self.apparatus.pieces.iter();
        let mut list: Vec<(String, Form)> = pieces.map(|piece| (piece.name.clone(), piece.form.clone())).collect();
        for row in &self.apparatus.rows {
            list.push((row.name.clone(), Form::Ampoule(row.pattern.clone())));
            for departure in &row.departures {
                let name = row.member_name(departure.member);
                list.push((name, Form::Ampoule(departure.ampoule.clone())));
            }
        }
        list
    }
}

/// What the rules of the job look at.
struct Work<'a> {
    case: &'a Case<'a>,
    stages: &'a Stages<'a>,
}

/// Something that could not be judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unknown {
    /// Id of the rule.
    pub rule: &'static str,
    /// What it would have looked at.
    pub about: &'static str,
    /// The piece; empty for the whole apparatus.
    pub piece: String,
    /// Why it could not.
    pub why: String,
}

/// What came of all rules.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Review {
    /// What was found and stands, the gravest first.
    pub findings: Vec<Finding>,
    /// What was found and is silenced, with the reason.
    pub silenced: Vec<(Finding, String)>,
    /// What could not be judged.
    pub unknown: Vec<Unknown>,
}

impl Review {
    /// Whether a stop stands.
    pub fn has_stop(&self) -> bool {
        self.findings.iter().any(|finding| finding.severity == Severity::Stop)
    }
}

/// Where a rule puts what it finds.
struct Found<'a> {
    rule: &'a Rule,
    findings: Vec<Finding>,
    unknown: Vec<Unknown>,
}

impl Found<'_> {
    /// A finding about a piece (empty: the whole): what, why with numbers, how to mend it.
    fn add(&mut self, severity: Severity, piece: &str, texts: [String; 3]) {
        self.add_known(severity, piece, self.rule.known, texts);
    }

    /// A finding whose figure is known in its own way.
    fn add_known(&mut self, severity: Severity, piece: &str, known: Known, [what, why, mend]: [String; 3]) {
        self.findings.push(Finding {
            severity,
            rule: self.rule.id,
            piece: piece.to_owned(),
            what,
            why,
            mend,
            source: self.rule.source,
            known,
            at: None,
        });
    }

    /// Puts the last finding at a place of its own.
    fn place(&mut self, at: Vector2<f64>) {
        if let Some(finding) = self.findings.last_mut() {
            finding.at = Some(at);
        }
    }

    /// Notes that the rule could not judge a piece.
    fn unknown(&mut self, piece: &str, why: impl Into<String>) {
        self.unknown.push(Unknown {
            rule: self.rule.id,
            about: self.rule.about,
            piece: piece.to_owned(),
            why: why.into(),
        });
    }

    /// The value of something worked out; what is not known is noted.
    fn value<'v, T>(&mut self, piece: &str, verdict: &'v Result<T, NoValue>) -> Option<&'v T> {
        match verdict {
            Ok(value) => Some(value),
            Err(why) => {
                self.unknown(piece, why.to_string());
                None
            }
        }
    }
}

/// A text that begins a sentence.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// What the rules that pass a filter find, the gravest first and otherwise in the order of the table.
fn judged(glass: &Glass, work: Option<&Work>, wanted: impl Fn(&Rule) -> bool) -> (Vec<Finding>, Vec<Unknown>) {
    let (mut findings, mut unknown) = (Vec::new(), Vec::new());
    for rule in RULES.iter().filter(|rule| wanted(rule)) {
        let mut found = Found {
            rule,
            findings: Vec::new(),
            unknown: Vec::new(),
        };
        match (rule.judge, work) {
            (Judge::Glass(judge), _) => judge(glass, &mut found),
            (Judge::Job(judge), Some(work)) => {
                judge(work, &mut found);
                found.findings = gathered(glass.apparatus, found.findings);
                found.unknown = gathered_unknown(glass.apparatus, found.unknown);
            }
            (Judge::Job(_), None) => {}
        }
        findings.append(&mut found.findings);
        unknown.append(&mut found.unknown);
    }
    findings.sort_by_key(|finding| finding.severity);
    for finding in &mut findings {
        finding.at = finding.at.or_else(|| place::of(finding, glass.built));
    }
    (findings, unknown)
}

/// The row all of whose members that follow its pattern are among the names.
fn whole_row<'a>(apparatus: &'a Apparatus, names: &[&str]) -> Option<&'a Row> {
    let rows = apparatus.rows.iter();
    let mut whole = rows.filter(|row| {
        let follow = (1..=row.count).filter(|member| !row.departs(*member));
        let follow: Vec<String> = follow.map(|member| row.member_name(member)).collect();
        follow.len() > 1 && follow.iter().all(|name| names.contains(&name.as_str()))
    });
    whole.next()
}

/// Whether a piece is a member of a row that follows its pattern.
fn follows(row: &Row, piece: &str) -> bool {
    row.member_of_name(piece).is_some_and(|member| !row.departs(member))
}

/// What is told of every member of a row in the same words is told once, of the row.
fn gathered(apparatus: &Apparatus, findings: Vec<Finding>) -> Vec<Finding> {
    let mut list: Vec<Finding> = Vec::with_capacity(findings.len());
    for finding in &findings {
        let same = |other: &&Finding| {
            (other.rule, other.severity, &other.what, &other.why, &other.mend)
                == (
                    finding.rule,
                    finding.severity,
                    &finding.what,
                    &finding.why,
                    &finding.mend,
                )
        };
        let names: Vec<&str> = findings.iter().filter(same).map(|other| other.piece.as_str()).collect();
        let row = whole_row(apparatus, &names).filter(|row| follows(row, &finding.piece));
        let piece = row.map_or_else(|| finding.piece.clone(), |row| row.name.clone());
        if !list.iter().any(|told| same(&told) && told.piece == piece) {
            list.push(Finding {
                piece,
                ..finding.clone()
            });
        }
    }
    list
}

/// The same for what could not be judged, each once.
fn gathered_unknown(apparatus: &Apparatus, unknown: Vec<Unknown>) -> Vec<Unknown> {
    let mut list: Vec<Unknown> = Vec::with_capacity(unknown.len());
    for entry in &unknown {
        let same = |other: &&Unknown| (other.rule, &other.why) == (entry.rule, &entry.why);
        let names: Vec<&str> = unknown.iter().filter(same).map(|other| other.piece.as_str()).collect();
        let row = whole_row(apparatus, &names).filter(|row| follows(row, &entry.piece));
        let piece = row.map_or_else(|| entry.piece.clone(), |row| row.name.clone());
        if !list.iter().any(|told| same(&told) && told.piece == piece) {
            list.push(Unknown { piece, ..entry.clone() });
        }
    }
    list
}

/// Everything found by geometry alone, the gravest first and otherwise in a fixed order.
pub fn geometric(apparatus: &Apparatus, built: &Built) -> Vec<Finding> {
    judged(&Glass::new(apparatus, built), None, |_| true).0
}

/// Everything found in the job alone, what it could not judge with it; silenced findings are among them.
pub fn of_job(stages: &Stages) -> (Vec<Finding>, Vec<Unknown>) {
    let case = stages.case();
    let (apparatus, built) = (case.apparatus, case.built);
    let work = Work { case, stages };
    judged(&Glass::new(apparatus, built), Some(&work), |rule| {
        matches!(rule.judge, Judge::Job(_))
    })
}

/// What one rule finds.
pub fn by_rule(id: &str, stages: &Stages) -> (Vec<Finding>, Vec<Unknown>) {
    let case = stages.case();
    let (apparatus, built) = (case.apparatus, case.built);
    let work = Work { case, stages };
    judged(&Glass::new(apparatus, built), Some(&work), |rule| rule.id == id)
}

/// All rules; what the design silences is put apart with its reason.
pub fn review(stages: &Stages) -> Review {
    let case = stages.case();
    let mut findings = geometric(case.apparatus, case.built);
    let (of_job, unknown) = of_job(stages);
    findings.extend(of_job);
    sorted(case.apparatus, findings, unknown)
}

/// Findings of both kinds as a review.
pub fn sorted(apparatus: &Apparatus, mut findings: Vec<Finding>, unknown: Vec<Unknown>) -> Review {
    findings.sort_by_key(|finding| finding.severity);
    let mut review = Review {
        unknown,
        ..Review::default()
    };
    for finding in findings {
        match apparatus.job.reason_for(finding.rule, &finding.piece) {
            Some(reason) => {
                let reason = reason.to_owned();
                review.silenced.push((finding, reason));
            }
            None => review.findings.push(finding),
        }
    }
    review
}

#[cfg(test)]
mod trials;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::geom::glass::MarkKind;
    use crate::model::{Edit, Element, End, FittingKind, Piece, Seat, TubeSize, sample};

    fn found(apparatus: &Apparatus) -> Vec<(Severity, &'static str, String)> {
        let built = build(apparatus).unwrap();
        geometric(apparatus, &built)
            .into_iter()
            .map(|f| (f.severity, f.rule, f.piece))
            .collect()
    }

    fn has(apparatus: &Apparatus, severity: Severity, rule: &str, piece: &str) -> bool {
        found(apparatus)
            .iter()
            .any(|(s, r, p)| (*s, *r, p.as_str()) == (severity, rule, piece))
    }

    fn changed(piece: &str, key: &str, value: f64) -> Apparatus {
        sample::apparatus()
            .apply(&Edit::Set {
                piece: piece.to_owned(),
                key: key.to_owned(),
                value,
            })
            .unwrap()
    }

    #[test]
    fn a_sound_design_has_no_stop() {
        assert_eq!(
            found(&sample::apparatus())
                .iter()
                .filter(|f| f.0 == Severity::Stop)
                .count(),
            0,
            "{:?}",
            found(&sample::apparatus())
        );
    }

    #[test]
    fn findings_stand_where_they_belong() {
        let faulty = changed("vial", "seal_mm", 21.0);
        let built = build(&faulty).unwrap();
        let list = geometric(&faulty, &built);
        let seal = list.iter().find(|f| f.rule == "seal-outside").unwrap();
        let first = built.names.iter().position(|name| name == "vial-1").unwrap();
        let mark = built.glass[first].marks.iter().find(|m| m.kind == MarkKind::Seal);
        assert_eq!(
            seal.at,
            mark.map(|mark| mark.at),
            "a row's finding stands at its first member"
        );
        let faulty = changed("header", "course.1.radius_mm", 20.0);
        let built = build(&faulty).unwrap();
        let list = geometric(&faulty, &built);
        let bend = list.iter().find(|f| f.rule == "bend-tight").unwrap();
        let line = &built.placed.lines[built.names.iter().position(|name| name == "header").unwrap()];
        assert_eq!(bend.at, Some(line.spot(line.length_mm / 2.0).at));
    }

    #[test]
    fn each_rule_fires_on_its_own_fault_only() {
        let sound = sample::apparatus();
        for (severity, rule, piece, faulty) in [
            (
                Severity::Stop,
                "neck-wider",
                "vial",
                changed("vial", "neck.od_mm", 11.0),
            ),
            (Severity::Stop, "seal-outside", "vial", changed("vial", "seal_mm", 21.0)),
            (
                Severity::Note,
                "neck-hard-to-seal",
                "vial",
                changed("vial", "neck.od_mm", 6.5),
            ),
            (
                Severity::Stop,
                "bend-tight",
                "header",
                changed("header", "course.1.radius_mm", 20.0),
            ),
            (
                Severity::Watch,
                "bend-tight",
                "header",
                changed("header", "course.1.radius_mm", 28.0),
            ),
            (
                Severity::Stop,
                "bend-tight",
                "bridge",
                changed("bridge", "bend_radius_mm", 14.0),
            ),
            (
                Severity::Note,
                "not-in-stock",
                "vial",
                changed("vial", "body.wall_mm", 1.1),
            ),
            (
                Severity::Stop,
                "target-too-large",
                "vial",
                changed("vial", "target_ml", 4.0),
            ),
            (
                Severity::Stop,
                "beyond-host",
                "vial-3",
                changed("vial", "pitch_mm", 200.0),
            ),
            (
                Severity::Stop,
                "corner-no-room",
                "bridge",
                changed("bridge", "bend_radius_mm", 45.0),
            ),
            (
                Severity::Stop,
                "leg-not-up",
                "bridge",
                changed("bridge", "seat.from.turn_deg", 0.0),
            ),
            (
                Severity::Stop,
                "arm-wider",
                "vial-1",
                changed("vial", "stem.od_mm", 17.0),
            ),
            (
                Severity::Note,
                "arm-nearly-as-wide",
                "vial-1",
                changed("vial", "stem.od_mm", 14.0),
            ),
            (
                Severity::Watch,
                "arms-close",
                "vial-2",
                changed("vial", "pitch_mm", 35.0),
            ),
            (
                Severity::Watch,
                "necks-close",
                "vial-2",
                changed("vial", "pitch_mm", 25.0),
            ),
            (
                Severity::Stop,
                "glass-overlaps",
                "vial-2",
                changed("vial", "pitch_mm", 11.0),
            ),
            (
                Severity::Stop,
                "not-connected",
                "vial-3",
                changed("vial", "pitch_mm", 200.0),
            ),
        ] {
            assert!(
                has(&faulty, severity, rule, piece),
                "{rule} {piece}: {:?}",
                found(&faulty)
            );
            assert!(!has(&sound, severity, rule, piece), "{rule} {piece}");
        }
    }

    #[test]
    fn a_closed_interior_has_no_port() {
        let mut apparatus = sample::apparatus();
        apparatus.set("bridge", "seat.from.at_mm", 0.0).unwrap();
        if let Form::Tube(tube) = &mut apparatus.pieces[0].form {
            tube.end = End::Joint {
                designation: "99/1".to_owned(),
                stoppered: true,
            };
        }
        assert!(!has(&apparatus, Severity::Stop, "no-port", "header"));
        assert!(has(&apparatus, Severity::Note, "joint-unknown", "header"));
        if let Form::Fitting(fitting) = &mut apparatus.pieces[3].form {
            fitting.kind = FittingKind::Cap;
        }
        assert!(has(&apparatus, Severity::Stop, "no-port", "header"));
    }

    #[test]
    fn a_course_that_meets_itself_is_found() {
        let mut apparatus = sample::apparatus();
        let tube = |angle_deg| {
            Form::Tube(crate::model::Tube {
                size: TubeSize::new(10.0, 1.0),
                course: vec![
                    Element::Straight { length_mm: 60.0 },
                    Element::Bend {
                        angle_deg,
                        radius_mm: 25.0,
                    },
                    Element::Straight { length_mm: 60.0 },
                ],
                start: End::Open,
                end: End::Round,
            })
        };
        let seat = Seat::Free {
            x_mm: 500.0,
            y_mm: 0.0,
            heading_deg: 0.0,
        };
        apparatus.pieces.push(Piece {
            name: "coil".to_owned(),
            seat,
            form: tube(180.0),
        });
        assert!(!has(&apparatus, Severity::Stop, "glass-overlaps", "coil"));
        apparatus.pieces[4].form = tube(270.0);
        assert!(has(&apparatus, Severity::Stop, "glass-overlaps", "coil"));
    }
}
