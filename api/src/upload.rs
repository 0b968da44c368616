//! Files that are sent to an import: written to disk as they come, whole and
//! synced before anybody is told that they are there. A name that was sent is
//! only ever shown; it is no path here.

use std::path::Path;
use std::sync::Arc;

use aide::OperationInput;
use aide::generate::GenContext;
use aide::openapi::Operation;
use axum::body::Bytes;
use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{FromRequest, Multipart, Request};
use axum::http::StatusCode;
use tempfile::TempDir;
use tokio::time::{Duration, Instant, timeout};

use crate::app::App;
use crate::body::{USUAL_CARD, drain, drain_form, field, has_type};
use crate::error::ApiError;
use crate::import::{CardRule, FoundFile, Source, is_archive, shown_name, unpacked};
use crate::openapi;
use crate::store::{NewImport, Store, StoreError, StoredImport};

/// Largest file of an import, in bytes: a PDF of many scanned pages.
pub(crate) const FILE_LIMIT: u64 = 200_000_000;
/// Most bytes of one request: a drawer of scans as a zip archive.
pub(crate) const REQUEST_LIMIT: usize = 4_000_000_000;
/// How long the next part of an upload may take to come.
const NEXT_PART: Duration = Duration::from_secs(30);
/// How many bytes a second an upload must bring on average, once that time has
/// passed twice: less is somebody who only holds a place. Slow Wi-Fi brings a hundred times that.
const SLOWEST: u64 = 2_000;
/// Most files of one request.
const MOST_FILES: usize = 2_000;
/// Longest text field, in bytes.
const LONGEST_TEXT: usize = 4_000;

/// Files that were received, in a folder that goes when they are not kept.
pub(crate) struct Files {
    folder: TempDir,
    received: Vec<FoundFile>,
    rule: CardRule,
    open: bool,
}

impl FromRequest<App> for Files {
    type Rejection = ApiError;

    async fn from_request(request: Request, app: &App) -> Result<Files, ApiError> {
        const FORM: &str = "multipart/form-data with the files in fields named `file`";
        if !has_type(request.headers(), "multipart/form-data") {
            drain(request).await;
            return Err(ApiError::ContentType(FORM));
        }
        let Ok(_place) = Arc::clone(&app.receiving).try_acquire_owned() else {
            drain(request).await;
            return Err(ApiError::Busy);
        };
        let mut form = Multipart::from_request(request, app)
            .await
            .map_err(|error| ApiError::Upload { reason: error.body_text(), field: "file" })?;
        let folder = app.store(Store::receiving_folder).await?;
        let received = receive(&mut form, folder.path()).await;
        if received.is_err() {
            drain_form(&mut form).await;
        }
        let Received { files, rule, open } = received?;
        Ok(Files { folder, received: files, rule, open })
    }
}

/// What came with a form.
struct Received {
    files: Vec<FoundFile>,
    rule: CardRule,
    open: bool,
}

impl OperationInput for Files {
    fn operation_input(ctx: &mut GenContext, operation: &mut Operation) {
        openapi::files_form(ctx, operation);
    }
}

fn broken(error: &MultipartError) -> ApiError {
    match error.status() {
        StatusCode::PAYLOAD_TOO_LARGE => ApiError::TooLarge { limit: REQUEST_LIMIT },
        _ => ApiError::Upload { reason: error.body_text(), field: "file" },
    }
}

/// How fast an upload comes.
struct Pace {
    begun: Instant,
    bytes: u64,
}

impl Pace {
    fn new() -> Pace {
        Pace { begun: Instant::now(), bytes: 0 }
    }

    /// How long the next part may take, now that so much has come.
    fn patience(&self) -> Duration {
        let earned = Duration::from_secs(self.bytes / SLOWEST);
        (2 * NEXT_PART + earned).saturating_sub(self.begun.elapsed()).min(NEXT_PART)
    }

    /// The next thing of an upload, if it comes in time.
    async fn in_time<T>(&self, next: impl Future<Output = Result<T, MultipartError>>) -> Result<T, ApiError> {
        match timeout(self.patience(), next).await {
            Ok(result) => result.map_err(|error| broken(&error)),
            Err(_) => Err(ApiError::SlowUpload(self.begun.elapsed().as_secs())),
        }
    }

    /// The next bytes of a part, if they come in time.
    async fn chunk(&mut self, part: &mut Field<'_>) -> Result<Option<Bytes>, ApiError> {
        let chunk = self.in_time(part.chunk()).await?;
        self.bytes += chunk.as_ref().map_or(0, |chunk| chunk.len() as u64);
        Ok(chunk)
    }
}

