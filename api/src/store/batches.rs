//! Batches, their plans, and what cutting one did to the drawer. Cutting is
//! done once, however often it is said, and can be taken back as long as
//! nothing of it has been used.

use layout::{Length, Step};
use rusqlite::{Connection, OptionalExtension, Transaction};
use serde::{Deserialize, Serialize};

use super::history::{self, Expected, Noun, Row, row_of};
use super::papers::{StoredPaper, Taken};
use super::{Store, StoreError, papers, shelf};
use crate::batch::{Batch, BatchJson, BatchPlan, PlannedSheet};

/// A batch as it was saved.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct StoredBatch {
    /// Its number, never used again.
    pub(crate) id: i64,
    /// Which save of it this is, from 1.
    pub(crate) version: i64,
    /// When, in UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// When it was cut, if it was.
    pub(crate) cut_at: Option<String>,
    /// The batch.
    pub(crate) batch: Batch,
}

/// What cutting a batch did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Changes {
    /// Papers, and how many sheets were taken of each.
    pub(crate) taken: Vec<(i64, u32)>,
    /// Offcuts that were put into the drawer.
    pub(crate) added: Vec<i64>,
    /// Layouts that were used.
    pub(crate) layouts: Vec<i64>,
}

/// Leftovers narrower than this are thrown away: half an inch is the narrowest
/// strip makers keep (common practice, no source).
const LEAST_KEPT: Length = Length::eighths(4);

impl Store {
    /// Saves a new batch as its version 1.
    pub(crate) fn create_batch(&self, batch: &Batch) -> Result<StoredBatch, StoreError> {
        self.writing(|transaction| {
            check_layouts(transaction, batch)?;
            transaction.execute("INSERT INTO batches (version) VALUES (1)", [])?;
            let id = transaction.last_insert_rowid();
            put(transaction, id, 1, batch)
        })
    }

    /// Saves the next version of a batch. One that was cut stays as it is.
    pub(crate) fn update_batch(
        &self,
        id: i64,
        expected: &Expected,
        batch: &Batch,
    ) -> Result<StoredBatch, StoreError> {
        self.writing(|transaction| {
            let version = history::next(transaction, Noun::Batch, id, expected)?;
            if cut_at(transaction, id)?.is_some() {
                return Err(StoreError::BatchCut(id));
            }
            check_layouts(transaction, batch)?;
            put(transaction, id, version, batch)
        })
    }

    /// Deletes a batch; what was cut stays cut. Gives the version that says so.
    pub(crate) fn delete_batch(&self, id: i64, expected: &Expected) -> Result<i64, StoreError> {
        self.writing(|transaction| {
            let version = history::next(transaction, Noun::Batch, id, expected)?;
            history::put(transaction, Noun::Batch, id, version, None)?;
            Ok(version)
        })
    }

    /// A batch as it is now.
    pub(crate) fn batch(&self, id: i64) -> Result<StoredBatch, StoreError> {
        self.reading(|connection| present(connection, id))
    }

    /// Batches, the ones changed last first, and how many there are.
    pub(crate) fn batches(&self, limit: u32) -> Result<(Vec<StoredBatch>, i64), StoreError> {
        self.reading(|connection| {
            let total =
                connection
                    .query_row("SELECT count(*) FROM batches WHERE deleted = 0", [], |row| row.get(0))?;
            let mut query = connection.prepare_cached(
                "SELECT batches.id, batch_versions.version, saved_at, record
                 FROM batches JOIN batch_versions
                     ON batch = batches.id AND batch_versions.version = batches.version
                 WHERE deleted = 0 ORDER BY changed_at DESC, batches.id DESC LIMIT ?1",
            )?;
            let rows = query.query_map([limit], row_of)?;
            let batches = rows.map(|row| stored(connection, row?)).collect::<Result<_, _>>()?;
            Ok((batches, total))
        })
    }

