//! The question turned round: here is a paper, which parts of a layout can be
//! cut from it, and for how many cards?

use cutting::{Goal, Job, Options};
use layout::{Layout, Paper, PieceOptions, Pieces, Supply};

use super::plan::{sheet_of, wanted};
use super::shortage::most;

/// A part of a layout that a paper serves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Serving {
    /// For how many cards it is enough.
    pub(crate) cards: u32,
    /// Which part, in words.
    pub(crate) words: String,
}

/// The parts of a layout that can be cut from all sheets of a paper, each
/// alone, for up to so many cards.
pub(crate) fn servings(paper: &Paper, layout: &Layout, cards: u32) -> Vec<Serving> {
    let Ok(pieces) = Pieces::of(layout, &PieceOptions::cards(1, layout.card.unit)) else { return Vec::new() };
    let mut supplies: Vec<Supply> = pieces.pieces.iter().map(|piece| piece.supply).collect();
    supplies.dedup();
    let serving = |supply: Supply| {
        let cards =
            (0..paper.faces.len()).map(|face| enough_for(paper, face, &pieces, supply, cards)).max()?;
        let parts: Vec<&str> = pieces
            .pieces
            .iter()
            .filter(|piece| piece.supply == supply)
            .flat_map(|piece| piece.uses.iter().map(|one| one.words.as_str()))
            .collect();
        (cards > 0).then(|| {
            let word = if cards == 1 { "card" } else { "cards" };
            Serving { cards, words: format!("{}, for {cards} {word}", parts.join("; ")) }
        })
    };
    supplies.into_iter().filter_map(serving).collect()
}

/// For how many cards, at most `limit`, the paper gives every piece of a supply.
fn enough_for(paper: &Paper, face: usize, pieces: &Pieces, supply: Supply, limit: u32) -> u32 {
    let alone: Vec<cutting::Piece> = pieces
        .pieces
        .iter()
        .filter(|piece| piece.supply == supply)
        .map(|piece| wanted(piece, face, paper.faces[face].directional))
        .collect();
    let sheet = sheet_of(paper);
    let area: u64 = alone.iter().map(|piece| piece.size.area() * u64::from(piece.quantity)).sum();
    let room = sheet.size.area() * u64::from(paper.count);
    let limit = u64::from(limit).min(room / area.max(1));
    let limit = u32::try_from(limit).unwrap_or(u32::MAX);
    if limit == 0 || !alone.iter().all(|piece| piece.fits(sheet.size)) {
        return 0;
    }
    most(limit, |cards| {
        let mut pieces = alone.clone();
        for piece in &mut pieces {
            piece.quantity *= cards;
        }
        let job = Job { pieces, stock: vec![sheet.clone()], goal: Goal::FewestSheets };
        let options = Options { rounds: 0, ..Options::default() };
        cutting::plan(&job, &options, &mut |_| false).is_ok_and(|plan| plan.complete())
    })
}

#[cfg(test)]
mod tests {
    use layout::PaperJson;
    use serde_json::json;

    use super::*;

    #[test]
    fn a_leftover_strip_serves_the_strips_of_a_layout() {
        let layout: Layout = serde_json::from_value(json!({
            "schema": 1, "title": "Thank you", "unit": "in", "card": {"name": "A2", "width": 4.25, "height": 5.5},
            "elements": [
                {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25, "slot": "A"},
                {"id": 2, "shape": "rectangle", "x": 0.125, "y": 2.0, "width": 4.0, "height": 1.25, "slot": "B", "role": "strip"}
            ]
        }))
        .unwrap();
        let strip = |width: f64, directional: bool| {
            let json = json!({"schema": 1, "name": "Ledger", "width": width, "height": 12, "count": 1,
                              "faces": [{"pattern": "quiet", "directional": directional}]});
            Paper::try_from(serde_json::from_value::<PaperJson>(json).unwrap()).unwrap()
        };
        // 12 in give three of 4 x 1 1/4 side by side when they may turn.
        let found = servings(&strip(1.25, false), &layout, 4);
        assert_eq!(found.iter().map(|one| one.cards).collect::<Vec<_>>(), [3]);
        assert!(found[0].words.ends_with("for 3 cards"), "{}", found[0].words);
        assert!(servings(&strip(1.25, true), &layout, 4).is_empty());
        assert!(servings(&strip(1.125, false), &layout, 4).is_empty());
        let [panel, strips] = &servings(&strip(5.25, false), &layout, 4)[..] else { panic!("two parts") };
        assert_eq!([panel.cards, strips.cards], [3, 4]);
    }
}
