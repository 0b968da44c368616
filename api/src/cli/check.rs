//! `eighths check`: whether the notebook is whole.

use std::fmt::Write;
use std::path::PathBuf;

use super::serve::usual_folder;
use super::{Outcome, complain, say};
use crate::store::check_notebook;

/// Look whether the notebook is whole: the database, every record, every photo.
///
/// Nothing is changed. What is wrong is told with what can be done about it. May be used while the
/// notebook is served.
#[derive(clap::Args)]
#[command(after_help = "Exit codes:
  0  everything is as it has to be
  1  something is wrong, or the notebook could not be looked at
  2  the command line is wrong")]
pub(super) struct Args {
    /// Where the notebook is; the platform's place for data if left out
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

/// Looks at the notebook.
pub(super) fn run(args: &Args) -> Outcome {
    let Some(data) = args.data.clone().or_else(usual_folder) else {
        complain("this system has no place for data: say where the notebook is with --data DIR");
        return Outcome::WrongUsage;
    };
    let (looked, findings) = match check_notebook(&data) {
        Ok(found) => found,
        Err(error) => {
            complain(error);
            return Outcome::Failed;
        }
    };
    let mut text = format!(
        "{} layouts, {} papers and {} batches with {} versions, and {} photos were looked at\n",
        looked.layouts, looked.papers, looked.batches, looked.versions, looked.photos
    );
    if findings.is_empty() {
        text += "everything is as it has to be\n";
    }
    for finding in &findings {
        // Into a text nothing fails.
        let _ = writeln!(text, "- {}: {}", finding.what, finding.help);
    }
    // Who does not read it has the exit code.
    let _ = say(&text);
    if findings.is_empty() { Outcome::Fine } else { Outcome::Failed }
}
