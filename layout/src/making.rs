//! All that it takes to make cards of one layout, before any paper is chosen:
//! pieces, advice, steps, thickness, envelope and post. One call, and its JSON
//! form.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice::{Advice, AdviceOptions, advise};
use crate::assembly::{CAUTIONS, Step, steps};
use crate::element::{Frame, Shape};
use crate::envelope::{Choice, Envelope, Thickness, envelope};
use crate::length::Unit;
use crate::piece_forms::PiecesJson;
use crate::pieces::{PieceOptions, Pieces, PiecesError};
use crate::post::{CHECK_AGAIN, CHECKED, Class, Posted, classes};
use crate::record::Layout;
use crate::stack::{Height, Stack};

/// What it takes to make so many cards of a layout.
#[derive(Clone, Debug, PartialEq)]
pub struct Making {
    /// What is cut.
    pub pieces: Pieces,
    /// What lies on what; none for a layout that is too deep to look through.
    pub stack: Option<Stack>,
    /// What is worth knowing before the paper is cut.
    pub advice: Vec<Advice>,
    /// Why there is no advice, where there is none.
    pub no_advice: Option<String>,
    /// How one card is put together.
    pub steps: Vec<Step>,
    /// How thick a finished card is.
    pub thickness: Thickness,
    /// What it goes into; none for a card that needs a box.
    pub envelope: Option<Choice>,
    /// What post offices call it; empty without an envelope.
    pub post: Vec<Class>,
}

impl Making {
    /// Everything at once.
    pub fn of(layout: &Layout, pieces: &PieceOptions, advice: &AdviceOptions) -> Result<Making, PiecesError> {
        let calipers = advice.calipers;
        let pieces = Pieces::of(layout, pieces)?;
        let (stack, advice, no_advice) = match advise(layout, advice) {
            Ok((stack, advice)) => (Some(stack), advice, None),
            Err(too_deep) => (None, Vec::new(), Some(too_deep.to_string())),
        };
        let steps = steps(layout, &pieces, &advice);
        // Of a layout that is too deep every layer might lie on every other.
        let height = stack.as_ref().map_or_else(|| all_layers(layout), |stack| stack.height);
        let thickness = Thickness::of(height, calipers);
        let envelope = envelope(&layout.card, thickness.card_in);
        let has_marks = !pieces.marks.is_empty();
        let post = envelope.as_ref().map_or(Vec::new(), |choice| {
            classes(&Posted {
                length: choice.envelope.length,
                height: choice.envelope.height,
                thickness_in: thickness.posted_in,
                may_be_uneven: has_marks || height.foam > 0,
            })
        });
        Ok(Making { pieces, stack, advice, no_advice, steps, thickness, envelope, post })
    }
}

fn all_layers(layout: &Layout) -> Height {
    let papers = layout.elements.iter().filter(|element| !matches!(element.shape, Shape::Mark { .. }));
    papers.fold(Height::default(), |height, element| Height {
        layers: height.layers + 1 + u32::try_from(element.mats.len()).unwrap_or(u32::MAX),
        foam: height.foam + u32::from(element.raised),
    })
}

/// What it takes to make so many cards of a layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Making")]
pub struct MakingJson {
    /// What is cut.
    #[serde(flatten)]
    pub pieces: PiecesJson,
    /// What is worth knowing before the paper is cut.
    pub advice: AdviceJson,
    /// How one card is put together.
    pub assembly: AssemblyJson,
    /// What it goes into, and what post offices call it.
    pub envelope: EnvelopeJson,
}

