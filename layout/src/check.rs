//! What can be wrong with a record: one message per fault, each with the place
//! it is at, collected so that all of them are told at once.

use std::fmt;

use schemars::JsonSchema;
use serde::Serialize;

use crate::length::{Length, NOTHING, Step, Unit};

/// Longest title or name, in characters: a line of a page.
pub(crate) const LONGEST_TITLE: usize = 200;
const LONGEST_NOTES: usize = 20_000;
const MOST_TAGS: usize = 50;
const LONGEST_TAG: usize = 60;

/// One thing that is wrong with a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Fault {
    /// Where, as in `elements[2].width`.
    pub at: String,
    /// What is wrong and what would be right.
    pub message: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.at, self.message)
    }
}

/// Everything that is wrong with a record.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
pub struct Faults(pub Vec<Fault>);

/// Collects faults while a record is being checked.
#[derive(Default)]
pub(crate) struct Checker {
    /// Those found so far.
    pub(crate) faults: Vec<Fault>,
}

impl Checker {
    /// Notes a fault.
    pub(crate) fn fault(&mut self, at: &str, message: impl Into<String>) {
        self.faults.push(Fault { at: at.to_owned(), message: message.into() });
    }

    /// Notes a fault unless all is fine.
    pub(crate) fn require(&mut self, fine: bool, at: &str, message: &str) {
        if !fine {
            self.fault(at, message);
        }
    }

    /// A length on the grid of `step`; where it is not, a fault and a length of nothing.
    pub(crate) fn length(&mut self, at: &str, value: f64, unit: Unit, step: Step) -> Length {
        Length::exact(value, unit, step).unwrap_or_else(|error| {
            self.fault(at, error.to_string());
            Length::ZERO
        })
    }

    /// A length that must be longer than nothing.
    pub(crate) fn size(&mut self, at: &str, value: f64, unit: Unit) -> Length {
        if value <= NOTHING {
            self.fault(at, format!("{value} is not a size: sizes are greater than zero"));
            return Length::ZERO;
        }
        self.length(at, value, unit, Step::Size)
    }

    /// Words of a limited length.
    pub(crate) fn words(&mut self, at: &str, words: &str, longest: usize) {
        if words.chars().count() > longest {
            self.fault(at, format!("at most {longest} characters fit here"));
        }
    }

    /// What every record of the notebook may carry.
    pub(crate) fn notes_and_tags(&mut self, notes: &str, tags: &[String]) {
        self.words("notes", notes, LONGEST_NOTES);
        self.require(
            tags.len() <= MOST_TAGS
                && tags.iter().all(|tag| !tag.trim().is_empty() && tag.chars().count() <= LONGEST_TAG),
            "tags",
            "at most 50 tags, each of 1 to 60 characters",
        );
    }
}
