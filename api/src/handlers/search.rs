//! Finding layouts. Every parameter comes as text and is understood here, so
//! that each wrong one is told in a sentence.

use axum::Json;
use axum::extract::State;
use layout::Card;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::body::{Params, field};
use crate::error::ApiError;
use crate::handlers::layouts::SavedLayout;
use crate::handlers::params::{USUAL_PART, given, length, sides};
use crate::store::{Count, Filter, Kind, Order, Piece, Store, TagCount};

/// Which layouts are looked for. Every condition that is given has to hold.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Search {
    /// Words that all occur in title, notes, tags, card or shapes, as wholes or
    /// by their beginnings.
    text: Option<String>,
    /// The card they are for, standing or lying.
    card: Option<String>,
    /// A tag they have.
    tag: Option<String>,
    /// Tags they all have, commas between.
    tags: Option<String>,
    /// Shapes they all have, commas between: panel, strip, circle, oval, banner, mark.
    shapes: Option<String>,
    /// A shape whose shorter side is measured by `at_most` and `at_least`: one
    /// of the shapes, or `any`.
    piece: Option<String>,
    /// The most that its shorter side measures: `2 1/2`, `2.5` or `64 mm`.
    at_most: Option<String>,
    /// The least that its shorter side measures.
    at_least: Option<String>,
    /// A paper that every one of their pieces can be cut from: `6x6`, `4 1/4 x 5 1/2`, `100x150mm`.
    fits: Option<String>,
    /// How many patterned papers (slots) they ask for: `2`, `1-3` or `3-`.
    slots: Option<String>,
    /// `true` for favourites, `false` for the others.
    favourite: Option<String>,
    /// How often they were used: `0`, `1-` or `2-5`.
    uses: Option<String>,
    /// Never used on this day or later: `2025-11-30`.
    unused_since: Option<String>,
    /// newest, oldest, changed, title, most-used, last-used, or forgotten:
    /// never or longest not used first.
    order: Option<String>,
    /// Most layouts to give: 1 to 200, 50 if left out.
    #[schemars(with = "Option<u32>")]
    limit: Option<String>,
    /// Give only what comes after the layout of this id, as `next` of the part before says.
    #[schemars(with = "Option<i64>")]
    after: Option<String>,
}

const LARGEST_PART: u32 = 200;
/// Most tags or shapes in one search.
const MOST_WORDS: usize = 50;
/// Longest text to search for, in characters: a title has no more.
const LONGEST_TEXT: usize = 200;

/// A part of the list of layouts.
#[derive(Serialize, JsonSchema)]
pub(crate) struct LayoutList {
    layouts: Vec<SavedLayout>,
    /// How many match in all.
    total: i64,
    /// What `after` is for the next part; null at the end.
    next: Option<i64>,
}

/// `GET /api/layouts`
pub(crate) async fn list(
    State(app): State<App>,
    Params(search): Params<Search>,
) -> Result<Json<LayoutList>, ApiError> {
    let mut filter = Filter::try_from(search)?;
    let limit = filter.limit as usize;
    // One more than asked tells whether there is a next part.
    filter.limit += 1;
    let mut found = app.store(move |store| store.find_layouts(&filter)).await?;
    let more = found.layouts.len() > limit;
    found.layouts.truncate(limit);
    let next = found.layouts.last().map(|one| one.saved.id).filter(|_| more);
    let layouts = found.layouts.into_iter().map(SavedLayout::from).collect();
    Ok(Json(LayoutList { layouts, total: found.total, next }))
}

/// The tags of the notebook.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Tags {
    /// Those of most layouts first.
    tags: Vec<Tag>,
}

/// A tag.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Tag {
    /// In small letters.
    tag: String,
    /// How many layouts have it.
    layouts: u32,
}

/// `GET /api/tags`
pub(crate) async fn tags(State(app): State<App>) -> Result<Json<Tags>, ApiError> {
    let tags = app.store(Store::tags).await?;
    Ok(Json(Tags { tags: tags.into_iter().map(|TagCount { tag, layouts }| Tag { tag, layouts }).collect() }))
}

impl TryFrom<Search> for Filter {
    type Error = ApiError;

    fn try_from(search: Search) -> Result<Filter, ApiError> {
        let text = given(search.text).unwrap_or_default();
        if text.chars().count() > LONGEST_TEXT {
            return Err(field("text", "search for at most 200 characters"));
        }
        let mut tags = words("tags", search.tags)?;
        tags.extend(given(search.tag));
        let shapes = words("shapes", search.shapes)?;
        let mut pieces = shapes
            .iter()
            .map(|word| Ok(Piece { kind: kind("shapes", word)?, ..Piece::default() }))
            .collect::<Result<Vec<_>, ApiError>>()?;
        let [word, at_least, at_most] = [search.piece, search.at_least, search.at_most].map(given);
        pieces.extend(piece(word.as_deref(), at_least.as_deref(), at_most.as_deref())?);
        let limit = match given(search.limit) {
            None => USUAL_PART,
            Some(text) => text
                .parse()
                .ok()
                .filter(|limit| (1..=LARGEST_PART).contains(limit))
                .ok_or_else(|| field("limit", "ask for 1 to 200 layouts at a time"))?,
        };
        Ok(Filter {
            text,
            card: given(search.card).map(|name| name.parse::<Card>()).transpose()?,
            tags,
            pieces,
            papers: given(search.slots).map(|text| count("slots", &text)).transpose()?,
            fits: given(search.fits).map(|text| sides("fits", &text)).transpose()?,
            favourite: given(search.favourite)
                .map(|text| text.parse().map_err(|_| field("favourite", "say true or false")))
                .transpose()?,
            uses: given(search.uses).map(|text| count("uses", &text)).transpose()?,
            unused_since: given(search.unused_since).map(day).transpose()?,
            order: given(search.order).map_or(Ok(Order::default()), |word| order(&word))?,
            limit,
            after: given(search.after)
                .map(|text| text.parse().map_err(|_| field("after", "give the `next` of the part before")))
                .transpose()?,
        })
    }
}

