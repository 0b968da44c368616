//! What the trimmer is set to. A part that is cut into others needs a setting
//! for the extent of each of them but one: the waste, or, where there is none,
//! the part whose extent is used least elsewhere, which is simply what remains.
//! Counted over all sheets of a plan, as the trimmer is set once for each.

use crate::tree::{Tree, What};

/// The extents of a plan's parts, and how often each occurs.
#[derive(Debug, Default)]
pub(crate) struct Extents {
    /// In order of length.
    all: Vec<u32>,
}

impl Extents {
    pub(crate) fn of(trees: &[Tree]) -> Extents {
        let mut all = Vec::new();
        for tree in trees.iter().filter(|t| t.pieces > 0) {
            for (id, what) in splits(tree) {
                let kept = tree.children(id).map(|c| tree.node(c)).filter(|c| c.what != What::Offcut);
                all.extend(kept.map(|c| c.along(what)));
            }
        }
        all.sort_unstable();
        Extents { all }
    }

    fn times(&self, extent: u32) -> usize {
        self.all.partition_point(|&e| e <= extent) - self.all.partition_point(|&e| e < extent)
    }

    /// The child of a node that remains when all others are cut off.
    pub(crate) fn remains(&self, tree: &Tree, id: u32) -> Option<u32> {
        let what = tree.node(id).what;
        let extent = |c: u32| tree.node(c).along(what);
        tree.children(id).find(|&c| tree.node(c).what == What::Offcut).or_else(|| {
            tree.children(id).min_by_key(|&c| (self.times(extent(c)), std::cmp::Reverse(extent(c))))
        })
    }
}

/// The settings that cut these sheets up, one for each cut.
pub(crate) fn settings(trees: &[Tree]) -> Vec<u32> {
    let extents = Extents::of(trees);
    let mut settings = Vec::with_capacity(extents.all.len());
    for tree in trees.iter().filter(|t| t.pieces > 0) {
        for (id, what) in splits(tree) {
            let remains = extents.remains(tree, id);
            let cut_off = tree.children(id).filter(|&c| Some(c) != remains);
            settings.extend(cut_off.map(|c| tree.node(c).along(what)));
        }
    }
    settings
}

/// The parts of a sheet that are cut up, and in which direction.
fn splits(tree: &Tree) -> impl Iterator<Item = (u32, What)> {
    (0_u32..)
        .zip(&tree.nodes)
        .map(|(id, node)| (id, node.what))
        .filter(|(_, what)| matches!(what, What::Columns | What::Rows))
}
