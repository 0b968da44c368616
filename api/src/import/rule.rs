//! Which card a file of an import is for: a default, the card of its folder, or
//! the one card of the maker's list that the outline's proportions fit.

use layout::{Card, CardError};
use serde::{Deserialize, Serialize};

/// How the card of a file is found. Said in this order: by a person for this
/// file, by its folder, by its outline, by the default.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct CardRule {
    /// The card where nothing else tells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) usual: Option<String>,
    /// Folders, as they stand in the files' names, and their cards.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) folders: Vec<(String, String)>,
    /// The cards that an outline may be.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) among: Vec<String>,
}

/// What the rule says about one file; cards by their names.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) enum CardPlan {
    /// It is for this card.
    Known(String),
    /// Its outline tells, else the default where there is one.
    ByOutline {
        /// The cards it may be.
        among: Vec<String>,
        /// The default.
        usual: Option<String>,
    },
}

/// A factor in proportions that a hand's outline and a guessed focal length
/// explain, in natural logs.
const NEAR: f64 = 0.035;
/// The next nearest card has to be this many times as far away.
const CLEARLY: f64 = 2.0;

impl CardRule {
    /// Every card of the rule, or the first that is none.
    pub(crate) fn check(&self) -> Result<(), CardError> {
        let folders = self.folders.iter().map(|(_, card)| card);
        self.usual
            .iter()
            .chain(folders)
            .chain(&self.among)
            .try_for_each(|card| card.parse::<Card>().map(drop))
    }

    /// What it says about a file of this name; `told` is what a person said.
    pub(crate) fn plan(&self, name: &str, told: Option<&str>) -> CardPlan {
        match (told.or_else(|| self.of_folder(name)), &self.usual) {
            (Some(card), _) => CardPlan::Known(card.to_owned()),
            (None, Some(card)) if self.among.is_empty() => CardPlan::Known(card.clone()),
            (None, usual) => CardPlan::ByOutline { among: self.among.clone(), usual: usual.clone() },
        }
    }

    /// The card of the innermost folder that has one.
    fn of_folder(&self, name: &str) -> Option<&str> {
        let holds = |folder: &str| {
            let folder = folder.trim_matches('/');
            let inside = name.split('/').collect::<Vec<_>>();
            let parts = folder.split('/').collect::<Vec<_>>();
            inside.len() > parts.len() && inside[..inside.len() - 1].windows(parts.len()).any(|w| w == parts)
        };
        self.folders
            .iter()
            .filter(|(folder, _)| holds(folder))
            .max_by_key(|(folder, _)| folder.matches('/').count())
            .map(|(_, card)| card.as_str())
    }
}

/// The one card of a list whose proportions (shorter over longer side) these
/// clearly are.
pub(crate) fn clearly(proportions: f64, among: &[Card]) -> Option<&Card> {
    let off = |card: &Card| {
        let [width, height] = card.upright().size_in();
        (proportions / (width / height)).ln().abs()
    };
    let mut cards: Vec<&Card> = among.iter().collect();
    cards.sort_by(|a, b| off(a).total_cmp(&off(b)));
    let nearest = *cards.first()?;
    let next = cards.get(1).map_or(f64::INFINITY, |card| off(card));
    (off(nearest) <= NEAR && next >= NEAR.max(CLEARLY * off(nearest))).then_some(nearest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cards(names: &[&str]) -> Vec<Card> {
        names.iter().map(|name| name.parse().unwrap()).collect()
    }

    #[test]
    fn an_outline_is_a_card_only_where_no_other_is_near() {
        let named = |proportions, among: &[&str]| {
            clearly(proportions, &cards(among)).map(|card| card.name.clone()).unwrap_or_default()
        };
        // 4 1/4 x 5 1/2 is 0.773, 5 x 7 is 0.714, a square 1, slimline 0.412.
        assert_eq!(named(0.77, &["A2", "A7", "square"]), "A2");
        assert_eq!(named(0.745, &["A2", "A7"]), "");
        assert_eq!(named(0.99, &["A2", "square"]), "square");
        assert_eq!(named(0.60, &["A2", "A7", "square", "slimline"]), "");
        // 0.72 and 0.714: nobody can tell these two apart by their outline.
        assert_eq!(named(0.717, &["A6", "A7"]), "");
        assert_eq!(named(0.717, &["A2", "A7"]), "A7");
        assert_eq!(named(0.717, &[]), "");
    }

    #[test]
    fn the_innermost_folder_with_a_card_wins() {
        let rule = CardRule {
            usual: Some("A2".to_owned()),
            folders: vec![
                ("tall".to_owned(), "slimline".to_owned()),
                ("tall/square ones/".to_owned(), "square".to_owned()),
            ],
            among: Vec::new(),
        };
        let card = |name, told| match rule.plan(name, told) {
            CardPlan::Known(card) => card,
            CardPlan::ByOutline { .. } => "by outline".to_owned(),
        };
        assert_eq!(card("one.jpg", None), "A2");
        assert_eq!(card("drawer/tall/one.jpg", None), "slimline");
        assert_eq!(card("tall/square ones/one.jpg", None), "square");
        assert_eq!(card("talloned/one.jpg", None), "A2");
        assert_eq!(card("tall", None), "A2");
        assert_eq!(card("tall/one.jpg", Some("A7")), "A7");
    }

    #[test]
    fn a_rule_with_an_unknown_card_is_refused() {
        let rule = CardRule { among: vec!["A2".to_owned(), "A3 1/2x".to_owned()], ..CardRule::default() };
        assert!(rule.check().is_err());
        assert!(CardRule { usual: Some("5x7".to_owned()), ..CardRule::default() }.check().is_ok());
    }
}
