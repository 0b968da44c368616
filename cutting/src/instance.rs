//! A job and its answer as plain JSON, sizes in any unit, whole or decimal:
//!
//! ```
//! let text = r#"{"name": "mats", "objective": "sheets", "rotation": true,
//!     "stock": [{"width": 12, "height": 12, "count": null, "cost": 144}],
//!     "pieces": [{"width": 4.125, "height": 5.375, "quantity": 4}]}"#;
//! let instance = cutting::instance::read(text)?;
//! let plan = cutting::plan(&instance.job, &cutting::Options::default(), &mut |_| true)?;
//! let answer = cutting::instance::answer(&instance, &plan);
//! assert_eq!(answer.sheets[0].pieces.len(), 4);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use serde::{Deserialize, Serialize};

use crate::{CutError, Goal, Job, Options, Piece, Plan, Rect, Sheet};

/// A job, and how its whole units relate to the numbers it was written in.
#[derive(Clone, Debug, PartialEq)]
pub struct Instance {
    /// The job, in whole units.
    pub job: Job,
    /// Units for each 1 of the instance's own.
    pub scale: u32,
    /// The trimmer's blade and least strip, in whole units.
    pub kerf: u32,
    /// See `kerf`.
    pub least_strip: u32,
}

/// The trimmer, in the instance's own unit; all 0 for one that loses nothing and holds anything.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Trimmer {
    /// What the blade turns to dust.
    pub kerf: f64,
    /// Least width that can be held while the blade runs.
    pub least_strip: f64,
}

