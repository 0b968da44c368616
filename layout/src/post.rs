//! What a post office calls an envelope, by its published limits. Never a
//! price: prices and limits change, so every answer names its source and when
//! that was checked, and the last word is the post office's.

use crate::length::{Length, Unit};

/// An envelope ready to be posted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Posted {
    /// Longer side: the address is written along it.
    pub length: Length,
    /// Shorter side.
    pub height: Length,
    /// Thickness in inches.
    pub thickness_in: f64,
    /// Whether something hard or uneven may be in it: marks, or foam.
    pub may_be_uneven: bool,
}

/// What one post office calls it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Class {
    /// Whose limits.
    pub service: &'static str,
    /// What it is called there, with the weight that goes with it.
    pub class: &'static str,
    /// Why it is no better class; a sentence each.
    pub because: Vec<String>,
    /// What has to be looked at by hand.
    pub look_at: Vec<String>,
    /// Where the limits stand.
    pub source: &'static str,
}

impl Class {
    /// The answer as one line, without its source.
    pub fn words(&self) -> String {
        let because = if self.because.is_empty() {
            String::new()
        } else {
            format!(", because {}", self.because.join("; "))
        };
        let mut line = format!("{}: {}{because}.", self.service, self.class);
        for words in &self.look_at {
            line.push(' ');
            line.push_str(&crate::advice::capital(words));
            line.push('.');
        }
        line
    }
}

/// When the limits were checked against their sources.
pub const CHECKED: &str = "November 2026";
/// What goes with every answer.
pub const CHECK_AGAIN: &str = "Limits change: check with your post office.";

const US: &str = "US Postal Service";
const US_SOURCE: &str = "Domestic Mail Manual 101, sections 1.1, 1.2 and 2.1, in a copy of January 2010; the same \
                         numbers stand on the service's later pages for customers";
const UK_SOURCE: &str = "sizes: the regulator's page for consumers; weights: trade pages";
const CANADA_SOURCE: &str = "sizes and weights: Canada Post's page of letter sizes; thickness: trade pages";
const UPU_SOURCE: &str = "Letter Post Regulations, article 203, as a postal operator gives it (an older edition); \
                          small and large letters from memory";

/// Classes at the post offices whose limits are known.
pub fn classes(posted: &Posted) -> Vec<Class> {
    vec![us(posted), royal_mail(posted), canada(posted), upu(posted)]
}

/// US letter: length 5 to 11 1/2, height 3 1/2 to 6 1/8, thickness 0.007 to
/// 1/4. Nonmachinable: length over height under 1.3 or over 2.5, uneven, or
/// over 4 1/4 high or 6 long and under 0.009 thick.
fn us(posted: &Posted) -> Class {
    let Posted { length, height, thickness_in, .. } = *posted;
    let mut class = Class {
        service: US,
        class: "a letter (up to 3.5 oz; heavier pays as a large envelope)",
        because: Vec::new(),
        look_at: Vec::new(),
        source: US_SOURCE,
    };
    let shown = |length: Length| length.show(Unit::Inch);
    if length < Length::inches(5) || height < Length::eighths(28) || thickness_in < 0.007 {
        class.class = "too small for a letter";
        class.because.push("a letter is at least 5 in long, 3 1/2 high and 0.007 thick".to_owned());
        return class;
    }
    if length > Length::eighths(92) {
        class.because.push(format!("it is {} in long: over 11 1/2", shown(length)));
    }
    if height > Length::eighths(49) {
        class.because.push(format!("it is {} in high: over 6 1/8", shown(height)));
    }
    if thickness_in > 0.25 {
        class.because.push(format!("it is {thickness_in:.2} in thick: over 1/4"));
    }
    if !class.because.is_empty() {
        class.class = "larger than a letter: a large envelope or a parcel";
        return class;
    }
    if length * 10 < height * 13 {
        class.because.push("it is less than 1.3 times as long as high".to_owned());
    }
    if length * 2 > height * 5 {
        class.because.push("it is more than 2.5 times as long as high".to_owned());
    }
    if (height > Length::eighths(34) || length > Length::inches(6)) && thickness_in < 0.009 {
        class.because.push("it is over 4 1/4 in high or 6 long and under 0.009 thick".to_owned());
    }
    if !class.because.is_empty() {
        class.class = "a letter, nonmachinable (up to 3.5 oz)";
    }
    if posted.may_be_uneven {
        class.look_at.push(
            "nonmachinable if foam, buttons, clasps or string make it uneven, or if it is too stiff to bend round a \
             drum 11 in across"
                .to_owned(),
        );
    }
    class.look_at.push("nonmachinable if the address runs along the short side".to_owned());
    class
}

/// A box of a class: longest and shortest side and thickness in millimetres.
struct Limit {
    class: &'static str,
    mm: [f64; 3],
}

impl Limit {
    const fn new(class: &'static str, length: f64, height: f64, thickness: f64) -> Limit {
        Limit { class, mm: [length, height, thickness] }
    }