/// What is worth knowing before the paper is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Advice")]
pub struct AdviceJson {
    /// Bottom of the stack first.
    pub findings: Vec<FindingJson>,
    /// What is seen of each layer, bottom first; marks left out.
    pub layers: Vec<LayerJson>,
    /// Why there is no advice; null where there is.
    pub problem: Option<String>,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Finding")]
pub struct FindingJson {
    /// What it is.
    pub kind: FindingKind,
    /// Id of the element that it is about; null for the whole card.
    pub element: Option<u32>,
    /// Which mat behind the element; null for the element.
    pub mat: Option<usize>,
    /// Id of the element that is covered; null for other findings.
    pub covers: Option<u32>,
    /// Rectangles, from the top-left corner of the piece as it is cut: the
    /// hole or the strips. A background is told from the card's corner.
    pub rectangles: Vec<RectangleJson>,
    /// The shim: layers of cardstock, and of foam, in so many places.
    pub shim: Option<ShimJson>,
    /// The same in a sentence or two.
    pub words: String,
}

/// What a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// Nothing of an element is seen.
    Unseen,
    /// A hidden middle that can be cut out.
    CutOut,
    /// Strips that do instead of a panel.
    Strips,
    /// An element that hangs over needs a shim.
    Shim,
    /// An element runs off the card.
    LeavesCard,
    /// A mat reaches over the card's edge.
    MatLeavesCard,
    /// A mat covers another element.
    MatCovers,
    /// A mat is not seen.
    MatUnseen,
    /// An even number of marks.
    EvenMarks,
    /// There is no background: this one would leave a border.
    Background,
}

/// A rectangle of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Rectangle")]
pub struct RectangleJson {
    /// From the left side.
    pub x: f64,
    /// From the top.
    pub y: f64,
    /// To the right.
    pub width: f64,
    /// Downwards.
    pub height: f64,
}

/// What fills a gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Shim")]
pub struct ShimJson {
    /// Layers of cardstock.
    pub layers: u32,
    /// Layers of foam.
    pub foam: u32,
    /// In how many places.
    pub places: usize,
}

/// What is seen of one layer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Layer")]
pub struct LayerJson {
    /// Id of the element.
    pub element: u32,
    /// Which mat behind the element; null for the element.
    pub mat: Option<usize>,
    /// Its area on the card in square inches.
    pub area_in2: f64,
    /// Share of that which is hidden, 0 to 1.
    pub hidden_share: f64,
}

/// How one card is put together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Assembly")]
pub struct AssemblyJson {
    /// First to last.
    pub steps: Vec<StepJson>,
    /// What to be careful with.
    pub cautions: Vec<String>,
}

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Step")]
pub struct StepJson {
    /// Its number, from 1.
    pub number: u32,
    /// Ids of the elements that it is about, bottom first.
    pub elements: Vec<u32>,
    /// What to do.
    pub words: String,
}

/// What a card goes into, how thick it is, and what post offices call it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Envelope")]
pub struct EnvelopeJson {
    /// The smallest that takes the card; null where it needs a box.
    pub fits: Option<EnvelopeSizeJson>,
    /// The next larger one, where the card is so thick that it may need it.
    pub larger: Option<EnvelopeSizeJson>,
    /// Thickness of the card in inches, marks not counted.
    pub card_thickness_in: f64,
    /// The same in its envelope.
    pub posted_thickness_in: f64,
    /// The same in sentences.
    pub words: Vec<String>,
    /// What post offices call it.
    pub post: Vec<PostJson>,
    /// When the limits were checked, and to check again.
    pub checked: String,
}

/// An envelope's size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "EnvelopeSize")]
pub struct EnvelopeSizeJson {
    /// What it is sold as.
    pub name: String,
    /// The unit of its sides.
    pub unit: Unit,
    /// Longer side.
    pub length: f64,
    /// Shorter side.
    pub height: f64,
}

/// What one post office calls it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "PostClass")]
pub struct PostJson {
    /// Whose limits.
    pub service: String,
    /// What it is called there.
    pub class: String,
    /// Why it is no better class.
    pub because: Vec<String>,
    /// What has to be looked at by hand.
    pub look_at: Vec<String>,
    /// Where the limits stand.
    pub source: String,
}

