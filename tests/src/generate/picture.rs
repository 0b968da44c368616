//! One picture from an order: plan, layouts, page, camera, drawing, light,
//! file.

use image::{ExtendedColorType, ImageEncoder, codecs};

use super::camera::{Camera, Curl, Pose};
use super::canvas::{Canvas, Colour, hex};
use super::compose::{Pattern, Shape, hidden_share, off_card};
use super::dice::Dice;
use super::light::expose;
use super::plane::{Point, bounds, turned};
use super::profile::{Medium, Order, Plan, Tool, plan};
use super::scene::{Binding, Desk, Page, Ruling, desk, page as paint_page, page_shadow};
use super::sheet::{Sheet, sheet};
use super::spoil::take;
use super::strokes::{Held, draw_sheet, ghost, ink_colour, nib};
use super::text::{Face, width as text_width};
use super::truth::{
    Drawn, TrueCapture, TrueCard, TrueElement, TrueLabel, TrueLayout, TrueMark, Truth, rounded,
    rounded_points,
};
use super::words::face_of;

/// A picture file and its answer.
#[derive(Debug)]
pub struct Picture {
    /// The file's bytes.
    pub bytes: Vec<u8>,
    /// `jpg` or `png`.
    pub extension: &'static str,
    /// The exact answer; `photo` in it is the file's name.
    pub truth: Truth,
}

/// Makes one picture.
pub fn picture(order: &Order) -> Picture {
    // Profiles of one seed and number are different pictures.
    let mut dice = Dice::new(order.seed, order.number ^ (order.profile as u64) << 48);
    let dice = &mut dice;
    let plan = plan(dice, order);
    let (page, places, scale) = lay_out(dice, &plan);
    let mut sheets: Vec<Sheet> =
        places.iter().map(|&origin| sheet(dice, order, &plan, origin, scale)).collect();
    let curl = curl(dice, order, &plan, &page);
    let (camera, size) = aim(dice, face_of(&plan, order), &plan, &page, &sheets, curl);
    let mut canvas = Canvas::new(size[0], size[1], [0.97; 3]);
    lay_page(dice, &mut canvas, &camera, &page, &plan);
    let mut labels = Vec::new();
    let mut held = Held {
        half_in: nib(dice, &plan, order),
        colour: ink_colour(dice, &plan),
        face: face_of(&plan, order),
    };
    for sheet in &mut sheets {
        if dice.chance(0.06) {
            // Another pen was nearer.
            held.colour = ink_colour(dice, &plan);
        }
        if plan.effects.contains(&"show-through") || plan.effects.contains(&"rubbed-out") {
            ghost(dice, &mut canvas, &camera, &plan, sheet, held);
        }
        labels.push(draw_sheet(dice, &mut canvas, &camera, &plan, sheet, held));
    }
    take(dice, order, &plan, &mut canvas, &camera, &page, &sheets);
    let grey = plan.medium == Medium::Scan && !plan.filled && dice.chance(0.3);
    let bytes = expose(dice, &canvas, plan.noise, grey);
    let (bytes, extension) = encode(&plan, &bytes, size);
    let layouts =
        sheets.iter().zip(labels).map(|(sheet, labels)| answer(&plan, sheet, labels, &camera)).collect();
    let truth = Truth {
        photo: format!("{:03}.{extension}", order.number),
        unit: "in",
        profile: order.profile.word(),
        medium: plan.medium.word(),
        style: plan.tool.word(),
        drawing: match plan.tool {
            Tool::Print if plan.filled => "fill",
            Tool::Print => "line",
            tool => tool.word(),
        },
        neat: plan.neat,
        ruling: plan.ruling.word(),
        drawn_through: plan.drawn_through,
        scan: plan.medium != Medium::Photo,
        effects: plan.effects.clone(),
        tilt_deg: rounded(plan.pose.tilt_deg, 1),
        curl_in: rounded(curl.rise, 3),
        width_px: size[0],
        height_px: size[1],
        noise: rounded(plan.noise, 1),
        defocus_px: rounded(plan.defocus, 2),
        exif_orientation: plan.exif,
        jpeg_quality: plan.jpeg_quality,
        text_turned_deg: 0,
        seed: order.seed,
        number: order.number,
        layouts,
    };
    Picture { bytes, extension, truth }
}

