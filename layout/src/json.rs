//! The layout record as JSON, and the checks that stand between the two:
//! one message per fault, each with the place it is at. The published JSON
//! Schema is generated from these types.

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::card::{Card, CardError, Fold};
use crate::check::{Checker, Faults, LONGEST_TITLE};
use crate::element::{Alternative, Element, End, Ends, Frame, MarkKind, Role, Shape, Side, Slot};
use crate::length::{Length, NOTHING, Step, Unit};
use crate::measurement::Measurement;
use crate::record::{Capture, Label, Layout};

/// The version of the record's JSON form that this program writes and reads.
pub const SCHEMA: u32 = 1;
/// The most elements a layout may have.
pub const MOST_ELEMENTS: usize = 500;
const MOST_OUTLINE_POINTS: usize = 2_000;
const MOST_LABELS: usize = 200;

/// A layout as JSON. Lengths are plain numbers in `unit`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Layout")]
pub struct LayoutJson {
    /// Version of this form: 1.
    pub schema: u32,
    /// What the maker calls it.
    #[serde(default)]
    pub title: String,
    /// The unit of every length in the record.
    #[serde(default)]
    pub unit: Unit,
    /// The front of the card.
    pub card: CardJson,
    /// Shapes, bottom of the stack first.
    #[serde(default)]
    pub elements: Vec<ElementJson>,
    /// Free words.
    #[serde(default)]
    pub notes: String,
    /// Short words to find it by.
    #[serde(default)]
    pub tags: Vec<String>,
    /// Where it was read from, if it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capture: Option<CaptureJson>,
}

/// A card front as JSON.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Card")]
pub struct CardJson {
    /// `A2`, `square-5`, `4x6` and the like.
    #[serde(default)]
    pub name: String,
    /// Width of the front.
    pub width: f64,
    /// Height of the front.
    pub height: f64,
    /// The edge that is folded.
    #[serde(default)]
    pub fold: Fold,
}

/// One shape as JSON.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Element")]
pub struct ElementJson {
    /// Its number in the layout, unique and positive.
    pub id: u32,
    /// What it is.
    pub shape: ShapeJson,
    /// Left side of the box before turning, from the card's left edge.
    pub x: f64,
    /// Top side of the box before turning, from the card's top edge.
    pub y: f64,
    /// Width of the box before turning.
    pub width: f64,
    /// Height of the box before turning.
    pub height: f64,
    /// Degrees clockwise about the centre.
    #[serde(default)]
    pub rotation: f64,
    /// Radius of a rectangle's corners.
    #[serde(default)]
    pub corner_radius: f64,
    /// Both ends of a banner; null for every other shape.
    #[serde(default)]
    pub ends: Option<EndsJson>,
    /// What a mark looks like; left out for every other shape.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<MarkKind>,
    /// What it does on the card.
    #[serde(default)]
    pub role: Role,
    /// The letter that stands for its paper.
    #[serde(default)]
    pub slot: Option<String>,
    /// What each mat adds to width and height, nearest mat first.
    #[serde(default)]
    pub mats: Vec<f64>,
    /// On foam adhesive.
    #[serde(default)]
    pub raised: bool,
    /// Probability that the element is on the drawing as given.
    #[serde(default = "certain")]
    pub confidence: f64,
    /// Sizes that the drawing supports nearly as well.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alternatives: Vec<AlternativeJson>,
    /// Its outline in the photo's upright pixels.
    #[serde(default)]
    pub outline_px: Vec<[f64; 2]>,
}

/// The two ends of a banner; an upright one has its top end at `left` and its
/// bottom end at `right`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Ends")]
pub struct EndsJson {
    /// Left end, or the top end of an upright banner.
    pub left: End,
    /// Right end, or the bottom end of an upright banner.
    pub right: End,
    /// How deep ends that are not straight are cut; if left out, half the
    /// banner's width, at most a third of its length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<f64>,
}

/// The word for an element's shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(title = "Shape")]
pub enum ShapeJson {
    /// A panel, square or strip.
    Rectangle,
    /// A circle.
    Circle,
    /// An ellipse.
    Oval,
    /// A strip whose ends are cut.
    Banner,
    /// A small embellishment.
    Mark,
}

