//! coverbook-exchange.