    /// Keeps the plan of a version of a batch; nothing where the batch has
    /// been saved or cut meanwhile.
    pub(crate) fn keep_plan(&self, id: i64, version: i64, plan: &BatchPlan) -> Result<(), StoreError> {
        self.writing(|transaction| {
            let head = history::live_head(transaction, Noun::Batch, id)?;
            if head.version == version && cut_at(transaction, id)?.is_none() {
                transaction.execute(
                    "INSERT INTO batch_plans (batch, version, made_at, plan)
                     VALUES (?1, ?2, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'), ?3)
                     ON CONFLICT (batch) DO UPDATE SET version = ?2, made_at = excluded.made_at, plan = ?3",
                    (id, version, serde_json::to_string(plan)?),
                )?;
            }
            Ok(())
        })
    }

    /// The plan of the present version of a batch.
    pub(crate) fn batch_plan(&self, id: i64) -> Result<Option<BatchPlan>, StoreError> {
        self.reading(|connection| plan_of(connection, id))
    }

    /// Takes the paper of a batch's plan out of the drawer, puts offcuts back
    /// and counts its layouts as used. Said again, it changes nothing more.
    pub(crate) fn cut_batch(&self, id: i64, expected: &Expected) -> Result<Changes, StoreError> {
        self.writing(|transaction| {
            let head = history::live_head(transaction, Noun::Batch, id)?;
            expected.check(Noun::Batch, id, head.version)?;
            if let Some(changes) = changes_of(transaction, id)? {
                return Ok(changes);
            }
            let plan = plan_of(transaction, id)?.ok_or(StoreError::NoPlan(id))?;
            let changes = carry_out(transaction, id, &plan)?;
            transaction.execute(
                "INSERT INTO batch_cuts (batch, cut_at, changes)
                 VALUES (?1, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'), ?2)",
                (id, serde_json::to_string(&changes)?),
            )?;
            Ok(changes)
        })
    }

    /// Takes the cutting of a batch back: the sheets are in the drawer again
    /// and the offcuts are not.
    pub(crate) fn uncut_batch(&self, id: i64) -> Result<(), StoreError> {
        self.writing(|transaction| {
            history::live_head(transaction, Noun::Batch, id)?;
            let Some(changes) = changes_of(transaction, id)? else { return Ok(()) };
            let why = format!("batch {id} was not cut after all");
            for &offcut in &changes.added {
                let head = history::head(transaction, Noun::Paper, offcut)?;
                if head.version != 1 {
                    return Err(StoreError::OffcutUsed(id));
                }
                papers::forget(transaction, offcut, 2, &why)?;
            }
            for &(paper, sheets) in &changes.taken {
                let head = history::head(transaction, Noun::Paper, paper)?;
                // A paper that was deleted since has only these sheets now.
                let (mut stored, there) = if head.deleted {
                    (papers::version_of(transaction, paper, head.version - 1)?, 0)
                } else {
                    let stored = papers::present(transaction, paper)?;
                    let there = stored.paper.count;
                    (stored, there)
                };
                stored.paper.count = there + sheets;
                papers::put(transaction, paper, head.version + 1, &stored.paper, &why)?;
            }
            for &layout in &changes.layouts {
                shelf::take_use_back(transaction, layout)?;
            }
            transaction.execute("DELETE FROM batch_cuts WHERE batch = ?1", [id])?;
            Ok(())
        })
    }
}

/// Takes out and puts back what a plan says.
fn carry_out(transaction: &Transaction<'_>, id: i64, plan: &BatchPlan) -> Result<Changes, StoreError> {
    let why = format!("cut for batch {id}");
    let mut changes = Changes { taken: Vec::new(), added: Vec::new(), layouts: Vec::new() };
    let mut papers_used: Vec<i64> = plan.sheets.iter().filter_map(|sheet| sheet.paper).collect();
    papers_used.sort_unstable();
    papers_used.dedup();
    for paper in papers_used {
        let stored = papers::present(transaction, paper)?;
        let sheets: Vec<&PlannedSheet> =
            plan.sheets.iter().filter(|sheet| sheet.paper == Some(paper)).collect();
        let unit = stored.paper.unit;
        // Both were made of the same lengths, so they agree to the last bit or not at all.
        let differs = |length: Length, value: f64| length.value(unit).to_bits() != value.to_bits();
        let changed = |sheet: &&PlannedSheet| {
            sheet.unit != unit
                || differs(stored.paper.width, sheet.width)
                || differs(stored.paper.height, sheet.height)
        };
        if sheets.iter().any(changed) {
            return Err(StoreError::PaperChanged(stored.paper.name));
        }
        let mut offcuts: Vec<(Length, Length, u32)> = Vec::new();
        for sheet in &sheets {
            for offcut in &sheet.offcuts {
                let side = |value: f64| rounded_down(value, unit);
                let (Some(width), Some(height)) = (side(offcut.width), side(offcut.height)) else { continue };
                if width < LEAST_KEPT || height < LEAST_KEPT {
                    continue;
                }
                match offcuts.iter_mut().find(|(w, h, _)| (*w, *h) == (width, height)) {
                    Some((_, _, count)) => *count += sheet.count,
                    None => offcuts.push((width, height, sheet.count)),
                }
            }
        }
        let sheets = sheets.iter().map(|sheet| sheet.count).sum();
        let changed = papers::take(transaction, &Taken { paper, sheets, offcuts }, &why)?;
        changes.taken.push((paper, sheets));
        changes.added.extend(changed[1..].iter().map(|offcut: &StoredPaper| offcut.id));
    }
    for layout in &plan.layouts {
        // A layout that was deleted since the batch was planned counts nothing.
        if history::live_head(transaction, Noun::Layout, layout.layout).is_ok() {
            shelf::add_use(transaction, layout.layout)?;
            changes.layouts.push(layout.layout);
        }
    }
    Ok(changes)
}

/// A side on the grid of papers that is no longer than it was cut.
fn rounded_down(value: f64, unit: layout::Unit) -> Option<Length> {
    let (nearest, _) = layout::snap(value, unit, Step::Position)?;
    // A millionth is rounding, not paper.
    if nearest.value(unit) > value + 1e-6 {
        return Some(nearest - Length::steps(1, unit, Step::Position));
    }
    Some(nearest)
}

fn check_layouts(connection: &Connection, batch: &Batch) -> Result<(), StoreError> {
    for &(layout, _) in &batch.layouts {
        history::live_head(connection, Noun::Layout, layout)?;
    }
    Ok(())
}

fn present(connection: &Connection, id: i64) -> Result<StoredBatch, StoreError> {
    stored(connection, history::present(connection, Noun::Batch, id)?)
}

fn stored(connection: &Connection, row: Row) -> Result<StoredBatch, StoreError> {
    let Row { id, version, saved_at, record } = row;
    let json: BatchJson = serde_json::from_str(&record)?;
    let batch =
        Batch::try_from(json).map_err(|faults| StoreError::Record(serde::de::Error::custom(faults)))?;
    Ok(StoredBatch { id, version, saved_at, cut_at: cut_at(connection, id)?, batch })
}

fn put(
    transaction: &Transaction<'_>,
    id: i64,
    version: i64,
    batch: &Batch,
) -> Result<StoredBatch, StoreError> {
    let record = serde_json::to_string(&BatchJson::from(batch))?;
    let saved_at = history::put(transaction, Noun::Batch, id, version, Some(&record))?;
    transaction.execute("UPDATE batches SET changed_at = ?2 WHERE id = ?1", (id, &saved_at))?;
    Ok(StoredBatch { id, version, saved_at, cut_at: None, batch: batch.clone() })
}

fn plan_of(connection: &Connection, id: i64) -> Result<Option<BatchPlan>, StoreError> {
    let version = history::live_head(connection, Noun::Batch, id)?.version;
    let plan: Option<String> = connection
        .prepare_cached("SELECT plan FROM batch_plans WHERE batch = ?1 AND version = ?2")?
        .query_row((id, version), |row| row.get(0))
        .optional()?;
    Ok(plan.map(|plan| serde_json::from_str(&plan)).transpose()?)
}

fn cut_at(connection: &Connection, id: i64) -> Result<Option<String>, StoreError> {
    Ok(connection
        .prepare_cached("SELECT cut_at FROM batch_cuts WHERE batch = ?1")?
        .query_row([id], |row| row.get(0))
        .optional()?)
}

fn changes_of(connection: &Connection, id: i64) -> Result<Option<Changes>, StoreError> {
    let changes: Option<String> = connection
        .prepare_cached("SELECT changes FROM batch_cuts WHERE batch = ?1")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    Ok(changes.map(|changes| serde_json::from_str(&changes)).transpose()?)
}

#[cfg(test)]
mod tests {
    use layout::{Paper, PaperJson, Unit};
    use proptest::prelude::*;
    use serde_json::json;

    use super::super::{PaperFilter, opened, sample};
    use super::*;
    use crate::batch::{self, Ground, Order};

    fn paper(width: i32, height: i32, count: u32) -> Paper {
        let json = json!({"schema": 1, "name": "Ferns", "width": f64::from(width) / 16.0,
                          "height": f64::from(height) / 16.0, "count": count, "weight": "cardstock"});
        Paper::try_from(serde_json::from_value::<PaperJson>(json).unwrap()).unwrap()
    }

    fn batch_of(cards: u32) -> Batch {
        let json = json!({"schema": 1, "layouts": [{"layout": 1, "cards": cards}]});
        Batch::try_from(serde_json::from_value::<BatchJson>(json).unwrap()).unwrap()
    }

    /// Plans the batch of this id and keeps the plan.
    fn planned(store: &Store, id: i64) -> BatchPlan {
        let StoredBatch { version, batch, .. } = store.batch(id).unwrap();
        let layout = layout::Layout::try_from(store.layout(1).unwrap().record).unwrap();
        let orders = [Order::of(1, 1, &layout, batch.layouts[0].1).unwrap()];
        let stock = store.papers_in_stock().unwrap();
        let ground = Ground { batch: &batch, orders: &orders, stock: &stock };
        let plan = batch::plan(&ground, 100, &mut |_| true).unwrap();
        store.keep_plan(id, version, &plan).unwrap();
        plan
    }

    /// What is in the drawer: papers with their sides and counts, and square inches in all.
    fn drawer(store: &Store) -> (Vec<(i64, Length, Length, u32)>, f64) {
        let filter = PaperFilter { limit: u32::MAX, ..PaperFilter::default() };
        let papers = store.find_papers(&filter).unwrap().papers;
        let area = |paper: &Paper| {
            paper.width.value(Unit::Inch) * paper.height.value(Unit::Inch) * f64::from(paper.count)
        };
        let sum = papers.iter().map(|one| area(&one.paper)).sum();
        (papers.iter().map(|one| (one.id, one.paper.width, one.paper.height, one.paper.count)).collect(), sum)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]
        #[test]
        fn paper_is_neither_made_nor_lost(
            papers in prop::collection::vec((60i32..200, 60i32..200, 1u32..5), 1..4),
            cards in 1u32..6,
        ) {
            let (_folder, store) = opened();
            store.create_layout(&sample("Thank you")).unwrap();
            let papers: Vec<Paper> = papers.iter().map(|&(w, h, count)| paper(w, h, count)).collect();
            store.add_papers(&papers).unwrap();
            store.create_batch(&batch_of(cards)).unwrap();
            let plan = planned(&store, 1);
            let (before, area_before) = drawer(&store);
            let changes = store.cut_batch(1, &Expected::Any).unwrap();
            let (after, area_after) = drawer(&store);
            let pieces: f64 = plan.sheets.iter().map(|sheet| {
                let one: f64 = sheet.pieces.iter().map(|piece| piece.at.width * piece.at.height).sum();
                one * f64::from(sheet.count)
            }).sum();
            prop_assert!(area_after + pieces <= area_before + 1e-6);
            for &(id, sheets) in &changes.taken {
                let count = |list: &[(i64, Length, Length, u32)]| list.iter().find(|one| one.0 == id).map_or(0, |one| one.3);
                prop_assert_eq!(count(&before), count(&after) + sheets);
            }
            // Said twice, nothing more; taken back twice, all of it once.
            prop_assert_eq!(store.cut_batch(1, &Expected::Any).unwrap(), changes);
            prop_assert_eq!(&drawer(&store).0, &after);
            store.uncut_batch(1).unwrap();
            store.uncut_batch(1).unwrap();
            prop_assert_eq!(&drawer(&store).0, &before);
            prop_assert_eq!(store.shelf(1).unwrap().uses, 0);
        }
    }

    #[test]
    fn a_plan_that_is_out_of_date_is_not_carried_out() {
        let (_folder, store) = opened();
        store.create_layout(&sample("Thank you")).unwrap();
        store.add_papers(&[paper(192, 192, 4)]).unwrap();
        store.create_batch(&batch_of(4)).unwrap();
        planned(&store, 1);
        // Somebody else took the sheets.
        store.update_paper(1, &Expected::Any, &paper(192, 192, 0)).unwrap();
        let error = store.cut_batch(1, &Expected::Any).unwrap_err();
        assert!(matches!(error, StoreError::TooFewSheets { there: 0, .. }), "{error}");
        store.update_paper(1, &Expected::Any, &paper(192, 200, 4)).unwrap();
        let error = store.cut_batch(1, &Expected::Any).unwrap_err();
        assert!(matches!(error, StoreError::PaperChanged(_)), "{error}");
        // A change of the batch leaves its plan behind.
        store.update_batch(1, &Expected::OneOf(vec![1]), &batch_of(8)).unwrap();
        assert!(matches!(store.cut_batch(1, &Expected::Any).unwrap_err(), StoreError::NoPlan(1)));
        assert!(store.batch_plan(1).unwrap().is_none());
        let missing = Batch { layouts: vec![(9, 4)], ..batch_of(4) };
        assert!(matches!(store.create_batch(&missing).unwrap_err(), StoreError::Missing(Noun::Layout, _)));
    }
}
