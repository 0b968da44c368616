//! What several handlers read out of addresses: ids and versions in paths,
//! words and sizes in queries.

use std::fmt::Display;
use std::ops::RangeInclusive;
use std::str::FromStr;

use layout::Length;
use schemars::JsonSchema;
use serde::Deserialize;

use crate::body::field;
use crate::error::ApiError;
use crate::store::{Noun, StoreError};

/// Most in one part of a list if nothing is said.
pub(crate) const USUAL_PART: u32 = 50;

/// Which layout, or paper, or batch.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct IdPath {
    /// Its id.
    #[schemars(with = "i64")]
    id: String,
}

impl IdPath {
    /// The number; what is no number names no layout.
    pub(crate) fn id(&self) -> Result<i64, ApiError> {
        self.of(Noun::Layout)
    }

    /// The number of what is no layout.
    pub(crate) fn of(&self, noun: Noun) -> Result<i64, ApiError> {
        self.id.parse().map_err(|_| StoreError::Missing(noun, self.id.chars().take(40).collect()).into())
    }
}

/// Which version of which layout, or paper.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct VersionPath {
    /// Its id.
    #[schemars(with = "i64")]
    id: String,
    /// The version's number, from 1.
    #[schemars(with = "i64")]
    version: String,
}

impl VersionPath {
    pub(crate) fn numbers(self) -> Result<(i64, i64), ApiError> {
        self.of(Noun::Layout)
    }

    pub(crate) fn of(self, noun: Noun) -> Result<(i64, i64), ApiError> {
        let id = IdPath { id: self.id }.of(noun)?;
        match self.version.parse() {
            Ok(version) => Ok((id, version)),
            Err(_) => Err({
                let version = self.version.chars().take(40).collect();
                StoreError::NoVersion { noun, id, version }.into()
            }),
        }
    }
}

/// An empty field of a form is none.
pub(crate) fn given(text: Option<String>) -> Option<String> {
    text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
}

/// A whole number in words, if there is one.
pub(crate) fn number<T: FromStr + PartialOrd + Display>(
    at: &str,
    text: Option<String>,
    range: RangeInclusive<T>,
) -> Result<Option<T>, ApiError> {
    let Some(text) = text else { return Ok(None) };
    match text.parse().ok().filter(|number| range.contains(number)) {
        Some(number) => Ok(Some(number)),
        None => Err(field(at, &format!("give a whole number from {} to {}", range.start(), range.end()))),
    }
}

/// A length in words that is longer than nothing.
pub(crate) fn length(at: &str, text: &str) -> Result<Length, ApiError> {
    let length: Length = text.parse().map_err(|error: layout::LengthError| field(at, &error.to_string()))?;
    if length <= Length::ZERO {
        return Err(field(at, "a size is more than nothing: write it like 2 1/2"));
    }
    Ok(length)
}

/// Two sides of a rectangle in words; `mm` at the end is meant for both.
pub(crate) fn sides(at: &str, text: &str) -> Result<[Length; 2], ApiError> {
    let lower = text.to_lowercase();
    let (one, other) =
        lower.split_once(['x', '×']).ok_or_else(|| field(at, "write two sides, like 6x6 or 100x150mm"))?;
    let metric = other.trim_end().ends_with("mm") && !one.trim_end().ends_with("mm");
    let one = if metric { format!("{one}mm") } else { one.to_owned() };
    Ok([length(at, &one)?, length(at, other)?])
}
