//! Times of planning.
fn main() {
    divan::main();
}
