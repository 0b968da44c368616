//! What is done with layouts beside editing them: favourites, uses, and
//! several at once. None of it asks for If-Match: nothing anybody wrote can be
//! lost by it.

use axum::Json;
use axum::extract::{Path, State};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::body::{JsonBody, field};
use crate::error::ApiError;
use crate::handlers::params::IdPath;
use crate::precondition::etag;
use crate::store::{Changed, Shelf};

/// How a layout stands in the notebook. No version of it changes with this.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Shelf")]
pub(crate) struct ShelfJson {
    /// Whether the maker marked it.
    favourite: bool,
    /// How often it was used for a set of cards.
    uses: u32,
    /// When last: UTC, RFC 3339.
    last_used: Option<String>,
}

impl From<Shelf> for ShelfJson {
    fn from(shelf: Shelf) -> ShelfJson {
        ShelfJson { favourite: shelf.favourite, uses: shelf.uses, last_used: shelf.last_used }
    }
}

/// `PUT /api/layouts/{id}/favourite`
pub(crate) async fn mark(
    State(app): State<App>,
    Path(path): Path<IdPath>,
) -> Result<Json<ShelfJson>, ApiError> {
    let id = path.id()?;
    Ok(Json(app.store(move |store| store.set_favourite(id, true)).await?.into()))
}

/// `DELETE /api/layouts/{id}/favourite`
pub(crate) async fn unmark(
    State(app): State<App>,
    Path(path): Path<IdPath>,
) -> Result<Json<ShelfJson>, ApiError> {
    let id = path.id()?;
    Ok(Json(app.store(move |store| store.set_favourite(id, false)).await?.into()))
}

/// `POST /api/layouts/{id}/uses`
pub(crate) async fn add_use(
    State(app): State<App>,
    Path(path): Path<IdPath>,
) -> Result<Json<ShelfJson>, ApiError> {
    let id = path.id()?;
    Ok(Json(app.store(move |store| store.use_layout(id)).await?.into()))
}

/// `DELETE /api/layouts/{id}/uses`
pub(crate) async fn take_use_back(
    State(app): State<App>,
    Path(path): Path<IdPath>,
) -> Result<Json<ShelfJson>, ApiError> {
    let id = path.id()?;
    Ok(Json(app.store(move |store| store.unuse_layout(id)).await?.into()))
}

/// Several layouts.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Selection {
    /// Their ids, at most 10000.
    ids: Vec<i64>,
}

/// Several layouts and what to do with their tags.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Tagging {
    /// Their ids, at most 10000.
    ids: Vec<i64>,
    /// Tags they get.
    #[serde(default)]
    add: Vec<String>,
    /// Tags that are taken from them.
    #[serde(default)]
    remove: Vec<String>,
}

/// Most layouts in one request.
const MOST_IDS: usize = 10_000;
/// Most tags in one request, and the longest: as many as a record may have.
const MOST_TAGS: usize = 50;
const LONGEST_TAG: usize = 60;

/// What has become of several layouts.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Done {
    layouts: Vec<DoneLayout>,
}

/// What has become of one layout.
#[derive(Serialize, JsonSchema)]
pub(crate) struct DoneLayout {
    id: i64,
    /// Its version now.
    version: i64,
    /// Names this version in If-Match.
    etag: String,
}

impl From<Vec<Changed>> for Done {
    fn from(changed: Vec<Changed>) -> Done {
        let layouts = changed
            .into_iter()
            .map(|Changed { id, version }| DoneLayout { id, version, etag: etag(id, version) })
            .collect();
        Done { layouts }
    }
}

/// `POST /api/layouts/tags`
pub(crate) async fn tag(
    State(app): State<App>,
    JsonBody(Tagging { ids, add, remove }): JsonBody<Tagging>,
) -> Result<Json<Done>, ApiError> {
    check_ids(&ids)?;
    for (at, tags) in [("add", &add), ("remove", &remove)] {
        let fine = |tag: &String| !tag.trim().is_empty() && tag.chars().count() <= LONGEST_TAG;
        if tags.len() > MOST_TAGS || !tags.iter().all(fine) {
            return Err(field(at, "at most 50 tags, each of 1 to 60 characters"));
        }
    }
    Ok(Json(app.store(move |store| store.tag_layouts(&ids, &add, &remove)).await?.into()))
}

/// `POST /api/layouts/deletions`
pub(crate) async fn delete(
    State(app): State<App>,
    JsonBody(Selection { ids }): JsonBody<Selection>,
) -> Result<Json<Done>, ApiError> {
    check_ids(&ids)?;
    Ok(Json(app.store(move |store| store.delete_layouts(&ids)).await?.into()))
}

/// `POST /api/layouts/restorations`
pub(crate) async fn bring_back(
    State(app): State<App>,
    JsonBody(Selection { ids }): JsonBody<Selection>,
) -> Result<Json<Done>, ApiError> {
    check_ids(&ids)?;
    Ok(Json(app.store(move |store| store.bring_back_layouts(&ids)).await?.into()))
}

fn check_ids(ids: &[i64]) -> Result<(), ApiError> {
    if ids.is_empty() || ids.len() > MOST_IDS {
        return Err(field("ids", "name 1 to 10000 layouts"));
    }
    Ok(())
}
