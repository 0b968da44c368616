//! The program `eighths`.

fn main() {}
