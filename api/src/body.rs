//! What requests carry, checked before a handler sees it: JSON bodies, layout
//! records, photo uploads, query parameters.

use std::marker::PhantomData;

use aide::OperationInput;
use aide::generate::GenContext;
use aide::openapi::Operation;
use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Multipart, Query, Request};
use axum::http::header::{CONTENT_LENGTH, CONTENT_TYPE, EXPECT};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode};
use capture::Frame;
use layout::{Card, Fault, Faults, Layout, LayoutJson};
use schemars::JsonSchema;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use tokio::time::{Duration, timeout};

use crate::app::App;
use crate::error::ApiError;
use crate::openapi;
use crate::reader::Place;

/// Largest JSON body, in bytes. A record of 500 elements with outlines as the
/// reader gives them is under 1 MB.
pub(crate) const JSON_LIMIT: usize = 4_000_000;
/// Room for the other fields of a photo's form, in bytes.
const FORM_SLACK: usize = 64_000;
/// How long an upload may take.
const UPLOAD_TIME: Duration = Duration::from_mins(2);
/// How long and how much of a refused body is read away, so that the client
/// gets to read the answer.
const DRAIN_TIME: Duration = Duration::from_secs(5);
const DRAIN_LIMIT: usize = 512_000_000;

/// Which card a photo shows and where, as a client says it.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "ReadOptions")]
pub(crate) struct ReadOptions {
    /// The card the drawing is meant for: `A2`, `5x7`, `100x150mm` … A2 if left out.
    pub(crate) card: Option<String>,
    /// `outline` finds every card outline, `photo` takes the whole picture.
    pub(crate) frame: Option<String>,
    /// The card's corners in the photo's upright pixels: top-left, top-right,
    /// bottom-right, bottom-left. They win over `frame`.
    pub(crate) corners: Option<[[f64; 2]; 4]>,
}

/// The card when nobody says which: the one makers use most.
pub(crate) const USUAL_CARD: &str = "A2";

impl TryFrom<ReadOptions> for capture::Options {
    type Error = ApiError;

    fn try_from(asked: ReadOptions) -> Result<capture::Options, ApiError> {
        let card: Card = asked.card.as_deref().unwrap_or(USUAL_CARD).parse()?;
        let frame = match (asked.corners, asked.frame.as_deref()) {
            (Some(corners), _) => Frame::Corners(corners),
            (None, None | Some("outline")) => Frame::Outline,
            (None, Some("photo")) => Frame::WholePhoto,
            (None, Some(_)) => {
                return Err(field("frame", "the frame is `outline` or `photo`"));
            }
        };
        Ok(capture::Options { card, frame, labels: true })
    }
}

/// A value that cannot be used, and what would be right.
pub(crate) fn field(at: &str, message: &str) -> ApiError {
    ApiError::Field { at: at.to_owned(), message: message.to_owned() }
}

/// A JSON body.
pub(crate) struct JsonBody<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest<App> for JsonBody<T> {
    type Rejection = ApiError;

    async fn from_request(request: Request, app: &App) -> Result<JsonBody<T>, ApiError> {
        let bytes = bytes_of(request, app, "application/json").await?;
        let mut deserializer = serde_json::Deserializer::from_slice(&bytes);
        let value = serde_path_to_error::deserialize(&mut deserializer).map_err(json_error)?;
        deserializer.end().map_err(|error| ApiError::Json(error.to_string()))?;
        Ok(JsonBody(value))
    }
}

/// The whole body, if it is of this type and within the limit.
async fn bytes_of(request: Request, app: &App, kind: &'static str) -> Result<Bytes, ApiError> {
    if !has_type(request.headers(), kind) {
        drain(request).await;
        return Err(ApiError::ContentType(kind));
    }
    let request = refuse_large(request, JSON_LIMIT).await?;
    match timeout(UPLOAD_TIME, Bytes::from_request(request, app)).await {
        Ok(Ok(bytes)) => Ok(bytes),
        Ok(Err(rejection)) if rejection.status() == StatusCode::PAYLOAD_TOO_LARGE => {
            Err(ApiError::TooLarge { limit: JSON_LIMIT })
        }
        Ok(Err(_)) => Err(ApiError::Json("it ended early".to_owned())),
        Err(_) => Err(ApiError::TooSlow(UPLOAD_TIME.as_secs())),
    }
}

impl<T: JsonSchema> OperationInput for JsonBody<T> {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::json_body::<T>(ctx, operation);
    }
}

