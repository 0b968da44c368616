//! Checks against outside sources: a general-purpose vision library, the
//! sizes of standards and the trade's envelopes. Each value names its source:
//! *S* a standard known through a reference work that quotes it, *T* a trade
//! page, *CP* common practice, *C* computed by hand from the row before,
//! *M* measured by running the named package.

#![expect(clippy::unwrap_used, reason = "a test ends where it finds what it did not expect")]

use std::fs;
use std::path::Path;

use capture::geometry::Homography;
use capture::{Frame, Limits, NoTrace, Options, Photo};
use layout::{Card, Element, Layout, Length, Step, Unit, snap};
use serde_json::Value;

/// How far the reader's sides and corners may lie from the library's, pixels.
const AGREE_PX: f64 = 1.5;
/// The library counts from the first pixel's centre, the reader from its corner.
const FROM_CORNER_PX: f64 = 0.5;
/// How far its sizes may be off before they are on the grid, inches.
const AGREE_IN: f64 = 0.02;

/// M: opencv-python-headless 5.0.0.93 (Apache-2.0): findContours, fitLine,
/// minAreaRect, fitEllipse, getPerspectiveTransform; `outside/make_shapes.py`
/// tells how and measures again.
#[test]
fn rectangles_and_round_shapes_measure_as_a_vision_library_measures_them() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("outside");
    let fixture: Value = serde_json::from_slice(&fs::read(folder.join("shapes.json")).unwrap()).unwrap();
    assert_eq!(fixture["library"], "opencv-python-headless");
    let pictures = fixture["pictures"].as_array().unwrap();
    assert!(pictures.len() >= 6, "a fixture of {} pictures proves little", pictures.len());
    let mut faults = Vec::new();
    for entry in pictures {
        let name = entry["picture"].as_str().unwrap();
        let photo = Photo::decode(&fs::read(folder.join(name)).unwrap(), &Limits::default()).unwrap();
        let options = Options {
            card: entry["card"].as_str().unwrap().parse().unwrap(),
            frame: Frame::Outline,
            labels: true,
        };
        let layouts = capture::read(&photo, &options, &mut NoTrace).unwrap();
        match &layouts[..] {
            [layout] => {
                faults.extend(compare(layout, entry).into_iter().map(|fault| format!("{name}: {fault}")));
            }
            _ => faults.push(format!("{name}: {} layouts instead of one", layouts.len())),
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

/// What of a layout differs from the library's measures.
fn compare(layout: &Layout, entry: &Value) -> Vec<String> {
    let mut faults = Vec::new();
    let corners = layout.capture.as_ref().unwrap().card_corners_px;
    let library_corners = places_px(&entry["card_corners_px"]);
    far_apart("the card's corners", &flat(&corners), &flat(&library_corners), AGREE_PX, &mut faults);
    let [width, height] = layout.card.size_in();
    let card_in = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
    let to_inches = Homography::between(corners, card_in).unwrap();

    let shapes = entry["shapes"].as_array().unwrap();
    if shapes.len() != layout.elements.len() {
        faults.push(format!("{} elements instead of {}", layout.elements.len(), shapes.len()));
    }
    for shape in shapes {
        let word = shape["shape"].as_str().unwrap();
        let library = box_px(shape);
        // The element whose box is nearest.
        let apart = |element: &Element| {
            flat_box(&element.outline_px).iter().zip(library).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
        };
        let Some(element) = layout
            .elements
            .iter()
            .filter(|element| element.shape.word() == word)
            .min_by(|a, b| apart(a).total_cmp(&apart(b)))
        else {
            faults.push(format!("no {word}"));
            continue;
        };
        let size_in = numbers(&shape["size_in"]);
        let what = format!("the {word} of {:.3} x {:.3}", size_in[0], size_in[1]);
        let inches: Vec<[f64; 2]> = element.outline_px.iter().map(|p| to_inches.apply(*p)).collect();
        let read_in = if word == "rectangle" {
            let corners_px = places_px(&shape["corners_px"]);
            far_apart(&what, &flat(&element.outline_px), &flat(&corners_px), AGREE_PX, &mut faults);
            far_apart(&what, &sides(&element.outline_px), &sides(&corners_px), AGREE_PX, &mut faults);
            if let Some(least) = shape.get("least_rectangle_px") {
                let [across, down] = means(&sides(&element.outline_px));
                far_apart(&what, &[across, down], &numbers(least), AGREE_PX, &mut faults);
            }
            means(&sides(&inches))
        } else {
            far_apart(&what, &flat_box(&element.outline_px), &library, AGREE_PX, &mut faults);
            let [left, top, right, bottom] = flat_box(&inches);
            [right - left, bottom - top]
        };
        far_apart(&what, &read_in, &size_in, AGREE_IN, &mut faults);
        let on_grid = |inches: f64| snap(inches, Unit::Inch, Step::Size).unwrap().0;
        let read = [element.frame.width, element.frame.height];
        if read != [on_grid(size_in[0]), on_grid(size_in[1])] {
            faults.push(format!("{what}: settled at {} x {}", read[0], read[1]));
        }
    }
    faults
}

/// Adds a fault where two lists of numbers differ by more than `most`.
fn far_apart(what: &str, read: &[f64], library: &[f64], most: f64, faults: &mut Vec<String>) {
    let apart = read.iter().zip(library).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    if read.len() != library.len() || apart > most {
        faults.push(format!("{what}: {apart:.3} apart: read {read:.3?}, library {library:.3?}"));
    }
}

/// The upright box of a shape as the library has it: left, top, right, bottom.
fn box_px(shape: &Value) -> [f64; 4] {
    match shape.get("box_px") {
        Some(found) => {
            let sides: [f64; 4] = numbers(found).try_into().unwrap();
            sides.map(|side| side + FROM_CORNER_PX)
        }
        None => flat_box(&places_px(&shape["corners_px"])),
    }
}

fn flat_box(points: &[[f64; 2]]) -> [f64; 4] {
    let least = |axis: usize| points.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
    let most = |axis: usize| points.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
    [least(0), least(1), most(0), most(1)]
}

/// The four sides of a quad: top, right, bottom, left.
fn sides(quad: &[[f64; 2]]) -> Vec<f64> {
    (0..quad.len())
        .map(|i| {
            let ([x, y], [u, v]) = (quad[i], quad[(i + 1) % quad.len()]);
            (u - x).hypot(v - y)
        })
        .collect()
}

/// Width and height: the means of opposite sides.
fn means(sides: &[f64]) -> [f64; 2] {
    [f64::midpoint(sides[0], sides[2]), f64::midpoint(sides[1], sides[3])]
}

fn flat(points: &[[f64; 2]]) -> Vec<f64> {
    points.iter().flatten().copied().collect()
}

/// Places the library measured, as the reader counts pixels.
fn places_px(value: &Value) -> Vec<[f64; 2]> {
    let place = |p| -> [f64; 2] { numbers(p).try_into().unwrap() };
    value.as_array().unwrap().iter().map(|p| place(p).map(|v| v + FROM_CORNER_PX)).collect()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn card(name: &str) -> Card {
    name.parse().unwrap()
}

fn inches(text: &str) -> Length {
    text.parse().unwrap()
}

/// S: ISO 216:2007. A0 is 841 x 1189 mm; each size is the larger one cut in
/// half across its longer side, rounded down to the millimetre; A4 is
/// 210 x 297, A5 148 x 210, A6 105 x 148.
#[test]
fn iso_cards_are_what_halving_a_sheet_gives() {
    let halved = |times: u32| (0..times).fold([841, 1189], |[width, height], _| [height / 2, width]);
    assert_eq!(halved(4), [210, 297]);
    for (name, times, size_mm) in [("iso-a5", 5, [148, 210]), ("iso-a6", 6, [105, 148])] {
        assert_eq!(halved(times), size_mm);
        assert_eq!([card(name).width, card(name).height], size_mm.map(Length::millimetres), "{name}");
    }
}

/// S: ISO 269: the DL envelope takes A4 (210 x 297 mm) folded in thirds.
#[test]
fn the_dl_card_is_a_third_of_a4() {
    let dl = card("iso-dl");
    assert_eq!([dl.width, dl.height], [297 / 3, 210].map(Length::millimetres));
}

/// S: 1 in = 25.4 mm exactly (agreement of 1 July 1959; tables in NIST
/// Handbook 44, App. C). C: the sheets' sides in millimetres. S: ISO 216, A4.
#[test]
fn sheets_measure_the_same_in_both_systems() {
    assert_eq!(Length::inches(5), Length::millimetres(127));
    for (text, millimetres) in
        [("12", 304.8), ("6", 152.4), ("8 1/2", 215.9), ("11", 279.4), ("1/8", 3.175), ("1/16", 1.5875)]
    {
        let read = inches(text).value(Unit::Millimetre);
        assert!((read - millimetres).abs() < 1e-9, "{text} in is {read} mm");
    }
    // C: 210 mm rounds down to 8 1/4 in and 297 mm to 11 5/8 in, where the sheet's edge must not be passed.
    for (millimetres, fits) in [(210, "8 1/4"), (297, "11 5/8")] {
        let left = Length::millimetres(millimetres) - inches(fits);
        assert!(left >= Length::ZERO && left < Length::eighths(1), "{millimetres} mm leaves {left}");
    }
}

/// T: fronts and envelopes A1 to A10 and the No. 10 envelope, as envelope
/// makers' pages give them. CP: the slimline front. S: C5, C6 and DL of
/// ISO 269:1985.
#[test]
fn every_named_card_has_the_trades_size_and_goes_into_its_envelope() {
    let rows = [
        ("A1", ["3 1/2", "4 7/8"], ["3 5/8", "5 1/8"]),
        ("A2", ["4 1/4", "5 1/2"], ["4 3/8", "5 3/4"]),
        ("A6", ["4 1/2", "6 1/4"], ["4 3/4", "6 1/2"]),
        ("A7", ["5", "7"], ["5 1/4", "7 1/4"]),
        ("A8", ["5 1/4", "7 7/8"], ["5 1/2", "8 1/8"]),
        ("A9", ["5 1/2", "8 1/2"], ["5 3/4", "8 3/4"]),
        ("A10", ["5 3/4", "9 1/4"], ["6", "9 1/2"]),
        ("slimline", ["3 1/2", "8 1/2"], ["4 1/8", "9 1/2"]),
        ("iso-a5", ["148 mm", "210 mm"], ["162 mm", "229 mm"]),
        ("iso-a6", ["105 mm", "148 mm"], ["114 mm", "162 mm"]),
        ("iso-dl", ["99 mm", "210 mm"], ["110 mm", "220 mm"]),
    ];
    for (name, front, envelope) in rows {
        let card = card(name);
        assert_eq!([card.width, card.height], front.map(inches), "{name}");
        for (side, room) in [card.width, card.height].into_iter().zip(envelope.map(inches)) {
            // T, C: about a quarter all together; an eighth is the least, on the short side of A1 and A2.
            let clearance = room - side;
            assert!(clearance >= Length::eighths(1), "{name}: {clearance} of clearance");
            assert!(clearance <= Length::inches(1), "{name}: {clearance} of clearance, the card would slide");
        }
    }
    // CP: a square's envelope is made for the card, a quarter or half an inch over: no size to compare with.
    let without: Vec<String> =
        Card::table().map(|card| card.name).filter(|name| rows.iter().all(|row| row.0 != name)).collect();
    assert_eq!(without, ["square"]);
}
