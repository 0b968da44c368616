//! The measured drawing: a layout as SVG, at true scale when printed
//! (1 in = 96 CSS px, CSS Values and Units).

use std::f64::consts::PI;
use std::fmt::Write;

use crate::element::{Element, End, Ends, Frame, MarkKind, Shape};
use crate::length::Unit;
use crate::record::Layout;

/// What a drawing shows besides the shapes.
#[derive(Clone, Copy, Debug, Default)]
pub struct DrawingOptions {
    /// Write each element's size into it.
    pub sizes: bool,
}

/// CSS pixels of one inch.
pub const PX_PER_IN: f64 = 96.0;
/// Room around the card, in inches.
const MARGIN_IN: f64 = 0.125;

/// Draws a layout as a self-contained SVG: paper-coloured shapes, bottom of
/// the stack first, each with its id as `data-id`. No text of the user goes
/// in unescaped.
pub fn svg(layout: &Layout, options: DrawingOptions) -> String {
    let [width, height] = layout.card.size_in();
    let (full_width, full_height) = (width + 2.0 * MARGIN_IN, height + 2.0 * MARGIN_IN);
    let mut out = String::new();
    let mut put = |text: String| out.push_str(&text);
    put(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{full_width}in\" height=\"{full_height}in\" \
         viewBox=\"{} {} {} {}\" role=\"img\">\n<title>{}</title>\n",
        px(-MARGIN_IN),
        px(-MARGIN_IN),
        px(full_width),
        px(full_height),
        escape(if layout.title.is_empty() { "Layout" } else { &layout.title }),
    ));
    put(front(layout, "front"));
    if options.sizes {
        put("<g font-family=\"system-ui, sans-serif\" fill=\"#2b2620\" text-anchor=\"middle\">\n".to_owned());
        for element in layout.elements.iter().filter(|element| !matches!(element.shape, Shape::Mark { .. })) {
            put(size_label(element, layout.card.unit));
        }
        put("</g>\n".to_owned());
    }
    put("</svg>\n".to_owned());
    out
}

/// The card front with its shapes, in CSS pixels from the card's top-left
/// corner, as a part of an SVG. `name` tells its ids from others in the file.
pub fn front(layout: &Layout, name: &str) -> String {
    let [width, height] = layout.card.size_in().map(px);
    let mut out = format!(
        "<rect x=\"0\" y=\"0\" width=\"{width}\" height=\"{height}\" fill=\"#fffdf8\" stroke=\"#5b5247\" stroke-width=\"1.5\"/>\n\
         <clipPath id=\"{name}\"><rect x=\"0\" y=\"0\" width=\"{width}\" height=\"{height}\"/></clipPath>\n\
         <g clip-path=\"url(#{name})\" stroke=\"#3d372f\" stroke-width=\"1.25\" stroke-linejoin=\"round\">\n"
    );
    for element in &layout.elements {
        out.push_str(&layers_of(element));
    }
    out.push_str("</g>\n");
    out
}

/// One element on its mats, in CSS pixels from the card's top-left corner, as
/// a part of an SVG.
pub fn element_svg(element: &Element) -> String {
    format!(
        "<g stroke=\"#3d372f\" stroke-width=\"1.25\" stroke-linejoin=\"round\">\n{}</g>\n",
        layers_of(element)
    )
}

fn layers_of(element: &Element) -> String {
    let mut out = String::new();
    for mat in element.mats.iter().rev() {
        let grown =
            Element { frame: element.frame.grown(*mat), shape: element.shape.grown(*mat), ..element.clone() };
        out.push_str(&shape_svg(&grown, "#efe7d8", false));
    }
    out.push_str(&shape_svg(element, fill_of(element), true));
    out
}

/// One tint per slot letter, so that the same paper looks the same; shapes
/// without one are white paper.
fn fill_of(element: &Element) -> &'static str {
    const TINTS: [&str; 8] =
        ["#f6dfc6", "#d7e5d4", "#d9e2ee", "#f2d9d9", "#e6dcf0", "#f4edc4", "#d3e8e6", "#eadfd3"];
    match (element.shape, element.slot) {
        (Shape::Mark { .. }, _) => "#8a5a44",
        (_, Some(slot)) => TINTS[(slot.letter() as usize - 'A' as usize) % TINTS.len()],
        (_, None) => "#ffffff",
    }
}

fn shape_svg(element: &Element, fill: &str, with_id: bool) -> String {
    let Frame { x, y, width, height } = element.frame;
    let [x, y, width, height] = [x, y, width, height].map(|length| length.value(Unit::Inch));
    let (cx, cy) = (x + width / 2.0, y + height / 2.0);
    let mut attributes = format!("fill=\"{fill}\"");
    if with_id {
        let _ = write!(attributes, " data-id=\"{}\"", element.id);
    }
    if element.rotation_deg != 0.0 {
        let _ =
            write!(attributes, " transform=\"rotate({} {} {})\"", tidy(element.rotation_deg), px(cx), px(cy));
    }
    match element.shape {
        Shape::Rectangle { corner_radius } => format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"{}\" {attributes}/>\n",
            px(x),
            px(y),
            px(width),
            px(height),
            px(corner_radius.value(Unit::Inch))
        ),
        Shape::Circle | Shape::Oval => format!(
            "<ellipse cx=\"{}\" cy=\"{}\" rx=\"{}\" ry=\"{}\" {attributes}/>\n",
            px(cx),
            px(cy),
            px(width / 2.0),
            px(height / 2.0)
        ),
        Shape::Banner { ends } => {
            format!(
                "<polygon points=\"{}\" {attributes}/>\n",
                points(&banner_outline(x, y, width, height, ends))
            )
        }
        Shape::Mark { kind } => mark_svg(kind, cx, cy, width.min(height) / 2.0, &attributes),
    }
}