impl From<Shape> for ShapeJson {
    fn from(shape: Shape) -> ShapeJson {
        match shape {
            Shape::Rectangle { .. } => ShapeJson::Rectangle,
            Shape::Circle => ShapeJson::Circle,
            Shape::Oval => ShapeJson::Oval,
            Shape::Banner { .. } => ShapeJson::Banner,
            Shape::Mark { .. } => ShapeJson::Mark,
        }
    }
}

/// Another size that a side could have, as JSON.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Alternative")]
pub struct AlternativeJson {
    /// Which side.
    pub side: Side,
    /// The other size.
    pub size: f64,
    /// Its probability.
    pub probability: f64,
}

/// How a layout was read, as JSON.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Capture")]
pub struct CaptureJson {
    /// The photo's name or id.
    #[serde(default)]
    pub photo: String,
    /// The card's corners in the photo's upright pixels: top-left, top-right,
    /// bottom-right, bottom-left.
    pub card_corners_px: [[f64; 2]; 4],
    /// What the reader should look at, in plain sentences.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// What is written on and around the card, as far as it was read.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labels: Vec<LabelJson>,
    /// The elements as they were measured, and why their sizes are what they
    /// are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measured: Vec<Measurement>,
}

/// A line of writing as JSON.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Label")]
pub struct LabelJson {
    /// What was read, as it would be typed.
    pub text: String,
    /// Its corners in the photo's upright pixels, first the top-left one of the
    /// writing as it is read, then clockwise.
    pub box_px: [[f64; 2]; 4],
    /// Id of the element it is about; null where it is about the card, or is no
    /// size.
    #[serde(default)]
    pub element: Option<u32>,
    /// The width that it gives.
    #[serde(default)]
    pub width: Option<f64>,
    /// The height that it gives.
    #[serde(default)]
    pub height: Option<f64>,
}

fn certain() -> f64 {
    1.0
}

impl TryFrom<LayoutJson> for Layout {
    type Error = Faults;

    fn try_from(json: LayoutJson) -> Result<Layout, Faults> {
        let mut check = Checker::default();
        check.require(json.schema == SCHEMA, "schema", "this program reads version 1 of the layout form");
        check.words("title", &json.title, LONGEST_TITLE);
        check.notes_and_tags(&json.notes, &json.tags);
        check.require(json.elements.len() <= MOST_ELEMENTS, "elements", "a layout has at most 500 elements");
        let card = card_from(&json.card, json.unit, &mut check);
        let mut elements = Vec::with_capacity(json.elements.len());
        for (index, element) in json.elements.iter().take(MOST_ELEMENTS).enumerate() {
            let at = format!("elements[{index}]");
            if json.elements[..index].iter().any(|other| other.id == element.id) {
                check.fault(&format!("{at}.id"), format!("the id {} is used twice", element.id));
            }
            elements.push(element_from(element, &at, json.unit, &mut check));
        }
        let capture = json.capture.map(|capture| {
            let fine = capture.card_corners_px.iter().flatten().all(|v| v.is_finite());
            check.require(fine, "capture.card_corners_px", "corners are four pairs of pixels");
            check.require(
                capture.labels.len() <= MOST_LABELS,
                "capture.labels",
                "a record has at most 200 labels",
            );
            let labels = capture.labels.iter().take(MOST_LABELS).enumerate();
            let labels = labels
                .map(|(index, label)| {
                    label_from(label, &format!("capture.labels[{index}]"), json.unit, &mut check)
                })
                .collect();
            check.require(
                capture.measured.len() <= MOST_ELEMENTS && capture.measured.iter().all(Measurement::is_sound),
                "capture.measured",
                "measured sides are numbers in order, shares are from 0 to 1; leave `measured` out if unsure",
            );
            Capture {
                photo: capture.photo,
                card_corners_px: capture.card_corners_px,
                warnings: capture.warnings,
                labels,
                measured: capture.measured,
            }
        });
        match card {
            Some(card) if check.faults.is_empty() => {
                Ok(Layout { title: json.title, card, elements, notes: json.notes, tags: json.tags, capture })
            }
            _ => Err(Faults(check.faults)),
        }
    }
}

