//! The drawer: the papers a maker owns. Like layouts they have versions; each
//! says in words what happened to the paper.

use layout::{Length, Paper, PaperJson, PaperKind, Unit, Weight};
use rusqlite::types::Value;
use rusqlite::{Connection, Transaction, params_from_iter};

use super::history::{self, Expected, Noun, Row, row_of};
use super::{Store, StoreError, put_setting};

/// A paper as it was saved.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct StoredPaper {
    /// Its number in the drawer, never used again.
    pub(crate) id: i64,
    /// Which save of it this is, from 1.
    pub(crate) version: i64,
    /// When, in UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// The paper.
    pub(crate) paper: Paper,
}

/// One line of a paper's history.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct PaperEntry {
    /// From 1.
    pub(crate) version: i64,
    /// When, in UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// What happened, in words.
    pub(crate) why: String,
    /// The name it had; `None` for a deletion.
    pub(crate) name: Option<String>,
    /// How many sheets there were then.
    pub(crate) count: Option<u32>,
}

/// Which papers are looked for. Every condition that is given has to hold.
#[derive(Clone, Debug, Default)]
pub(crate) struct PaperFilter {
    /// Words that all occur in name, faces, notes or tags.
    pub(crate) text: String,
    /// What form they have.
    pub(crate) kind: Option<PaperKind>,
    /// What weight.
    pub(crate) weight: Option<Weight>,
    /// Sides of a piece that one sheet has room for, turned or not.
    pub(crate) holds: Option<[Length; 2]>,
    /// Only those of which there is a sheet left.
    pub(crate) in_stock: bool,
    /// Most papers to give.
    pub(crate) limit: u32,
    /// Only what comes after the paper of this id.
    pub(crate) after: Option<i64>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FoundPapers {
    /// The papers of this part of the list, by name.
    pub(crate) papers: Vec<StoredPaper>,
    /// How many there are in the whole list.
    pub(crate) total: i64,
}

/// What is taken out of the drawer, and what comes back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Taken {
    /// From which paper.
    pub(crate) paper: i64,
    /// How many sheets.
    pub(crate) sheets: u32,
    /// Leftovers of them: sides as the sheet lies, and how many of that size.
    pub(crate) offcuts: Vec<(Length, Length, u32)>,
}

impl Store {
    /// Puts new papers into the drawer; all of them or none.
    pub(crate) fn add_papers(&self, papers: &[Paper]) -> Result<Vec<StoredPaper>, StoreError> {
        self.writing(|transaction| papers.iter().map(|paper| add(transaction, paper, "added")).collect())
    }

    /// The same, with a setting that says so.
    pub(crate) fn add_papers_noting(
        &self,
        papers: &[Paper],
        key: &str,
        value: &str,
    ) -> Result<(), StoreError> {
        self.writing(|transaction| {
            for paper in papers {
                add(transaction, paper, "added")?;
            }
            put_setting(transaction, key, value)
        })
    }

    /// Saves the next version of a paper.
    pub(crate) fn update_paper(
        &self,
        id: i64,
        expected: &Expected,
        paper: &Paper,
    ) -> Result<StoredPaper, StoreError> {
        self.writing(|transaction| {
            let version = history::next(transaction, Noun::Paper, id, expected)?;
            let before = present(transaction, id)?.paper.count;
            let why = match (before, paper.count) {
                (before, now) if before == now => "changed".to_owned(),
                (before, now) => format!("changed: {before} became {now}"),
            };
            put(transaction, id, version, paper, &why)
        })
    }

    /// Takes a paper out of the drawer for good; its versions stay. Gives the
    /// version that says so.
    pub(crate) fn delete_paper(&self, id: i64, expected: &Expected) -> Result<i64, StoreError> {
        self.writing(|transaction| {
            let version = history::next(transaction, Noun::Paper, id, expected)?;
            forget(transaction, id, version, "deleted")?;
            Ok(version)
        })
    }

    /// Saves an earlier version of a paper again, as the newest one. `expected`
    /// may be left out only where it is deleted.
    pub(crate) fn restore_paper(
        &self,
        id: i64,
        version: i64,
        expected: Option<&Expected>,
    ) -> Result<Option<StoredPaper>, StoreError> {
        self.writing(|transaction| {
            let head = history::head(transaction, Noun::Paper, id)?;
            match expected {
                Some(expected) => expected.check(Noun::Paper, id, head.version)?,
                None if head.deleted => {}
                None => return Ok(None),
            }
            let paper = version_of(transaction, id, version)?.paper;
            let why = format!("as in version {version} again");
            put(transaction, id, head.version + 1, &paper, &why).map(Some)
        })
    }

