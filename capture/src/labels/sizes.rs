//! Sizes out of writing: of all the ways a line can be read, those that are
//! sizes as makers write them, each with its probability. So `4 114` with a
//! slash half seen is 4 1/4, and `13/8` stays 1 3/8 and 13/16's neighbour until
//! the drawing has its say.
//! Method: prefix beam search over the columns of a connectionist temporal
//! classifier (Hannun et al., "First-pass large vocabulary continuous speech
//! recognition using bi-directional recurrent DNNs", 2014), kept to the
//! prefixes of a small grammar that a non-deterministic automaton follows.
//! What pens and cameras often change for each other is mixed in first.

use std::collections::BTreeMap;

use layout::{Length, Shape, Step, Unit, snap};

use super::recognise::Columns;

/// One reading of a line as a size.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Candidate {
    /// The reading.
    pub(super) size: WrittenSize,
    /// How it would be typed.
    pub(super) text: String,
    /// Natural log of its probability, all ways to write it together.
    pub(super) log_p: f64,
}

/// What a line says about a size.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct WrittenSize {
    /// One length, or two as written.
    pub(super) lengths: Vec<Length>,
    /// What else is said.
    pub(super) words: Words,
}

/// What the words beside a number say.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Words {
    /// The shape that is named.
    pub(super) named: Option<Named>,
    /// The first length is a width; is a height.
    pub(super) first_is: Option<Direction>,
    /// There is an inch mark, a unit, two lengths or a word that goes with
    /// sizes: no doubt that this is a size.
    pub(super) certain: bool,
}

/// A shape that is named beside a size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Named {
    /// One length: the diameter.
    Circle,
    /// Two lengths.
    Oval,
    /// A strip with a cut end.
    Banner,
    /// One length for both sides.
    Square,
}

impl Named {
    /// Whether an element of this shape is what the word says.
    pub(super) fn is(self, shape: Shape) -> bool {
        match self {
            Named::Circle => shape == Shape::Circle,
            Named::Oval => shape == Shape::Oval,
            Named::Banner => matches!(shape, Shape::Banner { .. }),
            Named::Square => matches!(shape, Shape::Rectangle { .. }),
        }
    }

    /// The same, but for what the reader takes for each other.
    pub(super) fn may_be(self, shape: Shape) -> bool {
        match self {
            Named::Circle | Named::Oval => matches!(shape, Shape::Circle | Shape::Oval),
            Named::Banner | Named::Square => matches!(shape, Shape::Rectangle { .. } | Shape::Banner { .. }),
        }
    }
}

/// Which way a written length runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Direction {
    /// From left to right.
    Wide,
    /// From top to bottom.
    High,
}

/// Largest written size, inches: no card front is larger.
const LARGEST_IN: f64 = 14.0;
/// A written decimal may be this far off a sixteenth, inches.
const OFF_GRID_IN: f64 = 0.02;

/// A number as written: its value in whatever unit, and how it would be typed.
#[derive(Clone, Debug)]
struct Number {
    value: f64,
    text: String,
}

/// All the ways a typed text is a size, in `unit` where it names none.
pub(super) fn parse(text: &str, unit: Unit) -> Vec<(WrittenSize, String)> {
    let typed: Vec<char> = text.chars().filter_map(canonical).collect();
    let mut out: Vec<(WrittenSize, String)> = Vec::new();
    // The number may come after a word.
    let is_word = |c: &char| c.is_ascii_alphabetic() || *c == ' ';
    let starts = (0..typed.len()).filter(|&i| {
        (typed[i].is_ascii_digit() || is_vulgar(typed[i]) || typed[i] == '.')
            && typed[..i].iter().all(is_word)
            && (i == 0 || typed[i - 1] == ' ')
    });
    for start in starts {
        let before: String = typed[..start].iter().collect();
        for (first, rest) in numbers(&typed[start..]) {
            let (marked, rest) = without_inch_marks(rest);
            let alone: String = rest.iter().collect();
            let mut ways: Vec<(Option<Number>, String, String, bool)> = Vec::new();
            if rest.iter().all(is_word) {
                ways.push((None, String::new(), alone, marked));
            }
            // A times sign or "by", after words such as "in" or "wide".
            for (i, _) in
                rest.iter().enumerate().filter(|(i, c)| **c == 'x' || rest[*i..].starts_with(&['b', 'y']))
            {
                let length = if rest[i] == 'x' { 1 } else { 2 };
                if !rest[..i].iter().all(is_word) {
                    break;
                }
                let between: String = rest[..i].iter().collect();
                for (second, rest) in numbers(without_spaces(&rest[i + length..])) {
                    let (also_marked, rest) = without_inch_marks(rest);
                    if rest.iter().all(is_word) {
                        let after = rest.iter().collect();
                        ways.push((Some(second), between.clone(), after, marked || also_marked));
                    }
                }
            }
            for (second, between, after, marked) in ways {
                let size = sized(&first, second.as_ref(), [&before, &between, &after], marked, unit);
                out.extend(size.filter(|size| !out.contains(size)));
            }
        }
    }
    out
}

