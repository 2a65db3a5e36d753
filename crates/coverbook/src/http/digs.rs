//! Planned digs.

use super::App;
use super::ask::{Asked, answer, author, blocking, json_response, site_id};
use super::error::{ApiError, ErrorView};
use super::records::read_fields;
use axum::Router;
use axum::extract::{Path, State};
use axum::response::Response;
use axum::routing::post;
use register::dig::DigQuestion;
use register::view::DigAnswer;
use serde::Deserialize;
use serde_json::{Map, Value};
use uuid::Uuid;

pub(crate) fn router() -> Router<App> {
    Router::new().route("/api/sites/{id}/dig", post(dig))
}

/// A question, and whether to keep it.
#[derive(Debug, Deserialize)]
pub(crate) struct Asking {
    #[serde(flatten)]
    question: Map<String, Value>,
    #[serde(default)]
    keep: bool,
    by: Option<String>,
    /// The kept entry's own id, made by the author's device: sending the same twice then changes nothing.
    id: Option<Uuid>,
}

/// Answers a planned dig; with `keep` and `by` the question and the answer are entered in the book.
#[utoipa::path(post, path = "/api/sites/{id}/dig", params(("id" = String, Path)), request_body = DigQuestion,
    responses((status = 200, body = DigAnswer), (status = 422, body = ErrorView)))]
pub(crate) async fn dig(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(asking): Asked<Asking>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let question: DigQuestion = read_fields(asking.question)?;
    if !asking.keep {
        return answer(&app, move |register| register.dig(id, &question)).await;
    }
    let by = author(asking.by);
    let kept = blocking(&app, move |register| {
        register.dig_and_keep(id, &question, &by, asking.id)
    });
    Ok(json_response(kept.await?.into_bytes()))
}
