//! The first plan, in milliseconds: pieces from large to small, each into the
//! offcut where it fits best; several orders are tried and the cheapest plan
//! stays. Best-fit insertion on the cut tree, after Fleszar ("Three insertion
//! heuristics and a justification improvement heuristic for two-dimensional
//! bin packing with guillotine cuts", 2013).

use crate::dice::{Dice, Now};
use crate::shop::{Kind, Shop};
use crate::table::Table;

/// The cheapest of the plans that each order of the pieces gives.
pub(crate) fn build<'a>(shop: &'a Shop, dice: &mut Dice) -> Table<'a> {
    let orders: [fn(&Kind) -> u64; 4] = [
        |k| k.area,
        |k| u64::from(k.ways[0].width.max(k.ways[0].height)),
        |k| u64::from(k.ways[0].width),
        |k| u64::from(k.ways[0].height),
    ];
    let mut best: Option<Table> = None;
    for order in orders {
        let mut table = Table::new(shop);
        let mut queue = table.queue();
        queue.sort_by_key(|&k| {
            (std::cmp::Reverse(order(&shop.kinds[k])), std::cmp::Reverse(shop.kinds[k].area))
        });
        for kind in queue {
            table.place(kind, u64::MAX, dice, &mut Now::never());
        }
        let better = |b: &Table| table.lost.total_cmp(&b.lost).then(table.cost.cmp(&b.cost)).is_lt();
        if best.as_ref().is_none_or(better) {
            best = Some(table);
        }
    }
    best.unwrap_or_else(|| Table::new(shop))
}
