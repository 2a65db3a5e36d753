//! HTTP: the same acts over a local server, and the page that asks them.
//!
//! Handlers extract, call, respond. Blocking work runs off the async threads. Nothing here decides anything about the
//! record.

mod ask;
mod book;
mod digs;
mod error;
mod events;
mod exports;
mod guard;
mod holds;
mod imports;
mod limits;
mod lists;
mod openapi;
mod page;
mod points;
mod records;
mod rule_sets;
mod serving;
mod sites;
mod stations;

pub use guard::Hosts;
pub use limits::Limits;
pub use openapi::document;
pub use serving::{Bound, bind};

use crate::acts::Register;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tower_http::compression::CompressionLayer;

/// Largest body of a request that is no import, bytes.
pub const MOST_BODY_BYTES: usize = 1 << 20;
/// Largest file that is imported, bytes.
pub const MOST_IMPORT_BYTES: usize = 256 << 20;
/// Longest time for a request that is no import, export or verification.
const USUAL_TIME: Duration = Duration::from_secs(60);
/// Longest time for those.
const LONG_TIME: Duration = Duration::from_secs(1800);

/// What every handler is given.
#[derive(Debug, Clone)]
pub struct App {
    /// The register.
    pub register: Arc<Register>,
    /// The names that browsers may address this server by.
    pub hosts: Arc<Hosts>,
    /// How much is taken on at once.
    pub limits: Limits,
    /// Turns true when the server is asked to stop.
    pub stopping: watch::Receiver<bool>,
}

/// Returns the routes of the server.
pub fn app(app: App) -> Router {
    let usual = Router::new()
        .merge(sites::router())
        .merge(stations::router())
        .merge(lists::router())
        .merge(book::router())
        .merge(digs::router())
        .merge(holds::router())
        .merge(records::router())
        .merge(points::router())
        .merge(rule_sets::router())
        .merge(openapi::router())
        .layer(middleware::from_fn(|request, next| {
            limits::in_time(USUAL_TIME, request, next)
        }));
    let long = Router::new()
        .merge(exports::router())
        .merge(book::long_router())
        .merge(
            imports::router()
                .layer(DefaultBodyLimit::max(MOST_IMPORT_BYTES))
                .layer(middleware::from_fn_with_state(app.clone(), limits::place)),
        )
        .layer(middleware::from_fn(|request, next| {
            limits::in_time(LONG_TIME, request, next)
        }));
    Router::new()
        .merge(usual)
        .merge(long)
        .merge(events::router())
        .fallback(page::page)
        .layer(DefaultBodyLimit::max(MOST_BODY_BYTES))
        .layer(CompressionLayer::new())
        .layer(middleware::from_fn_with_state(app.clone(), guard::guard))
        .with_state(app)
}
