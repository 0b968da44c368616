//! The built program from outside: at the command line and over HTTP.

#![expect(clippy::unwrap_used, reason = "a test ends where it finds what it did not expect")]

mod archive;
mod bad_input;
mod command_line;
mod demo;
mod description;
mod documents;
mod drawer;
mod durability;
mod hostile;
mod imports;
mod notebook;
mod pairing;
mod photos;
mod pieces;
mod printing;
mod shelf;
mod trouble;

use tests::program::Answer;
use tests::records::{papers, record, thank_you};

/// An answer that is a problem with this status and these words.
fn check_problem(what: &str, answer: &Answer, status: u16, sentence: &str) {
    let problem = answer.json();
    assert_eq!(answer.status, status, "{what}: {problem}");
    assert_eq!(answer.header("content-type"), "application/problem+json", "{what}");
    assert_eq!(problem["status"], status, "{what}: {problem}");
    let detail = problem["detail"].as_str().unwrap_or_default();
    assert!(detail.contains(sentence), "{what}: expected {sentence:?} in {detail:?}");
    for field in ["type", "title", "instance"] {
        assert!(problem[field].as_str().is_some_and(|text| !text.is_empty()), "{what}: {field} in {problem}");
    }
}
