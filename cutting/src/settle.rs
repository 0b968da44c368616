//! A whole plan made nicer at the same cost: a larger offcut first, then fewer
//! settings of the trimmer, then fewer cuts. The rounds are those of
//! [`crate::improve`]; what is not worse stays.

use crate::improve::Search;
use crate::table::Table;
use crate::tree::{Tree, What};

/// What makes one plan nicer than another of the same cost; less is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Untidy {
    offcut: std::cmp::Reverse<u64>,
    settings: usize,
    cuts: usize,
}

/// Rounds without a gain after which a plan is settled. About 10 ms for a hundred pieces.
const SETTLED: u32 = 150;

/// How many rounds ago a plan is compared with.
const PAST: usize = 30;

/// Offcuts are told apart by so many parts of the largest sheet: a hair more paper is not worth a setting.
const PARTS: u64 = 16;

/// Settles a whole plan, as long as `go_on` says so.
pub(crate) fn settle<'a>(table: Table<'a>, seed: u64, go_on: &mut dyn FnMut() -> bool) -> Table<'a> {
    let limit = table.cost;
    let mut now = untidy(&table);
    let (mut best, mut least) = (table.clone(), now);
    let mut past = [now; PAST];
    let mut search = Search::new(table, limit, seed);
    let (mut round, mut idle) = (0, 0);
    while idle < SETTLED && go_on() {
        idle += 1;
        round += 1;
        search.table.mark();
        search.ruin();
        search.recreate();
        if !search.table.done() || search.table.cost > limit {
            search.table.take_back();
            continue;
        }
        let found = untidy(&search.table);
        let slot = round % PAST;
        if found <= now || found < past[slot] {
            now = found;
            search.table.tidy();
            if found < least {
                (best, least, idle) = (search.table.clone(), found, 0);
            }
        } else {
            search.table.take_back();
        }
        past[slot] = past[slot].min(now);
    }
    best
}

fn untidy(table: &Table) -> Untidy {
    let mut settings = Vec::new();
    let mut largest = 0;
    for tree in table.sheets.iter().filter(|t| t.pieces > 0) {
        for &id in tree.offcuts() {
            let node = tree.node(id);
            largest = largest.max(u64::from(node.width) * u64::from(node.height));
        }
        settings_of(tree, &mut settings);
    }
    let whole = table.shop.boards.iter().map(|b| b.area()).max().unwrap_or(1);
    let cuts = settings.len();
    settings.sort_unstable();
    settings.dedup();
    Untidy { offcut: std::cmp::Reverse(largest * PARTS / whole.max(1)), settings: settings.len(), cuts }
}

/// The extents that are cut off: all children's but the waste's, or else the largest's.
fn settings_of(tree: &Tree, settings: &mut Vec<u32>) {
    for id in 0..tree.nodes.len() {
        let node = &tree.nodes[id];
        if !matches!(node.what, What::Columns | What::Rows) {
            continue;
        }
        let from = settings.len();
        let mut waste = false;
        for child in tree.children(u32::try_from(id).expect("a few nodes a piece")) {
            let child = tree.node(child);
            if child.what == What::Offcut && !waste {
                waste = true;
            } else {
                settings.push(child.along(node.what));
            }
        }
        if !waste {
            let largest = (from..settings.len()).max_by_key(|&i| settings[i]).unwrap_or(from);
            settings.swap_remove(largest);
        }
    }
}
