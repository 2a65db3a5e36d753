//! Points by their readings: tried without recording, recorded, shown.

use super::App;
use super::ask::{Asked, answer, site_id};
use super::error::{ApiError, ErrorView};
use super::records::{Sent, read_whole};
use crate::acts::MeasuredPoint;
use axum::Router;
use axum::extract::{Path, State};
use axum::response::Response;
use axum::routing::{get, post};
use register::view::PointCard;
use serde::{Deserialize, Serialize};

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/sites/{id}/points", post(record))
        .route("/api/sites/{id}/points/try", post(attempt))
        .route("/api/sites/{id}/points/{point}", get(show))
}

/// Points to be tried or recorded.
#[derive(Debug, Deserialize, Serialize)]
struct Points {
    points: Vec<MeasuredPoint>,
}

/// Returns one recorded point: where it is, how sure, and how that came about.
#[utoipa::path(get, path = "/api/sites/{id}/points/{point}",
    params(("id" = String, Path), ("point" = String, Path)),
    responses((status = 200, body = PointCard), (status = 404, body = ErrorView)))]
pub(crate) async fn show(
    State(app): State<App>,
    Path((id, point)): Path<(String, String)>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| register.point_card(id, &point)).await
}

/// Reckons points from their readings and shows them; nothing is recorded.
///
/// `measured.by` is `ties`, `offset`, `satellite` or `coordinates`; `measured.level.by` is `stated`, `staff`, `depth`,
/// `detector` or `receiver`. Figures are strings, digit for digit as read.
#[utoipa::path(post, path = "/api/sites/{id}/points/try", params(("id" = String, Path)),
    request_body(content = Object, example = json!({"points": [{"point": "P1", "touched": "outside-top",
        "known": "seen", "measured": {"by": "ties", "side": "left", "ties": [
            {"from": "A", "distance_m": "4.888", "sigma_mm": "5"}, {"from": "B", "distance_m": "5.467", "sigma_mm": "5"}],
            "level": {"by": "depth", "surface": "slab", "surface_kind": "finished-built", "depth_m": "0.450",
                "sigma_mm": "5"}}}]})),
    responses((status = 200, body = [PointCard]), (status = 422, body = ErrorView)))]
pub(crate) async fn attempt(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let observed_at = sent.observed_at.clone();
    let asked: Points = read_whole(sent.fields)?;
    answer(&app, move |register| {
        register.try_points(id, &asked.points, observed_at.as_deref())
    })
    .await
}

/// Records points by their readings, as they are tried.
#[utoipa::path(post, path = "/api/sites/{id}/points", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = [PointCard]), (status = 409, body = ErrorView), (status = 422, body = ErrorView)))]
pub(crate) async fn record(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let (asked, wanted) = sent.read::<Points>()?;
    answer(&app, move |register| {
        let receipt = wanted.record_points(register, id, &asked.points)?;
        receipt.shown(|| {
            let labels = asked.points.iter().map(|point| &point.point);
            labels
                .map(|label| register.point_card(id, label))
                .collect::<Result<Vec<_>, _>>()
        })
    })
    .await
}
