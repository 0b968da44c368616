//! End-to-end tests, outside checks and accuracy boards.

pub mod drawn;
pub mod faults;
pub mod fuzz;
pub mod generate;
pub mod load;
pub mod pictures;
pub mod program;
pub mod random;
pub mod records;
