//! End-to-end tests, outside checks and accuracy boards.

pub mod generate;
