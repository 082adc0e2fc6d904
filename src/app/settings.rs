//! What the program remembers of its user from one run to the next.
//!
//! Kept as a file of its own, written whole. What is damaged in it falls back to its first value and nothing else
//! does; keys that this version does not know are kept for the one that wrote them.

use super::calibration::Screens;
use super::paper::Sheet;
use super::reading::Reading;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use std::path::{Path, PathBuf};

/// How many files are remembered.
const RECENT: usize = 10;

/// The settings. A new field needs nothing but its first value in [`Settings::default`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Settings {
    /// Files that were opened or saved, the latest first.
    pub recent: Vec<PathBuf>,
    /// Whether the tray is put away.
    pub tray_away: bool,
    /// Whether the numbers are shown; `None` leaves it to the width of the window.
    pub column: Option<bool>,
    /// Whether the strip of the run is shown.
    pub run_strip: bool,
    /// Whether lengths are shown in inches.
    pub inches: bool,
    /// Whether things take their new places at once instead of moving there.
    pub less_motion: bool,
    /// Whether the first hint has done its work.
    pub hint_done: bool,
    /// How the numbers are read.
    pub reading: Reading,
    /// What is shown on the bench beside the glass.
    pub sheet: Sheet,
    /// How large this user's screens are.
    pub screens: Screens,
}

impl Settings {
    /// Reads settings; what can't be understood has its first value.
    pub(crate) fn read(text: &str) -> Self {
        let Ok(Value::Object(given)) = serde_json::from_str(text) else {
            return Self::default();
        };
        let mut settings = Self::default();
        let mut good = settings.to_map();
        for (key, value) in given {
            let mut with = good.clone();
            with.insert(key, value);
            if let Ok(read) = serde_json::from_value(Value::Object(with.clone())) {
                settings = read;
                good = with;
            }
        }
        settings.recent.truncate(RECENT);
        settings
    }

    /// The settings as text in place of `old`, of which unknown keys are kept.
    pub(crate) fn write(&self, old: &str) -> String {
        let mut keys = match serde_json::from_str(old) {
            Ok(Value::Object(keys)) => keys,
            _ => Map::new(),
        };
        keys.extend(self.to_map());
        // A map of plain values always can be written.
        serde_json::to_string_pretty(&Value::Object(keys)).unwrap_or_default() + "\n"
    }

    fn to_map(&self) -> Map<String, Value> {
        match serde_json::to_value(self) {
            Ok(Value::Object(keys)) => keys,
            _ => Map::new(),
        }
    }

    /// Puts a file at the head of the recent ones. A path that is no text can't be kept and is left out.
    pub(crate) fn note_recent(&mut self, path: &Path) {
        if path.to_str().is_some() {
            self.recent.retain(|known| known != path);
            self.recent.insert(0, path.to_owned());
            self.recent.truncate(RECENT);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_come_back() {
        let mut settings = Settings {
            column: Some(false),
            less_motion: true,
            ..Settings::default()
        };
        settings.note_recent(Path::new("/a.json"));
        assert_eq!(Settings::read(&settings.write("")), settings);
    }

    #[test]
    fn damage_takes_no_more_than_its_own_field() {
        let text = r#"{"recent": "oops", "column": true, "less_motion": 7, "hint_done": true}"#;
        let settings = Settings::read(text);
        let expected = Settings {
            column: Some(true),
            hint_done: true,
            ..Settings::default()
        };
        assert_eq!(settings, expected);
        for text in ["", "{", "[]", "null", "\u{0}"] {
            assert_eq!(Settings::read(text), Settings::default(), "{text}");
        }
    }

    #[test]
    fn keys_of_another_version_are_kept() {
        let text = Settings::default().write(r#"{"later": [1, 2], "column": 3}"#);
        assert!(text.contains("later"), "{text}");
        assert!(Settings::read(&text).column.is_none());
    }

    #[test]
    fn recent_files_are_few_and_each_stands_once() {
        let mut settings = Settings::default();
        for n in (0..20).chain([15]) {
            settings.note_recent(&PathBuf::from(format!("/{n}.json")));
        }
        assert_eq!(settings.recent.len(), RECENT);
        assert_eq!(settings.recent[0], Path::new("/15.json"));
        assert_eq!(settings.recent.iter().filter(|p| p.ends_with("15.json")).count(), 1);
    }
}
