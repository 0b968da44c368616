//! What no plan can beat. For one size of sheet: pairs of dual feasible
//! functions, one for the widths and one for the heights (Fekete & Schepers,
//! "New classes of fast lower bounds for bin packing problems", 2001; Carlier,
//! Clautiaux & Moukrim, "New reduction procedures and lower bounds for the
//! two-dimensional bin packing problem with fixed orientation", 2007). For
//! several sizes: the cheapest sheets with enough area, as whole sheets.

use crate::Goal;
use crate::plan::whole;
use crate::shop::{Board, Shop};

/// The best lower bound (for value: upper bound) that is quick to find. More than `enough` is not looked for.
pub(crate) fn bound(shop: &Shop, enough: u64) -> u64 {
    if shop.goal == Goal::MostValue {
        let all: f64 =
            shop.kinds.iter().filter(|k| !k.ways.is_empty()).map(|k| k.worth * f64::from(k.quantity)).sum();
        return whole(all);
    }
    let area: u64 =
        shop.kinds.iter().filter(|k| !k.ways.is_empty()).map(|k| k.area * u64::from(k.quantity)).sum();
    if area == 0 {
        return 0;
    }
    match &shop.boards[..] {
        [board] => {
            // Any sum above one sheet less is enough.
            let enough = enough as f64 / board.cost.max(1) as f64 - 1.0 + HAIR;
            u64::from(sheets_needed(shop, *board, area, enough)) * board.cost
        }
        boards => cheapest_cover(boards, area),
    }
}

/// A length of the sheet's side, made larger or smaller as a dual feasible function does.
type Weights = Vec<[f64; 2]>;

/// A sum so little above a whole number is that number and a rounding error.
const HAIR: f64 = 1e-7;

/// Most products summed over all pairs of functions: about 5 ms.
const MOST_PRODUCTS: f64 = 1.5e6;

fn sheets_needed(shop: &Shop, board: Board, area: u64, enough: f64) -> u32 {
    let kinds: Vec<_> = shop.kinds.iter().filter(|k| !k.ways.is_empty() && k.quantity > 0).collect();
    let widths: Vec<[u32; 2]> =
        kinds.iter().map(|k| [k.ways[0].width, k.ways[k.ways.len() - 1].width]).collect();
    let heights: Vec<[u32; 2]> =
        kinds.iter().map(|k| [k.ways[0].height, k.ways[k.ways.len() - 1].height]).collect();
    let counts: Vec<f64> = kinds.iter().map(|k| f64::from(k.quantity)).collect();
    let across = functions(&widths, &counts, board.width);
    let along = functions(&heights, &counts, board.height);
    let mut best = area as f64 / board.area() as f64;
    'all: for f in &across {
        for g in &along {
            let sum: f64 =
                f.iter().zip(g).zip(&counts).map(|((f, g), n)| n * (f[0] * g[0]).min(f[1] * g[1])).sum();
            best = best.max(sum);
            if best > enough {
                break 'all;
            }
        }
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most MOST_PIECES")]
    let sheets = (best - HAIR).ceil() as u32;
    sheets
}

