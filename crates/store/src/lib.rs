//! coverbook-store.
