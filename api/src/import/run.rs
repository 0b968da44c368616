//! Doing an import: several workers read, one thread keeps. Files are handed
//! out in their order and their outcomes are kept in it too, so that numbers of
//! layouts, what is called a duplicate of what, and the report are the same
//! for any number of workers and wherever an import was cut off. The outcome of
//! a file and its layouts are one transaction.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;

use sha2::{Digest, Sha256};

use super::{CardPlan, FileResult, Gallery, PageRead, WaitingFile};
use crate::contained::{self, Answer, Broken, Task};
use crate::store::{Finished, PhotoFile, Store, StoreError, StoredImport};

/// Why an import stopped before its end. What it kept stays; it goes on with the
/// next file when it is run again.
#[derive(Debug, thiserror::Error)]
pub(crate) enum RunError {
    /// The notebook failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// No page can be read now, whatever is on it.
    #[error(transparent)]
    Reader(#[from] Broken),
    /// A worker is gone.
    #[error("something went wrong on our side: nothing that was imported is lost, please run it again")]
    Bug,
}

/// Whom an import tells how far it is, and asks whether to go on.
pub(crate) trait Progress: Sync {
    /// A file has its outcome, which is on disk.
    fn done(&self, file: &FileResult);
    /// Whether to stop; asked before each file and each page.
    fn stop(&self) -> bool;
}

/// Files that may be read ahead of the one whose outcome is kept next, a worker.
/// Only records wait there: the bytes are on disk by then.
const AHEAD: usize = 8;

/// Reads all files of an import that wait, with so many workers, each file at
/// most `limit` bytes. `true` if none is left to do.
pub(crate) fn run(
    store: &Store,
    import: &StoredImport,
    workers: usize,
    limit: u64,
    progress: &dyn Progress,
) -> Result<bool, RunError> {
    let waiting = store.waiting_files(import.id)?;
    let mut gallery = store.gallery()?;
    let board = Board { state: Mutex::default(), changed: Condvar::new(), ahead: AHEAD * workers.max(1) };
    thread::scope(|scope| {
        let work = || {
            // A worker that panics must not leave the keeper waiting.
            let _leaving = Leaving(&board);
            work(store, import, &waiting, limit, &board, progress);
        };
        let threads: Vec<_> = (0..workers.max(1)).map(|_| scope.spawn(work)).collect();
        let result = keep(store, import, &waiting, &mut gallery, &board, progress, workers.max(1));
        board.lock().over = true;
        board.changed.notify_all();
        for thread in threads {
            // One that panicked was told by the keeper; joined, it takes nobody with it.
            let _ = thread.join();
        }
        result
    })
}

/// Where workers put what they have read.
struct Board {
    state: Mutex<State>,
    changed: Condvar,
    ahead: usize,
}

#[derive(Default)]
struct State {
    /// Place of the next file that is handed out.
    next: usize,
    /// Outcomes that have been kept.
    kept: usize,
    /// What was read, by the file's place, or why it was not.
    read: BTreeMap<usize, Result<FileRead, Halt>>,
    /// Files that are being read, by their content.
    in_work: BTreeMap<String, usize>,
    /// Workers that have left.
    left: usize,
    /// No more files are handed out.
    over: bool,
}

/// What a worker found out about a file.
struct FileRead {
    /// The SHA-256 of its bytes in hexadecimal digits, where it has bytes.
    sha256: Option<String>,
    /// Its file among the photos, where it is to be kept.
    photo: Option<PhotoFile>,
    /// What was read; `None` where the same bytes are being read elsewhere.
    pages: Option<Vec<PageRead>>,
}

/// Why a worker has no outcome for a file.
enum Halt {
    /// It was told to stop.
    Told,
    /// Something failed that is no fault of the file.
    Failed(RunError),
}

impl<E: Into<RunError>> From<E> for Halt {
    fn from(error: E) -> Halt {
        Halt::Failed(error.into())
    }
}

impl Board {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait<'a>(&self, state: MutexGuard<'a, State>) -> MutexGuard<'a, State> {
        self.changed.wait(state).unwrap_or_else(PoisonError::into_inner)
    }
}

/// Tells the keeper when a worker ends, however it ends.
struct Leaving<'a>(&'a Board);

impl Drop for Leaving<'_> {
    fn drop(&mut self) {
        let mut state = self.0.lock();
        state.left += 1;
        // The file of one that panicked never comes, and no other is kept before it.
        state.over |= thread::panicking();
        drop(state);
        self.0.changed.notify_all();
    }
}

fn work(
    store: &Store,
    import: &StoredImport,
    waiting: &[WaitingFile],
    limit: u64,
    board: &Board,
    progress: &dyn Progress,
) {
    loop {
        let index = {
            let mut state = board.lock();
            while !state.over && state.next < waiting.len() && state.next >= state.kept + board.ahead {
                state = board.wait(state);
            }
            if state.over || state.next >= waiting.len() || progress.stop() {
                return;
            }
            state.next += 1;
            state.next - 1
        };
        let read = read_file(store, import, &waiting[index], index, limit, board, progress);
        let stopped = read.is_err();
        board.lock().read.insert(index, read);
        board.changed.notify_all();
        if stopped {
            return;
        }
    }
}

