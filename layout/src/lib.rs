//! The vocabulary of card layouts: exact lengths, cards, elements, papers, the
//! records with their JSON forms and checks, and the measured drawing; what
//! lies on what, the pieces to cut, advice, assembly and envelope. No I/O, no
//! async, no image code.
//!
//! ```
//! use layout::Layout;
//!
//! let layout: Layout = serde_json::from_str(r#"{
//!     "schema": 1, "title": "Get well, with a strip", "unit": "in",
//!     "card": {"name": "A2", "width": 4.25, "height": 5.5},
//!     "elements": [{"id": 1, "shape": "rectangle",
//!                   "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25}]
//! }"#)?;
//! assert_eq!(layout.elements[0].frame.width.to_string(), "4");
//! # Ok::<(), serde_json::Error>(())
//! ```

mod advice;
mod assembly;
mod card;
mod check;
mod dimensions;
mod drawing;
mod element;
mod envelope;
mod hollow;
mod json;
mod length;
mod making;
mod measurement;
mod paper;
mod piece_forms;
mod pieces;
mod post;
mod record;
mod region;
mod stack;

pub use advice::{Advice, AdviceOptions, advise, background, capital};
pub use assembly::{CAUTIONS, Step as AssemblyStep, steps};
pub use card::{Card, CardError, Fold};
pub use check::{Fault, Faults};
pub use dimensions::{BADGE_EM, Dimension, Dimensions, Drawn, Edge, MOST_NAMED, Tracks};
pub use drawing::{DrawingOptions, PX_PER_IN, element_svg, escape, front, svg, tidy};
pub use element::{Alternative, Element, End, Ends, Frame, MarkKind, Role, Shape, Side, Slot};
pub use envelope::{Choice, Envelope, Thickness, envelope};
pub use hollow::{Margins, OwnFrame, hole, strips};
pub use json::{
    AlternativeJson, CaptureJson, CardJson, ElementJson, EndsJson, LabelJson, LayoutJson, MOST_ELEMENTS,
    SCHEMA, ShapeJson, schema,
};
pub use length::{Length, LengthError, Step, Unit, snap};
pub use making::{
    AdviceJson, AssemblyJson, EnvelopeJson, EnvelopeSizeJson, FindingJson, FindingKind, LayerJson, Making,
    MakingJson, PostJson, RectangleJson, ShimJson, StepJson,
};
pub use measurement::{Measurement, SizeReason};
pub use paper::{
    EdgesJson, Face, FaceJson, MOST_COUNT, Paper, PaperEdges, PaperJson, PaperKind, Pattern, Weight,
};
pub use piece_forms::{FinishJson, LeftOutJson, MarksJson, PieceJson, PiecesJson, ScoreJson, UseJson};
pub use pieces::{
    Allowances, LeftOut, MOST_CARDS, Marks, Piece, PieceOptions, Pieces, PiecesError, Score, Supply,
    SupplyError, Trim, Use,
};
pub use post::{CHECK_AGAIN, CHECKED, Class, Posted, classes};
pub use record::{Capture, Label, Layout};
pub use region::Region;
pub use stack::{Calipers, Height, Layer, MOST_LAYERS, Stack, TooDeep};
