//! Acts by hand: runs laid, surfaces, searched areas, withdrawals, notes.

use super::App;
use super::ask::{Asked, answer, author, site_id};
use super::error::{ApiError, ErrorView};
use crate::acts::{ActError, Author, MeasuredPoint, NewEntry, Receipt, Register, SearchAsk, SurfaceAsk};
use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use axum::routing::post;
use register::body::{Act, RunLaid};
use register::service::Service;
use register::view::{RunCard, SiteView};
use register::words::{SearchOutcome, SurfaceKind};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use survey::Decimal;
use utoipa::ToSchema;
use uuid::Uuid;

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/sites/{id}/runs", post(lay))
        .route("/api/sites/{id}/surfaces", post(surface))
        .route("/api/sites/{id}/searched", post(searched))
        .route("/api/sites/{id}/withdraw", post(withdraw))
        .route("/api/sites/{id}/notes", post(note))
}

/// Reads the rest of a body's fields.
///
/// # Errors
/// A field that is missing, unknown or of another type.
pub(crate) fn read_fields<T: DeserializeOwned>(fields: Map<String, Value>) -> Result<T, ApiError> {
    serde_json::from_value(Value::Object(fields)).map_err(|error| {
        ApiError::request(
            StatusCode::BAD_REQUEST,
            "body",
            format!("the body does not read: {error}"),
        )
    })
}

/// What is to be recorded as it is sent: the fields of an act, and who, when, and by which id.
#[derive(Debug, Deserialize)]
pub(crate) struct Sent {
    #[serde(flatten)]
    pub(crate) fields: Map<String, Value>,
    by: Option<String>,
    /// Made by the author's device: sending the same twice then changes nothing.
    id: Option<Uuid>,
    pub(crate) observed_at: Option<String>,
}

impl Sent {
    /// Returns its fields, all of them, as the act they are of, and what makes an entry of it.
    ///
    /// # Errors
    /// As [`read_whole`].
    pub(crate) fn read<T: DeserializeOwned + Serialize>(self) -> Result<(T, Wanted), ApiError> {
        let wanted = Wanted {
            by: author(self.by),
            id: self.id,
            observed_at: self.observed_at,
        };
        Ok((read_whole(self.fields)?, wanted))
    }
}

/// Who records, when, and by which id.
pub(crate) struct Wanted {
    by: Author,
    id: Option<Uuid>,
    observed_at: Option<String>,
}

impl Wanted {
    /// Records one act.
    pub(crate) fn record(self, register: &Register, site: Uuid, act: Act) -> Result<Receipt, ActError> {
        let (by, entry) = self.entry(act);
        register.append(site, &by, vec![entry])
    }

    /// Returns who records an act, and its entry.
    pub(crate) fn entry(self, act: Act) -> (Author, NewEntry) {
        let entry = NewEntry {
            act,
            id: self.id,
            observed_at: self.observed_at,
        };
        (self.by, entry)
    }

    /// Records points by their readings.
    pub(crate) fn record_points(
        self,
        register: &Register,
        site: Uuid,
        points: &[MeasuredPoint],
    ) -> Result<Receipt, ActError> {
        register.record_points(site, points, &self.by, self.id, self.observed_at)
    }
}

/// Lays a run through recorded points.
#[utoipa::path(post, path = "/api/sites/{id}/runs", params(("id" = String, Path)), request_body = Object,
    responses((status = 200, body = RunCard), (status = 422, body = ErrorView)))]
pub(crate) async fn lay(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(sent): Asked<Sent>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let (laid, wanted) = sent.read::<RunLaid>()?;
    answer(&app, move |register| {
        let run = laid.run.clone();
        let receipt = wanted.record(register, id, Act::RunLaid(laid))?;
        receipt.shown(|| register.run_card(id, &run, None))
    })
    .await
}

/// Reads a body's fields, all of them.
///
/// # Errors
/// As [`read_fields`]; and a field, however deep, that is not known.
pub(crate) fn read_whole<T: DeserializeOwned + Serialize>(fields: Map<String, Value>) -> Result<T, ApiError> {
    let given = Value::Object(fields.clone());
    let read: T = read_fields(fields)?;
    let kept = serde_json::to_value(&read).unwrap_or(Value::Null);
    match dropped(&given, &kept, "") {
        None => Ok(read),
        Some(dropped) => {
            let message =
                format!("the body does not read: field {dropped} is not known here; check its name");
            Err(ApiError::request(StatusCode::BAD_REQUEST, "body", message))
        }
    }
}

/// Returns the first field that was given and not kept: dropping one in silence could change what a run is.
fn dropped(given: &Value, kept: &Value, at: &str) -> Option<String> {
    match given {
        Value::Object(fields) => fields.iter().find_map(|(name, value)| {
            let at = if at.is_empty() {
                name.clone()
            } else {
                format!("{at}.{name}")
            };
            match kept.get(name) {
                Some(kept) => dropped(value, kept, &at),
                None if value.is_null() => None,
                None => Some(at),
            }
        }),
        Value::Array(items) => items
            .iter()
            .enumerate()
            .find_map(|(i, item)| dropped(item, kept.get(i).unwrap_or(&Value::Null), &format!("{at}[{i}]"))),
        _ => None,
    }
}

