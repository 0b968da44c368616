//! Pulls the plug hundreds of times and says what was asked for again; ends
//! with a panic at the first loss.

#![expect(clippy::print_stdout, reason = "its table is its answer")]

use std::process::ExitCode;
use std::time::Instant;

use tests::faults::{Survived, batches, imports, migration, saves};

type Kind = (&'static str, u64, fn(u64) -> Survived);

/// What is done while the plug is pulled, how often, and how.
const KINDS: [Kind; 4] = [
    ("saving, changing, deleting layouts; sending photos", 240, saves),
    ("cutting a batch, taking its cutting back", 120, batches),
    ("an import of forty files", 120, imports),
    ("bringing a notebook of the first form up to date", 120, migration),
];

fn main() -> ExitCode {
    let part: Option<f64> = std::env::args().nth(1).map_or(Some(1.0), |word| word.parse().ok());
    let Some(part) = part.filter(|part| *part > 0.0 && *part <= 100.0) else {
        eprintln!("fault-loop [FACTOR]: how many times the usual rounds, such as 0.1 or 2");
        return ExitCode::from(2);
    };
    println!("| at work on | kills | answers asked for again | lost | seconds |");
    println!("| --- | ---: | ---: | ---: | ---: |");
    let begun = Instant::now();
    let (mut kills, mut acknowledged) = (0, 0);
    for (what, rounds, run) in KINDS {
        let start = Instant::now();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count")]
        let survived = run((rounds as f64 * part).ceil() as u64);
        kills += survived.kills;
        acknowledged += survived.acknowledged;
        let seconds = start.elapsed().as_secs();
        println!("| {what} | {} | {} | 0 | {seconds} |", survived.kills, survived.acknowledged);
    }
    println!("| **all** | {kills} | {acknowledged} | 0 | {} |", begun.elapsed().as_secs());
    ExitCode::SUCCESS
}
