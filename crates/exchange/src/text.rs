//! Bytes as text: size, encoding and stray bytes, before any row is looked at.

use crate::findings::Findings;

/// Returns the text of a file without its byte order mark, or `None` after a refusal.
pub(crate) fn decode<'a>(bytes: &'a [u8], limit_bytes: u64, findings: &mut Findings) -> Option<&'a str> {
    if bytes.len() as u64 > limit_bytes {
        let says = format!(
            "the file has {} bytes and at most {limit_bytes} are read; split it, or raise the limit",
            bytes.len()
        );
        findings.refuse("file-too-large", None, None, says);
        return None;
    }
    if bytes.starts_with(b"PK\x03\x04") {
        let says = "this is a packed workbook or archive, not text; save the sheet as CSV in UTF-8";
        findings.refuse("not-text", None, None, says);
        return None;
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let says = "the file is UTF-16 text; save it as CSV in UTF-8";
        findings.refuse("not-utf8", None, None, says);
        return None;
    }
    let (skipped, bytes) = match bytes.strip_prefix(b"\xef\xbb\xbf") {
        Some(rest) => (3, rest),
        None => (0, bytes),
    };
    if let Some(at) = bytes.iter().position(|&b| b == 0) {
        let says = format!(
            "byte {} is a NUL, which text does not hold; save the file again as CSV in UTF-8",
            at + skipped
        );
        findings.refuse("nul-byte", Some(line_of(bytes, at)), None, says);
        return None;
    }
    match std::str::from_utf8(bytes) {
        Ok(text) if text.trim().is_empty() => {
            findings.refuse(
                "empty-file",
                None,
                None,
                "the file holds no rows; choose another file",
            );
            None
        }
        Ok(text) => Some(text),
        Err(error) => {
            let at = error.valid_up_to();
            let says = format!(
                "byte {} (0x{:02x}) is not UTF-8; save the file again as CSV in UTF-8",
                at + skipped,
                bytes[at]
            );
            findings.refuse("not-utf8", Some(line_of(bytes, at)), None, says);
            None
        }
    }
}

/// Returns the line that a byte stands on, counted from 1. A lone carriage return ends a line too.
fn line_of(bytes: &[u8], at: usize) -> u64 {
    1 + line_ends(&bytes[..at])
}

/// Counts line ends: LF, CR LF or a lone CR.
pub(crate) fn line_ends(bytes: &[u8]) -> u64 {
    let mut ends = 0;
    for (at, &byte) in bytes.iter().enumerate() {
        if byte == b'\n' || (byte == b'\r' && bytes.get(at + 1) != Some(&b'\n')) {
            ends += 1;
        }
    }
    ends
}
