//! Everything that can go wrong in an answer, and the only place that knows
//! statuses. Errors are problem details (RFC 9457): `detail` is one plain
//! sentence of what to do, `type` tells programs which problem it is.

use std::io::ErrorKind;

use aide::OperationOutput;
use axum::Json;
use axum::extract::Request;
use axum::http::header::{CONTENT_TYPE, ETAG, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use cutting::CutError;
use layout::{CardError, Fault, Faults};
use rusqlite::ErrorCode::DiskFull;
use schemars::JsonSchema;
use serde::Serialize;

use crate::contained::{Broken, Unread, UnreadKind};
use crate::door::Ended;
use crate::handlers::{PhotoJson, pairing};
use crate::precondition::etag;
use crate::print::PrintError;
use crate::store::{Noun, StoreError, is_damage};

/// Why a request was not done.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ApiError {
    /// The notebook refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A drawing was not made.
    #[error(transparent)]
    Print(#[from] PrintError),
    /// A batch could not be planned.
    #[error(transparent)]
    Cut(#[from] CutError),
    /// The photo could not be read. It is named when it was kept.
    #[error("{}", fault.sentence)]
    Capture {
        /// What the reader says.
        fault: Unread,
        /// The photo, if it decoded and was kept.
        photo: Option<PhotoJson>,
    },
    /// The photo broke the reader.
    #[error(transparent)]
    Broken(#[from] Broken),
    /// A card that is none.
    #[error(transparent)]
    Card(#[from] CardError),
    /// A layout with faults.
    #[error("it was not saved: {}", first_faults(.0))]
    Faults(Faults),
    /// A form field or parameter that cannot be used.
    #[error("{at}: {message}")]
    Field {
        /// Which one.
        at: String,
        /// What would be right.
        message: String,
    },
    /// A body that does not parse.
    #[error("the body is not the JSON it has to be ({0}): correct it and send it again")]
    Json(String),
    /// A body that ended early or is no proper form.
    #[error("the upload is broken ({reason}): send it again as multipart/form-data with the field `{field}`")]
    Upload {
        /// What the form's reader says.
        reason: String,
        /// The field that carries what is sent.
        field: &'static str,
    },
    /// A body of another kind.
    #[error("send the body as {0} and say so in the Content-Type header")]
    ContentType(&'static str),
    /// A body over the limit.
    #[error("that is over the limit of {}: send a smaller one", size_words(*limit))]
    TooLarge {
        /// The limit in bytes.
        limit: usize,
    },
    /// A write without If-Match.
    #[error("say which version you are changing: send its ETag in the If-Match header")]
    NoIfMatch,
    /// An If-Match that is no list of entity tags.
    #[error("If-Match is a list of entity tags in double quotes, like \"12-3\", or *")]
    BadIfMatch,
    /// Nothing at this address.
    #[error("there is nothing at {0}: /api/openapi.json lists what there is")]
    NoSuchPlace(String),
    /// Something is there, but not for this method.
    #[error("{0} cannot be used here: the Allow header lists what can")]
    Method(String),
    /// A page of another site sent this.
    #[error("this request comes from a page of another site: open the notebook's own page and do it there")]
    ForeignOrigin,
    /// A name that is not the service's.
    #[error(
        "this service does not answer to the name in the Host header: use the address that eighths printed"
    )]
    WrongHost,
    /// A device of the network that is not paired, or not any more.
    #[error(
        "this device is not paired with the notebook: open /pair on it and enter the code that the computer shows"
    )]
    NotPaired,
    /// Something that only the machine itself may do.
    #[error("pairing is looked after at the computer that eighths runs on: open its page there")]
    OnlyHere,
    /// Nobody could use a code.
    #[error("only this computer can reach eighths now: stop it and start it with --lan")]
    NotOnNetwork,
    /// A code that is not the one.
    #[error("{}", pairing::wrong_code(*left))]
    WrongCode {
        /// Wrong entries that the code still bears.
        left: u32,
    },
    /// No code is valid.
    #[error("{}", pairing::no_code(*.0))]
    NoCode(Ended),
    /// Codes are entered too fast.
    #[error("too many codes were entered: wait {0} seconds, then look at the code again")]
    TooManyEntries(u64),
    /// As much is being read or planned as can be.
    #[error("too much is being done at once: try again in a few seconds")]
    Busy,
    /// A request that took too long.
    #[error("that took longer than {0} seconds and was given up: try a smaller photo")]
    TooSlow(u64),
    /// An upload that hardly comes.
    #[error(
        "the upload came too slowly and was given up after {0} seconds: send it again over a better connection"
    )]
    SlowUpload(u64),
    /// A panic or a lost task.
    #[error("something went wrong on our side: nothing you saved is lost, please try again")]
    Bug,
}