/// Puts numbers and words together; `None` when the words say that it is no
/// size, or it is larger than any card.
fn sized(
    first: &Number,
    second: Option<&Number>,
    [before, between, after]: [&str; 3],
    marked: bool,
    unit: Unit,
) -> Option<(WrittenSize, String)> {
    let mut words = Words { certain: marked || second.is_some(), ..Words::default() };
    // The words of each part, as they are spelt.
    let mut spelt: [Vec<&str>; 3] = [Vec::new(), Vec::new(), Vec::new()];
    let mut scale = if unit == Unit::Millimetre { Some(1.0) } else { None };
    let mut unknown = false;
    let parts = [(0, before), (1, between), (2, after)];
    for (part, word) in parts.iter().flat_map(|(part, text)| text.split(' ').map(move |word| (*part, word))) {
        // A word after the second length, or after the only one, is about it.
        let about_first = part == 1 || second.is_none();
        let mut known = true;
        let mut right = word;
        match word {
            "" => continue,
            "mm" => scale = Some(1.0),
            "cm" => scale = Some(10.0),
            "in" | "ins" | "inch" | "inches" => scale = None,
            "sq" | "card" | "base" | "panel" | "strip" | "mat" => {}
            "w" | "wide" | "width" if part > 0 => {
                words.first_is = Some(if about_first { Direction::Wide } else { Direction::High });
            }
            "h" | "high" | "tall" | "height" if part > 0 => {
                words.first_is = Some(if about_first { Direction::High } else { Direction::Wide });
            }
            "dia" => words.named = Some(Named::Circle),
            _ => match KNOWN_WORDS.iter().find(|known| alike(word, known)) {
                Some(&shape) => {
                    right = shape;
                    words.named = Some(match shape {
                        "oval" | "ellipse" => Named::Oval,
                        "banner" => Named::Banner,
                        "square" => Named::Square,
                        _ => Named::Circle,
                    });
                }
                None => known = false,
            },
        }
        spelt[part].push(right);
        words.certain |= known;
        unknown |= !known;
    }
    // "3 cards" and "layout 12" are no sizes.
    if unknown && !(second.is_some() || marked) {
        return None;
    }
    let length = |number: &Number| -> Option<Length> {
        let (value, unit) = match scale {
            Some(mm) => (number.value * mm, Unit::Millimetre),
            None => (number.value, Unit::Inch),
        };
        let (length, off) = snap(value, unit, Step::Position)?;
        let per_in = if unit == Unit::Inch { 1.0 } else { 25.4 };
        (length.is_positive() && value / per_in <= LARGEST_IN && off.abs() / per_in <= OFF_GRID_IN)
            .then_some(length)
    };
    let mut lengths = vec![length(first)?];
    let mark = if marked { "\"" } else { "" };
    let one = format!("{}{mark}", first.text);
    let [before, between, after] = &spelt;
    let mut typed: Vec<&str> =
        before.iter().copied().chain([one.as_str()]).chain(between.iter().copied()).collect();
    let mut other = String::new();
    if let Some(second) = second {
        lengths.push(length(second)?);
        other = format!("x {}{mark}", second.text);
    }
    typed.extend((!other.is_empty()).then_some(other.as_str()));
    typed.extend(after);
    let text = typed.join(" ");
    Some((WrittenSize { lengths, words }, text))
}

