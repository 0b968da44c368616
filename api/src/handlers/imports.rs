//! Imports: many files in one go, watched while they are read.

use std::collections::VecDeque;
use std::convert::Infallible;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION};
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use layout::Card;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use tokio::sync::watch;

use crate::app::{App, blocking};
use crate::body::{JsonBody, Params, field};
use crate::error::ApiError;
use crate::handlers::params::{given, number};
use crate::import::{self, Counts, FileResult, ImportState};
use crate::store::{Noun, Store, StoreError, StoredImport};
use crate::upload::{Files, keep_files};

/// An import, and how far it is.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Import")]
pub(crate) struct ImportJson {
    /// Its number.
    id: i64,
    /// How far it is.
    state: ImportState,
    /// Whether more files may be sent.
    open: bool,
    /// The card where nothing else tells.
    card: Option<String>,
    /// Cards that a drawing may be meant for; its outline tells which.
    cards: Vec<String>,
    /// When it began: UTC, RFC 3339.
    made_at: String,
    /// When it ended, if it did.
    finished_at: Option<String>,
    /// What came of its files so far.
    counts: Counts,
}

impl ImportJson {
    fn of(store: &Store, stored: StoredImport) -> Result<ImportJson, StoreError> {
        let counts = store.import_counts(stored.id)?;
        let StoredImport { id, state, open, rule, made_at, finished_at } = stored;
        Ok(ImportJson { id, state, open, card: rule.usual, cards: rule.among, made_at, finished_at, counts })
    }
}

/// The imports of the notebook.
#[derive(Serialize, JsonSchema)]
pub(crate) struct ImportList {
    /// The newest first, at most 50.
    imports: Vec<ImportJson>,
    /// How many there are in all.
    total: i64,
}

/// Most imports in one list.
const MOST_LISTED: u32 = 50;

/// Which import.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct ImportPath {
    /// The import's number.
    id: String,
}

impl ImportPath {
    fn number(&self) -> Result<i64, ApiError> {
        self.id.parse().map_err(|_| StoreError::NoImport(self.id.chars().take(30).collect()).into())
    }
}

/// `GET /api/imports`
pub(crate) async fn list(State(app): State<App>) -> Result<Json<ImportList>, ApiError> {
    let list = app.store(|store| {
        let (imports, total) = store.imports(MOST_LISTED)?;
        let imports =
            imports.into_iter().map(|import| ImportJson::of(store, import)).collect::<Result<_, _>>()?;
        Ok(ImportList { imports, total })
    });
    list.await.map(Json)
}

/// `POST /api/imports`
pub(crate) async fn create(State(app): State<App>, files: Files) -> Result<Response, ApiError> {
    let created = app.store(move |store| ImportJson::of(store, keep_files(store, files, None)?)).await?;
    app.importer.wake();
    let location = [(LOCATION, format!("/api/imports/{}", created.id))];
    Ok((StatusCode::ACCEPTED, location, Json(created)).into_response())
}

/// `POST /api/imports/{id}/files`
pub(crate) async fn add_files(
    State(app): State<App>,
    Path(path): Path<ImportPath>,
    files: Files,
) -> Result<Response, ApiError> {
    let id = path.number()?;
    let import = app.store(move |store| ImportJson::of(store, keep_files(store, files, Some(id))?)).await?;
    app.importer.wake();
    Ok((StatusCode::ACCEPTED, Json(import)).into_response())
}

/// `GET /api/imports/{id}`
pub(crate) async fn show(
    State(app): State<App>,
    Path(path): Path<ImportPath>,
) -> Result<Json<ImportJson>, ApiError> {
    let id = path.number()?;
    app.store(move |store| ImportJson::of(store, store.import(id)?)).await.map(Json)
}

/// What is to happen with an import; what is left out stays as it is.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "ImportChange")]
pub(crate) struct ImportChange {
    /// `paused`, `running` to resume, or `canceled`.
    state: Option<String>,
    /// `false` when no more files will be sent.
    open: Option<bool>,
    /// The card of the files that wait for one.
    card: Option<String>,
}

/// `PATCH /api/imports/{id}`
pub(crate) async fn change(
    State(app): State<App>,
    Path(path): Path<ImportPath>,
    JsonBody(change): JsonBody<ImportChange>,
) -> Result<Json<ImportJson>, ApiError> {
    let id = path.number()?;
    let state = match change.state.as_deref().map(ImportState::of_word) {
        None => None,
        Some(Some(state)) if state != ImportState::Done => Some(state),
        Some(_) => return Err(field("state", "the state is `running`, `paused` or `canceled`")),
    };
    let card: Option<Card> = change.card.as_deref().map(str::parse).transpose()?;
    if change.open == Some(true) {
        return Err(field("open", "an import is opened when it is begun; afterwards it can only be closed"));
    }
    let closes = change.open.is_some();
    let changed = app.store(move |store| {
        store.import(id)?;
        if let Some(state) = state {
            store.set_import_state(id, state)?;
        }
        if closes {
            store.close_import(id)?;
        }
        if let Some(card) = card {
            store.say_card(id, &card.name)?;
        }
        ImportJson::of(store, store.import(id)?)
    });
    let changed = changed.await?;
    app.importer.wake();
    Ok(Json(changed))
}

