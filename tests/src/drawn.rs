//! Layouts as a hand drew them, beside what it meant: read from the truth
//! files of a corpus of layout pictures.

use std::error::Error;
use std::fs;
use std::path::Path;

use capture::snap::{Edge, Measured};
use layout::{Card, Ends, Frame, Length, MarkKind, Shape, Step, Unit};
use serde_json::Value;

/// One layout of a corpus.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// Number of its picture: odd ones are for tuning, even ones held out.
    pub picture: u32,
    /// What kind of picture it is.
    pub profile: String,
    /// How true the hand was: exact, careful or loose.
    pub neat: String,
    /// How far the hand strayed, inches.
    pub hand_sd_in: f64,
    /// Its card, upright or lying as drawn.
    pub card: Card,
    /// The elements as drawn, bottom of the stack first.
    pub elements: Vec<Measured>,
    /// The boxes that were meant.
    pub meant: Vec<Frame>,
}

/// How a perfect eye measures a drawn side, inches.
pub const PERFECT_EYE_IN: f64 = 0.002;

/// Reads every layout of a folder, in the order of the file names.
pub fn read(folder: &Path) -> Result<Vec<Drawn>, Box<dyn Error>> {
    let mut names: Vec<_> = fs::read_dir(folder)
        .map_err(|error| format!("{}: {error}", folder.display()))?
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|end| end == "json"))
        .collect();
    names.sort();
    let mut out = Vec::new();
    for path in names {
        let truth: Value = serde_json::from_str(&fs::read_to_string(&path)?)?;
        let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
        let picture = stem.parse().map_err(|_| format!("{}: not a picture's number", path.display()))?;
        for layout in truth["layouts"].as_array().into_iter().flatten() {
            if layout["optional"] == true {
                continue;
            }
            let one = layout_of(layout).map_err(|error| format!("{}: {error}", path.display()))?;
            out.push(Drawn {
                picture,
                profile: truth["profile"].as_str().unwrap_or_default().to_owned(),
                neat: truth["neat"].as_str().unwrap_or_default().to_owned(),
                ..one
            });
        }
    }
    Ok(out)
}

fn layout_of(layout: &Value) -> Result<Drawn, Box<dyn Error>> {
    let number =
        |value: &Value, name: &str| value[name].as_f64().ok_or_else(|| format!("no number called {name:?}"));
    let side = |name: &str| -> Result<Length, Box<dyn Error>> {
        Ok(Length::exact(number(&layout["card"], name)?, Unit::Inch, Step::Size)?)
    };
    let card = Card::custom(side("width")?, side("height")?, Unit::Inch)?;
    let (mut elements, mut meant) = (Vec::new(), Vec::new());
    for element in layout["elements"].as_array().into_iter().flatten() {
        let length = |name: &str, step: Step| -> Result<Length, Box<dyn Error>> {
            Ok(Length::exact(number(element, name)?, Unit::Inch, step)?)
        };
        let shape = match element["shape"].as_str() {
            Some("circle") => Shape::Circle,
            Some("oval") => Shape::Oval,
            Some("banner") => Shape::Banner { ends: Ends::new(layout::End::Straight, layout::End::Fishtail) },
            Some("mark") => Shape::Mark { kind: MarkKind::Dot },
            _ => Shape::SHARP,
        };
        let drawn = &element["drawn"];
        let (x, y) = (number(drawn, "x")?, number(drawn, "y")?);
        let at = [x, y, x + number(drawn, "width")?, y + number(drawn, "height")?];
        let is_mark = matches!(shape, Shape::Mark { .. });
        let step = if is_mark { Step::Position } else { Step::Size };
        meant.push(Frame {
            x: length("x", Step::Position)?,
            y: length("y", Step::Position)?,
            width: length("width", step)?,
            height: length("height", step)?,
        });
        elements.push(Measured {
            shape,
            sides: at.map(|at| Edge { at, sd: PERFECT_EYE_IN, seen: 1.0 }),
            rotation_deg: element["rotation"].as_f64().unwrap_or(0.0),
            corner_radius_in: element["corner_radius"].as_f64().unwrap_or(0.0),
            held: [None; 2],
        });
    }
    let hand_sd_in = number(layout, "edge_sd_in")?;
    Ok(Drawn { picture: 0, profile: String::new(), neat: String::new(), hand_sd_in, card, elements, meant })
}
