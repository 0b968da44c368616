//! The program `eighths`: reads photos of card layouts at the command line,
//! and serves the notebook with its page.

mod app;
mod archive;
mod batch;
mod body;
mod cli;
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

use std::process::ExitCode;

fn main() -> ExitCode {
    if std::env::args_os().nth(1).is_some_and(|word| word == contained::COMMAND) {
        return contained::serve();
    }
    cli::run()
}
