//! What a control of the particulars changes, as edits of the model, and what there is to choose from.

use super::course::size_before;
use crate::app::picker::Choice;
use crate::data::JOINTS_K6;
use crate::model::reseat::Footing;
use crate::model::{
    Ampoule, Apparatus, Bottom, Bridge, Bulb, BulbShape, Edit, End, Fitting, FittingKind, Form, Route, TubeSize, param,
};
use crate::units::LengthUnit;

/// Shown as the host of a piece that stands free.
pub(super) const FREE: &str = "Stands free";

/// What a control changes.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) enum Aim {
    /// A number by its key.
    Number(String),
    /// A tube size by its key.
    Size(String),
    /// The liquid given to the piece.
    Given,
    /// The name of the piece or row.
    Name,
    /// How the bottom of an ampoule is made.
    Bottom,
    /// The outline of a bulb.
    Shape,
    /// What a fitting is.
    Kind,
    /// The designation of a fitting's ground joint.
    Joint,
    /// Whether a fitting's ground joint is stoppered.
    Stoppered,
    /// Whether a stopcock stands open.
    StopcockOpen,
    /// The way of a bridge.
    Route,
    /// How an end of a tube is made; the far one or the start.
    End(bool),
    /// The designation of the ground joint at an end of a tube.
    EndJoint(bool),
    /// Whether the ground joint at an end of a tube is stoppered.
    EndStoppered(bool),
    /// What a piece sits on.
    Host(Footing),
}

/// A value of a control.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    /// A number in its limit's unit.
    Number(f64),
    /// A tube size.
    Size(TubeSize),
    /// An outside diameter with whatever wall there is, mm.
    Diameter(f64),
    /// A text or the words of a choice.
    Text(String),
    /// On or off.
    Switch(bool),
}

const BOTTOMS: [&str; 3] = ["Round", "Flat", "Conical"];
const SHAPES: [&str; 3] = ["Sphere", "Pear", "Flask"];
const KINDS: [&str; 5] = ["Vacuum port", "Gas port", "Stopcock", "Ground joint", "Cap"];
const ROUTES: [&str; 3] = ["Straight", "Arched", "By corners"];
const ENDS: [&str; 5] = ["Open", "Round", "Flat", "Ground joint", "Line port"];

/// The words for how a bottom is made.
pub(super) fn bottom_word(bottom: Bottom) -> &'static str {
    match bottom {
        Bottom::Round => BOTTOMS[0],
        Bottom::Flat => BOTTOMS[1],
        Bottom::Conical { .. } => BOTTOMS[2],
    }
}

/// The words for a bulb's outline.
pub(super) fn shape_word(shape: BulbShape) -> &'static str {
    match shape {
        BulbShape::Sphere => SHAPES[0],
        BulbShape::Pear => SHAPES[1],
        BulbShape::Flask { .. } => SHAPES[2],
    }
}

/// The words for what a fitting is.
pub(super) fn kind_word(kind: &FittingKind) -> &'static str {
    match kind {
        FittingKind::VacuumPort => KINDS[0],
        FittingKind::GasPort => KINDS[1],
        FittingKind::Stopcock { .. } => KINDS[2],
        FittingKind::Joint { .. } => KINDS[3],
        FittingKind::Cap => KINDS[4],
    }
}

/// The words for a bridge's way.
pub(super) fn route_word(route: &Route) -> &'static str {
    match route {
        Route::Straight => ROUTES[0],
        Route::Arched { .. } => ROUTES[1],
        Route::Via { .. } => ROUTES[2],
    }
}

/// The words for how an end is made.
pub(super) fn end_word(end: &End) -> &'static str {
    match end {
        End::Open => ENDS[0],
        End::Round => ENDS[1],
        End::Flat => ENDS[2],
        End::Joint { .. } => ENDS[3],
        End::Port => ENDS[4],
    }
}

impl Aim {
    /// The key under which its place in the drawing is known; empty when it has none.
    pub(super) fn key(&self) -> &str {
        match self {
            Self::Number(key) | Self::Size(key) => key,
            Self::Bottom => "bottom",
            Self::Shape => "shape",
            Self::Kind | Self::Joint | Self::Stoppered | Self::StopcockOpen => "kind",
            Self::End(true) | Self::EndJoint(true) | Self::EndStoppered(true) => "end",
            Self::End(false) | Self::EndJoint(false) | Self::EndStoppered(false) => "start",
            Self::Host(Footing::From) => "seat.from.host",
            Self::Host(Footing::To) => "seat.to.host",
            Self::Given | Self::Name | Self::Route | Self::Host(_) => "",
        }
    }

