//! Exact lengths. One integer carries sixteenths of an inch and half
//! millimetres alike (1 in = 25.4 mm exactly, international yard and pound
//! agreement, 1959), so converting never rounds.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A length, as a whole number of 12.5 µm: a sixteenth of an inch is 127 of
/// them and half a millimetre is 40, so both systems are exact.
///
/// It parses what makers write and prints it back in lowest terms:
///
/// ```
/// # use layout::Length;
/// let card: Length = "4 1/4".parse()?;
/// assert_eq!(card - Length::eighths(2), Length::inches(4));
/// for same in ["4-1/4\"", "4.25", "4¼", "17/4 in", "4 2/8"] {
///     assert_eq!(same.parse::<Length>()?, card);
/// }
/// assert_eq!(card.to_string(), "4 1/4");
/// assert_eq!("108 mm".parse::<Length>()?.to_string(), "108 mm");
/// # Ok::<(), layout::LengthError>(())
/// ```
///
/// On its own it serialises as that text; inside a layout record lengths are
/// plain numbers in the record's unit.
///
/// ```
/// # use layout::Length;
/// let json = serde_json::to_string(&Length::eighths(25))?;
/// assert_eq!(json, r#""3 1/8""#);
/// assert_eq!(serde_json::from_str::<Length>(&json)?, Length::eighths(25));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i32);

/// The system a layout is measured in.
///
/// ```
/// # use layout::Unit;
/// assert_eq!(serde_json::to_string(&Unit::Inch)?, r#""in""#);
/// assert_eq!("mm".parse::<Unit>().unwrap().to_string(), "mm");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub enum Unit {
    /// Inches; sizes on eighths, positions on sixteenths.
    #[default]
    #[serde(rename = "in")]
    Inch,
    /// Millimetres; sizes on whole, positions on half millimetres.
    #[serde(rename = "mm")]
    Millimetre,
}

/// How finely a length may be placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// 1/8 in or 1 mm: the step of sizes.
    Size,
    /// 1/16 in or 0.5 mm: the step of positions, since an odd-eighth panel
    /// centred on a card sits on a sixteenth.
    Position,
}

/// Why a text or a number is not a [`Length`].
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LengthError {
    /// Not a number in any of the accepted forms.
    #[error("\"{0}\" is not a length: write it like 4 1/4, 4.25, 4¼ or 108 mm")]
    Unreadable(String),
    /// A number, but between two steps of the grid.
    #[error("{value} is not on the {grid} grid: the nearest are {below} and {above}")]
    OffGrid {
        /// The value as given.
        value: String,
        /// The grid it misses, in words.
        grid: &'static str,
        /// The next length below, as text.
        below: String,
        /// The next length above, as text.
        above: String,
    },
    /// Beyond what any sheet of paper measures.
    #[error("{0} is too long: lengths go up to 1000 inches")]
    TooLong(String),
}

const UNITS_PER_SIXTEENTH: i32 = 127;
const UNITS_PER_HALF_MM: i32 = 40;
/// Longest length in either direction: 1000 inches.
const LONGEST: i32 = 1000 * 16 * UNITS_PER_SIXTEENTH;

impl Unit {
    /// Units of [`Length`] in one `step` of this system.
    const fn step(self, step: Step) -> i32 {
        match (self, step) {
            (Unit::Inch, Step::Size) => 2 * UNITS_PER_SIXTEENTH,
            (Unit::Inch, Step::Position) => UNITS_PER_SIXTEENTH,
            (Unit::Millimetre, Step::Size) => 2 * UNITS_PER_HALF_MM,
            (Unit::Millimetre, Step::Position) => UNITS_PER_HALF_MM,
        }
    }

    /// Units of [`Length`] in one inch or one millimetre.
    const fn scale(self) -> i32 {
        match self {
            Unit::Inch => 16 * UNITS_PER_SIXTEENTH,
            Unit::Millimetre => 2 * UNITS_PER_HALF_MM,
        }
    }

