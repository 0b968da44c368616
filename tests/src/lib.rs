//! End-to-end tests, outside checks and accuracy boards.

pub mod generate;
pub mod pictures;
pub mod program;
