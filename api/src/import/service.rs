//! The imports of the service: one at a time, on threads of their own, beside
//! the readings that someone waits for. What is to be done stands in the
//! notebook alone, so that a service that was killed goes on where it was.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use tokio::sync::watch;

use super::{FileResult, ImportState, Progress, run};
use crate::store::{Store, StoreError, StoredImport};

/// How long the importer waits before it tries again what failed.
const TRY_AGAIN: Duration = Duration::from_secs(10);

/// Does the imports of a service. Cheap to clone.
#[derive(Clone)]
pub(crate) struct Importer {
    inner: Arc<Inner>,
}

struct Inner {
    store: Arc<Store>,
    workers: usize,
    limit: u64,
    /// Counts changes, for those who watch an import.
    changes: watch::Sender<u64>,
    /// Whether something was asked for since the importer looked last.
    asked: Mutex<bool>,
    woken: Condvar,
    /// The importer looks at what was asked for before it goes on.
    look: AtomicBool,
    /// The service ends.
    ending: AtomicBool,
}

impl Importer {
    /// An importer with so many workers that takes files of at most `limit` bytes.
    pub(crate) fn new(store: Arc<Store>, workers: usize, limit: u64) -> Importer {
        Importer {
            inner: Arc::new(Inner {
                store,
                workers,
                limit,
                changes: watch::Sender::new(0),
                asked: Mutex::new(true),
                woken: Condvar::new(),
                look: AtomicBool::new(false),
                ending: AtomicBool::new(false),
            }),
        }
    }

    /// Starts the thread that does what is asked for, first what an earlier
    /// process left undone.
    pub(crate) fn start(&self) -> std::io::Result<JoinHandle<()>> {
        let importer = self.clone();
        thread::Builder::new().name("importer".to_owned()).spawn(move || importer.work())
    }

    /// Says that an import was begun or changed.
    pub(crate) fn wake(&self) {
        self.inner.look.store(true, Ordering::SeqCst);
        *self.inner.asked.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.inner.woken.notify_all();
        self.inner.changed();
    }

    /// Ends after the files that are being read; they are read again next time.
    pub(crate) fn end(&self) {
        self.inner.ending.store(true, Ordering::SeqCst);
        self.wake();
    }

    /// Whether the service ends.
    pub(crate) fn is_ending(&self) -> bool {
        self.inner.ending.load(Ordering::SeqCst)
    }

    /// Tells of every change of any import.
    pub(crate) fn watch(&self) -> watch::Receiver<u64> {
        self.inner.changes.subscribe()
    }

    fn work(&self) {
        let inner = &self.inner;
        while !inner.ending.load(Ordering::SeqCst) {
            // Before the notebook is asked, so that nothing said meanwhile is missed.
            inner.look.store(false, Ordering::SeqCst);
            *inner.asked.lock().unwrap_or_else(PoisonError::into_inner) = false;
            match self.next() {
                Ok(true) => {}
                Ok(false) => inner.sleep(None),
                Err(error) => {
                    tracing::error!(cause = %error, "an import stopped; it will be tried again");
                    inner.sleep(Some(TRY_AGAIN));
                }
            }
        }
    }

    /// Runs the next import, if there is one.
    fn next(&self) -> Result<bool, super::RunError> {
        let inner = &self.inner;
        let Some(import) = inner.store.next_import()? else { return Ok(false) };
        let progress = Served { importer: inner, import: &import };
        run(&inner.store, &import, inner.workers, inner.limit, &progress)?;
        inner.store.end_import(import.id)?;
        inner.changed();
        Ok(true)
    }
}

impl Inner {
    fn changed(&self) {
        self.changes.send_modify(|count| *count = count.wrapping_add(1));
    }

    /// Waits until something is asked for, at most so long.
    fn sleep(&self, most: Option<Duration>) {
        let asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let nothing = |asked: &mut bool| !*asked;
        match most {
            Some(most) => drop(self.woken.wait_timeout_while(asked, most, nothing)),
            None => drop(self.woken.wait_while(asked, nothing)),
        }
    }
}

/// An import of the service on its way.
struct Served<'a> {
    importer: &'a Inner,
    import: &'a StoredImport,
}

impl Served<'_> {
    fn still_wanted(&self) -> Result<bool, StoreError> {
        Ok(self.importer.store.import(self.import.id)?.state == ImportState::Running)
    }
}

impl Progress for Served<'_> {
    fn done(&self, _: &FileResult) {
        self.importer.changed();
    }

    fn stop(&self) -> bool {
        if self.importer.ending.load(Ordering::SeqCst) {
            return true;
        }
        // Only when something was said is the notebook asked again.
        self.importer.look.load(Ordering::SeqCst) && !self.still_wanted().unwrap_or(false)
    }
}
