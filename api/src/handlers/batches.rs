//! Batches: cards of several layouts, planned and cut together.

use std::convert::Infallible;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::{ACCEPT, CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::response::sse::{Event, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use layout::Layout;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use tokio::sync::mpsc;

use crate::app::{App, blocking};
use crate::batch::{self, Batch, BatchJson, BatchPlan, Ground, Order, PlannedSheet};
use crate::body::{Params, RecordBody, field};
use crate::error::ApiError;
use crate::handlers::drawings::paper;
use crate::handlers::papers::SavedPaper;
use crate::handlers::params::{IdPath, given};
use crate::precondition::{IfMatch, etag};
use crate::print::{self, Paper};
use crate::store::{Changes, Noun, Store, StoreError, StoredBatch, StoredPaper};

/// A batch: the record, and what the notebook knows about it.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "SavedBatch")]
pub(crate) struct SavedBatch {
    /// Its number.
    id: i64,
    /// Which save of it this is, from 1.
    version: i64,
    /// Names this version in If-Match.
    etag: String,
    /// When it was saved: UTC, RFC 3339.
    saved_at: String,
    /// When it was cut, if it was.
    cut_at: Option<String>,
    #[serde(flatten)]
    record: BatchJson,
}

impl From<StoredBatch> for SavedBatch {
    fn from(stored: StoredBatch) -> SavedBatch {
        let StoredBatch { id, version, saved_at, cut_at, batch } = stored;
        SavedBatch { id, version, etag: etag(id, version), saved_at, cut_at, record: BatchJson::from(&batch) }
    }
}

impl IntoResponse for SavedBatch {
    fn into_response(self) -> Response {
        ([(ETAG, self.etag.clone()), (CACHE_CONTROL, "no-cache".to_owned())], Json(self)).into_response()
    }
}

/// The batches of the notebook.
#[derive(Serialize, JsonSchema)]
pub(crate) struct BatchList {
    /// The ones changed last first, at most 200.
    batches: Vec<SavedBatch>,
    /// How many there are in all.
    total: i64,
}

/// Most batches in one list: years of Thursdays.
const MOST_LISTED: u32 = 200;

/// `GET /api/batches`
pub(crate) async fn list(State(app): State<App>) -> Result<Json<BatchList>, ApiError> {
    let (batches, total) = app.store(|store| store.batches(MOST_LISTED)).await?;
    Ok(Json(BatchList { batches: batches.into_iter().map(SavedBatch::from).collect(), total }))
}

/// `POST /api/batches`
pub(crate) async fn create(
    State(app): State<App>,
    RecordBody { record: batch, .. }: RecordBody<BatchJson, Batch>,
) -> Result<Response, ApiError> {
    let saved = SavedBatch::from(app.store(move |store| store.create_batch(&batch)).await?);
    let location = [(LOCATION, format!("/api/batches/{}", saved.id))];
    Ok((StatusCode::CREATED, location, saved).into_response())
}

/// `GET /api/batches/{id}`
pub(crate) async fn show(State(app): State<App>, Path(path): Path<IdPath>) -> Result<Response, ApiError> {
    let id = path.of(Noun::Batch)?;
    Ok(SavedBatch::from(app.store(move |store| store.batch(id)).await?).into_response())
}

/// `PUT /api/batches/{id}`
pub(crate) async fn update(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
    RecordBody { record: batch, .. }: RecordBody<BatchJson, Batch>,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Batch)?;
    let expected = if_match.required(id)?;
    let saved = app.store(move |store| store.update_batch(id, &expected, &batch)).await?;
    Ok(SavedBatch::from(saved).into_response())
}

/// `DELETE /api/batches/{id}`
pub(crate) async fn delete(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Batch)?;
    let expected = if_match.required(id)?;
    let version = app.store(move |store| store.delete_batch(id, &expected)).await?;
    Ok((StatusCode::NO_CONTENT, [(ETAG, etag(id, version))]).into_response())
}

/// How long a better plan is looked for.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Effort {
    /// Rounds of search for each paper, 0 to 1000000; 20000 if left out. With
    /// 0 the first plan is given at once.
    #[schemars(with = "Option<u64>")]
    rounds: Option<String>,
}

/// Some 100 ms a paper: past this, plans of card batches hardly get better.
const USUAL_ROUNDS: u64 = 20_000;
const MOST_ROUNDS: u64 = 1_000_000;

/// Words of a plan on its way: each better one's sums, then the plan.
enum Told {
    Sums(batch::Totals),
    Done(Result<Box<BatchPlan>, ApiError>),
}

