//! Layouts as drawings: for the screen, the printer and a message.

use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use layout::{DrawingOptions, Layout};
use schemars::JsonSchema;
use serde::Deserialize;

use crate::app::{App, blocking};
use crate::body::{Params, field};
use crate::error::ApiError;
use crate::handlers::layouts::{LayoutPath, VersionPath};
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

/// Most layouts in one print.
const MOST_PRINTED: usize = 500;

/// `GET /api/layouts/{id}/drawing.svg`
pub(crate) async fn svg(
    State(app): State<App>,
    Path(path): Path<LayoutPath>,
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
    Path(path): Path<LayoutPath>,
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
    Path(path): Path<LayoutPath>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let saved = app.store(move |store| store.layout(id)).await?;
    answer(saved, "-png", &headers, "image/png", |layout| {
        Ok(print::png(&print::picture(layout), PNG_PX_PER_IN)?)
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
