//! coverbook-sheets.
