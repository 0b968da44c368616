//! The drawer: the papers a maker owns.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, LOCATION};
use axum::response::{IntoResponse, Response};
use layout::{Layout, Length, MOST_CARDS, Paper, PaperJson, PaperKind, Step, Unit, Weight};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::batch::servings;
use crate::body::{CsvBody, JsonBody, Params, RecordBody, field};
use crate::error::ApiError;
use crate::handlers::params::{IdPath, USUAL_PART, VersionPath, given, sides};
use crate::papers_csv;
use crate::precondition::{IfMatch, etag};
use crate::print;
use crate::store::{Filter, Kind, Noun, Order, PaperEntry, PaperFilter, Piece, StoredPaper, Taken};

/// A paper of the drawer: the record, and what the drawer knows about it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[schemars(title = "SavedPaper")]
pub(crate) struct SavedPaper {
    /// Its number in the drawer.
    id: i64,
    /// Which save of it this is, from 1.
    version: i64,
    /// Names this version in If-Match.
    etag: String,
    /// When it was saved: UTC, RFC 3339.
    saved_at: String,
    #[serde(flatten)]
    record: PaperJson,
}

impl From<StoredPaper> for SavedPaper {
    fn from(stored: StoredPaper) -> SavedPaper {
        let StoredPaper { id, version, saved_at, paper } = stored;
        SavedPaper { id, version, etag: etag(id, version), saved_at, record: PaperJson::from(&paper) }
    }
}

impl IntoResponse for SavedPaper {
    fn into_response(self) -> Response {
        ([(ETAG, self.etag.clone()), (CACHE_CONTROL, "no-cache".to_owned())], Json(self)).into_response()
    }
}

/// Which papers are looked for. Every condition that is given has to hold.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PaperSearch {
    /// Words that all occur in name, faces, notes or tags.
    text: Option<String>,
    /// sheet, pad, strip or offcut.
    kind: Option<String>,
    /// paper or cardstock.
    weight: Option<String>,
    /// A piece that one sheet has room for, turned or not: `4 1/4 x 5 1/2`.
    holds: Option<String>,
    /// `true` for those of which a sheet is left.
    in_stock: Option<String>,
    /// Most papers to give: 1 to 500, 50 if left out.
    #[schemars(with = "Option<u32>")]
    limit: Option<String>,
    /// Give only what comes after the paper of this id, as `next` of the part before says.
    #[schemars(with = "Option<i64>")]
    after: Option<String>,
}

const LARGEST_PART: u32 = 500;

/// A part of the drawer.
#[derive(Serialize, JsonSchema)]
pub(crate) struct PaperList {
    /// By name.
    papers: Vec<SavedPaper>,
    /// How many match in all.
    total: i64,
    /// What `after` is for the next part; null at the end.
    next: Option<i64>,
}

/// `GET /api/papers`
pub(crate) async fn list(
    State(app): State<App>,
    Params(search): Params<PaperSearch>,
) -> Result<Json<PaperList>, ApiError> {
    let mut filter = PaperFilter::try_from(search)?;
    let limit = filter.limit as usize;
    // One more than asked tells whether there is a next part.
    filter.limit += 1;
    let mut found = app.store(move |store| store.find_papers(&filter)).await?;
    let more = found.papers.len() > limit;
    found.papers.truncate(limit);
    let next = found.papers.last().map(|one| one.id).filter(|_| more);
    let papers = found.papers.into_iter().map(SavedPaper::from).collect();
    Ok(Json(PaperList { papers, total: found.total, next }))
}

/// `POST /api/papers`
pub(crate) async fn create(
    State(app): State<App>,
    RecordBody { record: paper, .. }: RecordBody<PaperJson, Paper>,
) -> Result<Response, ApiError> {
    let mut saved = app.store(move |store| store.add_papers(&[paper])).await?;
    let saved = SavedPaper::from(saved.pop().ok_or(ApiError::Bug)?);
    let location = [(LOCATION, format!("/api/papers/{}", saved.id))];
    Ok((StatusCode::CREATED, location, saved).into_response())
}

