//! Batches from end to end, without a notebook: layouts and papers in, sheets
//! out, each checked from its places alone.

use layout::{Layout, Paper, PaperJson};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::order::Order;
use super::*;
use crate::store::StoredPaper;

/// A card with a background, a strip and a matted circle, as the card table makes it.
fn get_well() -> Layout {
    serde_json::from_value(json!({
        "schema": 1, "title": "Get well, Edith", "unit": "in",
        "card": {"name": "A2", "width": 4.25, "height": 5.5, "fold": "left"},
        "elements": [
            {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25, "slot": "A"},
            {"id": 2, "shape": "rectangle", "x": 0.125, "y": 2.0, "width": 4.0, "height": 1.25, "slot": "B"},
            {"id": 3, "shape": "circle", "x": 1.125, "y": 1.625, "width": 2.0, "height": 2.0, "mats": [0.25]}
        ]
    }))
    .unwrap()
}

fn paper(id: i64, json: Value) -> StoredPaper {
    let json: PaperJson = serde_json::from_value(json).unwrap();
    StoredPaper { id, version: 1, saved_at: String::new(), paper: Paper::try_from(json).unwrap() }
}

/// A drawer: cardstock, a busy print that is cream behind, a quiet pad.
fn drawer() -> Vec<StoredPaper> {
    vec![
        paper(
            1,
            json!({"schema": 1, "name": "Kraft", "width": 8.5, "height": 11, "count": 20, "weight": "cardstock",
                        "faces": [{"colour": "brown"}]}),
        ),
        paper(
            2,
            json!({"schema": 1, "name": "White card", "width": 8.5, "height": 11, "count": 20, "weight": "cardstock",
                        "faces": [{"colour": "white"}]}),
        ),
        paper(
            3,
            json!({"schema": 1, "name": "Ferns", "width": 12, "height": 12, "count": 2,
                        "faces": [{"name": "Ferns", "colour": "green", "pattern": "busy", "directional": true,
                                   "unusable": {"bottom": 0.5}},
                                  {"colour": "cream"}]}),
        ),
        paper(
            4,
            json!({"schema": 1, "name": "Little dots", "kind": "pad", "width": 6, "height": 6, "count": 24,
                        "faces": [{"colour": "rose", "pattern": "quiet"}]}),
        ),
    ]
}

fn batch(json: Value) -> Batch {
    Batch::try_from(serde_json::from_value::<BatchJson>(json).unwrap()).unwrap()
}

fn orders(batch: &Batch, layout: &Layout) -> Vec<Order> {
    batch.layouts.iter().map(|&(id, cards)| Order::of(id, 1, layout, cards).unwrap()).collect()
}

fn planned(batch: &Batch, stock: &[StoredPaper], rounds: u64) -> BatchPlan {
    let orders = orders(batch, &get_well());
    plan(&Ground { batch, orders: &orders, stock }, rounds, &mut |_| true).unwrap()
}

/// Every place is on its sheet and on no other piece, keeps off unusable
/// edges and does not turn a print; what is placed and missing is all that is
/// wanted; no paper is used beyond its count.
fn check(plan: &BatchPlan, stock: &[StoredPaper], blade: f64) {
    for piece in &plan.pieces {
        let placed: u32 = plan
            .sheets
            .iter()
            .map(|sheet| {
                sheet.count
                    * u32::try_from(sheet.pieces.iter().filter(|p| p.letter == piece.letter).count()).unwrap()
            })
            .sum();
        let missing: u32 =
            plan.missing.iter().filter(|one| one.letter == piece.letter).map(|one| one.count).sum();
        assert_eq!(placed + missing, piece.count, "{piece:?}");
    }
    for paper in stock {
        let used: u32 = plan.sheets.iter().filter(|s| s.paper == Some(paper.id)).map(|s| s.count).sum();
        assert!(used <= paper.paper.count, "{} of {}", used, paper.paper.name);
    }
    for sheet in &plan.sheets {
        for (index, one) in sheet.pieces.iter().enumerate() {
            let wanted = plan.pieces.iter().find(|piece| piece.letter == one.letter).unwrap();
            let size = if one.turned { [wanted.height, wanted.width] } else { [wanted.width, wanted.height] };
            let off = |found: f64, wanted: f64| (found - wanted).abs();
            assert!(off(one.at.width, size[0]) + off(one.at.height, size[1]) < 1e-9, "{one:?}");
            let (right, bottom) = (one.at.x + one.at.width, one.at.y + one.at.height);
            assert!(
                one.at.x >= 0.0
                    && one.at.y >= 0.0
                    && right <= sheet.width + 1e-9
                    && bottom <= sheet.height + 1e-9
            );
            for other in &sheet.pieces[..index] {
                let apart = right + blade <= other.at.x + 1e-9
                    || other.at.x + other.at.width + blade <= one.at.x + 1e-9
                    || bottom + blade <= other.at.y + 1e-9
                    || other.at.y + other.at.height + blade <= one.at.y + 1e-9;
                assert!(apart, "{one:?} {other:?}");
            }
            let Some(paper) = stock.iter().find(|paper| Some(paper.id) == sheet.paper) else { continue };
            let face = &paper.paper.faces[one.face];
            let upright =
                off(wanted.width, wanted.height) > 1e-9 && !["base", "mat"].contains(&&*wanted.supply);
            assert!(!(one.turned && face.directional && upright), "{one:?} is turned");
            let edges = face.unusable;
            let [mut left, mut right_edge] =
                [edges.left, edges.right].map(|edge| edge.value(paper.paper.unit));
            if one.face == 1 {
                std::mem::swap(&mut left, &mut right_edge);
            }
            assert!(one.at.x >= left && right <= sheet.width - right_edge, "{one:?}");
            let [top, bottom_edge] = [edges.top, edges.bottom].map(|edge| edge.value(paper.paper.unit));
            assert!(one.at.y >= top && bottom <= sheet.height - bottom_edge, "{one:?}");
        }
    }
}