fn words(at: &str, text: Option<String>) -> Result<Vec<String>, ApiError> {
    let text = text.unwrap_or_default();
    let words: Vec<String> =
        text.split(',').map(str::trim).filter(|word| !word.is_empty()).map(str::to_owned).collect();
    if words.len() > MOST_WORDS {
        return Err(field(at, "give at most 50 of them"));
    }
    Ok(words)
}

fn kind(at: &str, word: &str) -> Result<Kind, ApiError> {
    // The record's word for panels and strips alike is no word to look for one by.
    let found = Kind::WORDS.iter().find(|(name, _)| name.eq_ignore_ascii_case(word));
    found
        .map(|&(_, kind)| kind)
        .ok_or_else(|| field(at, "a shape is a panel, strip, circle, oval, banner or mark"))
}

fn piece(
    word: Option<&str>,
    at_least: Option<&str>,
    at_most: Option<&str>,
) -> Result<Option<Piece>, ApiError> {
    if word.is_none() && at_least.is_none() && at_most.is_none() {
        return Ok(None);
    }
    let side = |at: &str, text: Option<&str>| text.map(|text| length(at, text)).transpose();
    Ok(Some(Piece {
        kind: kind("piece", word.unwrap_or("any"))?,
        at_least: side("at_least", at_least)?,
        at_most: side("at_most", at_most)?,
    }))
}

/// `2`, `1-3` or `3-`.
fn count(at: &str, text: &str) -> Result<Count, ApiError> {
    let wrong = || field(at, "write a number or a range, like 2, 1-3 or 3-");
    let number = |text: &str| text.trim().parse::<u32>().map_err(|_| wrong());
    let count = match text.split_once('-') {
        None => number(text).map(|n| Count { least: n, most: n })?,
        Some((least, most)) if most.trim().is_empty() => Count { least: number(least)?, most: u32::MAX },
        Some((least, most)) => Count { least: number(least)?, most: number(most)? },
    };
    if count.least > count.most { Err(wrong()) } else { Ok(count) }
}

/// A day as it is written in the notebook's times.
fn day(text: String) -> Result<String, ApiError> {
    let bytes = text.as_bytes();
    let digits = |range: std::ops::Range<usize>| bytes[range].iter().all(u8::is_ascii_digit);
    let fine = bytes.len() == 10 && bytes[4] == b'-' && bytes[7] == b'-';
    if fine && digits(0..4) && digits(5..7) && digits(8..10) {
        Ok(text)
    } else {
        Err(field("unused_since", "write a day like 2025-11-30"))
    }
}

fn order(word: &str) -> Result<Order, ApiError> {
    let found = Order::WORDS.iter().find(|(name, _)| *name == word);
    found.map(|&(_, order)| order).ok_or_else(|| {
        field("order", "an order is newest, oldest, changed, title, most-used, last-used or forgotten")
    })
}

#[cfg(test)]
mod tests {
    use layout::Length;

    use super::*;

    fn filter(set: impl FnOnce(&mut Search)) -> Result<Filter, String> {
        let mut search = Search::default();
        set(&mut search);
        Filter::try_from(search).map_err(|error| error.to_string())
    }

    #[test]
    fn ranges_are_understood() {
        let slots = |text: &str| {
            filter(|s| s.slots = Some(text.to_owned())).map(|f| f.papers.map(|c| (c.least, c.most)))
        };
        assert_eq!(slots("2"), Ok(Some((2, 2))));
        assert_eq!(slots(" 1 - 3 "), Ok(Some((1, 3))));
        assert_eq!(slots("3-"), Ok(Some((3, u32::MAX))));
        assert_eq!(slots(""), Ok(None));
        for wrong in ["-3", "3-1", "two", "1-2-3", "-"] {
            assert!(slots(wrong).unwrap_err().contains("like 2, 1-3 or 3-"), "{wrong}");
        }
    }

    #[test]
    fn papers_and_sizes_are_understood() {
        let fits = |text: &str| filter(|s| s.fits = Some(text.to_owned())).map(|f| f.fits.unwrap());
        assert_eq!(fits("6x6"), Ok([Length::inches(6); 2]));
        assert_eq!(fits("4 1/4 X 5 1/2"), Ok([Length::eighths(34), Length::eighths(44)]));
        assert_eq!(fits("100x150mm"), Ok([Length::millimetres(100), Length::millimetres(150)]));
        assert!(fits("6").unwrap_err().contains("like 6x6"));
        assert!(fits("0x6").unwrap_err().contains("more than nothing"));
        let strip = filter(|s| {
            s.piece = Some("strip".to_owned());
            s.at_most = Some("2 1/2".to_owned());
        });
        let wanted = Piece { kind: Kind::Strip, at_least: None, at_most: Some(Length::eighths(20)) };
        assert_eq!(strip.unwrap().pieces, [wanted]);
    }
}