async fn receive(form: &mut Multipart, folder: &Path) -> Result<Received, ApiError> {
    let (mut files, mut rule, mut open) = (Vec::new(), CardRule::default(), false);
    let mut pace = Pace::new();
    while let Some(mut part) = pace.in_time(form.next_field()).await? {
        match part.name().unwrap_or_default() {
            "file" => {
                if files.len() >= MOST_FILES {
                    return Err(field(
                        "file",
                        "send at most 2000 files at a time, the rest to the same import",
                    ));
                }
                files.push(receive_file(&mut part, &mut pace, folder, files.len()).await?);
            }
            "card" => rule.usual = Some(text(&mut part, &mut pace).await?).filter(|card| !card.is_empty()),
            "cards" => {
                let cards = text(&mut part, &mut pace).await?;
                rule.among = words(&cards).map(str::to_owned).collect();
            }
            "folder" => {
                let line = text(&mut part, &mut pace).await?;
                let (name, card) = line
                    .rsplit_once('=')
                    .ok_or_else(|| field("folder", "write FOLDER=CARD, like tall=slimline"))?;
                rule.folders.push((name.to_owned(), card.to_owned()));
            }
            "open" => match text(&mut part, &mut pace).await?.as_str() {
                "true" => open = true,
                "false" | "" => open = false,
                _ => return Err(field("open", "it is `true` or `false`")),
            },
            // Forms carry fields of all sorts; only these mean something.
            _ => {}
        }
    }
    if rule.usual.is_none() && rule.among.is_empty() {
        rule.usual = Some(USUAL_CARD.to_owned());
    }
    rule.check()?;
    if files.is_empty() && !open {
        return Err(field("file", "the form has no field `file`: put the pictures there"));
    }
    Ok(Received { files, rule, open })
}

/// Receives a form for nobody: its files go to `folder`, whatever else is in it is passed over.
pub(crate) async fn receive_into(mut form: Multipart, folder: &Path) {
    let _ = receive(&mut form, folder).await;
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(',').map(str::trim).filter(|word| !word.is_empty())
}

async fn text(part: &mut Field<'_>, pace: &mut Pace) -> Result<String, ApiError> {
    let mut bytes = Vec::new();
    while let Some(chunk) = pace.chunk(part).await? {
        bytes.extend_from_slice(&chunk);
        if bytes.len() > LONGEST_TEXT {
            return Err(ApiError::TooLarge { limit: LONGEST_TEXT });
        }
    }
    Ok(String::from_utf8_lossy(&bytes).trim().to_owned())
}

/// Writes a file as it comes.
async fn receive_file(
    part: &mut Field<'_>,
    pace: &mut Pace,
    folder: &Path,
    index: usize,
) -> Result<FoundFile, ApiError> {
    let name = shown_name(part.file_name().unwrap_or_default(), index);
    let sent = index.to_string();
    let path = folder.join(&sent);
    let mut file = tokio::fs::File::create(&path).await.map_err(StoreError::from)?;
    let (mut bytes, mut most): (u64, u64) = (0, FILE_LIMIT + 1);
    while let Some(chunk) = pace.chunk(part).await? {
        if bytes == 0 && is_archive(&chunk) {
            // What is in it is limited file by file, the whole by the request.
            most = u64::MAX;
        }
        bytes += chunk.len() as u64;
        // A file that is too large is told as one that cannot be read; its neighbours go on.
        if bytes <= most {
            use tokio::io::AsyncWriteExt;
            file.write_all(&chunk).await.map_err(StoreError::from)?;
        }
    }
    file.sync_all().await.map_err(StoreError::from)?;
    Ok(FoundFile { name, source: Source::Sent(sent), bytes })
}

/// Makes what was received an import, or part of one.
pub(crate) fn keep_files(
    store: &Store,
    files: Files,
    import: Option<i64>,
) -> Result<StoredImport, StoreError> {
    let Files { folder, received: files, rule, open } = files;
    let id = match import {
        // Asked before anything is moved; when they are written down it is asked again.
        Some(id) if store.import(id)?.state.has_ended() => return Err(StoreError::ImportEnded(id)),
        Some(id) => id,
        // Open until its files are written down, or it would end before it began.
        None => store.create_import(NewImport { rule: &rule, origin: "", open: true })?.id,
    };
    let sent = store.keep_sent(id, &folder, files.len())?;
    let mut found = Vec::with_capacity(files.len());
    for (file, sent) in files.into_iter().zip(sent) {
        let file = FoundFile { source: Source::Sent(sent), ..file };
        found.extend(unpacked(file, &store.sent_folder(id)));
    }
    store.add_import_files(id, &found, open)?;
    // Nothing may have come, and nothing more will.
    store.end_import(id)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn an_upload_that_drips_is_given_up() {
        let pace = |seconds, bytes| {
            let begun = Instant::now() - Duration::from_secs(seconds);
            Pace { begun, bytes }.patience().as_secs_f64().round()
        };
        assert!((pace(0, 0) - 30.0).abs() < 0.1);
        assert!((pace(45, 10) - 15.0).abs() < 0.1);
        assert!(pace(60, 10) < 0.1, "a byte now and then holds no place");
        assert!((pace(3600, 20_000_000) - 30.0).abs() < 0.1, "a drawer over slow Wi-Fi has its time");
        let late = Pace { begun: Instant::now() - Duration::from_mins(1), bytes: 10 };
        let error = late.in_time(std::future::pending::<Result<(), MultipartError>>()).await.unwrap_err();
        assert!(matches!(error, ApiError::SlowUpload(60)), "{error}");
    }
}
