//! Limits: how much is taken on at once, and how long an answer may take.

use super::App;
use super::error::ApiError;
use axum::extract::{Request, State};
use axum::http::{Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// A file that is larger than this takes one of the few places for large imports, bytes.
pub const LARGE_IMPORT_BYTES: u64 = 1 << 20;

/// How much is taken on at once.
#[derive(Debug, Clone)]
pub struct Limits {
    /// Places for large imports: each holds its whole file in memory, and more besides.
    pub imports: Arc<Semaphore>,
    /// How long a large import waits for a place.
    pub import_wait: Duration,
    /// Places for pages that listen for events.
    pub listeners: Arc<Semaphore>,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            imports: Arc::new(Semaphore::new(2)),
            import_wait: Duration::from_secs(60),
            listeners: Arc::new(Semaphore::new(256)),
        }
    }
}

/// A place among the large imports, held until the last copy of it is gone.
#[derive(Debug, Clone)]
pub(crate) struct Place {
    _held: Arc<OwnedSemaphorePermit>,
}

/// Waits for a place before a large file is read into memory.
pub(crate) async fn place(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let length = request.headers().get(header::CONTENT_LENGTH);
    let length = length.and_then(|v| v.to_str().ok()?.parse::<u64>().ok());
    // One that does not say how large it is may be large.
    if length.is_none_or(|bytes| bytes > LARGE_IMPORT_BYTES) {
        let waiting = Arc::clone(&app.limits.imports).acquire_owned();
        match tokio::time::timeout(app.limits.import_wait, waiting).await {
            Ok(Ok(held)) => {
                let held = Arc::new(held);
                request.extensions_mut().insert(Place { _held: held });
            }
            _ => {
                let message = "other large files are being imported, and nothing of this one was recorded; send it again when they are done";
                return ApiError::request(StatusCode::TOO_MANY_REQUESTS, "busy", message).into_response();
            }
        }
    }
    next.run(request).await
}

/// Answers that it took too long, and does not say of what may have been recorded that it was not.
///
/// Work that has begun goes on to its end, whoever still waits for it.
pub(crate) async fn in_time(longest: Duration, request: Request, next: Next) -> Response {
    let only_asks = matches!(*request.method(), Method::GET | Method::HEAD);
    match tokio::time::timeout(longest, next.run(request)).await {
        Ok(response) => response,
        Err(_elapsed) => {
            let seconds = longest.as_secs();
            let message = if only_asks {
                format!("no answer within {seconds} s; nothing was changed, and it can be asked again")
            } else {
                format!(
                    "no answer within {seconds} s: it may have been recorded all the same; look in the book before it is sent again, or send it again under the same id"
                )
            };
            ApiError::request(StatusCode::REQUEST_TIMEOUT, "no-answer-in-time", message).into_response()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::body::{Body, to_bytes};
    use axum::{Router, middleware, routing};
    use tower::ServiceExt;

    #[tokio::test]
    async fn what_takes_too_long_is_never_said_not_to_be_recorded() {
        let slow = || async { tokio::time::sleep(Duration::from_secs(3600)).await };
        let longest = Duration::from_millis(20);
        let router = Router::new()
            .route("/", routing::get(slow).post(slow))
            .layer(middleware::from_fn(move |request, next| {
                in_time(longest, request, next)
            }));
        for (method, wanted) in [
            (Method::POST, "it may have been recorded"),
            (Method::GET, "nothing was changed"),
        ] {
            let request = Request::builder().method(&method).body(Body::empty()).unwrap();
            let response = router.clone().oneshot(request).await.unwrap();
            assert_eq!(response.status(), StatusCode::REQUEST_TIMEOUT);
            let bytes = to_bytes(response.into_body(), 4096).await.unwrap();
            let view: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
            assert_eq!(view["code"], "no-answer-in-time");
            let message = view["message"].as_str().unwrap();
            assert!(message.contains(wanted), "{method}: {message}");
        }
    }
}