/// Chooses a page, and where on it the cards are drawn: their top-left
/// corners (page inches) and their scale.
fn lay_out(dice: &mut Dice, plan: &Plan) -> (Page, Vec<Point>, f64) {
    let card = &plan.card;
    let notebook = plan.count > 1 || plan.ruling != Ruling::Plain;
    let colour: Colour = if plan.medium == Medium::Screen {
        *dice.pick(&[[1.0, 1.0, 1.0], [0.97, 0.97, 0.96], [0.86, 0.88, 0.91]])
    } else {
        *dice.pick(&[[0.95, 0.95, 0.94], [0.96, 0.95, 0.92], [0.93, 0.93, 0.93], [0.97, 0.96, 0.9]])
    };
    if plan.paper_card {
        let scale = *dice.pick(&[1.0, 1.0, 0.9]);
        let page = Page {
            width: card.width * scale,
            height: card.height * scale,
            colour,
            ruling: plan.ruling,
            binding: Binding::Loose,
        };
        return (page, vec![[0.0, 0.0]], scale);
    }
    let sizes: &[(f64, f64)] = if notebook {
        // Letter, A4, A5 and the 6 x 9 spiral book.
        &[(8.5, 11.0), (8.27, 11.69), (5.83, 8.27), (6.0, 9.0)]
    } else {
        &[(8.5, 11.0), (8.5, 11.0), (8.27, 11.69)]
    };
    let &(short, long) = dice.pick(sizes);
    let lying = if plan.count == 1 {
        card.width > card.height && dice.chance(0.5)
    } else {
        plan.count == 2 && dice.chance(0.5)
    };
    let (width, height) = if lying { (long, short) } else { (short, long) };
    let binding = if notebook && dice.chance(0.45) {
        *dice.pick(&[Binding::SpiralLeft, Binding::SpiralTop])
    } else {
        Binding::Loose
    };
    let page = Page { width, height, colour, ruling: plan.ruling, binding };
    // The grid of places that leaves the cards largest.
    let count = plan.count;
    let room = [width - 1.3, height - 1.4];
    let gap = if count > 1 { 0.55 } else { 0.0 };
    let (mut best, mut columns) = (0.0, 1);
    for across in 1..=count {
        let down = count.div_ceil(across);
        let fit = |space: f64, number: usize, side: f64| {
            (space - gap * (number as f64 - 1.0)) / number as f64 / side
        };
        let scale = fit(room[0], across, card.width).min(fit(room[1], down, card.height));
        if scale > best {
            (best, columns) = (scale, across);
        }
    }
    let wanted = if count > 1 { dice.range(0.82, 1.0) * best } else { dice.range(0.65, 1.2) };
    let scale = wanted.min(best).max(0.2);
    let rows = count.div_ceil(columns);
    let (w, h) = (card.width * scale, card.height * scale);
    let spare = [
        room[0] - w * columns as f64 - gap * (columns - 1) as f64,
        room[1] - h * rows as f64 - gap * (rows - 1) as f64,
    ];
    // Makers keep drawings together rather than spread them over the page.
    let spread = |spare: f64, number: usize| {
        if number > 1 { (spare / (number - 1) as f64).min(0.35) + gap } else { 0.0 }
    };
    let mut places = Vec::new();
    for k in 0..count {
        let (column, row) = ((k % columns) as f64, (k / columns) as f64);
        let wander = |dice: &mut Dice, spare: f64, number: usize| {
            if number == 1 { spare * dice.range(0.25, 0.75) } else { dice.steady(0.05) }
        };
        places.push([
            0.8 + column * (w + spread(spare[0], columns)) + wander(dice, spare[0], columns),
            0.75 + row * (h + spread(spare[1], rows)) + wander(dice, spare[1], rows),
        ]);
    }
    (page, places, rounded(scale, 4))
}

