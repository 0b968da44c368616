//! End-to-end tests, outside checks and accuracy boards.

pub mod drawn;
pub mod generate;
pub mod pictures;
pub mod program;
pub mod random;
