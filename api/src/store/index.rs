//! What layouts are found and sorted by. All of it is derived from the present
//! version and written in the transaction that saves it, so it never tells
//! anything else than the record does.

use layout::{Card, Element, Layout, Length, Role, Shape, Unit};
use rusqlite::{Connection, OptionalExtension, Transaction};

use super::layouts::{parsed, version_of};
use super::{StoreError, put_setting};

/// Form of what is derived. Another number here derives everything anew at the
/// next start.
const FORM: &str = "2";
const SETTING: &str = "index";

/// How many times longer than wide a rectangle is called a strip; the reader
/// calls the same ones strips.
const STRIP_PROPORTION: f64 = 3.0;

/// Sorts after every title.
const UNTITLED: &str = "\u{10ffff}";

/// What a maker calls a shape when looking for one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Any shape but a mark, which is not cut.
    #[default]
    Any,
    /// A rectangle that is no strip.
    Panel,
    /// A rectangle at least three times longer than wide, or called a strip.
    Strip,
    /// A circle.
    Circle,
    /// An oval.
    Oval,
    /// A banner.
    Banner,
    /// A small embellishment.
    Mark,
}

impl Kind {
    /// Every kind with its word.
    pub(crate) const WORDS: [(&'static str, Kind); 7] = [
        ("any", Kind::Any),
        ("panel", Kind::Panel),
        ("strip", Kind::Strip),
        ("circle", Kind::Circle),
        ("oval", Kind::Oval),
        ("banner", Kind::Banner),
        ("mark", Kind::Mark),
    ];

    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        Kind::WORDS.iter().find(|(_, kind)| *kind == self).map_or("any", |(word, _)| word)
    }

    fn of(element: &Element) -> Kind {
        let [shorter, longer] = sides_mm(element);
        match element.shape {
            Shape::Circle => Kind::Circle,
            Shape::Oval => Kind::Oval,
            Shape::Banner { .. } => Kind::Banner,
            Shape::Mark { .. } => Kind::Mark,
            Shape::Rectangle { .. } if element.role == Role::Strip => Kind::Strip,
            Shape::Rectangle { .. } if longer >= STRIP_PROPORTION * shorter => Kind::Strip,
            Shape::Rectangle { .. } => Kind::Panel,
        }
    }
}

/// A length as the index keeps it.
pub(super) fn mm(length: Length) -> f64 {
    length.value(Unit::Millimetre)
}

/// A card by its size, whichever way it stands.
pub(super) fn card_key(card: &Card) -> String {
    card.upright().name
}

/// Text without the difference of capitals and of blanks around it.
pub(super) fn folded(text: &str) -> String {
    text.trim().to_lowercase()
}

/// Writes down what the layout is found by.
pub(super) fn write(
    transaction: &Transaction<'_>,
    id: i64,
    saved_at: &str,
    layout: &Layout,
) -> Result<(), StoreError> {
    forget(transaction, id)?;
    let cut = || layout.elements.iter().filter(|element| !matches!(element.shape, Shape::Mark { .. }));
    let largest = |side: usize| cut().map(|element| sides_mm(element)[side]).fold(0.0, f64::max);
    let title = folded(&layout.title);
    transaction
        .prepare_cached(
            "UPDATE layouts SET card = ?2, title_key = ?3, changed_at = ?4, papers = ?5, shorter_mm = ?6,
             longer_mm = ?7, photo = ?8 WHERE id = ?1",
        )?
        .execute((
            id,
            card_key(&layout.card),
            if title.is_empty() { UNTITLED } else { &title },
            saved_at,
            papers(layout),
            largest(0),
            largest(1),
            layout.capture.as_ref().map_or("", |capture| &capture.photo),
        ))?;
    for tag in &layout.tags {
        transaction
            .prepare_cached("INSERT INTO tags (tag, layout) VALUES (?1, ?2) ON CONFLICT DO NOTHING")?
            .execute((folded(tag), id))?;
    }
    for element in &layout.elements {
        let [shorter, longer] = sides_mm(element);
        transaction
            .prepare_cached(
                "INSERT INTO shapes (layout, kind, shorter_mm, longer_mm) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute((id, Kind::of(element).word(), shorter, longer))?;
    }
    transaction
        .prepare_cached("INSERT INTO words (rowid, body) VALUES (?1, ?2)")?
        .execute((id, words(layout)))?;
    Ok(())
}

/// Takes a layout out of what is found.
pub(super) fn forget(transaction: &Transaction<'_>, id: i64) -> Result<(), StoreError> {
    for table in ["tags WHERE layout", "shapes WHERE layout", "words WHERE rowid"] {
        transaction.prepare_cached(&format!("DELETE FROM {table} = ?1"))?.execute([id])?;
    }
    Ok(())
}

/// Derives everything anew if an earlier program derived it in another form.
pub(super) fn refresh(connection: &mut Connection) -> Result<(), StoreError> {
    let form: Option<String> = connection
        .query_row("SELECT value FROM settings WHERE key = ?1", [SETTING], |row| row.get(0))
        .optional()?;
    if form.as_deref() == Some(FORM) {
        return Ok(());
    }
    let transaction = connection.transaction()?;
    let heads: Vec<(i64, i64)> = transaction
        .prepare("SELECT id, version FROM layouts WHERE deleted = 0")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    for (id, version) in heads {
        let saved = version_of(&transaction, id, version)?;
        write(&transaction, id, &saved.saved_at, &parsed(saved.record)?)?;
    }
    put_setting(&transaction, SETTING, FORM)?;
    transaction.commit()?;
    Ok(())
}

/// The shorter and the longer side of an element.
fn sides_mm(element: &Element) -> [f64; 2] {
    let (width, height) = (mm(element.frame.width), mm(element.frame.height));
    [width.min(height), width.max(height)]
}

/// How many different patterned papers are asked for.
fn papers(layout: &Layout) -> i64 {
    let mut slots: Vec<_> = layout.elements.iter().filter_map(|element| element.slot).collect();
    slots.sort_unstable();
    slots.dedup();
    // At most the 26 letters.
    slots.len().try_into().unwrap_or(i64::MAX)
}

/// The words that a layout is found by: the maker's, the card's name, and
/// those of its shapes.
fn words(layout: &Layout) -> String {
    let mut words = vec![layout.title.clone(), layout.notes.clone(), layout.card.name.clone()];
    words.extend(layout.tags.iter().cloned());
    words.extend(layout.elements.iter().map(|element| Kind::of(element).word().to_owned()));
    words.join("\n")
}