/// Words for shapes, known even when a letter is misread.
const KNOWN_WORDS: [&str; 7] = ["circle", "round", "diameter", "oval", "ellipse", "banner", "square"];

/// Whether a word is a known one but for a letter or two misread.
fn alike(word: &str, known: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (word.chars().collect(), known.chars().collect());
    if a.len().abs_diff(b.len()) > 1 || a.len() < 3 {
        return false;
    }
    // Edit distance (Levenshtein), row by row.
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let change = corner + usize::from(x != y);
            corner = row[j + 1];
            row[j + 1] = change.min(row[j] + 1).min(corner + 1);
        }
    }
    row[b.len()] <= b.len() / 3
}

/// All the numbers that a text may start with, each with what comes after it.
fn numbers(text: &[char]) -> Vec<(Number, &[char])> {
    let mut out = Vec::new();
    let digits = text.iter().take_while(|c| c.is_ascii_digit()).count();
    let value =
        |from: usize, to: usize| text[from..to].iter().collect::<String>().parse::<f64>().unwrap_or(0.0);
    let mut add = |value: f64, text: String, rest| out.push((Number { value, text }, rest));
    // A whole number, with or without a decimal fraction.
    if digits > 0 && digits <= 3 && text[0] != '0' {
        add(value(0, digits), text[..digits].iter().collect(), &text[digits..]);
    }
    if text.get(digits) == Some(&'.') && digits <= 3 {
        let after = text[digits + 1..].iter().take_while(|c| c.is_ascii_digit()).count();
        let end = digits + 1 + after;
        if (1..=4).contains(&after) {
            let typed: String = text[..end].iter().collect();
            let typed = if digits == 0 { format!("0{typed}") } else { typed };
            add(typed.parse().unwrap_or(0.0), typed, &text[end..]);
        }
    }
    // A fraction, alone or after a whole number of one or two digits.
    for whole in 0..=digits.min(2) {
        if whole > 0 && text[0] == '0' {
            continue;
        }
        let skipped = text[whole..].iter().take_while(|c| matches!(c, ' ' | '-')).count();
        if whole == 0 && skipped > 0 {
            continue;
        }
        let base = if whole == 0 { 0.0 } else { value(0, whole) };
        let prefix: String = text[..whole].iter().chain((whole > 0).then_some(&' ')).collect();
        let rest = &text[whole + skipped..];
        if let Some(quarters) = rest.first().and_then(|c| vulgar(*c)) {
            let typed = ["", "1/4", "1/2", "3/4"][quarters];
            add(base + quarters as f64 / 4.0, format!("{prefix}{typed}"), &rest[1..]);
        }
        let top = rest.iter().take_while(|c| c.is_ascii_digit()).count();
        if (1..=2).contains(&top) && rest.get(top) == Some(&'/') {
            let bottom = rest[top + 1..].iter().take_while(|c| c.is_ascii_digit()).count();
            let number = |from: usize, to: usize| {
                rest[from..to].iter().collect::<String>().parse::<u32>().unwrap_or(0)
            };
            let over = number(0, top);
            for length in 1..=bottom.min(2) {
                let under = number(top + 1, top + 1 + length);
                // In lowest terms, as makers write.
                if matches!(under, 2 | 4 | 8 | 16) && over % 2 == 1 && over < under && rest[0] != '0' {
                    let end = top + 1 + length;
                    let typed: String = rest[..end].iter().collect();
                    add(base + f64::from(over) / f64::from(under), format!("{prefix}{typed}"), &rest[end..]);
                }
            }
        }
    }
    // A number does not end in the middle of its digits.
    out.retain(|(_, rest)| !rest.first().is_some_and(|c| c.is_ascii_digit() || matches!(c, '/' | '.')));
    out
}

fn without_spaces(text: &[char]) -> &[char] {
    &text[text.iter().take_while(|c| **c == ' ').count()..]
}

fn without_inch_marks(text: &[char]) -> (bool, &[char]) {
    let marks = text.iter().take_while(|c| **c == '"').count();
    (marks > 0, &text[marks..])
}

