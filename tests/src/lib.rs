//! End-to-end tests, outside checks and accuracy boards.

pub mod drawn;
pub mod random;
