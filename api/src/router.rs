//! The index of the service: every route, what it answers and the problems
//! it can end with.

use aide::axum::ApiRouter;
use aide::axum::routing::{delete_with, get_with, patch_with, post_with, put_with};
use aide::openapi::{Info, OpenApi};
use axum::extract::DefaultBodyLimit;
use axum::http::{Method, Uri};
use axum::response::IntoResponse;
use axum::{Extension, Router, middleware};
use tower_http::catch_panic::CatchPanicLayer;

use crate::app::App;
use crate::batch::BatchPlan;
use crate::body::JSON_LIMIT;
use crate::error::{ApiError, write_problems};
use crate::handlers::PhotoJson;
use crate::handlers::about::{self, Cards, Health};
use crate::handlers::batches::{self, BatchList, Cut, SavedBatch, Sheets};
use crate::handlers::drawings;
use crate::handlers::imports::{self, ImportJson, ImportList, ImportedFiles};
use crate::handlers::layouts::{self, History, SavedLayout};
use crate::handlers::pairing::{self, DeviceJson, PairingJson};
use crate::handlers::papers::{self, ChangedPapers, PaperHistory, PaperList, SavedPaper, Servings};
use crate::handlers::photos::{self, Reading};
use crate::handlers::pieces;
use crate::handlers::search::{self, LayoutList, Tags};
use crate::handlers::settle::{self, Settled};
use crate::handlers::shelf::{self, Done, ShelfJson};
use crate::openapi::{self, Document, ETAG, JSON, LOCATION, SET_COOKIE, Success, describe};
use crate::upload::REQUEST_LIMIT;
use crate::{door, guard, page};

const OK: Success = Success { status: 200, media: JSON, headers: &[] };
const OK_TAGGED: Success = Success { status: 200, media: JSON, headers: &[ETAG] };
const CREATED: Success = Success { status: 201, media: JSON, headers: &[LOCATION] };
const CREATED_TAGGED: Success = Success { status: 201, media: JSON, headers: &[LOCATION, ETAG] };
const PAIRED: Success = Success { status: 201, media: JSON, headers: &[SET_COOKIE] };
const DELETED: Success = Success { status: 204, media: "", headers: &[ETAG] };
const GONE: Success = Success { status: 204, media: "", headers: &[] };
const JPEG: Success = Success { status: 200, media: "image/jpeg", headers: &[ETAG] };
const SVG: Success = Success { status: 200, media: "image/svg+xml", headers: &[ETAG] };
const PNG: Success = Success { status: 200, media: "image/png", headers: &[ETAG] };
const CSV: Success = Success { status: 200, media: "text/csv", headers: &[] };
const ADDED: Success = Success { status: 201, media: JSON, headers: &[] };
const CSV_TAGGED: Success = Success { status: 200, media: "text/csv", headers: &[ETAG] };
const EVENTS: Success = Success { status: 200, media: "text/event-stream", headers: &[] };
const TAKEN: Success = Success { status: 202, media: JSON, headers: &[LOCATION] };
const TAKEN_TOO: Success = Success { status: 202, media: JSON, headers: &[] };
const SVG_ONCE: Success = Success { status: 200, media: "image/svg+xml", headers: &[] };
const PDF: Success = Success { status: 200, media: "application/pdf", headers: &[] };
const PDF_TAGGED: Success = Success { status: 200, media: "application/pdf", headers: &[ETAG] };

/// The whole service.
pub(crate) fn router(app: &App) -> Result<Router, serde_json::Error> {
    // Room for the largest photo and the form around it; JSON bodies check their own, lower limit.
    let body_limit = app.photo_limit.max(JSON_LIMIT) + 100_000;
    let mut document = OpenApi {
        info: Info {
            title: "eighths".to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            description: Some(
                "Photos of card layouts in, measured layouts out, and the notebook that keeps them. \
                 Lengths are numbers in the record's `unit`: a sixteenth of an inch is exact."
                    .to_owned(),
            ),
            ..Info::default()
        },
        ..OpenApi::default()
    };
    let routes = routes().merge(import_routes()).merge(pairing_routes()).finish_api(&mut document);
    openapi::add_common_problems(&mut document);
    let document = Document::new(&document)?;
    let router = routes
        .fallback(page::file)
        .method_not_allowed_fallback(method_not_allowed)
        .layer(Extension(document))
        .layer(DefaultBodyLimit::max(body_limit))
        .layer(CatchPanicLayer::custom(|_| ApiError::Bug.into_response()))
        .layer(middleware::from_fn_with_state(app.clone(), door::admit))
        .layer(middleware::from_fn_with_state(app.clone(), guard::check))
        .layer(middleware::from_fn(write_problems))
        .layer(middleware::from_fn(guard::add_headers))
        .with_state(app.clone());
    Ok(router)
}

