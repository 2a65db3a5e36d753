//! Sites: listed, opened, shown, drawn; their runs and their cover check.

use super::App;
use super::ask::{Asked, answer, author, site_id};
use super::error::{ApiError, ErrorView};
use crate::acts::OpenSite;
use axum::Router;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use axum::routing::get;
use register::view::{CoverAnswer, RunCard, SeparationAnswer, SiteMap, SiteSummary, SiteView};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/sites", get(list).post(open))
        .route("/api/sites/{id}", get(show))
        .route("/api/sites/{id}/map", get(map))
        .route("/api/sites/{id}/runs/{run}", get(run))
        .route("/api/sites/{id}/cover", get(cover))
        .route("/api/sites/{id}/runs/{run}/separation", get(separation))
}

/// Returns every site of the register.
#[utoipa::path(get, path = "/api/sites", responses((status = 200, body = [SiteSummary])))]
pub(crate) async fn list(State(app): State<App>) -> Result<Response, ApiError> {
    answer(&app, |register| register.sites()).await
}

/// Opening a site.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Opening {
    #[serde(flatten)]
    #[schema(inline)]
    site: serde_json::Map<String, serde_json::Value>,
    /// Who opens it.
    by: Option<String>,
}

/// Opens a site.
#[utoipa::path(post, path = "/api/sites", request_body = OpenSite,
    responses((status = 200, body = SiteView), (status = 422, body = ErrorView)))]
pub(crate) async fn open(
    State(app): State<App>,
    Asked(opening): Asked<Opening>,
) -> Result<Response, ApiError> {
    let site: OpenSite = super::records::read_fields(opening.site)?;
    let by = author(opening.by);
    answer(&app, move |register| {
        let (id, receipt) = register.open_site(site, &by)?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}

/// Returns a site as it stands.
#[utoipa::path(get, path = "/api/sites/{id}", params(("id" = String, Path)),
    responses((status = 200, body = SiteView), (status = 404, body = ErrorView)))]
pub(crate) async fn show(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| register.site_view(id)).await
}

/// Returns what the plan draws.
#[utoipa::path(get, path = "/api/sites/{id}/map", params(("id" = String, Path)),
    responses((status = 200, body = SiteMap), (status = 404, body = ErrorView)))]
pub(crate) async fn map(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| register.map(id)).await
}

/// Which surface depths hang on.
#[derive(Debug, Deserialize, IntoParams)]
pub(crate) struct Below {
    /// Its name; the only one when left out.
    surface: Option<String>,
}

/// Returns one run, whole.
#[utoipa::path(get, path = "/api/sites/{id}/runs/{run}", params(("id" = String, Path), ("run" = String, Path), Below),
    responses((status = 200, body = RunCard), (status = 404, body = ErrorView)))]
pub(crate) async fn run(
    State(app): State<App>,
    Path((id, run)): Path<(String, String)>,
    Query(below): Query<Below>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        register.run_card(id, &run, below.surface.as_deref())
    })
    .await
}

/// Checks cover, fall, separation and completeness.
#[utoipa::path(get, path = "/api/sites/{id}/cover", params(("id" = String, Path), Below),
    responses((status = 200, body = CoverAnswer), (status = 422, body = ErrorView)))]
pub(crate) async fn cover(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(below): Query<Below>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        register.cover(id, below.surface.as_deref(), None)
    })
    .await
}

/// Checks how far one run lies from the others.
#[utoipa::path(get, path = "/api/sites/{id}/runs/{run}/separation", params(("id" = String, Path), ("run" = String, Path)),
    responses((status = 200, body = SeparationAnswer), (status = 404, body = ErrorView)))]
pub(crate) async fn separation(
    State(app): State<App>,
    Path((id, run)): Path<(String, String)>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| register.separation(id, &run)).await
}
