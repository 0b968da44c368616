//! The program `eighths`: reads photos of card layouts at the command line,
//! and serves the notebook with its page. A library only so that its tests reach
//! the places where foreign bytes come in (`ways_in`).

mod app;
mod archive;
mod batch;
mod body;
mod cli;
mod connections;
mod contained;
mod demo;
mod door;
mod error;
mod guard;
mod handlers;
mod import;
mod making;
mod openapi;
mod page;
mod papers_csv;
mod precondition;
mod print;
mod reader;
mod router;
mod server;
mod store;
mod upload;
pub mod ways_in;

use std::process::ExitCode;

/// Runs the program: what the command line asks for.
pub fn run() -> ExitCode {
    if std::env::args_os().nth(1).is_some_and(|word| word == contained::COMMAND) {
        return contained::serve();
    }
    cli::run()
}