    /// The grid's name in a sentence.
    const fn grid(self, step: Step) -> &'static str {
        match (self, step) {
            (Unit::Inch, Step::Size) => "eighth-inch",
            (Unit::Inch, Step::Position) => "sixteenth-inch",
            (Unit::Millimetre, Step::Size) => "millimetre",
            (Unit::Millimetre, Step::Position) => "half-millimetre",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Unit::Inch => "in",
            Unit::Millimetre => "mm",
        })
    }
}

impl FromStr for Unit {
    type Err = LengthError;

    fn from_str(text: &str) -> Result<Self, LengthError> {
        match text {
            "in" => Ok(Unit::Inch),
            "mm" => Ok(Unit::Millimetre),
            other => Err(LengthError::Unreadable(other.to_owned())),
        }
    }
}

/// How far a number may be off its grid, in its own unit: far below any step,
/// and above any rounding that decimal text or JSON can bring in. A size of no
/// more is none.
pub(crate) const NOTHING: f64 = 1e-6;

impl Length {
    /// No length at all.
    pub const ZERO: Length = Length(0);

    /// `n` whole inches.
    pub const fn inches(n: i32) -> Self {
        Length(n * 16 * UNITS_PER_SIXTEENTH)
    }

    /// `n` eighths of an inch.
    pub const fn eighths(n: i32) -> Self {
        Length(n * 2 * UNITS_PER_SIXTEENTH)
    }

    /// `n` sixteenths of an inch.
    pub const fn sixteenths(n: i32) -> Self {
        Length(n * UNITS_PER_SIXTEENTH)
    }

    /// `n` whole millimetres.
    pub const fn millimetres(n: i32) -> Self {
        Length(n * 2 * UNITS_PER_HALF_MM)
    }

    /// `n` half millimetres.
    pub const fn half_millimetres(n: i32) -> Self {
        Length(n * UNITS_PER_HALF_MM)
    }

    /// `n` steps of the grid of `unit`.
    pub const fn steps(n: i32, unit: Unit, step: Step) -> Self {
        Length(n * unit.step(step))
    }

    /// The value as a number of `unit`s. Exact in binary for anything on the
    /// sixteenth-inch or half-millimetre grid.
    pub fn value(self, unit: Unit) -> f64 {
        f64::from(self.0) / f64::from(unit.scale())
    }

    /// A number of `unit`s that is meant to be exact: refused when it is off
    /// the grid of `step`.
    pub fn exact(value: f64, unit: Unit, step: Step) -> Result<Self, LengthError> {
        let (length, residual) = snap(value, unit, step).ok_or_else(|| too_long_or_not_a_number(value))?;
        if residual.abs() > NOTHING {
            let (below, above) = if residual > 0.0 {
                (length, length + Length(unit.step(step)))
            } else {
                (length - Length(unit.step(step)), length)
            };
            return Err(LengthError::OffGrid {
                value: format!("{value}"),
                grid: unit.grid(step),
                below: below.show(unit),
                above: above.show(unit),
            });
        }
        Ok(length)
    }

    /// The length as a whole number of 12.5 µm, what it is stored as: exact
    /// for inches and millimetres together.
    pub const fn in_units(self) -> i32 {
        self.0
    }

    /// A length of so many times 12.5 µm.
    pub const fn of_units(units: i32) -> Self {
        Length(units)
    }

    /// Whether the length is a whole number of steps.
    pub const fn is_on(self, unit: Unit, step: Step) -> bool {
        self.0 % unit.step(step) == 0
    }

    /// How many whole steps the length is, rounded down.
    pub const fn in_steps(self, unit: Unit, step: Step) -> i32 {
        self.0.div_euclid(unit.step(step))
    }

    /// The length in words of `unit`: `4 1/4` or `108 mm`.
    pub fn show(self, unit: Unit) -> String {
        match unit {
            Unit::Inch => inch_text(self.0),
            Unit::Millimetre => format!("{} mm", decimal(self.value(Unit::Millimetre))),
        }
    }

    /// Half of it. Exact for anything on a size grid.
    #[must_use]
    pub const fn half(self) -> Self {
        Length(self.0 / 2)
    }

