//! Finding layouts: every condition is answered from indexed columns, words
//! from a full-text index, and the list goes on from the layout it ended with.

use layout::{Card, Length};
use rusqlite::types::Value;
use rusqlite::{Row, params_from_iter};

use super::history::{self, row_of};
use super::index::{Kind, card_key, folded, mm};
use super::layouts::saved;
use super::shelf::{Shelf, Shelved, shelf_of};
use super::{Store, StoreError};

/// Which layouts are looked for. Conditions that are left out hold for all.
#[derive(Clone, Debug, Default)]
pub(crate) struct Filter {
    /// Words, each the beginning of one in title, notes, tags, card or shapes.
    pub(crate) text: String,
    /// The card they are for, standing or lying.
    pub(crate) card: Option<Card>,
    /// Tags that they all have.
    pub(crate) tags: Vec<String>,
    /// Shapes that they all have.
    pub(crate) pieces: Vec<Piece>,
    /// How many patterned papers they ask for.
    pub(crate) papers: Option<Count>,
    /// A paper that each of their pieces can be cut from.
    pub(crate) fits: Option<[Length; 2]>,
    /// Favourites, or what is none.
    pub(crate) favourite: Option<bool>,
    /// How often they were used.
    pub(crate) uses: Option<Count>,
    /// Not used on this day or later: `YYYY-MM-DD`.
    pub(crate) unused_since: Option<String>,
    /// In which order.
    pub(crate) order: Order,
    /// Most layouts to give.
    pub(crate) limit: u32,
    /// Only layouts that come after this one.
    pub(crate) after: Option<i64>,
}

/// A shape that is looked for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Piece {
    /// What it is.
    pub(crate) kind: Kind,
    /// The least its shorter side measures.
    pub(crate) at_least: Option<Length>,
    /// The most its shorter side measures.
    pub(crate) at_most: Option<Length>,
}

/// A number, or a range of them with both ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Count {
    /// The fewest.
    pub(crate) least: u32,
    /// The most.
    pub(crate) most: u32,
}

/// The order of a list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Order {
    /// What came last into the notebook first.
    #[default]
    Newest,
    /// What came first first.
    Oldest,
    /// What was saved last first.
    Changed,
    /// By title, untitled ones last.
    Title,
    /// What was used most often first.
    MostUsed,
    /// What was used last first.
    LastUsed,
    /// What was never or longest not used first.
    Forgotten,
}

