//! What leaves the program as a file: exports and sheets.

use super::App;
use super::ask::{Asked, blocking, site_id};
use super::error::{ApiError, ErrorView};
use super::records::read_fields;
use crate::acts::{Author, ExportKind, SheetAsk, paper_named};
use axum::Router;
use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use serde_json::{Map, Value};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

pub(crate) fn router() -> Router<App> {
    Router::new()
        .route("/api/sites/{id}/export", get(export))
        .route("/api/sites/{id}/sheet", post(sheet))
}

/// What to export to.
#[derive(Debug, Deserialize, IntoParams)]
pub(crate) struct To {
    /// `geojson` or `csv`.
    to: String,
}

/// Writes a site out.
#[utoipa::path(get, path = "/api/sites/{id}/export", params(("id" = String, Path), To),
    responses((status = 200, content_type = "application/geo+json", body = Vec<u8>), (status = 422, body = ErrorView)))]
pub(crate) async fn export(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(to): Query<To>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let kind = ExportKind::named(&to.to)?;
    let (name, bytes) = blocking(&app, move |register| {
        let bytes = register.export(id, kind, &mut |_, _| {})?;
        Ok((register.site_view(id)?.name, bytes))
    })
    .await?;
    let file = format!("attachment; filename=\"{}.{}\"", file_name(&name), kind.ending());
    Ok((
        [
            (header::CONTENT_TYPE, kind.media_type().to_owned()),
            (header::CONTENT_DISPOSITION, file),
        ],
        bytes,
    )
        .into_response())
}

/// Keeps the letters and digits of a name, so that it is safe in a header and on any disk.
fn file_name(name: &str) -> String {
    let kept: String = name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    match kept.trim_matches('-') {
        "" => "site".into(),
        kept => kept.to_owned(),
    }
}

/// A sheet to lay out.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SheetBody {
    /// `dig`.
    kind: String,
    /// A4, A3 or Letter.
    paper: String,
    /// The dig.
    #[schema(value_type = Object)]
    question: Map<String, Value>,
    /// When to ask again, as printed.
    recheck_by: Option<String>,
    /// Emergency services, as dialled on this site.
    emergency: Option<String>,
    /// Who issues it: the sheet is then entered in the book and kept.
    by: Option<String>,
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    id: Option<Uuid>,
}

/// Lays out a sheet as PDF.
#[utoipa::path(post, path = "/api/sites/{id}/sheet", params(("id" = String, Path)), request_body = SheetBody,
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = 422, body = ErrorView)))]
pub(crate) async fn sheet(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(body): Asked<SheetBody>,
) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    if body.kind != "dig" {
        let message = format!("sheet {:?} cannot be laid out; choose dig", body.kind);
        return Err(ApiError::request(
            StatusCode::UNPROCESSABLE_ENTITY,
            "sheet",
            message,
        ));
    }
    let paper = paper_named(&body.paper)?;
    let mut question = body.question;
    for of_the_answer in ["keep", "by", "id"] {
        question.remove(of_the_answer);
    }
    let ask = SheetAsk {
        paper,
        question: read_fields(question)?,
        recheck_by: body.recheck_by,
        emergency: body.emergency,
    };
    let by = body.by.map(|by| Author {
        by,
        device: "page".into(),
    });
    let made = blocking(&app, move |register| {
        register.dig_sheet(id, &ask, by.as_ref(), body.id)
    })
    .await?;
    let headers = [
        (header::CONTENT_TYPE, "application/pdf"),
        (header::CONTENT_DISPOSITION, "inline; filename=\"dig-plan.pdf\""),
    ];
    Ok((headers, made.pdf).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_name_keeps_no_quote_and_no_slash() {
        assert_eq!(file_name("Gull Quay \"x\"/../y\r\n"), "Gull-Quay--x-----y");
        assert_eq!(file_name("ß"), "site");
    }
}
