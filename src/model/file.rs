//! The design file: versioned JSON with the unit in every key.
//!
//! Reading is strict: unknown keys, newer versions and numbers outside their limits are refused with the path
//! inside the file. Writing gives the same text for the same apparatus, and a file that was written comes back with
//! the same bytes: whole numbers stand without a fraction, others in the fewest digits that read back the same.
//! The JSON Schema in `assets/vialwright-design.schema.json` is [`schema`]; a test keeps it current, and
//! `VIALWRIGHT_REFRESH=1 cargo test schema` writes it anew.

use super::check::{Fault, Holder, Wrong};
use super::wire::WireDesign;
use super::{Apparatus, Element, Form};
use serde::Deserialize;
use thiserror::Error;

/// Mark of the format, in the key `format`.
pub const FORMAT: &str = "vialwright-design";

/// The newest version that is read, and the one that is written.
pub const VERSION: u32 = 2;

/// Longest text that is read, bytes: far above any design within the limits.
pub const MAX_BYTES: usize = 32 << 20;

/// Why a design file was not understood.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum FileError {
    /// The text is longer than [`MAX_BYTES`].
    #[error("the file has {bytes} bytes; the limit is {MAX_BYTES}")]
    TooLong {
        /// Length of the text.
        bytes: usize,
    },
    /// The text is not JSON at all, or ends early.
    #[error("not JSON: {0}")]
    Syntax(String),
    /// The text is JSON but not a design.
    #[error("format: not a design; its key \"format\" should be \"{FORMAT}\"")]
    NotADesign,
    /// The version is newer than this program.
    #[error("version: {version} is newer than {VERSION}, the newest that this program reads")]
    Newer {
        /// Version in the file.
        version: u64,
    },
    /// A key is unknown, missing or of the wrong type.
    #[error("{path}: {message}")]
    Key {
        /// Path inside the file.
        path: String,
        /// What is wrong, with line and column.
        message: String,
    },
    /// A value is outside its limit, or the pieces do not hold together.
    #[error("{path}: {wrong}")]
    Value {
        /// Path inside the file.
        path: String,
        /// What is wrong, with value and limit.
        wrong: Wrong,
    },
}

/// The keys that every version has.
#[derive(Deserialize)]
struct Head {
    format: Option<serde_json::Value>,
    version: Option<serde_json::Value>,
}

/// Reads a design.
///
/// # Errors
/// See [`FileError`].
pub fn read(text: &str) -> Result<Apparatus, FileError> {
    if text.len() > MAX_BYTES {
        return Err(FileError::TooLong { bytes: text.len() });
    }
    // A newer version may have keys of its own: look at the version before being strict.
    let head: Head = serde_json::from_str(text).map_err(|error| match error.classify() {
        serde_json::error::Category::Data => FileError::NotADesign,
        _ => FileError::Syntax(error.to_string()),
    })?;
    if head.format.as_ref().and_then(serde_json::Value::as_str) != Some(FORMAT) {
        return Err(FileError::NotADesign);
    }
    let version = match head.version.as_ref().and_then(serde_json::Value::as_u64) {
        Some(version) if version > u64::from(VERSION) => return Err(FileError::Newer { version }),
        Some(version) if version > 0 => version,
        _ => {
            let message = format!("should be a whole number from 1 to {VERSION}");
            return Err(FileError::Key {
                path: "version".to_owned(),
                message,
            });
        }
    };
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let wire: WireDesign = serde_path_to_error::deserialize(&mut deserializer).map_err(|error| FileError::Key {
        path: error.path().to_string(),
        message: error.inner().to_string(),
    })?;
    if version < u64::from(wire.least_version()) {
        return Err(FileError::Key {
            path: "run".to_owned(),
            message: format!(
                "a run stands only in files of version {} and newer",
                wire.least_version()
            ),
        });
    }
    let apparatus = Apparatus::from(wire);
    match apparatus.check() {
        Ok(()) => Ok(apparatus),
        Err(fault) => Err(FileError::Value {
            path: path(&apparatus, &fault),
            wrong: fault.wrong,
        }),
    }
}