/// Why an instance cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum InstanceError {
    /// Not the form described here.
    #[error("not a cutting instance: {0}")]
    Form(#[from] serde_json::Error),
    /// A length that is nothing, negative, or not a number.
    #[error("{what} is {found}; lengths are above 0")]
    Length {
        /// Which length.
        what: String,
        /// What it says.
        found: f64,
    },
    /// A blade or strip that is negative, or not a number.
    #[error("{what} is {found}; give 0 or more")]
    Trimmer {
        /// Which width.
        what: &'static str,
        /// What it says.
        found: f64,
    },
    /// Lengths with more digits than a common whole unit can carry.
    #[error("the lengths have no common unit of 1/{FINEST} or coarser; round them")]
    Fine,
    /// A cost or value that is negative or too large.
    #[error("{what} is {found}; costs and values are 0 or more")]
    Worth {
        /// Which number.
        what: String,
        /// What it says.
        found: f64,
    },
    /// A job that cannot be planned.
    #[error(transparent)]
    Job(#[from] CutError),
}

/// Reads an instance, for a trimmer that loses nothing and holds anything.
pub fn read(text: &str) -> Result<Instance, InstanceError> {
    read_for(text, Trimmer::default())
}

/// Reads an instance; the common unit is one in which the trimmer's widths are whole too.
pub fn read_for(text: &str, trimmer: Trimmer) -> Result<Instance, InstanceError> {
    let form: Form = serde_json::from_str(text)?;
    let mut lengths = Vec::new();
    for (i, s) in form.stock.iter().enumerate() {
        lengths.push((format!("the width of stock {i}"), s.width));
        lengths.push((format!("the height of stock {i}"), s.height));
    }
    for (i, p) in form.pieces.iter().enumerate() {
        lengths.push((format!("the width of piece {i}"), p.width));
        lengths.push((format!("the height of piece {i}"), p.height));
    }
    for (what, length) in lengths.iter().cloned() {
        if !(length.is_finite() && length > 0.0) {
            return Err(InstanceError::Length { what, found: length });
        }
    }
    for (what, width) in [("the blade's width", trimmer.kerf), ("the least strip", trimmer.least_strip)] {
        if !(width.is_finite() && width >= 0.0) {
            return Err(InstanceError::Trimmer { what, found: width });
        }
        lengths.push((what.to_owned(), width));
    }
    let scale = common_unit(&lengths).ok_or(InstanceError::Fine)?;
    let size = |width: f64, height: f64| Rect::new(to_units(width, scale), to_units(height, scale));
    let mut job = Job {
        goal: match form.objective {
            Objective::Sheets => Goal::FewestSheets,
            Objective::Cost => Goal::LeastCost,
            Objective::Value => Goal::MostValue,
        },
        ..Job::default()
    };
    for (i, s) in form.stock.iter().enumerate() {
        let size = size(s.width, s.height);
        let cost = match s.cost {
            // An area, or a price with decimals, counted in the unit's squares.
            Some(cost) => {
                worth(&format!("the cost of stock {i}"), cost * f64::from(scale) * f64::from(scale))?
            }
            None => size.area(),
        };
        job.stock.push(Sheet { size, count: s.count, cost, faces: Vec::new() });
    }
    for (i, p) in form.pieces.iter().enumerate() {
        let size = size(p.width, p.height);
        let value = p.value.map_or(Ok(size.area()), |v| worth(&format!("the value of piece {i}"), v))?;
        let may_turn = p.rotation.unwrap_or(form.rotation);
        job.pieces.push(Piece { size, quantity: p.quantity, may_turn, value, papers: Vec::new() });
    }
    let (kerf, least_strip) = (to_units(trimmer.kerf, scale), to_units(trimmer.least_strip, scale));
    job.check(&Options { kerf, least_strip, ..Options::default() })?;
    Ok(Instance { job, scale, kerf, least_strip })
}

/// The plan in the instance's own unit.
pub fn answer(instance: &Instance, plan: &Plan) -> Answer {
    let real = |units: u32| f64::from(units) / f64::from(instance.scale);
    let sheets = plan
        .sheets
        .iter()
        .map(|s| SheetAnswer {
            stock: s.sheet,
            pieces: s
                .placed()
                .into_iter()
                .map(|p| PieceAnswer {
                    piece: p.piece,
                    x: real(p.x),
                    y: real(p.y),
                    width: real(p.size.width),
                    height: real(p.size.height),
                    rotated: p.turned,
                })
                .collect(),
        })
        .collect();
    let square = f64::from(instance.scale) * f64::from(instance.scale);
    let counted = |score: u64| match instance.job.goal {
        Goal::LeastCost => score as f64 / square,
        Goal::FewestSheets | Goal::MostValue => score as f64,
    };
    Answer {
        sheets,
        missing: plan.missing.clone(),
        score: counted(plan.score),
        bound: counted(plan.bound),
        optimal: plan.optimal(),
        settings: plan.settings().into_iter().map(real).collect(),
        cuts: plan.cuts(),
        largest_offcut: plan.largest_offcut() as f64 / square,
    }
}

/// A plan in the plain form.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// The sheets to cut.
    pub sheets: Vec<SheetAnswer>,
    /// For each piece, how many found no place.
    pub missing: Vec<u32>,
    /// Sheets, cost or value.
    pub score: f64,
    /// The score no plan can beat.
    pub bound: f64,
    /// Whether the score is proven best.
    pub optimal: bool,
    /// The distances the trimmer is set to.
    pub settings: Vec<f64>,
    /// How many cuts it takes.
    pub cuts: usize,
    /// Area of the largest offcut.
    pub largest_offcut: f64,
}

/// One sheet of an answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SheetAnswer {
    /// Which of the stock.
    pub stock: usize,
    /// What is cut from it.
    pub pieces: Vec<PieceAnswer>,
}

/// One piece of an answer, by the corner nearest the sheet's origin.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PieceAnswer {
    /// Which of the pieces.
    pub piece: usize,
    /// Distance along the sheet's width.
    pub x: f64,
    /// Distance along the sheet's height.
    pub y: f64,
    /// Extent along the sheet's width, as placed.
    pub width: f64,
    /// Extent along the sheet's height, as placed.
    pub height: f64,
    /// Whether it lies turned.
    pub rotated: bool,
}