    /// What there is to choose from; nothing for what is not chosen.
    pub(super) fn choices(&self, apparatus: &Apparatus, owner: &str, unit: LengthUnit) -> Vec<Choice> {
        let plain = |words: &[&str]| words.iter().copied().map(Choice::from).collect();
        match self {
            Self::Bottom => plain(&BOTTOMS),
            Self::Shape => plain(&SHAPES),
            Self::Kind => plain(&KINDS),
            Self::Route => plain(&ROUTES),
            Self::End(_) => plain(&ENDS),
            Self::Joint | Self::EndJoint(_) => JOINTS_K6
                .iter()
                .map(|joint| Choice {
                    text: joint.designation.to_owned(),
                    remark: unit.size_text(joint.large_mm, joint.length_mm),
                })
                .collect(),
            Self::Host(footing) => {
                let free = (*footing == Footing::Seat).then(|| Choice::from(FREE));
                let hosts = apparatus.possible_hosts(owner);
                free.into_iter()
                    .chain(hosts.iter().map(|name| Choice::from(name.as_str())))
                    .collect()
            }
            _ => Vec::new(),
        }
    }

    /// The edit that gives the owner this value; `None` when it makes no sense there.
    pub(super) fn edit(&self, apparatus: &Apparatus, owner: &str, value: &Value) -> Option<Edit> {
        let piece = owner.to_owned();
        Some(match (self, value) {
            (Self::Number(key), Value::Number(value)) => Edit::Set {
                piece,
                key: key.clone(),
                value: *value,
            },
            (Self::Given, Value::Number(volume_ml)) => Edit::Fill {
                piece,
                volume_ml: *volume_ml,
            },
            (Self::Size(key), Value::Size(size)) => Edit::SetSize {
                piece,
                key: key.clone(),
                size: *size,
            },
            (Self::Size(key), Value::Diameter(od_mm)) => {
                let sizes = param::sizes_of(&apparatus.find(owner)?.form);
                let (_, present) = sizes.into_iter().find(|(of, _)| of == key)?;
                Edit::SetSize {
                    piece,
                    key: key.clone(),
                    size: TubeSize::new(*od_mm, present.wall_mm),
                }
            }
            (Self::Name, Value::Text(to)) => Edit::Rename {
                from: piece,
                to: to.clone(),
            },
            (Self::Host(footing), Value::Text(host)) => {
                let host = (host != FREE).then_some(host.as_str());
                apparatus.reseated(owner, *footing, host)?
            }
            (Self::End(far) | Self::EndJoint(far) | Self::EndStoppered(far), _) => {
                let Form::Tube(tube) = apparatus.find(owner)?.form else {
                    return None;
                };
                let present = if *far { &tube.end } else { &tube.start };
                let od_mm = size_before(&tube, if *far { tube.course.len() } else { 0 }).od_mm;
                Edit::SetEnd {
                    piece,
                    far: *far,
                    end: self.end(present, value, od_mm)?,
                }
            }
            _ => Edit::Reshape {
                piece,
                form: self.form(apparatus, owner, value)?,
            },
        })
    }

    fn end(&self, present: &End, value: &Value, od_mm: f64) -> Option<End> {
        Some(match (self, value, present) {
            (Self::EndJoint(_), Value::Text(designation), End::Joint { stoppered, .. }) => End::Joint {
                designation: designation.clone(),
                stoppered: *stoppered,
            },
            (Self::EndStoppered(_), Value::Switch(stoppered), End::Joint { designation, .. }) => End::Joint {
                designation: designation.clone(),
                stoppered: *stoppered,
            },
            (Self::End(_), Value::Text(word), _) if word == end_word(present) => present.clone(),
            (Self::End(_), Value::Text(word), _) => match ENDS.iter().position(|end| end == word)? {
                0 => End::Open,
                1 => End::Round,
                2 => End::Flat,
                3 => End::Joint {
                    designation: joint_for(od_mm),
                    stoppered: false,
                },
                _ => End::Port,
            },
            _ => return None,
        })
    }

    fn form(&self, apparatus: &Apparatus, owner: &str, value: &Value) -> Option<Form> {
        Some(match (self, value, apparatus.find(owner)?.form) {
            (Self::Bottom, Value::Text(word), Form::Ampoule(present)) => Form::Ampoule(Ampoule {
                bottom: match BOTTOMS.iter().position(|bottom| bottom == word)? {
                    0 => Bottom::Round,
                    1 => Bottom::Flat,
                    _ if bottom_word(present.bottom) == word => present.bottom,
                    // As deep as the bore is wide: sides at 53 degrees to each other.
                    _ => Bottom::Conical {
                        length_mm: present.body.bore_mm(),
                    },
                },
                ..present
            }),
            (Self::Shape, Value::Text(word), Form::Bulb(present)) => Form::Bulb(Bulb {
                shape: match SHAPES.iter().position(|shape| shape == word)? {
                    0 => BulbShape::Sphere,
                    1 => BulbShape::Pear,
                    _ if shape_word(present.shape) == word => present.shape,
                    _ => BulbShape::Flask {
                        flat_mm: (present.body.od_mm / 2.0).round(),
                    },
                },
                ..present
            }),
            (Self::Route, Value::Text(word), Form::Bridge(present)) => {
                let route = match ROUTES.iter().position(|route| route == word)? {
                    _ if route_word(&present.route) == word => present.route.clone(),
                    0 => Route::Straight,
                    1 => Route::Arched {
                        // Room for both bends and a little of the legs.
                        rise_mm: (present.bend_radius_mm + present.size.od_mm).round(),
                    },
                    _ => Route::Via {
                        corners_mm: apparatus.corners_of(owner)?,
                    },
                };
                Form::Bridge(Bridge { route, ..present })
            }
            (_, _, Form::Fitting(present)) => Form::Fitting(Fitting {
                kind: self.kind(&present, value)?,
                ..present
            }),
            _ => return None,
        })
    }

