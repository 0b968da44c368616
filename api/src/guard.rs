//! Who may talk to the service, and what browsers are told about its answers.
//! A page of another site must not be able to read or change the notebook:
//! names that are not the service's own are refused (so that no foreign name
//! can be pointed at this machine), and changes only come from its own page.

use axum::extract::{Request, State};
use axum::http::header::{
    CONTENT_SECURITY_POLICY, HOST, HeaderName, ORIGIN, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
    X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::Next;
use axum::response::Response;
use std::net::IpAddr;

use crate::app::App;
use crate::error::ApiError;

/// Where the service listens decides which names it answers to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Door {
    /// On this machine only: loopback names.
    Loopback,
    /// On a network: also addresses, and names that only the network itself
    /// can give (without a dot, or ending in `.local`).
    Network,
}

const SEC_FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// Scripts and styles only from files of the page; pictures also from memory,
/// where the page shows a photo before it is sent.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; \
    font-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; \
    frame-ancestors 'none'";

/// Checks each request's Host, and the Origin of those that change something.
pub(crate) async fn check(
    State(app): State<App>,
    request: Request,
    next: Next,
) -> Result<Response, ApiError> {
    let host = host(&request).ok_or(ApiError::WrongHost)?;
    if !app.door.answers_to(&host) {
        return Err(ApiError::WrongHost);
    }
    if !request.method().is_safe() && !from_own_page(request.headers(), &host) {
        return Err(ApiError::ForeignOrigin);
    }
    Ok(next.run(request).await)
}

/// Adds what browsers are told with every answer.
pub(crate) async fn add_headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    for (name, value) in [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (X_FRAME_OPTIONS, "DENY"),
        (REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    ] {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

/// The host the client meant, with its port.
fn host(request: &Request) -> Option<String> {
    let mut hosts = request.headers().get_all(HOST).iter();
    let host = hosts.next()?.to_str().ok()?;
    // Two of them are a trick, not a client.
    hosts.next().is_none().then(|| host.to_ascii_lowercase())
}

impl Door {
    fn answers_to(self, host: &str) -> bool {
        let name = without_port(host);
        let address: Option<IpAddr> = name.trim_start_matches('[').trim_end_matches(']').parse().ok();
        let loopback = name == "localhost" || address.is_some_and(|address| address.is_loopback());
        match self {
            Door::Loopback => loopback,
            Door::Network => {
                loopback
                    || address.is_some()
                    || (!name.is_empty() && (!name.contains('.') || name.strip_suffix(".local").is_some()))
            }
        }
    }
}

fn without_port(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) && !name.ends_with(':') => name,
        _ => host,
    }
}

/// Browsers name the page a change comes from; other clients need not.
fn from_own_page(headers: &HeaderMap, host: &str) -> bool {
    if let Some(origin) = headers.get(ORIGIN) {
        let origin = origin.to_str().unwrap_or_default().to_ascii_lowercase();
        return origin
            .split_once("://")
            .is_some_and(|(scheme, own)| (scheme == "http" || scheme == "https") && own == host);
    }
    match headers.get(SEC_FETCH_SITE) {
        Some(site) => site == "same-origin" || site == "none",
        None => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(host: &str, loopback: bool, network: bool) {
        assert_eq!(Door::Loopback.answers_to(host), loopback, "{host} on this machine");
        assert_eq!(Door::Network.answers_to(host), network, "{host} on a network");
    }

    #[test]
    fn only_own_names_are_answered() {
        check("localhost:8118", true, true);
        check("127.0.0.1:8118", true, true);
        check("127.0.0.1", true, true);
        check("[::1]:8118", true, true);
        check("192.168.0.7:8118", false, true);
        check("library:8118", false, true);
        check("library.local", false, true);
        check("cards.example:8118", false, false);
        check("localhost.example", false, false);
        check("127.0.0.1.example:8118", false, false);
        check("", false, false);
    }

    #[test]
    fn changes_come_from_the_own_page() {
        let from = |name: HeaderName, value: &'static str| {
            from_own_page(&HeaderMap::from_iter([(name, HeaderValue::from_static(value))]), "localhost:8118")
        };
        assert!(from_own_page(&HeaderMap::new(), "localhost:8118"));
        assert!(from(ORIGIN, "http://localhost:8118"));
        assert!(!from(ORIGIN, "http://localhost:9000"));
        assert!(!from(ORIGIN, "http://cards.example"));
        assert!(!from(ORIGIN, "null"));
        assert!(from(SEC_FETCH_SITE, "same-origin"));
        assert!(!from(SEC_FETCH_SITE, "cross-site"));
    }
}
