//! Layouts as drawings: for the screen, the printer and a message.

use std::ops::RangeInclusive;

use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use layout::{DrawingOptions, Layout};
use schemars::JsonSchema;
use serde::Deserialize;

use crate::app::{App, blocking};
use crate::body::{Params, field};
use crate::error::ApiError;
use crate::handlers::params::{IdPath, VersionPath};
use crate::print::{self, PER_PAGE, PNG_PX_PER_IN, Paper};
use crate::store::{Store, StoreError, StoredLayout};

/// What a drawing for the screen shows.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Drawing {
    /// Write each element's size into it.
    #[serde(default)]
    sizes: bool,
    /// The measured drawing: dimension lines, a bar to check the scale, the
    /// list of pieces and the notes, with its letters as outlines.
    #[serde(default)]
    dimensions: bool,
}

/// How a drawing becomes a picture.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Picture {
    /// Longest side of a plain drawing without dimension lines, 32 to 1024
    /// pixels; if left out, the measured drawing at 150 pixels an inch.
    #[schemars(with = "Option<u32>")]
    px: Option<String>,
}

/// How a drawing is printed.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Printing {
    /// `letter` or `a4`; if left out, letter for inch cards and A4 for metric ones.
    paper: Option<String>,
}

/// What is printed together.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Prints {
    /// Ids of the layouts in the order of the pages, commas between; at most 500.
    ids: String,
    /// 1 for measured drawings at true scale, or 2, 4, 6 or 9 small ones on a page.
    #[schemars(with = "Option<u32>")]
    per_page: Option<String>,
    /// `letter` or `a4`; if left out, as the first layout's card is measured.
    paper: Option<String>,
}

/// Sides of a small picture: from what shows anything to a tile on the sharpest screen.
const SMALL_PX: RangeInclusive<u32> = 32..=1024;
/// How long a client may keep what never changes, in seconds: a year.
const FOR_GOOD: &str = "private, max-age=31536000, immutable";

/// Most layouts in one print.
const MOST_PRINTED: usize = 500;

/// `GET /api/layouts/{id}/drawing.svg`
pub(crate) async fn svg(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(drawing): Params<Drawing>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    as_svg(app, move |store| store.layout(id), drawing, headers).await
}

/// `GET /api/layouts/{id}/versions/{version}/drawing.svg`
pub(crate) async fn version_svg(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
    Params(drawing): Params<Drawing>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let (id, version) = path.numbers()?;
    as_svg(app, move |store| store.layout_version(id, version), drawing, headers).await
}

async fn as_svg(
    app: App,
    find: impl FnOnce(&Store) -> Result<StoredLayout, StoreError> + Send + 'static,
    drawing: Drawing,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let saved = app.store(find).await?;
    let kind = match (drawing.dimensions, drawing.sizes) {
        (true, _) => "-dimensions",
        (false, true) => "-sizes",
        (false, false) => "",
    };
    answer(saved, kind, &headers, "image/svg+xml", move |layout| {
        if drawing.dimensions {
            let picture = print::svg(&print::picture(layout), &print::title_words(layout))?;
            return Ok(picture.into_bytes());
        }
        Ok(layout::svg(layout, DrawingOptions { sizes: drawing.sizes }).into_bytes())
    })
    .await
}

/// `GET /api/layouts/{id}/drawing.pdf`
pub(crate) async fn pdf(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(printing): Params<Printing>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let paper = paper(printing.paper)?;
    let kind = match paper {
        None => "-pdf",
        Some(Paper::Letter) => "-pdf-letter",
        Some(Paper::A4) => "-pdf-a4",
    };
    let saved = app.store(move |store| store.layout(id)).await?;
    answer(saved, kind, &headers, "application/pdf", move |layout| {
        let paper = paper.unwrap_or(Paper::usual(layout.card.unit));
        Ok(print::pdf(&print::measured(layout, paper), &print::title_words(layout))?)
    })
    .await
}

/// `GET /api/layouts/{id}/drawing.png`
pub(crate) async fn png(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(picture): Params<Picture>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    as_png(app, move |store| store.layout(id), picture, headers).await
}

/// `GET /api/layouts/{id}/versions/{version}/drawing.png`
pub(crate) async fn version_png(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
    Params(picture): Params<Picture>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let (id, version) = path.numbers()?;
    let mut answer = as_png(app, move |store| store.layout_version(id, version), picture, headers).await?;
    answer.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static(FOR_GOOD));
    Ok(answer)
}

