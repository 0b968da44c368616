//! The program `eighths`; all of it is in the library beside.

use std::process::ExitCode;

fn main() -> ExitCode {
    api::run()
}
