//! Pulled plugs: the program is killed at moments without pattern while it
//! does what a maker waits for, started again, and asked for everything it had
//! said. The tests run a few rounds of each, `fault-loop` hundreds.

#![expect(clippy::missing_panics_doc, reason = "it panics where something was lost")]

mod batches;
mod imports;
mod migration;
mod saves;

use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

pub use batches::batches;
pub use imports::imports;
pub use migration::migration;
pub use saves::saves;

use crate::program::path;
use crate::random::Random;

/// What came of some rounds. That nothing was lost is not in it: a loss is a panic.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Survived {
    /// How often the program was killed while it was at work.
    pub kills: u64,
    /// Answers that were given and asked for again.
    pub acknowledged: u64,
}

/// A moment up to `most`, early ones as likely as late ones.
fn moment(random: &mut Random, most: Duration) -> Duration {
    most.mul_f64(random.uniform())
}

/// Starts the program with nothing to be read of it.
fn started(args: &[&str]) -> Child {
    Command::new(path())
        .args(args)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program can be started")
}

/// Kills a child; whether it was still at work.
fn killed(mut child: Child) -> bool {
    let at_work = child.try_wait().expect("a child can be looked at").is_none();
    // It may end between the look and the kill.
    let _ = child.kill();
    child.wait().expect("a child can be waited for");
    at_work
}

/// `eighths check` finds nothing wrong in a folder.
fn assert_whole(data: &Path) {
    let mut check = Command::new(path())
        .args(["check", "--data"])
        .arg(data)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program can be started");
    let mut said = String::new();
    check
        .stdout
        .take()
        .expect("its output is piped")
        .read_to_string(&mut said)
        .expect("its output can be read");
    let status = check.wait().expect("a child can be waited for");
    assert!(status.success(), "the notebook is not whole: {said}");
}
