//! A register with the demonstration in it, and its routes without a socket.

#![allow(dead_code, reason = "each test file uses its part")]

use axum::body::{Body, Bytes, to_bytes};
use axum::http::{HeaderMap, Request, StatusCode};
use coverbook::acts::{Register, system_clock};
use coverbook::http::{App, Hosts, Limits, app};
use serde_json::{Value, json};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use store::{Access, SqliteStore};
use tempfile::TempDir;
use tower::ServiceExt;

pub const HOST: &str = "127.0.0.1:8017";
pub const PERSON: &str = "Tess Ting";

pub struct Demo {
    pub folder: TempDir,
    pub register: Arc<Register>,
    pub site: String,
    pub limits: Limits,
    pub router: axum::Router,
}

pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub bytes: Bytes,
}

impl Answer {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes)
            .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&self.bytes)))
    }
    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .and_then(|v| v.to_str().ok())
            .unwrap_or_default()
    }
}

/// A trench across the east yard, as in the demonstration's own question.
pub fn trench() -> Value {
    json!({
        "area": [[431044.5, 5093029.0], [431050.0, 5093029.0], [431050.0, 5093033.0], [431044.5, 5093033.0]],
        "depth_m": 0.9,
        "surface": "Finished surface"
    })
}

/// Returns a register file in a new folder.
pub fn register_in(folder: &TempDir) -> PathBuf {
    folder.path().join("r.db")
}

impl Demo {
    pub fn new() -> Demo {
        let folder = tempfile::tempdir().unwrap();
        let store = SqliteStore::open_or_create(&register_in(&folder), Access::Serve).unwrap();
        let register = Arc::new(Register::new(Arc::new(store), system_clock()));
        let site = coverbook::demo::load(&register, &mut |_| {}).unwrap().to_string();
        let hosts = Hosts::of(SocketAddr::from(([127, 0, 0, 1], 8017)), &[]);
        let (_, stopping) = tokio::sync::watch::channel(false);
        let limits = Limits {
            import_wait: std::time::Duration::from_millis(50),
            ..Limits::default()
        };
        let state = App {
            register: Arc::clone(&register),
            hosts: Arc::new(hosts),
            limits: limits.clone(),
            stopping,
        };
        Demo {
            folder,
            register,
            site,
            limits,
            router: app(state),
        }
    }

    async fn respond(&self, request: Request<Body>) -> axum::response::Response {
        self.router.clone().oneshot(request).await.unwrap()
    }

    /// Asks and does not wait for the end of the answer.
    pub async fn open(&self, path: &str) -> axum::response::Response {
        let request = Request::get(self.at(path)).header("host", HOST);
        self.respond(request.body(Body::empty()).unwrap()).await
    }

    pub async fn send(&self, request: Request<Body>) -> Answer {
        let response = self.respond(request).await;
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, usize::MAX).await.unwrap();
        Answer {
            status: parts.status,
            headers: parts.headers,
            bytes,
        }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.send(
            Request::get(self.at(path))
                .header("host", HOST)
                .body(Body::empty())
                .unwrap(),
        )
        .await
    }

    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        let request = Request::post(self.at(path))
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"))
            .header("content-type", "application/json");
        self.send(request.body(Body::from(body.to_string())).unwrap())
            .await
    }

    pub async fn import(&self, query: &str, file: &str) -> Answer {
        let request = Request::post(self.at(&format!("SITE/import?{query}")))
            .header("host", HOST)
            .header("content-length", file.len());
        self.send(request.body(Body::from(file.to_owned())).unwrap())
            .await
    }

    /// Returns the head as the store has it.
    pub fn head(&self) -> String {
        let summary = self.register.sites().unwrap();
        let head = &summary.iter().find(|s| s.id == self.site).unwrap().head;
        format!("{}:{}", head.n, head.hex)
    }

    fn at(&self, path: &str) -> String {
        match path.strip_prefix("SITE") {
            Some(rest) => format!("/api/sites/{}{rest}", self.site),
            None => path.to_owned(),
        }
    }
}
