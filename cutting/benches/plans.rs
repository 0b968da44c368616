//! Times of planning: `cargo bench -p cutting`.

use cutting::{Goal, Job, Options, Piece, Sheet};

fn main() {
    divan::main();
}

/// Four cards each of ten layouts from 12 x 12 in sheets, in sixteenths of an inch.
fn batch() -> Job {
    let mats = |i: u32| {
        let panel = Piece::new(62 - i, 82 - 2 * i, 4).turning();
        let strip = Piece::new(12 + i, 64, 4).turning();
        [Piece::new(64, 84, 4).turning(), panel, strip]
    };
    Job {
        pieces: (0..10).flat_map(mats).collect(),
        stock: vec![Sheet::new(192, 192)],
        goal: Goal::FewestSheets,
    }
}

fn plan(bencher: divan::Bencher, rounds: u64) {
    let job = batch();
    let options = Options { rounds, ..Options::default() };
    bencher.bench(|| cutting::plan(&job, &options, &mut |_| true));
}

#[divan::bench]
fn first_plan(bencher: divan::Bencher) {
    plan(bencher, 0);
}

#[divan::bench]
fn ten_thousand_rounds(bencher: divan::Bencher) {
    plan(bencher, 10_000);
}
