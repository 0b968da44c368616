//! Asking a process to read, and giving it up when it takes too long, breaks,
//! or is not wanted any more.

use std::io::{self, Read};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::{Duration, Instant};

use super::task::{self, Answer, Task};

/// How long one page may take: more than ten times what the slowest photo of the
/// boards takes on two busy processors.
const PAGE_TIME: Duration = Duration::from_secs(45);
/// How often it is asked whether the answer is still wanted.
const LOOK: Duration = Duration::from_millis(50);
/// Most bytes of an answer: a picture for the largest screen and the records of
/// the fullest page are a few MB each.
const MOST_ANSWERED: u64 = 50_000_000;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Broken {
    /// It is not wanted any more.
    #[error("the reading was stopped")]
    Stopped,
    /// It took too long.
    #[error(
        "reading this file takes too long and was given up: save it as JPEG or PNG, or photograph the page"
    )]
    TooSlow,
    /// The process ended without an answer.
    #[error(
        "this file breaks the reader, or needs more memory than it may have: save it as JPEG or PNG, or photograph the page"
    )]
    Died,
    /// No process can be started.
    #[error("no process can be started to read in ({0}): close some programs and try again")]
    Start(#[source] io::Error),
}

/// Has a task done, in a process of its own. Gives the answer and the bytes
/// that go with it. `stop` is asked now and then whether to give up.
pub(crate) fn ask(task: &Task, bytes: &[u8], stop: &dyn Fn() -> bool) -> Result<(Answer, Vec<u8>), Broken> {
    if cfg!(test) {
        // The program of a unit test cannot be started as such a process.
        return Ok(super::child::carry_out(task, bytes));
    }
    let mut child = Reaped(start().map_err(Broken::Start)?);
    let pipes = (child.0.stdin.take(), child.0.stdout.take());
    let (Some(mut stdin), Some(stdout)) = pipes else { return Err(Broken::Died) };
    thread::scope(|scope| {
        scope.spawn(move || {
            // A process that dies early does not read to the end.
            let _ = task::write(&mut stdin, task, bytes);
        });
        let (tell, told) = mpsc::channel();
        scope.spawn(move || {
            let _ = tell.send(task::read::<Answer>(&mut stdout.take(MOST_ANSWERED)));
        });
        let begun = Instant::now();
        let result = loop {
            match told.recv_timeout(LOOK) {
                Ok(Ok(answer)) => break Ok(answer),
                Ok(Err(_)) | Err(RecvTimeoutError::Disconnected) => break Err(Broken::Died),
                Err(RecvTimeoutError::Timeout) if stop() => break Err(Broken::Stopped),
                Err(RecvTimeoutError::Timeout) if begun.elapsed() > PAGE_TIME => break Err(Broken::TooSlow),
                Err(RecvTimeoutError::Timeout) => {}
            }
        };
        // Ends its pipes, so that both threads come back.
        child.end();
        result
    })
}

fn start() -> io::Result<Child> {
    // The file may have been replaced by a newer one since; the running program has not.
    let program = if cfg!(target_os = "linux") { "/proc/self/exe".into() } else { std::env::current_exe()? };
    let mut command = Command::new(program);
    command.arg(super::COMMAND).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
    #[cfg(unix)]
    {
        // Ctrl-C in a terminal is for the parent, which ends in order.
        use std::os::unix::process::CommandExt;
        command.process_group(0);
    }
    command.spawn()
}

/// A process that does not outlive the one who asked.
struct Reaped(Child);

impl Reaped {
    fn end(&mut self) {
        // It may have ended by itself.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Drop for Reaped {
    fn drop(&mut self) {
        self.end();
    }
}
