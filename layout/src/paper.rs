//! What the maker owns: sheets, pads, strips and offcuts, with the two faces
//! that each of them can show.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::check::{Checker, Faults, LONGEST_TITLE};
use crate::length::{Length, NOTHING, Step, Unit};

/// The version of the JSON form of a paper.
const SCHEMA: u32 = 1;
/// Most sheets of one paper: far more than a drawer holds.
pub const MOST_COUNT: u32 = 10_000;
/// Longest name of a face or a colour, in characters.
const LONGEST_NAME: usize = 60;

/// Some sheets of one paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// What the maker calls it.
    pub name: String,
    /// What form it has.
    pub kind: PaperKind,
    /// The unit its sizes are given in.
    pub unit: Unit,
    /// Extent to the right, first face up.
    pub width: Length,
    /// Extent downwards.
    pub height: Length,
    /// How many sheets there are; for a pad, its sheets.
    pub count: u32,
    /// Paper or cardstock.
    pub weight: Weight,
    /// One face, or two where both can be shown.
    pub faces: Vec<Face>,
    /// Free words.
    pub notes: String,
    /// Short words to find it by.
    pub tags: Vec<String>,
    /// The paper it was cut from.
    pub cut_from: Option<i64>,
}

impl Paper {
    /// Whether sheets of the two papers are the same stuff, whatever their
    /// sizes: the same weight and faces.
    pub fn is_like(&self, other: &Paper) -> bool {
        let alike = |(one, other): (&Face, &Face)| Face { unusable: other.unusable, ..one.clone() } == *other;
        self.weight == other.weight
            && self.faces.len() == other.faces.len()
            && self.faces.iter().zip(&other.faces).all(alike)
    }

    /// Its size in words: `12 x 12`, `210 mm x 297 mm`.
    pub fn size_words(&self) -> String {
        format!("{} x {}", self.width.show(self.unit), self.height.show(self.unit))
    }
}

/// What form paper comes in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum PaperKind {
    /// Loose sheets.
    #[default]
    Sheet,
    /// Sheets glued to a pad.
    Pad,
    /// Long narrow leftovers.
    Strip,
    /// Leftovers of another form.
    Offcut,
}

impl PaperKind {
    /// Every kind with its word in the record.
    pub const WORDS: [(&'static str, PaperKind); 4] = [
        ("sheet", PaperKind::Sheet),
        ("pad", PaperKind::Pad),
        ("strip", PaperKind::Strip),
        ("offcut", PaperKind::Offcut),
    ];

    /// The kind's word in the record.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, kind)| *kind == self).map_or("sheet", |(word, _)| word)
    }

    /// What a leftover of this size is: a strip where it is at least four times as long as wide (common practice,
    /// no source).
    pub fn of_leftover(width: Length, height: Length) -> PaperKind {
        let (short, long) = if width < height { (width, height) } else { (height, width) };
        if short * 4 <= long { PaperKind::Strip } else { PaperKind::Offcut }
    }
}

/// Patterned paper is thin and mostly printed, cardstock heavy and mostly plain.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Weight {
    /// For panels and strips.
    #[default]
    Paper,
    /// For card bases and mats.
    Cardstock,
}

impl Weight {
    /// The weight's word in the record.
    pub const fn word(self) -> &'static str {
        match self {
            Weight::Paper => "paper",
            Weight::Cardstock => "cardstock",
        }
    }
}

/// How much goes on in a print.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Pattern {
    /// One colour.
    #[default]
    Plain,
    /// Small or tone-on-tone: looks well on narrow pieces.
    Quiet,
    /// Large or of many colours: wants a large piece.
    Busy,
}

impl Pattern {
    /// The pattern's word in the record.
    pub const fn word(self) -> &'static str {
        match self {
            Pattern::Plain => "plain",
            Pattern::Quiet => "quiet",
            Pattern::Busy => "busy",
        }
    }
}

/// One side of a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Face {
    /// What the print is called; empty for none.
    pub name: String,
    /// Its colour in words.
    pub colour: String,
    /// How much goes on in it.
    pub pattern: Pattern,
    /// Whether its print has an up, so that pieces are not turned.
    pub directional: bool,
    /// What of it cannot be used, seen with this face up and the sheet's height downwards.
    pub unusable: PaperEdges,
}

impl Face {
    /// What to call it: its name, else its colour and pattern.
    pub fn words(&self) -> String {
        match (self.name.trim(), self.colour.trim()) {
            ("", "") => self.pattern.word().to_owned(),
            ("", colour) => format!("{} {colour}", self.pattern.word()),
            (name, "") => name.to_owned(),
            (name, colour) if name.to_lowercase().contains(&colour.to_lowercase()) => name.to_owned(),
            (name, colour) => format!("{name}, {colour}"),
        }
    }
}