/// A surface of one level, or the plane through three or more points.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SurfaceBody {
    /// Its name.
    name: String,
    /// What it is.
    surface_kind: SurfaceKind,
    /// When it was observed.
    observed_at: Option<String>,
    /// One level everywhere.
    #[schema(value_type = Option<String>)]
    level_m: Option<Decimal>,
    /// Points of a plane: easting, northing, level.
    #[serde(default)]
    #[schema(value_type = Vec<Vec<String>>)]
    points: Vec<[Decimal; 3]>,
    /// Standard deviation of its level.
    #[schema(value_type = Option<String>)]
    sigma_v_mm: Option<Decimal>,
    /// Who recorded it.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Records a surface by hand.
#[utoipa::path(post, path = "/api/sites/{id}/surfaces", params(("id" = String, Path)), request_body = SurfaceBody,
    responses((status = 200, body = SiteView), (status = 422, body = ErrorView)))]
pub(crate) async fn surface(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(body): Asked<SurfaceBody>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        let ask = SurfaceAsk {
            name: body.name,
            kind: body.surface_kind,
            id: body.id,
            observed_at: body.observed_at,
            level_m: body.level_m,
            points: body.points,
            within: None,
            sigma_v_mm: body.sigma_v_mm,
        };
        let receipt = register.record_surface(id, ask, &author(body.by))?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}

/// Where somebody looked.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SearchBody {
    /// Its name.
    area: String,
    /// The ring: easting, northing.
    #[schema(value_type = Vec<Vec<String>>)]
    ring: Vec<[Decimal; 2]>,
    /// Services looked for; null for all.
    services: Option<Vec<Service>>,
    /// How it was searched.
    method: String,
    /// How deep below the surface.
    #[schema(value_type = Option<String>)]
    depth_m: Option<Decimal>,
    /// That surface.
    surface: Option<String>,
    /// Or down to which level.
    #[schema(value_type = Option<String>)]
    level_m: Option<Decimal>,
    /// How it ended.
    outcome: SearchOutcome,
    /// Standard deviation of the ring.
    #[schema(value_type = Option<String>)]
    sigma_h_mm: Option<Decimal>,
    /// When.
    observed_at: Option<String>,
    /// Who searched.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Records a searched area by hand.
#[utoipa::path(post, path = "/api/sites/{id}/searched", params(("id" = String, Path)), request_body = SearchBody,
    responses((status = 200, body = SiteView), (status = 422, body = ErrorView)))]
pub(crate) async fn searched(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(body): Asked<SearchBody>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        let ask = SearchAsk {
            area: body.area,
            ring: body.ring,
            services: body.services,
            method: body.method,
            depth_m: body.depth_m,
            surface: body.surface,
            level_m: body.level_m,
            outcome: body.outcome,
            sigma_h_mm: body.sigma_h_mm,
            id: body.id,
            observed_at: body.observed_at,
        };
        let receipt = register.record_search(id, ask, &author(body.by))?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}

/// An entry to be taken back.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Withdrawal {
    /// Its number or id.
    #[schema(value_type = String)]
    entry: Value,
    /// Why.
    reason: String,
    /// Who takes it back.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Takes an entry back; it stays readable.
#[utoipa::path(post, path = "/api/sites/{id}/withdraw", params(("id" = String, Path)), request_body = Withdrawal,
    responses((status = 200, body = SiteView), (status = 404, body = ErrorView), (status = 422, body = ErrorView)))]
pub(crate) async fn withdraw(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(body): Asked<Withdrawal>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        let entry = body
            .entry
            .as_str()
            .map_or_else(|| body.entry.to_string(), str::to_owned);
        let receipt = register.withdraw(id, &entry, &body.reason, &author(body.by), body.id)?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}

/// A remark.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Remark {
    /// The remark.
    text: String,
    /// What it is about.
    about: Option<String>,
    /// Who writes it.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Writes a remark in the book.
#[utoipa::path(post, path = "/api/sites/{id}/notes", params(("id" = String, Path)), request_body = Remark,
    responses((status = 200, body = SiteView), (status = 422, body = ErrorView)))]
pub(crate) async fn note(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(body): Asked<Remark>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    answer(&app, move |register| {
        let receipt = register.note(id, &body.text, body.about.as_deref(), &author(body.by), body.id)?;
        receipt.shown(|| register.site_view(id))
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_field_nobody_knows_is_named_with_its_path() {
        let given = json!({"run": "E1", "section": {"outsidemm": "50"}, "note": null});
        let kept = json!({"run": "E1", "section": {}});
        assert_eq!(dropped(&given, &kept, ""), Some("section.outsidemm".into()));
        assert_eq!(dropped(&kept, &kept, ""), None);
    }
}
