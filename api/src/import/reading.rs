//! What is on a page of a file: bytes in, a `PageRead` out.
//! No notebook here and no names of files but for what the rule says of them.

use capture::{CaptureError, Document, Frame, Limits, NoTrace, Options, Photo, is_blank, proportions};
use layout::{Card, Layout};

use super::gather::is_archive;
use super::rule::{CardPlan, clearly};
use super::{Outcome, PageRead};

/// A shape that is less sure than this is worth a look: on the board of
/// readings two in five of those below it are on the drawing.
const SURE: f64 = 0.6;

/// Reads a page of a file, counted from 1, and says how many pages the file has.
pub(crate) fn read_page(bytes: &[u8], page: u32, plan: &CardPlan) -> (PageRead, u32) {
    let document = match Document::open(bytes, &Limits::default()) {
        Ok(document) => document,
        Err(error) => return (unreadable(page, bytes, &error), 1),
    };
    let index = usize::try_from(page.saturating_sub(1)).unwrap_or(usize::MAX);
    let read = match document.page(index) {
        Ok(photo) => of_photo(page, &photo, plan),
        Err(error) => unreadable(page, bytes, &error),
    };
    (read, u32::try_from(document.pages()).unwrap_or(u32::MAX))
}

fn unreadable(page: u32, bytes: &[u8], error: &CaptureError) -> PageRead {
    let reason = if is_archive(bytes) {
        "this zip archive is damaged, lies in another one, or has more than 10000 files in it: unpack it and import the folder"
            .to_owned()
    } else {
        error.to_string()
    };
    PageRead::unreadable(page, reason)
}

fn of_photo(page: u32, photo: &Photo, plan: &CardPlan) -> PageRead {
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
            // The other side of a scanned sheet can look like a faint drawing.
            Some(_) if is_blank(photo, None) => told(Outcome::Blank, String::new(), Vec::new()),
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
    let card = |name: &String| name.parse::<Card>().map_err(|error| error.to_string());
    let (among, usual) = match plan {
        CardPlan::Known(name) => return card(name),
        CardPlan::ByOutline { among, usual } => (among, usual),
    };
    let among = among.iter().map(card).collect::<Result<Vec<_>, _>>()?;
    let seen = proportions(photo, &among);
    if let Some(card) = seen.and_then(|proportions| clearly(proportions, &among)) {
        return Ok(card.clone());
    }
    if let Some(usual) = usual {
        return card(usual);
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
