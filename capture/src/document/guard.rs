//! Runs a decoder so that its panic ends in a sentence and not in ours.

use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;
use std::thread;

use super::Format;
use crate::error::CaptureError;

thread_local! {
    /// Whether this thread is inside [`run`], where panics are answered.
    static ANSWERED: Cell<bool> = const { Cell::new(false) };
}

/// What the decoder answers, or that it gave up.
///
/// A panic in here is told in the answer alone: the process's panic hook,
/// which would print it as a fault of the program, is not called for it.
pub(super) fn run<T>(
    format: Format,
    decode: impl FnOnce() -> Result<T, CaptureError>,
) -> Result<T, CaptureError> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if !ANSWERED.get() {
                usual(info);
            }
        }));
    });
    let before = ANSWERED.replace(true);
    // What the decoder leaves half done is its own and dropped with it; a
    // document keeps only bytes and offsets.
    let answer = panic::catch_unwind(AssertUnwindSafe(decode));
    ANSWERED.set(before);
    answer.unwrap_or(Err(CaptureError::Unreadable(format)))
}

/// Stack of [`run_deep`], in bytes: eight times what a main thread usually
/// has, thirty times a worker's. It is reserved, not used.
const DEEP_STACK: usize = 64 << 20;

/// Like [`run`], for decoders that call themselves as deep as the file says:
/// on a thread with a stack of its own, for a full stack cannot be caught.
pub(super) fn run_deep<T: Send>(
    format: Format,
    decode: impl FnOnce() -> Result<T, CaptureError> + Send,
) -> Result<T, CaptureError> {
    thread::scope(|scope| {
        let thread =
            thread::Builder::new().stack_size(DEEP_STACK).spawn_scoped(scope, || run(format, decode));
        let answer = thread.ok().and_then(|thread| thread.join().ok());
        answer.unwrap_or(Err(CaptureError::Unreadable(format)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decoder_that_panics_is_answered_with_what_to_do() {
        let answer = run::<()>(Format::Pdf, || panic!("index out of bounds"));
        let error = answer.expect_err("it panicked");
        assert_eq!(
            error.to_string(),
            "this PDF could not be read: save it again as PDF, or send a photo of the page"
        );
        assert!(!ANSWERED.get());
    }
}