fn curl(dice: &mut Dice, order: &Order, plan: &Plan, page: &Page) -> Curl {
    if plan.medium != Medium::Photo || plan.paper_card || order.easy || !dice.chance(0.3) {
        return Curl::default();
    }
    let axis = dice.index(2);
    let reach = if axis == 0 { page.width } else { page.height };
    Curl { axis, spine: 0.0, reach, rise: dice.range(0.05, 0.2) }
}

/// Points the camera at the cards.
fn aim(
    dice: &mut Dice,
    face: Face,
    plan: &Plan,
    page: &Page,
    sheets: &[Sheet],
    curl: Curl,
) -> (Camera, [usize; 2]) {
    let corners: Vec<Point> = sheets
        .iter()
        .flat_map(|sheet| plan.card.outline().into_iter().map(|p| sheet.to_page(p)).collect::<Vec<_>>())
        .collect();
    if plan.medium == Medium::Photo {
        // Words round the card are in the picture too.
        let mut subject = corners.clone();
        for sheet in sheets {
            for label in
                sheet.labels.iter().filter(|label| label.element.is_none() || !label.lines.is_empty())
            {
                let half = text_width(face, &label.text) * label.height / 2.0;
                let way = turned([half, 0.0], [0.0, 0.0], label.turn_deg);
                let [x, y] = label.middle;
                subject
                    .extend([[x - way[0], y - way[1]], [x + way[0], y + way[1]]].map(|p| sheet.to_page(p)));
            }
        }
        let corners = subject;
        let (low, high) = bounds(&corners);
        let target = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
        let fill = if plan.paper_card {
            dice.range(0.55, 0.8)
        } else if plan.count > 1 {
            dice.range(0.72, 0.9)
        } else {
            dice.range(0.5, 0.85)
        };
        let slack = (1.0 - fill) * 0.3;
        let shift = [dice.range(-slack, slack), dice.range(-slack, slack)];
        let pose = Pose { target, ..plan.pose };
        let size = [plan.size[0] as f64, plan.size[1] as f64];
        return (Camera::photo(pose, curl, size, &corners, fill, shift), plan.size);
    }
    // The glass shows the page; a screen shows the card and a little more.
    let long = plan.size[0].max(plan.size[1]) as f64;
    if plan.medium == Medium::Screen {
        let (low, high) = bounds(&corners);
        let rim = dice.range(0.05, 0.3) * (high[0] - low[0]);
        let size = [high[0] - low[0] + 2.0 * rim, high[1] - low[1] + 2.0 * rim];
        let px = dice.range(500.0, 1100.0).min(long) / size[0].max(size[1]);
        let whole = size.map(|v| super::canvas::pixel((v * px).ceil(), 6000));
        return (Camera::scanner(px, 0.0, [(rim - low[0]) * px, (rim - low[1]) * px]), whole);
    }
    let dpi = long / page.width.max(page.height);
    let size = [page.width, page.height].map(|v| super::canvas::pixel(v * dpi, 6000));
    let turn = dice.steady(0.7);
    (Camera::scanner(dpi, turn, [dice.range(-0.04, 0.04) * dpi, dice.range(-0.04, 0.04) * dpi]), size)
}

fn lay_page(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page, plan: &Plan) {
    let outline: Vec<Point> = page.outline().iter().map(|&p| camera.project(p)).collect();
    if plan.medium == Medium::Photo {
        let mask = canvas.mask(&[outline]);
        let kind = Desk::any(dice);
        desk(dice, canvas, camera, kind, &mask);
        page_shadow(dice, canvas, camera, page);
        paint_page(dice, canvas, camera, page, &mask);
    } else {
        // The lid of a scanner is white; a screen goes on past the page.
        let size = [canvas.width as f64, canvas.height as f64];
        let all = [[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]];
        let mask = canvas.mask(&[all.to_vec()]);
        paint_page(dice, canvas, camera, page, &mask);
    }
}

