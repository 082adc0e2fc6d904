//! The neutral geometry dump: the interior as JSON that any other program can read and write.
//!
//! ```json
//! {"units": "mm",
//!  "primitives": [
//!   {"id": 0, "piece": "header", "shape": "frustum", "from": [0, 0], "to": [100, 0], "r_from": 6.8, "r_to": 6.8},
//!   {"id": 1, "piece": "pot", "shape": "sphere", "centre": [0, 40], "r": 22},
//!   {"id": 2, "piece": "bulb", "shape": "spheroid", "centre": [0, 0], "heading_deg": 0, "semi_axial": 9, "semi_radial": 7},
//!   {"id": 3, "piece": "bridge", "shape": "torus", "centre": [0, 0], "radius": 20, "r": 4, "start_deg": 0, "sweep_deg": 90}
//!  ],
//!  "ports": [{"piece": "header", "at": [0, 0], "heading_deg": 180, "r": 6.8}]}
//! ```
//!
//! Lengths are millimetres, angles degrees anticlockwise with 0 = +x. Shared volume counts for the lowest id. Reading
//! is strict: every key must be known and belong to its shape, every number within its limit; `ports` may be left
//! out. Pieces are numbered as they first appear in the order of the ids.

use crate::geom::{GREATEST_MM, GREATEST_RADIUS_MM, LEAST_MM, MOST_PORTS, MOST_PRIMITIVES, Port, Primitive, Shape};
use crate::model::limits::{Limit, Unit};
use nalgebra::Vector2;
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::HashMap;
use thiserror::Error;

/// An interior as it stands in a dump.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Dump {
    /// Names of the pieces.
    pub names: Vec<String>,
    /// The shapes in the order of their ids.
    pub primitives: Vec<Primitive>,
    /// The ports.
    pub ports: Vec<Port>,
}

/// Why a dump was not understood.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum DumpError {
    /// The text is not JSON of the expected shape.
    #[error("{path}: {message}")]
    Json {
        /// Path in the file.
        path: String,
        /// What is wrong, with line and column.
        message: String,
    },
    /// A number outside its limit.
    #[error("{path}: {value} is outside the limit of the {}, {limit}", limit.label)]
    Limit {
        /// Path in the file.
        path: String,
        /// The number.
        value: f64,
        /// The limit.
        limit: &'static Limit,
    },
    /// Something that the format does not allow.
    #[error("{path}: {why}")]
    Unfit {
        /// Path in the file.
        path: String,
        /// Why not.
        why: String,
    },
}

const fn limit(key: &'static str, label: &'static str, unit: Unit, min: f64, max: f64) -> Limit {
    Limit {
        key,
        label,
        unit,
        min,
        max,
        step: 1.0,
    }
}

static COORDINATE: Limit = limit("coordinate", "coordinate", Unit::Mm, -GREATEST_MM, GREATEST_MM);
static RADIUS: Limit = limit("radius", "radius", Unit::Mm, LEAST_MM, GREATEST_RADIUS_MM);
/// A cone may end in a point.
static END_RADIUS: Limit = limit("end_radius", "radius at an end", Unit::Mm, 0.0, GREATEST_RADIUS_MM);
static ANGLE: Limit = limit("angle", "angle", Unit::Deg, -360.0, 360.0);
static PRIMITIVES: Limit = limit(
    "primitives",
    "number of primitives",
    Unit::Count,
    1.0,
    MOST_PRIMITIVES as f64,
);
static PORTS: Limit = limit("ports", "number of ports", Unit::Count, 0.0, MOST_PORTS as f64);
static NAME: Limit = limit("name", "length of a name", Unit::Count, 1.0, 100.0);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WireDump {
    units: String,
    primitives: Vec<WirePrimitive>,
    #[serde(default)]
    ports: Vec<WirePort>,
}

#[derive(Serialize, Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct WirePrimitive {
    id: u64,
    piece: String,
    shape: String,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    from: Option<[f64; 2]>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    to: Option<[f64; 2]>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    r_from: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    r_to: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    centre: Option<[f64; 2]>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    radius: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    r: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    start_deg: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    sweep_deg: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    heading_deg: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    semi_axial: Option<f64>,
    #[serde(default, deserialize_with = "given", skip_serializing_if = "Option::is_none")]
    semi_radial: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WirePort {
    piece: String,
    at: [f64; 2],
    heading_deg: f64,
    r: f64,
}

/// A key that may be missing but not null.
fn given<'de, D: Deserializer<'de>, T: Deserialize<'de>>(deserializer: D) -> Result<Option<T>, D::Error> {
    T::deserialize(deserializer).map(Some)
}

