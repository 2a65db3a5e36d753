//! Times as people write them, compared as instants and never as text.

use chrono::{DateTime, NaiveDate, Utc};

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
