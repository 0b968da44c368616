//! Lets requests in, or not. A stranger gets the page to pair at with what it
//! is made of, and may enter a code; nothing else of the service exists for them.

use aide::OperationInput;
use axum::body::Body;
use axum::extract::{ConnectInfo, FromRequestParts, Request, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, LOCATION, SET_COOKIE};
use axum::http::request::Parts;
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use futures_util::StreamExt;

use super::{Peer, Presented, cookie, presented};
use crate::app::App;
use crate::body::drain;
use crate::error::ApiError;

/// The page to pair at, and the files it is made of.
pub(crate) const FOR_STRANGERS: [&str; 8] =
    ["/pair", "/pair.js", "/pair.css", "/client.js", "/dom.js", "/page.css", "/vars.css", "/icon.svg"];
/// Where a code is entered.
pub(crate) const PAIRING: &str = "/api/pairing";

/// Who sent a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Visitor {
    /// Somebody on this very machine.
    Own,
    /// A paired device.
    Device,
    /// Nobody who is known.
    Stranger,
}

/// A request of this very machine; of others it is refused.
pub(crate) struct OwnMachine;

impl FromRequestParts<App> for OwnMachine {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<OwnMachine, ApiError> {
        match parts.extensions.get() {
            Some(Visitor::Own) => Ok(OwnMachine),
            _ => Err(ApiError::OnlyHere),
        }
    }
}

impl OperationInput for OwnMachine {}

/// Lets a request in, or not.
pub(crate) async fn admit(
    State(app): State<App>,
    mut request: Request,
    next: Next,
) -> Result<Response, ApiError> {
    let peer: Option<ConnectInfo<Peer>> = request.extensions().get().copied();
    if peer.is_some_and(|ConnectInfo(peer)| peer.is_own_machine()) {
        request.extensions_mut().insert(Visitor::Own);
        return Ok(next.run(request).await);
    }
    if let Some(known) = presented(request.headers()) {
        let asked = known.clone();
        if app.store(move |store| store.knows_device(asked.device, &asked.token)).await? {
            request.extensions_mut().insert(Visitor::Device);
            return let_in(&app, &known, request, next).await;
        }
    }
    request.extensions_mut().insert(Visitor::Stranger);
    let path = request.uri().path();
    if is_for_strangers(request.method(), path) {
        return Ok(next.run(request).await);
    }
    if (request.method() == Method::GET || request.method() == Method::HEAD) && !path.starts_with("/api/") {
        let to_pairing = [(LOCATION, "/pair"), (CACHE_CONTROL, "no-store")];
        return Ok((StatusCode::SEE_OTHER, to_pairing).into_response());
    }
    // Whoever sends a photo gets to read the answer.
    drain(request).await;
    Err(ApiError::NotPaired)
}

/// Serves a paired device, as long as it is one.
async fn let_in(app: &App, known: &Presented, request: Request, next: Next) -> Result<Response, ApiError> {
    let is_page = request.method() == Method::GET && ["/", "/scan"].contains(&request.uri().path());
    let mut response = tokio::select! {
        biased;
        () = app.door.ended(known.device) => return Err(ApiError::NotPaired),
        response = next.run(request) => response,
    };
    if is_page && let Ok(cookie) = cookie(known.device, &known.token).parse() {
        response.headers_mut().insert(SET_COOKIE, cookie);
    }
    // What goes on for hours ends with the pairing.
    let kind = response.headers().get(CONTENT_TYPE).map(axum::http::HeaderValue::as_bytes);
    if kind.is_some_and(|kind| kind.starts_with(b"text/event-stream")) {
        let ended = Box::pin(app.door.ended(known.device));
        response = response.map(|body| Body::from_stream(body.into_data_stream().take_until(ended)));
    }
    Ok(response)
}

/// Whether somebody who is not known may ask for this.
fn is_for_strangers(method: &Method, path: &str) -> bool {
    match *method {
        Method::GET | Method::HEAD => FOR_STRANGERS.contains(&path),
        Method::POST => path == PAIRING,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stranger_may_ask_for_the_pairing_page_and_enter_a_code() {
        let check = |method: Method, path: &str, may: bool| {
            assert_eq!(is_for_strangers(&method, path), may, "{method} {path}");
        };
        check(Method::GET, "/pair", true);
        check(Method::HEAD, "/pair.js", true);
        check(Method::POST, "/api/pairing", true);
        for path in ["/", "/index.html", "/app.js", "/scan", "/scan.js", "/pair.html", "/pair/", "//pair"] {
            check(Method::GET, path, false);
        }
        for path in ["/api/pairing", "/api/health", "/api/layouts", "/pair/../api/layouts"] {
            check(Method::GET, path, false);
        }
        for path in ["/pair", "/api/pairing/code", "/api/pairing/", "/api/layouts", "/api/imports"] {
            check(Method::POST, path, false);
        }
        check(Method::DELETE, "/api/pairing", false);
        check(Method::OPTIONS, "/api/pairing", false);
    }
}
