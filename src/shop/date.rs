//! A day, as it stands on sheets. It is always given: the sheets know no clock.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// A day of the Gregorian calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Date {
    /// Year.
    pub year: u16,
    /// Month, from 1.
    pub month: u8,
    /// Day of the month, from 1.
    pub day: u8,
}

/// A text is no day.
#[derive(Debug, Error, PartialEq, Eq)]
#[error("\"{0}\" is not a day of the form YYYY-MM-DD")]
pub struct NoDate(String);

impl Date {
    /// The day that is `days` after 1 January 1970 (the algorithm of Fliegel and Van Flandern, 1968, in the form
    /// with eras of 400 years).
    pub fn of_unix_days(days: u32) -> Self {
        // Counted from 1 March of the year 0, so that a leap day is the last of its year.
        let since = days + 719_468;
        let (era, day_of_era) = (since / 146_097, since % 146_097);
        let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
        let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let shifted = (5 * day_of_year + 2) / 153;
        let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
        let year = year_of_era + era * 400 + u32::from(month <= 2);
        Self {
            year: u16::try_from(year).unwrap_or(u16::MAX),
            month: month as u8,
            day: (day_of_year - (153 * shifted + 2) / 5 + 1) as u8,
        }
    }

    /// Its number in the count of Julian days, as of noon (the algorithm of Fliegel and Van Flandern, 1968).
    pub fn julian_day(self) -> i64 {
        let [year, month, day] = [i64::from(self.year), i64::from(self.month), i64::from(self.day)];
        let shift = (month - 14) / 12;
        (1461 * (year + 4800 + shift)) / 4 + (367 * (month - 2 - 12 * shift)) / 12
            - (3 * ((year + 4900 + shift) / 100)) / 4
            + day
            - 32_075
    }

    fn days_in_month(year: u16, month: u8) -> u8 {
        let is_leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        match month {
            2 if is_leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        }
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl FromStr for Date {
    type Err = NoDate;

    fn from_str(text: &str) -> Result<Self, NoDate> {
        let parse = || {
            let mut parts = text.split('-');
            let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
            let shape = [year.len(), month.len(), day.len()] == [4, 2, 2] && parts.next().is_none();
            let date = Self {
                year: year.parse().ok()?,
                month: month.parse().ok()?,
                day: day.parse().ok()?,
            };
            let fits = (1..=12).contains(&date.month)
                && (1..=Self::days_in_month(date.year, date.month)).contains(&date.day)
                && date.year > 0;
            (shape && fits).then_some(date)
        };
        parse().ok_or_else(|| NoDate(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn julian_days_run_with_those_since_1970() {
        // 1 January 1970 is the Julian day 2440588; leap days and the turn of centuries lie between.
        for days in [0, 58, 59, 789, 11_016, 20_000, 47_540, 47_541] {
            assert_eq!(Date::of_unix_days(days).julian_day(), 2_440_588 + i64::from(days));
        }
    }

    #[test]
    fn days_are_counted_through_leap_years() {
        // Day numbers by POSIX: `date -u -d 2000-02-29 +%s` / 86400.
        for (days, text) in [
            (0, "1970-01-01"),
            (11_016, "2000-02-29"),
            (11_017, "2000-03-01"),
            (20_453, "2025-12-31"),
            (47_540, "2100-02-28"),
            (47_541, "2100-03-01"),
        ] {
            assert_eq!(Date::of_unix_days(days).to_string(), text);
            assert_eq!(text.parse(), Ok(Date::of_unix_days(days)));
        }
    }

    #[test]
    fn what_is_no_day_is_refused() {
        for text in [
            "",
            "2025",
            "2025-13-01",
            "2025-02-29",
            "2025-1-01",
            "2025-01-01-01",
            "x025-01-01",
            "0000-01-01",
        ] {
            assert!(text.parse::<Date>().is_err(), "{text}");
        }
    }
}
