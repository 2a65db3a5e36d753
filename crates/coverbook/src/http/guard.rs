//! Who may ask: only pages of this server itself, by a name that is its own.
//!
//! A page from elsewhere cannot read answers (there is no CORS), and must not be able to write either; a name that
//! was made to point here must not turn another page into one of ours. So every request names a host that is ours,
//! and one that changes something comes from our own origin.

use super::App;
use super::error::ApiError;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::collections::BTreeSet;
use std::net::{IpAddr, SocketAddr};

/// What a browser may load and do: only what comes from here.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// The names, with port, that this server answers to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hosts {
    names: BTreeSet<String>,
}

impl Hosts {
    /// Returns the names of a server that listens at an address, and the extra ones it was given.
    ///
    /// On a loopback address that is the loopback names; elsewhere the address itself and the extra names besides.
    pub fn of(listening: SocketAddr, extra: &[String]) -> Hosts {
        let mut bare: Vec<String> = ["localhost", "127.0.0.1", "[::1]"].map(str::to_owned).to_vec();
        let ip = listening.ip();
        if !ip.is_unspecified() {
            bare.push(match ip {
                IpAddr::V4(ip) => ip.to_string(),
                IpAddr::V6(ip) => format!("[{ip}]"),
            });
        }
        bare.extend(extra.iter().map(|name| name.trim().to_ascii_lowercase()));
        let port = listening.port();
        let mut names = BTreeSet::new();
        for name in bare {
            // A browser leaves out the port of plain HTTP.
            if port == 80 {
                names.insert(name.clone());
            }
            names.insert(format!("{name}:{port}"));
        }
        Hosts { names }
    }

    fn holds(&self, host: &str) -> bool {
        self.names.contains(&host.to_ascii_lowercase())
    }

    fn holds_origin(&self, origin: &str) -> bool {
        origin
            .strip_prefix("http://")
            .is_some_and(|host| self.holds(host))
    }
}

/// Refuses what does not come from here, and sets the headers that every response carries.
pub(crate) async fn guard(State(app): State<App>, request: Request, next: Next) -> Response {
    let is_api = request.uri().path().starts_with("/api/");
    let mut response = match refusal(&app.hosts, &request) {
        Some(error) => error.into_response(),
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if is_api || !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    response
}

fn refusal(hosts: &Hosts, request: &Request) -> Option<ApiError> {
    let forbidden = |code, message: String| Some(ApiError::request(StatusCode::FORBIDDEN, code, message));
    let text = |headers: &HeaderMap, name: &HeaderName| {
        headers
            .get(name)
            .map(|value| value.to_str().unwrap_or("(not text)").to_owned())
    };
    let headers = request.headers();
    if headers.get_all(header::HOST).iter().count() > 1 {
        return forbidden("host", "the request names several hosts".into());
    }
    let host = text(headers, &header::HOST).or_else(|| request.uri().authority().map(|a| a.to_string()));
    match host {
        Some(host) if hosts.holds(&host) => {}
        Some(host) => {
            return forbidden(
                "host",
                format!(
                    "{host:?} is not a name of this server; use the address it printed, or start it with --host"
                ),
            );
        }
        None => return forbidden("host", "the request names no host".into()),
    }
    let site = text(headers, &HeaderName::from_static("sec-fetch-site"));
    let from_elsewhere = site
        .as_deref()
        .is_some_and(|site| site != "same-origin" && site != "none");
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
    if from_elsewhere && (changes || request.uri().path().starts_with("/api/")) {
        return forbidden(
            "origin",
            "the request comes from a page of another site, and only this server's own may ask".into(),
        );
    }
    if changes
        && let Some(origin) = text(headers, &header::ORIGIN)
        && !hosts.holds_origin(&origin)
    {
        return forbidden(
            "origin",
            format!("a page of {origin:?} may not write here; use this server's own page"),
        );
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loopback_server_answers_to_loopback_names_with_its_port_only() {
        let hosts = Hosts::of(SocketAddr::from(([127, 0, 0, 1], 8017)), &[]);
        for name in ["127.0.0.1:8017", "localhost:8017", "LOCALHOST:8017", "[::1]:8017"] {
            assert!(hosts.holds(name), "{name}");
        }
        for name in [
            "127.0.0.1",
            "127.0.0.1:8018",
            "evil.example:8017",
            "localhost.evil.example:8017",
            "",
        ] {
            assert!(!hosts.holds(name), "{name}");
        }
        assert!(hosts.holds_origin("http://localhost:8017"));
        assert!(!hosts.holds_origin("https://localhost:8017"));
        assert!(!hosts.holds_origin("null"));
    }

    #[test]
    fn a_server_for_others_answers_to_its_address_and_given_names() {
        let hosts = Hosts::of(SocketAddr::from(([192, 0, 2, 7], 80)), &["Office".into()]);
        assert!(hosts.holds("192.0.2.7") && hosts.holds("office:80") && hosts.holds("office"));
        assert!(!hosts.holds("198.51.100.1"));
    }
}