fn json_error(error: serde_path_to_error::Error<serde_json::Error>) -> ApiError {
    let path = error.path().to_string();
    let inner = error.into_inner();
    ApiError::Json(if path == "." { inner.to_string() } else { format!("{path}: {inner}") })
}

/// A layout record as the body, checked. What the service itself adds to a
/// record in its answers may be sent back and is passed over.
pub(crate) struct LayoutBody(pub(crate) Layout);

/// What the service adds to a record.
const ADDED: [&str; 8] = ["id", "version", "etag", "saved_at", "favourite", "uses", "last_used", "cut_at"];

impl FromRequest<App> for LayoutBody {
    type Rejection = ApiError;

    async fn from_request(request: Request, app: &App) -> Result<LayoutBody, ApiError> {
        let JsonBody(value) = JsonBody::<Value>::from_request(request, app).await?;
        Ok(LayoutBody(layout_of(value).map_err(ApiError::Faults)?))
    }
}

/// The layout in a record, with or without what the service adds.
pub(crate) fn layout_of(value: Value) -> Result<Layout, Faults> {
    Layout::try_from(record_of::<LayoutJson>(value, "layout")?)
}

/// A record, with or without what the service adds to it.
fn record_of<T: DeserializeOwned>(mut value: Value, name: &str) -> Result<T, Faults> {
    if let Some(object) = value.as_object_mut() {
        for key in ADDED {
            object.remove(key);
        }
    }
    serde_path_to_error::deserialize(value).map_err(|error| {
        let at = error.path().to_string();
        let at = if at == "." { name.to_owned() } else { at };
        Faults(vec![Fault { at, message: error.into_inner().to_string() }])
    })
}

/// A record that is no layout, as the body, checked in the same way.
pub(crate) struct RecordBody<J, T> {
    /// The record.
    pub(crate) record: T,
    form: PhantomData<J>,
}

impl<J: DeserializeOwned, T: TryFrom<J, Error = Faults>> FromRequest<App> for RecordBody<J, T> {
    type Rejection = ApiError;

    async fn from_request(request: Request, app: &App) -> Result<RecordBody<J, T>, ApiError> {
        let JsonBody(value) = JsonBody::<Value>::from_request(request, app).await?;
        let record = record_of::<J>(value, "record").and_then(T::try_from).map_err(ApiError::Faults)?;
        Ok(RecordBody { record, form: PhantomData })
    }
}

impl<J: JsonSchema, T> OperationInput for RecordBody<J, T> {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::json_body::<J>(ctx, operation);
    }
}

/// A table as the body: lines of values with commas between (RFC 4180).
pub(crate) struct CsvBody(pub(crate) Bytes);

impl FromRequest<App> for CsvBody {
    type Rejection = ApiError;

    async fn from_request(request: Request, app: &App) -> Result<CsvBody, ApiError> {
        Ok(CsvBody(bytes_of(request, app, "text/csv").await?))
    }
}

impl OperationInput for CsvBody {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::csv_body(ctx, operation);
    }
}

impl OperationInput for LayoutBody {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::json_body::<LayoutJson>(ctx, operation);
    }
}

/// A photo that was sent, with its place in the queue.
pub(crate) struct Upload {
    /// Taken before the photo was received.
    pub(crate) place: Place,
    /// The photo as it came.
    pub(crate) photo: Bytes,
    /// How it is to be read.
    pub(crate) options: capture::Options,
}

impl FromRequest<App> for Upload {
    type Rejection = ApiError;

    async fn from_request(request: Request, app: &App) -> Result<Upload, ApiError> {
        if !has_type(request.headers(), "multipart/form-data") {
            drain(request).await;
            return Err(ApiError::ContentType("multipart/form-data with the picture in the field `photo`"));
        }
        let limit = app.photo_limit;
        let request =
            refuse_large(request, limit + FORM_SLACK).await.map_err(|_| ApiError::TooLarge { limit })?;
        let place = match app.reader.place() {
            Ok(place) => place,
            Err(busy) => {
                drain(request).await;
                return Err(busy);
            }
        };
        let mut form = Multipart::from_request(request, app)
            .await
            .map_err(|error| ApiError::Upload { reason: error.body_text(), field: "photo" })?;
        let read = timeout(UPLOAD_TIME, read_form(&mut form, limit)).await;
        let (photo, asked) = match read {
            Ok(Ok(parts)) => parts,
            Ok(Err(refused)) => {
                drain_form(&mut form).await;
                return Err(refused);
            }
            Err(_) => return Err(ApiError::TooSlow(UPLOAD_TIME.as_secs())),
        };
        Ok(Upload { place, photo, options: asked.try_into()? })
    }
}

