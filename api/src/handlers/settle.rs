//! Settling a layout again when a person has put a size right.

use axum::Json;
use capture::snap::{Decided, settle_again};
use layout::{Layout, LayoutJson, Side};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::app::blocking;
use crate::body::{JsonBody, field, layout_of};
use crate::error::ApiError;

/// A layout and what a person has decided about it.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Correction {
    /// The record, with the decided sizes in place.
    #[schemars(with = "LayoutJson")]
    layout: Value,
    /// Sizes that are right as the record has them.
    #[serde(default)]
    sizes: Vec<DecidedSize>,
    /// Ids of elements that lie right as the record has them.
    #[serde(default)]
    places: Vec<u32>,
}

/// A size that a person has decided.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DecidedSize {
    /// Id of the element.
    element: u32,
    /// Which side.
    side: Side,
}

/// The layout settled again.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Settled {
    /// The record.
    layout: LayoutJson,
    /// Ids of the elements whose size or place is another now.
    changed: Vec<u32>,
}

/// `POST /api/settle`
pub(crate) async fn again(JsonBody(asked): JsonBody<Correction>) -> Result<Json<Settled>, ApiError> {
    let before = layout_of(asked.layout).map_err(ApiError::Faults)?;
    let known = |id: &u32| before.elements.iter().any(|element| element.id == *id);
    for (at, id) in asked
        .sizes
        .iter()
        .map(|size| ("sizes", size.element))
        .chain(asked.places.iter().map(|id| ("places", *id)))
    {
        if !known(&id) {
            return Err(field(at, &format!("the layout has no element {id}: name one that it has")));
        }
    }
    let decided = Decided {
        sizes: asked.sizes.iter().map(|size| (size.element, size.side)).collect(),
        places: asked.places,
    };
    blocking(move || {
        let after = settle_again(&before, &decided);
        Ok(Json(Settled { changed: changed(&before, &after), layout: LayoutJson::from(&after) }))
    })
    .await
}

fn changed(before: &Layout, after: &Layout) -> Vec<u32> {
    let pairs = before.elements.iter().zip(&after.elements);
    pairs.filter(|(was, is)| was.frame != is.frame).map(|(was, _)| was.id).collect()
}
