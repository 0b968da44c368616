//! What every handler can reach.

use std::sync::Arc;

use tokio::sync::Semaphore;

use crate::door::Door;
use crate::error::ApiError;
use crate::import::Importer;
use crate::reader::Reader;
use crate::store::{Store, StoreError};

/// The service's shared state; cheap to clone.
#[derive(Clone)]
pub(crate) struct App {
    /// The notebook.
    pub(crate) store: Arc<Store>,
    /// Reads photos, so many at a time.
    pub(crate) reader: Reader,
    /// Places of those who plan batches: each keeps a processor busy.
    pub(crate) planners: Arc<Semaphore>,
    /// Does the imports.
    pub(crate) importer: Importer,
    /// Places of those who send files to an import.
    pub(crate) receiving: Arc<Semaphore>,
    /// Who may come in.
    pub(crate) door: Door,
    /// Largest photo that is taken, in bytes.
    pub(crate) photo_limit: usize,
}

impl App {
    /// Runs a job on the notebook, on a thread that may block.
    pub(crate) async fn store<T: Send + 'static>(
        &self,
        job: impl FnOnce(&Store) -> Result<T, StoreError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let store = Arc::clone(&self.store);
        blocking(move || Ok(job(&store)?)).await
    }
}

/// Runs what keeps a processor or the disk busy on a thread that may block.
pub(crate) async fn blocking<T: Send + 'static>(
    job: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
) -> Result<T, ApiError> {
    tokio::task::spawn_blocking(job).await.map_err(|_| ApiError::Bug)?
}