/// How long a client waits before it tries a full queue again, in seconds:
/// about the time of one reading.
const RETRY_AFTER_S: &str = "2";

const NO_ROOM: &str =
    "the disk is full: nothing of this was saved, what was saved before is safe; make room and try again";
const NO_FILES: &str = "this computer has as many files open as it can: nothing of this was saved; close some programs and try again";
const DAMAGED: &str =
    "the notebook's file is damaged: stop the program, run `eighths check`, and put a backup back";

/// Whether a file was not opened because too many are (EMFILE and ENFILE of POSIX).
fn is_out_of_files(error: &std::io::Error) -> bool {
    cfg!(unix) && matches!(error.raw_os_error(), Some(23 | 24))
}

/// Problem details (RFC 9457).
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[schemars(title = "Problem")]
pub(crate) struct Problem {
    /// Which problem it is, the same every time.
    #[serde(rename = "type")]
    kind: String,
    /// The problem in a few words.
    title: &'static str,
    /// The HTTP status.
    status: u16,
    /// What happened and what to do, in one sentence.
    detail: String,
    /// The address that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    instance: Option<String>,
    /// Each wrong value and its place.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(default)]
    faults: Vec<Fault>,
    /// The photo that was kept although it could not be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    photo: Option<PhotoJson>,
    /// The `ETag` of the present version.
    #[serde(skip_serializing_if = "Option::is_none")]
    etag: Option<String>,
}

/// What the first part of each `type` is.
const KIND_PREFIX: &str = "tag:eighths,2025:";

