//! Times as the journal writes them.

use super::ActError;
use chrono::{DateTime, SecondsFormat, Utc};

/// Tells the time; handed in, so that tests need none.
pub type Clock = Box<dyn Fn() -> DateTime<Utc> + Send + Sync>;

/// Returns the system's clock.
pub fn system_clock() -> Clock {
    Box::new(Utc::now)
}

/// Writes a time as RFC 3339, UTC, milliseconds.
pub fn written(time: DateTime<Utc>) -> String {
    time.to_rfc3339_opts(SecondsFormat::Millis, true)
}

/// Returns the time to record after `last`: now, or `last` itself when the clock has gone back.
pub(crate) fn recorded_at(now: DateTime<Utc>, last: Option<&str>) -> String {
    // Of one form and zone, the texts order as the times do.
    let now = written(now);
    match last {
        Some(last) if last > now.as_str() => last.to_owned(),
        _ => now,
    }
}

/// Reads when something was observed.
///
/// # Errors
/// As [`register::time::observed`].
pub fn observed_at(text: &str) -> Result<String, ActError> {
    register::time::observed(text).map_err(|e| ActError::asked("observed-at", format!("observed_at {e}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recorded_times_never_go_back() {
        let now = DateTime::parse_from_rfc3339("2031-05-03T07:04:05.678Z")
            .unwrap()
            .to_utc();
        assert_eq!(recorded_at(now, None), "2031-05-03T07:04:05.678Z");
        assert_eq!(
            recorded_at(now, Some("2031-05-03T07:04:05.677Z")),
            "2031-05-03T07:04:05.678Z"
        );
        assert_eq!(
            recorded_at(now, Some("2031-05-03T07:04:06.000Z")),
            "2031-05-03T07:04:06.000Z"
        );
    }
}