#[test]
fn papers_are_proposed_by_the_rules_of_thumb() {
    let plan = planned(&batch(json!({"schema": 1, "layouts": [{"layout": 7, "cards": 4}]})), &drawer(), 0);
    let from = |supply: &str| plan.papers.iter().find(|one| one.supply == supply).unwrap().name.clone();
    // Common practice, no source: bases of plain cardstock, busy on large, quiet on narrow, a mat of another colour
    // than what lies on it.
    assert_eq!(from("A"), "Ferns: Ferns, green");
    assert_eq!(from("B"), "Little dots");
    assert!(["Kraft", "White card"].contains(&&*from("base")));
    assert!(["Kraft", "White card"].contains(&&*from("mat")));
    assert_ne!(from("mat"), from("plain"));
    assert_eq!((plan.totals.missing, plan.totals.cards), (0, 4));
    check(&plan, &drawer(), 0.0);
}

#[test]
fn what_is_chosen_by_hand_stands() {
    let asked = json!({"schema": 1, "layouts": [{"layout": 7, "cards": 4}],
                       "papers": [{"layout": 7, "supply": "A", "paper": 3, "face": 1},
                                  {"layout": 7, "supply": "B", "paper": 99}]});
    let plan = planned(&batch(asked), &drawer(), 0);
    let a = plan.papers.iter().find(|one| one.supply == "A").unwrap();
    assert_eq!((a.face, a.by_hand), (1, true));
    let b = plan.papers.iter().find(|one| one.supply == "B").unwrap();
    assert!(b.why.contains("used up or gone"), "{}", b.why);
    // A paper that is gone leaves its pieces missing, and says so.
    assert_eq!(plan.totals.missing, 4);
    assert!(
        plan.advice.iter().any(|one| one.starts_with("Paper B of “Get well, Edith”")),
        "{:?}",
        plan.advice
    );
    check(&plan, &drawer(), 0.0);
}

#[test]
fn where_paper_runs_short_there_is_advice() {
    // Trade facts, table of yields: 4 x 5 1/4 from 12 x 12 gives 6, whichever way they lie. Two sheets give 12;
    // the unusable half inch below leaves 11 1/2, in which two rows of 5 1/4 still fit, three to a row.
    let asked = json!({"schema": 1, "layouts": [{"layout": 7, "cards": 14}],
                       "papers": [{"layout": 7, "supply": "A", "paper": 3}]});
    let plan = planned(&batch(asked), &drawer(), 2_000);
    assert_eq!(plan.totals.missing, 2);
    assert!(
        plan.advice.contains(&"12 of 14 cards can be cut from what is there.".to_owned()),
        "{:?}",
        plan.advice
    );
    assert!(
        plan.advice.contains(&"One more sheet of “Ferns” (12 x 12) would do.".to_owned()),
        "{:?}",
        plan.advice
    );
    assert_eq!(plan.papers.iter().find(|one| one.supply == "A").unwrap().cards_per_sheet, Some(6));
    check(&plan, &drawer(), 0.0);
}

#[test]
fn pieces_that_would_fit_turned_are_told() {
    // 5 x 3 does not stand upright on a strip of 3 1/2 x 20, but lies on it.
    let stock = [
        paper(
            1,
            json!({"schema": 1, "name": "Hills", "width": 5.5, "height": 16, "count": 1,
                        "faces": [{"name": "Hills", "pattern": "busy", "directional": true}]}),
        ),
        paper(
            2,
            json!({"schema": 1, "name": "Kraft", "width": 8.5, "height": 11, "count": 20, "weight": "cardstock"}),
        ),
    ];
    let asked = json!({"schema": 1, "layouts": [{"layout": 7, "cards": 4}], "papers": [
        {"layout": 7, "supply": "A", "paper": 1}, {"layout": 7, "supply": "B", "paper": 2},
        {"layout": 7, "supply": "plain", "paper": 2}, {"layout": 7, "supply": "mat", "paper": 2}]});
    let plan = planned(&batch(asked), &stock, 2_000);
    // Upright three of 5 1/4 stand on 16, turned four of 4.
    assert_eq!(plan.totals.missing, 1);
    assert!(plan.advice.iter().any(|one| one.starts_with("Or turn pieces of “Hills”")), "{:?}", plan.advice);
}

