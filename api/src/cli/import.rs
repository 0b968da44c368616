//! `eighths import`: folders, files and zip archives into the notebook.

use std::fmt::Write;
use std::fs;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use clap::ValueHint;
use indicatif::{ProgressBar, ProgressStyle};
use layout::Card;
use serde_json::json;

use super::serve::usual_folder;
use super::{Outcome, complain, say};
use crate::archive::{self, ArchiveError};
use crate::body::USUAL_CARD;
use crate::import::{
    self, CardRule, Counts, FileResult, FoundFile, GatherError, ImportState, Progress, RunError, csv, gather,
    summary, table,
};
use crate::store::{NewImport, Store, StoreError, StoredImport};

/// Read folders, files and zip archives of pictures into the notebook.
///
/// Every page of every picture, scan and PDF is read. Files are never moved or changed. An import
/// that was stopped, however it was, goes on where it was when the same command is given again;
/// files that were read before are told from new ones by their content. A file that `eighths export`
/// wrote becomes the notebook it was, in an empty folder.
#[derive(clap::Args)]
#[command(after_help = EXIT_CODES)]
pub(super) struct Args {
    /// Folders, with all the folders in them, pictures, PDFs and zip archives
    #[arg(required = true, value_name = "PATH", value_hint = ValueHint::AnyPath)]
    paths: Vec<PathBuf>,
    /// Card the drawings are meant for, where nothing else tells; A2 if neither this nor --cards is given
    #[arg(long, value_name = "CARD")]
    card: Option<Card>,
    /// Cards a drawing may be meant for: the one its outline clearly fits is taken
    #[arg(long, value_name = "CARD,…", value_delimiter = ',')]
    cards: Vec<Card>,
    /// Card of the files in a folder of this name; may be given several times
    #[arg(long, value_name = "FOLDER=CARD", value_parser = folder_card)]
    folder: Vec<(String, Card)>,
    /// Card of all the files that the import of these same paths could not tell a card for
    #[arg(long, value_name = "CARD")]
    undecided: Option<Card>,
    /// Where the notebook is; the platform's place for data if left out
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Files read at a time; as many as the machine has processors if left out
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=64))]
    jobs: Option<u16>,
    /// Write what came of each page to a file: CSV, or JSON if its name ends in .json
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const EXIT_CODES: &str = "Exit codes:
  0  every page was read, was there before, or is blank
  1  a file could not be read, or the notebook could not be used
  2  the command line is wrong: an unknown card, a missing path and the like
  3  nothing failed, but on some pages no layout was found, some wait for a card, or it was stopped";

/// `FOLDER=CARD`
fn folder_card(text: &str) -> Result<(String, Card), String> {
    let (folder, card) = text.rsplit_once('=').ok_or("write FOLDER=CARD, like tall=slimline")?;
    if folder.trim_matches('/').is_empty() {
        return Err("write the folder's name before the =".to_owned());
    }
    Ok((
        folder.trim_matches('/').to_owned(),
        card.parse().map_err(|error: layout::CardError| error.to_string())?,
    ))
}