impl ApiError {
    /// Status, kind and title of each error.
    fn class(&self) -> (StatusCode, &'static str, &'static str) {
        use StatusCode as S;
        match self {
            ApiError::Store(error) => match error {
                StoreError::Missing(Noun::Layout, _) => (S::NOT_FOUND, "no-layout", "No such layout"),
                StoreError::Missing(Noun::Paper, _) => (S::NOT_FOUND, "no-paper", "No such paper"),
                StoreError::Missing(Noun::Batch, _) => (S::NOT_FOUND, "no-batch", "No such batch"),
                StoreError::Deleted { .. } => (S::NOT_FOUND, "deleted", "Deleted"),
                StoreError::NoVersion { .. } => (S::NOT_FOUND, "no-version", "No such version"),
                StoreError::NoUse(_) => (S::NOT_FOUND, "no-use", "Never used"),
                StoreError::TooManyTags(_) => (S::UNPROCESSABLE_ENTITY, "too-many-tags", "Too many tags"),
                StoreError::TooFewSheets { .. } => (S::CONFLICT, "too-few-sheets", "Not enough paper"),
                StoreError::BatchCut(_) => (S::CONFLICT, "batch-cut", "Cut already"),
                StoreError::NoPlan(_) => (S::CONFLICT, "no-plan", "Not planned"),
                StoreError::PaperChanged(_) => (S::CONFLICT, "paper-changed", "Paper changed"),
                StoreError::OffcutUsed(_) => (S::CONFLICT, "offcut-used", "Offcut used"),
                StoreError::NoImport(_) => (S::NOT_FOUND, "no-import", "No such import"),
                StoreError::ImportEnded(_) => (S::CONFLICT, "import-ended", "Import has ended"),
                StoreError::NotAlike(_) => (S::CONFLICT, "not-alike", "Nothing to decide"),
                StoreError::NoDevice(_) => (S::NOT_FOUND, "no-device", "No such device"),
                StoreError::TooManyDevices => (S::CONFLICT, "too-many-devices", "Too many devices"),
                StoreError::NoPhoto(_) => (S::NOT_FOUND, "no-photo", "No such photo"),
                StoreError::Stale { .. } => {
                    (S::PRECONDITION_FAILED, "stale", "Saved by someone else meanwhile")
                }
                StoreError::Database(error) if error.sqlite_error_code() == Some(DiskFull) => {
                    (S::INSUFFICIENT_STORAGE, "disk-full", "No room left")
                }
                StoreError::File(error) if error.kind() == ErrorKind::StorageFull => {
                    (S::INSUFFICIENT_STORAGE, "disk-full", "No room left")
                }
                StoreError::PhotoGone(_) => (S::INTERNAL_SERVER_ERROR, "photo-gone", "Photo is gone"),
                StoreError::FolderGone => (S::INTERNAL_SERVER_ERROR, "folder-gone", "Folder is gone"),
                StoreError::File(error) if is_out_of_files(error) => (S::SERVICE_UNAVAILABLE, "busy", "Busy"),
                StoreError::InUse(_)
                | StoreError::Damaged { .. }
                | StoreError::Newer { .. }
                | StoreError::Older(_)
                | StoreError::NoNotebook(_)
                | StoreError::Folder { .. }
                | StoreError::Database(_)
                | StoreError::File(_)
                | StoreError::Record(_) => (S::INTERNAL_SERVER_ERROR, "internal", "Something went wrong"),
            },
            ApiError::Cut(_) => (S::UNPROCESSABLE_ENTITY, "no-plan-made", "Cannot be planned"),
            ApiError::Capture { fault, .. } => match fault.kind {
                UnreadKind::Format => {
                    (S::UNSUPPORTED_MEDIA_TYPE, "picture-format", "Not a picture that is read")
                }
                UnreadKind::Pixels => (S::PAYLOAD_TOO_LARGE, "too-many-pixels", "Picture too large"),
                UnreadKind::Pages => (S::PAYLOAD_TOO_LARGE, "too-many-pages", "Too many pages"),
                UnreadKind::Bytes => (S::PAYLOAD_TOO_LARGE, "too-large", "Too large"),
                UnreadKind::NoOutline => (S::UNPROCESSABLE_ENTITY, "no-outline", "No card found"),
                UnreadKind::BadCorners => (S::UNPROCESSABLE_ENTITY, "bad-corners", "Corners make no card"),
                UnreadKind::Unreadable => {
                    (S::UNPROCESSABLE_ENTITY, "unreadable-picture", "Picture cannot be read")
                }
            },
            ApiError::Broken(Broken::TooSlow | Broken::Died) => {
                (S::UNPROCESSABLE_ENTITY, "unreadable-picture", "Picture cannot be read")
            }
            ApiError::Card(_) => (S::UNPROCESSABLE_ENTITY, "no-card", "No such card"),
            ApiError::Faults(_) => (S::UNPROCESSABLE_ENTITY, "faults", "Record with faults"),
            ApiError::Field { .. } => (S::BAD_REQUEST, "bad-field", "Wrong value"),
            ApiError::Json(_) => (S::BAD_REQUEST, "bad-json", "Not the JSON expected"),
            ApiError::Upload { .. } => (S::BAD_REQUEST, "bad-upload", "Broken upload"),
            ApiError::ContentType(_) => (S::UNSUPPORTED_MEDIA_TYPE, "content-type", "Wrong content type"),
            ApiError::TooLarge { .. } => (S::PAYLOAD_TOO_LARGE, "too-large", "Too large"),
            ApiError::NoIfMatch => (S::PRECONDITION_REQUIRED, "no-if-match", "If-Match missing"),
            ApiError::BadIfMatch => (S::BAD_REQUEST, "bad-if-match", "If-Match not understood"),
            ApiError::NoSuchPlace(_) => (S::NOT_FOUND, "no-such-place", "Nothing here"),
            ApiError::Method(_) => (S::METHOD_NOT_ALLOWED, "method", "Method not allowed"),
            ApiError::ForeignOrigin => (S::FORBIDDEN, "foreign-origin", "Request from another site"),
            ApiError::WrongHost => (S::MISDIRECTED_REQUEST, "wrong-host", "Unknown host name"),
            ApiError::Busy | ApiError::Broken(Broken::Start(_) | Broken::Stopped) => {
                (S::SERVICE_UNAVAILABLE, "busy", "Busy")
            }
            ApiError::NotPaired => (S::UNAUTHORIZED, "not-paired", "Not paired"),
            ApiError::OnlyHere => (S::FORBIDDEN, "only-here", "Only at the computer itself"),
            ApiError::NotOnNetwork => (S::CONFLICT, "not-on-network", "Not on the network"),
            ApiError::WrongCode { .. } => (S::UNAUTHORIZED, "wrong-code", "Not the code"),
            ApiError::NoCode(_) => (S::CONFLICT, "no-code", "No code is valid"),
            ApiError::TooManyEntries(_) => (S::TOO_MANY_REQUESTS, "too-many-entries", "Too many entries"),
            ApiError::TooSlow(_) | ApiError::SlowUpload(_) => {
                (S::SERVICE_UNAVAILABLE, "too-slow", "Took too long")
            }
            ApiError::Print(_) | ApiError::Bug => {
                (S::INTERNAL_SERVER_ERROR, "internal", "Something went wrong")
            }
        }
    }