    /// Why an envelope is over it.
    fn over(&self, posted: &Posted) -> Vec<String> {
        const WORDS: [&str; 3] = ["long", "high", "thick"];
        // What converting a thickness may add.
        const NOTHING_MM: f64 = 1e-6;
        let sizes = posted.mm();
        let all = WORDS.iter().zip(sizes).zip(self.mm);
        all.filter(|((_, size), most)| *size > most + NOTHING_MM)
            .map(|((word, size), most)| format!("it is {} mm {word}: over {most}", tenths(size)))
            .collect()
    }
}

impl Posted {
    /// Length, height and thickness in millimetres.
    fn mm(&self) -> [f64; 3] {
        [self.length.value(Unit::Millimetre), self.height.value(Unit::Millimetre), self.thickness_in * 25.4]
    }
}

/// The first class whose box takes it, and why no class before does.
fn first(posted: &Posted, limits: &[Limit], beyond: &'static str) -> (&'static str, Vec<String>) {
    let mut because = Vec::new();
    for limit in limits {
        let over = limit.over(posted);
        if over.is_empty() {
            return (limit.class, because);
        }
        because = over;
    }
    (beyond, because)
}

/// UK: letter 240 x 165 x 5 mm, 100 g; large letter 353 x 250 x 25 mm, 750 g.
fn royal_mail(posted: &Posted) -> Class {
    let (class, because) = first(
        posted,
        &[
            Limit::new("a letter (up to 100 g)", 240.0, 165.0, 5.0),
            Limit::new("a large letter (up to 750 g)", 353.0, 250.0, 25.0),
        ],
        "a parcel",
    );
    Class { service: "Royal Mail", class, because, look_at: Vec::new(), source: UK_SOURCE }
}

/// Canada: standard 140 x 90 to 245 x 156 mm, 0.18 to 5 mm, 50 g; the larger
/// class to 380 x 270 x 20 mm, 500 g; to the US or abroad at most 235 x 120.
fn canada(posted: &Posted) -> Class {
    let [length, height, thickness] = posted.mm();
    let mut look_at = Vec::new();
    let (class, because) = if length < 140.0 || height < 90.0 || thickness < 0.18 {
        let least = "standard mail is at least 140 x 90 mm and 0.18 mm thick".to_owned();
        ("too small for standard mail", vec![least])
    } else {
        first(
            posted,
            &[
                Limit::new("standard (up to 50 g)", 245.0, 156.0, 5.0),
                Limit::new("the larger class of letters (up to 500 g)", 380.0, 270.0, 20.0),
            ],
            "a parcel",
        )
    };
    if length > 235.0 || height > 120.0 {
        look_at.push("a card to the US or abroad is at most 235 x 120 mm".to_owned());
    }
    Class { service: "Canada Post", class, because, look_at, source: CANADA_SOURCE }
}

/// UPU, from country to country: standardized 90 x 140 to 120 x 235 mm (2 mm
/// more or less), to 5 mm, 20 g, at least 1.4 times as long as high; small
/// letters to 165 x 245 x 5 mm, large ones to 305 x 381 x 20 mm.
fn upu(posted: &Posted) -> Class {
    const GIVE: f64 = 2.0;
    let [length, height, _] = posted.mm();
    let mut because = Limit::new("", 235.0 + GIVE, 120.0 + GIVE, 5.0).over(posted);
    if length < 140.0 - GIVE || height < 90.0 - GIVE {
        because.push("it is smaller than 140 x 90 mm".to_owned());
    }
    if posted.length * 5 < posted.height * 7 {
        because.push("it is less than 1.4 times as long as high".to_owned());
    }
    let class = if because.is_empty() {
        "standardized (up to 20 g)"
    } else {
        let limits = [
            Limit::new("a small letter (up to 100 g)", 245.0, 165.0, 5.0),
            Limit::new("a large letter (up to 500 g)", 381.0, 305.0, 20.0),
        ];
        first(posted, &limits, "larger than a letter").0
    };
    Class {
        service: "From country to country (UPU)",
        class,
        because,
        look_at: Vec::new(),
        source: UPU_SOURCE,
    }
}

