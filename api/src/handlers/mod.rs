//! What each route does: take what the extractors checked, call the domain
//! and the notebook, answer.

pub(crate) mod about;
pub(crate) mod batches;
pub(crate) mod drawings;
pub(crate) mod imports;
pub(crate) mod layouts;
pub(crate) mod pairing;
pub(crate) mod papers;
mod params;
pub(crate) mod photos;
pub(crate) mod pieces;
pub(crate) mod search;
pub(crate) mod settle;
pub(crate) mod shelf;

pub(crate) use photos::PhotoJson;