/// Widths along the sides of a face that no piece can be cut from: a printed
/// strip with the paper's name, a border.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PaperEdges {
    /// Along the left side.
    pub left: Length,
    /// Along the right side.
    pub right: Length,
    /// Along the top.
    pub top: Length,
    /// Along the bottom.
    pub bottom: Length,
}

/// A paper as JSON. Lengths are plain numbers in `unit`, on sixteenths of an
/// inch or half millimetres.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Paper")]
pub struct PaperJson {
    /// Version of this form: 1.
    pub schema: u32,
    /// What the maker calls it, 1 to 200 characters.
    pub name: String,
    /// What form it has.
    #[serde(default)]
    pub kind: PaperKind,
    /// The unit of every length in the record.
    #[serde(default)]
    pub unit: Unit,
    /// Extent to the right, first face up.
    pub width: f64,
    /// Extent downwards.
    pub height: f64,
    /// How many sheets there are, 0 to 10,000.
    pub count: u32,
    /// Paper or cardstock.
    #[serde(default)]
    pub weight: Weight,
    /// One face, or two where both can be shown; one plain face if left out.
    #[serde(default = "one_plain_face")]
    pub faces: Vec<FaceJson>,
    /// Free words.
    #[serde(default)]
    pub notes: String,
    /// Short words to find it by.
    #[serde(default)]
    pub tags: Vec<String>,
    /// The id of the paper that it was cut from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_from: Option<i64>,
}

/// One side of a sheet as JSON.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(title = "Face")]
pub struct FaceJson {
    /// What the print is called.
    pub name: String,
    /// Its colour in words.
    pub colour: String,
    /// How much goes on in it.
    pub pattern: Pattern,
    /// Whether its print has an up.
    pub directional: bool,
    /// Widths along its sides that cannot be used, seen with this face up.
    #[serde(skip_serializing_if = "EdgesJson::is_none")]
    pub unusable: EdgesJson,
}

/// Widths along the four sides of a face.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(title = "UnusableEdges")]
pub struct EdgesJson {
    /// Along the left side.
    pub left: f64,
    /// Along the right side.
    pub right: f64,
    /// Along the top.
    pub top: f64,
    /// Along the bottom.
    pub bottom: f64,
}

impl EdgesJson {
    fn is_none(&self) -> bool {
        *self == EdgesJson::default()
    }
}

fn one_plain_face() -> Vec<FaceJson> {
    vec![FaceJson::default()]
}

impl TryFrom<PaperJson> for Paper {
    type Error = Faults;

    fn try_from(json: PaperJson) -> Result<Paper, Faults> {
        let mut check = Checker::default();
        check.require(json.schema == SCHEMA, "schema", "this program reads version 1 of the paper form");
        check.require(!json.name.trim().is_empty(), "name", "give the paper a name to find it by");
        check.words("name", &json.name, LONGEST_TITLE);
        check.notes_and_tags(&json.notes, &json.tags);
        let mut side = |at: &str, value: f64| {
            check.require(value > NOTHING, at, "a side of a paper is longer than nothing");
            check.length(at, value, json.unit, Step::Position)
        };
        let [width, height] = [side("width", json.width), side("height", json.height)];
        check.require(json.count <= MOST_COUNT, "count", "at most 10000 sheets of one paper");
        check.require((1..=2).contains(&json.faces.len()), "faces", "a paper has one face to show, or two");
        let faces = json.faces.iter().take(2).enumerate();
        let faces = faces
            .map(|(index, face)| {
                face_from(face, &format!("faces[{index}]"), json.unit, [width, height], &mut check)
            })
            .collect();
        if !check.faults.is_empty() {
            return Err(Faults(check.faults));
        }
        Ok(Paper {
            name: json.name.trim().to_owned(),
            kind: json.kind,
            unit: json.unit,
            width,
            height,
            count: json.count,
            weight: json.weight,
            faces,
            notes: json.notes,
            tags: json.tags,
            cut_from: json.cut_from,
        })
    }
}

fn face_from(
    json: &FaceJson,
    at: &str,
    unit: Unit,
    [width, height]: [Length; 2],
    check: &mut Checker,
) -> Face {
    check.words(&format!("{at}.name"), &json.name, LONGEST_NAME);
    check.words(&format!("{at}.colour"), &json.colour, LONGEST_NAME);
    let mut edge = |side: &str, value: f64| {
        let at = format!("{at}.unusable.{side}");
        check.require(value >= 0.0, &at, "the width of an unusable edge is 0 or more");
        check.length(&at, value, unit, Step::Position)
    };
    let EdgesJson { left, right, top, bottom } = json.unusable;
    let unusable = PaperEdges {
        left: edge("left", left),
        right: edge("right", right),
        top: edge("top", top),
        bottom: edge("bottom", bottom),
    };
    // Of a side that is wrong itself nothing more is said.
    let sized = width.is_positive() && height.is_positive();
    check.require(
        !sized || (unusable.left + unusable.right < width && unusable.top + unusable.bottom < height),
        &format!("{at}.unusable"),
        "its unusable edges leave nothing of the paper",
    );
    Face {
        name: json.name.trim().to_owned(),
        colour: json.colour.trim().to_owned(),
        pattern: json.pattern,
        directional: json.directional,
        unusable,
    }
}