/// `GET /api/papers/{id}`
pub(crate) async fn show(State(app): State<App>, Path(path): Path<IdPath>) -> Result<Response, ApiError> {
    let id = path.of(Noun::Paper)?;
    Ok(SavedPaper::from(app.store(move |store| store.paper(id)).await?).into_response())
}

/// `PUT /api/papers/{id}`
pub(crate) async fn update(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
    RecordBody { record: paper, .. }: RecordBody<PaperJson, Paper>,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Paper)?;
    let expected = if_match.required(id)?;
    let saved = app.store(move |store| store.update_paper(id, &expected, &paper)).await?;
    Ok(SavedPaper::from(saved).into_response())
}

/// `DELETE /api/papers/{id}`
pub(crate) async fn delete(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Paper)?;
    let expected = if_match.required(id)?;
    let version = app.store(move |store| store.delete_paper(id, &expected)).await?;
    Ok((StatusCode::NO_CONTENT, [(ETAG, etag(id, version))]).into_response())
}

/// What happened to a paper, newest first.
#[derive(Serialize, JsonSchema)]
pub(crate) struct PaperHistory {
    versions: Vec<PaperVersion>,
}

/// One save, use or deletion.
#[derive(Serialize, JsonSchema)]
pub(crate) struct PaperVersion {
    /// From 1.
    version: i64,
    /// When: UTC, RFC 3339.
    saved_at: String,
    /// What happened, in words.
    why: String,
    /// Whether this is a deletion; it has no record then.
    deleted: bool,
    /// The name it had.
    name: Option<String>,
    /// How many sheets there were then.
    count: Option<u32>,
    /// Names this version in If-Match.
    etag: String,
}

/// `GET /api/papers/{id}/versions`
pub(crate) async fn versions(State(app): State<App>, Path(path): Path<IdPath>) -> Result<Response, ApiError> {
    let id = path.of(Noun::Paper)?;
    let entries = app.store(move |store| store.paper_history(id)).await?;
    let present = entries.first().map_or(0, |entry| entry.version);
    let versions = entries.into_iter().map(|entry: PaperEntry| PaperVersion {
        version: entry.version,
        saved_at: entry.saved_at,
        why: entry.why,
        deleted: entry.name.is_none(),
        name: entry.name,
        count: entry.count,
        etag: etag(id, entry.version),
    });
    Ok(([(ETAG, etag(id, present))], Json(PaperHistory { versions: versions.collect() })).into_response())
}

/// `POST /api/papers/{id}/versions/{version}/restore`
pub(crate) async fn restore(
    State(app): State<App>,
    Path(path): Path<VersionPath>,
    if_match: IfMatch,
) -> Result<Response, ApiError> {
    let (id, version) = path.of(Noun::Paper)?;
    let expected = if_match.expected(id);
    let saved = app.store(move |store| store.restore_paper(id, version, expected.as_ref())).await?;
    Ok(SavedPaper::from(saved.ok_or(ApiError::NoIfMatch)?).into_response())
}

/// Sheets that were cut by hand, and what is left of them.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct HandCut {
    /// How many sheets, 1 or more.
    sheets: u32,
    /// What goes back into the drawer.
    #[serde(default)]
    offcuts: Vec<Offcut>,
}

/// Equal leftovers of a sheet.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Offcut {
    /// Extent along the sheet's width, in the paper's unit.
    width: f64,
    /// Extent along the sheet's height.
    height: f64,
    /// How many of this size.
    #[serde(default = "one")]
    count: u32,
}

fn one() -> u32 {
    1
}

/// Most kinds of offcuts in one request.
const MOST_OFFCUTS: usize = 50;

/// Papers that were changed together.
#[derive(Serialize, JsonSchema)]
pub(crate) struct ChangedPapers {
    /// The paper that was used, then its offcuts; or all that were added.
    papers: Vec<SavedPaper>,
}

