//! Stations and level books: listed, tried without recording, recorded.

use super::App;
use super::ask::{Asked, answer, site_id};
use super::error::{ApiError, ErrorView};
use super::records::{Sent, read_fields, read_whole};
use crate::acts::ControlEdits;
use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use axum::routing::{get, post};
use register::body::{Act, GridTied, StationSet};
use register::screens::station_view;
use register::view::{AnewView, LevelsView, SiteView, StationView};
use serde_json::Value;

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/sites/{id}/stations", get(list).post(record))
        .route("/api/sites/{id}/stations/try", post(attempt))
        .route("/api/sites/{id}/stations/try-anew", post(attempt_anew))
        .route("/api/sites/{id}/levels", get(levels))
        .route("/api/sites/{id}/grid-tie", post(tie))
}

/// Returns every station.
#[utoipa::path(get, path = "/api/sites/{id}/stations", params(("id" = String, Path)),
    responses((status = 200, body = [StationView])))]
pub(crate) async fn list(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| Ok(register.site(id)?.station_views())).await
}

/// Returns every level book, reduced.
#[utoipa::path(get, path = "/api/sites/{id}/levels", params(("id" = String, Path)),
    responses((status = 200, body = [LevelsView])))]
pub(crate) async fn levels(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| Ok(register.site(id)?.levels_views())).await
}

/// Solves a station by the site's control; nothing is recorded.
#[utoipa::path(post, path = "/api/sites/{id}/stations/try", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = StationView), (status = 422, body = ErrorView)))]
pub(crate) async fn attempt(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let set: StationSet = read_whole(sent.fields)?;
    answer(&app, move |register| {
        let site = register.site(id)?;
        let solved = site.try_station(&set, 0)?;
        Ok(station_view(&solved, &site.frame()?))
    })
    .await
}

/// Tells what setting a station anew would move; nothing is recorded.
///
/// The body is a station's, with `control` beside it for control points put right for it.
#[utoipa::path(post, path = "/api/sites/{id}/stations/try-anew", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = AnewView), (status = 404, body = ErrorView), (status = 422, body = ErrorView)))]
pub(crate) async fn attempt_anew(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(mut sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let control = control_of(&mut sent)?;
    let set: StationSet = read_whole(sent.fields)?;
    answer(&app, move |register| register.try_anew(id, set, control)).await
}

/// Takes the control points put right out of a station's body.
fn control_of(sent: &mut Sent) -> Result<ControlEdits, ApiError> {
    match sent.fields.remove("control") {
        None | Some(Value::Null) => Ok(ControlEdits::default()),
        Some(Value::Object(fields)) => read_fields(fields),
        Some(_) => {
            let message = "control does not read: it is an object with points, and an id of its own";
            Err(ApiError::request(StatusCode::BAD_REQUEST, "body", message))
        }
    }
}

/// Records a station; one that stands is set anew by naming the entry that was seen.
///
/// Control points put right for it come beside it in `control`: both are recorded, or neither.
#[utoipa::path(post, path = "/api/sites/{id}/stations", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = StationView), (status = 422, body = ErrorView)))]
pub(crate) async fn record(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(mut sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let control = control_of(&mut sent)?;
    let (set, wanted) = sent.read::<StationSet>()?;
    answer(&app, move |register| {
        let name = set.station.clone();
        let (by, entry) = wanted.entry(Act::StationSet(Box::new(set)));
        let receipt = register.set_station(id, &by, entry, control)?;
        receipt.shown(|| {
            let views = register.site(id)?.station_views();
            Ok(views.into_iter().find(|view| view.station == name))
        })
    })
    .await
}

/// Ties a local grid to a projected one by common points.
#[utoipa::path(post, path = "/api/sites/{id}/grid-tie", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = SiteView), (status = 422, body = ErrorView)))]
pub(crate) async fn tie(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let (tied, wanted) = sent.read::<GridTied>()?;
    answer(&app, move |register| {
        let receipt = wanted.record(register, id, Act::GridTied(tied))?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}