fn read_file(
    store: &Store,
    import: &StoredImport,
    file: &WaitingFile,
    index: usize,
    limit: u64,
    board: &Board,
    progress: &dyn Progress,
) -> Result<FileRead, Halt> {
    let bytes = match file.source.bytes(&store.sent_folder(import.id), limit) {
        Ok(bytes) => bytes,
        Err(error) => {
            let page = PageRead::unreadable(1, error.to_string());
            return Ok(FileRead { sha256: None, photo: None, pages: Some(vec![page]) });
        }
    };
    let sha256 = crate::store::hex(&Sha256::digest(&bytes));
    // The same bytes are read once: by the file that stands first.
    let first = {
        let mut state = board.lock();
        let first = *state.in_work.get(&sha256).filter(|&&first| first < index).unwrap_or(&index);
        state.in_work.insert(sha256.clone(), first);
        first == index
    };
    if !first || store.knows_file(import.id, file.number, &sha256)? {
        return Ok(FileRead { sha256: Some(sha256), photo: None, pages: None });
    }
    let plan = import.rule.plan(&file.name, file.card.as_deref());
    let pages = read_pages(&bytes, &plan, &|| progress.stop())?;
    let keeps = pages.iter().any(|page| page.size_px.is_some());
    let photo = if keeps { Some(store.keep_file(&bytes, &sha256)?) } else { None };
    Ok(FileRead { sha256: Some(sha256), photo, pages: Some(pages) })
}

/// Pages that may break the reader before the rest of their file is left.
const MOST_BROKEN: usize = 3;

/// Reads every page of a file, one after the other.
fn read_pages(bytes: &[u8], plan: &CardPlan, stop: &dyn Fn() -> bool) -> Result<Vec<PageRead>, Halt> {
    let (mut read, mut pages, mut broken) = (Vec::new(), 1, 0);
    for page in 1.. {
        if page > pages || broken == MOST_BROKEN {
            break;
        }
        if stop() {
            return Err(Halt::Told);
        }
        match contained::ask(&Task::Import { page, plan: plan.clone() }, bytes, stop) {
            Ok((Answer::Imported { page, pages: all }, _)) => {
                read.push(page);
                pages = all;
            }
            Err(Broken::Stopped) => return Err(Halt::Told),
            Err(broken @ Broken::Start(_)) => return Err(broken.into()),
            result => {
                let error = result.err().unwrap_or(Broken::Died);
                read.push(PageRead::unreadable(page, error.to_string()));
                broken += 1;
            }
        }
    }
    Ok(read)
}

fn keep(
    store: &Store,
    import: &StoredImport,
    waiting: &[WaitingFile],
    gallery: &mut Gallery,
    board: &Board,
    progress: &dyn Progress,
    workers: usize,
) -> Result<bool, RunError> {
    for (index, file) in waiting.iter().enumerate() {
        let read = {
            let mut state = board.lock();
            loop {
                if let Some(read) = state.read.remove(&index) {
                    break read;
                }
                if state.left == workers {
                    // Told to stop before this file, or a worker is gone.
                    return if progress.stop() { Ok(false) } else { Err(RunError::Bug) };
                }
                state = board.wait(state);
            }
        };
        let FileRead { sha256, photo, mut pages } = match read {
            Ok(read) => read,
            Err(Halt::Told) => return Ok(false),
            Err(Halt::Failed(error)) => return Err(error),
        };
        if let Some(pages) = &mut pages {
            give_titles(pages, &file.name);
        }
        let result = store.finish_file(
            import.id,
            file,
            Finished { sha256: sha256.as_deref(), photo: photo.as_ref(), pages: pages.as_deref() },
            gallery,
        )?;
        progress.done(&result);
        let mut state = board.lock();
        if let Some(sha256) = &sha256
            && state.in_work.get(sha256) == Some(&index)
        {
            state.in_work.remove(sha256);
        }
        state.kept = index + 1;
        drop(state);
        board.changed.notify_all();
    }
    Ok(true)
}

/// Layouts are called by the name of their file until somebody names them.
fn give_titles(pages: &mut [PageRead], name: &str) {
    let file = name.rsplit('/').next().unwrap_or(name);
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| if stem.is_empty() { file } else { stem });
    let several_pages = pages.len() > 1;
    for page in pages {
        let several = page.layouts.len() > 1;
        for (index, layout) in page.layouts.iter_mut().enumerate() {
            let mut title = stem.chars().take(LONGEST_STEM).collect::<String>();
            if several_pages {
                let _ = write!(title, ", page {}", page.page);
            }
            if several {
                let _ = write!(title, ", layout {}", index + 1);
            }
            layout.title = title;
        }
    }
}

/// Letters of a file's name that a title has room for.
const LONGEST_STEM: usize = 80;

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::{CardRule, gather};
    use super::*;
    use crate::store::NewImport;

    /// Panics on every thread but the one it was made on.
    struct Trap(thread::ThreadId);

    impl Progress for Trap {
        fn done(&self, _: &FileResult) {}

        fn stop(&self) -> bool {
            assert_eq!(thread::current().id(), self.0, "as a test");
            false
        }
    }

    #[test]
    fn workers_that_panic_end_the_import_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let (drawer, data) = (folder.path().join("drawer"), folder.path().join("data"));
        fs::create_dir(&drawer).unwrap();
        for name in ["one.txt", "two.txt", "three.txt"] {
            fs::write(drawer.join(name), name).unwrap();
        }
        let store = Store::open(&data).unwrap();
        let rule = CardRule { usual: Some("A2".to_owned()), ..CardRule::default() };
        let import = store.create_import(NewImport { rule: &rule, origin: "", open: false }).unwrap();
        store.add_import_files(import.id, &gather(&[drawer]).unwrap(), false).unwrap();
        let trap = Trap(thread::current().id());
        assert!(matches!(run(&store, &import, 2, 1000, &trap), Err(RunError::Bug)));
        // Nothing was kept, and it can be run again.
        assert_eq!(store.import_counts(import.id).unwrap().files_done, 0);
        assert_eq!(store.waiting_files(import.id).unwrap().len(), 3);
    }
}
