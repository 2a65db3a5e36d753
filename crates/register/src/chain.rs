//! The hash chain: what makes an entry impossible to change without being found out.
//!
//! Bodies are hashed as stored bytes, never re-serialised. A chain proves only against a head that somebody
//! else holds; that is why heads are printed on every sheet.

use sha2::{Digest, Sha256};
use uuid::Uuid;

/// A SHA-256 digest.
pub type Hash = [u8; 32];

/// Returns the head of a site's empty chain.
pub fn head_of_nothing(site: Uuid) -> Hash {
    Sha256::new()
        .chain_update(b"coverbook-site-1\n")
        .chain_update(site.as_bytes())
        .finalize()
        .into()
}

/// Returns the hash of a body's stored bytes.
pub fn body_hash(bytes: &[u8]) -> Hash {
    Sha256::new()
        .chain_update(b"coverbook-entry-1\n")
        .chain_update(bytes)
        .finalize()
        .into()
}

/// Returns the head after entry `n`.
///
/// `recorded_at` is RFC 3339, UTC, milliseconds, as text.
pub fn next_head(site: Uuid, n: u64, before: &Hash, recorded_at: &str, body_hash: &Hash) -> Hash {
    Sha256::new()
        .chain_update(b"coverbook-chain-1\n")
        .chain_update(site.as_bytes())
        .chain_update(n.to_be_bytes())
        .chain_update(before)
        .chain_update(recorded_at.as_bytes())
        .chain_update(body_hash)
        .finalize()
        .into()
}

/// Returns the SHA-256 of plain bytes.
pub fn sha256(bytes: &[u8]) -> Hash {
    Sha256::digest(bytes).into()
}

/// Returns the SHA-256 of plain bytes as hexadecimal, as files and rule texts are named by.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&sha256(bytes))
}

/// Writes a hash as 64 hexadecimal digits.
pub fn hex(hash: &Hash) -> String {
    use std::fmt::Write;
    hash.iter().fold(String::with_capacity(64), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Reads 64 hexadecimal digits.
pub fn from_hex(text: &str) -> Option<Hash> {
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    let mut hash = [0; 32];
    for (byte, pair) in hash.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
        *byte = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    Some(hash)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The expected digests were worked out beside the program with `printf ... | sha256sum` (coreutils 9.1).
    #[test]
    fn heads_are_the_digests_of_exactly_the_stated_bytes() {
        let site = Uuid::from_u128(0x0102_0304_0506_0708_090a_0b0c_0d0e_0f10);
        let empty = head_of_nothing(site);
        assert_eq!(
            hex(&empty),
            "f5d36d4e89a05d2dcac4b7b8ff09f4d991a26ff5b7ac3dfb8eb8ed944bcea14c"
        );
        let body = body_hash(br#"{"a":1}"#);
        assert_eq!(
            hex(&body),
            "1f042f066806889e1220908b60dc25060693dab9ac91ab487305d8a6124b942c"
        );
        let head = next_head(site, 1, &empty, "2031-05-03T07:04:05.678Z", &body);
        assert_eq!(
            hex(&head),
            "c26a923897c820451c7a5084bbbe1d4ccf951ad4c147d2dbc9339c65e362c5e4"
        );
    }

    #[test]
    fn hexadecimal_round_trips_and_refuses_other_text() {
        let hash = body_hash(b"x");
        assert_eq!(from_hex(&hex(&hash)), Some(hash));
        assert_eq!(from_hex("zz"), None);
        assert_eq!(from_hex(&"g".repeat(64)), None);
        assert_eq!(from_hex(&"é".repeat(32)), None);
    }
}