/// An element that has gone since leaves its label behind, so ids are not
/// looked up.
fn label_from(json: &LabelJson, at: &str, unit: Unit, check: &mut Checker) -> Label {
    let place = |field: &str| format!("{at}.{field}");
    let fine = json.box_px.iter().flatten().all(|v| v.is_finite());
    check.require(fine, &place("box_px"), "corners are four pairs of pixels");
    check.words(&place("text"), &json.text, LONGEST_TITLE);
    let mut side = |field: &str, value: Option<f64>| {
        value.map(|value| {
            check.require(value > NOTHING, &place(field), "sizes are greater than zero");
            check.length(&place(field), value, unit, Step::Position)
        })
    };
    Label {
        text: json.text.clone(),
        box_px: json.box_px,
        element: json.element,
        width: side("width", json.width),
        height: side("height", json.height),
    }
}

fn label_to(label: &Label, unit: Unit) -> LabelJson {
    LabelJson {
        text: label.text.clone(),
        box_px: label.box_px,
        element: label.element,
        width: label.width.map(|width| width.value(unit)),
        height: label.height.map(|height| height.value(unit)),
    }
}

fn card_from(json: &CardJson, unit: Unit, check: &mut Checker) -> Option<Card> {
    let before = check.faults.len();
    let width = check.size("card.width", json.width, unit);
    let height = check.size("card.height", json.height, unit);
    if check.faults.len() > before {
        return None;
    }
    match Card::custom(width, height, unit) {
        Ok(card) => {
            if !json.name.is_empty() {
                match json.name.parse::<Card>() {
                    Ok(named) => check.require(
                        (named.upright().width, named.upright().height)
                            == (card.upright().width, card.upright().height),
                        "card.name",
                        "the name is of a card of another size",
                    ),
                    Err(CardError::Unknown(_)) => check
                        .fault("card.name", "use a known card's name, a size like 4x6, or leave it empty"),
                    Err(error) => check.fault("card.name", error.to_string()),
                }
            }
            Some(Card { fold: json.fold, ..card })
        }
        Err(error) => {
            check.fault("card", error.to_string());
            None
        }
    }
}

/// The ends of a banner of which nothing is said.
const FISHTAILED: Ends = Ends::new(End::Straight, End::Fishtail);

fn element_from(json: &ElementJson, at: &str, unit: Unit, check: &mut Checker) -> Element {
    let place = |field: &str| format!("{at}.{field}");
    check.require(json.id > 0, &place("id"), "ids start at 1");
    let frame = Frame {
        x: check.length(&place("x"), json.x, unit, Step::Position),
        y: check.length(&place("y"), json.y, unit, Step::Position),
        width: check.size(&place("width"), json.width, unit),
        height: check.size(&place("height"), json.height, unit),
    };
    check.require(
        json.rotation > -180.0 && json.rotation <= 180.0,
        &place("rotation"),
        "a rotation is over -180 and at most 180 degrees",
    );
    check.require(
        (0.0..=1.0).contains(&json.confidence),
        &place("confidence"),
        "a confidence is from 0 to 1",
    );
    let corner_radius = check.length(&place("corner_radius"), json.corner_radius, unit, Step::Position);
    let short_side = if frame.width < frame.height { frame.width } else { frame.height };
    check.require(
        corner_radius >= Length::ZERO && corner_radius + corner_radius <= short_side.abs(),
        &place("corner_radius"),
        "a corner radius is from 0 to half the shorter side",
    );
    check.require(
        json.corner_radius == 0.0 || json.shape == ShapeJson::Rectangle,
        &place("corner_radius"),
        "only a rectangle has a corner radius",
    );
    check.require(
        json.ends.is_none() || json.shape == ShapeJson::Banner,
        &place("ends"),
        "only a banner has ends",
    );
    let depth = json.ends.and_then(|ends| ends.depth).map(|depth| {
        let depth = check.length(&place("ends.depth"), depth, unit, Step::Position);
        check.require(depth > Length::ZERO, &place("ends.depth"), "ends are cut deeper than nothing");
        depth
    });
    check.require(
        json.kind.is_none() || json.shape == ShapeJson::Mark,
        &place("kind"),
        "only a mark has a kind",
    );
    check.require(
        json.shape != ShapeJson::Circle || frame.width == frame.height,
        &place("height"),
        "a circle is as high as wide; call it an oval",
    );
    let slot = json.slot.as_deref().and_then(|text| {
        let mut letters = text.chars();
        let slot = letters.next().and_then(Slot::new).filter(|_| letters.next().is_none());
        check.require(slot.is_some(), &place("slot"), "a slot is one letter from A to Z");
        slot
    });
    check.require(json.mats.len() <= 10, &place("mats"), "an element has at most 10 mats");
    let mats = json
        .mats
        .iter()
        .take(10)
        .enumerate()
        .map(|(i, &adds)| check.size(&format!("{at}.mats[{i}]"), adds, unit))
        .collect();
    check.require(
        json.outline_px.len() <= MOST_OUTLINE_POINTS
            && json.outline_px.iter().flatten().all(|v| v.is_finite()),
        &place("outline_px"),
        "an outline is at most 2000 pairs of pixels",
    );
    let alternatives = json
        .alternatives
        .iter()
        .take(20)
        .enumerate()
        .map(|(i, other)| Alternative {
            side: other.side,
            size: check.size(&format!("{at}.alternatives[{i}].size"), other.size, unit),
            probability: other.probability.clamp(0.0, 1.0),
        })
        .collect();
    Element {
        id: json.id,
        shape: match json.shape {
            ShapeJson::Rectangle => Shape::Rectangle { corner_radius },
            ShapeJson::Circle => Shape::Circle,
            ShapeJson::Oval => Shape::Oval,
            ShapeJson::Banner => Shape::Banner {
                ends: Ends { depth, ..json.ends.map_or(FISHTAILED, |ends| Ends::new(ends.left, ends.right)) },
            },
            ShapeJson::Mark => Shape::Mark { kind: json.kind.unwrap_or_default() },
        },
        frame,
        rotation_deg: json.rotation,
        role: json.role,
        slot,
        mats,
        raised: json.raised,
        confidence: json.confidence,
        alternatives,
        outline_px: json.outline_px.clone(),
    }
}

