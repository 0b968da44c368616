//! What one layout of a batch asks for.

use layout::{Advice, AdviceOptions, Layout, Length, PieceOptions, Pieces, PiecesError, Supply, advise};

/// So many cards of one layout, and all that is cut for them.
#[derive(Clone, Debug)]
pub(crate) struct Order {
    /// The layout.
    pub(crate) layout: i64,
    /// Its version.
    pub(crate) version: i64,
    /// What it is called.
    pub(crate) title: String,
    /// How many cards.
    pub(crate) cards: u32,
    /// All that is cut for them.
    pub(crate) pieces: Pieces,
    /// Hidden middles that may be cut out of its pieces.
    pub(crate) middles: Vec<Middle>,
}

/// A rectangle that can be cut out of a panel where nobody sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Middle {
    /// The paper that the panel is of.
    pub(crate) supply: Supply,
    /// Side along the panel's width.
    pub(crate) width: Length,
    /// Side along the panel's height.
    pub(crate) height: Length,
    /// Which panel it is.
    pub(crate) words: String,
}

impl Order {
    /// What so many cards of a saved layout ask for.
    pub(crate) fn of(id: i64, version: i64, layout: &Layout, cards: u32) -> Result<Order, PiecesError> {
        let unit = layout.card.unit;
        let pieces = Pieces::of(layout, &PieceOptions::cards(cards, unit))?;
        let title = match layout.title.trim() {
            "" => format!("layout {id}"),
            title => title.to_owned(),
        };
        // A layout too deep to look through has no middles to give.
        let advice =
            advise(layout, &AdviceOptions::usual(unit)).map(|(_, advice)| advice).unwrap_or_default();
        let middles = advice.iter().filter_map(|one| match one {
            Advice::CutOut { index, hole, .. } => middle(layout, &pieces, *index, hole.width, hole.height),
            _ => None,
        });
        let middles = middles.collect();
        Ok(Order { layout: id, version, title, cards, pieces, middles })
    }

    /// The same for another number of cards.
    pub(crate) fn with_cards(&self, cards: u32) -> Order {
        let mut order = self.clone();
        order.cards = cards;
        for piece in &mut order.pieces.pieces {
            piece.count = piece.count / self.cards.max(1) * cards;
        }
        order.pieces.pieces.retain(|piece| piece.count > 0);
        order
    }
}

fn middle(layout: &Layout, pieces: &Pieces, index: usize, width: Length, height: Length) -> Option<Middle> {
    let element = Some(layout.elements[index].id);
    pieces.pieces.iter().find_map(|piece| {
        let used = piece.uses.iter().find(|used| used.element == element && used.mat.is_none())?;
        Some(Middle { supply: piece.supply, width, height, words: used.words.clone() })
    })
}