fn routes() -> ApiRouter<App> {
    ApiRouter::new()
        .api_route(
            "/api/photos",
            post_with(photos::add, |op| {
                let problems = &[400, 413, 415, 422, 503];
                describe::<Reading>(op, "Keep a photo and read it", &CREATED, problems).description(
                    "Nothing is saved as a layout yet. A photo on which no layout is found is kept all the \
                     same: the problem names it in `photo`, so that it can be read again with corners \
                     shown by hand.",
                )
            }),
        )
        .api_route(
            "/api/photos/{id}",
            get_with(photos::show, |op| {
                describe::<String>(
                    op,
                    "The picture, upright and sized for the screen",
                    &JPEG,
                    &[400, 404, 503],
                )
            }),
        )
        .api_route(
            "/api/photos/{id}/size",
            get_with(photos::size, |op| {
                describe::<PhotoJson>(op, "A photo's size, the right way up", &OK, &[404])
            }),
        )
        .api_route(
            "/api/photos/{id}/read",
            post_with(photos::read_again, |op| {
                let summary = "Read a photo again with other corners, card or frame";
                describe::<Reading>(op, summary, &OK, &[400, 404, 413, 415, 422, 503])
            }),
        )
        .api_route(
            "/api/layouts",
            get_with(search::list, |op| describe::<LayoutList>(op, "Find saved layouts", &OK, &[400, 422]))
                .merge(post_with(layouts::create, |op| {
                    describe::<SavedLayout>(op, "Save a new layout", &CREATED_TAGGED, &[400, 413, 415, 422])
                })),
        )
        .api_route(
            "/api/layouts/{id}",
            get_with(layouts::show, |op| describe::<SavedLayout>(op, "A saved layout", &OK_TAGGED, &[404]))
                .merge(put_with(layouts::update, |op| {
                    let problems = &[400, 404, 412, 413, 415, 422, 428];
                    describe::<SavedLayout>(op, "Save the next version of a layout", &OK_TAGGED, problems)
                }))
                .merge(delete_with(layouts::delete, |op| {
                    let summary = "Delete a layout; its versions stay";
                    describe::<()>(op, summary, &DELETED, &[400, 404, 412, 428])
                })),
        )
        .api_route(
            "/api/layouts/{id}/versions",
            get_with(layouts::versions, |op| {
                describe::<History>(op, "Every saved version, newest first", &OK_TAGGED, &[404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/versions/{version}",
            get_with(layouts::version, |op| {
                describe::<SavedLayout>(op, "One version of a layout", &OK_TAGGED, &[404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/versions/{version}/restore",
            post_with(layouts::restore, |op| {
                let summary =
                    "Save an earlier version again as the newest; a deleted layout needs no If-Match";
                describe::<SavedLayout>(op, summary, &OK_TAGGED, &[400, 404, 412, 428])
            }),
        )
        .api_route(
            "/api/layouts/{id}/drawing.svg",
            get_with(drawings::svg, |op| {
                describe::<String>(op, "The drawing, at true scale", &SVG, &[400, 404])
            }),
        )
        .api_route(
            "/api/settle",
            post_with(settle::again, |op| {
                let summary = "Settle a layout again with what a person has decided held fast";
                describe::<Settled>(op, summary, &OK, &[400, 413, 415, 422]).description(
                    "Nothing is saved. Needs `capture.measured` in the record, as a reading gives it; \
                     elements without it stay as they are.",
                )
            }),
        )
        .api_route(
            "/api/layouts/{id}/drawing.pdf",
            get_with(drawings::pdf, |op| {
                let summary = "The measured drawing for the printer, at true scale with a bar to check it";
                describe::<String>(op, summary, &PDF_TAGGED, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/drawing.png",
            get_with(drawings::png, |op| {
                describe::<String>(op, "The measured drawing as a picture for a message", &PNG, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/versions/{version}/drawing.svg",
            get_with(drawings::version_svg, |op| {
                describe::<String>(op, "The drawing of one version", &SVG, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/versions/{version}/drawing.png",
            get_with(drawings::version_png, |op| {
                describe::<String>(op, "The drawing of one version as a picture", &PNG, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/print.pdf",
            get_with(drawings::print, |op| {
                let summary = "Several layouts on paper: one to a page, measured, or many small ones";
                describe::<String>(op, summary, &PDF, &[400, 404])
            }),
        )
        .api_route(
            "/api/papers",
            get_with(papers::list, |op| describe::<PaperList>(op, "Find papers of the drawer", &OK, &[400]))
                .merge(post_with(papers::create, |op| {
                    let summary = "Put a new paper into the drawer";
                    describe::<SavedPaper>(op, summary, &CREATED_TAGGED, &[400, 413, 415, 422])
                })),
        )
        .api_route(
            "/api/papers.csv",
            get_with(papers::table, |op| describe::<String>(op, "The drawer as a table", &CSV, &[])).merge(
                post_with(papers::add_table, |op| {
                    let summary = "Put the papers of a table into the drawer, all or none";
                    describe::<ChangedPapers>(op, summary, &ADDED, &[413, 415, 422])
                }),
            ),
        )
        .api_route(
            "/api/papers/{id}",
            get_with(papers::show, |op| describe::<SavedPaper>(op, "A paper", &OK_TAGGED, &[404]))
                .merge(put_with(papers::update, |op| {
                    let problems = &[400, 404, 412, 413, 415, 422, 428];
                    describe::<SavedPaper>(op, "Save the next version of a paper", &OK_TAGGED, problems)
                }))
                .merge(delete_with(papers::delete, |op| {
                    let summary = "Take a paper out of the drawer; its versions stay";
                    describe::<()>(op, summary, &DELETED, &[400, 404, 412, 428])
                })),
        )
        .api_route(
            "/api/papers/{id}/versions",
            get_with(papers::versions, |op| {
                let summary = "What happened to a paper, newest first";
                describe::<PaperHistory>(op, summary, &OK_TAGGED, &[404])
            }),
        )
        .api_route(
            "/api/papers/{id}/versions/{version}/restore",
            post_with(papers::restore, |op| {
                let summary =
                    "Save an earlier version again as the newest; a deleted paper needs no If-Match";
                describe::<SavedPaper>(op, summary, &OK_TAGGED, &[400, 404, 412, 428])
            }),
        )
        .api_route(
            "/api/papers/{id}/layouts",
            get_with(papers::layouts, |op| {
                let summary = "Which layouts have parts that can be cut from this paper";
                describe::<Servings>(op, summary, &OK, &[400, 404])
            }),
        )
        .api_route(
            "/api/papers/{id}/cuts",
            post_with(papers::cut, |op| {
                let summary = "Take sheets that were cut by hand, and put their offcuts back";
                let problems = &[400, 404, 409, 412, 413, 415, 428];
                describe::<ChangedPapers>(op, summary, &OK_TAGGED, problems)
            }),
        )
        .api_route(
            "/api/batches",
            get_with(batches::list, |op| describe::<BatchList>(op, "The batches", &OK, &[])).merge(post_with(
                batches::create,
                |op| {
                    let problems = &[400, 404, 413, 415, 422];
                    describe::<SavedBatch>(op, "Begin a batch of cards", &CREATED_TAGGED, problems)
                },
            )),
        )
        .api_route(
            "/api/batches/{id}",
            get_with(batches::show, |op| describe::<SavedBatch>(op, "A batch", &OK_TAGGED, &[404]))
                .merge(put_with(batches::update, |op| {
                    let problems = &[400, 404, 409, 412, 413, 415, 422, 428];
                    describe::<SavedBatch>(op, "Save the next version of a batch", &OK_TAGGED, problems)
                }))
                .merge(delete_with(batches::delete, |op| {
                    let summary = "Delete a batch; what was cut stays cut";
                    describe::<()>(op, summary, &DELETED, &[400, 404, 412, 428])
                })),
        )
        .api_route(
            "/api/batches/{id}/plan",
            get_with(batches::show_plan, |op| {
                describe::<BatchPlan>(op, "The plan of a batch as it is now", &OK, &[404, 409])
            })
            .merge(post_with(batches::plan, |op| {
                let summary = "Choose papers where none are chosen, and plan the sheets";
                describe::<BatchPlan>(op, summary, &OK, &[400, 404, 422, 503]).description(
                    "Asked for `text/event-stream`, it tells the sums of each better plan as an event                      `progress` and ends with the event `plan`, or `problem`. Whoever hangs up ends the search;                      the best plan so far is kept.",
                )
            })),
        )
        .api_route(
            "/api/batches/{id}/sheets.json",
            get_with(batches::sheets, |op| {
                describe::<Sheets>(op, "How each sheet is cut", &OK, &[404, 409])
            }),
        )
        .api_route(
            "/api/batches/{id}/sheets.pdf",
            get_with(batches::sheets_pdf, |op| {
                let summary = "The cut sheets for the printer: numbered cuts, settings, letters";
                describe::<String>(op, summary, &PDF, &[400, 404, 409])
            }),
        )
        .api_route(
            "/api/batches/{id}/sheets.svg",
            get_with(batches::sheet_svg, |op| {
                describe::<String>(op, "The drawing of one sheet", &SVG_ONCE, &[400, 404, 409])
            }),
        )
        .api_route(
            "/api/batches/{id}/cut",
            put_with(batches::cut, |op| {
                let summary = "Say that a batch is cut: its paper leaves the drawer, offcuts go back";
                describe::<Cut>(op, summary, &OK, &[400, 404, 409, 412, 428])
                    .description("Said again, nothing more changes.")
            })
            .merge(delete_with(batches::uncut, |op| {
                let summary = "Take the cutting back, as long as its offcuts are untouched";
                describe::<()>(op, summary, &GONE, &[404, 409])
            })),
        )
        .api_route(
            "/api/layouts/{id}/pieces",
            get_with(pieces::show, |op| {
                let summary = "What to cut for so many cards, with advice, the order of assembly and the envelope";
                describe::<layout::MakingJson>(op, summary, &OK_TAGGED, &[400, 404]).description(
                    "`format=csv` gives the pieces as comma-separated values, `format=pdf` a cut list to print, as \
                     `pieces.csv` and `pieces.pdf` do.",
                )
            }),
        )
        .api_route(
            "/api/layouts/{id}/pieces.csv",
            get_with(pieces::csv, |op| {
                describe::<String>(op, "The pieces for a spreadsheet", &CSV_TAGGED, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/pieces.pdf",
            get_with(pieces::pdf, |op| {
                describe::<String>(op, "The cut list for the printer", &PDF_TAGGED, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/assembly.pdf",
            get_with(pieces::assembly, |op| {
                let summary = "How a card is put together, and its envelope, for the printer";
                describe::<String>(op, summary, &PDF_TAGGED, &[400, 404])
            }),
        )
        .api_route(
            "/api/layouts/{id}/favourite",
            put_with(shelf::mark, |op| {
                describe::<ShelfJson>(
                    op,
                    "Mark a layout as a favourite; its record stays as it is",
                    &OK,
                    &[404],
                )
            })
            .merge(delete_with(shelf::unmark, |op| {
                describe::<ShelfJson>(op, "Take the mark of a favourite away", &OK, &[404])
            })),
        )
        .api_route(
            "/api/layouts/{id}/uses",
            post_with(shelf::add_use, |op| {
                let summary = "Note that a layout was used for a set of cards just now";
                describe::<ShelfJson>(op, summary, &OK, &[404])
            })
            .merge(delete_with(shelf::take_use_back, |op| {
                describe::<ShelfJson>(op, "Take the last use of a layout back", &OK, &[404])
            })),
        )
        .api_route(
            "/api/layouts/tags",
            post_with(shelf::tag, |op| {
                let summary = "Give several layouts tags and take others away, all or nothing";
                describe::<Done>(op, summary, &OK, &[400, 404, 413, 415, 422])
            }),
        )
        .api_route(
            "/api/layouts/deletions",
            post_with(shelf::delete, |op| {
                let summary = "Delete several layouts, all or nothing; their versions stay";
                describe::<Done>(op, summary, &OK, &[400, 404, 413, 415])
            }),
        )
        .api_route(
            "/api/layouts/restorations",
            post_with(shelf::bring_back, |op| {
                let summary = "Bring several deleted layouts back as they last were, all or nothing";
                describe::<Done>(op, summary, &OK, &[400, 404, 413, 415])
            }),
        )
        .api_route(
            "/api/tags",
            get_with(search::tags, |op| describe::<Tags>(op, "The tags of the notebook", &OK, &[])),
        )
        .api_route(
            "/api/cards",
            get_with(about::cards, |op| describe::<Cards>(op, "The cards that have a name", &OK, &[])),
        )
        .api_route(
            "/api/health",
            get_with(about::health, |op| describe::<Health>(op, "Whether the service is up", &OK, &[])),
        )
        .api_route(
            "/api/openapi.json",
            get_with(openapi::document, |op| {
                describe::<serde_json::Value>(op, "This description of the interface", &OK, &[])
            }),
        )
}

/// Many files in one go.
fn import_routes() -> ApiRouter<App> {
    let sending = ApiRouter::new()
        .api_route(
            "/api/imports",
            post_with(imports::create, |op| {
                let summary = "Begin an import of many files, or of a zip archive of them";
                describe::<ImportJson>(op, summary, &TAKEN, &[400, 413, 415, 422, 503])
            }),
        )
        .api_route(
            "/api/imports/{id}/files",
            post_with(imports::add_files, |op| {
                let summary = "Send more files to an import that is open";
                describe::<ImportJson>(op, summary, &TAKEN_TOO, &[400, 404, 409, 413, 415, 422, 503])
            }),
        )
        .layer(DefaultBodyLimit::max(REQUEST_LIMIT));
    ApiRouter::new()
        .api_route(
            "/api/imports",
            get_with(imports::list, |op| describe::<ImportList>(op, "The imports, newest first", &OK, &[])),
        )
        .api_route(
            "/api/imports/{id}",
            get_with(imports::show, |op| describe::<ImportJson>(op, "An import", &OK, &[404])).merge(patch_with(
                imports::change,
                |op| {
                    let summary = "Pause, resume or give up an import, close it, or say which card its files are for";
                    describe::<ImportJson>(op, summary, &OK, &[400, 404, 409, 413, 415, 422])
                },
            )),
        )
        .api_route(
            "/api/imports/{id}/files",
            get_with(imports::files, |op| {
                let summary = "What came of the files of an import, in the order it was known";
                describe::<ImportedFiles>(op, summary, &OK, &[400, 404])
            }),
        )
        .api_route(
            "/api/imports/{id}/events",
            get_with(imports::events, |op| {
                let summary = "The same as events while it happens: `file` for each file, `import` for the whole. \
                               A Last-Event-ID goes on after that file";
                describe::<String>(op, summary, &EVENTS, &[400, 404])
            }),
        )
        .api_route(
            "/api/imports/{id}/report.csv",
            get_with(imports::report, |op| {
                describe::<String>(op, "What came of each page, as a table", &CSV, &[404])
            }),
        )
        .api_route(
            "/api/imports/{id}/alike/{layout}",
            put_with(imports::settle_alike, |op| {
                let summary = "Say whether a layout is the same as the earlier one it looks like";
                describe::<ImportJson>(op, summary, &OK, &[400, 404, 409, 413, 415])
            }),
        )
        .merge(sending)
}

/// Devices that come in from the network. All but the entry of a code is for this machine alone.
fn pairing_routes() -> ApiRouter<App> {
    /// A code and a name, in bytes: a stranger gets to send no more.
    const ENTRY_LIMIT: usize = 2_000;
    let entering = ApiRouter::new()
        .api_route(
            "/api/pairing",
            post_with(pairing::enter, |op| {
                let summary = "Enter the pairing code; the answer's cookie lets the device in from then on";
                describe::<DeviceJson>(op, summary, &PAIRED, &[400, 409, 413, 415, 429])
            }),
        )
        .layer(DefaultBodyLimit::max(ENTRY_LIMIT));
    ApiRouter::new()
        .api_route(
            "/api/pairing",
            get_with(pairing::show, |op| {
                let summary =
                    "The pairing code, its addresses, and the paired devices; for this machine alone";
                describe::<PairingJson>(op, summary, &OK, &[403])
            }),
        )
        .api_route(
            "/api/pairing/code",
            post_with(pairing::renew, |op| {
                let summary =
                    "Make a new pairing code, valid once and for ten minutes; for this machine alone";
                describe::<PairingJson>(op, summary, &OK, &[409])
            }),
        )
        .api_route(
            "/api/pairing/devices/{id}",
            delete_with(pairing::forget, |op| {
                let summary = "End the pairing of a device, at once; for this machine alone";
                describe::<()>(op, summary, &GONE, &[404])
            }),
        )
        .merge(entering)
}

async fn method_not_allowed(method: Method, _: Uri) -> ApiError {
    ApiError::Method(method.to_string())
}
