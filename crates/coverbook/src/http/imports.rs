//! Imports: the file is the body, what is said about it the query.

use super::App;
use super::ask::{answer, author, site_id, too_large};
use super::error::{ApiError, ErrorView};
use super::limits;
use crate::acts::{ActError, ImportAsk, ImportKind, MeasuredAsk, Place, unit_of};
use axum::Router;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{Extension, Path, Query, State};
use axum::response::Response;
use axum::routing::post;
use register::service::Service;
use register::view::{ImportPreview, Severity};
use register::words::{Known, SurfaceKind, Touched};
use std::collections::BTreeMap;
use survey::Decimal;

pub(crate) fn router() -> Router<App> {
    Router::new().route("/api/sites/{id}/import", post(import))
}

/// Reads a file, and records it unless `dry_run` is 1.
///
/// `as` is `points`, `control`, `surface`, `runs`, `searched`, `expected`, `observations`, `levels`, `ties`, `offsets`,
/// `satellite` or `detected`. Query: `as`, `file`, `dry_run`, `order`, `touched`, `known`, `service`, `run`, `prefix`, `unit`, `sigma_h_mm`,
/// `sigma_v_mm`, `name`, `surface_kind`, `observed_at`, `import_id`, `by`. For observations: `station`, `angles`,
/// `distance_mm`, `distance_ppm`, `direction_sec`, `zenith_sec`, `tolerance_mm`, `unchecked_reason`; the air: `temperature_c`, `pressure_hpa`,
/// `humidity_pct`, `wavelength_um`, `reference_ppm`, `entered_ppm`, or `air_in_instrument`. For level books:
/// `book`, `allowable_k_mm`, `by_setups`, `spread`, `setup_sigma_mm`.
#[utoipa::path(post, path = "/api/sites/{id}/import",
    params(("id" = String, Path), ("as" = String, Query), ("file" = String, Query), ("dry_run" = Option<u8>, Query),
        ("by" = Option<String>, Query)),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = ImportPreview), (status = 422, body = ErrorView)))]
pub(crate) async fn import(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(said): Query<BTreeMap<String, String>>,
    place: Option<Extension<limits::Place>>,
    bytes: Result<Bytes, BytesRejection>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let bytes = bytes.map_err(too_large)?;
    let Said { ask, dry_run, by } = said_about(said)?;
    answer(&app, move |register| {
        // Held until the work is done, even when nobody waits for it any more.
        let _place = place;
        if dry_run {
            return register.preview_import(id, &bytes, &ask, &mut |_| {});
        }
        let preview = register.import(id, &bytes, &ask, &author(by), &mut |_| {})?;
        if preview.accepted {
            return Ok(preview);
        }
        let first = preview
            .findings
            .into_iter()
            .find(|f| f.severity == Severity::Refusal);
        let says = first
            .as_ref()
            .map_or(preview.says, |finding| finding.says.clone());
        Err(ActError::Asked {
            code: "import-refused",
            says,
            place: first.map(|f| Place {
                file: Some(f.file),
                row: f.row,
                column: f.column,
            }),
        })
    })
    .await
}

struct Said {
    ask: ImportAsk,
    dry_run: bool,
    by: Option<String>,
}

fn said_about(mut said: BTreeMap<String, String>) -> Result<Said, ActError> {
    said.retain(|_, value| !value.trim().is_empty());
    let mut take = |name: &str| said.remove(name);
    let kind = take("as").ok_or_else(|| {
        ActError::asked(
            "as",
            "nothing says what the file is; give as=points or another kind",
        )
    })?;
    let mut ask = ImportAsk::new(
        ImportKind::named(&kind)?,
        take("file").unwrap_or_else(|| "the file".into()),
    );
    ask.order = take("order").map(|order| order.split(',').map(|column| column.trim().to_owned()).collect());
    ask.unit = word(take("unit"), "unit", unit_of)?;
    ask.stated.touched = word(take("touched"), "touched", Touched::from_slug)?;
    ask.stated.known = word(take("known"), "known", Known::from_slug)?;
    ask.stated.service = word(take("service"), "service", Service::from_slug)?;
    ask.stated.run = take("run");
    ask.stated.sigma_h_mm = word(take("sigma_h_mm"), "sigma_h_mm", |text| {
        text.parse::<Decimal>().ok()
    })?;
    ask.stated.sigma_v_mm = word(take("sigma_v_mm"), "sigma_v_mm", |text| {
        text.parse::<Decimal>().ok()
    })?;
    ask.prefix = take("prefix");
    ask.observed_at = take("observed_at");
    ask.surface_name = take("name");
    ask.surface_kind = word(take("surface_kind"), "surface_kind", SurfaceKind::from_slug)?;
    ask.import_id = word(take("import_id"), "import_id", |text| text.parse().ok())?;
    ask.measured = MeasuredAsk::read(&mut said)?;
    let mut take = |name: &str| said.remove(name);
    let dry_run = match take("dry_run").as_deref() {
        None | Some("0") => false,
        Some("1") => true,
        Some(other) => {
            return Err(ActError::asked(
                "dry_run",
                format!("dry_run is {other:?}; give 1 or 0"),
            ));
        }
    };
    let by = take("by");
    match said.keys().next() {
        None => Ok(Said { ask, dry_run, by }),
        Some(name) => Err(ActError::asked(
            "query",
            format!("{name:?} is nothing that can be said about a file; check its name"),
        )),
    }
}

fn word<T>(
    text: Option<String>,
    what: &str,
    read: impl Fn(&str) -> Option<T>,
) -> Result<Option<T>, ActError> {
    match text {
        None => Ok(None),
        Some(text) => match read(text.trim()) {
            Some(word) => Ok(Some(word)),
            None => Err(ActError::asked(
                "unknown-word",
                format!("{what} cannot be {text:?}; see the documents for its words"),
            )),
        },
    }
}
