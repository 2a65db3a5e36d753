//! Where words go: results to stdout, everything else to stderr.

use crate::acts::ActError;
use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;
use std::io::Write;

/// How results are written.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Output {
    /// As JSON, for programs.
    pub(crate) json: bool,
}

impl Output {
    pub(crate) fn new(json: bool) -> Output {
        Output { json }
    }

    /// Writes a result: as JSON, or as `text` says it to a person.
    pub(crate) fn result<T: Serialize>(
        &self,
        result: &T,
        text: impl FnOnce(&T) -> String,
    ) -> Result<(), ActError> {
        let written = if self.json {
            let mut json =
                serde_json::to_string_pretty(result).map_err(|e| ActError::Fault(e.to_string()))?;
            json.push('\n');
            json
        } else {
            let mut text = text(result);
            if !text.ends_with('\n') {
                text.push('\n');
            }
            text
        };
        self.bytes(written.as_bytes())
    }

    /// Writes bytes to stdout.
    pub(crate) fn bytes(&self, bytes: &[u8]) -> Result<(), ActError> {
        let mut out = std::io::stdout().lock();
        match out.write_all(bytes).and_then(|()| out.flush()) {
            Ok(()) => Ok(()),
            // Whoever read has read enough.
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
            Err(error) => Err(ActError::File {
                file: "stdout".into(),
                why: error.to_string(),
            }),
        }
    }

    /// Says something beside the result.
    pub(crate) fn says(&self, text: &str) {
        eprintln!("{text}");
    }

    /// Says what went wrong.
    pub(crate) fn error(&self, error: &ActError) {
        let place = error.place().unwrap_or_default();
        let file = place.file.filter(|_| !matches!(error, ActError::File { .. }));
        let parts = [
            file,
            place.row.map(|row| format!("row {row}")),
            place.column.map(|column| format!("column {column}")),
        ];
        let place: Vec<String> = parts.into_iter().flatten().collect();
        if place.is_empty() {
            eprintln!("coverbook: {error}");
        } else {
            eprintln!("coverbook: {}: {error}", place.join(", "));
        }
    }

    /// Begins to show how far something is; hidden where stderr is no screen.
    pub(crate) fn progress(&self, what: &'static str, total: u64, is_bytes: bool) -> ProgressBar {
        let bar = ProgressBar::new(total);
        let template = if is_bytes {
            "{prefix} {bytes}/{total_bytes} {bar:30} {elapsed}"
        } else {
            "{prefix} {pos}/{len} {bar:30} {elapsed}"
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        bar.set_prefix(what);
        bar
    }
}