/// `POST /api/papers/{id}/cuts`
pub(crate) async fn cut(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    if_match: IfMatch,
    JsonBody(cut): JsonBody<HandCut>,
) -> Result<Response, ApiError> {
    let id = path.of(Noun::Paper)?;
    let expected = if_match.required(id)?;
    if cut.sheets == 0 {
        return Err(field("sheets", "say how many sheets were cut, 1 or more"));
    }
    if cut.offcuts.len() > MOST_OFFCUTS {
        return Err(field("offcuts", "put at most 50 sizes of offcuts back at a time"));
    }
    let paper = app.store(move |store| store.paper(id)).await?.paper;
    let offcuts = cut.offcuts.iter().enumerate();
    let offcuts =
        offcuts.map(|(index, offcut)| offcut_of(offcut, &format!("offcuts[{index}]"), &paper, cut.sheets));
    let offcuts = offcuts.collect::<Result<Vec<_>, _>>()?;
    let taken = Taken { paper: id, sheets: cut.sheets, offcuts };
    let why = format!(
        "{} cut by hand",
        if cut.sheets == 1 { "1 sheet".to_owned() } else { format!("{} sheets", cut.sheets) }
    );
    let changed = app.store(move |store| store.cut_by_hand(&taken, &expected, &why)).await?;
    let papers: Vec<SavedPaper> = changed.into_iter().map(SavedPaper::from).collect();
    let tag = papers.first().map_or_else(|| etag(id, 0), |paper| paper.etag.clone());
    Ok(([(ETAG, tag)], Json(ChangedPapers { papers })).into_response())
}

fn offcut_of(
    offcut: &Offcut,
    at: &str,
    paper: &Paper,
    sheets: u32,
) -> Result<(Length, Length, u32), ApiError> {
    let side = |name: &str, value: f64, whole: Length| {
        let at = format!("{at}.{name}");
        let length = Length::exact(value, paper.unit, Step::Position)
            .map_err(|error| field(&at, &error.to_string()))?;
        if length <= Length::ZERO || length > whole {
            return Err(field(
                &at,
                &format!("an offcut of this paper measures up to {}", whole.show(paper.unit)),
            ));
        }
        Ok(length)
    };
    let [width, height] =
        [side("width", offcut.width, paper.width)?, side("height", offcut.height, paper.height)?];
    if offcut.count == 0 {
        return Err(field(&format!("{at}.count"), "say how many of this size go back, 1 or more"));
    }
    let area = |w: Length, h: Length| w.value(Unit::Millimetre) * h.value(Unit::Millimetre);
    if area(width, height) * f64::from(offcut.count) > area(paper.width, paper.height) * f64::from(sheets) {
        return Err(field(&format!("{at}.count"), "that is more paper than the sheets had"));
    }
    Ok((width, height, offcut.count))
}

/// How many cards are thought of.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct ServingsAsked {
    /// 1 to 1000; 4 if left out.
    #[schemars(with = "Option<u32>")]
    cards: Option<String>,
}

/// Layouts with parts that a paper serves.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Servings {
    /// Those of most cards first, at most 100.
    layouts: Vec<LayoutServed>,
}

/// A layout with parts that a paper serves.
#[derive(Serialize, JsonSchema)]
pub(crate) struct LayoutServed {
    id: i64,
    title: String,
    /// For how many cards the paper is enough, at most as many as were asked for.
    cards: u32,
    /// Which parts, in words.
    parts: Vec<String>,
}

/// Most layouts that are told: the page of a drawer shows no more.
const MOST_SERVED: usize = 100;
/// Most layouts that are looked at: planning each takes a part of a millisecond.
const MOST_LOOKED_AT: u32 = 2_000;