#[derive(Deserialize)]
struct Form {
    objective: Objective,
    rotation: bool,
    stock: Vec<StockForm>,
    pieces: Vec<PieceForm>,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum Objective {
    Sheets,
    Cost,
    Value,
}

#[derive(Deserialize)]
struct StockForm {
    width: f64,
    height: f64,
    count: Option<u32>,
    cost: Option<f64>,
}

#[derive(Deserialize)]
struct PieceForm {
    width: f64,
    height: f64,
    quantity: u32,
    rotation: Option<bool>,
    value: Option<f64>,
}

/// Finest unit looked for: ten thousandths.
const FINEST: u32 = 10_000;

/// How far a scaled length may be from a whole number: rounding in the text, no more.
const EXACT: f64 = 1e-6;

/// The coarsest unit in which all lengths are whole, as parts of 1.
fn common_unit(lengths: &[(String, f64)]) -> Option<u32> {
    (1..=FINEST).find(|&scale| {
        lengths.iter().all(|(_, length)| {
            let scaled = length * f64::from(scale);
            (scaled - scaled.round()).abs() < EXACT
        })
    })
}

fn to_units(length: f64, scale: u32) -> u32 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to be above 0; too large saturates and is refused"
    )]
    let units = (length * f64::from(scale)).round() as u32;
    units
}

fn worth(what: &str, found: f64) -> Result<u64, InstanceError> {
    if !(found.is_finite() && found >= 0.0) {
        return Err(InstanceError::Worth { what: what.to_owned(), found });
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked above; too large saturates and is refused"
    )]
    let units = found.round() as u64;
    Ok(units)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(stock: &str, pieces: &str) -> String {
        format!(r#"{{"objective": "sheets", "rotation": true, "stock": [{stock}], "pieces": [{pieces}]}}"#)
    }

    #[test]
    fn decimals_become_whole_numbers_of_the_coarsest_unit() {
        let check = |width: &str, scale: u32, units: u32| {
            let pieces = format!(r#"{{"width": {width}, "height": 1, "quantity": 1}}"#);
            let read = read(&form(r#"{"width": 12, "height": 12}"#, &pieces)).unwrap();
            assert_eq!((read.scale, read.job.pieces[0].size.width), (scale, units), "{width}");
        };
        check("3", 1, 3);
        check("4.125", 8, 33);
        check("2.5", 2, 5);
        check("0.1", 10, 1);
        check("1.0625", 16, 17);
    }

    #[test]
    fn a_trimmers_widths_are_whole_in_the_common_unit() {
        let text = form(r#"{"width": 12, "height": 12}"#, r#"{"width": 4.5, "height": 1, "quantity": 1}"#);
        let read = |kerf, least_strip| read_for(&text, Trimmer { kerf, least_strip });
        let found = read(0.125, 0.75).unwrap();
        assert_eq!((found.scale, found.kerf, found.least_strip), (8, 1, 6));
        let refused = |kerf, least_strip| read(kerf, least_strip).unwrap_err().to_string();
        assert_eq!(refused(-0.5, 0.0), "the blade's width is -0.5; give 0 or more");
        assert_eq!(refused(0.0, f64::NAN), "the least strip is NaN; give 0 or more");
        assert!(refused(0.000_123, 0.0).contains("round them"));
    }

    #[test]
    fn a_bad_instance_says_what_is_wrong() {
        let sheet = r#"{"width": 12, "height": 12}"#;
        let check = |stock: &str, pieces: &str, part: &str| {
            let message = read(&form(stock, pieces)).unwrap_err().to_string();
            assert!(message.contains(part), "{message}");
        };
        check(
            sheet,
            r#"{"width": -1, "height": 1, "quantity": 1}"#,
            "the width of piece 0 is -1; lengths are above 0",
        );
        check(r#"{"width": 12, "height": 0}"#, "", "the height of stock 0 is 0");
        check(sheet, r#"{"width": 0.12345, "height": 1, "quantity": 1}"#, "round them");
        check(sheet, r#"{"width": 1, "height": 1}"#, "quantity");
        check(sheet, r#"{"width": 1, "height": 1, "quantity": 99999}"#, "split the job");
        check(r#"{"width": 1, "height": 1, "cost": -3}"#, "", "costs and values are 0 or more");
        assert!(read("[1").unwrap_err().to_string().starts_with("not a cutting instance"));
    }
}