/// Writes a design, with a line break at its end.
pub fn write(apparatus: &Apparatus) -> String {
    let wire = WireDesign::new(FORMAT, VERSION, apparatus);
    // Strings, finite numbers and lists always can be written; a number that is not finite becomes null, which is
    // refused when read.
    let mut text = serde_json::to_string_pretty(&wire).unwrap_or_default();
    text.push('\n');
    text
}

/// The JSON Schema of the format.
pub fn schema() -> String {
    let mut text = serde_json::to_string_pretty(&schemars::schema_for!(WireDesign)).unwrap_or_default();
    text.push('\n');
    text
}

/// Path inside the file of a fault.
fn path(apparatus: &Apparatus, fault: &Fault) -> String {
    let key = fault.key.as_str();
    match &fault.holder {
        Holder::Whole => key.to_owned(),
        Holder::OwnSize(i) => format!("own_stock[{i}].{key}"),
        Holder::Charge => format!("charge.{}", indexed(key)),
        Holder::Run => format!("run.{}", run_path(key)),
        Holder::Job => format!("job.{key}"),
        Holder::Piece(i, _) => {
            let inner = apparatus
                .pieces
                .get(*i)
                .map_or_else(|| key.to_owned(), |piece| piece_path(piece, key));
            format!("pieces[{i}].{inner}")
        }
        Holder::Row(i, _) => {
            let head = key.split('.').next().unwrap_or(key);
            let inner = if ["name", "first", "pitch_mm", "count"].contains(&head) {
                key.to_owned()
            } else {
                format!("pattern.{}", ampoule_path(key))
            };
            format!("rows[{i}].{inner}")
        }
        Holder::Departure(i, _, k) => {
            let inner = if key == "member" {
                key.to_owned()
            } else {
                format!("ampoule.{}", ampoule_path(key))
            };
            format!("rows[{i}].departures[{k}].{inner}")
        }
    }
}

fn piece_path(piece: &super::Piece, key: &str) -> String {
    if key == "name" {
        return key.to_owned();
    }
    if let Some(rest) = key.strip_prefix("seat.") {
        return match piece.seat {
            super::Seat::Free { .. } => format!("seat.free.{rest}"),
            super::Seat::On(_) => format!("seat.on.{rest}"),
            super::Seat::Between { .. } => format!("seat.between.{rest}"),
        };
    }
    if key == "seat" {
        return key.to_owned();
    }
    match &piece.form {
        Form::Tube(tube) => format!("form.tube.{}", tube_path(tube, key)),
        Form::Bulb(_) if key == "flat_mm" => "form.bulb.shape.flask.flat_mm".to_owned(),
        Form::Bulb(_) => format!("form.bulb.{key}"),
        Form::Bridge(_) if key == "rise_mm" => "form.bridge.route.arched.rise_mm".to_owned(),
        Form::Bridge(_) if key.starts_with("corners") => {
            format!("form.bridge.route.via.{}", indexed(key))
        }
        Form::Bridge(_) => format!("form.bridge.{key}"),
        Form::Ampoule(_) => format!("form.ampoule.{}", ampoule_path(key)),
        Form::Fitting(_) if key == "kind.designation" => "form.fitting.kind.joint.designation".to_owned(),
        Form::Fitting(_) => format!("form.fitting.{key}"),
    }
}

