//! Asking the acts: bodies in, blocking work off the async threads, JSON out.

use super::App;
use super::error::ApiError;
use crate::acts::{ActError, Author, Register};
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{FromRequest, Request};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde::de::DeserializeOwned;
use uuid::Uuid;

/// Runs blocking work and returns what comes of it.
pub(crate) async fn blocking<T: Send + 'static>(
    app: &App,
    work: impl FnOnce(&Register) -> Result<T, ActError> + Send + 'static,
) -> Result<T, ApiError> {
    let register = app.register.clone();
    match tokio::task::spawn_blocking(move || work(&register)).await {
        Ok(done) => done.map_err(ApiError::from),
        Err(error) => Err(ActError::Fault(format!("a worker ended early: {error}")).into()),
    }
}

/// Runs blocking work and answers with its result as JSON, written off the async threads too.
pub(crate) async fn answer<T: Serialize + 'static>(
    app: &App,
    work: impl FnOnce(&Register) -> Result<T, ActError> + Send + 'static,
) -> Result<Response, ApiError> {
    let json = blocking(app, move |register| {
        serde_json::to_vec(&work(register)?).map_err(|e| ActError::Fault(e.to_string()))
    })
    .await?;
    Ok(json_response(json))
}

/// Returns bytes of JSON as a response.
pub(crate) fn json_response(json: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], json).into_response()
}

/// Returns the site that a path names.
///
/// # Errors
/// A path that is no id.
pub(crate) fn site_id(given: &str) -> Result<Uuid, ApiError> {
    given.parse().map_err(|_error| {
        ApiError::request(
            StatusCode::NOT_FOUND,
            "no-such-site",
            format!("{given:?} is no site's id; ask /api/sites"),
        )
    })
}

/// Returns who acts, from a request's `by`.
pub(crate) fn author(by: Option<String>) -> Author {
    Author {
        by: by.unwrap_or_default(),
        device: "page".into(),
    }
}

/// A JSON body; what is wrong with it is told in our own shape.
pub(crate) struct Asked<T>(pub(crate) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Asked<T> {
    type Rejection = ApiError;

    async fn from_request(request: Request, state: &S) -> Result<Asked<T>, ApiError> {
        let media = request
            .headers()
            .get(header::CONTENT_TYPE)
            .and_then(|v| v.to_str().ok())
            .unwrap_or_default();
        if !media.trim().to_ascii_lowercase().starts_with("application/json") {
            let message = "the body must be JSON; send content-type: application/json";
            return Err(ApiError::request(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "not-json",
                message,
            ));
        }
        let bytes = Bytes::from_request(request, state).await.map_err(too_large)?;
        let read = serde_json::from_slice(&bytes);
        read.map(Asked).map_err(|error| {
            ApiError::request(
                StatusCode::BAD_REQUEST,
                "body",
                format!("the body does not read: {error}"),
            )
        })
    }
}

/// Tells why a body could not be had.
pub(crate) fn too_large(rejection: BytesRejection) -> ApiError {
    if rejection.status() == StatusCode::PAYLOAD_TOO_LARGE {
        let message = "the body is larger than is taken here; split it, or import it as a file";
        return ApiError::request(StatusCode::PAYLOAD_TOO_LARGE, "too-large", message);
    }
    ApiError::request(rejection.status(), "body", rejection.body_text())
}