#[test]
fn hidden_middles_are_stock_where_the_maker_allows_it() {
    let layout: Layout = serde_json::from_value(json!({
        "schema": 1, "title": "Frame", "unit": "in", "card": {"name": "A2", "width": 4.25, "height": 5.5},
        "elements": [
            {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25, "slot": "A"},
            {"id": 2, "shape": "rectangle", "x": 0.375, "y": 0.375, "width": 3.5, "height": 4.75, "slot": "B"},
            {"id": 3, "shape": "rectangle", "x": 0.625, "y": 4.0, "width": 2.0, "height": 1.0, "slot": "A"}
        ]
    }))
    .unwrap();
    let stock = [
        paper(
            1,
            json!({"schema": 1, "name": "Ferns", "width": 4, "height": 5.25, "count": 4, "faces": [{"pattern": "busy"}]}),
        ),
        paper(
            2,
            json!({"schema": 1, "name": "Dots", "width": 6, "height": 6, "count": 9, "faces": [{"pattern": "quiet"}]}),
        ),
    ];
    let mut asked = json!({"schema": 1, "layouts": [{"layout": 7, "cards": 4}],
                       "papers": [{"layout": 7, "supply": "A", "paper": 1}, {"layout": 7, "supply": "B", "paper": 2}],
                       "cutting": {"bases": false}});
    let missing = |asked: &Value| {
        let batch = batch(asked.clone());
        let orders = orders(&batch, &layout);
        plan(&Ground { batch: &batch, orders: &orders, stock: &stock }, 2_000, &mut |_| true).unwrap()
    };
    assert_eq!(missing(&asked).totals.missing, 4);
    asked["cutting"]["middles"] = true.into();
    let plan = missing(&asked);
    assert_eq!((plan.totals.missing, plan.totals.sheets), (0, 8));
    let middle = plan.sheets.iter().find(|sheet| sheet.paper.is_none()).unwrap();
    assert!(middle.name.starts_with("hidden middle of "), "{}", middle.name);
    // 3 x 4 1/4 of it holds all four strips of 2 x 1: the other middles stay where they are.
    assert_eq!((middle.count, middle.pieces.len()), (1, 4));
    check(&plan, &stock, 0.0);
}

#[test]
fn the_same_batch_has_the_same_plan_and_stops_when_told() {
    let batch = batch(json!({"schema": 1, "layouts": [{"layout": 7, "cards": 9}]}));
    assert_eq!(planned(&batch, &drawer(), 3_000), planned(&batch, &drawer(), 3_000));
    let orders = orders(&batch, &get_well());
    let mut asked = 0;
    let stopped = plan(&Ground { batch: &batch, orders: &orders, stock: &drawer() }, 1_000_000, &mut |_| {
        asked += 1;
        false
    });
    check(&stopped.unwrap(), &drawer(), 0.0);
    assert_eq!(asked, 1);
}

#[test]
fn metric_papers_and_inch_pieces_are_planned_exactly() {
    // ISO 216: A4 is 210 x 297 mm. Trade facts: A4 gives 4 of 4 x 5 1/4.
    let stock = [paper(
        1,
        json!({"schema": 1, "name": "Copier", "unit": "mm", "width": 210, "height": 297, "count": 9,
                                 "weight": "cardstock"}),
    )];
    let asked = json!({"schema": 1, "layouts": [{"layout": 7, "cards": 4}], "cutting": {"bases": false}});
    let plan = planned(&batch(asked), &stock, 2_000);
    assert_eq!(plan.papers.iter().find(|one| one.supply == "A").unwrap().cards_per_sheet, Some(4));
    assert_eq!(plan.totals.missing, 0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn any_drawer_makes_a_sound_plan(
        sizes in prop::collection::vec((24i32..200, 24i32..200, 1u32..6, any::<bool>(), any::<bool>(), 0i32..8), 1..5),
        cards in 1u32..9,
        blade in 0i32..2,
        least in 0i32..8,
    ) {
        let stock: Vec<StoredPaper> = (1..).zip(&sizes).map(|(id, &(w, h, count, directional, heavy, edge))| {
            paper(id, json!({
                "schema": 1, "name": format!("Paper {id}"), "width": f64::from(w) / 16.0, "height": f64::from(h) / 16.0,
                "count": count, "weight": if heavy { "cardstock" } else { "paper" },
                "faces": [{"name": format!("{id}"), "pattern": "busy", "directional": directional,
                           "unusable": {"left": f64::from(edge) / 16.0}},
                          {"colour": "cream", "unusable": {"left": f64::from(edge) / 16.0}}]
            }))
        }).collect();
        let batch = batch(json!({"schema": 1, "layouts": [{"layout": 7, "cards": cards}],
            "cutting": {"blade": f64::from(blade) / 16.0, "least_strip": f64::from(least) / 16.0}}));
        let plan = planned(&batch, &stock, 200);
        check(&plan, &stock, f64::from(blade) / 16.0);
    }
}