/// The file's bytes: pixels turned as the EXIF flag undoes, and the flag.
fn encode(plan: &Plan, bytes: &[u8], size: [usize; 2]) -> (Vec<u8>, &'static str) {
    let side = |v: usize| u32::try_from(v).expect("a picture's side fits 32 bits");
    let upright = image::RgbImage::from_raw(side(size[0]), side(size[1]), bytes.to_vec())
        .expect("three bytes were written for each pixel");
    // Flag 6 says "turn a quarter clockwise to see it": store it turned back.
    let stored = match plan.exif {
        3 => image::imageops::rotate180(&upright),
        6 => image::imageops::rotate270(&upright),
        8 => image::imageops::rotate90(&upright),
        _ => upright,
    };
    let mut file = Vec::new();
    let (width, height) = stored.dimensions();
    if let Some(quality) = plan.jpeg_quality {
        let mut encoder = codecs::jpeg::JpegEncoder::new_with_quality(&mut file, quality);
        encoder.set_exif_metadata(exif(plan.exif)).expect("a JPEG holds EXIF");
        encoder.write_image(&stored, width, height, ExtendedColorType::Rgb8).expect("memory takes any file");
        (file, "jpg")
    } else {
        codecs::png::PngEncoder::new(&mut file)
            .write_image(&stored, width, height, ExtendedColorType::Rgb8)
            .expect("memory takes any file");
        (file, "png")
    }
}

/// An EXIF block with nothing but the orientation: a TIFF header (TIFF 6.0)
/// and one directory entry, tag 0x0112 of type SHORT.
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    block.extend([orientation, 0, 0, 0, 0, 0, 0, 0]);
    block
}

/// The exact answer of one layout.
fn answer(plan: &Plan, sheet: &Sheet, boxes: Vec<Vec<Point>>, camera: &Camera) -> TrueLayout {
    let card = &plan.card;
    let project = |p: Point| camera.project(sheet.to_page(p));
    let px = |points: &[Point], places: i32| -> Vec<Point> {
        let projected: Vec<Point> = points.iter().map(|&p| project(p)).collect();
        rounded_points(&projected, places)
    };
    let corners = px(&card.outline(), 2);
    let elements: Vec<TrueElement> = sheet
        .parts
        .iter()
        .enumerate()
        .map(|(index, part)| {
            let frame = part.frame;
            let drawn = sheet.drawn[index].frame;
            let off = rounded(off_card(part, card), 3);
            TrueElement {
                shape: part.shape.word(),
                x: frame.x,
                y: frame.y,
                width: frame.width,
                height: frame.height,
                rotation: part.rotation,
                role: part.role,
                occlusion: rounded(hidden_share(&sheet.parts, index, card), 3),
                drawn: Drawn {
                    x: rounded(drawn.x, 4),
                    y: rounded(drawn.y, 4),
                    width: rounded(drawn.width, 4),
                    height: rounded(drawn.height, 4),
                },
                outline_px: px(&part.outline(), 1),
                mat: part.mat,
                group: part.group,
                corner_radius: match part.shape {
                    Shape::Rectangle { corner_radius } if corner_radius > 0.0 => Some(corner_radius),
                    _ => None,
                },
                tail: if let Shape::Banner { tail } = part.shape { Some(tail.word()) } else { None },
                kind: if let Shape::Mark { kind } = part.shape { Some(kind.word()) } else { None },
                off_card: (off > 0.0).then_some(off),
                fill: if plan.filled { part.fill.map(hex) } else { None },
                pattern: part.pattern.map(Pattern::word),
                outlined: plan.filled.then_some(part.outlined),
            }
        })
        .collect();
    let marks = sheet
        .parts
        .iter()
        .filter_map(|part| match part.shape {
            Shape::Mark { kind } => {
                let at = part.frame.centre();
                Some(TrueMark { kind: kind.word(), x: at[0], y: at[1] })
            }
            _ => None,
        })
        .collect();
    let labels = sheet
        .labels
        .iter()
        .zip(boxes)
        .map(|(label, corners)| TrueLabel {
            text: label.text.clone(),
            kind: label.kind,
            element: label.element,
            leader: label.element.is_some() && !label.lines.is_empty(),
            dimension_line: label.element.is_none() && !label.lines.is_empty(),
            box_px: rounded_points(&corners, 1),
        })
        .collect();
    TrueLayout {
        unit: "in",
        card: TrueCard { name: card.name, width: card.width, height: card.height },
        orient: card.orient(),
        drawn_scale: sheet.scale,
        edge_sd_in: rounded(plan.hand.sd, 4),
        card_edge: sheet.edge.word(),
        elements,
        marks,
        labels,
        capture: TrueCapture { card_corners_px: corners.clone() },
        card_corners_px: corners,
    }
}