/// `GET /api/papers/{id}/layouts`
pub(crate) async fn layouts(
    State(app): State<App>,
    Path(path): Path<IdPath>,
    Params(asked): Params<ServingsAsked>,
) -> Result<Json<Servings>, ApiError> {
    let id = path.of(Noun::Paper)?;
    let cards = given(asked.cards).map(|text| {
        let cards = text.parse().ok().filter(|cards| (1..=MOST_CARDS).contains(cards));
        cards.ok_or_else(|| field("cards", "ask for 1 to 1000 cards"))
    });
    let cards = cards.transpose()?.unwrap_or(4);
    let served = app.store(move |store| {
        let paper = store.paper(id)?.paper;
        let narrow = paper.width.min(paper.height);
        let filter = Filter {
            pieces: vec![Piece { kind: Kind::Any, at_most: Some(narrow), ..Piece::default() }],
            order: Order::MostUsed,
            limit: MOST_LOOKED_AT,
            ..Filter::default()
        };
        let mut served: Vec<LayoutServed> = Vec::new();
        for found in store.find_layouts(&filter)?.layouts {
            let id = found.saved.id;
            let Ok(layout) = Layout::try_from(found.saved.record) else { continue };
            let parts = servings(&paper, &layout, cards);
            let Some(most) = parts.iter().map(|part| part.cards).max() else { continue };
            let words = parts.into_iter().map(|part| part.words).collect();
            let title = print::title_words(&layout);
            served.push(LayoutServed { id, title, cards: most, parts: words });
            let whole = served.iter().filter(|one| one.cards == cards).count();
            if whole == MOST_SERVED {
                break;
            }
        }
        served.sort_by_key(|one| std::cmp::Reverse(one.cards));
        served.truncate(MOST_SERVED);
        Ok(Servings { layouts: served })
    });
    Ok(Json(served.await?))
}

/// `GET /api/papers.csv`
pub(crate) async fn table(State(app): State<App>) -> Result<Response, ApiError> {
    let filter = PaperFilter { limit: u32::MAX, ..PaperFilter::default() };
    let found = app.store(move |store| store.find_papers(&filter)).await?;
    let bytes = papers_csv::write(found.papers.iter().map(|one| &one.paper)).map_err(|_| ApiError::Bug)?;
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8"),
        (CONTENT_DISPOSITION, "attachment; filename=\"papers.csv\""),
        (CACHE_CONTROL, "no-cache"),
    ];
    Ok((headers, bytes).into_response())
}

/// `POST /api/papers.csv`
pub(crate) async fn add_table(
    State(app): State<App>,
    CsvBody(bytes): CsvBody,
) -> Result<(StatusCode, Json<ChangedPapers>), ApiError> {
    let papers = papers_csv::read(&bytes).map_err(ApiError::Faults)?;
    let saved = app.store(move |store| store.add_papers(&papers)).await?;
    Ok((
        StatusCode::CREATED,
        Json(ChangedPapers { papers: saved.into_iter().map(SavedPaper::from).collect() }),
    ))
}

impl TryFrom<PaperSearch> for PaperFilter {
    type Error = ApiError;

    fn try_from(search: PaperSearch) -> Result<PaperFilter, ApiError> {
        let kind = given(search.kind)
            .map(|word| {
                let found = PaperKind::WORDS.iter().find(|(name, _)| name.eq_ignore_ascii_case(&word));
                found
                    .map(|&(_, kind)| kind)
                    .ok_or_else(|| field("kind", "a kind is sheet, pad, strip or offcut"))
            })
            .transpose()?;
        let weight = given(search.weight)
            .map(|word| match word.to_lowercase().as_str() {
                "paper" => Ok(Weight::Paper),
                "cardstock" => Ok(Weight::Cardstock),
                _ => Err(field("weight", "a weight is paper or cardstock")),
            })
            .transpose()?;
        let limit = given(search.limit).map(|text| {
            let limit = text.parse().ok().filter(|limit| (1..=LARGEST_PART).contains(limit));
            limit.ok_or_else(|| field("limit", "ask for 1 to 500 papers at a time"))
        });
        Ok(PaperFilter {
            text: given(search.text).unwrap_or_default(),
            kind,
            weight,
            holds: given(search.holds).map(|text| sides("holds", &text)).transpose()?,
            in_stock: given(search.in_stock)
                .map(|text| text.parse().map_err(|_| field("in_stock", "say true or false")))
                .transpose()?
                .unwrap_or_default(),
            limit: limit.transpose()?.unwrap_or(USUAL_PART),
            after: given(search.after)
                .map(|text| text.parse().map_err(|_| field("after", "give the `next` of the part before")))
                .transpose()?,
        })
    }
}
