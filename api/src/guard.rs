//! Who may talk to the service, and what browsers are told about its answers.
//! A page of another site must not be able to read or change the notebook:
//! names that are not the service's own are refused (so that no foreign name
//! can be pointed at this machine), and changes only come from its own page.

use axum::extract::{ConnectInfo, Request, State};
use axum::http::header::{
    CONTENT_SECURITY_POLICY, HOST, HeaderName, ORIGIN, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
    X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::Next;
use axum::response::Response;

use crate::app::App;
use crate::door::Peer;
use crate::error::ApiError;

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
    let peer: Option<&ConnectInfo<Peer>> = request.extensions().get();
    let here = peer.and_then(|ConnectInfo(peer)| peer.here);
    if !app.door.answers_to(without_port(&host), here) {
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

    #[test]
    fn a_host_is_known_without_its_port() {
        let check = |host: &str, name: &str| assert_eq!(without_port(host), name);
        check("localhost", "localhost");
        check("127.0.0.1:8118", "127.0.0.1");
        check("[::1]:8118", "[::1]");
        check("[::1]", "[::1]");
        check("cards.example:80", "cards.example");
        check("localhost:cards.example", "localhost:cards.example");
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