    /// Without its sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Length(self.0.abs())
    }

    /// Whether it is longer than nothing.
    pub const fn is_positive(self) -> bool {
        self.0 > 0
    }
}

/// The grid length nearest to a measured value, and what rounding took away
/// (`value` minus the result, in `unit`s). Ties go up, as on a ruler read
/// "k = floor(8x + 1/2)". `None` for a value that is not finite or is beyond
/// 1000 inches.
///
/// ```
/// # use layout::{snap, Length, Step, Unit};
/// let (size, left) = snap(3.14, Unit::Inch, Step::Size).unwrap();
/// assert_eq!(size, Length::eighths(25));
/// assert!((left - 0.015).abs() < 1e-12);
/// ```
pub fn snap(value: f64, unit: Unit, step: Step) -> Option<(Length, f64)> {
    let steps_per_unit = f64::from(unit.scale()) / f64::from(unit.step(step));
    let limit = f64::from(LONGEST) / f64::from(unit.scale());
    if !value.is_finite() || value.abs() > limit {
        return None;
    }
    let steps = (value * steps_per_unit + 0.5).floor();
    #[expect(clippy::cast_possible_truncation, reason = "within 1000 inches, so within i32")]
    let length = Length(steps as i32 * unit.step(step));
    Some((length, value - length.value(unit)))
}

fn too_long_or_not_a_number(value: f64) -> LengthError {
    if value.is_finite() {
        LengthError::TooLong(format!("{value}"))
    } else {
        LengthError::Unreadable(format!("{value}"))
    }
}

/// Inches as a mixed number in lowest terms; finer than a sixteenth as a decimal.
fn inch_text(units: i32) -> String {
    if units % UNITS_PER_SIXTEENTH != 0 {
        return decimal(f64::from(units) / f64::from(Unit::Inch.scale()));
    }
    let sixteenths = units / UNITS_PER_SIXTEENTH;
    let sign = if sixteenths < 0 { "-" } else { "" };
    let (whole, mut part) = (sixteenths.abs() / 16, sixteenths.abs() % 16);
    let mut of = 16;
    while part % 2 == 0 && part > 0 {
        part /= 2;
        of /= 2;
    }
    match (whole, part) {
        (_, 0) => format!("{sign}{whole}"),
        (0, _) => format!("{sign}{part}/{of}"),
        _ => format!("{sign}{whole} {part}/{of}"),
    }
}

fn decimal(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let inch_grid = self.is_on(Unit::Inch, Step::Position);
        let mm_grid = self.is_on(Unit::Millimetre, Step::Position);
        f.pad(&self.show(if inch_grid || !mm_grid { Unit::Inch } else { Unit::Millimetre }))
    }
}

impl FromStr for Length {
    type Err = LengthError;

    fn from_str(text: &str) -> Result<Self, LengthError> {
        parse(text, Unit::Inch)
    }
}

impl Length {
    /// Parses a text whose bare numbers are in `unit`; a written unit wins.
    ///
    /// ```
    /// # use layout::{Length, Unit};
    /// assert_eq!(Length::parse("108", Unit::Millimetre)?, Length::millimetres(108));
    /// assert_eq!(Length::parse("2½\"", Unit::Millimetre)?, Length::eighths(20));
    /// # Ok::<(), layout::LengthError>(())
    /// ```
    pub fn parse(text: &str, unit: Unit) -> Result<Self, LengthError> {
        parse(text, unit)
    }
}

/// The single-glyph fractions of Unicode that lie on a sixteenth.
const VULGAR: [(char, i32, i32); 7] =
    [('½', 1, 2), ('¼', 1, 4), ('¾', 3, 4), ('⅛', 1, 8), ('⅜', 3, 8), ('⅝', 5, 8), ('⅞', 7, 8)];

