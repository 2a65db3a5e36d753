//! The page, embedded in the program.

use super::error::ApiError;
use axum::http::{HeaderMap, Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "$OUT_DIR/web"]
struct Files;

/// Serves the page's files; anything else is not there.
pub(crate) async fn page(method: Method, uri: Uri, headers: HeaderMap) -> Response {
    let path = uri.path().trim_start_matches('/');
    if path.starts_with("api/") {
        let message = format!(
            "{method} {} is nothing this server knows; see /api/openapi.json",
            uri.path()
        );
        return ApiError::request(StatusCode::NOT_FOUND, "no-such-route", message).into_response();
    }
    if !matches!(method, Method::GET | Method::HEAD) {
        let message = "the page is only read";
        return ApiError::request(StatusCode::METHOD_NOT_ALLOWED, "method", message).into_response();
    }
    let name = if path.is_empty() { "index.html" } else { path };
    let Some(file) = Files::get(name) else {
        let message = format!("there is no {name:?} here; the page is at /");
        return ApiError::request(StatusCode::NOT_FOUND, "no-such-file", message).into_response();
    };
    let etag: String = file.metadata.sha256_hash()[..16]
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let etag = format!("\"{etag}\"");
    // A file whose name holds its hash never changes; the others are asked for again.
    let cache = if has_hash(name) {
        "public, max-age=31536000, immutable"
    } else {
        "no-cache"
    };
    let same = headers
        .get(header::IF_NONE_MATCH)
        .and_then(|v| v.to_str().ok())
        .is_some_and(|tags| {
            tags.split(',')
                .any(|tag| tag.trim().trim_start_matches("W/") == etag)
        });
    let common = [(header::ETAG, etag), (header::CACHE_CONTROL, cache.to_owned())];
    if same {
        return (StatusCode::NOT_MODIFIED, common).into_response();
    }
    let media = match file.metadata.mimetype() {
        text if text.starts_with("text/") => format!("{text}; charset=utf-8"),
        other => other.to_owned(),
    };
    (common, [(header::CONTENT_TYPE, media)], file.data).into_response()
}

/// True for `name-HASH.ending`, as the page's build names its files.
fn has_hash(name: &str) -> bool {
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    stem.rsplit_once('-').is_some_and(|(_, hash)| {
        hash.len() == 8
            && hash
                .chars()
                .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || ('a'..='f').contains(&c))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_with_a_hash_are_kept_for_good() {
        assert!(has_hash("page-QV2ZD7XA.js") && has_hash("icon-0a1b2c3d.svg"));
        assert!(!has_hash("index.html") && !has_hash("OFL.txt") && !has_hash("some-licences.txt"));
    }
}