    fn kind(&self, present: &Fitting, value: &Value) -> Option<FittingKind> {
        Some(match (self, value, &present.kind) {
            (Self::Kind, Value::Text(word), kind) if word == kind_word(kind) => kind.clone(),
            (Self::Kind, Value::Text(word), _) => match KINDS.iter().position(|kind| kind == word)? {
                0 => FittingKind::VacuumPort,
                1 => FittingKind::GasPort,
                2 => FittingKind::Stopcock { open: true },
                3 => FittingKind::Joint {
                    designation: joint_for(present.size.od_mm),
                    stoppered: false,
                },
                _ => FittingKind::Cap,
            },
            (Self::Joint, Value::Text(designation), FittingKind::Joint { stoppered, .. }) => FittingKind::Joint {
                designation: designation.clone(),
                stoppered: *stoppered,
            },
            (Self::Stoppered, Value::Switch(stoppered), FittingKind::Joint { designation, .. }) => FittingKind::Joint {
                designation: designation.clone(),
                stoppered: *stoppered,
            },
            (Self::StopcockOpen, Value::Switch(open), FittingKind::Stopcock { .. }) => {
                FittingKind::Stopcock { open: *open }
            }
            _ => return None,
        })
    }
}

/// The joint whose large end is nearest to a tube's outside diameter.
fn joint_for(od_mm: f64) -> String {
    let off = |large_mm: f64| (large_mm - od_mm).abs();
    let nearest = JOINTS_K6
        .iter()
        .min_by(|a, b| off(a.large_mm).total_cmp(&off(b.large_mm)));
    nearest.map_or_else(String::new, |joint| joint.designation.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample;

    fn after(aim: &Aim, owner: &str, value: Value) -> Apparatus {
        let apparatus = sample::apparatus();
        apparatus.apply(&aim.edit(&apparatus, owner, &value).unwrap()).unwrap()
    }

    fn text(word: &str) -> Value {
        Value::Text(word.to_owned())
    }

    #[test]
    fn a_new_choice_starts_with_sensible_numbers() {
        let Form::Ampoule(ampoule) = after(&Aim::Bottom, "vial-1", text("Conical"))
            .find("vial-1")
            .unwrap()
            .form
        else {
            panic!("an ampoule")
        };
        assert_eq!(ampoule.bottom, Bottom::Conical { length_mm: 10.0 });
        let Form::Bridge(bridge) = after(&Aim::Route, "bridge", text("By corners"))
            .find("bridge")
            .unwrap()
            .form
        else {
            panic!("a bridge")
        };
        let corners_mm = vec![[0.0, 40.0], [170.0, 40.0]];
        assert_eq!(bridge.route, Route::Via { corners_mm });
        let Form::Fitting(fitting) = after(&Aim::Kind, "pump", text("Ground joint"))
            .find("pump")
            .unwrap()
            .form
        else {
            panic!("a fitting")
        };
        // The tube measures 10 mm, which is the large end of 10/19.
        let designation = "10/19".to_owned();
        let stoppered = false;
        assert_eq!(fitting.kind, FittingKind::Joint { designation, stoppered });
    }

    #[test]
    fn the_present_choice_keeps_its_numbers() {
        let apparatus = sample::apparatus();
        for (aim, owner, word) in [
            (Aim::Shape, "pot", "Flask"),
            (Aim::Route, "bridge", "Arched"),
            (Aim::Kind, "pump", "Vacuum port"),
            (Aim::End(true), "header", "Ground joint"),
            (Aim::Bottom, "vial-1", "Round"),
        ] {
            assert_eq!(after(&aim, owner, text(word)), apparatus, "{aim:?}");
        }
    }

    #[test]
    fn a_diameter_alone_keeps_the_wall_of_each() {
        let next = after(&Aim::Size("size".into()), "header", Value::Diameter(18.0));
        assert_eq!(
            param::sizes_of(&next.find("header").unwrap().form)[0].1,
            TubeSize::new(18.0, 1.2)
        );
        let apparatus = sample::apparatus();
        let none = Aim::Size("neck".into()).edit(&apparatus, "header", &Value::Diameter(18.0));
        assert_eq!(none, None);
    }

    #[test]
    fn what_makes_no_sense_is_no_edit() {
        let apparatus = sample::apparatus();
        for (aim, owner, value) in [
            (Aim::Bottom, "pot", text("Flat")),
            (Aim::Bottom, "vial-1", text("Square")),
            (Aim::Stoppered, "pump", Value::Switch(true)),
            (Aim::EndJoint(false), "header", text("14/23")),
            (Aim::Host(Footing::Seat), "header", text("nobody")),
        ] {
            assert_eq!(aim.edit(&apparatus, owner, &value), None, "{aim:?}");
        }
    }
}
