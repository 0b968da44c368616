//! Foreign bytes are decoded and read in a process of their own, so that a file
//! that loops, eats memory, or breaks a decoder so badly that no panic handler
//! sees it takes nothing else with it. `task.rs` says what can be asked,
//! `child.rs` does it under limits, `parent.rs` asks, waits and gives up.

mod child;
mod parent;
mod task;

pub(crate) use child::serve;
pub(crate) use parent::{Broken, ask};
pub(crate) use task::{Answer, Task, Unread, UnreadKind};

/// The command that makes the program such a process; not for people.
pub(crate) const COMMAND: &str = "contained-reading";
