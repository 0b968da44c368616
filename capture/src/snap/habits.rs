//! The habits makers draw by, each with its log-odds.

use super::learned::LOG_ODDS;

macro_rules! habits {
    ($($name:ident: $words:literal,)*) => {
        /// A regularity of layouts that the snapper weighs.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Habit {
            $(#[doc = $words] $name,)*
        }

        impl Habit {
            /// Every habit, in the order of the learned table.
            pub const ALL: &[Habit] = &[$(Habit::$name,)*];

            /// What the habit says, for `--why`.
            pub const fn words(self) -> &'static str {
                match self { $(Habit::$name => $words,)* }
            }

            /// Its name in the learned table.
            pub const fn name(self) -> &'static str {
                match self { $(Habit::$name => stringify!($name),)* }
            }
        }
    };
}

habits! {
    SizeQuarter: "a quarter-inch size",
    SizeHalf: "a half-inch size",
    StripQuarter: "a quarter-inch size of a strip",
    StripHalf: "a half-inch size of a strip",
    RoundQuarter: "a quarter-inch diameter",
    RoundHalf: "a half-inch diameter",
    Square: "as wide as high",
    CentredOnCard: "centred on the card",
    CentredOnPanel: "centred on what it lies on",
    CentredBetween: "centred between its neighbours",
    CentredOnOther: "centred on another element",
    RoundOnCard: "circle centred on the card",
    RoundOnPanel: "circle centred on its panel",
    RoundBetween: "circle centred between its neighbours",
    RoundOnOther: "circle centred on another element",
    RoundOnSide: "circle centred on a side",
    RowOnCard: "row centred on the card",
    RowOnPanel: "row centred on its panel",
    RowBetween: "row centred between its neighbours",
    MarginShared: "a margin all round",
    SharedEighth: "a margin all round in eighths",
    SharedQuarter: "a margin all round in quarter inches",
    SharedOneEighth: "an eighth all round",
    MarginSame: "the same margin on another side",
    GapIsMargin: "a gap as wide as the margin",
    MarginQuarter: "a margin in quarter inches",
    MarginEighth: "a margin in eighths",
    SizeShared: "one size for a row",
    GapShared: "one gap for a row",
    GapEighth: "a gap in eighths",
    GapQuarter: "a quarter-inch gap",
    OnEighth: "begins on an eighth",
    SameSize: "the size of its row",
    SameGap: "the gap of its row",
    MatEighth: "a mat of an eighth overall",
    MatQuarter: "a mat of a quarter overall",
    MatEven: "a mat even all round",
    Flush: "flush with an edge near it",
    Apart: "clear of a line close by",
}

/// The log-odds of every habit: how much likelier a layout is, all else
/// equal, in which the habit holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights(pub Vec<f64>);

impl Default for Weights {
    /// The learned table.
    fn default() -> Self {
        Weights(
            Habit::ALL
                .iter()
                .map(|habit| {
                    LOG_ODDS.iter().find(|(name, _)| *name == habit.name()).map_or(0.0, |(_, odds)| *odds)
                })
                .collect(),
        )
    }
}

impl Weights {
    /// The log-odds of one habit.
    pub fn of(&self, habit: Habit) -> f64 {
        self.0[habit as usize]
    }
}