/// Each function applied to each piece's sides in its ways, as parts of the sheet's side.
fn functions(sides: &[[u32; 2]], counts: &[f64], side: u32) -> Vec<Weights> {
    let full = u64::from(side);
    let total = full as f64;
    let apply =
        |f: &dyn Fn(u64) -> f64| -> Weights { sides.iter().map(|s| s.map(|x| f(u64::from(x)))).collect() };
    let mut marks: Vec<u64> = sides.iter().flatten().map(|&x| u64::from(x)).collect();
    let far: Vec<u64> = marks.iter().map(|&x| full - x.min(full)).collect();
    marks.extend(far.iter().flat_map(|&x| [x, x + 1]));
    marks.extend((2..=8).map(|k| full / k));
    marks.retain(|&x| 0 < x && 2 * x <= full);
    marks.sort_unstable_by_key(|&x| std::cmp::Reverse(x));
    marks.dedup();
    let (mut in_full, mut rounded, mut replaced, mut counted) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    // Large pieces count in full when those too small to share with them do not count (Fekete & Schepers).
    for &small in &marks {
        let f = apply(&|x| match x {
            _ if x > full - small => 1.0,
            _ if x < small => 0.0,
            _ => x as f64 / total,
        });
        in_full.push(f);
    }
    // Lengths rounded to parts of the side (Fekete & Schepers).
    for parts in 1..=20_u64 {
        let f = apply(&|x| {
            if (x * (parts + 1)).is_multiple_of(full) {
                x as f64 / total
            } else {
                (x * (parts + 1) / full) as f64 / parts as f64
            }
        });
        rounded.push(f);
    }
    // How many small lengths a piece takes the place of (Carlier, Clautiaux & Moukrim).
    for &small in &marks {
        let most = full / small;
        let f = apply(&|x| {
            let twice = match (2 * x).cmp(&full) {
                std::cmp::Ordering::Greater => 2 * (most - (full - x) / small),
                std::cmp::Ordering::Equal => most,
                std::cmp::Ordering::Less => 2 * (x / small),
            };
            twice as f64 / (2 * most) as f64
        });
        replaced.push(f);
    }
    // How many of the small pieces there are a large one takes the place of; only where none
    // turns, for then each piece has one length to count (Carlier, Clautiaux & Moukrim).
    if sides.iter().all(|s| s[0] == s[1]) {
        let mut lengths: Vec<(u64, f64)> =
            sides.iter().zip(counts).map(|(s, &n)| (u64::from(s[0]), n)).collect();
        lengths.sort_unstable_by_key(|l| l.0);
        for &small in &marks {
            let most = |mut room: u64| {
                let mut fit = 0;
                for &(length, copies) in lengths.iter().filter(|l| l.0 >= small && 2 * l.0 <= full) {
                    let all = whole(copies);
                    let here = all.min(room / length);
                    fit += here;
                    room -= here * length;
                    if here < all {
                        break;
                    }
                }
                fit
            };
            let total = most(full);
            if total == 0 {
                continue;
            }
            let f = apply(&|x| {
                let taken = match x {
                    _ if 2 * x > full => total - most(full - x),
                    _ if x >= small => 1,
                    _ => 0,
                };
                taken as f64 / total as f64
            });
            counted.push(f);
        }
    }
    // As many as there is time for, from each family in turn.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small number above 0")]
    let most = (MOST_PRODUCTS / sides.len() as f64).sqrt() as usize + 1;
    let mut found = vec![apply(&|x| x as f64 / total)];
    let mut families = [in_full.into_iter(), replaced.into_iter(), counted.into_iter(), rounded.into_iter()];
    while found.len() < most && families.iter().any(|f| f.len() > 0) {
        for f in families.iter_mut().filter_map(Iterator::next) {
            if !found.contains(&f) {
                found.push(f);
            }
        }
    }
    found
}

/// The quick part of [`bound`]: by area alone.
pub(crate) fn area_bound(shop: &Shop) -> u64 {
    if shop.goal == Goal::MostValue {
        return bound(shop, u64::MAX);
    }
    let fits = shop.kinds.iter().filter(|k| !k.ways.is_empty());
    cheapest_cover(&shop.boards, fits.map(|k| k.area * u64::from(k.quantity)).sum())
}

/// Steps of the search for the cheapest cover; past this its relaxation stands.
const MOST_STEPS: u32 = 200_000;

/// The least cost of whole sheets that have `area` together.
fn cheapest_cover(boards: &[Board], area: u64) -> u64 {
    let mut order: Vec<Board> = boards.to_vec();
    order.sort_by(|a, b| {
        let rate = |b: &Board| b.cost as f64 / b.area() as f64;
        rate(a).total_cmp(&rate(b)).then(b.area().cmp(&a.area()))
    });
    let relaxed = shares(&order, area);
    let mut best = u64::MAX;
    let mut steps = 0;
    cover(&order, area, 0, &mut best, &mut steps);
    if steps > MOST_STEPS || best == u64::MAX { relaxed } else { best }
}

/// The same when sheets may be bought in shares: the cheapest per area first.
fn shares(order: &[Board], mut area: u64) -> u64 {
    let mut cost = 0;
    for board in order {
        let sheets = (area / board.area()).min(u64::from(board.count));
        cost += sheets * board.cost;
        area -= sheets * board.area();
        if sheets < u64::from(board.count) && area > 0 {
            let part = u128::from(board.cost) * u128::from(area);
            let part = part.div_ceil(u128::from(board.area()));
            return cost + u64::try_from(part).unwrap_or(u64::MAX);
        }
    }
    cost
}

fn cover(order: &[Board], area: u64, spent: u64, best: &mut u64, steps: &mut u32) {
    *steps += 1;
    if area == 0 {
        *best = spent.min(*best);
        return;
    }
    let Some((board, rest)) = order.split_first() else { return };
    if *steps > MOST_STEPS || spent + shares(order, area) >= *best {
        return;
    }
    let most = area.div_ceil(board.area()).min(u64::from(board.count));
    for sheets in (0..=most).rev() {
        cover(rest, area.saturating_sub(sheets * board.area()), spent + sheets * board.cost, best, steps);
    }
}