/// Which outcomes.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct Which {
    /// Only outcomes after the one with this sequence number.
    #[schemars(with = "Option<i64>")]
    after: Option<String>,
    /// At most so many, 1 to 500; 100 if left out.
    #[schemars(with = "Option<u32>")]
    limit: Option<String>,
}

/// Outcomes of an import.
#[derive(Serialize, JsonSchema)]
pub(crate) struct ImportedFiles {
    /// In the order they came.
    files: Vec<FileResult>,
}

const USUAL_LIMIT: u32 = 100;
const MOST_RESULTS: u32 = 500;

/// `GET /api/imports/{id}/files`
pub(crate) async fn files(
    State(app): State<App>,
    Path(path): Path<ImportPath>,
    Params(which): Params<Which>,
) -> Result<Json<ImportedFiles>, ApiError> {
    let id = path.number()?;
    let after = number("after", given(which.after), 0..=i64::MAX)?.unwrap_or(0);
    let limit = number("limit", given(which.limit), 1..=MOST_RESULTS)?.unwrap_or(USUAL_LIMIT);
    let files = app.store(move |store| store.import_results(id, after, limit)).await?;
    Ok(Json(ImportedFiles { files }))
}

/// `GET /api/imports/{id}/report.csv`
pub(crate) async fn report(
    State(app): State<App>,
    Path(path): Path<ImportPath>,
) -> Result<Response, ApiError> {
    let id = path.number()?;
    let results = app.store(move |store| store.all_import_results(id)).await?;
    let bytes = blocking(move || import::csv(&results).map_err(|_| ApiError::Bug)).await?;
    let name = format!("attachment; filename=\"import-{id}.csv\"");
    let headers = [(CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()), (CONTENT_DISPOSITION, name)];
    Ok((headers, bytes).into_response())
}

/// What a person says of two layouts.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Alike")]
pub(crate) struct Alike {
    /// Whether they are the same. The newer one is deleted then; its versions stay.
    same: bool,
}

/// Which layout of which import.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct AlikePath {
    /// The import's number.
    id: String,
    /// The number of the layout that came of it.
    layout: String,
}

/// `PUT /api/imports/{id}/alike/{layout}`
pub(crate) async fn settle_alike(
    State(app): State<App>,
    Path(AlikePath { id, layout }): Path<AlikePath>,
    JsonBody(Alike { same }): JsonBody<Alike>,
) -> Result<Json<ImportJson>, ApiError> {
    let id = ImportPath { id }.number()?;
    let layout: i64 =
        layout.parse().map_err(|_| StoreError::Missing(Noun::Layout, layout.chars().take(30).collect()))?;
    let changed = app.store(move |store| {
        store.settle_alike(id, layout, same)?;
        ImportJson::of(store, store.import(id)?)
    });
    let changed = changed.await?;
    app.importer.wake();
    Ok(Json(changed))
}

const LAST_EVENT_ID: HeaderName = HeaderName::from_static("last-event-id");

/// `GET /api/imports/{id}/events`
pub(crate) async fn events(
    State(app): State<App>,
    Path(path): Path<ImportPath>,
    Params(which): Params<Which>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let id = path.number()?;
    app.store(move |store| store.import(id)).await?;
    // A browser that lost its connection says which event it saw last.
    let seen = headers.get(LAST_EVENT_ID).and_then(|value| value.to_str().ok()?.parse().ok());
    let after = match seen {
        Some(after) => after,
        None => number("after", given(which.after), 0..=i64::MAX)?.unwrap_or(0),
    };
    let changes = app.importer.watch();
    let feed = Feed { app, id, after, told: None, waiting: VecDeque::new(), changes, over: false };
    let events = stream::unfold(feed, |mut feed| async move {
        let event = feed.next().await?;
        Some((Ok::<Event, Infallible>(event), feed))
    });
    let stream = Sse::new(events).keep_alive(KeepAlive::default());
    Ok(([(CACHE_CONTROL, "no-store")], stream).into_response())
}

/// What someone who watches an import is told next.
struct Feed {
    app: App,
    id: i64,
    /// Sequence number of the last file told.
    after: i64,
    /// The import as it was told last.
    told: Option<ImportJson>,
    waiting: VecDeque<Event>,
    changes: watch::Receiver<u64>,
    over: bool,
}

/// Files told between two looks at the whole.
const AT_ONCE: u32 = 50;

impl Feed {
    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.waiting.pop_front() {
                return Some(event);
            }
            if self.over || self.app.importer.is_ending() {
                return None;
            }
            self.changes.mark_unchanged();
            let (id, after) = (self.id, self.after);
            let now = self.app.store(move |store| {
                let files = store.import_results(id, after, AT_ONCE)?;
                Ok((files, ImportJson::of(store, store.import(id)?)?))
            });
            // Whoever watches connects again.
            let (files, import) = now.await.ok()?;
            let all = files.len() < AT_ONCE as usize;
            for file in files {
                self.after = file.sequence;
                let event = Event::default().event("file").id(file.sequence.to_string()).json_data(&file);
                self.waiting.extend(event.ok());
            }
            self.over = all && import.state.has_ended();
            if self.told.as_ref() != Some(&import) {
                self.waiting.extend(Event::default().event("import").json_data(&import).ok());
                self.told = Some(import);
            }
            if self.waiting.is_empty() && !self.over && self.changes.changed().await.is_err() {
                return None;
            }
        }
    }
}