impl Making {
    /// The JSON form, with the layout it was made of.
    pub fn json(&self, layout: &Layout) -> MakingJson {
        let id = |index: usize| layout.elements[index].id;
        let layers = self.stack.iter().flat_map(|stack| &stack.layers);
        MakingJson {
            pieces: PiecesJson::from(&self.pieces),
            advice: AdviceJson {
                findings: self.advice.iter().map(|advice| finding(advice, layout)).collect(),
                layers: layers
                    .map(|layer| LayerJson {
                        element: id(layer.index),
                        mat: layer.mat,
                        area_in2: rounded(layer.region.area_in()),
                        hidden_share: rounded(layer.hidden_share()),
                    })
                    .collect(),
                problem: self.no_advice.clone(),
            },
            assembly: AssemblyJson {
                steps: (1..)
                    .zip(&self.steps)
                    .map(|(number, step)| StepJson {
                        number,
                        elements: step.elements.clone(),
                        words: step.words.clone(),
                    })
                    .collect(),
                cautions: CAUTIONS.map(str::to_owned).to_vec(),
            },
            envelope: EnvelopeJson {
                fits: self.envelope.as_ref().map(|choice| size_json(&choice.envelope)),
                larger: self.envelope.as_ref().and_then(|choice| choice.larger.as_ref()).map(size_json),
                card_thickness_in: rounded(self.thickness.card_in),
                posted_thickness_in: rounded(self.thickness.posted_in),
                words: self.envelope_words(layout),
                post: self.post.iter().map(post_json).collect(),
                checked: format!("Limits checked in {CHECKED}. {CHECK_AGAIN}"),
            },
        }
    }

    /// Envelope and thickness in sentences.
    pub fn envelope_words(&self, layout: &Layout) -> Vec<String> {
        let mut words = Vec::new();
        match &self.envelope {
            Some(choice) => {
                let unit = layout.card.unit;
                let [along, across] = choice.clearance.map(|room| room.show(unit));
                words.push(format!(
                    "Envelope {}, {}: it leaves {along} along the long side of the card and {across} along the short one{}.",
                    choice.envelope.name,
                    choice.envelope.size_words(),
                    if choice.is_loose { ", so the card slides: a made-to-measure envelope holds it better" } else { "" }
                ));
                if let Some(larger) = &choice.larger {
                    words.push(format!(
                        "The card is thick: if it is tight, take the next larger, {}, {}, or a box.",
                        larger.name,
                        larger.size_words()
                    ));
                }
            }
            None => {
                words.push("No usual envelope takes a card of this size: use a box, or make one.".to_owned());
            }
        }
        let Thickness { card_in, posted_in } = self.thickness;
        words.push(format!(
            "About {} thick at its highest place, {} in its envelope, marks not counted. Papers differ: measure a pile \
             of ten of yours.",
            thick_words(card_in),
            thick_words(posted_in)
        ));
        words
    }
}

/// `0.13 in (3.3 mm)`
fn thick_words(inches: f64) -> String {
    format!("{inches:.2} in ({:.1} mm)", inches * 25.4)
}

/// Four decimals: the areas of curves are good to as many.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

fn size_json(envelope: &Envelope) -> EnvelopeSizeJson {
    EnvelopeSizeJson {
        name: envelope.name.clone(),
        unit: envelope.unit,
        length: envelope.length.value(envelope.unit),
        height: envelope.height.value(envelope.unit),
    }
}

fn post_json(class: &Class) -> PostJson {
    PostJson {
        service: class.service.to_owned(),
        class: class.class.to_owned(),
        because: class.because.clone(),
        look_at: class.look_at.clone(),
        source: class.source.to_owned(),
    }
}

