//! coverbook-register.
