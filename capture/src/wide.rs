//! Loops over whole rows, compiled a second time for wider registers and run
//! in the widest form that the machine has. The forms differ in nothing but
//! speed: each sums the same numbers in the same order, and none fuses a
//! product with a sum.

#![expect(clippy::inline_always, reason = "what is not inlined is not widened")]

use rten_simd::{Isa, SimdOp};

/// Work that is compiled for each width. Its `run`, and all that it calls on
/// the way, has to be marked `#[inline(always)]`: what is not inlined stays as
/// narrow as the rest of the program.
pub(crate) trait Work {
    /// What comes out.
    type Out;

    /// Does it.
    fn run(self) -> Self::Out;
}

/// Does some work with the widest registers at hand.
pub(crate) fn wide<W: Work>(work: W) -> W::Out {
    Widened(work).dispatch()
}

struct Widened<W>(W);

impl<W: Work> SimdOp for Widened<W> {
    type Output = W::Out;

    #[inline(always)]
    fn eval<I: Isa>(self, _: I) -> W::Out {
        self.0.run()
    }
}
