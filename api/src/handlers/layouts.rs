//! Saved layouts and their versions.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, ETAG, LOCATION};
use axum::response::{IntoResponse, Response};
use layout::LayoutJson;
use schemars::JsonSchema;
use serde::Serialize;

use crate::app::App;
use crate::body::LayoutBody;
use crate::error::ApiError;
use crate::handlers::params::{IdPath, VersionPath};
use crate::handlers::shelf::ShelfJson;
use crate::precondition::{IfMatch, etag};
use crate::store::{Shelved, VersionEntry};

/// A saved layout: the record, and what the notebook knows about it.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "SavedLayout")]
pub(crate) struct SavedLayout {
    /// Its number in the notebook.
    id: i64,
    /// Which save of it this is, from 1.
    version: i64,
    /// Names this version in If-Match.
    etag: String,
    /// When it was saved: UTC, RFC 3339.
    saved_at: String,
    #[serde(flatten)]
    shelf: ShelfJson,
    #[serde(flatten)]
    record: LayoutJson,
}

impl From<Shelved> for SavedLayout {
    fn from(Shelved { saved, shelf }: Shelved) -> SavedLayout {
        SavedLayout {
            shelf: shelf.into(),
            id: saved.id,
            version: saved.version,
            etag: etag(saved.id, saved.version),
            saved_at: saved.saved_at,
            record: saved.record,
        }
    }
}

impl IntoResponse for SavedLayout {
    fn into_response(self) -> Response {
        ([(ETAG, self.etag.clone()), (CACHE_CONTROL, "no-cache".to_owned())], Json(self)).into_response()
    }
}

/// `POST /api/layouts`
pub(crate) async fn create(
    State(app): State<App>,
    LayoutBody(layout): LayoutBody,
) -> Result<Response, ApiError> {
    let saved = app.store(move |store| store.shelved(store.create_layout(&layout)?)).await?;
    let location = [(LOCATION, format!("/api/layouts/{}", saved.saved.id))];
    Ok((StatusCode::CREATED, location, SavedLayout::from(saved)).into_response())
}

/// `GET /api/layouts/{id}`
pub(crate) async fn show(State(app): State<App>, Path(path): Path<IdPath>) -> Result<Response, ApiError> {
    let id = path.id()?;
    Ok(SavedLayout::from(app.store(move |store| store.shelved(store.layout(id)?)).await?).into_response())
}

/// `PUT /api/layouts/{id}`
pub(crate) async fn update(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
    LayoutBody(layout): LayoutBody,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let expected = if_match.required(id)?;
    let saved = app.store(move |store| store.shelved(store.update_layout(id, &expected, &layout)?)).await?;
    Ok(SavedLayout::from(saved).into_response())
}

/// `DELETE /api/layouts/{id}`
pub(crate) async fn delete(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let expected = if_match.required(id)?;
    let version = app.store(move |store| store.delete_layout(id, &expected)).await?;
    Ok((StatusCode::NO_CONTENT, [(ETAG, etag(id, version))]).into_response())
}

/// A layout's history, newest first.
#[derive(Serialize, JsonSchema)]
pub(crate) struct History {
    versions: Vec<HistoryEntry>,
}

/// One save or deletion.
#[derive(Serialize, JsonSchema)]
pub(crate) struct HistoryEntry {
    /// From 1.
    version: i64,
    /// When: UTC, RFC 3339.
    saved_at: String,
    /// Whether this is a deletion; it has no record then.
    deleted: bool,
    /// The title it had.
    title: Option<String>,
    /// Names this version in If-Match.
    etag: String,
}

/// `GET /api/layouts/{id}/versions`
pub(crate) async fn versions(State(app): State<App>, Path(path): Path<IdPath>) -> Result<Response, ApiError> {
    let id = path.id()?;
    let entries = app.store(move |store| store.layout_versions(id)).await?;
    let present = entries.first().map_or(0, |entry| entry.version);
    let versions = entries.into_iter().map(|entry: VersionEntry| HistoryEntry {
        version: entry.version,
        saved_at: entry.saved_at,
        deleted: entry.title.is_none(),
        title: entry.title,
        etag: etag(id, entry.version),
    });
    Ok(([(ETAG, etag(id, present))], Json(History { versions: versions.collect() })).into_response())
}

/// `GET /api/layouts/{id}/versions/{version}`
pub(crate) async fn version(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
) -> Result<Response, ApiError> {
    let (id, version) = path.numbers()?;
    let saved = app.store(move |store| store.shelved(store.layout_version(id, version)?)).await?;
    Ok(SavedLayout::from(saved).into_response())
}

/// `POST /api/layouts/{id}/versions/{version}/restore`
pub(crate) async fn restore(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
    if_match: IfMatch,
) -> Result<Response, ApiError> {
    let (id, version) = path.numbers()?;
    let expected = if_match.expected(id);
    let saved = app
        .store(move |store| {
            let saved = store.restore_layout(id, version, expected.as_ref())?;
            saved.map(|saved| store.shelved(saved)).transpose()
        })
        .await?;
    Ok(SavedLayout::from(saved.ok_or(ApiError::NoIfMatch)?).into_response())
}
