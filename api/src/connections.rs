//! Answering connections, each on a task of its own: the head of a request has
//! to come in time, and when the service is told to stop, what was begun is
//! answered first.

use std::pin::pin;
use std::time::Duration;

use axum::Router;
use axum::extract::{ConnectInfo, Request};
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;

use crate::door::Gate;

/// How long the head of a request may take to come. A connection on which none
/// comes is closed after that too; browsers open another one when they need it.
const HEAD_TIME: Duration = Duration::from_secs(20);

/// Serves until `stop` ends, then lets what was begun come to its end.
pub(crate) async fn serve(mut gate: Gate, router: Router, stop: impl Future<Output = ()>) {
    let graceful = GracefulShutdown::new();
    let mut stop = pin!(stop);
    loop {
        let (passage, peer) = tokio::select! {
            arrived = gate.accept() => arrived,
            () = &mut stop => break,
        };
        let router = TowerToHyperService::new(router.clone());
        let service = service_fn(move |mut request: Request<Incoming>| {
            request.extensions_mut().insert(ConnectInfo(peer));
            router.call(request)
        });
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEAD_TIME)
            .serve_connection(TokioIo::new(passage), service);
        let connection = graceful.watch(connection);
        tokio::spawn(async move {
            // A connection that breaks is the other end's affair.
            let _ = connection.await;
        });
    }
    drop(gate);
    graceful.shutdown().await;
}
