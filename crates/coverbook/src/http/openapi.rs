//! The contract as an OpenAPI document, made from the routes and the register's views.

use super::App;
use super::ask::json_response;
use super::error::{ApiError, ErrorView};
use super::{
    book, digs, events, exports, holds, imports, lists, points, records, rule_sets, sites, stations,
};
use crate::acts::ActError;
use axum::Router;
use axum::response::Response;
use axum::routing::get;
use utoipa::OpenApi;

pub(crate) fn router() -> Router<App> {
    Router::new().route("/api/openapi.json", get(openapi))
}

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Coverbook",
        description = "Records buried and cast-in services before they are covered, and answers planned digs. Lengths and levels are in metres; positions are easting, northing, level in the site's grid. A null figure comes with its reason in the `why` beside it."
    ),
    paths(
        sites::list,
        sites::open,
        sites::show,
        sites::map,
        sites::run,
        sites::cover,
        sites::separation,
        book::journal,
        book::verify,
        digs::dig,
        holds::hold,
        holds::releases,
        holds::release,
        holds::certificate,
        holds::attach,
        holds::file,
        imports::import,
        points::show,
        points::attempt,
        points::record,
        records::lay,
        records::surface,
        records::searched,
        records::withdraw,
        records::note,
        stations::list,
        stations::levels,
        stations::attempt,
        stations::attempt_anew,
        stations::record,
        stations::tie,
        rule_sets::list,
        rule_sets::adopt,
        exports::export,
        exports::sheet,
        events::events,
        lists::services,
    ),
    components(schemas(ErrorView))
)]
struct Document;

/// Returns the document.
pub fn document() -> utoipa::openapi::OpenApi {
    Document::openapi()
}

async fn openapi() -> Result<Response, ApiError> {
    let json = document()
        .to_pretty_json()
        .map_err(|e| ActError::Fault(e.to_string()))?;
    Ok(json_response(json.into_bytes()))
}