fn tube_path(tube: &super::Tube, key: &str) -> String {
    if let Some(end) = key.strip_suffix(".designation") {
        return format!("{end}.joint.designation");
    }
    let mut parts = key.splitn(3, '.');
    let (Some("course"), Some(i), Some(rest)) = (parts.next(), parts.next(), parts.next()) else {
        return key.to_owned();
    };
    let kind = match i.parse().ok().and_then(|i: usize| tube.course.get(i)) {
        Some(Element::Straight { .. }) => "straight",
        Some(Element::Bend { .. }) => "bend",
        Some(Element::Taper { .. }) => "taper",
        Some(Element::Neck { .. }) => "neck",
        Some(Element::Bulb { .. }) => "bulb",
        None => return key.to_owned(),
    };
    format!("course[{i}].{kind}.{rest}")
}

fn ampoule_path(key: &str) -> String {
    key.replace("bottom.length_mm", "bottom.conical.length_mm")
}

/// `stops.3.seals.0` as `stops[3].seals[0]`.
fn run_path(key: &str) -> String {
    let key = key.replace("gas.pressure_mbar", "gas.filled.pressure_mbar");
    let mut path = String::new();
    for part in key.split('.') {
        if part.parse::<usize>().is_ok() {
            path.push_str(&format!("[{part}]"));
        } else {
            let dot = if path.is_empty() { "" } else { "." };
            path.push_str(&format!("{dot}{part}"));
        }
    }
    path
}

