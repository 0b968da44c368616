//! What a saved layout takes to be made: pieces, advice, assembly, envelope.

use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use layout::{Layout, Making};
use schemars::JsonSchema;
use serde::Deserialize;

use crate::app::App;
use crate::body::{Params, field};
use crate::error::ApiError;
use crate::handlers::drawings::{answer, paper};
use crate::handlers::params::IdPath;
use crate::making::Asked;
use crate::print::{self, Page, Paper};

/// What is made, and how it is told.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct PiecesAsked {
    #[serde(flatten)]
    asked: Asked,
    /// `json`, `csv` or `pdf`; JSON if left out.
    format: Option<String>,
    /// `letter` or `a4` for a PDF; if left out, letter for inch cards and A4 for metric ones.
    paper: Option<String>,
}

/// How the pieces are told.
#[derive(Clone, Copy)]
enum Format {
    Json,
    Csv,
    Pdf,
}

impl Format {
    fn named(name: &str) -> Result<Format, ApiError> {
        match name.trim() {
            "" | "json" => Ok(Format::Json),
            "csv" => Ok(Format::Csv),
            "pdf" => Ok(Format::Pdf),
            _ => Err(field("format", "a format is json, csv or pdf")),
        }
    }
}

/// `GET /api/layouts/{id}/pieces`
pub(crate) async fn show(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<PiecesAsked>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let format = Format::named(asked.format.as_deref().unwrap_or_default())?;
    told(app, path, asked, format, headers).await
}

/// `GET /api/layouts/{id}/pieces.csv`
pub(crate) async fn csv(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<PiecesAsked>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    told(app, path, asked, Format::Csv, headers).await
}

/// `GET /api/layouts/{id}/pieces.pdf`
pub(crate) async fn pdf(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<PiecesAsked>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    told(app, path, asked, Format::Pdf, headers).await
}

/// `GET /api/layouts/{id}/assembly.pdf`
pub(crate) async fn assembly(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<PiecesAsked>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    printed(app, path, asked, "assembly", headers, print::assembly).await
}

async fn told(
    app: App,
    path: IdPath,
    asked: PiecesAsked,
    format: Format,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    if let Format::Pdf = format {
        return printed(app, path, asked, "pieces", headers, print::pieces).await;
    }
    let id = path.id()?;
    let saved = app.store(move |store| store.layout(id)).await?;
    let asked = asked.asked;
    match format {
        Format::Csv => {
            let kind = format!("-pieces-csv{}", asked.tag());
            answer(saved, &kind, &headers, "text/csv; charset=utf-8", move |layout| {
                Ok(asked.making(layout)?.pieces.csv().into_bytes())
            })
            .await
        }
        Format::Json | Format::Pdf => {
            let kind = format!("-pieces{}", asked.tag());
            answer(saved, &kind, &headers, "application/json", move |layout| {
                let json = asked.making(layout)?.json(layout);
                serde_json::to_vec(&json).map_err(|_| ApiError::Bug)
            })
            .await
        }
    }
}

async fn printed(
    app: App,
    path: IdPath,
    asked: PiecesAsked,
    what: &'static str,
    headers: HeaderMap,
    draw: fn(&Layout, &Making, Paper) -> Vec<Page>,
) -> Result<Response, ApiError> {
    let id = path.id()?;
    let on = paper(asked.paper)?;
    let asked = asked.asked;
    let kind = match on {
        None => format!("-{what}-pdf{}", asked.tag()),
        Some(on) => format!("-{what}-pdf-{on:?}{}", asked.tag()),
    };
    let saved = app.store(move |store| store.layout(id)).await?;
    answer(saved, &kind, &headers, "application/pdf", move |layout| {
        let making = asked.making(layout)?;
        let on = on.unwrap_or(Paper::usual(layout.card.unit));
        Ok(print::pdf(&draw(layout, &making, on), &print::title_words(layout))?)
    })
    .await
}
