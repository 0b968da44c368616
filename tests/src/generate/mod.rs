//! Invents card layouts, draws them as a printer or a hand would, photographs
//! or scans them, and writes the exact answer beside each picture. Everything
//! comes from a seed: the same seed gives the same bytes. Outlines go to the
//! picture through the very map that the drawing goes through, so the answer
//! is exact however the page is tilted or curled.
//!
//! ```
//! use tests::generate::{Order, Profile, picture};
//!
//! let order = Order { long_side: Some(500), ..Order::new(Profile::PrintScan, 7, 1) };
//! assert_eq!(picture(&order).bytes, picture(&order).bytes);
//! ```

mod camera;
mod canvas;
mod compose;
mod dice;
mod hand;
mod light;
mod picture;
mod plane;
mod profile;
mod scene;
mod text;
mod truth;

pub use picture::{Picture, picture};
pub use profile::{Order, OrderError, Profile};
pub use truth::Truth;