impl OperationInput for Upload {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::photo_form(ctx, operation);
    }
}

async fn read_form(form: &mut Multipart, limit: usize) -> Result<(Bytes, ReadOptions), ApiError> {
    let broken = |error: axum::extract::multipart::MultipartError| match error.status() {
        StatusCode::PAYLOAD_TOO_LARGE => ApiError::TooLarge { limit },
        _ => ApiError::Upload { reason: error.body_text(), field: "photo" },
    };
    let mut photo = None;
    let mut options = ReadOptions::default();
    while let Some(part) = form.next_field().await.map_err(broken)? {
        match part.name().unwrap_or_default() {
            "photo" if photo.is_some() => {
                return Err(field("photo", "send one photo at a time"));
            }
            "photo" => photo = Some(part.bytes().await.map_err(broken)?),
            "card" => options.card = Some(part.text().await.map_err(broken)?),
            "frame" => options.frame = Some(part.text().await.map_err(broken)?),
            // Forms carry fields of all sorts; only these three mean something.
            _ => {}
        }
    }
    let photo =
        photo.ok_or_else(|| field("photo", "the form has no field `photo`: put the picture there"))?;
    if photo.len() > limit {
        return Err(ApiError::TooLarge { limit });
    }
    // An empty choice is no choice.
    options.card = options.card.filter(|card| !card.trim().is_empty());
    options.frame = options.frame.filter(|frame| !frame.trim().is_empty());
    Ok((photo, options))
}

/// Query parameters.
pub(crate) struct Params<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequestParts<App> for Params<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Params<T>, ApiError> {
        match Query::<T>::from_request_parts(parts, app).await {
            Ok(Query(params)) => Ok(Params(params)),
            Err(error) => Err(field("query", &plain(&error.body_text()))),
        }
    }
}

impl<T: JsonSchema> OperationInput for Params<T> {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        Query::<T>::operation_input(ctx, operation);
    }
}

/// What is wrong with a query, without the words of the library that saw it.
fn plain(text: &str) -> String {
    text.replace("Failed to deserialize query string: ", "").replace("unknown field", "there is no parameter")
}

pub(crate) fn has_type(headers: &HeaderMap, wanted: &str) -> bool {
    headers
        .get(CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split(';').next())
        .is_some_and(|kind| kind.trim().eq_ignore_ascii_case(wanted))
}

/// Refuses a body that announces itself as too large.
async fn refuse_large(request: Request, limit: usize) -> Result<Request, ApiError> {
    let announced: Option<usize> =
        request.headers().get(CONTENT_LENGTH).and_then(|value| value.to_str().ok()?.parse().ok());
    if announced.is_some_and(|bytes| bytes > limit) {
        drain(request).await;
        return Err(ApiError::TooLarge { limit });
    }
    Ok(request)
}

/// Reads the rest of a form away unkept, as [`drain`] does with a whole body.
pub(crate) async fn drain_form(form: &mut Multipart) {
    let read = async {
        let mut seen = 0;
        while let Ok(Some(mut part)) = form.next_field().await {
            while let Ok(Some(chunk)) = part.chunk().await {
                seen += chunk.len();
                if seen > DRAIN_LIMIT {
                    return;
                }
            }
        }
    };
    let _ = timeout(DRAIN_TIME, read).await;
}

/// Reads a body away unkept: a client that is still sending would see its
/// connection break instead of the answer.
pub(crate) async fn drain(request: Request) {
    if request.headers().contains_key(EXPECT) {
        // This client waits for a word before it sends.
        return;
    }
    let mut body = request.into_body();
    let read = async {
        use axum::body::HttpBody;
        use std::pin::Pin;
        let mut seen = 0;
        while seen < DRAIN_LIMIT {
            match std::future::poll_fn(|context| Pin::new(&mut body).poll_frame(context)).await {
                Some(Ok(frame)) => seen += frame.data_ref().map_or(0, Bytes::len),
                Some(Err(_)) | None => break,
            }
        }
    };
    // A client slower than this has to take what it gets.
    let _ = timeout(DRAIN_TIME, read).await;
}
