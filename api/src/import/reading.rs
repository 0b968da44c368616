//! What is on the pages of one file: bytes in, a `PageRead` for each page out.
//! No notebook here and no names of files but for what the rule says of them.

use capture::{CaptureError, Document, Frame, Limits, NoTrace, Options, Photo, is_blank, proportions};
use layout::{Card, Layout};

use super::gather::is_archive;
use super::rule::{CardPlan, clearly};
use super::{Outcome, PageRead};

/// A shape that is less sure than this is worth a look: on the board of
/// readings about half of those below it are on the drawing as they were read.
const SURE: f64 = 0.6;

/// Reads every page of a file. `None` if `stop` says so in between.
pub(super) fn read(bytes: &[u8], plan: &CardPlan, stop: &dyn Fn() -> bool) -> Option<Vec<PageRead>> {
    let document = match Document::open(bytes, &Limits::default()) {
        Ok(document) => document,
        Err(error) => return Some(vec![unreadable(1, bytes, &error)]),
    };
    let mut pages = Vec::new();
    for index in 0..document.pages() {
        if stop() {
            return None;
        }
        let page = u32::try_from(index + 1).unwrap_or(u32::MAX);
        pages.push(match document.page(index) {
            Ok(photo) => read_page(page, &photo, plan),
            Err(error) => unreadable(page, bytes, &error),
        });
    }
    Some(pages)
}

fn unreadable(page: u32, bytes: &[u8], error: &CaptureError) -> PageRead {
    let reason = if is_archive(bytes) {
        "this zip archive is damaged or cannot be opened: unpack it and import the files in it".to_owned()
    } else {
        error.to_string()
    };
    PageRead { page, outcome: Outcome::Unreadable, reason, size_px: None, layouts: Vec::new() }
}

fn read_page(page: u32, photo: &Photo, plan: &CardPlan) -> PageRead {
    let told = |outcome, reason: String, layouts| PageRead {
        page,
        outcome,
        reason,
        size_px: (outcome != Outcome::Blank).then(|| photo.size_px()),
        layouts,
    };
    let card = match card_of(photo, plan) {
        Ok(card) => card,
        Err(_) if is_blank(photo, None) => return told(Outcome::Blank, String::new(), Vec::new()),
        Err(reason) => return told(Outcome::WhichCard, reason, Vec::new()),
    };
    let options = Options { card, frame: Frame::Outline, labels: true };
    match capture::read(photo, &options, &mut NoTrace) {
        Ok(layouts) if layouts.iter().all(|layout| layout.elements.is_empty()) => {
            // What was taken for a card may be the sheet itself.
            let sheet = match layouts.as_slice() {
                [only] => only.capture.as_ref().map(|capture| capture.card_corners_px),
                _ => None,
            };
            if is_blank(photo, sheet.as_ref()) {
                told(Outcome::Blank, String::new(), Vec::new())
            } else {
                told(Outcome::NoLayout, NOTHING_ON_IT.to_owned(), Vec::new())
            }
        }
        Ok(layouts) => match doubt(&layouts) {
            Some(reason) => told(Outcome::Doubtful, reason, layouts),
            None => told(Outcome::Read, String::new(), layouts),
        },
        Err(CaptureError::NoOutline) if is_blank(photo, None) => {
            told(Outcome::Blank, String::new(), Vec::new())
        }
        Err(error) => told(Outcome::NoLayout, error.to_string(), Vec::new()),
    }
}

const NOTHING_ON_IT: &str =
    "a card's outline was found but no shape on it: open the picture and set the four corners by hand";

/// The card a page is for, or why that cannot be said.
fn card_of(photo: &Photo, plan: &CardPlan) -> Result<Card, String> {
    let (among, usual) = match plan {
        CardPlan::Known(card) => return Ok(card.clone()),
        CardPlan::ByOutline { among, usual } => (among, usual),
    };
    let seen = proportions(photo, among);
    if let Some(card) = seen.and_then(|proportions| clearly(proportions, among)).or(usual.as_ref()) {
        return Ok(card.clone());
    }
    Err(match seen {
        Some(proportions) => format!(
            "the outline is {} times as long as wide, which is not clearly one card of the list: say which it is",
            (100.0 / proportions).round() / 100.0
        ),
        None => "no outline of a card of the list was found: say which card it is".to_owned(),
    })
}

/// Why a person should look at what was read, if they should.
fn doubt(layouts: &[Layout]) -> Option<String> {
    let warning = |layout: &Layout| layout.capture.as_ref()?.warnings.first().cloned();
    if let Some(warning) = layouts.iter().find_map(warning) {
        return Some(warning);
    }
    let unsure: usize = layouts
        .iter()
        .map(|layout| layout.elements.iter().filter(|element| element.confidence < SURE).count())
        .sum();
    match unsure {
        0 => None,
        1 => Some("One shape is not sure: look whether it is on the drawing.".to_owned()),
        _ => Some(format!("{unsure} shapes are not sure: look whether they are on the drawing.")),
    }
}
