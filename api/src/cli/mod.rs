//! The command line: what can be asked, and the exit codes.

mod capture;
mod check;
mod cut;
mod export;
mod import;
mod pieces;
mod print;
mod serve;
mod stages;
mod table;

use std::fmt::Display;
use std::io::{self, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Reads photos of card layouts into measured, editable records, and keeps the notebook.
///
/// Without a command it serves the notebook, as `eighths serve` does.
#[derive(Parser)]
#[command(name = "eighths", version, after_help = EXIT_CODES, args_conflicts_with_subcommands = true)]
struct Cli {
    /// Let phones on the same network in, once they are paired with a code
    #[arg(long)]
    lan: bool,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    Backup(export::BackupArgs),
    Capture(capture::Args),
    Check(check::Args),
    Cut(cut::Args),
    Export(export::ExportArgs),
    Import(import::Args),
    Pieces(pieces::Args),
    Print(print::Args),
    Serve(serve::Args),
}

const EXIT_CODES: &str = "Exit codes:
  0  all went well
  1  a file could not be read or written, or the service could not run
  2  the command line is wrong: an unknown card, a missing photo name and the like";

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Outcome {
    Fine,
    Failed,
    WrongUsage,
    /// All went well, but not all that was asked for could be done.
    Partly,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> ExitCode {
        ExitCode::from(match outcome {
            Outcome::Fine => 0,
            Outcome::Failed => 1,
            Outcome::WrongUsage => 2,
            Outcome::Partly => 3,
        })
    }
}

/// Does what the command line asks.
pub(crate) fn run() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version come this way too. Where it cannot be shown, the code still tells.
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    match cli.command {
        Some(Command::Backup(args)) => export::backup(&args),
        Some(Command::Export(args)) => export::export(&args),
        Some(Command::Capture(args)) => capture::run(&args),
        Some(Command::Check(args)) => check::run(&args),
        Some(Command::Cut(args)) => cut::run(&args),
        Some(Command::Import(args)) => import::run(&args),
        Some(Command::Pieces(args)) => pieces::run(&args),
        Some(Command::Print(args)) => print::run(&args),
        Some(Command::Serve(args)) => serve::run(args),
        None => serve::run(serve::Args::usual(cli.lan)),
    }
    .into()
}

/// Writes to the standard output. A reader that has gone away has seen
/// enough: that is no failure.
fn say(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        result => result,
    }
}

/// Why a file that was named cannot be read, and what to do.
fn open_sentence(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file: check the name".to_owned(),
        io::ErrorKind::IsADirectory => "this is a folder: give the files in it".to_owned(),
        io::ErrorKind::PermissionDenied => "the file may not be read: check its permissions".to_owned(),
        io::ErrorKind::InvalidData => "this is no text: give a JSON file".to_owned(),
        _ => format!("the file cannot be read ({error}): try again"),
    }
}

/// Tells what went wrong. Where that cannot be told, the exit code still does.
fn complain(message: impl Display) {
    let _ = writeln!(io::stderr().lock(), "eighths: {message}");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_network_is_asked_for_with_or_without_the_command() {
        let plain = Cli::try_parse_from(["eighths", "--lan"]).unwrap();
        assert!(plain.lan && plain.command.is_none());
        assert!(!Cli::try_parse_from(["eighths"]).unwrap().lan);
        let serve = Cli::try_parse_from(["eighths", "serve", "--lan"]).unwrap();
        assert!(matches!(serve.command, Some(Command::Serve(_))));
        // Before the command it would be passed over in silence.
        assert!(Cli::try_parse_from(["eighths", "--lan", "serve"]).is_err());
    }
}
