//! The door to the network: who may come in from other machines. A connection
//! from this machine itself is its maker's and needs nothing. Everybody else
//! is shown the page to pair at and nothing more, until a code that only this
//! machine shows was entered; then the device keeps a token of its own.

mod addresses;
mod admit;
mod code;
mod gate;
mod peer;
mod qr;
mod token;

use std::collections::BTreeSet;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Instant;

use tokio::sync::watch;

pub(crate) use admit::{OwnMachine, admit};
pub(crate) use code::{CODE_LIFE, Code, Ended, MOST_WRONG, Refused, digits_of};
pub(crate) use gate::Gate;
pub(crate) use peer::Peer;
pub(crate) use qr::Qr;
pub(crate) use token::{Presented, Token, cookie, hash_of, presented};

use code::Codes;

/// The door of a running service. Cheap to clone.
#[derive(Clone)]
pub(crate) struct Door {
    inner: Arc<Inner>,
}

struct Inner {
    /// Where the service listens, once it does.
    listens: OnceLock<SocketAddr>,
    /// This machine's own names, in small letters.
    names: Vec<String>,
    codes: Mutex<Codes>,
    /// Devices whose pairing was ended since the service started.
    ended: watch::Sender<BTreeSet<i64>>,
}

/// The system has no random numbers to give.
#[derive(Debug, thiserror::Error)]
#[error("this system gives no random numbers: no code can be made")]
pub(crate) struct NoRandom;

impl Door {
    /// A door that is not open yet.
    pub(crate) fn new() -> Door {
        let inner = Inner {
            listens: OnceLock::new(),
            names: addresses::own_names(),
            codes: Mutex::new(Codes::default()),
            ended: watch::Sender::new(BTreeSet::new()),
        };
        Door { inner: Arc::new(inner) }
    }

    /// Says where the service listens.
    pub(crate) fn opens_at(&self, address: SocketAddr) {
        // A service listens at one address only, so there is nothing to overwrite.
        let _ = self.inner.listens.set(address);
    }

    /// Whether other machines can reach the service.
    pub(crate) fn is_on_network(&self) -> bool {
        self.inner.listens.get().is_some_and(|address| !address.ip().is_loopback())
    }

    /// Addresses that other machines can use, the likeliest first.
    pub(crate) fn addresses(&self) -> Vec<SocketAddr> {
        match self.inner.listens.get() {
            Some(at) if !at.ip().is_loopback() => addresses::reachable(at.ip())
                .into_iter()
                .map(|address| SocketAddr::new(address, at.port()))
                .collect(),
            _ => Vec::new(),
        }
    }

    /// The address for a browser on this machine.
    pub(crate) fn own_address(&self) -> Option<SocketAddr> {
        self.inner.listens.get().map(|at| SocketAddr::new(addresses::loopback_for(at.ip()), at.port()))
    }

    /// Whether a connection that arrived at `here` may name the service so.
    pub(crate) fn answers_to(&self, name: &str, here: Option<IpAddr>) -> bool {
        addresses::is_own(name, here, &self.inner.names)
    }

    /// Makes a new code; the one before is void.
    pub(crate) fn new_code(&self) -> Result<Code, NoRandom> {
        let digits = code::random_digits()?;
        Ok(self.codes().renew(digits, Instant::now()))
    }

    /// The code that is valid now, or how the last one ended.
    pub(crate) fn code(&self) -> Result<Code, Ended> {
        self.codes().current(Instant::now())
    }

    /// Takes a code that somebody entered. It is used up when it is right.
    pub(crate) fn enter(&self, digits: &str, peer: IpAddr) -> Result<(), Refused> {
        self.codes().enter(digits, peer, Instant::now())
    }

    /// Ends what a device is doing now.
    pub(crate) fn end(&self, device: i64) {
        self.inner.ended.send_modify(|ended| {
            ended.insert(device);
        });
    }

    /// Waits until the pairing of a device is ended.
    pub(crate) fn ended(&self, device: i64) -> impl Future<Output = ()> + Send + use<> {
        let mut ended = self.inner.ended.subscribe();
        async move {
            if ended.wait_for(|ended| ended.contains(&device)).await.is_err() {
                // The door is gone, and the service with it.
                std::future::pending::<()>().await;
            }
        }
    }

    fn codes(&self) -> MutexGuard<'_, Codes> {
        self.inner.codes.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The address that a phone opens to be paired. The code stands behind `#`, so
/// that no browser sends it and no log keeps it.
pub(crate) fn pairing_url(address: SocketAddr, digits: &str) -> String {
    format!("http://{address}/pair#{digits}")
}
