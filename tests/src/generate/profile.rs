//! The kinds of picture, and what each leaves to chance.

use std::str::FromStr;

use super::camera::Pose;
use super::compose::{Card, Wishes};
use super::dice::Dice;
use super::hand::Hand;
use super::scene::Ruling;

/// A kind of picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Profile {
    /// Printed line art on a flat scanner.
    PrintScan,
    /// Printed line art, phone photo.
    PrintPhoto,
    /// Pen, phone photo.
    PenPhoto,
    /// Coloured marker, phone photo.
    Marker,
    /// Pencil, phone photo.
    PencilPhoto,
    /// One to nine layouts on a page.
    Notebook,
    /// Printed colour: filled panels, patterns, soft shadows.
    PrintFill,
    /// Shapes that run off the card.
    Bleed,
    /// The paper itself is the card: no outline drawn.
    PaperCard,
    /// What spoils a photo: glare, fold, finger, blur, coarse JPEG, few pixels.
    HardPhoto,
}

impl Profile {
    /// All of them.
    pub const ALL: [Profile; 10] = [
        Profile::PrintScan,
        Profile::PrintPhoto,
        Profile::PenPhoto,
        Profile::Marker,
        Profile::PencilPhoto,
        Profile::Notebook,
        Profile::PrintFill,
        Profile::Bleed,
        Profile::PaperCard,
        Profile::HardPhoto,
    ];

    /// Its word on the command line and in the answer.
    pub const fn word(self) -> &'static str {
        match self {
            Profile::PrintScan => "print-scan",
            Profile::PrintPhoto => "print-photo",
            Profile::PenPhoto => "pen-photo",
            Profile::Marker => "marker",
            Profile::PencilPhoto => "pencil-photo",
            Profile::Notebook => "notebook",
            Profile::PrintFill => "print-fill",
            Profile::Bleed => "bleed",
            Profile::PaperCard => "paper-card",
            Profile::HardPhoto => "hard-photo",
        }
    }
}

/// Why an order cannot be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OrderError {
    /// No such kind of picture.
    #[error(
        "no profile is called \"{0}\": use print-scan, print-photo, pen-photo, marker, pencil-photo, notebook, print-fill, bleed, paper-card or hard-photo"
    )]
    Profile(String),
    /// No such card.
    #[error("no card is called \"{0}\" here: use A2, 5x7, square, A6 or slimline")]
    Card(String),
    /// No such ruling.
    #[error("no ruling is called \"{0}\": use plain, ruled, grid or dotted")]
    Ruling(String),
    /// A number that makes no picture.
    #[error("{0}")]
    Number(&'static str),
}

impl FromStr for Profile {
    type Err = OrderError;

    fn from_str(word: &str) -> Result<Profile, OrderError> {
        Profile::ALL
            .into_iter()
            .find(|profile| profile.word() == word)
            .ok_or_else(|| OrderError::Profile(word.to_owned()))
    }
}

/// What is asked for: a kind of picture, a seed, and anything that shall not
/// be left to chance.
#[derive(Clone, Debug)]
pub struct Order {
    /// Kind of picture.
    pub profile: Profile,
    /// Seed of the series.
    pub seed: u64,
    /// Number of the picture in the series, from 1.
    pub number: u64,
    /// Card, as in `A2`; by chance if `None`.
    pub card: Option<String>,
    /// Whether the card lies; by chance if `None`.
    pub lying: Option<bool>,
    /// `plain`, `ruled`, `grid` or `dotted`.
    pub ruling: Option<String>,
    /// Layouts on the page, 1 to 9.
    pub layouts: Option<usize>,
    /// EXIF orientation: 1, 3, 6 or 8.
    pub exif: Option<u8>,
    /// Pixels of the picture's longer side, 300 to 6000.
    pub long_side: Option<usize>,
    /// JPEG quality, 20 to 95; by chance, and PNG for some scans, if `None`.
    pub jpeg_quality: Option<u8>,
    /// Few shapes, a careful hand and kind light.
    pub easy: bool,
}

impl Order {
    /// Everything but kind, seed and number left to chance.
    pub const fn new(profile: Profile, seed: u64, number: u64) -> Order {
        Order {
            profile,
            seed,
            number,
            card: None,
            lying: None,
            ruling: None,
            layouts: None,
            exif: None,
            long_side: None,
            jpeg_quality: None,
            easy: false,
        }
    }