/// Why an import did not come to its end.
#[derive(Debug, thiserror::Error)]
enum ImportError {
    #[error(transparent)]
    Gather(#[from] GatherError),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    Run(#[from] RunError),
    #[error(transparent)]
    Archive(#[from] ArchiveError),
    #[error("{0}")]
    Usage(String),
    #[error("cannot write {} ({reason}): give a place that can be written", path.display())]
    Report { path: PathBuf, reason: String },
}

/// Imports what is asked for.
pub(super) fn run(args: &Args) -> Outcome {
    match import(args) {
        Ok(outcome) => outcome,
        Err(error) => {
            complain(&error);
            match error {
                ImportError::Gather(GatherError::Missing(_)) | ImportError::Usage(_) => Outcome::WrongUsage,
                _ => Outcome::Failed,
            }
        }
    }
}

fn import(args: &Args) -> Result<Outcome, ImportError> {
    let data = args.data.clone().or_else(usual_folder).ok_or_else(|| {
        ImportError::Usage(
            "this system has no place for data: say where the notebook is with --data DIR".to_owned(),
        )
    })?;
    if let [only] = args.paths.as_slice()
        && archive::is_notebook(only)
    {
        let layouts = archive::restore(&Store::open(&data)?, only)?;
        // Who does not read it has the exit code.
        let _ = say(&format!("{layouts} layouts with all their versions are in {}\n", data.display()));
        return Ok(Outcome::Fine);
    }
    let rule = args.rule();
    let found = gather(&args.paths)?;
    let store = Store::open(&data)?;
    let origin =
        json!([args.paths.iter().map(fs::canonicalize).filter_map(Result::ok).collect::<Vec<_>>(), rule]);
    let origin = origin.to_string();
    let begun = match &args.undecided {
        Some(card) => decided(&store, &origin, card)?,
        None => begun(&store, &origin, &rule, &found)?,
    };
    let stopped = run_shown(&store, &begun, args)?;
    let counts = store.import_counts(begun.id)?;
    let results = store.all_import_results(begun.id)?;
    if let Some(path) = &args.report {
        write_report(path, begun.id, &counts, &results)?;
    }
    tell(&counts, &results, stopped);
    Ok(if counts.unreadable > 0 {
        Outcome::Failed
    } else if counts.no_layout + counts.which_card > 0 || stopped {
        Outcome::Partly
    } else {
        Outcome::Fine
    })
}

/// The import of the same paths that did not come to its end, or a new one,
/// with every file that is there now.
fn begun(
    store: &Store,
    origin: &str,
    rule: &CardRule,
    found: &[FoundFile],
) -> Result<StoredImport, StoreError> {
    let begun = match store.unfinished_import(origin)? {
        // Whoever gives the command again wants it to go on.
        Some(begun) => store.set_import_state(begun.id, ImportState::Running)?,
        None => store.create_import(NewImport { rule, origin, open: false })?,
    };
    store.add_import_files(begun.id, found, false)?;
    Ok(begun)
}

/// The last import of the same paths, with the card said for what waits for one.
fn decided(store: &Store, origin: &str, card: &Card) -> Result<StoredImport, ImportError> {
    if let Some(last) = store.last_import(origin)?
        && store.say_card(last.id, &card.name)? > 0
    {
        return Ok(last);
    }
    let sentence = "no file of an import of these paths waits for a card: leave out --undecided";
    Err(ImportError::Usage(sentence.to_owned()))
}

impl Args {
    fn rule(&self) -> CardRule {
        let usual = match (&self.card, self.cards.is_empty()) {
            (Some(card), _) => Some(card.name.clone()),
            (None, true) => Some(USUAL_CARD.to_owned()),
            (None, false) => None,
        };
        CardRule {
            usual,
            folders: self.folder.iter().map(|(folder, card)| (folder.clone(), card.name.clone())).collect(),
            among: self.cards.iter().map(|card| card.name.clone()).collect(),
        }
    }
}

/// Runs an import to its end with a bar that shows how far it is. Whether it was stopped before.
fn run_shown(store: &Store, begun: &StoredImport, args: &Args) -> Result<bool, ImportError> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let counts = store.import_counts(begun.id)?;
    // Draws nothing where the standard error is no terminal.
    let bar = ProgressBar::new(u64::try_from(counts.files).unwrap_or(0));
    bar.set_style(ProgressStyle::with_template(BAR).unwrap_or_else(|_| ProgressStyle::default_bar()));
    bar.set_position(u64::try_from(counts.files_done).unwrap_or(0));
    bar.reset_eta();
    let shown = Shown { bar: &bar, stop: stopped_by_key() };
    let workers = args.jobs.map_or(cores, usize::from);
    let finished = import::run(store, begun, workers, MOST_BYTES, &shown)?;
    bar.finish_and_clear();
    store.end_import(begun.id)?;
    Ok(!finished)
}

/// Largest file that is read, in bytes: a PDF of many scanned pages.
const MOST_BYTES: u64 = 200_000_000;

const BAR: &str = "{bar:30} {pos} of {len} files, {per_sec}, {eta} left";

struct Shown<'a> {
    bar: &'a ProgressBar,
    stop: Arc<AtomicBool>,
}

impl Progress for Shown<'_> {
    fn done(&self, _: &FileResult) {
        self.bar.inc(1);
    }

    fn stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Set when Ctrl-C is pressed: what is being read is left, what was read is kept.
fn stopped_by_key() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&stop);
    // Without this thread Ctrl-C just ends the program, which loses nothing either.
    let _ = thread::Builder::new().name("keys".to_owned()).spawn(move || {
        let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_all().build() else { return };
        if runtime.block_on(tokio::signal::ctrl_c()).is_ok() {
            set.store(true, Ordering::Relaxed);
        }
    });
    stop
}

fn write_report(path: &PathBuf, id: i64, counts: &Counts, results: &[FileResult]) -> Result<(), ImportError> {
    let failed = |reason: String| ImportError::Report { path: path.clone(), reason };
    let json = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json"));
    let bytes = if json {
        let report = json!({"import": id, "counts": counts, "files": results});
        serde_json::to_vec_pretty(&report).map_err(|error| failed(error.to_string()))?
    } else {
        csv(results).map_err(|error| failed(error.to_string()))?
    };
    fs::write(path, bytes).map_err(|error| failed(error.to_string()))
}

fn tell(counts: &Counts, results: &[FileResult], stopped: bool) {
    let mut text = summary(counts);
    text += &table(results);
    if counts.which_card > 0 {
        text +=
            "\nSay which card the files above are for: give the same command again with --undecided CARD.\n";
    }
    if stopped {
        let (done, all) = (counts.files_done, counts.files);
        let _ =
            writeln!(text, "\nStopped after {done} of {all} files. Give the same command again to go on.");
    } else if counts.files == 0 {
        text += "There are no files in what was given.\n";
    }
    // Who does not read it has the exit code.
    let _ = say(&text);
}
