//! Starting and stopping the service.

use std::future::Future;
use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, ToSocketAddrs};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::sync::watch;

use crate::app::App;
use crate::connections;
use crate::door::{Door, Gate};
use crate::import::Importer;
use crate::reader::Reader;
use crate::store::{Store, StoreError};
use crate::upload::FILE_LIMIT;
use crate::{demo, router};

/// How the service is to run.
pub(crate) struct Config {
    /// The data folder.
    pub(crate) data: PathBuf,
    /// Address and port to listen at.
    pub(crate) listen: String,
    /// Let devices of the network in, once they are paired.
    pub(crate) lan: bool,
    /// Fill an empty notebook with the demo's layouts.
    pub(crate) demo: bool,
    /// Photos read at a time.
    pub(crate) workers: usize,
    /// Photos that may wait.
    pub(crate) queue: usize,
    /// Largest photo, in bytes.
    pub(crate) photo_limit: usize,
}

/// Why the service does not run.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ServeError {
    /// The notebook cannot be opened.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// No address and port.
    #[error("{0} is no address to listen at: write it like 127.0.0.1:8118")]
    Address(String),
    /// The port is taken.
    #[error(
        "port {} is in use by another program: stop that, or choose another with --listen {}:{}",
        .0.port(), .0.ip(), .0.port().saturating_add(1)
    )]
    PortBusy(SocketAddr),
    /// The system does not let us listen there.
    #[error("cannot listen at {address} ({source}): choose another address with --listen")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        source: io::Error,
    },
    /// The system failed us while serving.
    #[error("the service stopped: {0}")]
    Io(#[from] io::Error),
}

/// Requests that send files to imports at a time: more would only share the same disk.
const MOST_RECEIVED: usize = 4;

/// How long accepted work may take to end after the signal to stop.
const FAREWELL: Duration = Duration::from_secs(30);

/// Serves until the process is told to stop. `announce` is told where, as soon
/// as the service answers.
pub(crate) fn serve(
    config: &Config,
    announce: impl FnOnce(&Door) -> io::Result<()>,
) -> Result<(), ServeError> {
    let address = config
        .listen
        .to_socket_addrs()
        .ok()
        .and_then(|mut addresses| addresses.next())
        .ok_or_else(|| ServeError::Address(config.listen.clone()))?;
    let address = if config.lan { opened(address) } else { address };
    let store = Arc::new(Store::open(&config.data)?);
    if let Some(fault) = store.clock_fault()? {
        tracing::warn!("{}: {}", fault.what, fault.help);
    }
    let app = App {
        importer: Importer::new(Arc::clone(&store), config.workers.max(1), FILE_LIMIT),
        receiving: Arc::new(Semaphore::new(MOST_RECEIVED)),
        store,
        reader: Reader::new(config.workers, config.queue),
        planners: Arc::new(Semaphore::new(config.workers.max(1))),
        door: Door::new(),
        photo_limit: config.photo_limit,
    };
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    let result = runtime.block_on(run(app, address, config.demo, announce));
    // A reading nobody waits for any more does not hold the program up.
    runtime.shutdown_timeout(Duration::from_secs(1));
    result
}

async fn run(
    app: App,
    address: SocketAddr,
    with_demo: bool,
    announce: impl FnOnce(&Door) -> io::Result<()>,
) -> Result<(), ServeError> {
    let router = router::router(&app).map_err(io::Error::other)?;
    let listener = listen(address).await?;
    let address = listener.local_addr()?;
    // This machine's browser comes in by loopback, which needs no pairing.
    let own = if address.ip().is_unspecified() || address.ip().is_loopback() {
        None
    } else {
        Some(listen(SocketAddr::new(Ipv4Addr::LOCALHOST.into(), address.port())).await?)
    };
    app.door.opens_at(address);
    if app.door.is_on_network() {
        app.door.new_code().map_err(io::Error::other)?;
    }
    let importing = app.importer.start()?;
    // Nobody has to read what we say: serving goes on.
    let _ = announce(&app.door);
    let demo = with_demo.then(|| tokio::spawn(demo::fill(app.clone())));
    let (stopping, stopped) = watch::channel(false);
    let importer = app.importer.clone();
    let signal = told_to_stop()?;
    let graceful = async move {
        signal.await;
        // Whoever watches an import would hold the service up.
        importer.end();
        let _ = stopping.send(true);
    };
    let service = connections::serve(Gate::new(listener, own), router, graceful);
    let too_long = async move {
        let mut stopped = stopped;
        // An error means that the service has ended by itself.
        if stopped.wait_for(|stopped| *stopped).await.is_err() {
            std::future::pending::<()>().await;
        }
        tokio::time::sleep(FAREWELL).await;
    };
    tokio::select! { () = service => {}, () = too_long => {} }
    if let Some(demo) = demo {
        demo.abort();
    }
    app.importer.end();
    // What it is reading is soon read; if not, it is read again next time.
    let _ = tokio::time::timeout(FAREWELL, tokio::task::spawn_blocking(move || importing.join())).await;
    Ok(())
}

async fn listen(address: SocketAddr) -> Result<TcpListener, ServeError> {
    TcpListener::bind(address).await.map_err(|source| match source.kind() {
        io::ErrorKind::AddrInUse => ServeError::PortBusy(address),
        _ => ServeError::Listen { address, source },
    })
}

/// All addresses of this machine instead of its loopback.
fn opened(address: SocketAddr) -> SocketAddr {
    let all: IpAddr = match address.ip() {
        IpAddr::V4(ip) if ip.is_loopback() => Ipv4Addr::UNSPECIFIED.into(),
        IpAddr::V6(ip) if ip.is_loopback() => Ipv6Addr::UNSPECIFIED.into(),
        ip => ip,
    };
    SocketAddr::new(all, address.port())
}

/// Ends when the process gets SIGINT or SIGTERM (Ctrl-C elsewhere).
#[cfg(unix)]
fn told_to_stop() -> io::Result<impl Future<Output = ()>> {
    use tokio::signal::unix::{SignalKind, signal};
    let (mut interrupt, mut terminate) = (signal(SignalKind::interrupt())?, signal(SignalKind::terminate())?);
    Ok(async move {
        tokio::select! { _ = interrupt.recv() => {}, _ = terminate.recv() => {} }
    })
}

/// Ends when the process gets SIGINT or SIGTERM (Ctrl-C elsewhere).
#[cfg(not(unix))]
fn told_to_stop() -> io::Result<impl Future<Output = ()>> {
    Ok(async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    })
}
