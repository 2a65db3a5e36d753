//! Hold points: the list, decisions on it, and files attached to the record.

use super::App;
use super::ask::{Asked, answer, author, blocking, site_id, too_large};
use super::error::{ApiError, ErrorView};
use super::records::read_fields;
use crate::acts::{AttachAsk, MOST_ATTACHED_BYTES, ReleaseAsk, paper_named};
use axum::Router;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use register::body::Accepted;
use register::view::{HoldAnswer, ReleaseView};
use register::words::ReleaseOutcome;
use serde::Deserialize;
use serde_json::{Map, Value};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/sites/{id}/hold", post(hold))
        .route("/api/sites/{id}/releases", get(releases).post(release))
        .route(
            "/api/sites/{id}/releases/{entry}/certificate.pdf",
            get(certificate),
        )
        .route("/api/sites/{id}/files/{sha256}", get(file))
        .route(
            "/api/sites/{id}/files",
            post(attach).layer(DefaultBodyLimit::max(MOST_ATTACHED_BYTES)),
        )
}

/// A question, and the reasons given so far.
#[derive(Debug, Deserialize)]
pub(crate) struct HoldAsked {
    #[serde(flatten)]
    question: Map<String, Value>,
    #[serde(default)]
    accepted: Vec<Accepted>,
}

/// Returns the list of a hold point: `area`, and as wished `ring` (easting, northing), `runs`, `surface`, `accepted`.
#[utoipa::path(post, path = "/api/sites/{id}/hold", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = HoldAnswer), (status = 422, body = ErrorView)))]
pub(crate) async fn hold(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(asked): Asked<HoldAsked>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let question = read_fields(asked.question)?;
    answer(&app, move |register| {
        register.hold(id, &question, &asked.accepted)
    })
    .await
}

/// Returns every decision, newest first.
#[utoipa::path(get, path = "/api/sites/{id}/releases", params(("id" = String, Path)),
    responses((status = 200, body = [ReleaseView]), (status = 404, body = ErrorView)))]
pub(crate) async fn releases(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| register.releases(id)).await
}

/// A decision.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Decision {
    /// What it is about, as asked for the list.
    #[schema(value_type = Object)]
    question: Map<String, Value>,
    /// Open items that are accepted, with the reasons.
    #[serde(default)]
    accepted: Vec<Accepted>,
    /// The head of the list that was looked at, `n:hex`; needed to release.
    head: Option<String>,
    /// `not-released`; any other outcome follows from the list.
    outcome: Option<ReleaseOutcome>,
    /// The person's own words.
    statement: Option<String>,
    /// When it was decided.
    observed_at: Option<String>,
    /// Who decides.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Records a decision; returns the list as it was decided on.
#[utoipa::path(post, path = "/api/sites/{id}/releases", params(("id" = String, Path)), request_body = Decision,
    responses((status = 200, body = HoldAnswer), (status = 422, body = ErrorView)))]
pub(crate) async fn release(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(decision): Asked<Decision>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let ask = ReleaseAsk {
        question: read_fields(decision.question)?,
        accepted: decision.accepted,
        refused: decision.outcome == Some(ReleaseOutcome::NotReleased),
        head: decision.head,
        statement: decision.statement,
        id: decision.id,
        observed_at: decision.observed_at,
    };
    let by = author(decision.by);
    answer(&app, move |register| register.release(id, &ask, &by)).await
}

/// The paper.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct OnPaper {
    /// A4, A3 or Letter; A4 when nobody says.
    paper: Option<String>,
}

/// Lays out the certificate of a decision, given by its entry's number or id, as PDF.
#[utoipa::path(get, path = "/api/sites/{id}/releases/{entry}/certificate.pdf",
    params(("id" = String, Path), ("entry" = String, Path), OnPaper),
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = 404, body = ErrorView)))]
pub(crate) async fn certificate(
    State(app): State<App>,
    Path((id, entry)): Path<(String, String)>,
    Query(on): Query<OnPaper>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let paper = paper_named(on.paper.as_deref().unwrap_or("A4"))?;
    let pdf = blocking(&app, move |register| register.certificate(id, &entry, paper)).await?;
    let headers = [
        (header::CONTENT_TYPE, "application/pdf"),
        (header::CONTENT_DISPOSITION, "inline; filename=\"hold-point.pdf\""),
    ];
    Ok((headers, pdf).into_response())
}

/// What is said of a file.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct OfFile {
    /// Its name.
    file: String,
    /// The run, point, station or searched area that it is about.
    about: String,
    /// When it was taken.
    observed_at: Option<String>,
    /// Who attaches it.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[param(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Attaches a file; the body is its bytes, kept as they are. Returns its SHA-256.
#[utoipa::path(post, path = "/api/sites/{id}/files", params(("id" = String, Path), OfFile),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = String), (status = 422, body = ErrorView)))]
pub(crate) async fn attach(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(of): Query<OfFile>,
    bytes: Result<Bytes, BytesRejection>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let bytes = bytes.map_err(too_large)?;
    answer(&app, move |register| {
        let ask = AttachAsk {
            file: of.file,
            about: of.about,
            id: of.id,
            observed_at: of.observed_at,
        };
        let hash = register::chain::sha256_hex(&bytes);
        register.attach(id, &ask, bytes.to_vec(), &author(of.by))?;
        Ok(hash)
    })
    .await
}

/// Returns an attached file as it was given.
#[utoipa::path(get, path = "/api/sites/{id}/files/{sha256}",
    params(("id" = String, Path), ("sha256" = String, Path)),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = 404, body = ErrorView)))]
pub(crate) async fn file(
    State(app): State<App>,
    Path((id, sha256)): Path<(String, String)>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let (name, bytes) = blocking(&app, move |register| register.attached(id, &sha256)).await?;
    // Only what a browser shows as a picture is shown; anything else is a download, whatever it says it is.
    let ending = name.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    let picture = match ending.as_str() {
        "jpg" | "jpeg" => Some("image/jpeg"),
        "png" => Some("image/png"),
        "webp" => Some("image/webp"),
        _ => None,
    };
    let shown = if picture.is_some() { "inline" } else { "attachment" };
    let headers = [
        (
            header::CONTENT_TYPE,
            picture.unwrap_or("application/octet-stream"),
        ),
        (header::CONTENT_DISPOSITION, shown),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    ];
    Ok((headers, bytes).into_response())
}
