//! The service itself and the card table.

use axum::Json;
use layout::{Card, Unit};
use schemars::JsonSchema;
use serde::Serialize;

/// Whether the service is up.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Health {
    /// `ok`.
    status: &'static str,
    /// The program's version.
    version: &'static str,
}

/// `GET /api/health`
pub(crate) async fn health() -> Json<Health> {
    Json(Health { status: "ok", version: env!("CARGO_PKG_VERSION") })
}

/// The cards that have a name.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Cards {
    cards: Vec<NamedCard>,
}

/// A card that has a name, upright.
#[derive(Serialize, JsonSchema)]
pub(crate) struct NamedCard {
    /// As it is asked for.
    name: String,
    /// The system it is measured in.
    unit: Unit,
    /// Width in `unit`.
    width: f64,
    /// Height in `unit`.
    height: f64,
    /// Its size as makers write it: `4 1/4 x 5 1/2`.
    size: String,
}

/// `GET /api/cards`
pub(crate) async fn cards() -> Json<Cards> {
    let named = |card: Card| {
        let card = card.upright();
        NamedCard {
            width: card.width.value(card.unit),
            height: card.height.value(card.unit),
            size: format!("{} x {}", card.width.show(card.unit), card.height.show(card.unit)),
            unit: card.unit,
            name: card.name,
        }
    };
    Json(Cards { cards: Card::table().map(named).collect() })
}
