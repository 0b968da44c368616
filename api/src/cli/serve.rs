//! `eighths serve`: the service and its page.

use std::path::PathBuf;
use std::thread;

use directories::ProjectDirs;

use super::{Outcome, complain, say};
use crate::server::{self, Config};

/// Serve the notebook and its page.
///
/// Without --data the notebook lies in the platform's own place for data and
/// starts with a few layouts to try things on.
#[derive(clap::Args)]
pub(super) struct Args {
    /// Folder of the notebook; made if it is missing
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Address and port to listen at; port 0 takes a free one
    ///
    /// At an address other than 127.0.0.1 everyone on the network can use the notebook.
    #[arg(long, value_name = "ADDR", default_value = LISTEN)]
    listen: String,
    /// Fill an empty notebook with the demo's layouts also with --data
    #[arg(long)]
    demo: bool,
    /// Photos read at a time [default: one a processor core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    workers: Option<u16>,
    /// Photos that may wait for their turn; more are sent away for a while
    #[arg(long, value_name = "N", default_value_t = QUEUE)]
    queue: u16,
    /// Largest photo taken, in megabytes
    #[arg(long, value_name = "MB", default_value_t = PHOTO_MB, value_parser = clap::value_parser!(u16).range(1..=200))]
    photo_limit: u16,
}

/// Loopback only: the notebook is its maker's.
const LISTEN: &str = "127.0.0.1:8118";
/// A dozen photos dropped at once find room; each waits a few seconds at most.
const QUEUE: u16 = 16;
/// Phones write photos of 3 to 15 MB; scans as PNG come to 30.
const PHOTO_MB: u16 = 40;

impl Args {
    /// What is meant when nothing is said.
    pub(super) fn usual() -> Args {
        Args {
            data: None,
            listen: LISTEN.to_owned(),
            demo: false,
            workers: None,
            queue: QUEUE,
            photo_limit: PHOTO_MB,
        }
    }
}

/// Serves until told to stop.
pub(super) fn run(args: Args) -> Outcome {
    log_to_stderr();
    let given = args.data.is_some();
    let Some(data) = args.data.or_else(usual_folder) else {
        complain("this system has no place for data: say where the notebook is to be with --data DIR");
        return Outcome::WrongUsage;
    };
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let config = Config {
        data,
        listen: args.listen,
        demo: args.demo || !given,
        workers: args.workers.map_or(cores, usize::from),
        queue: usize::from(args.queue),
        photo_limit: usize::from(args.photo_limit) * 1_000_000,
    };
    let folder = config.data.display().to_string();
    let announce =
        |address| say(&format!("eighths is at http://{address}/\nnotebook: {folder}\nstop it with Ctrl-C\n"));
    match server::serve(&config, announce) {
        Ok(()) => Outcome::Fine,
        Err(error) => {
            complain(error);
            Outcome::Failed
        }
    }
}

/// The platform's place for a program's data.
pub(super) fn usual_folder() -> Option<PathBuf> {
    ProjectDirs::from("", "", "eighths").map(|dirs| dirs.data_dir().to_owned())
}

/// Warnings and errors go to the standard error; `RUST_LOG` asks for more or less.
fn log_to_stderr() {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("warn"));
    tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(false).init();
}
