//! Events: tells a page when the head of its site moves, whoever wrote.

use super::App;
use super::ask::{blocking, site_id};
use super::error::ApiError;
use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use register::view::HeadView;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{broadcast, mpsc, watch};
use tokio_stream::wrappers::ReceiverStream;
use uuid::Uuid;

/// How often the store is looked at, since other programs write without telling.
const LOOK: Duration = Duration::from_secs(2);

pub(crate) fn router() -> Router<App> {
    Router::new().route("/api/sites/{id}/events", get(events))
}

/// Tells the head now, and each head that follows, as events named `head`.
#[utoipa::path(get, path = "/api/sites/{id}/events", params(("id" = String, Path)),
    responses((status = 200, content_type = "text/event-stream", body = String)))]
pub(crate) async fn events(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let id = site_id(&id)?;
    let place = Arc::clone(&app.limits.listeners).try_acquire_owned();
    let place = place.map_err(|_all_taken| {
        let message = "too many pages listen already; ask for the site itself now and then";
        ApiError::request(StatusCode::TOO_MANY_REQUESTS, "busy", message)
    })?;
    let heads = app.register.listen();
    let head = head_of(&app, id).await?;
    let (sender, receiver) = mpsc::channel(16);
    tokio::spawn(async move {
        tell(app, id, head, heads, sender).await;
        drop(place);
    });
    Ok(Sse::new(ReceiverStream::new(receiver))
        .keep_alive(KeepAlive::default())
        .into_response())
}

async fn head_of(app: &App, id: Uuid) -> Result<HeadView, ApiError> {
    blocking(app, move |register| register.stored_head(id)).await
}

async fn tell(
    app: App,
    id: Uuid,
    mut head: HeadView,
    mut heads: broadcast::Receiver<crate::acts::HeadMoved>,
    sender: mpsc::Sender<Result<Event, Infallible>>,
) {
    let mut stopping = app.stopping.clone();
    let mut look = tokio::time::interval(LOOK);
    if send(&sender, &head).await.is_err() {
        return;
    }
    loop {
        let newest = tokio::select! {
            // An open stream must not keep the server from stopping.
            () = stopped(&mut stopping) => return,
            () = sender.closed() => return,
            moved = heads.recv() => match moved {
                Ok(moved) if moved.site == id => Some(moved.head),
                Ok(_) => None,
                // Some were missed: look for oneself.
                Err(broadcast::error::RecvError::Lagged(_)) => head_of(&app, id).await.ok(),
                Err(broadcast::error::RecvError::Closed) => return,
            },
            _ = look.tick() => head_of(&app, id).await.ok(),
        };
        if let Some(newest) = newest
            && newest.n > head.n
        {
            head = newest;
            if send(&sender, &head).await.is_err() {
                return;
            }
        }
    }
}

async fn stopped(stopping: &mut watch::Receiver<bool>) {
    // A sender that is gone stops too.
    let _ = stopping.wait_for(|stopping| *stopping).await;
}

async fn send(
    sender: &mpsc::Sender<Result<Event, Infallible>>,
    head: &HeadView,
) -> Result<(), mpsc::error::SendError<Result<Event, Infallible>>> {
    let json = serde_json::to_string(head).unwrap_or_default();
    sender.send(Ok(Event::default().event("head").data(json))).await
}
