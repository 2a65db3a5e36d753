//! Lists that never change: services.

use super::App;
use super::ask::answer;
use super::error::ApiError;
use axum::Router;
use axum::extract::State;
use axum::response::Response;
use axum::routing::get;
use register::service::Service;
use serde::Serialize;
use utoipa::ToSchema;

pub(crate) fn router() -> Router<App> {
    Router::new().route("/api/services", get(services))
}

/// How one service is written and drawn.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ServiceView {
    /// As written in files and JSON.
    pub slug: &'static str,
    /// Letters along the line.
    pub letters: &'static str,
    /// Its name.
    pub name: &'static str,
    /// Dash pattern on paper, millimetres; empty is solid.
    pub dash_mm: Vec<f64>,
    /// Colour, the third signal.
    pub colour: &'static str,
    /// True when it flows by gravity.
    pub gravity: bool,
}

/// Returns every service, in legend order.
#[utoipa::path(get, path = "/api/services", responses((status = 200, body = [ServiceView])))]
pub(crate) async fn services(State(app): State<App>) -> Result<Response, ApiError> {
    answer(&app, |_| {
        let view = |service: &Service| {
            let style = service.style();
            ServiceView {
                slug: style.slug,
                letters: style.letters,
                name: style.name,
                dash_mm: style.dash_mm.to_vec(),
                colour: style.colour,
                gravity: style.gravity,
            }
        };
        Ok(Service::ALL.iter().map(view).collect::<Vec<_>>())
    })
    .await
}
