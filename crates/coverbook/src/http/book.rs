//! The book: its entries, and what verifying it proves.

use super::App;
use super::ask::{answer, site_id};
use super::error::{ApiError, ErrorView};
use crate::acts::{ActError, HeldHead};
use axum::Router;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use axum::routing::get;
use register::view::{JournalView, VerifyView};
use serde::Deserialize;
use utoipa::IntoParams;

pub(crate) fn router() -> Router<App> {
    Router::new().route("/api/sites/{id}/journal", get(journal))
}

pub(crate) fn long_router() -> Router<App> {
    Router::new().route("/api/sites/{id}/verify", get(verify))
}

/// Which stretch of the book.
#[derive(Debug, Deserialize, IntoParams)]
pub(crate) struct Stretch {
    /// Entries before this number; the newest when left out.
    before: Option<u64>,
    /// How many; 40 when left out.
    limit: Option<u64>,
}

/// Returns a stretch of the book, newest entry first.
#[utoipa::path(get, path = "/api/sites/{id}/journal", params(("id" = String, Path), Stretch),
    responses((status = 200, body = JournalView), (status = 404, body = ErrorView)))]
pub(crate) async fn journal(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(stretch): Query<Stretch>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        register.journal(id, stretch.before, stretch.limit.unwrap_or(40))
    })
    .await
}

/// What to compare the chain with.
#[derive(Debug, Deserialize, IntoParams)]
pub(crate) struct Held {
    /// A head that somebody else holds, `N:HEX`.
    head: Option<String>,
}

/// Recomputes the chain, the rows and the files, and says what that proves.
#[utoipa::path(get, path = "/api/sites/{id}/verify", params(("id" = String, Path), Held),
    responses((status = 200, body = VerifyView), (status = 404, body = ErrorView)))]
pub(crate) async fn verify(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(held): Query<Held>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        let held = held.head.as_deref().map(str::parse::<HeldHead>).transpose();
        let held = held.map_err(|says| ActError::asked("head", says))?;
        register.verify(id, held, &mut |_, _| {})
    })
    .await
}