/// Writes a dump, one primitive on a line.
pub fn write(dump: &Dump) -> String {
    let name = |piece: usize| dump.names.get(piece).cloned().unwrap_or_default();
    let mut text = String::from("{\"units\": \"mm\",\n \"primitives\": [");
    for (id, primitive) in dump.primitives.iter().enumerate() {
        let wire = to_wire(id as u64, name(primitive.piece), &primitive.shape);
        push_line(&mut text, id, &wire);
    }
    text.push_str("\n ],\n \"ports\": [");
    for (i, port) in dump.ports.iter().enumerate() {
        let wire = WirePort {
            piece: name(port.piece),
            at: pair(port.at),
            heading_deg: degrees(port.heading),
            r: port.r,
        };
        push_line(&mut text, i, &wire);
    }
    text.push_str("\n ]}\n");
    text
}

fn push_line(text: &mut String, position: usize, value: &impl Serialize) {
    text.push_str(if position == 0 { "\n  " } else { ",\n  " });
    // Numbers and strings cannot fail to be written; a shape that is not finite would read back as refused.
    text.push_str(&serde_json::to_string(value).unwrap_or_default());
}

fn to_wire(id: u64, piece: String, shape: &Shape) -> WirePrimitive {
    let wire = |shape: &str| WirePrimitive {
        id,
        piece,
        shape: shape.to_owned(),
        ..WirePrimitive::default()
    };
    match *shape {
        Shape::Frustum { from, to, r_from, r_to } => WirePrimitive {
            from: Some(pair(from)),
            to: Some(pair(to)),
            r_from: Some(r_from),
            r_to: Some(r_to),
            ..wire("frustum")
        },
        Shape::Spheroid {
            centre,
            semi_axial,
            semi_radial,
            ..
        } if semi_axial == semi_radial => WirePrimitive {
            centre: Some(pair(centre)),
            r: Some(semi_axial),
            ..wire("sphere")
        },
        Shape::Spheroid {
            centre,
            heading,
            semi_axial,
            semi_radial,
        } => WirePrimitive {
            centre: Some(pair(centre)),
            heading_deg: Some(degrees(heading)),
            semi_axial: Some(semi_axial),
            semi_radial: Some(semi_radial),
            ..wire("spheroid")
        },
        Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        } => WirePrimitive {
            centre: Some(pair(centre)),
            radius: Some(radius),
            r: Some(r),
            start_deg: Some(degrees(start)),
            sweep_deg: Some(degrees(sweep)),
            ..wire("torus")
        },
    }
}

fn pair(v: Vector2<f64>) -> [f64; 2] {
    [v.x, v.y]
}

/// Degrees of an angle in radians. An angle that was entered in degrees comes out as entered: the conversion there
/// and back may change its last bits, so that a multiple of 1e-9 degree within 4 parts in 1e16 is taken instead.
fn degrees(radians: f64) -> f64 {
    let deg = radians.to_degrees();
    let round = (deg * 1e9).round() / 1e9;
    if (round - deg).abs() <= 2.0 * f64::EPSILON * deg.abs() {
        round
    } else {
        deg
    }
}

/// Reads a dump.
///
/// # Errors
/// With the path inside the file, and the value and its limit where there is one.
pub fn read(text: &str) -> Result<Dump, DumpError> {
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let wire: WireDump = serde_path_to_error::deserialize(&mut deserializer).map_err(|error| DumpError::Json {
        path: error.path().to_string(),
        message: error.inner().to_string(),
    })?;
    deserializer.end().map_err(|error| DumpError::Json {
        path: "after the end".to_owned(),
        message: error.to_string(),
    })?;
    if wire.units != "mm" {
        return Err(unfit("units", format!("\"{}\" is not \"mm\"", wire.units)));
    }
    checked("primitives", wire.primitives.len() as f64, &PRIMITIVES)?;
    checked("ports", wire.ports.len() as f64, &PORTS)?;
    let mut shapes = Vec::with_capacity(wire.primitives.len());
    for (i, primitive) in wire.primitives.into_iter().enumerate() {
        let path = format!("primitives[{i}]");
        checked(&format!("{path}.piece"), primitive.piece.chars().count() as f64, &NAME)?;
        let shape = from_wire(&path, &primitive)?;
        shapes.push((primitive.id, i, primitive.piece, shape));
    }
    shapes.sort_by_key(|(id, ..)| *id);
    if let Some(twins) = shapes.windows(2).find(|pair| pair[0].0 == pair[1].0) {
        return Err(unfit(
            &format!("primitives[{}].id", twins[1].1),
            format!("the id {} is used before", twins[1].0),
        ));
    }
    let mut dump = Dump::default();
    let mut index: HashMap<String, usize> = HashMap::new();
    for (_, _, piece, shape) in shapes {
        let next = dump.names.len();
        let piece = *index.entry(piece.clone()).or_insert_with(|| {
            dump.names.push(piece);
            next
        });
        dump.primitives.push(Primitive { piece, shape });
    }
    for (i, port) in wire.ports.into_iter().enumerate() {
        let path = format!("ports[{i}]");
        let Some(&piece) = index.get(&port.piece) else {
            return Err(unfit(
                &format!("{path}.piece"),
                format!("no primitive belongs to \"{}\"", port.piece),
            ));
        };
        dump.ports.push(Port {
            piece,
            at: point(&format!("{path}.at"), port.at)?,
            heading: checked(&format!("{path}.heading_deg"), port.heading_deg, &ANGLE)?.to_radians(),
            r: checked(&format!("{path}.r"), port.r, &RADIUS)?,
        });
    }
    Ok(dump)
}

