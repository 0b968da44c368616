//! Photos: keeping them, reading them, showing them.

use std::io::Cursor;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use capture::{CaptureError, Document, Limits, NoTrace, Options, Photo};
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};
use layout::{Layout, LayoutJson};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::body::{JsonBody, Params, ReadOptions, Upload};
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
        let photo = kept_page(&store, &kept.id)?;
        read(&photo, &options, kept)
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
/// JPEG quality of pictures for the screen: no visible loss on line drawings.
const SCREEN_QUALITY: u8 = 88;

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

/// A photo of the notebook: the page of its file that it is.
fn kept_page(store: &Store, id: &str) -> Result<Photo, ApiError> {
    let (bytes, page) = store.photo_file(id)?;
    let index = usize::try_from(page.saturating_sub(1)).unwrap_or(usize::MAX);
    let document = Document::open(&bytes, &Limits::default());
    document
        .and_then(|document| document.page(index))
        .map_err(|error| ApiError::Capture { error, photo: None })
}

fn decode(bytes: &[u8]) -> Result<Photo, ApiError> {
    Photo::decode(bytes, &Limits::default()).map_err(|error| ApiError::Capture { error, photo: None })
}

/// Keeps a photo that decodes, and reads it. One that cannot be read stays
/// kept: its corners can still be shown by hand.
pub(crate) fn keep_and_read(store: &Store, bytes: &[u8], options: &Options) -> Result<Reading, ApiError> {
    let photo = decode(bytes)?;
    let kept = store.keep_photo(bytes, 1, photo.size_px())?;
    read(&photo, options, kept)
}

fn read(photo: &Photo, options: &Options, kept: StoredPhoto) -> Result<Reading, ApiError> {
    match capture::read(photo, options, &mut NoTrace) {
        Ok(layouts) if layouts.is_empty() => {
            Err(ApiError::Capture { error: CaptureError::NoOutline, photo: Some(kept.into()) })
        }
        Ok(layouts) => Ok(Reading {
            layouts: layouts.iter().map(|layout| of_photo(layout, &kept.id)).collect(),
            photo: kept.into(),
        }),
        Err(error) => Err(ApiError::Capture { error, photo: Some(kept.into()) }),
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
    let picture = kept_page(store, &photo.id)?;
    let height = u64::from(photo.height) * u64::from(width) / u64::from(photo.width.max(1));
    let height = u32::try_from(height).unwrap_or(u32::MAX).max(1);
    let small = if width < photo.width {
        imageops::resize(picture.pixels(), width, height, FilterType::Triangle)
    } else {
        picture.pixels().clone()
    };
    let mut jpeg = Cursor::new(Vec::new());
    JpegEncoder::new_with_quality(&mut jpeg, SCREEN_QUALITY)
        .encode_image(&small)
        .map_err(|error| StoreError::File(std::io::Error::other(error)))?;
    let jpeg = jpeg.into_inner();
    store.keep_screen_picture(name, &jpeg)?;
    Ok(jpeg)
}