/// `fills.3.piece` as `fills[3].piece`.
fn indexed(key: &str) -> String {
    let mut parts = key.splitn(3, '.');
    match (parts.next(), parts.next(), parts.next()) {
        (Some(list), Some(i), Some(rest)) if i.parse::<usize>().is_ok() => {
            format!("{list}[{i}].{rest}")
        }
        _ => key.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Edit, Piece, Route, Seat, sample};
    use super::*;
    use proptest::prelude::*;

    fn rich() -> Apparatus {
        let mut apparatus = sample::apparatus();
        if let Form::Bridge(bridge) = &mut apparatus.pieces[2].form {
            bridge.route = Route::Via {
                corners_mm: vec![[0.0, 40.0], [170.0, 40.5]],
            };
        }
        apparatus.rows[0].pattern.bottom = super::super::Bottom::Conical { length_mm: 8.25 };
        apparatus.run = sample::run();
        apparatus
    }

    /// The value at a path like `pieces[0].seat.free.x_mm`.
    fn at<'a>(value: &'a mut serde_json::Value, path: &str) -> Option<&'a mut serde_json::Value> {
        let path = path.replace('[', ".").replace(']', "");
        path.split('.')
            .try_fold(value, |value, key| match key.parse::<usize>() {
                Ok(i) => value.get_mut(i),
                Err(_) => value.get_mut(key),
            })
    }

    #[test]
    fn a_design_comes_back_with_the_same_bytes() {
        for apparatus in [Apparatus::default(), sample::apparatus(), rich()] {
            let text = write(&apparatus);
            let back = read(&text).unwrap();
            assert_eq!(back, apparatus);
            assert_eq!(write(&back), text);
        }
        let text = write(&sample::apparatus());
        assert!(
            text.contains("\"volume_ml\": 6.8") && text.contains("\"length_mm\": 200\n"),
            "{text}"
        );
    }

    #[test]
    fn every_number_is_refused_at_its_own_path() {
        let apparatus = rich();
        let mut tried = 0;
        let names: Vec<(String, Holder)> = apparatus
            .pieces
            .iter()
            .enumerate()
            .map(|(i, piece)| (piece.name.clone(), Holder::Piece(i, piece.name.clone())))
            .chain([("vial".to_owned(), Holder::Row(0, "vial".to_owned()))])
            .collect();
        for (name, holder) in names {
            for parameter in apparatus.parameters(&name).unwrap() {
                if parameter.key == "count" {
                    continue;
                }
                let wrong = Wrong::Range {
                    value: 1e300,
                    limit: parameter.limit,
                };
                let fault = Fault {
                    holder: holder.clone(),
                    key: parameter.key.clone(),
                    wrong,
                };
                let path = path(&apparatus, &fault);
                let mut json: serde_json::Value = serde_json::from_str(&write(&apparatus)).unwrap();
                *at(&mut json, &path).unwrap_or_else(|| panic!("no {path}")) = serde_json::json!(1e300);
                let error = read(&json.to_string()).unwrap_err();
                let text = error.to_string();
                assert!(
                    text.starts_with(&format!("{path}: 1000")) && text.contains(&parameter.limit.to_string()),
                    "{text}"
                );
                *at(&mut json, &path).unwrap() = serde_json::json!("6");
                assert!(
                    read(&json.to_string())
                        .unwrap_err()
                        .to_string()
                        .starts_with(&format!("{path}: ")),
                    "{path}"
                );
                tried += 1;
            }
        }
        assert!(tried > 50, "{tried}");
    }

    #[test]
    fn refusals_say_what_is_wrong() {
        let good = write(&sample::apparatus());
        let wrong = |from: &str, to: &str| {
            let text = good.replacen(from, to, 1);
            assert_ne!(text, good);
            read(&text).unwrap_err().to_string()
        };
        assert!(wrong("\"version\": 2", "\"version\": 3").contains("3 is newer than 2"));
        assert!(wrong("\"version\": 2", "\"version\": 3, \"new\": 3").contains("3 is newer than 2"));
        assert!(wrong("\"version\": 2", "\"version\": 0").starts_with("version: "));
        assert!(wrong("\"title\"", "\"titel\"").contains("titel"));
        assert!(wrong(FORMAT, "other").contains("not a design"));
        assert!(wrong("200", "NaN").contains("not JSON"));
        assert!(wrong("200", "1e999").contains("number out of range"));
        assert!(wrong("\"od_mm\": 16", "\"od_mm\": 16, \"odd_mm\": 3").contains("pieces[0].form.tube.size"));
        let text = wrong("\"host\": \"pot\"", "\"host\": \"pan\"");
        assert!(
            text.starts_with("pieces[2].seat.between.from.host: there is no piece \"pan\""),
            "{text}"
        );
        let text = wrong("\"piece\": \"pot\"", "\"piece\": \"pan\"");
        assert!(text.starts_with("charge.fills[0].piece: "), "{text}");
        let text = wrong("\"member\": 2", "\"member\": 9");
        assert!(text.starts_with("rows[0].departures[0].member: "), "{text}");
        let text = wrong("\"radius_mm\": 32", "\"radius_mm\": 4");
        assert!(
            text.starts_with("pieces[0].form.tube.course[1].bend.radius_mm: "),
            "{text}"
        );
        assert!(matches!(read("[]"), Err(FileError::NotADesign)));
        assert!(matches!(
            read(&" ".repeat(MAX_BYTES + 1)),
            Err(FileError::TooLong { .. })
        ));
        assert!(matches!(
            read(&"[".repeat(100_000)),
            Err(FileError::Syntax(_) | FileError::NotADesign)
        ));
    }

    #[test]
    fn a_run_is_kept_and_its_faults_are_found_by_path() {
        let good = write(&rich());
        assert!(
            !write(&sample::apparatus()).contains("\"run\""),
            "none stands where there is none"
        );
        let refused = |from: &str, to: &str| {
            let text = good.replacen(from, to, 1);
            assert_ne!(text, good);
            read(&text).unwrap_err().to_string()
        };
        let text = refused("\"tilt_deg\": 42.5", "\"tilt_deg\": 400");
        assert_eq!(
            text,
            "run.stops[1].tilt_deg: 400 is outside the limit of the tilt, -360 to 360 deg"
        );
        let text = refused("\"pressure_mbar\": 800", "\"pressure_mbar\": 0");
        assert!(
            text.starts_with("run.gas.filled.pressure_mbar: 0 is outside") && text.contains("0.001 to 5000 mbar"),
            "{text}"
        );
        let text = refused("\"vial-3\"", "\"vial-9\"");
        assert_eq!(text, "run.stops[1].seals[1]: there is no piece \"vial-9\"");
        let text = refused("\"vial-3\"", "\"vial-1\"");
        assert_eq!(text, "run.stops[1].seals[1]: \"vial-1\" is sealed off before");
        let text = refused("\"vial-3\"", "\"pot\"");
        assert_eq!(text, "run.stops[1].seals[1]: \"pot\" has no seal-off place");
        let text = refused("\"drips_into\": \"header\"", "\"drips_into\": \"heater\"");
        assert_eq!(text, "run.drips_into: there is no piece \"heater\"");
        let text = refused("\"wait_s\": 30", "\"wait_min\": 30");
        assert!(text.starts_with("run.stops[1]"), "{text}");
    }

    #[test]
    fn the_first_version_is_read_and_has_no_run() {
        let first = |apparatus: &Apparatus| write(apparatus).replacen("\"version\": 2", "\"version\": 1", 1);
        assert_eq!(read(&first(&sample::apparatus())).unwrap(), sample::apparatus());
        let error = read(&first(&rich())).unwrap_err().to_string();
        assert_eq!(error, "run: a run stands only in files of version 2 and newer");
    }

    #[test]
    fn a_crowd_is_refused_quickly() {
        let piece = sample::apparatus().pieces[3].clone();
        let pieces = (0..100_000)
            .map(|i| Piece {
                name: format!("p{i}"),
                ..piece.clone()
            })
            .collect();
        let text = write(&Apparatus {
            pieces,
            ..Apparatus::default()
        });
        let begun = std::time::Instant::now();
        let error = read(&text).unwrap_err();
        assert!(
            matches!(error, FileError::TooLong { .. } | FileError::Value { .. }),
            "{error}"
        );
        let compact: String = text.split_whitespace().collect();
        let error = read(&compact).unwrap_err().to_string();
        assert!(
            error.starts_with("pieces: 100000 pieces; the limit is 0 to 5000"),
            "{error}"
        );
        assert!(begun.elapsed().as_secs_f64() < 5.0, "{:?}", begun.elapsed());
    }

    #[test]
    fn the_schema_is_current() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/vialwright-design.schema.json");
        if std::env::var_os("VIALWRIGHT_REFRESH").is_some() {
            std::fs::write(path, schema()).unwrap();
        }
        let kept = std::fs::read_to_string(path).unwrap_or_default();
        assert!(
            kept == schema(),
            "{path} is out of date; VIALWRIGHT_REFRESH=1 cargo test schema writes it anew"
        );
    }

    proptest! {
        #[test]
        fn numbers_come_back_to_the_last_bit(x in -1e4..1e4f64, hundredths in -999_999i32..999_999) {
            let mut apparatus = sample::apparatus();
            apparatus.pieces[0].seat =
                Seat::Free { x_mm: x, y_mm: f64::from(hundredths) / 100.0, heading_deg: 0.0 };
            let text = write(&apparatus);
            let back = read(&text).unwrap();
            prop_assert_eq!(&back, &apparatus);
            prop_assert_eq!(write(&back), text);
        }

        #[test]
        fn damaged_text_never_panics(cut in 0usize..8000, insert in ".{0,3}") {
            let text = write(&rich());
            let cut = (0..=cut.min(text.len() - 2)).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0);
            let _ = read(&format!("{}{insert}{}", &text[..cut], &text[cut + 1..]));
            prop_assert!(read(&text[..cut]).is_err());
        }

        #[test]
        fn edited_designs_come_back(key in 0usize..40, value in 1.0..60.0f64) {
            let apparatus = rich();
            let keys = apparatus.parameters("header").unwrap();
            let key = keys[key % keys.len()].key.clone();
            if let Ok(next) = apparatus.apply(&Edit::Set { piece: "header".to_owned(), key, value }) {
                prop_assert_eq!(read(&write(&next)).unwrap(), next);
            }
        }
    }
}
