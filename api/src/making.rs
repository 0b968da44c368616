//! What is asked of a layout that is to be made, over HTTP and at the command
//! line alike: how many cards, and by which measures.

use std::fmt::Write;

use layout::{AdviceOptions, Layout, Length, Making, PieceOptions, PiecesError, Unit};
use schemars::JsonSchema;
use serde::Deserialize;

use crate::body::field;
use crate::error::ApiError;

/// Cards made at a time when nobody says how many: makers make them in fours.
pub(crate) const USUAL_CARDS: &str = "4";

/// How many cards are made, and by which measures. Lengths are written as
/// everywhere: `1/4`, `0.25` or `6 mm`, bare numbers in the layout's unit.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, clap::Args)]
pub(crate) struct Asked {
    /// How many cards, 1 to 1000; 4 if left out
    #[arg(long, value_name = "COUNT")]
    #[schemars(with = "Option<u32>")]
    cards: Option<String>,
    /// What a circle, an oval or a shaped banner's length is cut larger, overall; 1/4 or 6 mm if left out
    #[arg(long, value_name = "LENGTH")]
    allowance: Option<String>,
    /// Paper that stays for glue where a hidden middle is cut out; 1/4 or 6 mm if left out
    #[arg(long, value_name = "LENGTH")]
    margin: Option<String>,
    /// What of the base a background leaves on each side; 1/8 or 3 mm if left out
    #[arg(long, value_name = "LENGTH")]
    border: Option<String>,
    /// Thickness of one layer of cardstock in inches; 0.012 if left out, better a tenth of a pile of ten
    #[arg(long, value_name = "INCHES")]
    #[schemars(with = "Option<f64>")]
    cardstock: Option<String>,
    /// Thickness of foam adhesive in inches: 0.03125, 0.0625 or 0.125; 0.0625 if left out
    #[arg(long, value_name = "INCHES")]
    #[schemars(with = "Option<f64>")]
    foam: Option<String>,
}

impl Asked {
    /// All that the layout takes.
    pub(crate) fn making(&self, layout: &Layout) -> Result<Making, ApiError> {
        let unit = layout.card.unit;
        let cards = self.cards.as_deref().unwrap_or(USUAL_CARDS).trim();
        let cards = cards.parse().map_err(|_| field("cards", "make 1 to 1000 cards"))?;
        let mut pieces = PieceOptions::cards(cards, unit);
        if let Some(allowance) = length("allowance", self.allowance.as_ref(), unit)? {
            (pieces.allowances.round, pieces.allowances.ends) = (allowance, allowance);
        }
        let mut advice = AdviceOptions::usual(unit);
        if let Some(margin) = length("margin", self.margin.as_ref(), unit)? {
            if margin < Length::steps(1, unit, layout::Step::Position) || margin > Length::inches(2) {
                return Err(field("margin", "leave 1/16 (0.5 mm) to 2 inches for glue"));
            }
            advice.margins.glue = margin;
        }
        if let Some(border) = length("border", self.border.as_ref(), unit)? {
            if border < Length::ZERO || border > Length::inches(2) {
                return Err(field("border", "leave nothing to 2 inches of the base"));
            }
            advice.border = border;
        }
        let thickness = |name, text: Option<&String>, usual, [least, most]: [f64; 2]| {
            let Some(text) = text else { return Ok(usual) };
            let value = text.trim().parse().ok().filter(|value| (least..=most).contains(value));
            value.ok_or_else(|| field(name, &format!("give inches from {least} to {most}, such as {usual}")))
        };
        let usual = advice.calipers;
        advice.calipers.cardstock =
            thickness("cardstock", self.cardstock.as_ref(), usual.cardstock, [0.004, 0.03])?;
        advice.calipers.foam = thickness("foam", self.foam.as_ref(), usual.foam, [0.01, 0.25])?;
        Making::of(layout, &pieces, &advice).map_err(|error| {
            let at = match error {
                PiecesError::Cards(_) => "cards",
                PiecesError::Allowance(_) => "allowance",
            };
            field(at, &error.to_string())
        })
    }

    /// The same as a part of an `ETag`: others for others.
    pub(crate) fn tag(&self) -> String {
        let all = [&self.cards, &self.allowance, &self.margin, &self.border, &self.cardstock, &self.foam];
        let mut tag = String::new();
        for value in all {
            tag.push('-');
            for byte in value.iter().flat_map(|value| value.bytes()) {
                // Letters and digits stay; all else is told by its number.
                if byte.is_ascii_alphanumeric() {
                    tag.push(char::from(byte));
                } else {
                    let _ = write!(tag, ".{byte:02x}");
                }
            }
        }
        tag
    }
}

fn length(name: &str, text: Option<&String>, unit: Unit) -> Result<Option<Length>, ApiError> {
    text.map(|text| Length::parse(text, unit)).transpose().map_err(|error| field(name, &error.to_string()))
}