async fn as_png(
    app: App,
    find: impl FnOnce(&Store) -> Result<StoredLayout, StoreError> + Send + 'static,
    picture: Picture,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let px = picture.px.filter(|px| !px.trim().is_empty());
    let px = px.map(|px| px.trim().parse::<u32>().ok().filter(|px| SMALL_PX.contains(px)));
    if px == Some(None) {
        return Err(field("px", "a small picture is 32 to 1024 pixels long"));
    }
    let px = px.flatten();
    let kind = px.map_or("-png".to_owned(), |px| format!("-png-{px}"));
    let saved = app.store(find).await?;
    answer(saved, &kind, &headers, "image/png", move |layout| match px {
        Some(px) => Ok(print::small_png(&layout::svg(layout, DrawingOptions::default()), px)?),
        None => Ok(print::png(&print::picture(layout), PNG_PX_PER_IN)?),
    })
    .await
}

/// `GET /api/layouts/print.pdf`
pub(crate) async fn print(
    State(app): State<App>,
    Params(prints): Params<Prints>,
) -> Result<Response, ApiError> {
    let ids: Vec<i64> = prints
        .ids
        .split(',')
        .filter(|id| !id.trim().is_empty())
        .map(|id| id.trim().parse().map_err(|_| field("ids", "give ids of layouts with commas between")))
        .collect::<Result<_, _>>()?;
    if ids.is_empty() || ids.len() > MOST_PRINTED {
        return Err(field("ids", "print 1 to 500 layouts at a time"));
    }
    let paper = paper(prints.paper)?;
    let per_page = prints.per_page.as_deref().map_or("4", str::trim);
    let shape = PER_PAGE.into_iter().find(|(count, _)| count.to_string() == per_page);
    if shape.is_none() && per_page != "1" {
        return Err(field("per_page", "print 1, 2, 4, 6 or 9 layouts on a page"));
    }
    let saved = app.store(move |store| ids.iter().map(|&id| store.layout(id)).collect::<Result<Vec<_>, _>>());
    let saved = saved.await?;
    let bytes = blocking(move || {
        let layouts = saved
            .into_iter()
            .map(|saved| Layout::try_from(saved.record).map_err(ApiError::Faults))
            .collect::<Result<Vec<_>, _>>()?;
        let paper = paper.or(layouts.first().map(|first| Paper::usual(first.card.unit)));
        let paper = paper.unwrap_or(Paper::Letter);
        let pages = match shape {
            Some(shape) => print::booklet(&layouts, paper, shape),
            None => layouts.iter().flat_map(|layout| print::measured(layout, paper)).collect(),
        };
        Ok(print::pdf(&pages, "Layouts")?)
    })
    .await?;
    let headers = [
        (CONTENT_TYPE, "application/pdf"),
        (CONTENT_DISPOSITION, "inline; filename=\"layouts.pdf\""),
        (CACHE_CONTROL, "no-cache"),
    ];
    Ok((headers, bytes).into_response())
}

/// A file made of a version, or the word that the client has it already.
pub(super) async fn answer(
    saved: StoredLayout,
    kind: &str,
    headers: &HeaderMap,
    media: &'static str,
    make: impl FnOnce(&Layout) -> Result<Vec<u8>, ApiError> + Send + 'static,
) -> Result<Response, ApiError> {
    let tag = format!("\"{}-{}{kind}\"", saved.id, saved.version);
    let known = [(ETAG, tag.clone()), (CACHE_CONTROL, "no-cache".to_owned())];
    if headers.get(IF_NONE_MATCH).is_some_and(|value| value.as_bytes() == tag.as_bytes()) {
        return Ok((StatusCode::NOT_MODIFIED, known).into_response());
    }
    let layout = Layout::try_from(saved.record).map_err(ApiError::Faults)?;
    let bytes = blocking(move || make(&layout)).await?;
    Ok((known, [(CONTENT_TYPE, media)], bytes).into_response())
}

pub(super) fn paper(name: Option<String>) -> Result<Option<Paper>, ApiError> {
    let name = name.filter(|name| !name.trim().is_empty());
    name.map(|name| Paper::named(name.trim()).ok_or_else(|| field("paper", "a paper is letter or a4")))
        .transpose()
}
