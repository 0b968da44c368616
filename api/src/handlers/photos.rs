//! Photos: keeping them, reading them, showing them.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use capture::Options;
use layout::{Layout, LayoutJson};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::body::{JsonBody, Params, ReadOptions, Upload};
use crate::contained::{self, Answer, Task};
use crate::error::ApiError;
use crate::store::{Store, StoreError, StoredPhoto};

/// A photo that is kept.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[schemars(title = "Photo")]
pub(crate) struct PhotoJson {
    /// The SHA-256 of its bytes in hexadecimal digits.
    id: String,
    /// Width of the upright picture in pixels.
    width: u32,
    /// Height of the upright picture in pixels.
    height: u32,
}

impl From<StoredPhoto> for PhotoJson {
    fn from(StoredPhoto { id, width, height }: StoredPhoto) -> PhotoJson {
        PhotoJson { id, width, height }
    }
}

/// A photo and what was read from it. Nothing of it is saved as a layout yet.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Reading")]
pub(crate) struct Reading {
    photo: PhotoJson,
    /// How many pages its file has; an import reads them all.
    pages: usize,
    /// One for each card on the photo, in reading order.
    layouts: Vec<LayoutJson>,
}

/// `POST /api/photos`
pub(crate) async fn add(State(app): State<App>, upload: Upload) -> Result<Response, ApiError> {
    let store = app.store.clone();
    let Upload { place, photo, options } = upload;
    let reading = app.reader.work(place, move || keep_and_read(&store, &photo, &options)).await??;
    let location = [(LOCATION, format!("/api/photos/{}", reading.photo.id))];
    Ok((StatusCode::CREATED, location, Json(reading)).into_response())
}

/// Which photo.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct PhotoPath {
    /// The photo's id.
    id: String,
}

/// `GET /api/photos/{id}/size`
pub(crate) async fn size(
    State(app): State<App>,
    Path(PhotoPath { id }): Path<PhotoPath>,
) -> Result<Json<PhotoJson>, ApiError> {
    Ok(Json(app.store(move |store| store.photo(&id)).await?.into()))
}

/// `POST /api/photos/{id}/read`
pub(crate) async fn read_again(
    State(app): State<App>,
    Path(PhotoPath { id }): Path<PhotoPath>,
    JsonBody(asked): JsonBody<ReadOptions>,
) -> Result<Json<Reading>, ApiError> {
    let options = Options::try_from(asked)?;
    let kept = app.store(move |store| store.photo(&id)).await?;
    let place = app.reader.place()?;
    let store = app.store.clone();
    let work = move || {
        let (bytes, page) = store.photo_file(&kept.id)?;
        reading(&bytes, page, &options, |_| Ok(kept))
    };
    app.reader.work(place, work).await?.map(Json)
}

/// How wide the picture should be.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct ScreenSize {
    /// Least width wanted, in pixels; 1280 if left out. The picture is the
    /// next larger of a few fixed widths, never larger than the photo.
    width: Option<u32>,
}

/// Widths that pictures for the screen are made in, in pixels: few, so that
/// each is made once. The last is that of a large screen.
const SCREEN_WIDTHS: [u32; 5] = [160, 320, 640, 1280, 2560];
const USUAL_WIDTH: u32 = 1280;
/// `GET /api/photos/{id}`
pub(crate) async fn show(
    State(app): State<App>,
    Path(PhotoPath { id }): Path<PhotoPath>,
    Params(size): Params<ScreenSize>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let photo = app.store(move |store| store.photo(&id)).await?;
    let asked = size.width.unwrap_or(USUAL_WIDTH);
    let [.., largest] = SCREEN_WIDTHS;
    let width = SCREEN_WIDTHS.into_iter().find(|&width| width >= asked).unwrap_or(largest).min(photo.width);
    let name = format!("{}-{width}.jpg", photo.id);
    let tag = format!("\"{name}\"");
    // The id is the hash of the content, so the answer never changes.
    let known = [(ETAG, tag.clone()), (CACHE_CONTROL, "private, max-age=31536000, immutable".to_owned())];
    if headers.get(IF_NONE_MATCH).is_some_and(|value| value.as_bytes() == tag.as_bytes()) {
        return Ok((StatusCode::NOT_MODIFIED, known).into_response());
    }
    let made = name.clone();
    let picture = if let Some(picture) = app.store(move |store| Ok(store.screen_picture(&made))).await? {
        picture
    } else {
        let place = app.reader.place()?;
        let store = app.store.clone();
        app.reader.work(place, move || make_screen_picture(&store, &photo, width, &name)).await??
    };
    Ok((known, [(CONTENT_TYPE, "image/jpeg")], picture).into_response())
}

/// Keeps a photo that decodes, and reads it. One that cannot be read stays
/// kept: its corners can still be shown by hand.
pub(crate) fn keep_and_read(store: &Store, bytes: &[u8], options: &Options) -> Result<Reading, ApiError> {
    reading(bytes, 1, options, |size_px| store.keep_photo(bytes, 1, size_px))
}

/// Reads a page of a file, counted from 1. `keep` is told its size as soon as it
/// has decoded, and gives the photo that it is.
fn reading(
    bytes: &[u8],
    page: u32,
    options: &Options,
    keep: impl FnOnce([u32; 2]) -> Result<StoredPhoto, StoreError>,
) -> Result<Reading, ApiError> {
    match contained::ask(&Task::read(page, options), bytes, &|| false)? {
        (Answer::Page { size_px, pages, layouts }, _) => {
            let kept = keep(size_px)?;
            match layouts {
                Ok(layouts) => Ok(Reading {
                    layouts: layouts.iter().map(|layout| of_photo(layout, &kept.id)).collect(),
                    photo: kept.into(),
                    pages,
                }),
                Err(fault) => Err(ApiError::Capture { fault, photo: Some(kept.into()) }),
            }
        }
        (Answer::Unread(fault), _) => Err(ApiError::Capture { fault, photo: None }),
        (Answer::Imported { .. } | Answer::Picture, _) => Err(ApiError::Bug),
    }
}

/// The record of a layout that was read from the photo of this id.
fn of_photo(layout: &Layout, id: &str) -> LayoutJson {
    let mut record = LayoutJson::from(layout);
    if let Some(capture) = &mut record.capture {
        id.clone_into(&mut capture.photo);
    }
    record
}

impl Reading {
    /// The records that were read.
    pub(crate) fn into_records(self) -> Vec<LayoutJson> {
        self.layouts
    }
}

fn make_screen_picture(
    store: &Store,
    photo: &StoredPhoto,
    width: u32,
    name: &str,
) -> Result<Vec<u8>, ApiError> {
    let (bytes, page) = store.photo_file(&photo.id)?;
    let jpeg = match contained::ask(&Task::Picture { page, width }, &bytes, &|| false)? {
        (Answer::Picture, jpeg) => jpeg,
        (Answer::Unread(fault), _) => return Err(ApiError::Capture { fault, photo: None }),
        (Answer::Page { .. } | Answer::Imported { .. }, _) => return Err(ApiError::Bug),
    };
    if let Err(error) = store.keep_screen_picture(name, &jpeg) {
        // It is made again the next time.
        tracing::warn!(cause = %error, "a picture for the screen was not kept");
    }
    Ok(jpeg)
}