fn from_wire(path: &str, wire: &WirePrimitive) -> Result<Shape, DumpError> {
    let keys: [(&str, bool); 12] = [
        ("from", wire.from.is_some()),
        ("to", wire.to.is_some()),
        ("r_from", wire.r_from.is_some()),
        ("r_to", wire.r_to.is_some()),
        ("centre", wire.centre.is_some()),
        ("radius", wire.radius.is_some()),
        ("r", wire.r.is_some()),
        ("start_deg", wire.start_deg.is_some()),
        ("sweep_deg", wire.sweep_deg.is_some()),
        ("heading_deg", wire.heading_deg.is_some()),
        ("semi_axial", wire.semi_axial.is_some()),
        ("semi_radial", wire.semi_radial.is_some()),
    ];
    let own: &[&str] = match wire.shape.as_str() {
        "frustum" => &["from", "to", "r_from", "r_to"],
        "sphere" => &["centre", "r"],
        "spheroid" => &["centre", "heading_deg", "semi_axial", "semi_radial"],
        "torus" => &["centre", "radius", "r", "start_deg", "sweep_deg"],
        other => {
            let why = format!("\"{other}\" is none of frustum, sphere, spheroid, torus");
            return Err(unfit(&format!("{path}.shape"), why));
        }
    };
    if let Some((key, _)) = keys.iter().find(|(key, given)| *given && !own.contains(key)) {
        return Err(unfit(
            &format!("{path}.{key}"),
            format!("a {} has no such key", wire.shape),
        ));
    }
    let number = |key: &str, value: Option<f64>, limit: &'static Limit| match value {
        Some(value) => checked(&format!("{path}.{key}"), value, limit),
        None => Err(unfit(path, format!("a {} needs the key {key}", wire.shape))),
    };
    let place = |key: &str, value: Option<[f64; 2]>| match value {
        Some(value) => point(&format!("{path}.{key}"), value),
        None => Err(unfit(path, format!("a {} needs the key {key}", wire.shape))),
    };
    match wire.shape.as_str() {
        "frustum" => {
            let (from, to) = (place("from", wire.from)?, place("to", wire.to)?);
            let r_from = number("r_from", wire.r_from, &END_RADIUS)?;
            let r_to = number("r_to", wire.r_to, &END_RADIUS)?;
            if (to - from).norm() < RADIUS.min {
                return Err(unfit(path, format!("its ends are nearer than {} mm", RADIUS.min)));
            }
            if r_from.max(r_to) < RADIUS.min {
                return Err(unfit(path, format!("both radii are below {} mm", RADIUS.min)));
            }
            Ok(Shape::Frustum { from, to, r_from, r_to })
        }
        "sphere" => {
            let r = number("r", wire.r, &RADIUS)?;
            Ok(Shape::Spheroid {
                centre: place("centre", wire.centre)?,
                heading: 0.0,
                semi_axial: r,
                semi_radial: r,
            })
        }
        "spheroid" => Ok(Shape::Spheroid {
            centre: place("centre", wire.centre)?,
            heading: number("heading_deg", wire.heading_deg, &ANGLE)?.to_radians(),
            semi_axial: number("semi_axial", wire.semi_axial, &RADIUS)?,
            semi_radial: number("semi_radial", wire.semi_radial, &RADIUS)?,
        }),
        _ => {
            let radius = number("radius", wire.radius, &RADIUS)?;
            let r = number("r", wire.r, &RADIUS)?;
            let sweep_deg = number("sweep_deg", wire.sweep_deg, &ANGLE)?;
            if radius < r {
                return Err(unfit(path, format!("radius {radius} mm is less than r, {r} mm")));
            }
            if sweep_deg == 0.0 {
                return Err(unfit(
                    &format!("{path}.sweep_deg"),
                    "a bend of 0 degrees is nothing".to_owned(),
                ));
            }
            Ok(Shape::Torus {
                centre: place("centre", wire.centre)?,
                radius,
                r,
                start: number("start_deg", wire.start_deg, &ANGLE)?.to_radians(),
                sweep: sweep_deg.to_radians(),
            })
        }
    }
}