    /// A paper as it is now.
    pub(crate) fn paper(&self, id: i64) -> Result<StoredPaper, StoreError> {
        self.reading(|connection| present(connection, id))
    }

    /// What happened to a paper, newest first, deleted or not.
    pub(crate) fn paper_history(&self, id: i64) -> Result<Vec<PaperEntry>, StoreError> {
        self.reading(|connection| {
            history::head(connection, Noun::Paper, id)?;
            let mut query = connection.prepare_cached(
                "SELECT version, saved_at, why, record ->> '$.name', record ->> '$.count'
                 FROM paper_versions WHERE paper = ?1 ORDER BY version DESC",
            )?;
            let entries = query.query_map([id], |row| {
                Ok(PaperEntry {
                    version: row.get(0)?,
                    saved_at: row.get(1)?,
                    why: row.get(2)?,
                    name: row.get(3)?,
                    count: row.get(4)?,
                })
            })?;
            Ok(entries.collect::<Result<_, _>>()?)
        })
    }

    /// The papers that match, by name.
    pub(crate) fn find_papers(&self, filter: &PaperFilter) -> Result<FoundPapers, StoreError> {
        let (text, mut values) = conditions(filter);
        self.reading(|connection| {
            // One transaction, so that the total fits the list.
            let transaction = connection.unchecked_transaction()?;
            let total = transaction
                .prepare_cached(&format!("SELECT count(*) FROM papers WHERE {text}"))?
                .query_row(params_from_iter(&values), |row| row.get(0))?;
            let mut place = "";
            if let Some(after) = filter.after {
                place = "AND (name_key, papers.id) > (SELECT name_key, id FROM papers WHERE id = ?)";
                values.push(after.into());
            }
            values.push(filter.limit.into());
            let mut query = transaction.prepare_cached(&format!(
                "SELECT papers.id, paper_versions.version, saved_at, record
                 FROM papers JOIN paper_versions
                     ON paper = papers.id AND paper_versions.version = papers.version
                 WHERE {text} {place} ORDER BY name_key, papers.id LIMIT ?"
            ))?;
            let rows = query.query_map(params_from_iter(&values), row_of)?;
            let papers = rows.map(|row| stored(row?)).collect::<Result<_, _>>()?;
            Ok(FoundPapers { papers, total })
        })
    }

    /// Every paper of which there is a sheet, by name.
    pub(crate) fn papers_in_stock(&self) -> Result<Vec<StoredPaper>, StoreError> {
        let filter = PaperFilter { in_stock: true, limit: u32::MAX, ..PaperFilter::default() };
        Ok(self.find_papers(&filter)?.papers)
    }

    /// Takes sheets that were cut out of the drawer and puts what is left of
    /// them back.
    pub(crate) fn cut_by_hand(
        &self,
        taken: &Taken,
        expected: &Expected,
        why: &str,
    ) -> Result<Vec<StoredPaper>, StoreError> {
        self.writing(|transaction| {
            history::next(transaction, Noun::Paper, taken.paper, expected)?;
            take(transaction, taken, why)
        })
    }
}

/// Takes sheets out and puts offcuts back, in a transaction of more. Gives the
/// paper and its offcuts, in that order.
pub(super) fn take(
    transaction: &Transaction<'_>,
    taken: &Taken,
    why: &str,
) -> Result<Vec<StoredPaper>, StoreError> {
    let StoredPaper { id, version, mut paper, .. } = present(transaction, taken.paper)?;
    let there = paper.count;
    paper.count = there.checked_sub(taken.sheets).ok_or_else(|| StoreError::TooFewSheets {
        name: paper.name.clone(),
        there,
        wanted: taken.sheets,
    })?;
    let mut changed = vec![put(transaction, id, version + 1, &paper, why)?];
    for &(width, height, count) in &taken.offcuts {
        let offcut = Paper { width, height, count, ..leftover_of(&paper, id, width, height) };
        changed.push(add(transaction, &offcut, why)?);
    }
    Ok(changed)
}