impl From<&Paper> for PaperJson {
    fn from(paper: &Paper) -> PaperJson {
        let value = |length: Length| length.value(paper.unit);
        let face = |face: &Face| FaceJson {
            name: face.name.clone(),
            colour: face.colour.clone(),
            pattern: face.pattern,
            directional: face.directional,
            unusable: EdgesJson {
                left: value(face.unusable.left),
                right: value(face.unusable.right),
                top: value(face.unusable.top),
                bottom: value(face.unusable.bottom),
            },
        };
        PaperJson {
            schema: SCHEMA,
            name: paper.name.clone(),
            kind: paper.kind,
            unit: paper.unit,
            width: value(paper.width),
            height: value(paper.height),
            count: paper.count,
            weight: paper.weight,
            faces: paper.faces.iter().map(face).collect(),
            notes: paper.notes.clone(),
            tags: paper.tags.clone(),
            cut_from: paper.cut_from,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ferns() -> serde_json::Value {
        serde_json::json!({
            "schema": 1, "name": "Ferns", "kind": "sheet", "unit": "in", "width": 12.0, "height": 12.25, "count": 6,
            "weight": "paper", "notes": "", "tags": ["spring"],
            "faces": [
                {"name": "Ferns", "colour": "green", "pattern": "busy", "directional": true,
                 "unusable": {"left": 0.0, "right": 0.0, "top": 0.0, "bottom": 0.25}},
                {"name": "", "colour": "cream", "pattern": "plain", "directional": false}
            ]
        })
    }

    fn read(json: serde_json::Value) -> Result<Paper, String> {
        let json: PaperJson = serde_json::from_value(json).map_err(|error| error.to_string())?;
        Paper::try_from(json).map_err(|faults| faults.to_string())
    }

    #[test]
    fn a_paper_round_trips() {
        let paper = read(ferns()).unwrap();
        assert_eq!(paper.size_words(), "12 x 12 1/4");
        assert_eq!(serde_json::to_value(PaperJson::from(&paper)).unwrap(), ferns());
    }

    #[test]
    fn a_size_in_millimetres_is_exact() {
        // ISO 216: A4 is 210 x 297 mm.
        let a4 = read(
            serde_json::json!({"schema": 1, "name": "Copier", "unit": "mm", "width": 210, "height": 297, "count": 3}),
        );
        assert_eq!(a4.unwrap().width, Length::millimetres(210));
    }

    #[test]
    fn every_fault_is_told() {
        let fault = |change: fn(&mut serde_json::Value)| {
            let mut json = ferns();
            change(&mut json);
            read(json).unwrap_err()
        };
        assert!(fault(|p| p["name"] = " ".into()).contains("name: give the paper a name"));
        assert!(fault(|p| p["width"] = 0.into()).contains("width: a side of a paper"));
        assert!(fault(|p| p["width"] = 1e-9.into()).contains("width: a side of a paper"));
        assert!(!fault(|p| p["width"] = 0.into()).contains("unusable"), "one fault is told once");
        assert!(fault(|p| p["width"] = 11.99.into()).contains("width: "));
        assert!(fault(|p| p["count"] = 10_001.into()).contains("count: "));
        assert!(fault(|p| p["faces"] = serde_json::json!([])).contains("faces: "));
        assert!(
            fault(|p| p["faces"][0]["unusable"]["bottom"] = 12.25.into()).contains("faces[0].unusable: ")
        );
        assert!(fault(|p| p["faces"][1]["pattern"] = "loud".into()).contains("quiet"));
    }

    #[test]
    fn offcuts_are_like_the_sheet_they_come_from() {
        let sheet = read(ferns()).unwrap();
        let mut offcut = Paper { width: Length::inches(3), kind: PaperKind::Offcut, ..sheet.clone() };
        offcut.faces[0].unusable = PaperEdges::default();
        assert!(sheet.is_like(&offcut));
        offcut.faces[1].colour = "white".to_owned();
        assert!(!sheet.is_like(&offcut));
    }

    #[test]
    fn a_long_leftover_is_a_strip() {
        let kind = |w, h| PaperKind::of_leftover(Length::eighths(w), Length::eighths(h));
        assert_eq!(
            [kind(96, 24), kind(24, 96), kind(25, 96)],
            [PaperKind::Strip, PaperKind::Strip, PaperKind::Offcut]
        );
    }
}