/// Sums that wait for a slow reader; what is older is passed over.
const WAITING: usize = 4;

/// `POST /api/batches/{id}/plan`
pub(crate) async fn plan(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(effort): Params<Effort>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Batch)?;
    let rounds = match given(effort.rounds) {
        None => USUAL_ROUNDS,
        Some(text) => text
            .parse()
            .ok()
            .filter(|rounds| *rounds <= MOST_ROUNDS)
            .ok_or_else(|| field("rounds", "ask for 0 to 1000000 rounds"))?,
    };
    let place = app.planners.clone().try_acquire_owned().map_err(|_| ApiError::Busy)?;
    let base = app.store(move |store| base_of(store, id)).await?;
    let (tell, mut told) = mpsc::channel(WAITING);
    // Whoever hangs up ends the search; the best plan so far is kept all the same.
    let streamed = headers.get(ACCEPT).is_some_and(|kinds| kinds.as_bytes().starts_with(EVENTS));
    let work = tokio::spawn(async move {
        let _place = place;
        let sums = tell.clone();
        let plan = blocking(move || {
            let mut seen = |totals: &batch::Totals| match sums.try_send(Told::Sums(totals.clone())) {
                Err(mpsc::error::TrySendError::Closed(_)) => false,
                Ok(()) | Err(mpsc::error::TrySendError::Full(_)) => true,
            };
            Ok(batch::plan(&base.ground(), rounds, &mut seen).map(|plan| (base.version, plan))?)
        })
        .await;
        let kept = match plan {
            Ok((version, plan)) => {
                let kept = plan.clone();
                let kept = app.store(move |store| store.keep_plan(id, version, &kept)).await;
                kept.map(|()| Box::new(plan))
            }
            Err(error) => Err(error),
        };
        // Nobody may be listening any more.
        let _ = tell.send(Told::Done(kept)).await;
    });
    if streamed {
        let events = stream::unfold(told, |mut told| async move {
            Some((Ok::<Event, Infallible>(event_of(told.recv().await?)), told))
        });
        return Ok(Sse::new(events).into_response());
    }
    let plan = loop {
        match told.recv().await {
            Some(Told::Sums(_)) => {}
            Some(Told::Done(plan)) => break plan?,
            None => return Err(ApiError::Bug),
        }
    };
    work.await.map_err(|_| ApiError::Bug)?;
    Ok(Json(plan).into_response())
}

/// The type of a stream of events (WHATWG HTML, server-sent events).
const EVENTS: &[u8] = b"text/event-stream";

fn event_of(told: Told) -> Event {
    let event = match told {
        Told::Sums(totals) => Event::default().event("progress").json_data(totals),
        Told::Done(Ok(plan)) => Event::default().event("plan").json_data(plan),
        Told::Done(Err(error)) => Event::default().event("problem").json_data(error.to_problem()),
    };
    // Plain records always make JSON.
    event.unwrap_or_default()
}

/// What a plan stands on, out of the notebook.
struct Base {
    version: i64,
    batch: Batch,
    orders: Vec<Order>,
    stock: Vec<StoredPaper>,
}

impl Base {
    fn ground(&self) -> Ground<'_> {
        Ground { batch: &self.batch, orders: &self.orders, stock: &self.stock }
    }
}

fn base_of(store: &Store, id: i64) -> Result<Base, StoreError> {
    let StoredBatch { version, batch, .. } = store.batch(id)?;
    let orders = batch
        .layouts
        .iter()
        .map(|&(layout, cards)| order_of(store, layout, cards))
        .collect::<Result<_, _>>()?;
    Ok(Base { version, batch, orders, stock: store.papers_in_stock()? })
}

/// What so many cards of a layout ask for.
fn order_of(store: &Store, id: i64, cards: u32) -> Result<Order, StoreError> {
    let unsound = |message: String| StoreError::Record(serde::de::Error::custom(message));
    let saved = store.layout(id)?;
    let layout = Layout::try_from(saved.record).map_err(|faults| unsound(faults.to_string()))?;
    Order::of(id, saved.version, &layout, cards).map_err(|error| unsound(error.to_string()))
}

/// `GET /api/batches/{id}/plan`
pub(crate) async fn show_plan(
    State(app): State<App>,
    Path(path): Path<IdPath>,
) -> Result<Json<BatchPlan>, ApiError> {
    let id = path.of(Noun::Batch)?;
    Ok(Json(planned(&app, id).await?))
}