fn finding(advice: &Advice, layout: &Layout) -> FindingJson {
    let unit = layout.card.unit;
    let id = |index: usize| layout.elements[index].id;
    let rectangle = |frame: &Frame| {
        let [x, y, width, height] =
            [frame.x, frame.y, frame.width, frame.height].map(|length| length.value(unit));
        RectangleJson { x, y, width, height }
    };
    let mut json = FindingJson {
        kind: FindingKind::Unseen,
        element: advice.index().map(id),
        mat: None,
        covers: None,
        rectangles: Vec::new(),
        shim: None,
        words: advice.words(layout),
    };
    json.kind = match advice {
        Advice::Unseen { .. } => FindingKind::Unseen,
        Advice::CutOut { hole, .. } => {
            json.rectangles.push(rectangle(hole));
            FindingKind::CutOut
        }
        Advice::Strips { strips, .. } => {
            json.rectangles.extend(strips.iter().map(rectangle));
            FindingKind::Strips
        }
        Advice::Shim { places, gap, .. } => {
            json.shim = Some(ShimJson { layers: gap.layers, foam: gap.foam, places: *places });
            FindingKind::Shim
        }
        Advice::LeavesCard { .. } => FindingKind::LeavesCard,
        Advice::MatLeavesCard { mat, .. } => {
            json.mat = Some(*mat);
            FindingKind::MatLeavesCard
        }
        Advice::MatCovers { mat, other, .. } => {
            (json.mat, json.covers) = (Some(*mat), Some(id(*other)));
            FindingKind::MatCovers
        }
        Advice::MatUnseen { mat, .. } => {
            json.mat = Some(*mat);
            FindingKind::MatUnseen
        }
        Advice::EvenMarks { .. } => FindingKind::EvenMarks,
        Advice::Background { frame, .. } => {
            json.rectangles.push(rectangle(frame));
            FindingKind::Background
        }
    };
    json
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::{Element, MarkKind, Slot};
    use crate::length::Length;

    fn element(id: u32, shape: Shape, [x, y, width, height]: [i32; 4]) -> Element {
        let [x, y, width, height] = [x, y, width, height].map(Length::sixteenths);
        Element { slot: Slot::new('A'), ..Element::new(id, shape, Frame { x, y, width, height }) }
    }

    fn making(elements: Vec<Element>) -> (Layout, Making) {
        let layout = Layout { elements, ..Layout::new("", "A2".parse().unwrap()) };
        let (pieces, advice) = (PieceOptions::cards(4, Unit::Inch), AdviceOptions::usual(Unit::Inch));
        let making = Making::of(&layout, &pieces, &advice).unwrap();
        (layout, making)
    }

    /// Computed: folded base 2 x 0.012, two mats 0.024, foam 1/16, focal
    /// 0.012, envelope 2 x 0.0045: 0.1315 in = 3.34 mm.
    #[test]
    fn a_card_is_told_with_its_thickness_and_its_envelope() {
        let mut focal = element(3, Shape::SHARP, [20, 20, 24, 32]);
        focal.raised = true;
        let below = vec![element(1, Shape::SHARP, [2, 2, 64, 84]), element(2, Shape::SHARP, [4, 4, 60, 80])];
        let (layout, making) = making([below, vec![focal]].concat());
        let json = making.json(&layout);
        assert!((json.envelope.posted_thickness_in - 0.1315).abs() < 1e-9);
        assert_eq!(json.envelope.fits.as_ref().map(|fits| fits.name.as_str()), Some("A2"));
        assert!(
            json.envelope.words[0]
                .ends_with("1/4 along the long side of the card and 1/8 along the short one.")
        );
        assert!(json.envelope.words[1].contains("0.12 in (3.1 mm)"), "{:?}", json.envelope.words);
        assert!(json.envelope.post[0].look_at[0].contains("foam"));
        assert!(json.envelope.checked.ends_with("check with your post office."));
        let text = serde_json::to_string(&json).unwrap();
        assert_eq!(serde_json::from_str::<MakingJson>(&text).unwrap(), json);
    }

    #[test]
    fn a_layout_that_is_too_deep_still_has_its_pieces() {
        let mut elements: Vec<Element> =
            (1..=301).map(|id| element(id, Shape::SHARP, [4, 4, 4, 4])).collect();
        elements.push(element(400, Shape::Mark { kind: MarkKind::Dot }, [4, 4, 4, 4]));
        let (layout, making) = making(elements);
        let json = making.json(&layout);
        assert_eq!(json.pieces.pieces[1].count, 4 * 301);
        assert!(json.advice.problem.unwrap().starts_with("a layout of 301 layers is too deep"));
        assert_eq!(json.assembly.steps.len(), 304);
    }
}
