//! A batch as the maker writes it down: which layouts, how many cards of each,
//! which papers were chosen by hand, and what the trimmer can do.

use cutting::Stages;
use layout::{Fault, Faults, Length, MOST_CARDS, Step, Supply, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The version of the JSON form of a batch.
const SCHEMA: u32 = 1;
/// Most layouts in one batch: more than a table of helpers makes in a day.
const MOST_LAYOUTS: usize = 100;
/// Most papers chosen by hand: some for each layout.
const MOST_CHOICES: usize = 2_000;
const LONGEST_TITLE: usize = 200;
const LONGEST_NOTES: usize = 20_000;
/// Widest blade and strip: past an inch nothing is a trimmer.
const WIDEST: Length = Length::inches(1);

/// Cards to be made together.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Batch {
    /// What the maker calls it.
    pub(crate) title: String,
    /// The unit of its lengths.
    pub(crate) unit: Unit,
    /// What is made: layouts, each once, and how many cards of it.
    pub(crate) layouts: Vec<(i64, u32)>,
    /// Papers chosen by hand.
    pub(crate) choices: Vec<Choice>,
    /// How it is cut.
    pub(crate) cutting: Cutting,
    /// Free words.
    pub(crate) notes: String,
}

/// A paper that one supply of one layout comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Choice {
    /// The layout.
    pub(crate) layout: i64,
    /// Which of its papers.
    pub(crate) supply: Supply,
    /// The paper of the drawer; what is like it serves as well.
    pub(crate) paper: i64,
    /// Which face is seen, 0 for the first.
    pub(crate) face: usize,
}

/// What the trimmer can do, and what may be cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Cutting {
    /// What the blade takes away.
    pub(crate) blade: Length,
    /// Least width that the trimmer can hold.
    pub(crate) least_strip: Length,
    /// How often the direction of the cuts may change.
    pub(crate) stages: Stages,
    /// Whether card bases are cut as well; no where folded ones are bought.
    pub(crate) bases: bool,
    /// Whether hidden middles of panels are cut out and used.
    pub(crate) middles: bool,
}

/// A batch as JSON. Lengths are plain numbers in `unit`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Batch")]
pub(crate) struct BatchJson {
    /// Version of this form: 1.
    schema: u32,
    /// What the maker calls it.
    #[serde(default)]
    title: String,
    /// The unit of every length in the record.
    #[serde(default)]
    unit: Unit,
    /// What is made, 1 to 100 layouts.
    layouts: Vec<CardsJson>,
    /// Papers chosen by hand; the others are proposed.
    #[serde(default)]
    papers: Vec<ChoiceJson>,
    /// How it is cut.
    #[serde(default)]
    cutting: CuttingJson,
    /// Free words.
    #[serde(default)]
    notes: String,
}

/// So many cards of one layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct CardsJson {
    /// The layout's id.
    layout: i64,
    /// How many cards, 1 to 1000.
    #[serde(default = "usual_cards")]
    cards: u32,
}

/// Makers make four of a kind.
fn usual_cards() -> u32 {
    4
}

/// A paper chosen for one supply of one layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ChoiceJson {
    /// The layout's id.
    layout: i64,
    /// `base`, `mat`, `mat-2`, `plain`, or the letter that stands for a paper.
    supply: String,
    /// The paper's id; papers of the same stuff serve as well.
    paper: i64,
    /// Which face is seen, 0 for the first.
    #[serde(default)]
    face: usize,
}

/// How a batch is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
struct CuttingJson {
    /// What the blade takes away, 0 for a trimmer's.
    blade: f64,
    /// Least width that the trimmer can hold.
    least_strip: f64,
    /// How often the direction of the cuts may change: 2, 3 or free.
    stages: StagesJson,
    /// Whether card bases are cut as well.
    bases: bool,
    /// Whether hidden middles of panels are cut out and used.
    middles: bool,
}

impl Default for CuttingJson {
    fn default() -> CuttingJson {
        CuttingJson { blade: 0.0, least_strip: 0.0, stages: StagesJson::Free, bases: true, middles: false }
    }
}

/// How often the direction of the cuts may change.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
enum StagesJson {
    /// Strips, then pieces.
    #[serde(rename = "2")]
    Two,
    /// Bands, then strips, then pieces.
    #[serde(rename = "3")]
    Three,
    /// As often as it takes.
    #[serde(rename = "free")]
    Free,
}

impl TryFrom<BatchJson> for Batch {
    type Error = Faults;

