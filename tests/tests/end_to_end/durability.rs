//! Acknowledged means on disk, whatever the program was at when the plug was
//! pulled. The long run of the same is `python3 tests/reliability.py faults`.

use tests::faults::{Survived, batches, imports, migration, saves};

fn check(survived: Survived, kills: u64) {
    assert!(survived.kills >= kills && survived.acknowledged > 0, "{survived:?}");
}

#[test]
fn what_was_answered_survives_a_kill() {
    check(saves(50), 50);
}

#[test]
fn a_cutting_is_done_whole_or_not_at_all() {
    check(batches(16), 16);
}

#[test]
fn an_import_over_http_ends_as_one_that_nobody_killed() {
    check(imports(8), 8);
}

#[test]
fn an_old_notebook_is_brought_up_to_date_whole_or_not_at_all() {
    check(migration(8), 1);
}