/// The character that stands for all that mean the same; `None` for what says
/// nothing.
fn canonical(c: char) -> Option<char> {
    Some(match c {
        'X' | '\u{d7}' => 'x',
        '\u{201d}' | '\u{201c}' | '\u{2033}' | '\u{2019}' | '\u{2018}' | '\u{2032}' | '\'' => '"',
        ',' => '.',
        ':' => ' ',
        '(' | ')' | '&' | '+' => return None,
        c => c.to_ascii_lowercase(),
    })
}

/// How many quarters a one-piece fraction stands for.
fn vulgar(c: char) -> Option<usize> {
    ['\u{bc}', '\u{bd}', '\u{be}'].iter().position(|v| *v == c).map(|i| i + 1)
}

fn is_vulgar(c: char) -> bool {
    vulgar(c).is_some()
}

/// What pens and cameras change for each other: of the probability of the
/// second character, this share may have been the first. Counted on lines in
/// handwriting faces.
const MISTAKEN: [(char, char, f32); 24] = [
    ('/', '1', 0.10),
    ('/', 'l', 0.15),
    ('/', 'i', 0.10),
    ('/', '7', 0.05),
    ('1', '/', 0.05),
    ('1', 'l', 0.50),
    ('1', 'i', 0.40),
    ('1', '7', 0.10),
    ('7', '1', 0.04),
    ('5', 's', 0.50),
    ('0', 'o', 0.50),
    ('2', 'z', 0.50),
    ('8', 'b', 0.20),
    ('6', 'b', 0.20),
    ('9', 'g', 0.20),
    ('4', 'q', 0.10),
    ('4', 'y', 0.10),
    ('4', 'a', 0.05),
    ('8', '3', 0.03),
    ('3', '8', 0.02),
    ('4', '9', 0.02),
    ('5', '3', 0.02),
    ('x', '+', 0.30),
    ('x', 'k', 0.30),
];

/// Which readings are followed further at each column.
const BEAM: usize = 48;
/// Characters less probable than this are not tried.
const LEAST_P: f32 = 2e-3;
/// The most readings handed on.
const MOST_CANDIDATES: usize = 16;

/// The most probable ways to read a line as a size, best first.
pub(super) fn candidates(columns: &Columns, unit: Unit) -> Vec<Candidate> {
    let (alphabet, probabilities) = merged(columns);
    let mut beam: BTreeMap<Vec<usize>, Path> = BTreeMap::new();
    beam.insert(Vec::new(), Path { states: Grammar::start(), blank: 1.0, inked: 0.0 });
    for column in &probabilities {
        let mut next: BTreeMap<Vec<usize>, Path> = BTreeMap::new();
        for (prefix, path) in &beam {
            let whole = path.blank + path.inked;
            let same = next.entry(prefix.clone()).or_insert(Path { states: path.states, ..Path::NONE });
            same.blank += whole * f64::from(column[0]);
            if let Some(&last) = prefix.last() {
                same.inked += path.inked * f64::from(column[last]);
            }
            for (c, &p) in column.iter().enumerate().skip(1) {
                if p < LEAST_P {
                    continue;
                }
                let states = Grammar::step(path.states, alphabet[c]);
                if states == 0 {
                    continue;
                }
                let from = if prefix.last() == Some(&c) { path.blank } else { whole };
                let mut longer = prefix.clone();
                longer.push(c);
                let entry = next.entry(longer).or_insert(Path { states, ..Path::NONE });
                entry.inked += from * f64::from(p);
            }
        }
        // Keep the best; equal ones by their text.
        let mut ranked: Vec<(Vec<usize>, Path)> = next.into_iter().collect();
        ranked.sort_by(|a, b| b.1.total().total_cmp(&a.1.total()).then(a.0.cmp(&b.0)));
        ranked.truncate(BEAM);
        beam = ranked.into_iter().collect();
    }
    let mut found: Vec<Candidate> = Vec::new();
    for (prefix, path) in beam {
        if path.states & Grammar::DONE == 0 || path.total() <= 0.0 {
            continue;
        }
        let text: String = prefix.iter().map(|c| alphabet[*c]).collect();
        let ways = parse(&text, unit);
        let share = path.total() / ways.len().max(1) as f64;
        for (size, text) in ways {
            match found.iter_mut().find(|candidate| candidate.size == size) {
                Some(candidate) => candidate.log_p = (candidate.log_p.exp() + share).ln(),
                None => found.push(Candidate { size, text, log_p: share.ln() }),
            }
        }
    }
    found.sort_by(|a, b| b.log_p.total_cmp(&a.log_p).then(a.size.cmp(&b.size)));
    found.truncate(MOST_CANDIDATES);
    found
}