    fn try_from(json: BatchJson) -> Result<Batch, Faults> {
        let mut faults = Vec::new();
        let mut require = |fine: bool, at: &str, message: &str| {
            if !fine {
                faults.push(Fault { at: at.to_owned(), message: message.to_owned() });
            }
        };
        require(json.schema == SCHEMA, "schema", "this program reads version 1 of the batch form");
        require(json.title.chars().count() <= LONGEST_TITLE, "title", "a title has at most 200 characters");
        require(json.notes.chars().count() <= LONGEST_NOTES, "notes", "notes have at most 20000 characters");
        require(
            (1..=MOST_LAYOUTS).contains(&json.layouts.len()),
            "layouts",
            "a batch is of 1 to 100 layouts",
        );
        require(json.papers.len() <= MOST_CHOICES, "papers", "at most 2000 papers are chosen for one batch");
        for (index, one) in json.layouts.iter().enumerate() {
            let at = format!("layouts[{index}]");
            require(
                (1..=MOST_CARDS).contains(&one.cards),
                &format!("{at}.cards"),
                "make 1 to 1000 cards of a layout",
            );
            let first = json.layouts[..index].iter().all(|other| other.layout != one.layout);
            require(
                first,
                &format!("{at}.layout"),
                "this layout is in the batch already: raise its number of cards",
            );
        }
        let mut choices: Vec<Choice> = Vec::new();
        for (index, one) in json.papers.iter().take(MOST_CHOICES).enumerate() {
            let at = format!("papers[{index}]");
            require(one.face < 2, &format!("{at}.face"), "a paper has face 0, and 1 where both can be shown");
            match one.supply.parse::<Supply>() {
                Err(error) => require(false, &format!("{at}.supply"), &error.to_string()),
                Ok(supply) => {
                    let first =
                        choices.iter().all(|other| (other.layout, other.supply) != (one.layout, supply));
                    require(first, &at, "a paper is chosen for this twice");
                    choices.push(Choice { layout: one.layout, supply, paper: one.paper, face: one.face });
                }
            }
        }
        let mut width = |at: &str, value: f64| {
            let length = Length::exact(value, json.unit, Step::Position);
            let message = match &length {
                Err(error) => Some(error.to_string()),
                Ok(length) if *length < Length::ZERO || *length > WIDEST => {
                    Some("it measures from nothing to an inch".to_owned())
                }
                Ok(_) => None,
            };
            if let Some(message) = message {
                require(false, at, &message);
            }
            length.unwrap_or(Length::ZERO)
        };
        let blade = width("cutting.blade", json.cutting.blade);
        let least_strip = width("cutting.least_strip", json.cutting.least_strip);
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        Ok(Batch {
            title: json.title,
            unit: json.unit,
            layouts: json.layouts.iter().map(|one| (one.layout, one.cards)).collect(),
            choices,
            cutting: Cutting {
                blade,
                least_strip,
                stages: match json.cutting.stages {
                    StagesJson::Two => Stages::Two,
                    StagesJson::Three => Stages::Three,
                    StagesJson::Free => Stages::Free,
                },
                bases: json.cutting.bases,
                middles: json.cutting.middles,
            },
            notes: json.notes,
        })
    }
}

impl From<&Batch> for BatchJson {
    fn from(batch: &Batch) -> BatchJson {
        let choice = |one: &Choice| ChoiceJson {
            layout: one.layout,
            supply: one.supply.to_string(),
            paper: one.paper,
            face: one.face,
        };
        BatchJson {
            schema: SCHEMA,
            title: batch.title.clone(),
            unit: batch.unit,
            layouts: batch.layouts.iter().map(|&(layout, cards)| CardsJson { layout, cards }).collect(),
            papers: batch.choices.iter().map(choice).collect(),
            cutting: CuttingJson {
                blade: batch.cutting.blade.value(batch.unit),
                least_strip: batch.cutting.least_strip.value(batch.unit),
                stages: match batch.cutting.stages {
                    Stages::Two => StagesJson::Two,
                    Stages::Three => StagesJson::Three,
                    Stages::Free => StagesJson::Free,
                },
                bases: batch.cutting.bases,
                middles: batch.cutting.middles,
            },
            notes: batch.notes.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn thursday() -> serde_json::Value {
        serde_json::json!({
            "schema": 1, "title": "Thursday round", "unit": "in",
            "layouts": [{"layout": 3, "cards": 4}, {"layout": 5, "cards": 8}],
            "papers": [{"layout": 3, "supply": "A", "paper": 7, "face": 1}],
            "cutting": {"blade": 0.0, "least_strip": 0.5, "stages": "3", "bases": true, "middles": false},
            "notes": ""
        })
    }

    fn read(json: serde_json::Value) -> Result<Batch, String> {
        let json: BatchJson = serde_json::from_value(json).map_err(|error| error.to_string())?;
        Batch::try_from(json).map_err(|faults| faults.to_string())
    }

    #[test]
    fn a_batch_round_trips() {
        let batch = read(thursday()).unwrap();
        assert_eq!(batch.cutting.least_strip, Length::eighths(4));
        assert_eq!(serde_json::to_value(BatchJson::from(&batch)).unwrap(), thursday());
        let short = read(serde_json::json!({"schema": 1, "layouts": [{"layout": 3}]})).unwrap();
        assert_eq!(short.layouts, [(3, 4)]);
    }

    #[test]
    fn every_fault_is_told() {
        let fault = |change: fn(&mut serde_json::Value)| {
            let mut json = thursday();
            change(&mut json);
            read(json).unwrap_err()
        };
        assert!(fault(|b| b["layouts"] = serde_json::json!([])).contains("1 to 100 layouts"));
        assert!(fault(|b| b["layouts"][1]["layout"] = 3.into()).contains("in the batch already"));
        assert!(fault(|b| b["layouts"][1]["cards"] = 0.into()).contains("layouts[1].cards"));
        assert!(fault(|b| b["papers"][0]["supply"] = "AB".into()).contains("papers[0].supply"));
        assert!(fault(|b| b["cutting"]["blade"] = 2.into()).contains("cutting.blade"));
        assert!(fault(|b| b["cutting"]["stages"] = "4".into()).contains("free"));
    }
}
