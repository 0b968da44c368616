//! A whole plan made nicer at the same cost: a larger offcut first, then fewer
//! settings of the trimmer, then fewer cuts. The rounds are those of
//! [`crate::improve`]; what is not worse stays.

use crate::improve::Search;
use crate::settings::settings;
use crate::table::Table;

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
    let mut largest = 0;
    for tree in table.sheets.iter().filter(|t| t.pieces > 0) {
        for &id in tree.offcuts() {
            let node = tree.node(id);
            largest = largest.max(u64::from(node.width) * u64::from(node.height));
        }
    }
    let whole = table.shop.boards.iter().map(|b| b.area()).max().unwrap_or(1);
    let mut settings = settings(&table.sheets);
    let cuts = settings.len();
    settings.sort_unstable();
    settings.dedup();
    Untidy { offcut: std::cmp::Reverse(largest * PARTS / whole.max(1)), settings: settings.len(), cuts }
}