/// A leftover of a paper: of its stuff, without the edges that could not be used.
fn leftover_of(paper: &Paper, id: i64, width: Length, height: Length) -> Paper {
    let mut leftover = Paper {
        kind: PaperKind::of_leftover(width, height),
        cut_from: Some(paper.cut_from.unwrap_or(id)),
        ..paper.clone()
    };
    for face in &mut leftover.faces {
        face.unusable = layout::PaperEdges::default();
    }
    leftover
}

pub(super) fn present(connection: &Connection, id: i64) -> Result<StoredPaper, StoreError> {
    stored(history::present(connection, Noun::Paper, id)?)
}

pub(super) fn version_of(connection: &Connection, id: i64, version: i64) -> Result<StoredPaper, StoreError> {
    stored(history::version_of(connection, Noun::Paper, id, version)?)
}

fn stored(row: Row) -> Result<StoredPaper, StoreError> {
    let Row { id, version, saved_at, record } = row;
    let json: PaperJson = serde_json::from_str(&record)?;
    let paper =
        Paper::try_from(json).map_err(|faults| StoreError::Record(serde::de::Error::custom(faults)))?;
    Ok(StoredPaper { id, version, saved_at, paper })
}

fn add(transaction: &Transaction<'_>, paper: &Paper, why: &str) -> Result<StoredPaper, StoreError> {
    transaction.execute("INSERT INTO papers (version) VALUES (1)", [])?;
    let id = transaction.last_insert_rowid();
    put(transaction, id, 1, paper, why)
}

/// Writes a version with what happened, and what the paper is found by.
pub(super) fn put(
    transaction: &Transaction<'_>,
    id: i64,
    version: i64,
    paper: &Paper,
    why: &str,
) -> Result<StoredPaper, StoreError> {
    let record = serde_json::to_string(&PaperJson::from(paper))?;
    let saved_at = history::put(transaction, Noun::Paper, id, version, Some(&record))?;
    note(transaction, id, version, why)?;
    write_index(transaction, id, &saved_at, paper)?;
    Ok(StoredPaper { id, version, saved_at, paper: paper.clone() })
}

/// Writes down what the paper is found by.
pub(super) fn write_index(
    transaction: &Transaction<'_>,
    id: i64,
    saved_at: &str,
    paper: &Paper,
) -> Result<(), StoreError> {
    let [one, other] = [paper.width, paper.height].map(|side| side.value(Unit::Millimetre));
    transaction.execute(
        "UPDATE papers SET name_key = ?2, words = ?3, kind = ?4, weight = ?5, shorter_mm = ?6,
                           longer_mm = ?7, sheets = ?8, changed_at = ?9 WHERE id = ?1",
        (
            id,
            paper.name.to_lowercase(),
            words(paper),
            paper.kind.word(),
            paper.weight.word(),
            one.min(other),
            one.max(other),
            paper.count,
            saved_at,
        ),
    )?;
    Ok(())
}

/// Takes a paper out for good, as its next version.
pub(super) fn forget(
    transaction: &Transaction<'_>,
    id: i64,
    version: i64,
    why: &str,
) -> Result<(), StoreError> {
    history::put(transaction, Noun::Paper, id, version, None)?;
    note(transaction, id, version, why)
}

pub(super) fn note(
    transaction: &Transaction<'_>,
    id: i64,
    version: i64,
    why: &str,
) -> Result<(), StoreError> {
    transaction.execute(
        "UPDATE paper_versions SET why = ?3 WHERE paper = ?1 AND version = ?2",
        (id, version, why),
    )?;
    Ok(())
}

/// The words that a paper is found by, in small letters.
fn words(paper: &Paper) -> String {
    let faces = paper.faces.iter().flat_map(|face| [&*face.name, &*face.colour, face.pattern.word()]);
    let tags = paper.tags.iter().map(String::as_str);
    let own = [&*paper.name, paper.kind.word(), paper.weight.word(), &*paper.notes];
    own.into_iter().chain(faces).chain(tags).collect::<Vec<_>>().join("\n").to_lowercase()
}

fn conditions(filter: &PaperFilter) -> (String, Vec<Value>) {
    let mut text = "deleted = 0".to_owned();
    let mut values: Vec<Value> = Vec::new();
    for word in filter.text.to_lowercase().split_whitespace() {
        text.push_str(" AND instr(words, ?) > 0");
        values.push(word.to_owned().into());
    }
    if let Some(kind) = filter.kind {
        text.push_str(" AND kind = ?");
        values.push(kind.word().to_owned().into());
    }
    if let Some(weight) = filter.weight {
        text.push_str(" AND weight = ?");
        values.push(weight.word().to_owned().into());
    }
    if let Some(sides) = filter.holds {
        let [one, other] = sides.map(|side| side.value(Unit::Millimetre));
        text.push_str(" AND shorter_mm >= ? AND longer_mm >= ?");
        values.extend([one.min(other).into(), one.max(other).into()]);
    }
    if filter.in_stock {
        text.push_str(" AND sheets > 0");
    }
    (text, values)
}

