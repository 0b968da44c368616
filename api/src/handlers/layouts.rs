//! Saved layouts, their versions and drawings.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use layout::{Card, DrawingOptions, Layout, LayoutJson};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::body::{LayoutBody, Params};
use crate::error::ApiError;
use crate::precondition::{IfMatch, etag};
use crate::store::{Filter, StoreError, StoredLayout, VersionEntry};

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
    record: LayoutJson,
}

impl From<StoredLayout> for SavedLayout {
    fn from(saved: StoredLayout) -> SavedLayout {
        SavedLayout {
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

/// Which layouts are looked for.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Search {
    /// Words that all occur in title, notes or tags.
    #[serde(default)]
    text: String,
    /// The card they are for, standing or lying.
    card: Option<String>,
    /// A tag they have.
    tag: Option<String>,
    /// Most layouts to give: 1 to 200, 50 if left out.
    limit: Option<u32>,
    /// Give only what comes after the layout of this id, as `next` of the part before says.
    after: Option<i64>,
}

const USUAL_PART: u32 = 50;
const LARGEST_PART: u32 = 200;

/// A part of the list of layouts, newest first.
#[derive(Serialize, JsonSchema)]
pub(crate) struct LayoutList {
    layouts: Vec<SavedLayout>,
    /// How many match in all.
    total: i64,
    /// What `after` is for the next part; null at the end.
    next: Option<i64>,
}

/// `GET /api/layouts`
pub(crate) async fn list(
    State(app): State<App>,
    Params(search): Params<Search>,
) -> Result<Json<LayoutList>, ApiError> {
    let limit = search.limit.unwrap_or(USUAL_PART);
    if !(1..=LARGEST_PART).contains(&limit) {
        return Err(ApiError::Field { at: "limit".to_owned(), message: "from 1 to 200".to_owned() });
    }
    let card = search.card.filter(|name| !name.trim().is_empty());
    let filter = Filter {
        text: search.text,
        card: card.map(|name| name.parse::<Card>()).transpose()?,
        tag: search.tag.filter(|tag| !tag.trim().is_empty()),
        // One more than asked tells whether there is a next part.
        limit: limit + 1,
        after: search.after,
    };
    let mut found = app.store(move |store| store.find_layouts(&filter)).await?;
    let more = found.layouts.len() > limit as usize;
    found.layouts.truncate(limit as usize);
    let next = found.layouts.last().map(|saved| saved.id).filter(|_| more);
    Ok(Json(LayoutList {
        layouts: found.layouts.into_iter().map(SavedLayout::from).collect(),
        total: found.total,
        next,
    }))
}

/// `POST /api/layouts`
pub(crate) async fn create(
    State(app): State<App>,
    LayoutBody(layout): LayoutBody,
) -> Result<Response, ApiError> {
    let saved = app.store(move |store| store.create_layout(&layout)).await?;
    let location = [(LOCATION, format!("/api/layouts/{}", saved.id))];
    Ok((StatusCode::CREATED, location, SavedLayout::from(saved)).into_response())
}

/// Which layout.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct LayoutPath {
    /// The layout's id.
    #[schemars(with = "i64")]
    id: String,
}

impl LayoutPath {
    /// The number; what is no number names no layout.
    fn id(&self) -> Result<i64, ApiError> {
        self.id.parse().map_err(|_| StoreError::NoLayout(self.id.chars().take(40).collect()).into())
    }
}

/// `GET /api/layouts/{id}`
pub(crate) async fn show(State(app): State<App>, Path(path): Path<LayoutPath>) -> Result<Response, ApiError> {
    let id = path.id()?;
    Ok(SavedLayout::from(app.store(move |store| store.layout(id)).await?).into_response())
}

/// `PUT /api/layouts/{id}`
pub(crate) async fn update(
    State(app): State<App>,
    Path(path): Path<LayoutPath>,
    if_match: IfMatch,
    LayoutBody(layout): LayoutBody,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let expected = if_match.required(id)?;
    let saved = app.store(move |store| store.update_layout(id, &expected, &layout)).await?;
    Ok(SavedLayout::from(saved).into_response())
}

/// `DELETE /api/layouts/{id}`
pub(crate) async fn delete(
    State(app): State<App>,
    Path(path): Path<LayoutPath>,
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
pub(crate) async fn versions(
    State(app): State<App>,
    Path(path): Path<LayoutPath>,
) -> Result<Response, ApiError> {
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

/// Which version of which layout.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct VersionPath {
    /// The layout's id.
    #[schemars(with = "i64")]
    id: String,
    /// The version's number, from 1.
    #[schemars(with = "i64")]
    version: String,
}

impl VersionPath {
    fn numbers(self) -> Result<(i64, i64), ApiError> {
        let id = LayoutPath { id: self.id }.id()?;
        match self.version.parse() {
            Ok(version) => Ok((id, version)),
            Err(_) => {
                Err(StoreError::NoVersion { id, version: self.version.chars().take(40).collect() }.into())
            }
        }
    }
}

/// `GET /api/layouts/{id}/versions/{version}`
pub(crate) async fn version(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
) -> Result<Response, ApiError> {
    let (id, version) = path.numbers()?;
    Ok(SavedLayout::from(app.store(move |store| store.layout_version(id, version)).await?).into_response())
}

/// `POST /api/layouts/{id}/versions/{version}/restore`
pub(crate) async fn restore(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
    if_match: IfMatch,
) -> Result<Response, ApiError> {
    let (id, version) = path.numbers()?;
    let expected = if_match.expected(id);
    let saved = app.store(move |store| store.restore_layout(id, version, expected.as_ref())).await?;
    Ok(SavedLayout::from(saved.ok_or(ApiError::NoIfMatch)?).into_response())
}

/// What the drawing shows.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Drawing {
    /// Write each element's size into it.
    #[serde(default)]
    sizes: bool,
}

/// `GET /api/layouts/{id}/drawing.svg`
pub(crate) async fn drawing(
    State(app): State<App>,
    Path(path): Path<LayoutPath>,
    Params(drawing): Params<Drawing>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let saved = app.store(move |store| store.layout(id)).await?;
    let sizes = if drawing.sizes { "-sizes" } else { "" };
    let tag = format!("\"{id}-{}{sizes}\"", saved.version);
    let known = [(ETAG, tag.clone()), (CACHE_CONTROL, "no-cache".to_owned())];
    if headers.get(IF_NONE_MATCH).is_some_and(|value| value.as_bytes() == tag.as_bytes()) {
        return Ok((StatusCode::NOT_MODIFIED, known).into_response());
    }
    let layout = Layout::try_from(saved.record).map_err(ApiError::Faults)?;
    let picture = layout::svg(&layout, DrawingOptions { sizes: drawing.sizes });
    Ok((known, [(CONTENT_TYPE, "image/svg+xml")], picture).into_response())
}