fn point(path: &str, [x, y]: [f64; 2]) -> Result<Vector2<f64>, DumpError> {
    Ok(Vector2::new(
        checked(&format!("{path}[0]"), x, &COORDINATE)?,
        checked(&format!("{path}[1]"), y, &COORDINATE)?,
    ))
}

fn checked(path: &str, value: f64, limit: &'static Limit) -> Result<f64, DumpError> {
    if limit.allows(value) {
        Ok(value)
    } else {
        Err(DumpError::Limit {
            path: path.to_owned(),
            value,
            limit,
        })
    }
}

fn unfit(path: &str, why: String) -> DumpError {
    DumpError::Unfit {
        path: path.to_owned(),
        why,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::sample;
    use proptest::prelude::*;

    fn sample_dump() -> Dump {
        let built = build(&sample::apparatus()).unwrap();
        Dump {
            names: built.names,
            primitives: built.primitives,
            ports: built.ports,
        }
    }

    const ONE: &str =
        r#"{"units": "mm", "primitives": [{"id": 0, "piece": "a", "shape": "sphere", "centre": [0, 0], "r": 2}]}"#;

    #[test]
    fn a_dump_comes_back_with_the_same_bytes() {
        let text = write(&sample_dump());
        let read_back = read(&text).unwrap();
        assert!(write(&read_back) == text, "{}", write(&read_back));
        assert!(text.contains("\"start_deg\":-90.0,\"sweep_deg\":90.0"), "{text}");
        assert_eq!(read(ONE).unwrap().names, ["a"]);
    }

    #[test]
    fn ids_give_the_order() {
        let text = r#"{"units": "mm", "primitives": [
            {"id": 7, "piece": "b", "shape": "sphere", "centre": [0, 0], "r": 2},
            {"id": 3, "piece": "a", "shape": "sphere", "centre": [1, 0], "r": 2}]}"#;
        assert_eq!(read(text).unwrap().names, ["a", "b"]);
        let error = read(&text.replace('7', "3")).unwrap_err().to_string();
        assert!(error.starts_with("primitives[1].id"), "{error}");
    }

    #[test]
    fn refusals_name_path_value_and_limit() {
        let wrong = |from: &str, to: &str| {
            let text = ONE.replace(from, to);
            assert_ne!(text, ONE);
            read(&text).unwrap_err().to_string()
        };
        let text = wrong("\"r\": 2", "\"r\": 1e9");
        assert!(
            text.contains("primitives[0].r: 1000000000 ") && text.contains("0.001 to 10000 mm"),
            "{text}"
        );
        assert!(wrong("\"r\": 2", "\"r\": 1e999").contains("primitives[0].r"));
        assert!(wrong("\"r\": 2", "\"r\": NaN").contains("primitives[0].r"));
        assert!(wrong("\"r\": 2", "\"r\": null").contains("primitives[0].r"));
        assert!(
            wrong("\"r\": 2", "\"r\": 2, \"radius\": 3").contains("primitives[0].radius: a sphere has no such key")
        );
        assert!(wrong("\"r\": 2", "\"q\": 2").contains("unknown field `q`"));
        assert!(wrong(", \"r\": 2", "").contains("needs the key r"));
        assert!(wrong("sphere", "cube").contains("primitives[0].shape"));
        assert!(wrong("[0, 0]", "[0, -1e300]").contains("primitives[0].centre[1]"));
        assert!(wrong("\"mm\"", "\"in\"").contains("units"));
        assert!(wrong("}]}", "}]").contains("EOF"));
        assert!(wrong("}]}", "}]} x").contains("after the end"));
        assert!(
            wrong(
                "}]}",
                "}], \"ports\": [{\"piece\": \"z\", \"at\": [0, 0], \"heading_deg\": 0, \"r\": 1}]}"
            )
            .contains("ports[0].piece")
        );
    }

    #[test]
    fn a_crowd_is_refused() {
        let mut dump = sample_dump();
        let first = dump.primitives[0];
        dump.primitives.resize(100_000, first);
        let text = read(&write(&dump)).unwrap_err().to_string();
        assert!(text.contains("100000") && text.contains("50000"), "{text}");
    }

    proptest! {
        #[test]
        fn angles_in_degrees_survive(hundredths in -36_000i32..=36_000) {
            let deg = f64::from(hundredths) / 100.0;
            prop_assert_eq!(degrees(deg.to_radians()), deg);
        }

        #[test]
        fn damaged_text_never_panics(cut in 0usize..2000, insert in ".{0,4}") {
            let text = write(&sample_dump());
            let cut = (0..=cut.min(text.len())).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0);
            let damaged = format!("{}{insert}{}", &text[..cut], &text[(cut + 1).min(text.len())..]);
            let _ = read(&damaged);
            prop_assert!(read(&text[..cut]).is_err());
        }
    }
}