    /// Checks what was asked for.
    pub fn checked(self) -> Result<Order, OrderError> {
        if let Some(card) = &self.card
            && Card::named(card, false).is_none()
        {
            return Err(OrderError::Card(card.clone()));
        }
        if let Some(ruling) = &self.ruling
            && Ruling::named(ruling).is_none()
        {
            return Err(OrderError::Ruling(ruling.clone()));
        }
        if self.layouts.is_some_and(|count| !(1..=9).contains(&count)) {
            return Err(OrderError::Number("a page holds 1 to 9 layouts"));
        }
        if self.exif.is_some_and(|flag| ![1, 3, 6, 8].contains(&flag)) {
            return Err(OrderError::Number("an EXIF orientation here is 1, 3, 6 or 8"));
        }
        if self.long_side.is_some_and(|side| !(300..=6000).contains(&side)) {
            return Err(OrderError::Number("the longer side is 300 to 6000 pixels"));
        }
        if self.jpeg_quality.is_some_and(|quality| !(20..=95).contains(&quality)) {
            return Err(OrderError::Number("a JPEG quality here is 20 to 95"));
        }
        Ok(self)
    }
}

/// What draws the lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Tool {
    Print,
    Pen,
    Pencil,
    Marker,
}

impl Tool {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Tool::Print => "print",
            Tool::Pen => "pen",
            Tool::Pencil => "pencil",
            Tool::Marker => "marker",
        }
    }
}

/// What takes the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Medium {
    Photo,
    Scan,
    Screen,
}

impl Medium {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Medium::Photo => "photo",
            Medium::Scan => "scan",
            Medium::Screen => "screen",
        }
    }
}

/// Everything settled before the first line is drawn.
pub(super) struct Plan {
    pub(super) tool: Tool,
    pub(super) medium: Medium,
    pub(super) ruling: Ruling,
    pub(super) count: usize,
    pub(super) card: Card,
    pub(super) hand: Hand,
    pub(super) neat: &'static str,
    pub(super) drawn_through: bool,
    pub(super) wishes: Wishes,
    /// Filled panels instead of lines.
    pub(super) filled: bool,
    pub(super) paper_card: bool,
    pub(super) effects: Vec<&'static str>,
    pub(super) exif: u8,
    /// Picture width and height, pixels.
    pub(super) size: [usize; 2],
    pub(super) jpeg_quality: Option<u8>,
    pub(super) noise: f64,
    pub(super) defocus: f64,
    pub(super) pose: Pose,
}