impl Order {
    /// Every order with its word.
    pub(crate) const WORDS: [(&'static str, Order); 7] = [
        ("newest", Order::Newest),
        ("oldest", Order::Oldest),
        ("changed", Order::Changed),
        ("title", Order::Title),
        ("most-used", Order::MostUsed),
        ("last-used", Order::LastUsed),
        ("forgotten", Order::Forgotten),
    ];

    /// The column, and whether large comes first. Ids settle ties the same way.
    fn column(self) -> (&'static str, bool) {
        match self {
            Order::Newest => ("id", true),
            Order::Oldest => ("id", false),
            Order::Changed => ("changed_at", true),
            Order::Title => ("title_key", false),
            Order::MostUsed => ("uses", true),
            Order::LastUsed => ("last_used", true),
            Order::Forgotten => ("last_used", false),
        }
    }
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Found {
    /// The layouts of this part of the list.
    pub(crate) layouts: Vec<Shelved>,
    /// How many there are in the whole list.
    pub(crate) total: i64,
}

impl Store {
    /// The layouts that match, in the order asked for.
    pub(crate) fn find_layouts(&self, filter: &Filter) -> Result<Found, StoreError> {
        let Some(conditions) = Conditions::of(filter) else {
            return Ok(Found { layouts: Vec::new(), total: 0 });
        };
        let Conditions { text, mut values } = conditions;
        self.reading(|connection| {
            // One transaction, so that the total fits the list.
            let transaction = connection.unchecked_transaction()?;
            let total = transaction
                .prepare_cached(&format!("SELECT count(*) FROM layouts WHERE {text}"))?
                .query_row(params_from_iter(&values), |row| row.get(0))?;
            let (column, descending) = filter.order.column();
            let (sign, direction) = if descending { ("<", "DESC") } else { (">", "ASC") };
            let mut place = String::new();
            if let Some(after) = filter.after {
                place = format!(
                    "AND (layouts.{column}, layouts.id) {sign} (SELECT {column}, id FROM layouts WHERE id = ?)"
                );
                values.push(after.into());
            }
            values.push(filter.limit.into());
            // The ids of this part first: records that are not in it are not carried through the sorting.
            let order = format!("layouts.{column} {direction}, layouts.id {direction}");
            let mut query = transaction.prepare_cached(&format!(
                "SELECT layouts.id, versions.version, saved_at, record, favourite, uses, last_used
                 FROM (SELECT layouts.id AS part FROM layouts WHERE {text} {place} ORDER BY {order} LIMIT ?)
                 JOIN layouts ON layouts.id = part
                 JOIN versions ON layout = layouts.id AND versions.version = layouts.version
                 ORDER BY {order}"
            ))?;
            let rows = query.query_map(params_from_iter(&values), parts)?;
            let layouts = rows
                .map(|row| {
                    let (parts, shelf) = row?;
                    Ok(Shelved { saved: saved(parts)?, shelf })
                })
                .collect::<Result<_, StoreError>>()?;
            Ok(Found { layouts, total })
        })
    }
}

fn parts(row: &Row<'_>) -> rusqlite::Result<(history::Row, Shelf)> {
    Ok((row_of(row)?, shelf_of(row, 4)?))
}

/// Conditions in SQL and their values, in order.
struct Conditions {
    text: String,
    values: Vec<Value>,
}

impl Conditions {
    /// The conditions of a filter; none where nothing can match.
    fn of(filter: &Filter) -> Option<Conditions> {
        let mut conditions = Conditions { text: "deleted = 0".to_owned(), values: Vec::new() };
        if !filter.text.trim().is_empty() {
            let words = full_text(&filter.text)?;
            conditions.and("+layouts.id IN (SELECT rowid FROM words WHERE words MATCH ?)", [words.into()]);
        }
        if let Some(card) = &filter.card {
            conditions.and("card = ?", [card_key(card).into()]);
        }
        for tag in &filter.tags {
            let condition = "EXISTS (SELECT 1 FROM tags WHERE tag = ? AND layout = layouts.id)";
            conditions.and(condition, [folded(tag).into()]);
        }
        for piece in &filter.pieces {
            conditions.and_piece(*piece);
        }
        if let Some(count) = filter.papers {
            conditions.and("papers BETWEEN ? AND ?", [count.least.into(), count.most.into()]);
        }
        if let Some([one, other]) = filter.fits {
            let (shorter, longer) = if one < other { (one, other) } else { (other, one) };
            conditions.and(
                "longer_mm > 0 AND shorter_mm <= ? AND longer_mm <= ?",
                [mm(shorter).into(), mm(longer).into()],
            );
        }
        if let Some(favourite) = filter.favourite {
            conditions.and("favourite = ?", [favourite.into()]);
        }
        if let Some(count) = filter.uses {
            conditions.and("uses BETWEEN ? AND ?", [count.least.into(), count.most.into()]);
        }
        if let Some(day) = &filter.unused_since {
            conditions.and("last_used < ?", [day.clone().into()]);
        }
        Some(conditions)
    }

    fn and<const N: usize>(&mut self, condition: &str, values: [Value; N]) {
        self.text.push_str(" AND ");
        self.text.push_str(condition);
        self.values.extend(values);
    }

    fn and_piece(&mut self, piece: Piece) {
        let mut condition = "EXISTS (SELECT 1 FROM shapes WHERE layout = layouts.id".to_owned();
        match piece.kind {
            Kind::Any => condition.push_str(" AND kind <> 'mark'"),
            kind => {
                condition.push_str(" AND kind = ?");
                self.values.push(kind.word().to_owned().into());
            }
        }
        for (side, part) in
            [(piece.at_least, " AND shapes.shorter_mm >= ?"), (piece.at_most, " AND shapes.shorter_mm <= ?")]
        {
            if let Some(side) = side {
                condition.push_str(part);
                self.values.push(mm(side).into());
            }
        }
        condition.push(')');
        self.and::<0>(&condition, []);
    }
}

/// The text as a full-text query: each word quoted, so that no sign in it is
/// taken for an operator, and matched by its beginning. None where nothing in
/// the text is a word.
fn full_text(text: &str) -> Option<String> {
    let words: Vec<String> = text
        .split_whitespace()
        // Of ASCII signs alone there is nothing in the index.
        .filter(|word| word.chars().any(|c| c.is_alphanumeric() || !c.is_ascii()))
        .map(|word| format!("\"{}\"*", word.replace('"', "\"\"").replace('\0', "")))
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use layout::{Element, Layout, LayoutJson};
    use serde_json::json;

    use super::super::{opened, sample};
    use super::*;

    fn all() -> Filter {
        Filter { limit: 10, ..Filter::default() }
    }

    fn titles(store: &Store, filter: &Filter) -> Vec<String> {
        let found = store.find_layouts(filter).unwrap();
        let titles: Vec<String> = found.layouts.into_iter().map(|one| one.saved.record.title).collect();
        assert_eq!(usize::try_from(found.total).unwrap(), titles.len(), "{filter:?}");
        titles
    }

    /// A layout with these elements, each shape, width, height and slot.
    fn with(title: &str, elements: &[(&str, f64, f64, Option<&str>)]) -> Layout {
        let elements: Vec<_> = elements
            .iter()
            .zip(1..)
            .map(|((shape, width, height, slot), id)| {
                json!({"id": id, "shape": shape, "x": 0, "y": 0, "width": width, "height": height, "slot": slot})
            })
            .collect();
        let mut json = serde_json::to_value(LayoutJson::from(&sample(title))).unwrap();
        json["elements"] = json!(elements);
        json["tags"] = json!([]);
        serde_json::from_value(json).unwrap()
    }

    #[test]
    fn layouts_are_found_by_words_card_and_tags() {
        let (_folder, store) = opened();
        let mut small = sample("Get well, Ötis 🌷");
        small.card = "square".parse().unwrap();
        small.elements.clear();
        small.tags = vec!["Soup Day".to_owned(), "quick".to_owned()];
        store.create_layout(&sample("Thank you, Edith")).unwrap();
        store.create_layout(&small).unwrap();
        store.create_layout(&sample("Thank you, Ruth")).unwrap();
        assert_eq!(titles(&store, &all()), ["Thank you, Ruth", "Get well, Ötis 🌷", "Thank you, Edith"]);
        for (text, expected) in [
            (" EDITH thursday ", &["Thank you, Edith"][..]),
            ("edi", &["Thank you, Edith"]),
            ("otis", &["Get well, Ötis 🌷"]),
            ("🌷", &["Get well, Ötis 🌷"]),
            ("you & edith", &["Thank you, Edith"]),
            ("soup-day", &["Get well, Ötis 🌷"]),
            ("panel ruth", &["Thank you, Ruth"]),
            ("%", &[]),
            ("\" OR \"", &[]),
            ("you NOT edith", &[]),
            ("you*", &["Thank you, Ruth", "Thank you, Edith"]),
        ] {
            assert_eq!(titles(&store, &Filter { text: text.to_owned(), ..all() }), expected, "{text}");
        }
        let card = Filter { card: Some("A2".parse().unwrap()), ..all() };
        assert_eq!(titles(&store, &card).len(), 2);
        let tags = |tags: &[&str]| Filter { tags: tags.iter().map(|&tag| tag.to_owned()).collect(), ..all() };
        assert_eq!(titles(&store, &tags(&["soup day", "QUICK"])), ["Get well, Ötis 🌷"]);
        assert_eq!(titles(&store, &tags(&["soup day", "get well"])), [""; 0]);
        // What was deleted is not found, and is again once it is back.
        store.delete_layout(2, &super::super::Expected::Any).unwrap();
        let words = Filter { text: "otis".to_owned(), ..all() };
        assert_eq!(titles(&store, &words), [""; 0]);
        store.restore_layout(2, 1, None).unwrap();
        assert_eq!(titles(&store, &words).len(), 1);
    }

    #[test]
    fn layouts_are_found_by_shapes_papers_and_sizes() {
        let (_folder, store) = opened();
        store
            .create_layout(&with(
                "wide",
                &[("rectangle", 4.0, 5.25, Some("A")), ("rectangle", 4.25, 1.25, Some("B"))],
            ))
            .unwrap();
        store
            .create_layout(&with("round", &[("circle", 2.5, 2.5, Some("A")), ("mark", 0.25, 0.25, None)]))
            .unwrap();
        store.create_layout(&with("bare", &[("rectangle", 2.5, 3.5, None)])).unwrap();
        store.create_layout(&with("nothing", &[])).unwrap();
        let piece = |kind, at_least: Option<&str>, at_most: Option<&str>| {
            let length = |text: Option<&str>| text.map(|text| text.parse().unwrap());
            Filter {
                pieces: vec![Piece { kind, at_least: length(at_least), at_most: length(at_most) }],
                ..all()
            }
        };
        for (filter, expected) in [
            (piece(Kind::Circle, None, None), &["round"][..]),
            (piece(Kind::Any, None, None), &["bare", "round", "wide"]),
            (piece(Kind::Mark, None, None), &["round"]),
            (piece(Kind::Strip, None, Some("1 1/4")), &["wide"]),
            (piece(Kind::Strip, None, Some("1 1/8")), &[]),
            (piece(Kind::Any, None, Some("2 1/2")), &["bare", "round", "wide"]),
            (piece(Kind::Any, Some("2 1/2"), Some("2 1/2")), &["bare", "round"]),
            (piece(Kind::Panel, Some("63.5 mm"), None), &["bare", "wide"]),
        ] {
            assert_eq!(titles(&store, &filter), expected, "{filter:?}");
        }
        let papers = |least, most| Filter { papers: Some(Count { least, most }), ..all() };
        assert_eq!(titles(&store, &papers(2, 2)), ["wide"]);
        assert_eq!(titles(&store, &papers(0, 0)), ["nothing", "bare"]);
        let fits = |one: &str, other: &str| Filter {
            fits: Some([one.parse().unwrap(), other.parse().unwrap()]),
            ..all()
        };
        assert_eq!(titles(&store, &fits("3 1/2", "2 1/2")), ["bare", "round"]);
        assert_eq!(titles(&store, &fits("6", "6")), ["bare", "round", "wide"]);
    }

    #[test]
    fn every_order_goes_on_where_a_part_ended() {
        let (_folder, store) = opened();
        for title in ["b", "", "a", "c"] {
            store.create_layout(&sample(title)).unwrap();
        }
        for id in [1, 3, 3] {
            store.use_layout(id).unwrap();
        }
        store.update_layout(2, &super::super::Expected::Any, &sample("")).unwrap();
        for (order, expected) in [
            (Order::Newest, &["c", "a", "", "b"]),
            (Order::Oldest, &["b", "", "a", "c"]),
            (Order::Title, &["a", "b", "c", ""]),
            (Order::MostUsed, &["a", "b", "c", ""]),
        ] {
            assert_eq!(titles(&store, &Filter { order, ..all() }), *expected, "{order:?}");
        }
        for (word, order) in Order::WORDS {
            let whole = store.find_layouts(&Filter { order, ..all() }).unwrap().layouts;
            let mut parts = Vec::new();
            let mut after = None;
            loop {
                let part = Filter { order, after, limit: 1, ..Filter::default() };
                let found = store.find_layouts(&part).unwrap();
                let Some(last) = found.layouts.last() else { break };
                after = Some(last.saved.id);
                parts.extend(found.layouts);
            }
            assert_eq!(parts, whole, "{word}");
        }
        let forgotten = store.find_layouts(&Filter { order: Order::Forgotten, ..all() }).unwrap().layouts;
        assert_eq!(forgotten[0].shelf.uses + forgotten[1].shelf.uses, 0);
    }

    /// What a search of 5,000 layouts may take. It takes a few milliseconds;
    /// the rest is for a machine that is busy with other tests.
    const MOST_MS: u128 = 50;

    #[test]
    fn five_thousand_layouts_are_searched_in_a_moment() {
        let (_folder, store) = opened();
        let layouts: Vec<Layout> = (0..5000).map(numbered).collect();
        store.create_layouts_noting(&layouts, "test", "filled").unwrap();
        let words = |text: &str| Filter { text: text.to_owned(), limit: 60, ..Filter::default() };
        let strip = Piece { kind: Kind::Strip, at_most: Some(Length::eighths(20)), ..Piece::default() };
        let filters = [
            ("everything", Filter { limit: 60, ..Filter::default() }),
            ("by title", Filter { order: Order::Title, limit: 60, ..Filter::default() }),
            (
                "by title, far down",
                Filter { order: Order::Title, after: Some(2500), limit: 60, ..Filter::default() },
            ),
            ("a word", words("thank")),
            ("two words", words("get 1234")),
            ("no such word", words("xylophone")),
            ("a tag", Filter { tags: vec!["round 3".to_owned()], limit: 60, ..Filter::default() }),
            ("a narrow strip", Filter { pieces: vec![strip], limit: 60, ..Filter::default() }),
            (
                "all at once",
                Filter {
                    text: "well".to_owned(),
                    card: Some("A2".parse().unwrap()),
                    pieces: vec![strip, Piece { kind: Kind::Circle, ..Piece::default() }],
                    papers: Some(Count { least: 1, most: 4 }),
                    fits: Some([Length::inches(6); 2]),
                    order: Order::LastUsed,
                    limit: 60,
                    ..Filter::default()
                },
            ),
        ];
        for (name, filter) in filters {
            // The best of three: the machine may be busy with other tests.
            let took: Vec<Duration> = (0..3)
                .map(|_| {
                    let begun = Instant::now();
                    let found = store.find_layouts(&filter).unwrap();
                    assert!(found.total > 0 || name == "no such word", "{name}");
                    begun.elapsed()
                })
                .collect();
            let best = took.iter().min().unwrap();
            eprintln!("5,000 layouts, {name}: {:.1} ms", best.as_secs_f64() * 1000.0);
            assert!(best.as_millis() < MOST_MS, "{name}: {took:?}");
        }
    }

    /// One of many: different in everything that is looked for.
    fn numbered(number: u32) -> Layout {
        let occasion = ["Thank you", "Get well", "Happy birthday"][number as usize % 3];
        let mut layout = sample(&format!("{occasion} {number}"));
        layout.tags = vec![format!("round {}", number % 7)];
        let first: Element = layout.elements[0].clone();
        for step in 0..6u32 {
            let mut element = first.clone();
            element.id = step + 2;
            let size = i32::try_from(1 + (number + 5 * step) % 11).unwrap();
            element.frame.width = Length::eighths(4 * size);
            element.frame.height = Length::eighths(size);
            if (number + step).is_multiple_of(5) {
                element.shape = layout::Shape::Circle;
                element.frame.height = element.frame.width;
            }
            element.slot = layout::Slot::new(char::from(b'A' + u8::try_from((number + step) % 4).unwrap()));
            layout.elements.push(element);
        }
        layout
    }
}