fn parse(text: &str, bare: Unit) -> Result<Length, LengthError> {
    let unreadable = || LengthError::Unreadable(text.trim().to_owned());
    let trimmed = text.trim();
    // Anything longer is prose; refuse it before doing arithmetic on it.
    if trimmed.len() > 40 {
        return Err(LengthError::Unreadable(trimmed.chars().take(40).chain("…".chars()).collect()));
    }
    let lower = trimmed.to_lowercase();
    let (number, unit) = split_unit(&lower, bare);
    let (negative, number) = match number.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest.trim_start()),
        None => (false, number.strip_prefix('+').unwrap_or(number)),
    };
    let value = magnitude(number).ok_or_else(unreadable)?;
    let value = if negative { -value } else { value };
    Length::exact(value, unit, Step::Position).map_err(|error| match error {
        LengthError::OffGrid { grid, below, above, .. } => {
            LengthError::OffGrid { value: trimmed.to_owned(), grid, below, above }
        }
        LengthError::TooLong(_) => LengthError::TooLong(trimmed.to_owned()),
        LengthError::Unreadable(_) => unreadable(),
    })
}

fn split_unit(text: &str, bare: Unit) -> (&str, Unit) {
    const INCH: [&str; 9] = ["inches", "inch", "in.", "in", "\"", "''", "″", "”", "“"];
    const MM: [&str; 4] = ["millimetres", "millimeters", "mm.", "mm"];
    for (words, unit) in [(&INCH[..], Unit::Inch), (&MM[..], Unit::Millimetre)] {
        if let Some(rest) = words.iter().find_map(|word| text.strip_suffix(word)) {
            return (rest.trim_end(), unit);
        }
    }
    (text, bare)
}

/// A number without sign or unit: `4`, `4.25`, `.5`, `1/4`, `4 1/4`, `4-1/4`, `4¼`.
fn magnitude(text: &str) -> Option<f64> {
    let digits = |s: &str| -> Option<f64> {
        let fine = !s.is_empty() && s.len() <= 9 && s.bytes().all(|b| b.is_ascii_digit());
        fine.then(|| s.parse::<u32>().ok().map(f64::from)).flatten()
    };
    if let Some((last, top, bottom)) =
        text.chars().last().and_then(|c| VULGAR.iter().copied().find(|&(glyph, ..)| glyph == c))
    {
        let head = text.strip_suffix(last)?.trim_end().trim_end_matches('-');
        let whole = if head.is_empty() { 0.0 } else { digits(head)? };
        return Some(whole + f64::from(top) / f64::from(bottom));
    }
    let fraction = |s: &str| -> Option<f64> {
        let (top, bottom) = s.split_once(['/', '⁄'])?;
        let (top, bottom) = (digits(top.trim())?, digits(bottom.trim())?);
        (bottom > 0.0).then(|| top / bottom)
    };
    if text.contains(['/', '⁄']) {
        return match text.split_once([' ', '-', '\u{a0}']) {
            Some((whole, part)) if !whole.contains(['/', '⁄']) && part.trim().contains(['/', '⁄']) => {
                // "17 / 4" has a space before the slash and no whole part.
                if part.trim_start().starts_with(['/', '⁄']) {
                    return fraction(text);
                }
                Some(digits(whole)? + fraction(part.trim())?)
            }
            _ => fraction(text),
        };
    }
    match text.split_once('.') {
        None => digits(text),
        Some((whole, part)) => {
            let part_fine = part.len() <= 12 && part.bytes().all(|b| b.is_ascii_digit());
            let whole_fine = whole.len() <= 9 && whole.bytes().all(|b| b.is_ascii_digit());
            let any = whole.len() + part.len() > 0;
            (part_fine && whole_fine && any).then(|| format!("0{whole}.{part}0").parse().ok()).flatten()
        }
    }
}

impl Serialize for Length {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0.saturating_add(other.0))
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0.saturating_sub(other.0))
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        *self = *self + other;
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Length) {
        *self = *self - other;
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(-self.0)
    }
}

