//! Times as people write them, compared as instants and never as text.

use chrono::{DateTime, NaiveDate, Utc};

/// A text that is no time.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0:?} is no time; write a date like 2031-05-03, or date, time and offset like 2031-05-03T14:30:00+02:00"
)]
pub struct NotATime(pub String);

/// Reads when something was observed, as it is recorded: RFC 3339 as written, or a date alone as its beginning in UTC.
///
/// A date is taken as early as it can be: what was seen then is older rather than younger.
///
/// # Errors
/// [`NotATime`] when it is neither.
pub fn observed(text: &str) -> Result<String, NotATime> {
    let text = text.trim();
    match instant(text) {
        Some(_) if DateTime::parse_from_rfc3339(text).is_ok() => Ok(text.to_owned()),
        Some(_) if text.len() == "2031-05-03".len() => Ok(format!("{text}T00:00:00Z")),
        _ => Err(NotATime(text.to_owned())),
    }
}

/// Returns the instant of an RFC 3339 time, or the first of a plain date (UTC).
pub fn instant(text: &str) -> Option<DateTime<Utc>> {
    if let Ok(time) = DateTime::parse_from_rfc3339(text) {
        return Some(time.with_timezone(&Utc));
    }
    let date = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()?;
    Some(date.and_hms_opt(0, 0, 0)?.and_utc())
}

/// Returns the date of an RFC 3339 time as written, or the text itself.
pub fn date_of(time: &str) -> &str {
    time.split_once('T').map_or(time, |(date, _)| date)
}

/// Orders two times; one that does not read comes first, as the oldest.
pub fn earlier_first(a: &str, b: &str) -> std::cmp::Ordering {
    instant(a).cmp(&instant(b))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cmp::Ordering;

    #[test]
    fn a_date_alone_is_its_beginning_and_other_text_is_no_time() {
        for (text, expected) in [
            ("2031-05-03", "2031-05-03T00:00:00Z"),
            (" 2031-05-03T07:30:00+02:00 ", "2031-05-03T07:30:00+02:00"),
        ] {
            assert_eq!(observed(text).as_deref(), Ok(expected));
            assert!(instant(expected).is_some());
        }
        for text in [
            "yesterday",
            "2031-02-30",
            "2031-5-3",
            "2031-05-03T07:30:00",
            "03/05/2031",
            "",
        ] {
            assert_eq!(observed(text), Err(NotATime(text.to_owned())));
        }
    }

    #[test]
    fn the_same_moment_in_two_offsets_is_one_instant() {
        assert_eq!(
            earlier_first("2031-05-03T08:00:00+10:00", "2031-05-02T22:00:00Z"),
            Ordering::Equal
        );
        assert_eq!(
            earlier_first("2031-05-03T08:00:00+10:00", "2031-05-03T07:00:00Z"),
            Ordering::Less
        );
        assert_eq!(
            earlier_first("2031-05-03", "2031-05-03T00:00:01Z"),
            Ordering::Less
        );
        assert_eq!(instant("03/05/2031"), None);
    }
}