#[cfg(test)]
mod tests {
    use layout::{Layout, LayoutJson};
    use serde_json::{Value, json};

    use super::super::plane::{closed, dense, distance};
    use super::super::profile::Profile;
    use super::*;

    fn small(profile: Profile, seed: u64, number: u64) -> Order {
        Order { long_side: Some(900), ..Order::new(profile, seed, number) }
    }

    fn upright(picture: &Picture) -> image::GrayImage {
        let stored = image::load_from_memory(&picture.bytes).unwrap().to_luma8();
        match picture.truth.exif_orientation {
            3 => image::imageops::rotate180(&stored),
            6 => image::imageops::rotate90(&stored),
            8 => image::imageops::rotate270(&stored),
            _ => stored,
        }
    }

    /// The darkest of the pixels within `reach` of a point.
    fn darkest(picture: &image::GrayImage, at: Point, reach: i32) -> u8 {
        let mut dark = 255;
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                let near = [at[0] + f64::from(dx), at[1] + f64::from(dy)];
                if near[0] >= 0.0 && near[1] >= 0.0 {
                    let (x, y) = (
                        super::super::canvas::pixel(near[0], 9000),
                        super::super::canvas::pixel(near[1], 9000),
                    );
                    if let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y))
                        && x < picture.width()
                        && y < picture.height()
                    {
                        dark = dark.min(picture.get_pixel(x, y)[0]);
                    }
                }
            }
        }
        dark
    }

    /// Share of an outline's points on which the picture is darker than a
    /// few pixels to both sides of it.
    fn inked(picture: &image::GrayImage, outline: &[Point]) -> f64 {
        let line = dense(&closed(outline), 4.0);
        let hits = line
            .windows(2)
            .filter(|pair| {
                let length = distance(pair[0], pair[1]).max(1e-9);
                let normal = [(pair[1][1] - pair[0][1]) / length, (pair[0][0] - pair[1][0]) / length];
                let middle = super::super::plane::between(pair[0], pair[1], 0.5);
                let beside = |way: f64| [middle[0] + way * normal[0], middle[1] + way * normal[1]];
                let paper = darkest(picture, beside(5.0), 0).max(darkest(picture, beside(-5.0), 0));
                f64::from(darkest(picture, middle, 1)) < f64::from(paper) - 25.0
            })
            .count();
        hits as f64 / (line.len() - 1).max(1) as f64
    }

    #[test]
    fn printed_lines_lie_where_the_answer_says() {
        for number in 1..=4 {
            for profile in [Profile::PrintScan, Profile::PrintPhoto] {
                let order = Order { easy: true, long_side: Some(1600), ..Order::new(profile, 11, number) };
                let made = picture(&order);
                let seen = upright(&made);
                for layout in &made.truth.layouts {
                    let card = inked(&seen, &layout.card_corners_px);
                    assert!(card > 0.9, "{profile:?} {number}: card outline inked to {card}");
                    for element in layout.elements.iter().filter(|element| element.occlusion == 0.0) {
                        let share = inked(&seen, &element.outline_px);
                        assert!(share > 0.75, "{profile:?} {number}: {} inked to {share}", element.shape);
                    }
                }
            }
        }
    }

    #[test]
    fn an_outline_moved_by_a_few_pixels_is_not_on_ink() {
        let order = Order { easy: true, long_side: Some(1600), ..Order::new(Profile::PrintScan, 11, 1) };
        let made = picture(&order);
        let moved: Vec<Point> =
            made.truth.layouts[0].card_corners_px.iter().map(|p| [p[0] + 9.0, p[1] + 9.0]).collect();
        assert!(inked(&upright(&made), &moved) < 0.3);
    }

    #[test]
    fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
        for profile in Profile::ALL {
            let (first, again) = (picture(&small(profile, 5, 2)), picture(&small(profile, 5, 2)));
            assert!(first.bytes == again.bytes, "{profile:?}");
            assert_eq!(
                serde_json::to_string(&first.truth).unwrap(),
                serde_json::to_string(&again.truth).unwrap()
            );
            assert!(first.bytes != picture(&small(profile, 6, 2)).bytes, "{profile:?}");
        }
    }

    /// The record that an answer describes.
    fn record(layout: &Value) -> LayoutJson {
        let elements: Vec<Value> = layout["elements"]
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
            .map(|(index, element)| {
                let role = match element["role"].as_str().unwrap() {
                    "background-mat" | "mat" => "mat",
                    "square" => "panel",
                    "banner" => "sentiment",
                    "mark" => "embellishment",
                    role => role,
                };
                let ends = match element.get("tail").and_then(Value::as_str) {
                    Some("left" | "up") => json!({"left": "fishtail", "right": "straight"}),
                    Some(_) => json!({"left": "straight", "right": "fishtail"}),
                    None => Value::Null,
                };
                let mut out = json!({
                    "id": index + 1, "shape": element["shape"], "x": element["x"], "y": element["y"],
                    "width": element["width"], "height": element["height"], "rotation": element["rotation"],
                    "ends": ends, "role": role, "outline_px": element["outline_px"],
                });
                for field in ["corner_radius", "kind"] {
                    if let Some(value) = element.get(field) {
                        out[field] = value.clone();
                    }
                }
                // A mark's size is nominal: the record wants it in eighths.
                if element["shape"] == "mark" {
                    out["width"] = json!(0.25);
                    out["height"] = json!(0.25);
                }
                out
            })
            .collect();
        serde_json::from_value(json!({
            "schema": 1, "unit": "in", "card": layout["card"], "elements": elements,
            "capture": {"photo": "", "card_corners_px": layout["card_corners_px"]},
        }))
        .unwrap()
    }

    #[test]
    fn every_answer_is_a_valid_record() {
        for profile in Profile::ALL {
            for number in 1..=6 {
                let made = picture(&Order { long_side: Some(400), ..Order::new(profile, 3, number) });
                let truth = serde_json::to_value(&made.truth).unwrap();
                for layout in truth["layouts"].as_array().unwrap() {
                    if let Err(faults) = Layout::try_from(record(layout)) {
                        panic!("{profile:?} {number}: {faults}");
                    }
                    assert!(layout["elements"].as_array().unwrap().len() >= 2);
                }
            }
        }
    }

    #[test]
    fn all_cards_lie_in_the_picture() {
        for profile in Profile::ALL {
            for number in 1..=6 {
                let made = picture(&Order { long_side: Some(400), ..Order::new(profile, 4, number) });
                let size = [made.truth.width_px as f64, made.truth.height_px as f64];
                for corner in made.truth.layouts.iter().flat_map(|layout| &layout.card_corners_px) {
                    let inside = (0..2).all(|axis| corner[axis] > 0.0 && corner[axis] < size[axis]);
                    assert!(inside, "{profile:?} {number}: {corner:?} of {size:?}");
                }
            }
        }
    }

    #[test]
    fn the_exif_flag_turns_the_stored_picture_upright() {
        for flag in [1, 3, 6, 8] {
            let order = Order { exif: Some(flag), easy: true, ..small(Profile::PrintPhoto, 2, 3) };
            let made = picture(&order);
            let seen = upright(&made);
            let size = (made.truth.width_px as u64, made.truth.height_px as u64);
            assert_eq!((u64::from(seen.width()), u64::from(seen.height())), size);
            assert!(inked(&seen, &made.truth.layouts[0].card_corners_px) > 0.85, "flag {flag}");
            let mut decoder = image::ImageReader::new(std::io::Cursor::new(&made.bytes))
                .with_guessed_format()
                .unwrap()
                .into_decoder()
                .unwrap();
            let turn = image::ImageDecoder::orientation(&mut decoder).unwrap();
            assert_eq!(turn.to_exif(), flag);
        }
    }
}