#[cfg(test)]
mod tests {
    use super::super::opened;
    use super::*;

    fn ferns(count: u32) -> Paper {
        let json = serde_json::json!({
            "schema": 1, "name": "Ferns", "width": 12, "height": 12, "count": count,
            "faces": [{"name": "Ferns", "colour": "green", "pattern": "busy",
                       "unusable": {"bottom": 0.25}},
                      {"colour": "cream"}]
        });
        Paper::try_from(serde_json::from_value::<PaperJson>(json).unwrap()).unwrap()
    }

    #[test]
    fn what_is_cut_comes_out_of_the_drawer_and_its_rest_goes_back() {
        let (_folder, store) = opened();
        store.add_papers(&[ferns(3)]).unwrap();
        let rest = (Length::inches(2), Length::inches(12), 2);
        let changed = store
            .cut_by_hand(&Taken { paper: 1, sheets: 2, offcuts: vec![rest] }, &Expected::Any, "cut by hand")
            .unwrap();
        assert_eq!(changed[0].paper.count, 1);
        let offcut = &changed[1].paper;
        assert_eq!((offcut.kind, offcut.count, offcut.cut_from), (PaperKind::Strip, 2, Some(1)));
        assert!(offcut.is_like(&ferns(1)));
        let why: Vec<_> = store.paper_history(1).unwrap().into_iter().map(|e| (e.why, e.count)).collect();
        assert_eq!(why, [("cut by hand".to_owned(), Some(1)), ("added".to_owned(), Some(3))]);
        let error = store
            .cut_by_hand(&Taken { paper: 1, sheets: 2, offcuts: Vec::new() }, &Expected::Any, "cut")
            .unwrap_err();
        assert!(matches!(error, StoreError::TooFewSheets { there: 1, wanted: 2, .. }), "{error}");
        assert_eq!(store.paper(1).unwrap().paper.count, 1);
    }

    #[test]
    fn papers_are_found_by_words_and_by_what_they_hold() {
        let (_folder, store) = opened();
        let mut strip = ferns(0);
        strip.name = "Ledger stripe".to_owned();
        strip.width = Length::inches(1);
        store.add_papers(&[ferns(3), strip]).unwrap();
        let found = |filter: PaperFilter| {
            let found = store.find_papers(&PaperFilter { limit: 10, ..filter }).unwrap();
            found.papers.iter().map(|one| one.id).collect::<Vec<_>>()
        };
        assert_eq!(found(PaperFilter { text: "GREEN fern".to_owned(), ..PaperFilter::default() }), [1, 2]);
        assert_eq!(found(PaperFilter { text: "ledger".to_owned(), ..PaperFilter::default() }), [2]);
        let piece = [Length::inches(10), Length::inches(2)];
        assert_eq!(found(PaperFilter { holds: Some(piece), ..PaperFilter::default() }), [1]);
        assert_eq!(found(PaperFilter { in_stock: true, ..PaperFilter::default() }), [1]);
        assert_eq!(found(PaperFilter { after: Some(1), ..PaperFilter::default() }), [2]);
        // A mark of a pattern language is a character like others.
        assert!(found(PaperFilter { text: "%".to_owned(), ..PaperFilter::default() }).is_empty());
    }

    #[test]
    fn a_paper_that_was_deleted_comes_back() {
        let (_folder, store) = opened();
        store.add_papers(&[ferns(3)]).unwrap();
        assert_eq!(store.delete_paper(1, &Expected::OneOf(vec![1])).unwrap(), 2);
        assert!(matches!(store.paper(1), Err(StoreError::Deleted { noun: Noun::Paper, .. })));
        assert_eq!(store.restore_paper(1, 1, None).unwrap().unwrap().version, 3);
        assert_eq!(store.restore_paper(1, 1, None).unwrap(), None);
        let stale = store.update_paper(1, &Expected::OneOf(vec![1]), &ferns(1)).unwrap_err();
        assert!(matches!(stale, StoreError::Stale { noun: Noun::Paper, id: 1, version: 3 }), "{stale}");
    }
}
