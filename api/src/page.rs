//! The page: files in `web/`, carried in the program.

use axum::http::header::{ALLOW, CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, Method, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use rust_embed::{Embed, EmbeddedFile};

use crate::error::ApiError;

#[derive(Embed)]
#[folder = "web"]
#[exclude = "*.test.js"]
#[exclude = "*.json"]
#[exclude = "*.md"]
#[exclude = ".*"]
#[allow_missing = true]
struct Web;

/// Whatever is no route of the service: a file of the page, or nothing.
pub(crate) async fn file(method: Method, uri: Uri, headers: HeaderMap) -> Result<Response, ApiError> {
    let path = uri.path().trim_start_matches('/');
    let path = match path {
        "" => "index.html",
        "pair" => "pair.html",
        "scan" => "scan.html",
        path => path,
    };
    let file = Web::get(path).ok_or_else(|| ApiError::NoSuchPlace(uri.path().chars().take(100).collect()))?;
    if method != Method::GET && method != Method::HEAD {
        return Ok(([(ALLOW, "GET, HEAD")], ApiError::Method(method.to_string())).into_response());
    }
    let tag = tag(&file);
    // Asked for anew each time and mostly answered with "not modified", so a
    // new program never runs with an old page.
    let known = [(ETAG, tag.clone()), (CACHE_CONTROL, "no-cache".to_owned())];
    if headers.get(IF_NONE_MATCH).is_some_and(|value| value.as_bytes() == tag.as_bytes()) {
        return Ok((StatusCode::NOT_MODIFIED, known).into_response());
    }
    let kind = with_charset(file.metadata.mimetype());
    Ok((known, [(CONTENT_TYPE, kind)], file.data).into_response())
}

fn tag(file: &EmbeddedFile) -> String {
    let hash = file.metadata.sha256_hash();
    let word = hash.iter().take(8).fold(0_u64, |word, &byte| word << 8 | u64::from(byte));
    format!("\"{word:016x}\"")
}

fn with_charset(kind: &str) -> String {
    if kind.starts_with("text/") { format!("{kind}; charset=utf-8") } else { kind.to_owned() }
}