/// The corners of a banner, clockwise from its top-left. If nothing is said of
/// it, the cut is as deep as half the banner is high, and never more than a
/// third of its length.
pub(crate) fn banner_outline(x: f64, y: f64, width: f64, height: f64, ends: Ends) -> Vec<[f64; 2]> {
    let upright = height > width;
    let (length, across) = if upright { (height, width) } else { (width, height) };
    let depth = match ends.depth {
        Some(depth) => depth.value(Unit::Inch).min(length / 2.0),
        None => (across / 2.0).min(length / 3.0),
    };
    // Along the banner from 0 to `length`, across it from 0 to `across`.
    let mut outline = Vec::new();
    match ends.left {
        End::Straight => outline.extend([[0.0, across], [0.0, 0.0]]),
        End::Fishtail => outline.extend([[0.0, across], [depth, across / 2.0], [0.0, 0.0]]),
        End::Point => outline.extend([[depth, across], [0.0, across / 2.0], [depth, 0.0]]),
        End::Angled => outline.extend([[0.0, across], [depth, 0.0]]),
    }
    match ends.right {
        End::Straight => outline.extend([[length, 0.0], [length, across]]),
        End::Fishtail => outline.extend([[length, 0.0], [length - depth, across / 2.0], [length, across]]),
        End::Point => {
            outline.extend([[length - depth, 0.0], [length, across / 2.0], [length - depth, across]]);
        }
        End::Angled => outline.extend([[length, 0.0], [length - depth, across]]),
    }
    outline
        .into_iter()
        .map(|[along, off]| if upright { [x + off, y + along] } else { [x + along, y + off] })
        .collect()
}

fn mark_svg(kind: MarkKind, cx: f64, cy: f64, radius: f64, attributes: &str) -> String {
    match kind {
        MarkKind::Dot | MarkKind::Other => {
            format!("<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {attributes}/>\n", px(cx), px(cy), px(radius))
        }
        MarkKind::Heart => {
            let (left, right, top, bottom) =
                (px(cx - radius), px(cx + radius), px(cy - radius), px(cy + radius));
            let (middle, notch) = (px(cx), px(cy - radius / 3.0));
            format!(
                "<path d=\"M{middle} {notch}C{middle} {top} {left} {top} {left} {notch}S{middle} {} {middle} {bottom}\
                 C{middle} {} {right} {} {right} {notch}S{middle} {top} {middle} {notch}Z\" {attributes}/>\n",
                px(cy + radius / 2.0),
                px(cy + radius / 2.0),
                px(cy + radius / 3.0),
            )
        }
        MarkKind::Star | MarkKind::Flower => {
            let inner = if kind == MarkKind::Star { 0.4 } else { 0.7 };
            let outline: Vec<[f64; 2]> = (0..10)
                .map(|k| {
                    let reach = if k % 2 == 0 { radius } else { radius * inner };
                    let angle = f64::from(k) * PI / 5.0;
                    [cx + reach * angle.sin(), cy - reach * angle.cos()]
                })
                .collect();
            format!("<polygon points=\"{}\" {attributes}/>\n", points(&outline))
        }
    }
}

/// The element's size in its middle, as large as the shape allows.
fn size_label(element: &Element, unit: Unit) -> String {
    let frame = element.frame;
    let text = if frame.width == frame.height {
        frame.width.show(unit)
    } else {
        format!("{} x {}", frame.width.show(unit), frame.height.show(unit))
    };
    let [x, y, width, height] = [frame.x, frame.y, frame.width, frame.height].map(|l| l.value(Unit::Inch));
    let (cx, cy) = (x + width / 2.0, y + height / 2.0);
    let upright = width < height && width < 0.9;
    let (along, across) = if upright { (height, width) } else { (width, height) };
    // A digit is a little over half as wide as it is high.
    let size = (along * 0.9 / (text.chars().count() as f64 * 0.56)).min(across * 0.7).clamp(0.06, 0.16);
    let turn =
        if upright { format!(" transform=\"rotate(-90 {} {})\"", px(cx), px(cy)) } else { String::new() };
    format!(
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" dy=\"0.35em\"{turn}>{}</text>\n",
        px(cx),
        px(cy),
        px(size),
        escape(&text)
    )
}

fn points(outline: &[[f64; 2]]) -> String {
    outline.iter().map(|[x, y]| format!("{},{}", px(*x), px(*y))).collect::<Vec<_>>().join(" ")
}

/// Inches as CSS pixels, without trailing zeros.
fn px(inches: f64) -> String {
    tidy(inches * PX_PER_IN)
}

/// A number for an SVG: three decimals, without trailing zeros.
pub fn tidy(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text as XML character data, never for an attribute. Control characters that XML forbids become blanks.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