impl Mul<i32> for Length {
    type Output = Length;
    fn mul(self, times: i32) -> Length {
        Length(self.0.saturating_mul(times))
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(lengths: I) -> Length {
        lengths.fold(Length::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(text: &str, expected: Result<Length, &str>) {
        let got = text.parse::<Length>();
        match (got, expected) {
            (Ok(got), Ok(want)) => assert_eq!(got, want, "{text}"),
            (Err(got), Err(want)) => assert_eq!(got.to_string(), want, "{text}"),
            (got, want) => panic!("{text}: got {got:?}, expected {want:?}"),
        }
    }

    #[test]
    fn what_makers_write_is_understood() {
        for text in
            ["4 1/4", "4-1/4\"", "4¼", "4.25", "4.25 in", " 4 1/4 inches ", "17/4", "4 ¼", "4 4/16", "+4.25"]
        {
            check(text, Ok(Length::eighths(34)));
        }
        check("½", Ok(Length::eighths(4)));
        check(".5", Ok(Length::eighths(4)));
        check("13/8", Ok(Length::eighths(13)));
        check("1 / 2", Ok(Length::eighths(4)));
        check("0", Ok(Length::ZERO));
        check("108 mm", Ok(Length::millimetres(108)));
        check("52.5mm", Ok(Length::half_millimetres(105)));
        check("-1/16", Ok(Length::sixteenths(-1)));
    }

    #[test]
    fn what_is_off_the_grid_is_refused_with_its_neighbours() {
        check("4.3", Err("4.3 is not on the sixteenth-inch grid: the nearest are 4 1/4 and 4 5/16"));
        check("1/3", Err("1/3 is not on the sixteenth-inch grid: the nearest are 5/16 and 3/8"));
        check("7.2 mm", Err("7.2 mm is not on the half-millimetre grid: the nearest are 7 mm and 7.5 mm"));
        check("-4.3", Err("-4.3 is not on the sixteenth-inch grid: the nearest are -4 5/16 and -4 1/4"));
    }

    #[test]
    fn what_is_no_length_is_refused() {
        for text in [
            "", "four", "4 1", "1/0", "1/2/3", "4..5", ".", "--4", "4x5", "1e3", "NaN", "inf", "/", "4 /",
            "¼4",
        ] {
            let error = text.parse::<Length>().expect_err(text);
            assert!(matches!(error, LengthError::Unreadable(_)), "{text}: {error}");
        }
        check("2000", Err("2000 is too long: lengths go up to 1000 inches"));
    }

    /// Snap rule and tie: "k = floor(8x + 0.5)"; 2 1/16 is a tie and goes up.
    #[test]
    fn ties_go_up() {
        assert_eq!(snap(2.0625, Unit::Inch, Step::Size).unwrap().0, Length::eighths(17));
        assert_eq!(snap(-2.0625, Unit::Inch, Step::Size).unwrap().0, Length::eighths(-16));
        assert_eq!(snap(f64::NAN, Unit::Inch, Step::Size), None);
    }

    #[test]
    fn a_centred_odd_panel_sits_on_a_sixteenth() {
        let margin = (Length::eighths(34) - Length::eighths(31)).half();
        assert_eq!(margin.to_string(), "3/16");
    }

    /// 1/8 in = 3.175 mm and 1/16 in = 1.5875 mm, exact by definition of the inch.
    #[test]
    fn inches_convert_to_millimetres_exactly() {
        assert_eq!(Length::eighths(1).value(Unit::Millimetre).to_string(), "3.175");
        assert_eq!(Length::sixteenths(1).value(Unit::Millimetre).to_string(), "1.5875");
        assert_eq!(Length::millimetres(127), Length::inches(5));
    }

    proptest! {
        #[test]
        fn text_round_trips(n in -16_000i32..16_000, metric: bool) {
            let length = if metric { Length::half_millimetres(n) } else { Length::sixteenths(n) };
            prop_assert_eq!(length.to_string().parse::<Length>().unwrap(), length);
            let unit = if metric { Unit::Millimetre } else { Unit::Inch };
            prop_assert_eq!(Length::exact(length.value(unit), unit, Step::Position).unwrap(), length);
        }

        #[test]
        fn any_text_is_parsed_or_refused(text in "\\PC{0,50}") {
            let _ = text.parse::<Length>();
        }
    }
}