/// Settles what the order leaves open.
pub(super) fn plan(dice: &mut Dice, order: &Order) -> Plan {
    let profile = order.profile;
    let hand_tool = |dice: &mut Dice| *dice.pick(&[Tool::Pen, Tool::Pen, Tool::Pencil, Tool::Marker]);
    let (tool, medium) = match profile {
        Profile::PrintScan => (Tool::Print, Medium::Scan),
        Profile::PrintPhoto => (Tool::Print, Medium::Photo),
        Profile::PenPhoto => (Tool::Pen, Medium::Photo),
        Profile::Marker => (Tool::Marker, Medium::Photo),
        Profile::PencilPhoto => (Tool::Pencil, Medium::Photo),
        Profile::Notebook => (
            *dice.pick(&[Tool::Pen, Tool::Pen, Tool::Pencil]),
            if dice.chance(0.15) { Medium::Scan } else { Medium::Photo },
        ),
        Profile::PrintFill => (Tool::Print, *dice.pick(&[Medium::Scan, Medium::Photo, Medium::Screen])),
        Profile::Bleed => {
            if dice.chance(0.4) {
                (Tool::Print, *dice.pick(&[Medium::Scan, Medium::Photo]))
            } else {
                (hand_tool(dice), Medium::Photo)
            }
        }
        Profile::PaperCard => (if dice.chance(0.4) { Tool::Print } else { hand_tool(dice) }, Medium::Photo),
        Profile::HardPhoto => (if dice.chance(0.25) { Tool::Print } else { hand_tool(dice) }, Medium::Photo),
    };
    let printed = tool == Tool::Print;
    let ruled_share = if profile == Profile::Notebook { 0.75 } else { 0.3 };
    let ruling = match &order.ruling {
        Some(word) => Ruling::named(word).unwrap_or(Ruling::Plain),
        None if printed || !dice.chance(ruled_share) => Ruling::Plain,
        None => *dice.pick(&[Ruling::Ruled, Ruling::Grid, Ruling::Dotted]),
    };
    let count = order.layouts.unwrap_or_else(|| {
        if profile == Profile::Notebook { *dice.pick(&[1, 2, 2, 3, 4, 4, 4, 6, 6, 8, 9]) } else { 1 }
    });
    let card = match &order.card {
        Some(name) => {
            let lying = order.lying.unwrap_or_else(|| dice.chance(0.3));
            Card::named(name, lying).unwrap_or_else(|| Card::any(dice))
        }
        None => match order.lying {
            Some(lying) => Card::named("A2", lying).unwrap_or_else(|| Card::any(dice)),
            None => Card::any(dice),
        },
    };
    let loose = !order.easy && dice.chance(0.4);
    let (hand, neat) = if printed {
        (Hand::PRINTED, "exact")
    } else if loose {
        // sd of edges as in notebooks: 0.05 in where the hand hurries.
        (
            Hand { sd: 0.05, slack: dice.range(0.45, 0.75), doubled: 0.16, joined: dice.range(0.2, 0.7) },
            "loose",
        )
    } else {
        (
            Hand {
                sd: dice.range(0.02, 0.03),
                slack: dice.range(0.18, 0.42),
                doubled: 0.04,
                joined: dice.range(0.3, 0.8),
            },
            "careful",
        )
    };
    let mut effects = Vec::new();
    if profile == Profile::HardPhoto {
        let all = [
            "glare",
            "crease",
            "finger",
            "defocus",
            "coarse-jpeg",
            "low-res",
            "coffee",
            "motion",
            "show-through",
            "rubbed-out",
        ];
        effects.push(*dice.pick(&all));
        let second = *dice.pick(&all);
        if dice.chance(0.5) && !effects.contains(&second) {
            effects.push(second);
        }
    }
    let hard = |word: &str| effects.contains(&word);
    let ratio = 0.75; // phones' 4:3
    let long = order.long_side.map_or_else(
        || {
            if hard("low-res") {
                dice.range(480.0, 720.0)
            } else {
                // Pages of many layouts are taken with all the pixels there are.
                *dice.pick(match count {
                    1 if medium == Medium::Scan => &[1650.0, 2200.0, 2200.0, 3300.0], // 150 to 300 dpi
                    1 => &[1600.0, 2048.0, 2048.0, 2592.0, 2592.0],
                    2 | 3 => &[2048.0, 2048.0, 2592.0, 2592.0, 3264.0],
                    _ => &[2048.0, 2592.0, 2592.0, 3264.0, 4032.0],
                })
            }
        },
        |side| side as f64,
    );
    let wide = if count > 1 { dice.chance(0.25) } else { card.width > card.height || dice.chance(0.15) };
    let whole = super::canvas::pixel;
    let size = if wide {
        [whole(long, 6000), whole(long * ratio, 6000)]
    } else {
        [whole(long * ratio, 6000), whole(long, 6000)]
    };
    let photo = medium == Medium::Photo;
    let exif = order.exif.unwrap_or_else(|| if photo { *dice.pick(&[1, 1, 1, 6, 6, 8, 3]) } else { 1 });
    let most_tilt = if order.easy { 14.0 } else { 30.0 };
    // Most phones are held nearly square-on; a few far off.
    let tilt = most_tilt * dice.unit().powf(1.4);
    let pose = Pose {
        target: [0.0, 0.0],
        tilt_deg: if photo { tilt } else { 0.0 },
        lean_deg: dice.range(0.0, 360.0),
        roll_deg: dice.steady(if order.easy { 2.0 } else { 5.0 }),
        focal: dice.range(0.72, 1.1),
    };
    let quality = if hard("coarse-jpeg") { dice.int(36, 46) } else { dice.int(66, 93) };
    let png = !photo && exif == 1 && dice.chance(if medium == Medium::Screen { 0.6 } else { 0.2 });
    Plan {
        tool,
        medium,
        ruling,
        count,
        hand,
        neat,
        drawn_through: !printed && !order.easy && dice.chance(0.15),
        wishes: Wishes {
            bleed: profile == Profile::Bleed,
            easy: order.easy,
            no_background: profile == Profile::PaperCard && dice.chance(0.5),
        },
        card,
        filled: profile == Profile::PrintFill,
        paper_card: profile == Profile::PaperCard,
        exif,
        size,
        jpeg_quality: order.jpeg_quality.or_else(|| (!png).then(|| u8::try_from(quality).unwrap_or(80))),
        noise: match medium {
            Medium::Photo => dice.range(1.2, if order.easy { 2.6 } else { 4.8 }),
            Medium::Scan => dice.range(0.6, 2.0),
            Medium::Screen => 0.0,
        },
        // Larger pictures of the same lens are softer per pixel.
        defocus: match medium {
            Medium::Photo if hard("defocus") => long / 1600.0 * dice.range(2.2, 3.4),
            Medium::Photo => (long / 1600.0 * dice.range(0.5, if order.easy { 0.9 } else { 1.3 })).max(0.4),
            Medium::Scan => 0.45,
            Medium::Screen => 0.0,
        },
        pose,
        effects,
    }
}