    /// Whether the notebook's own file is damaged.
    fn is_damage(&self) -> bool {
        match self {
            ApiError::Store(StoreError::Database(error)) => is_damage(error),
            ApiError::Store(StoreError::Damaged { .. }) => true,
            _ => false,
        }
    }

    /// The error as it is told.
    pub(crate) fn to_problem(&self) -> Problem {
        let (status, kind, title) = self.class();
        let detail = if matches!(self, ApiError::Store(StoreError::File(error)) if is_out_of_files(error)) {
            NO_FILES.to_owned()
        } else if status == StatusCode::INSUFFICIENT_STORAGE {
            tracing::error!(cause = %self, "the disk is full");
            NO_ROOM.to_owned()
        } else if status == StatusCode::INTERNAL_SERVER_ERROR {
            // The cause is for the log; it can name folders and files.
            tracing::error!(cause = %self, "a request failed");
            match self {
                // A photo's file is named by its hash, which is the photo's own.
                ApiError::Store(StoreError::PhotoGone(_) | StoreError::FolderGone) => self.to_string(),
                _ if self.is_damage() => DAMAGED.to_owned(),
                _ => ApiError::Bug.to_string(),
            }
        } else {
            self.to_string()
        };
        let mut problem = Problem {
            kind: format!("{KIND_PREFIX}{kind}"),
            title,
            status: status.as_u16(),
            detail,
            instance: None,
            faults: Vec::new(),
            photo: None,
            etag: None,
        };
        match self {
            ApiError::Faults(faults) => problem.faults.clone_from(&faults.0),
            ApiError::Field { at, message } => {
                problem.faults.push(Fault { at: at.clone(), message: message.clone() });
            }
            ApiError::Capture { photo, .. } => problem.photo.clone_from(photo),
            ApiError::Store(StoreError::Stale { id, version, .. }) => {
                problem.etag = Some(etag(*id, *version));
            }
            _ => {}
        }
        problem
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let problem = self.to_problem();
        let status = StatusCode::from_u16(problem.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let mut response = status.into_response();
        match self {
            ApiError::Busy => {
                response.headers_mut().insert(RETRY_AFTER, HeaderValue::from_static(RETRY_AFTER_S));
            }
            ApiError::TooManyEntries(seconds) => {
                response.headers_mut().insert(RETRY_AFTER, HeaderValue::from(seconds));
            }
            // Whoever answers 401 has to say how one is let in (RFC 9110, 11.6.1).
            ApiError::NotPaired | ApiError::WrongCode { .. } => {
                let how = HeaderValue::from_static("Pairing realm=\"eighths\"");
                response.headers_mut().insert(WWW_AUTHENTICATE, how);
            }
            _ => {}
        }
        if let Some(etag) = problem.etag.as_deref().and_then(|etag| etag.parse().ok()) {
            response.headers_mut().insert(ETAG, etag);
        }
        // The body is written by `write_problems`, which knows the address.
        response.extensions_mut().insert(problem);
        response
    }
}

/// The routes say themselves which problems they can end with.
impl OperationOutput for ApiError {
    type Inner = Problem;
}

/// Writes the bodies of problems.
pub(crate) async fn write_problems(request: Request, next: Next) -> Response {
    let instance = request.uri().path().to_owned();
    let mut response = next.run(request).await;
    let Some(mut problem) = response.extensions_mut().remove::<Problem>() else { return response };
    problem.instance = Some(instance);
    let (mut parts, _) = response.into_parts();
    let (json, body) = Json(problem).into_response().into_parts();
    parts.headers.extend(json.headers);
    parts.headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
    Response::from_parts(parts, body)
}

/// The first faults in words; the problem lists them all.
fn first_faults(Faults(faults): &Faults) -> String {
    const SHOWN: usize = 3;
    let mut words: Vec<String> = faults.iter().take(SHOWN).map(ToString::to_string).collect();
    if faults.len() > SHOWN {
        words.push(format!("and {} more", faults.len() - SHOWN));
    }
    words.join("; ")
}

/// A number of bytes in words.
fn size_words(bytes: usize) -> String {
    if bytes >= 1_000_000 { format!("{} MB", bytes / 1_000_000) } else { format!("{bytes} bytes") }
}
