//! What is kept of an import: its state, its files, and what came of each page.

use layout::Layout;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Source;

/// How far an import is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum ImportState {
    /// Files are read, or will be as soon as it has its turn.
    Running,
    /// It waits until it is resumed.
    Paused,
    /// It was given up; what had been read by then is kept.
    Canceled,
    /// All files have their outcome.
    Done,
}

impl ImportState {
    const WORDS: [(&'static str, ImportState); 4] = [
        ("running", ImportState::Running),
        ("paused", ImportState::Paused),
        ("canceled", ImportState::Canceled),
        ("done", ImportState::Done),
    ];

    /// Whether nothing more will come of it.
    pub(crate) fn has_ended(self) -> bool {
        matches!(self, ImportState::Done | ImportState::Canceled)
    }

    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        ImportState::WORDS.iter().find(|(_, state)| *state == self).map_or("running", |(word, _)| word)
    }

    /// The state of a word.
    pub(crate) fn of_word(word: &str) -> Option<ImportState> {
        ImportState::WORDS.iter().find(|(known, _)| *known == word).map(|(_, state)| *state)
    }
}

/// What came of a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Outcome {
    /// Its layouts are in the notebook.
    Read,
    /// Its layouts are in the notebook, and a person should look at them.
    Doubtful,
    /// The same file was read before.
    AlreadyThere,
    /// There is nothing on it.
    Blank,
    /// There is something on it, but no layout was found.
    NoLayout,
    /// It was not read yet: nobody has said which card it is for.
    WhichCard,
    /// It is no picture, or a damaged one.
    Unreadable,
}

impl Outcome {
    /// Every outcome with its word, in the order they are told in.
    pub(crate) const WORDS: [(&'static str, Outcome); 7] = [
        ("read", Outcome::Read),
        ("doubtful", Outcome::Doubtful),
        ("already-there", Outcome::AlreadyThere),
        ("blank", Outcome::Blank),
        ("no-layout", Outcome::NoLayout),
        ("which-card", Outcome::WhichCard),
        ("unreadable", Outcome::Unreadable),
    ];

    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        Outcome::WORDS.iter().find(|(_, outcome)| *outcome == self).map_or("unreadable", |(word, _)| word)
    }

    /// The outcome of a word.
    pub(crate) fn of_word(word: &str) -> Option<Outcome> {
        Outcome::WORDS.iter().find(|(known, _)| *known == word).map(|(_, outcome)| *outcome)
    }

    /// It in words for a person.
    pub(crate) fn title(self) -> &'static str {
        match self {
            Outcome::Read => "read",
            Outcome::Doubtful => "doubtful",
            Outcome::AlreadyThere => "already there",
            Outcome::Blank => "blank",
            Outcome::NoLayout => "no layout found",
            Outcome::WhichCard => "card not known",
            Outcome::Unreadable => "unreadable",
        }
    }
}

/// A file that an import is to read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct FoundFile {
    /// What the maker knows it by: its path within what was given.
    pub(crate) name: String,
    /// Where its bytes are.
    pub(crate) source: Source,
    /// Its size in bytes.
    pub(crate) bytes: u64,
}

/// A file of an import that has no outcome yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct WaitingFile {
    /// Its place among the import's files, from 1.
    pub(crate) number: i64,
    /// What the maker knows it by.
    pub(crate) name: String,
    /// Where its bytes are.
    pub(crate) source: Source,
    /// The card it is for, where somebody has said so since.
    pub(crate) card: Option<String>,
}

/// What was read of one page of a file; nothing of it is kept yet.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct PageRead {
    /// From 1.
    pub(crate) page: u32,
    /// What came of it.
    pub(crate) outcome: Outcome,
    /// Why, in a sentence; empty where there is nothing to say.
    pub(crate) reason: String,
    /// Width and height of the upright picture, where it is worth keeping.
    pub(crate) size_px: Option<[u32; 2]>,
    /// Its layouts, in reading order.
    pub(crate) layouts: Vec<Layout>,
}

impl PageRead {
    /// A page, or a file whose pages nobody has seen, that was not read.
    pub(crate) fn unreadable(page: u32, reason: String) -> PageRead {
        PageRead { page, outcome: Outcome::Unreadable, reason, size_px: None, layouts: Vec::new() }
    }
}

/// A layout that came of a page.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct LayoutRead {
    /// Its number in the notebook.
    pub(crate) id: i64,
    /// An earlier layout that looks the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) like: Option<i64>,
    /// What a person said about that: `same` or `different`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) verdict: Option<String>,
}

/// What came of a page, as it is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct PageResult {
    /// From 1.
    pub(crate) page: u32,
    /// What came of it.
    pub(crate) outcome: Outcome,
    /// Why, in a sentence; empty where there is nothing to say.
    pub(crate) reason: String,
    /// Its picture's id, where it is kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) photo: Option<String>,
    /// The layouts that came of it.
    pub(crate) layouts: Vec<LayoutRead>,
}

/// A file with its outcome.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "ImportedFile")]
pub(crate) struct FileResult {
    /// Its place among the outcomes of the import, from 1: what `after` counts by.
    pub(crate) sequence: i64,
    /// Its place among the import's files, from 1.
    pub(crate) number: i64,
    /// What the maker knows it by.
    pub(crate) name: String,
    /// What came of its pages.
    pub(crate) pages: Vec<PageResult>,
}

/// How many pages had which outcome.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(title = "ImportCounts")]
pub(crate) struct Counts {
    /// Files of the import, as far as they are known.
    pub(crate) files: i64,
    /// Files that have their outcome.
    pub(crate) files_done: i64,
    /// Layouts that came into the notebook.
    pub(crate) layouts: i64,
    /// Layouts that look like an earlier one, and nobody has said whether they are the same.
    pub(crate) alike: i64,
    /// Pages whose layouts were read without doubt.
    pub(crate) read: i64,
    /// Pages a person should look at.
    pub(crate) doubtful: i64,
    /// Pages that were in the notebook before.
    pub(crate) already_there: i64,
    /// Pages with nothing on them.
    pub(crate) blank: i64,
    /// Pages on which no layout was found.
    pub(crate) no_layout: i64,
    /// Pages nobody has said a card for.
    pub(crate) which_card: i64,
    /// Pages that could not be read.
    pub(crate) unreadable: i64,
}

impl Counts {
    /// The count of an outcome.
    pub(crate) fn of(&self, outcome: Outcome) -> i64 {
        match outcome {
            Outcome::Read => self.read,
            Outcome::Doubtful => self.doubtful,
            Outcome::AlreadyThere => self.already_there,
            Outcome::Blank => self.blank,
            Outcome::NoLayout => self.no_layout,
            Outcome::WhichCard => self.which_card,
            Outcome::Unreadable => self.unreadable,
        }
    }

    /// The count of an outcome, to be written.
    pub(crate) fn of_mut(&mut self, outcome: Outcome) -> &mut i64 {
        match outcome {
            Outcome::Read => &mut self.read,
            Outcome::Doubtful => &mut self.doubtful,
            Outcome::AlreadyThere => &mut self.already_there,
            Outcome::Blank => &mut self.blank,
            Outcome::NoLayout => &mut self.no_layout,
            Outcome::WhichCard => &mut self.which_card,
            Outcome::Unreadable => &mut self.unreadable,
        }
    }
}
