//! A short run of every target of `tests/fuzz`: what once broke it, what is
//! right, and changes of that. The long run is `python3 tests/reliability.py fuzz`.

#![expect(clippy::unwrap_used, reason = "a test ends where it finds what it did not expect")]

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use tests::fuzz::{Mutations, TARGETS, Target, seeds};

/// How long changed seeds are tried at each target.
const MOMENT: Duration = Duration::from_millis(1500);

fn check(target: &Target) {
    let regressions = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/regressions").join(target.name);
    let mut once = Vec::new();
    for entry in fs::read_dir(regressions).into_iter().flatten() {
        once.push(fs::read(entry.unwrap().path()).unwrap());
    }
    let seeds = seeds(target.name, None);
    assert!(!seeds.is_empty(), "{} has no seeds", target.name);
    for bytes in once.iter().chain(&seeds) {
        (target.run)(bytes);
    }
    let begun = Instant::now();
    let mut tried = 0;
    for bytes in Mutations::of(&seeds) {
        if begun.elapsed() > MOMENT {
            break;
        }
        (target.run)(&bytes);
        tried += 1;
    }
    assert!(tried > 0, "{}: nothing was tried", target.name);
}

#[test]
fn every_way_in_stands_a_short_run() {
    for target in &TARGETS {
        check(target);
    }
}

#[test]
fn every_target_has_its_program() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/fuzz_targets");
    let mut programs: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    programs.sort();
    let mut names: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
    names.sort_unstable();
    assert_eq!(programs, names);
}
