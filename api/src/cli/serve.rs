//! `eighths serve`: the service and its page.

use std::env;
use std::fmt::Write;
use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::thread;

use directories::ProjectDirs;

use super::{Outcome, complain, say};
use crate::door::{CODE_LIFE, Door, Qr, pairing_url};
use crate::handlers::pairing::grouped;
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
    /// At an address other than 127.0.0.1 devices of the network are let in once they are paired.
    #[arg(long, value_name = "ADDR", default_value = LISTEN)]
    listen: String,
    /// Let phones on the same network in, once they are paired with a code
    #[arg(long)]
    lan: bool,
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
    pub(super) fn usual(lan: bool) -> Args {
        Args {
            data: None,
            listen: LISTEN.to_owned(),
            lan,
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
        lan: args.lan,
        demo: args.demo || !given,
        workers: args.workers.map_or(cores, usize::from),
        queue: usize::from(args.queue),
        photo_limit: usize::from(args.photo_limit) * 1_000_000,
    };
    let folder = config.data.display().to_string();
    let announce = |door: &Door| say(&welcome(door, &folder, has_colours()));
    match server::serve(&config, announce) {
        Ok(()) => Outcome::Fine,
        Err(error) => {
            complain(error);
            Outcome::Failed
        }
    }
}

/// Whether what is said is read on a terminal that may be coloured.
fn has_colours() -> bool {
    io::stdout().is_terminal() && env::var_os("NO_COLOR").is_none_or(|no| no.is_empty())
}

/// Where the service is, and how a phone comes in.
fn welcome(door: &Door, folder: &str, coloured: bool) -> String {
    let own = door.own_address().map_or_else(String::new, |address| format!("http://{address}/"));
    let mut text = format!("eighths is at {own}\nnotebook: {folder}\n");
    if door.is_on_network() {
        text += &invitation(door, &own, coloured);
    }
    text + "stop it with Ctrl-C\n"
}

/// How a phone comes in.
fn invitation(door: &Door, own: &str, coloured: bool) -> String {
    let addresses = door.addresses();
    let (Some(&first), Ok(code)) = (addresses.first(), door.code()) else {
        return format!(
            "\nThis computer is on no network now. Connect it to the one the phone is on, then open\n\
             {own}#/phone for the address and a code.\n\n"
        );
    };
    let mut text =
        "\nTo use a phone on the same network as the scanner, point its camera at this:\n\n".to_owned();
    text += &Qr::for_terminal(&pairing_url(first, &code.digits), coloured).unwrap_or_default();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "\nor open http://{first}/pair on it and enter {}", grouped(&code.digits));
    for other in &addresses[1..] {
        let _ = writeln!(text, "(if that does not answer: http://{other}/pair)");
    }
    text + &format!(
        "The code pairs one phone and is valid for {} minutes. Another code, and which phones are\n\
             paired: {own}#/phone\n\n",
        CODE_LIFE.as_secs() / 60
    )
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
