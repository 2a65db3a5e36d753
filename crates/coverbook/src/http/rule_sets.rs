//! Rule sets: those that ship, and the adoption of one.

use super::App;
use super::ask::{Asked, answer, author, site_id};
use super::error::{ApiError, ErrorView};
use crate::acts::{ActError, RuleSetView, shipped_text, shipped_views};
use axum::Router;
use axum::extract::{Path, State};
use axum::response::Response;
use axum::routing::{get, post};
use register::view::SiteView;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/rules", get(list))
        .route("/api/sites/{id}/rules", post(adopt))
}

/// Returns the rule sets that ship, switched off.
#[utoipa::path(get, path = "/api/rules", responses((status = 200, body = [RuleSetView])))]
pub(crate) async fn list(State(app): State<App>) -> Result<Response, ApiError> {
    answer(&app, |_| shipped_views()).await
}

/// A rule set to adopt: one that ships, by id, or a text.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Adoption {
    /// Id of one that ships.
    id: Option<String>,
    /// Or its whole text, TOML.
    text: Option<String>,
    /// Ids of figures not seen at their source that the person vouches for.
    #[serde(default)]
    confirmed: Vec<String>,
    /// Ids of figures that do not apply on this site.
    #[serde(default)]
    left_out: Vec<String>,
    /// Who adopts it.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    entry_id: Option<Uuid>,
}

/// Adopts a rule set.
#[utoipa::path(post, path = "/api/sites/{id}/rules", params(("id" = String, Path)), request_body = Adoption,
    responses((status = 200, body = SiteView), (status = 422, body = ErrorView)))]
pub(crate) async fn adopt(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(body): Asked<Adoption>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        let text = match (body.id, body.text) {
            (Some(id), None) => shipped_text(&id)?.to_owned(),
            (None, Some(text)) => text,
            _ => {
                return Err(ActError::asked(
                    "rules",
                    "give either the id of a set that ships, or a text",
                ));
            }
        };
        let by = author(body.by);
        let receipt = register.adopt_rules(id, &text, body.confirmed, body.left_out, &by, body.entry_id)?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}