/// A reading so far: what the grammar allows next, and the probability of the
/// columns up to here, ending in nothing or in its last character.
#[derive(Clone, Copy)]
struct Path {
    states: u64,
    blank: f64,
    inked: f64,
}

impl Path {
    const NONE: Path = Path { states: 0, blank: 0.0, inked: 0.0 };

    fn total(&self) -> f64 {
        self.blank + self.inked
    }
}

/// Characters that mean the same put together, and mistakes mixed in. Place 0
/// is "nothing here".
fn merged(columns: &Columns) -> (Vec<char>, Vec<Vec<f32>>) {
    let mut alphabet = vec!['\0'];
    let place: Vec<Option<usize>> = columns
        .characters
        .iter()
        .map(|character| {
            let Some(character) = character else { return Some(0) };
            let c = canonical(*character)?;
            Some(alphabet.iter().position(|other| *other == c).unwrap_or_else(|| {
                alphabet.push(c);
                alphabet.len() - 1
            }))
        })
        .collect();
    let of = |c: char| alphabet.iter().position(|other| *other == c);
    let probabilities = columns
        .probabilities
        .iter()
        .map(|column| {
            let mut out = vec![0.0f32; alphabet.len()];
            for (p, place) in column.iter().zip(&place) {
                if let Some(place) = place {
                    out[*place] += p;
                }
            }
            let seen = out.clone();
            for (meant, read, share) in MISTAKEN {
                if let (Some(meant), Some(read)) = (of(meant), of(read)) {
                    out[meant] += share * seen[read];
                }
            }
            out
        })
        .collect();
    (alphabet, probabilities)
}

/// How sizes are written: an automaton that is in several states at once, one
/// bit each. It lets a few texts through that are no sizes; [`parse`] has the
/// last word.
struct Grammar;

/// States of a number; the second number's are shifted.
mod state {
    pub(super) const START: u32 = 0;
    pub(super) const WHOLE_1: u32 = 1;
    pub(super) const WHOLE_2: u32 = 2;
    pub(super) const WHOLE_3: u32 = 3;
    pub(super) const GAP: u32 = 4;
    /// After the numerator 1, 3, 5, 7, and 9, 11, 13, 15.
    pub(super) const OVER_1: u32 = 5;
    pub(super) const OVER_3: u32 = 6;
    pub(super) const OVER_5: u32 = 7;
    pub(super) const OVER_9: u32 = 8;
    /// After the slash.
    pub(super) const UNDER_1: u32 = 9;
    pub(super) const UNDER_3: u32 = 10;
    pub(super) const UNDER_5: u32 = 11;
    pub(super) const UNDER_9: u32 = 12;
    pub(super) const SIXTEEN: u32 = 13;
    pub(super) const FRACTION: u32 = 14;
    pub(super) const POINT: u32 = 15;
    pub(super) const DECIMAL: u32 = 16;
    pub(super) const MARK: u32 = 17;
    pub(super) const WORDS: u32 = 18;
    /// States of one number with what follows it.
    pub(super) const COUNT: u32 = 19;
    /// Words before the first number.
    pub(super) const BEFORE: u32 = 2 * COUNT;
    /// After the b of "by".
    pub(super) const B: u32 = BEFORE + 1;
}

impl Grammar {
    const ENDS: u64 = 1 << state::WHOLE_1
        | 1 << state::WHOLE_2
        | 1 << state::WHOLE_3
        | 1 << state::FRACTION
        | 1 << state::DECIMAL
        | 1 << state::MARK
        | 1 << state::WORDS;
    /// States in which a text may end.
    const DONE: u64 = Grammar::ENDS | Grammar::ENDS << state::COUNT;

    fn start() -> u64 {
        1 << state::START | 1 << state::BEFORE
    }

