//! Canonical JSON against the samples of RFC 8785: sections 3.2 and 3.2.3 and cases of the same rules. Each output was
//! worked out with Node.js 20.20.2 and the Python package rfc8785, which agree; the file tells source and status.

#![allow(clippy::unwrap_used, reason = "the whole file is a test")]

use serde_json::Value;

#[test]
fn what_bodies_are_hashed_as_is_canonical_by_rfc_8785() {
    let samples: Value = serde_json::from_str(include_str!("data/rfc8785.json")).unwrap();
    let cases = samples["cases"].as_array().unwrap();
    assert!(cases.len() >= 3);
    for case in cases {
        let input: Value = serde_json::from_str(case["input_json_text"].as_str().unwrap()).unwrap();
        let written = coverbook_register::canonical::to_vec(&input).unwrap();
        let hex: String = written.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hex, case["expected_utf8_hex"].as_str().unwrap(), "{}", case["id"]);
    }
}
