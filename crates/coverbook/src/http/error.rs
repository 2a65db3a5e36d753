//! Errors as the page sees them: a status, and `{code, message, where}`.

use crate::acts::{ActError, Place, Weight};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// Why a request was refused or failed. Nothing was changed, unless the message says otherwise.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ErrorView {
    /// Short code for programs.
    pub code: String,
    /// What is wrong and how to mend it.
    pub message: String,
    /// Where in a file; null when it came from none.
    #[serde(rename = "where")]
    pub place: Option<Place>,
}

/// An error on its way out.
#[derive(Debug)]
pub enum ApiError {
    /// An act refused or failed.
    Act(ActError),
    /// The request itself cannot be taken.
    Request {
        /// Status.
        status: StatusCode,
        /// Code.
        code: &'static str,
        /// What is wrong and how to mend it.
        message: String,
    },
}

impl ApiError {
    /// Makes a refusal of a request.
    pub fn request(status: StatusCode, code: &'static str, message: impl Into<String>) -> ApiError {
        ApiError::Request {
            status,
            code,
            message: message.into(),
        }
    }
}

impl From<ActError> for ApiError {
    fn from(error: ActError) -> ApiError {
        ApiError::Act(error)
    }
}

/// Returns what is shown of an error; the causes of our own faults stand in the log alone.
fn shown(error: &ActError) -> String {
    match error {
        ActError::Fault(_) => {
            "the server failed on its side; what it was doing stands in its log. Look in the book before anything is sent again".to_owned()
        }
        ActError::Recorded { entries, why } if matches!(**why, ActError::Fault(_)) => {
            let why = ActError::Fault("the server failed on its side".into()).into();
            ActError::Recorded { entries: entries.clone(), why }.to_string()
        }
        told => told.to_string(),
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let (status, view) = match self {
            ApiError::Request {
                status,
                code,
                message,
            } => (
                status,
                ErrorView {
                    code: code.to_owned(),
                    message,
                    place: None,
                },
            ),
            ApiError::Act(error) => {
                let status = match error.weight() {
                    Weight::Refused => StatusCode::UNPROCESSABLE_ENTITY,
                    Weight::NotThere => StatusCode::NOT_FOUND,
                    Weight::Conflict => StatusCode::CONFLICT,
                    Weight::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
                    Weight::Unavailable => StatusCode::SERVICE_UNAVAILABLE,
                    Weight::Fault => StatusCode::INTERNAL_SERVER_ERROR,
                };
                let message = shown(&error);
                if status.is_server_error() {
                    tracing::error!(%error, "a request failed");
                }
                (
                    status,
                    ErrorView {
                        code: error.code().to_owned(),
                        message,
                        place: error.place(),
                    },
                )
            }
        };
        (status, axum::Json(view)).into_response()
    }
}
