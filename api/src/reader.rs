//! Reading photos beside serving: so many at a time on blocking threads, so
//! many waiting, and no more.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::timeout;

use crate::error::ApiError;

/// How long one photo may take from its turn to its answer.
const TIME_LIMIT: Duration = Duration::from_mins(1);

/// Does work on pictures, so many at a time.
#[derive(Clone)]
pub(crate) struct Reader {
    /// One for each that is being worked on or waits.
    places: Arc<Semaphore>,
    /// One for each that is being worked on.
    turns: Arc<Semaphore>,
}

/// A place in the queue. Dropping it gives it back.
pub(crate) struct Place(OwnedSemaphorePermit);

impl Reader {
    /// A reader that does `workers` pictures at a time and lets `queue` more wait.
    pub(crate) fn new(workers: usize, queue: usize) -> Reader {
        Reader { places: Arc::new(Semaphore::new(workers + queue)), turns: Arc::new(Semaphore::new(workers)) }
    }

    /// A place in the queue, taken before a picture is even received.
    pub(crate) fn place(&self) -> Result<Place, ApiError> {
        Arc::clone(&self.places).try_acquire_owned().map(Place).map_err(|_| ApiError::Busy)
    }

    /// Does the work when its turn comes.
    pub(crate) async fn work<T: Send + 'static>(
        &self,
        place: Place,
        job: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, ApiError> {
        match timeout(TIME_LIMIT, self.take_turn(Some(place), job)).await {
            Ok(result) => result,
            Err(_) => Err(ApiError::TooSlow(TIME_LIMIT.as_secs())),
        }
    }

    /// Does work that nobody waits for, without a place in the queue.
    pub(crate) async fn work_aside<T: Send + 'static>(
        &self,
        job: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, ApiError> {
        self.take_turn(None, job).await
    }

    async fn take_turn<T: Send + 'static>(
        &self,
        place: Option<Place>,
        job: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, ApiError> {
        let turn = Arc::clone(&self.turns).acquire_owned().await.map_err(|_| ApiError::Busy)?;
        let done = tokio::task::spawn_blocking(move || {
            // Both are given back when the work ends, even if nobody waits any more.
            let _held = (place.map(|place| place.0), turn);
            job()
        });
        done.await.map_err(|_| ApiError::Bug)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_full_queue_refuses_and_recovers() {
        let reader = Reader::new(1, 1);
        let (first, second) = (reader.place().unwrap(), reader.place().unwrap());
        assert!(matches!(reader.place(), Err(ApiError::Busy)));
        drop(second);
        assert_eq!(reader.work(first, || 4).await.unwrap(), 4);
        assert!(reader.place().is_ok());
    }

    #[tokio::test]
    async fn a_panic_gives_the_turn_back() {
        let reader = Reader::new(1, 0);
        let place = reader.place().unwrap();
        assert!(matches!(reader.work(place, || panic!("as a test")).await, Err::<(), _>(ApiError::Bug)));
        let place = reader.place().unwrap();
        assert_eq!(reader.work(place, || 4).await.unwrap(), 4);
    }
}