impl From<&Layout> for LayoutJson {
    fn from(layout: &Layout) -> LayoutJson {
        let unit = layout.card.unit;
        LayoutJson {
            schema: SCHEMA,
            title: layout.title.clone(),
            unit,
            card: CardJson {
                name: layout.card.name.clone(),
                width: layout.card.width.value(unit),
                height: layout.card.height.value(unit),
                fold: layout.card.fold,
            },
            elements: layout.elements.iter().map(|element| element_json(element, unit)).collect(),
            notes: layout.notes.clone(),
            tags: layout.tags.clone(),
            capture: layout.capture.as_ref().map(|capture| CaptureJson {
                photo: capture.photo.clone(),
                card_corners_px: capture.card_corners_px,
                warnings: capture.warnings.clone(),
                labels: capture.labels.iter().map(|label| label_to(label, unit)).collect(),
                measured: capture.measured.clone(),
            }),
        }
    }
}

fn element_json(element: &Element, unit: Unit) -> ElementJson {
    let (corner_radius, ends, kind) = match element.shape {
        Shape::Rectangle { corner_radius } => (corner_radius, None, None),
        Shape::Circle | Shape::Oval => (Length::ZERO, None, None),
        Shape::Banner { ends: Ends { left, right, depth } } => {
            let ends = EndsJson { left, right, depth: depth.map(|depth| depth.value(unit)) };
            (Length::ZERO, Some(ends), None)
        }
        Shape::Mark { kind } => (Length::ZERO, None, Some(kind)),
    };
    ElementJson {
        id: element.id,
        shape: element.shape.into(),
        x: element.frame.x.value(unit),
        y: element.frame.y.value(unit),
        width: element.frame.width.value(unit),
        height: element.frame.height.value(unit),
        rotation: element.rotation_deg,
        corner_radius: corner_radius.value(unit),
        ends,
        kind,
        role: element.role,
        slot: element.slot.map(|slot| slot.letter().to_string()),
        mats: element.mats.iter().map(|mat| mat.value(unit)).collect(),
        raised: element.raised,
        confidence: element.confidence,
        alternatives: element
            .alternatives
            .iter()
            .map(|other| AlternativeJson {
                side: other.side,
                size: other.size.value(unit),
                probability: other.probability,
            })
            .collect(),
        outline_px: element.outline_px.clone(),
    }
}

impl Serialize for Layout {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        LayoutJson::from(self).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Layout {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Layout, D::Error> {
        Layout::try_from(LayoutJson::deserialize(deserializer)?).map_err(serde::de::Error::custom)
    }
}

/// The published JSON Schema of the record, generated from these types.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(LayoutJson)
}