fn tenths(value: f64) -> String {
    crate::drawing::tidy((value * 10.0).round() / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::envelope::Envelope;

    fn posted(length: Length, height: Length, thickness_in: f64) -> Posted {
        Posted { length, height, thickness_in, may_be_uneven: false }
    }

    fn named(name: &str) -> Posted {
        let envelope = Envelope::table().find(|envelope| envelope.name == name).unwrap();
        posted(envelope.length, envelope.height, 0.05)
    }

    fn square(side: &str) -> Posted {
        let side = side.parse().unwrap();
        posted(side, side, 0.05)
    }

    fn check(posted: &Posted, service: &str, class: &str, because: &str) {
        let all = classes(posted);
        let found = all.iter().find(|class| class.service.contains(service)).unwrap();
        assert!(found.class.starts_with(class), "{posted:?}: {found:?}");
        assert!(found.because.join("; ").contains(because), "{posted:?}: {found:?}");
        assert_eq!(found.because.is_empty(), because.is_empty(), "{found:?}");
    }

    /// Computed from the US rule of 1.3 to 2.5: every named envelope passes,
    /// A2 only just (1.3143). Any square fails.
    #[test]
    fn every_named_envelope_has_a_shape_that_machines_take() {
        for envelope in Envelope::table().filter(|envelope| envelope.name != "C4") {
            let us = us(&posted(envelope.length, envelope.height, 0.05));
            let shape = us.because.iter().any(|why| why.contains("times as long"));
            assert!(!shape, "{}: {us:?}", envelope.name);
        }
        let a2 = named("A2");
        assert!((a2.length.value(Unit::Inch) / a2.height.value(Unit::Inch) - 1.3143).abs() < 1e-4);
        for side in ["5 1/4", "5 1/2", "6"] {
            check(&square(side), "US", "a letter, nonmachinable", "less than 1.3 times");
        }
    }

    /// Computed: a 6 1/2 square is over US 6 1/8 and, at 165.1 mm, over UK 165
    /// by 0.1 mm; 6 1/4 (158.75 mm) passes UK, fails US 6 1/8 and Canada 156;
    /// A7 (133.35 mm) is over UPU 120.
    #[test]
    fn squares_and_a7_fall_between_the_classes() {
        check(&square("6 1/2"), "US", "larger than a letter", "6 1/2 in high: over 6 1/8");
        check(&square("6 1/2"), "Royal", "a large letter", "165.1 mm high: over 165");
        check(&square("6 1/4"), "Royal", "a letter", "");
        check(&square("6 1/4"), "US", "larger than a letter", "6 1/4 in high: over 6 1/8");
        check(&square("6 1/4"), "Canada", "the larger class", "158.8 mm high: over 156");
        check(&named("A7"), "UPU", "a small letter", "133.4 mm high: over 122");
    }

    /// Computed: two 1/8 foams make 0.319 in, over US 1/4; 0.194 in is 4.93 mm,
    /// under the 5 mm of the others.
    #[test]
    fn thickness_counts() {
        let thick = |inches| Posted { thickness_in: inches, ..named("A2") };
        check(&thick(0.319), "US", "larger than a letter", "0.32 in thick: over 1/4");
        check(&thick(0.319), "Royal", "a large letter", "8.1 mm thick: over 5");
        check(&thick(0.194), "US", "a letter (", "");
        check(&thick(0.194), "Royal", "a letter", "");
        check(&thick(0.194), "Canada", "standard", "");
        check(&thick(0.006), "US", "too small", "0.007");
        check(&thick(0.008), "US", "a letter, nonmachinable", "under 0.009");
    }

    /// The published edges themselves.
    #[test]
    fn limits_are_still_inside() {
        let us = |length: &str, height: &str| posted(length.parse().unwrap(), height.parse().unwrap(), 0.25);
        check(&us("11 1/2", "6 1/8"), "US", "a letter (", "");
        check(&us("5", "3 1/2"), "US", "a letter (", "");
        check(&us("4 15/16", "3 1/2"), "US", "too small", "at least 5");
        check(&us("11 9/16", "6 1/8"), "US", "larger", "over 11 1/2");
        // 1.3 and 2.5 times, exactly.
        check(&us("6 1/2", "5"), "US", "a letter (", "");
        check(&us("10", "4"), "US", "a letter (", "");
        check(&us("10 1/8", "4"), "US", "a letter, nonmachinable", "more than 2.5");
        let mm = |length, height, thick: f64| {
            posted(Length::millimetres(length), Length::millimetres(height), thick / 25.4)
        };
        check(&mm(240, 165, 5.0), "Royal", "a letter", "");
        check(&mm(353, 250, 25.0), "Royal", "a large letter", "over");
        check(&mm(353, 251, 25.0), "Royal", "a parcel", "over 250");
        check(&mm(245, 156, 5.0), "Canada", "standard", "");
        check(&mm(139, 90, 1.0), "Canada", "too small", "140 x 90");
        check(&mm(380, 270, 20.0), "Canada", "the larger class", "over");
        check(&mm(235, 120, 5.0), "UPU", "standardized", "");
        check(&mm(140, 100, 1.0), "UPU", "standardized", "");
        check(&mm(139, 100, 1.0), "UPU", "a small letter", "1.4 times");
        check(&mm(381, 305, 20.0), "UPU", "a large letter", "over");
        check(&mm(382, 305, 20.0), "UPU", "larger than a letter", "over");
    }

    #[test]
    fn what_only_a_look_can_tell_is_said() {
        let words = classes(&square("6 1/4"))[1].words();
        assert_eq!(words, "Royal Mail: a letter (up to 100 g).");
        let uneven = Posted { may_be_uneven: true, ..named("A2") };
        let look = |posted| classes(posted)[0].look_at.join("; ");
        assert!(look(&uneven).contains("buttons") && !look(&named("A2")).contains("buttons"));
        assert!(classes(&named("C5"))[2].look_at[0].contains("235 x 120"));
    }
}
