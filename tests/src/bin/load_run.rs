//! Sixty-four people and two photos being read, for a minute: how long they
//! wait, what goes wrong, and what it takes.

#![expect(clippy::print_stdout, reason = "its table is its answer")]

use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;
use std::{env, fs};

use tests::load::{Asked, Load, quantile, run};

/// A save may take so long, for 99 of 100.
const SAVE_LIMIT: Duration = Duration::from_millis(250);
/// Memory in the last third of the run over that in the second one.
const MOST_GROWTH: f64 = 1.1;

fn main() -> ExitCode {
    let seconds = env::args().nth(1).map_or(Some(60), |word| word.parse().ok());
    let Some(seconds) = seconds.filter(|seconds| (10..=3600).contains(seconds)) else {
        eprintln!("load-run [SECONDS]: from 10 to 3600");
        return ExitCode::from(2);
    };
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-images/pen-tilted.jpg");
    let Ok(photo) = fs::read(&photo) else {
        eprintln!("{} is not there: run it where the repository is", photo.display());
        return ExitCode::from(2);
    };
    let load = Load {
        clients: 62,
        senders: 2,
        drips: 20,
        time: Duration::from_secs(seconds),
        pause: Duration::from_millis(400),
    };
    let Ok(folder) = tempfile::tempdir() else {
        eprintln!("no folder can be made for the notebook: see that there is room on the disk");
        return ExitCode::from(2);
    };
    let outcome = run(load, &photo, folder.path());
    println!("| asked for | answered | median ms | 99 of 100 within ms | longest ms | busy (503) |");
    println!("| --- | ---: | ---: | ---: | ---: | ---: |");
    let ms = |time: Duration| format!("{:.0}", time.as_secs_f64() * 1000.0);
    for asked in Asked::ALL {
        let times = outcome.times(asked);
        let longest = times.last().copied().unwrap_or_default();
        println!(
            "| {} | {} | {} | {} | {} | {} |",
            asked.name(),
            times.len(),
            ms(quantile(&times, 0.5)),
            ms(quantile(&times, 0.99)),
            ms(longest),
            outcome.count(asked, 503),
        );
    }
    let thirds: Vec<f64> = outcome
        .memory_mb
        .chunks(outcome.memory_mb.len().div_ceil(3).max(1))
        .map(|third| third.iter().sum::<f64>() / third.len() as f64)
        .collect();
    let peak = outcome.memory_mb.iter().copied().fold(0.0, f64::max);
    let growth = match thirds[..] {
        [_, second, third] if second > 0.0 => third / second,
        _ => 1.0,
    };
    println!();
    println!(
        "{} clients, {seconds} s. Errors other than 503: {}. Saves answered: {}, lost: {}. Memory: {peak:.0} MB at most, \
         last third over second {growth:.2}. Connections that dripped: {} of {} were closed.",
        load.clients + load.senders,
        outcome.errors(),
        outcome.saved,
        outcome.lost,
        outcome.drips_closed,
        load.drips,
    );
    for broken in outcome.broken.iter().take(5) {
        eprintln!("without an answer: {broken}");
    }
    let slow = quantile(&outcome.times(Asked::Save), 0.99) > SAVE_LIMIT;
    let drips_stay = seconds >= 60 && outcome.drips_closed < load.drips;
    if slow || drips_stay || growth > MOST_GROWTH || outcome.errors() > 0 || outcome.lost > 0 {
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