    /// The states after one more character.
    fn step(states: u64, c: char) -> u64 {
        const FIRST: u64 = (1 << state::COUNT) - 1;
        let second = (states >> state::COUNT) & FIRST;
        let mut next = Grammar::number(states & FIRST, c) | Grammar::number(second, c) << state::COUNT;
        let has = |bit: u32| states & 1 << bit != 0;
        if has(state::BEFORE) && (c.is_ascii_alphabetic() || c == ' ') {
            next |= 1 << state::BEFORE;
            if c == ' ' {
                next |= 1 << state::START;
            }
        }
        // From the first number to the second.
        let second_starts = 1 << (state::COUNT + state::START);
        let first_ended = states & Grammar::ENDS != 0;
        if first_ended && c == 'x' || has(state::B) && c == 'y' {
            next |= second_starts;
        }
        if first_ended && c == 'b' {
            next |= 1 << state::B;
        }
        if has(state::COUNT + state::START) && c == ' ' {
            next |= second_starts;
        }
        next
    }

    fn number(states: u64, c: char) -> u64 {
        use state::{
            DECIMAL, FRACTION, GAP, MARK, OVER_1, OVER_3, OVER_5, OVER_9, POINT, SIXTEEN, START, UNDER_1,
            UNDER_3, UNDER_5, UNDER_9, WHOLE_1, WHOLE_2, WHOLE_3, WORDS,
        };
        let from = |bits: &[u32]| bits.iter().any(|bit| states & 1 << bit != 0);
        let mut next = 0u64;
        let mut go = |to: u32, fine: bool| next |= u64::from(fine) << to;
        let fraction_may_start = from(&[START, WHOLE_1, WHOLE_2, GAP]);
        match c {
            '0'..='9' => {
                go(WHOLE_1, from(&[START]) && c != '0');
                go(WHOLE_2, from(&[WHOLE_1]));
                go(WHOLE_3, from(&[WHOLE_2]));
                go(OVER_1, fraction_may_start && c == '1');
                go(OVER_3, fraction_may_start && c == '3');
                go(OVER_5, fraction_may_start && matches!(c, '5' | '7'));
                go(OVER_9, fraction_may_start && c == '9');
                go(OVER_9, from(&[OVER_1]) && matches!(c, '1' | '3' | '5'));
                go(FRACTION, from(&[UNDER_1]) && matches!(c, '2' | '4' | '8'));
                go(FRACTION, from(&[UNDER_3]) && matches!(c, '4' | '8'));
                go(FRACTION, from(&[UNDER_5]) && c == '8');
                go(SIXTEEN, from(&[UNDER_1, UNDER_3, UNDER_5, UNDER_9]) && c == '1');
                go(FRACTION, from(&[SIXTEEN]) && c == '6');
                go(DECIMAL, from(&[POINT, DECIMAL]));
            }
            '/' => {
                go(UNDER_1, from(&[OVER_1]));
                go(UNDER_3, from(&[OVER_3]));
                go(UNDER_5, from(&[OVER_5]));
                go(UNDER_9, from(&[OVER_9]));
            }
            '.' => go(POINT, from(&[START, WHOLE_1, WHOLE_2, WHOLE_3])),
            ' ' | '-' => {
                go(GAP, from(&[WHOLE_1, WHOLE_2, GAP]));
                go(WORDS, c == ' ' && states & Grammar::ENDS != 0);
            }
            '"' => go(MARK, from(&[WHOLE_1, WHOLE_2, FRACTION, DECIMAL, MARK])),
            c if is_vulgar(c) => go(FRACTION, fraction_may_start),
            c if c.is_ascii_alphabetic() && c != 'x' => go(WORDS, states & Grammar::ENDS != 0),
            _ => {}
        }
        next
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The ways a text is a size, as it would be typed.
    fn ways(text: &str) -> Vec<String> {
        parse(text, Unit::Inch).into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn sizes_as_makers_write_them() {
        let rows: [(&str, &str); 12] = [
            ("3 x 4 1/4", "3 x 4 1/4"),
            ("2\u{bd}\"", "2 1/2\""),
            ("4.25 x 5.5", "4.25 x 5.5"),
            ("3 in circle", "3 in circle"),
            ("4-1/4\" X 7/8\"", "4 1/4\" x 7/8\""),
            ("4\u{d7}5V4", ""),
            ("1 5/8 circIe", "1 5/8 circle"),
            ("2 1/2\u{201d} x 1 5/8\u{201d} ova1", ""),
            ("3 by 4", "3 x 4"),
            ("2 in wide", "2 in wide"),
            ("strip 1 x 4", "strip 1 x 4"),
            ("11/16", "11/16"),
        ];
        for (written, typed) in rows {
            let got = ways(written);
            let fine = if typed.is_empty() { got.is_empty() } else { got.iter().any(|way| way == typed) };
            assert!(fine, "{written}: {got:?}");
        }
    }

    #[test]
    fn words_and_numbers_that_are_no_sizes() {
        for text in ["sentiment", "layout 36", "39 pieces", "4 114", "20 x 3", "0", "for Nora", "2318", ""] {
            assert!(ways(text).is_empty(), "{text}: {:?}", ways(text));
        }
    }

    #[test]
    fn a_fraction_run_together_is_read_both_ways() {
        let lengths = |text: &str| -> Vec<Vec<Length>> {
            parse(text, Unit::Inch).into_iter().map(|(size, _)| size.lengths).collect()
        };
        assert_eq!(lengths("13/8"), [[Length::eighths(11)]]);
        let both = lengths("113/16");
        assert!(both.contains(&vec![Length::sixteenths(29)]), "1 13/16: {both:?}");
        assert!(both.contains(&vec![Length::sixteenths(11 * 16 + 3)]), "11 3/16: {both:?}");
        assert_eq!(lengths("21/4x33/4"), [[Length::eighths(18), Length::eighths(30)]]);
    }

    #[test]
    fn millimetres_where_the_card_or_the_word_says_so() {
        let first = |text: &str, unit| parse(text, unit)[0].0.lengths.clone();
        assert_eq!(first("105 x 148", Unit::Millimetre), [105, 148].map(Length::millimetres));
        assert_eq!(first("60 mm", Unit::Inch), [Length::millimetres(60)]);
        assert_eq!(first("2.5 cm circle", Unit::Inch), [Length::millimetres(25)]);
        assert!(parse("105 x 148", Unit::Inch).is_empty(), "no card is that large in inches");
    }

    /// Columns that say a text, each character sure but for those given.
    fn columns(text: &str, doubts: &[(usize, char, f32)]) -> Columns {
        let mut characters = vec![None];
        characters.extend("0123456789/x\" abcdefghijklmnopqrstuvwxyz".chars().map(Some));
        let place = |c: char| characters.iter().position(|other| *other == Some(c)).unwrap();
        let mut probabilities = Vec::new();
        for (i, c) in text.chars().enumerate() {
            let mut column = vec![0.0; characters.len()];
            let doubt = doubts.iter().find(|(at, ..)| *at == i);
            column[place(c)] = 1.0 - doubt.map_or(0.0, |(_, _, p)| *p);
            if let Some((_, other, p)) = doubt {
                column[place(*other)] = *p;
            }
            probabilities.push(column);
            let mut between = vec![0.0; characters.len()];
            between[0] = 1.0;
            probabilities.push(between);
        }
        Columns { characters, probabilities }
    }

    #[test]
    fn usual_misreadings_are_put_right() {
        for (read, meant) in [
            ("4 114", "4 1/4"),
            ("718", "7/8"),
            ("s 1/2", "5 1/2"),
            ("13/8", "1 3/8"),
            ("4 114x 1 518", "4 1/4 x 1 5/8"),
            ("l l/2", "1 1/2"),
        ] {
            let got = candidates(&columns(read, &[]), Unit::Inch);
            assert!(
                got.iter().any(|candidate| candidate.text == meant),
                "{read}: {:?}",
                got.iter().map(|candidate| &candidate.text).collect::<Vec<_>>()
            );
        }
        assert!(candidates(&columns("thank you", &[]), Unit::Inch).is_empty());
    }

    #[test]
    fn what_was_half_seen_is_handed_on_with_its_probability() {
        let got = candidates(&columns("2 1/8", &[(2, '7', 0.3)]), Unit::Inch);
        let p = |text: &str| got.iter().find(|c| c.text == text).map_or(0.0, |c| c.log_p.exp());
        assert!((p("2 1/8") - 0.7).abs() < 0.1, "{got:?}");
        assert!((p("2 7/8") - 0.3).abs() < 0.1, "{got:?}");
    }
}
