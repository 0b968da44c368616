//! Which proportions the cards on a page have, before anyone says what card
//! they are. Outlines are looked for with each card of a list in turn, for what
//! counts as an outline depends on the card, and the outermost one of all leads,
//! as in stage 4 (`card.rs`, whose view of a rectangle in perspective this is).

use layout::Card;

use crate::card::{Outline, places};
use crate::geometry;
use crate::page::Page;
use crate::photo::Photo;
use crate::trace::NoTrace;

/// Outlines on one page that differ by more than this, in natural logs, are not
/// of one card: a hand's outline strays by 2 to 3 percent.
const SAME_CARD: f64 = 0.06;
/// An outline smaller than this share of the largest is no card of its own.
const NEXT_LARGEST: f64 = 0.5;

/// Shorter over longer side of the outlines on a page, each as it would be seen
/// square-on: their geometric mean. `None` where no outline fits any of `cards`
/// or the outlines differ.
pub fn proportions(photo: &Photo, cards: &[Card]) -> Option<f64> {
    let page = Page::of(photo, &mut NoTrace);
    let mut leads: Vec<Outline> = Vec::new();
    for card in cards {
        let found = places(&page.outlines(card), card);
        leads.extend(found.cards.into_iter().filter_map(|rivals| rivals.into_iter().next()));
    }
    leads.sort_by(|a, b| geometry::area(&b.corners).total_cmp(&geometry::area(&a.corners)));
    let mut apart: Vec<&Outline> = Vec::new();
    for lead in &leads {
        if apart.iter().all(|other| geometry::iou(&other.corners, &lead.corners) == 0.0) {
            apart.push(lead);
        }
    }
    let largest = geometry::area(&apart.first()?.corners);
    apart.retain(|lead| geometry::area(&lead.corners) >= NEXT_LARGEST * largest);
    let logs: Vec<f64> = apart.iter().map(|lead| -lead.aspect.ln().abs()).collect();
    let mean = logs.iter().sum::<f64>() / logs.len() as f64;
    logs.iter().all(|log| (log - mean).abs() <= SAME_CARD).then(|| mean.exp())
}
