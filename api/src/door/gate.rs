//! Where connections arrive. Those of other machines are counted, so many at
//! once from each and from all, and one on which nothing happens is closed: no
//! stranger can use up what the maker's own browser needs.

use std::collections::BTreeMap;
use std::io;
use std::net::IpAddr;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::serve::Listener;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Instant, Sleep, sleep};

use super::Peer;
use super::peer::plain;

/// Connections of one machine at a time: a browser opens six.
const MOST_FROM_ONE: usize = 24;
/// Connections of all other machines at a time.
const MOST_FROM_ALL: usize = 200;
/// A connection of another machine on which nothing happens so long is closed.
/// Whoever waits for a reading hears something at least every minute.
const LONGEST_IDLE: Duration = Duration::from_mins(3);

/// Takes connections in.
pub(crate) struct Gate {
    network: TcpListener,
    /// This machine's own way in, where the first one has no loopback.
    own: Option<TcpListener>,
    inside: Arc<Mutex<BTreeMap<IpAddr, usize>>>,
}

impl Gate {
    /// A gate at one or two addresses.
    pub(crate) fn new(network: TcpListener, own: Option<TcpListener>) -> Gate {
        Gate { network, own, inside: Arc::default() }
    }

    /// The next connection that may come in, and who is at its ends.
    pub(crate) async fn accept(&mut self) -> (Passage, Peer) {
        loop {
            let (stream, there) = match &mut self.own {
                Some(own) => tokio::select! {
                    arrived = Listener::accept(&mut self.network) => arrived,
                    arrived = Listener::accept(own) => arrived,
                },
                None => Listener::accept(&mut self.network).await,
            };
            // The end of this machine, where the system says it.
            let peer = Peer { there: plain(there), here: stream.local_addr().ok().map(plain) };
            if peer.is_own_machine() {
                return (Passage { stream, _place: None, idle: None }, peer);
            }
            if let Some(place) = Place::take(&self.inside, peer.there) {
                let idle = Some(Box::pin(sleep(LONGEST_IDLE)));
                return (Passage { stream, _place: Some(place), idle }, peer);
            }
            // Closed at once; the others go on.
            drop(stream);
        }
    }
}

/// One of the connections that may be open.
struct Place {
    peer: IpAddr,
    inside: Arc<Mutex<BTreeMap<IpAddr, usize>>>,
}

fn locked(inside: &Mutex<BTreeMap<IpAddr, usize>>) -> MutexGuard<'_, BTreeMap<IpAddr, usize>> {
    inside.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Place {
    fn take(inside: &Arc<Mutex<BTreeMap<IpAddr, usize>>>, peer: IpAddr) -> Option<Place> {
        let mut counts = locked(inside);
        let own = counts.get(&peer).copied().unwrap_or(0);
        if own >= MOST_FROM_ONE || counts.values().sum::<usize>() >= MOST_FROM_ALL {
            return None;
        }
        counts.insert(peer, own + 1);
        Some(Place { peer, inside: Arc::clone(inside) })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut counts = locked(&self.inside);
        match counts.get_mut(&self.peer) {
            Some(count) if *count > 1 => *count -= 1,
            _ => {
                counts.remove(&self.peer);
            }
        }
    }
}

/// A connection, with its place among those that may be open.
pub(crate) struct Passage {
    stream: TcpStream,
    _place: Option<Place>,
    idle: Option<Pin<Box<Sleep>>>,
}

impl Passage {
    /// Something happened, or nothing for too long.
    fn looked_at<T>(&mut self, cx: &mut Context<'_>, result: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        let Some(idle) = &mut self.idle else { return result };
        if result.is_ready() {
            idle.as_mut().reset(Instant::now() + LONGEST_IDLE);
            return result;
        }
        match idle.as_mut().poll(cx) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl AsyncRead for Passage {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let result = Pin::new(&mut self.stream).poll_read(cx, buffer);
        self.looked_at(cx, result)
    }
}

impl AsyncWrite for Passage {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let result = Pin::new(&mut self.stream).poll_write(cx, bytes);
        self.looked_at(cx, result)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        // Nothing waits in a connection, so flushing says nothing about what happens on it.
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        parts: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let result = Pin::new(&mut self.stream).poll_write_vectored(cx, parts);
        self.looked_at(cx, result)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn connections_are_limited_for_each_machine_and_for_all() {
        let inside = Arc::default();
        let peer = |last: u8| IpAddr::from([192, 168, 1, last]);
        let mut places: Vec<Place> =
            (0..MOST_FROM_ONE).map(|_| Place::take(&inside, peer(1)).unwrap()).collect();
        assert!(Place::take(&inside, peer(1)).is_none(), "one machine has its share");
        places.pop();
        places.push(Place::take(&inside, peer(1)).expect("a closed connection makes room"));
        let more = (2..u8::MAX).flat_map(|last| (0..10).map(move |_| last));
        places.extend(more.map_while(|last| Place::take(&inside, peer(last))));
        assert_eq!(places.len(), MOST_FROM_ALL);
        drop(places);
        assert!(locked(&inside).is_empty(), "nothing is remembered of who has left");
    }
}
