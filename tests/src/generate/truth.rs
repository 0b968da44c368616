//! The exact answer beside each picture, in the form that the scorers read.

use serde::Serialize;

use super::plane::Point;

/// The answer of one picture. Pixels are those of the picture as its EXIF
/// flag says to turn it; lengths are card inches.
#[derive(Debug, Serialize)]
pub struct Truth {
    pub(super) photo: String,
    pub(super) unit: &'static str,
    pub(super) profile: &'static str,
    pub(super) medium: &'static str,
    pub(super) style: &'static str,
    pub(super) drawing: &'static str,
    pub(super) neat: &'static str,
    pub(super) ruling: &'static str,
    pub(super) drawn_through: bool,
    pub(super) scan: bool,
    pub(super) effects: Vec<&'static str>,
    pub(super) tilt_deg: f64,
    pub(super) curl_in: f64,
    pub(super) width_px: usize,
    pub(super) height_px: usize,
    pub(super) noise: f64,
    pub(super) defocus_px: f64,
    pub(super) exif_orientation: u8,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) jpeg_quality: Option<u8>,
    pub(super) text_turned_deg: i32,
    pub(super) seed: u64,
    pub(super) number: u64,
    pub(super) layouts: Vec<TrueLayout>,
}

/// One card of the picture.
#[derive(Debug, Serialize)]
pub(super) struct TrueLayout {
    pub(super) unit: &'static str,
    pub(super) card: TrueCard,
    pub(super) orient: &'static str,
    pub(super) drawn_scale: f64,
    pub(super) edge_sd_in: f64,
    pub(super) card_edge: &'static str,
    pub(super) elements: Vec<TrueElement>,
    pub(super) marks: Vec<TrueMark>,
    pub(super) labels: Vec<TrueLabel>,
    pub(super) card_corners_px: Vec<Point>,
    pub(super) capture: TrueCapture,
}

/// The card's name and its size as drawn.
#[derive(Debug, Serialize)]
pub(super) struct TrueCard {
    pub(super) name: &'static str,
    pub(super) width: f64,
    pub(super) height: f64,
}

/// The corners once more, where the record has them.
#[derive(Debug, Serialize)]
pub(super) struct TrueCapture {
    pub(super) card_corners_px: Vec<Point>,
}

/// One shape: what was meant, and where the hand went.
#[derive(Debug, Serialize)]
pub(super) struct TrueElement {
    pub(super) shape: &'static str,
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) rotation: f64,
    pub(super) role: &'static str,
    pub(super) occlusion: f64,
    pub(super) drawn: Drawn,
    pub(super) outline_px: Vec<Point>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) mat: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) group: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) corner_radius: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) tail: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) kind: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) off_card: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) fill: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) pattern: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) outlined: Option<bool>,
}

/// The box where the hand really went, card inches.
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct Drawn {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

/// A mark's middle.
#[derive(Debug, Serialize)]
pub(super) struct TrueMark {
    pub(super) kind: &'static str,
    pub(super) x: f64,
    pub(super) y: f64,
}

/// Something written in or around the card.
#[derive(Debug, Serialize)]
pub(super) struct TrueLabel {
    pub(super) text: String,
    pub(super) kind: &'static str,
    pub(super) element: Option<usize>,
    pub(super) leader: bool,
    pub(super) dimension_line: bool,
    pub(super) box_px: Vec<Point>,
}

/// To a tenth of a pixel, or what `places` says.
pub(super) fn rounded(v: f64, places: i32) -> f64 {
    let scale = 10_f64.powi(places);
    (v * scale).round() / scale
}

/// A list of points with few digits.
pub(super) fn rounded_points(points: &[Point], places: i32) -> Vec<Point> {
    points.iter().map(|p| p.map(|v| rounded(v, places))).collect()
}