async fn planned(app: &App, id: i64) -> Result<BatchPlan, ApiError> {
    app.store(move |store| store.batch_plan(id)?.ok_or(StoreError::NoPlan(id))).await
}

/// The sheets of a batch.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Sheets {
    sheets: Vec<PlannedSheet>,
}

/// `GET /api/batches/{id}/sheets.json`
pub(crate) async fn sheets(
    State(app): State<App>,
    Path(path): Path<IdPath>,
) -> Result<Json<Sheets>, ApiError> {
    let id = path.of(Noun::Batch)?;
    Ok(Json(Sheets { sheets: planned(&app, id).await?.sheets }))
}

/// How cut sheets are printed.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct SheetPrint {
    /// `letter` or `a4`; if left out, letter for inch batches and A4 for metric ones.
    paper: Option<String>,
}

/// `GET /api/batches/{id}/sheets.pdf`
pub(crate) async fn sheets_pdf(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<SheetPrint>,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Batch)?;
    let paper = paper(asked.paper)?;
    let batch = app.store(move |store| store.batch(id)).await?.batch;
    let plan = planned(&app, id).await?;
    let bytes = blocking(move || {
        let title = match batch.title.trim() {
            "" => format!("Batch {id}"),
            title => title.to_owned(),
        };
        let paper = paper.unwrap_or(Paper::usual(batch.unit));
        Ok(print::pdf(&print::sheets(&plan, &title, paper), &title)?)
    })
    .await?;
    let name = format!("inline; filename=\"batch-{id}.pdf\"");
    let headers = [
        (CONTENT_TYPE, "application/pdf"),
        (CONTENT_DISPOSITION, name.as_str()),
        (CACHE_CONTROL, "no-cache"),
    ];
    Ok((headers, bytes).into_response())
}

/// Which sheet.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct SheetNumber {
    /// Its number in the plan, from 1; 1 if left out.
    #[schemars(with = "Option<u32>")]
    sheet: Option<String>,
}

/// `GET /api/batches/{id}/sheets.svg`
pub(crate) async fn sheet_svg(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<SheetNumber>,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Batch)?;
    let plan = planned(&app, id).await?;
    let number = given(asked.sheet).unwrap_or_else(|| "1".to_owned());
    let none = || field("sheet", &format!("the plan has sheets 1 to {}", plan.sheets.len()));
    let number: u32 = number.parse().map_err(|_| none())?;
    let sheet = plan.sheets.iter().find(|sheet| sheet.number == number).ok_or_else(none)?.clone();
    let svg = blocking(move || {
        let title = format!("Sheet {number}: {}", sheet.name);
        Ok(print::svg(&print::sheet_picture(&plan, &sheet), &title)?)
    })
    .await?;
    Ok(([(CONTENT_TYPE, "image/svg+xml"), (CACHE_CONTROL, "no-cache")], svg).into_response())
}

/// What cutting a batch did to the drawer.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Cut {
    /// The papers that sheets were taken of, then the offcuts that were put
    /// back, as they are now.
    papers: Vec<SavedPaper>,
    /// How many sheets were taken of each.
    taken: Vec<TakenSheets>,
    /// The layouts that were used.
    layouts: Vec<i64>,
}

/// Sheets taken out of the drawer.
#[derive(Serialize, JsonSchema)]
pub(crate) struct TakenSheets {
    /// The paper.
    paper: i64,
    /// How many.
    sheets: u32,
}

/// `PUT /api/batches/{id}/cut`
pub(crate) async fn cut(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
) -> Result<Json<Cut>, ApiError> {
    let id = path.of(Noun::Batch)?;
    let expected = if_match.required(id)?;
    let cut = app.store(move |store| {
        let Changes { taken, added, layouts } = store.cut_batch(id, &expected)?;
        let papers = taken.iter().map(|&(paper, _)| paper).chain(added);
        // What was deleted since the batch was cut is told no more.
        let papers = papers.filter_map(|paper| store.paper(paper).ok()).map(SavedPaper::from).collect();
        let taken = taken.into_iter().map(|(paper, sheets)| TakenSheets { paper, sheets }).collect();
        Ok(Cut { papers, taken, layouts })
    });
    Ok(Json(cut.await?))
}

/// `DELETE /api/batches/{id}/cut`
pub(crate) async fn uncut(State(app): State<App>, Path(path): Path<IdPath>) -> Result<StatusCode, ApiError> {
    let id = path.of(Noun::Batch)?;
    app.store(move |store| store.uncut_batch(id)).await?;
    Ok(StatusCode::NO_CONTENT)
}
