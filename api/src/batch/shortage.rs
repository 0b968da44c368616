//! What can be done where paper runs short: fewer cards, another sheet, or
//! pieces turned against their print. Each is tried by planning it.

use std::collections::BTreeSet;

use layout::Supply;

use super::choose::{Chosen, Stuff, area_of};
use super::order::Order;
use super::plan::{BatchPlan, Ground, missing};
use crate::store::StoredPaper;

/// Most sheets that are tried to be added: with more missing, the batch is
/// another one.
const MOST_MORE: u32 = 8;
/// Most cards that are counted for one sheet: strips of an eighth.
const MOST_A_SHEET: u32 = 200;

/// Sentences on what could be done.
pub(super) fn advice(
    ground: &Ground<'_>,
    stuffs: &[Stuff],
    chosen: &[Chosen],
    plan: &BatchPlan,
) -> Vec<String> {
    let mut advice = Vec::new();
    // Parts that no paper is large enough for are a matter of their own.
    for one in chosen.iter().filter(|one| one.from.is_none()) {
        let order = &ground.orders[one.order];
        advice.push(format!("{} of “{}”: {}.", supply_words(one.supply), order.title, one.why));
    }
    if missing(ground, stuffs, chosen) == 0 {
        return advice;
    }
    let cards = fewer(ground, stuffs, chosen);
    advice.push(format!("{cards} of {} cards can be cut from what is there.", plan.totals.cards));
    advice.extend(more_paper(ground, stuffs, chosen));
    if let Some(sentence) = turned(ground, stuffs, chosen) {
        advice.push(sentence);
    }
    advice
}

/// How many cards' worth of one part come out of one sheet, the largest there is.
pub(super) fn cards_per_sheet(ground: &Ground<'_>, stuff: &Stuff, one: &Chosen, face: usize) -> Option<u32> {
    let largest = largest(ground.stock, stuff)?;
    let mut paper = ground.stock[largest].clone();
    paper.paper.count = 1;
    let stock = [paper];
    let order = &ground.orders[one.order];
    let alone = [Chosen { order: 0, from: Some((0, face)), ..one.clone() }];
    let fits = |cards: u32| {
        let orders = [order.with_cards(cards)];
        missing(&Ground { batch: ground.batch, orders: &orders, stock: &stock }, &[vec![0]], &alone) == 0
    };
    Some(most(MOST_A_SHEET, fits))
}

/// The largest number that fits, where fewer always fit as well: doubled
/// until it does not, then halved.
pub(super) fn most(limit: u32, fits: impl Fn(u32) -> bool) -> u32 {
    let (mut fine, mut over) = (0, limit + 1);
    let mut tried = 1;
    while tried < over {
        if fits(tried) {
            fine = tried;
            tried = (tried * 2).min(limit.max(tried + 1));
            if fine >= limit {
                return limit;
            }
        } else {
            over = tried;
        }
    }
    while over - fine > 1 {
        let middle = fine + (over - fine) / 2;
        if fits(middle) { fine = middle } else { over = middle }
    }
    fine
}

fn largest(stock: &[StoredPaper], stuff: &Stuff) -> Option<usize> {
    let area = |&&index: &&usize| area_of(stock[index].paper.width, stock[index].paper.height);
    stuff.iter().max_by(|one, other| area(one).total_cmp(&area(other))).copied()
}

/// How many cards can be made in all: of the layouts that share a paper which
/// runs short, those of the last ones are left out first.
fn fewer(ground: &Ground<'_>, stuffs: &[Stuff], chosen: &[Chosen]) -> u32 {
    let mut orders = ground.orders.to_vec();
    for index in 0..stuffs.len() {
        let here = cut_from(chosen, index);
        let short = |orders: &[Order]| missing(&Ground { orders, ..*ground }, stuffs, &here) > 0;
        let sharing: BTreeSet<usize> = here.iter().map(|one| one.order).collect();
        for &order in sharing.iter().rev() {
            if !short(&orders) {
                break;
            }
            let fits = |cards: u32| {
                let mut tried = orders.clone();
                tried[order] = ground.orders[order].with_cards(cards);
                !short(&tried)
            };
            let cards = most(orders[order].cards, fits);
            orders[order] = ground.orders[order].with_cards(cards);
        }
    }
    orders.iter().map(|order| order.cards).sum()
}

/// The parts that are cut from one stuff.
fn cut_from(chosen: &[Chosen], stuff: usize) -> Vec<Chosen> {
    chosen.iter().filter(|one| one.from.is_some_and(|(from, _)| from == stuff)).cloned().collect()
}

/// How many more sheets of which paper would do.
fn more_paper(ground: &Ground<'_>, stuffs: &[Stuff], chosen: &[Chosen]) -> Vec<String> {
    let mut sentences = Vec::new();
    for (index, stuff) in stuffs.iter().enumerate() {
        let here = cut_from(chosen, index);
        if here.is_empty() || missing(ground, stuffs, &here) == 0 {
            continue;
        }
        let Some(largest) = largest(ground.stock, stuff) else { continue };
        let paper = &ground.stock[largest].paper;
        let enough = (1..=MOST_MORE).find(|more| {
            let mut stock = ground.stock.to_vec();
            stock[largest].paper.count += more;
            missing(&Ground { stock: &stock, ..*ground }, stuffs, &here) == 0
        });
        sentences.push(match enough {
            Some(1) => format!("One more sheet of “{}” ({}) would do.", paper.name, paper.size_words()),
            Some(more) => {
                format!("{more} more sheets of “{}” ({}) would do.", paper.name, paper.size_words())
            }
            None => format!("“{}” is far too little: choose another paper for some of it.", paper.name),
        });
    }
    sentences
}

/// Whether pieces turned against their print would fit.
fn turned(ground: &Ground<'_>, stuffs: &[Stuff], chosen: &[Chosen]) -> Option<String> {
    let mut stock = ground.stock.to_vec();
    let mut names: Vec<String> = Vec::new();
    for one in chosen {
        let Some((stuff, face)) = one.from else { continue };
        for &index in &stuffs[stuff] {
            let paper = &mut stock[index].paper;
            if paper.faces[face].directional {
                paper.faces[face].directional = false;
                if !names.contains(&paper.name) {
                    names.push(paper.name.clone());
                }
            }
        }
    }
    let fits = !names.is_empty() && missing(&Ground { stock: &stock, ..*ground }, stuffs, chosen) == 0;
    fits.then(|| {
        format!("Or turn pieces of “{}” against their print: then all of them fit.", names.join("” and “"))
    })
}

fn supply_words(supply: Supply) -> String {
    match supply {
        Supply::Base => "The card bases".to_owned(),
        Supply::Mat(_) => "The mats".to_owned(),
        Supply::Plain => "The pieces without a letter".to_owned(),
        Supply::Slot(slot) => format!("Paper {}", slot.letter()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_most_that_fits_is_found() {
        for limit in [1, 4, 7, 200] {
            for fits in 0..=limit {
                assert_eq!(most(limit, |n| n <= fits), fits, "{fits} of {limit}");
            }
        }
    }
}
