//! One sheet as a tree of cuts. A node is an offcut, a piece, or a part cut
//! across (`Columns`, children side by side) or along (`Rows`, children one
//! above the other); directions alternate from level to level. Children of one
//! parent may trade places, so each parent keeps its waste in one child. This
//! is the cut tree of Gardeyn & Wauters ("A goal-driven ruin and recreate
//! heuristic for the 2D variable-sized bin packing problem with guillotine
//! constraints", 2022); we add `lift`, which cuts waste the other way round.

use crate::shop::{Shop, Zone};

pub(crate) const NONE: u32 = u32::MAX;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum What {
    Offcut,
    Piece {
        kind: u32,
        turned: bool,
    },
    /// Children side by side along the width.
    Columns,
    /// Children one above the other along the height.
    Rows,
    /// A place in memory that is not in use.
    Gone,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Node {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) parent: u32,
    pub(crate) first: u32,
    pub(crate) next: u32,
    pub(crate) what: What,
}

impl Node {
    /// Extent along the direction in which children of `split` follow each other.
    pub(crate) const fn along(&self, split: What) -> u32 {
        if matches!(split, What::Columns) { self.width } else { self.height }
    }

    const fn is_split(&self) -> bool {
        matches!(self.what, What::Columns | What::Rows)
    }
}

/// Where a piece goes: into which offcut, how far from its corner, and which
/// cut is made first.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    pub(crate) leaf: u32,
    pub(crate) dx: u32,
    pub(crate) dy: u32,
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) turned: bool,
    pub(crate) columns_first: bool,
    /// Growth of the offcuts' worth; see [`Tree::best_spot`].
    pub(crate) score: f64,
}

/// An offcut as a search for a place sees it.
#[derive(Clone, Copy, Debug)]
struct Leaf {
    width: u32,
    height: u32,
    id: u32,
}

#[derive(Debug)]
pub(crate) struct Tree {
    pub(crate) board: usize,
    pub(crate) nodes: Vec<Node>,
    spare: Vec<u32>,
    offcuts: Vec<u32>,
    /// The offcuts with their sizes side by side, which is what a search for a place runs through.
    leaves: Vec<Leaf>,
    /// Area of the pieces in it.
    pub(crate) area: u64,
    /// How many pieces are in it.
    pub(crate) pieces: u32,
    widest: u32,
    tallest: u32,
}

impl Clone for Tree {
    fn clone(&self) -> Tree {
        Tree {
            nodes: self.nodes.clone(),
            spare: self.spare.clone(),
            offcuts: self.offcuts.clone(),
            leaves: self.leaves.clone(),
            ..*self
        }
    }

    fn clone_from(&mut self, other: &Tree) {
        self.nodes.clone_from(&other.nodes);
        self.spare.clone_from(&other.spare);
        self.offcuts.clone_from(&other.offcuts);
        self.leaves.clone_from(&other.leaves);
        self.board = other.board;
        self.area = other.area;
        self.pieces = other.pieces;
        self.widest = other.widest;
        self.tallest = other.tallest;
    }
}

impl Tree {
    pub(crate) fn new(board: usize, width: u32, height: u32) -> Tree {
        let root = Node { width, height, parent: NONE, first: NONE, next: NONE, what: What::Offcut };
        Tree {
            board,
            nodes: vec![root],
            spare: Vec::new(),
            offcuts: vec![0],
            leaves: vec![Leaf { width, height, id: 0 }],
            area: 0,
            pieces: 0,
            widest: width,
            tallest: height,
        }
    }

    pub(crate) fn node(&self, id: u32) -> &Node {
        &self.nodes[id as usize]
    }

    fn node_mut(&mut self, id: u32) -> &mut Node {
        &mut self.nodes[id as usize]
    }

    /// The children of a node, in order.
    pub(crate) fn children(&self, id: u32) -> impl Iterator<Item = u32> + '_ {
        let mut at = self.node(id).first;
        std::iter::from_fn(move || {
            let id = at;
            if id == NONE {
                return None;
            }
            at = self.node(id).next;
            Some(id)
        })
    }

    pub(crate) fn offcuts(&self) -> &[u32] {
        &self.offcuts
    }

    /// The best place for a piece: the one that leaves the offcuts worth most,
    /// where an offcut is worth its area to the power of two. `skip` passes
    /// over a place, now and then, to vary the answer.
    pub(crate) fn best_spot(
        &self,
        shop: &Shop,
        kind: usize,
        skip: &mut impl FnMut() -> bool,
    ) -> Option<Spot> {
        let mut best: Option<Spot> = None;
        for way in &shop.kinds[kind].ways {
            if way.width > self.widest || way.height > self.tallest {
                continue;
            }
            for &Leaf { width, height, id: leaf } in &self.leaves {
                if way.width > width || way.height > height || skip() {
                    continue;
                }
                if shop.edges {
                    for zone in shop.zones(self.board, kind) {
                        if let Some((dx, dy)) = self.reach(shop, leaf, *zone, way.width, way.height) {
                            self.weigh(shop, leaf, (dx, dy), (way.width, way.height), way.turned, &mut best);
                        }
                    }
                } else {
                    self.weigh(shop, leaf, (0, 0), (way.width, way.height), way.turned, &mut best);
                }
            }
        }
        best
    }

    #[inline]
    fn weigh(
        &self,
        shop: &Shop,
        leaf: u32,
        (dx, dy): (u32, u32),
        (width, height): (u32, u32),
        turned: bool,
        best: &mut Option<Spot>,
    ) {
        let node = self.node(leaf);
        let (full_w, full_h) = (f64::from(node.width), f64::from(node.height));
        let (w, h) = (f64::from(width + dx), f64::from(height + dy));
        let whole = full_w * full_h;
        let side = full_w - w;
        let above = full_h - h;
        let (side_tall, above_short) = (side * full_h, w * above);
        let (side_short, above_wide) = (side * h, full_w * above);
        let columns = side_tall * side_tall + above_short * above_short;
        let rows = side_short * side_short + above_wide * above_wide;
        let order = if columns >= rows { [true, false] } else { [false, true] };
        for columns_first in order {
            let score = if columns_first { columns } else { rows } - whole * whole;
            if best.as_ref().is_some_and(|b| b.score >= score) {
                return;
            }
            let spot = Spot { leaf, dx, dy, width, height, turned, columns_first, score };
            if self.can_cut(shop, &spot) {
                *best = Some(spot);
                return;
            }
        }
    }

    /// How far from a leaf's corner a piece must lie to stay in the zone, if it can.
    /// A margin is wider than the blade: a thinner one cannot be cut off.
    fn reach(&self, shop: &Shop, leaf: u32, zone: Zone, width: u32, height: u32) -> Option<(u32, u32)> {
        let (x, y) = self.corner(leaf);
        let node = self.node(leaf);
        let margin = |from: u32, zone: u32| match zone.saturating_sub(from) {
            0 => 0,
            wide => wide.max(shop.kerf + 1),
        };
        let (dx, dy) = (margin(x, zone.x0), margin(y, zone.y0));
        let (x1, y1) = ((x + node.width).min(zone.x1), (y + node.height).min(zone.y1));
        (x + dx + width <= x1 && y + dy + height <= y1).then_some((dx, dy))
    }

    /// Where a node lies on the sheet.
    fn corner(&self, id: u32) -> (u32, u32) {
        let (mut x, mut y, mut at) = (0, 0, id);
        while self.node(at).parent != NONE {
            let parent = self.node(at).parent;
            let across = self.node(parent).what == What::Columns;
            for child in self.children(parent).take_while(|&c| c != at) {
                if across {
                    x += self.node(child).width;
                } else {
                    y += self.node(child).height;
                }
            }
            at = parent;
        }
        (x, y)
    }

    /// Whether the trimmer and the limit on stages allow the cuts of a spot.
    fn can_cut(&self, shop: &Shop, spot: &Spot) -> bool {
        let node = self.node(spot.leaf);
        if shop.stages != u32::MAX && self.level(node.parent) > shop.stages {
            return false;
        }
        let parent = if node.parent == NONE { What::Gone } else { self.node(node.parent).what };
        // Where nothing may trade places, waste that the blade would swallow must not lie between parts.
        if shop.edges && node.next != NONE {
            let rest = node.along(parent)
                - if parent == What::Columns { spot.dx + spot.width } else { spot.dy + spot.height };
            if 0 < rest && rest <= shop.kerf {
                return false;
            }
        }
        if shop.least_strip == 0 {
            return true;
        }
        // Extents along each direction of what the spot's cuts make of the leaf.
        let across = [spot.dx, spot.width, node.width - spot.dx - spot.width];
        let along = [spot.dy, spot.height, node.height - spot.dy - spot.height];
        let (cuts_across, cuts_along) = (spot.width < node.width, spot.height < node.height);
        let holds = |parts: [u32; 3], split: What, joins: bool| {
            parts.iter().any(|&p| p >= shop.least_strip)
                || (joins
                    && self
                        .children(node.parent)
                        .any(|c| c != spot.leaf && self.node(c).along(split) >= shop.least_strip))
        };
        // The first cut joins a parent of its own direction; so does a second one when there is no first.
        let joins_across = parent == What::Columns && (spot.columns_first || !cuts_along);
        let joins_along = parent == What::Rows && (!spot.columns_first || !cuts_across);
        (!cuts_across || holds(across, What::Columns, joins_across))
            && (!cuts_along || holds(along, What::Rows, joins_along))
    }

    /// How many cuts' directions lie between the sheet and the children of a node.
    fn level(&self, mut id: u32) -> u32 {
        let mut level = 0;
        while id != NONE {
            level += 1;
            id = self.node(id).parent;
        }
        level
    }

    /// Cuts a piece out of an offcut. Gives its node.
    pub(crate) fn insert(&mut self, shop: &Shop, kind: usize, spot: &Spot) -> u32 {
        let mut leaf = spot.leaf;
        for columns in [spot.columns_first, !spot.columns_first] {
            let (split, before, size) = if columns {
                (What::Columns, spot.dx, spot.width)
            } else {
                (What::Rows, spot.dy, spot.height)
            };
            if before > 0 {
                leaf = self.split(leaf, split, before).1;
            }
            if size < self.node(leaf).along(split) {
                leaf = self.split(leaf, split, size).0;
            }
        }
        self.offcuts.retain(|&o| o != leaf);
        let kind_number = u32::try_from(kind).expect("fewer kinds than MOST_PIECES");
        self.node_mut(leaf).what = What::Piece { kind: kind_number, turned: spot.turned };
        self.area += shop.kinds[kind].area;
        self.pieces += 1;
        self.measure();
        leaf
    }

    /// Cuts an offcut in two at a distance from its near side. Gives both parts.
    pub(crate) fn split(&mut self, leaf: u32, split: What, at: u32) -> (u32, u32) {
        let node = *self.node(leaf);
        let parts = |size: u32| {
            let (width, height) =
                if split == What::Columns { (size, node.height) } else { (node.width, size) };
            Node { width, height, first: NONE, what: What::Offcut, ..node }
        };
        let (mut near, mut far) = (parts(at), parts(node.along(split) - at));
        if node.parent != NONE && self.node(node.parent).what == split {
            far.next = node.next;
            let far_id = self.add(far);
            near.next = far_id;
            *self.node_mut(leaf) = near;
            self.offcuts.push(far_id);
            return (leaf, far_id);
        }
        (near.parent, far.parent) = (leaf, leaf);
        (near.next, far.next) = (NONE, NONE);
        let far_id = self.add(far);
        near.next = far_id;
        let near_id = self.add(near);
        let node = self.node_mut(leaf);
        node.what = split;
        node.first = near_id;
        self.offcuts.retain(|&o| o != leaf);
        self.offcuts.push(near_id);
        self.offcuts.push(far_id);
        (near_id, far_id)
    }

    fn add(&mut self, node: Node) -> u32 {
        if let Some(id) = self.spare.pop() {
            *self.node_mut(id) = node;
            return id;
        }
        self.nodes.push(node);
        u32::try_from(self.nodes.len() - 1).expect("a few nodes a piece")
    }

    /// Turns a node and all below it to waste. Calls `out` with each piece that was there.
    pub(crate) fn remove(&mut self, shop: &Shop, id: u32, out: &mut dyn FnMut(usize)) {
        self.clear(shop, id, out);
        self.offcuts.push(id);
        let top = self.collapse(shop, id);
        if shop.plain() {
            self.settle_waste(top);
        }
        self.measure();
    }

    /// Makes a node an offcut, not yet in the list of them.
    fn clear(&mut self, shop: &Shop, id: u32, out: &mut dyn FnMut(usize)) {
        let node = *self.node(id);
        match node.what {
            What::Piece { kind, .. } => {
                let kind = kind as usize;
                self.area -= shop.kinds[kind].area;
                self.pieces -= 1;
                out(kind);
            }
            What::Offcut => self.offcuts.retain(|&o| o != id),
            _ => {
                let mut child = node.first;
                while child != NONE {
                    let next = self.node(child).next;
                    self.clear(shop, child, out);
                    self.drop_node(child);
                    child = next;
                }
            }
        }
        let node = self.node_mut(id);
        node.what = What::Offcut;
        node.first = NONE;
    }

    fn drop_node(&mut self, id: u32) {
        self.node_mut(id).what = What::Gone;
        self.spare.push(id);
    }

    /// Joins an offcut with the other waste of its parent, and a parent that is nothing but waste with its own.
    fn collapse(&mut self, shop: &Shop, mut id: u32) -> u32 {
        loop {
            let parent = self.node(id).parent;
            if parent == NONE {
                return id;
            }
            let split = self.node(parent).what;
            self.join_waste(parent, split, shop.edges);
            let first = self.node(parent).first;
            if self.node(first).next != NONE {
                return parent;
            }
            self.offcuts.retain(|&o| o != first);
            self.drop_node(first);
            let node = self.node_mut(parent);
            node.what = What::Offcut;
            node.first = NONE;
            self.offcuts.push(parent);
            id = parent;
        }
    }

    /// Joins the offcuts among the children of a node: all of them at the end,
    /// or neighbours only where places on the sheet differ.
    fn join_waste(&mut self, parent: u32, split: What, neighbours_only: bool) {
        let (mut last_kept, mut waste, mut child) = (NONE, NONE, self.node(parent).first);
        self.node_mut(parent).first = NONE;
        while child != NONE {
            let next = self.node(child).next;
            if self.node(child).what == What::Offcut {
                if waste == NONE {
                    waste = child;
                    if neighbours_only {
                        self.link(parent, last_kept, child);
                        last_kept = child;
                    }
                } else {
                    let size = self.node(child).along(split);
                    let kept = self.node_mut(waste);
                    if split == What::Columns {
                        kept.width += size;
                    } else {
                        kept.height += size;
                    }
                    self.offcuts.retain(|&o| o != child);
                    self.drop_node(child);
                }
            } else {
                self.link(parent, last_kept, child);
                last_kept = child;
                if neighbours_only {
                    waste = NONE;
                }
            }
            child = next;
        }
        if !neighbours_only && waste != NONE {
            self.link(parent, last_kept, waste);
        }
    }

    /// Joins waste all over the tree, for a tree that was split by hand.
    pub(crate) fn join_all(&mut self, shop: &Shop) {
        let leaves = self.offcuts.clone();
        for leaf in leaves {
            if self.node(leaf).what == What::Offcut {
                self.collapse(shop, leaf);
            }
        }
        self.measure();
    }

    /// Puts a child behind another, or first.
    fn link(&mut self, parent: u32, before: u32, child: u32) {
        if before == NONE {
            self.node_mut(parent).first = child;
        } else {
            self.node_mut(before).next = child;
        }
        self.node_mut(child).next = NONE;
    }

    fn measure(&mut self) {
        (self.widest, self.tallest) = (0, 0);
        self.leaves.clear();
        for &id in &self.offcuts {
            let Node { width, height, .. } = self.nodes[id as usize];
            self.leaves.push(Leaf { width, height, id });
            self.widest = self.widest.max(width);
            self.tallest = self.tallest.max(height);
        }
    }

    /// How much waste lies along one whole side of a node's inside and can be
    /// cut off in one strip, and by how much that raises the offcuts' worth.
    fn strip(&self, id: u32) -> Option<(u32, f64)> {
        let node = *self.node(id);
        let across = match node.what {
            What::Columns => What::Rows,
            What::Rows => What::Columns,
            _ => return None,
        };
        let mut least = u32::MAX;
        for child in self.children(id) {
            let child_node = self.node(child);
            let waste = match child_node.what {
                What::Offcut => continue,
                what if what == across => self.waste_of(child).map_or(0, |w| self.node(w).along(across)),
                _ => 0,
            };
            least = least.min(waste);
            if least == 0 {
                return None;
            }
        }
        if least == u32::MAX {
            return None;
        }
        let cut = f64::from(least);
        let mut gain = 0.0;
        let mut count = |node: &Node| {
            let (side, deep) = (f64::from(node.along(node_side(across))), f64::from(node.along(across)));
            gain += side * side * ((deep - cut) * (deep - cut) - deep * deep);
        };
        for child in self.children(id) {
            match self.node(child).what {
                What::Offcut => count(self.node(child)),
                _ => {
                    if let Some(w) = self.waste_of(child) {
                        count(self.node(w));
                    }
                }
            }
        }
        let side = f64::from(node.along(node.what));
        let beside = if node.parent == NONE {
            0.0
        } else {
            self.waste_of(node.parent).map_or(0.0, |w| f64::from(self.node(w).along(across)))
        };
        gain += side * side * ((beside + cut) * (beside + cut) - beside * beside);
        Some((least, gain))
    }

    /// The offcut among a node's children.
    fn waste_of(&self, id: u32) -> Option<u32> {
        self.children(id).find(|&c| self.node(c).what == What::Offcut)
    }

    /// Cuts a strip of waste off the inside of a node; the other way of cutting the same places.
    fn lift(&mut self, id: u32, cut: u32) {
        let what = self.node(id).what;
        let across = node_side(what);
        // The strip leaves the children.
        let children: Vec<u32> = self.children(id).collect();
        let mut kept = Vec::new();
        for child in children {
            self.shorten(child, across, cut);
            if self.node(child).what == What::Offcut {
                if self.node(child).along(across) == 0 {
                    self.offcuts.retain(|&o| o != child);
                    self.drop_node(child);
                } else {
                    kept.push(child);
                }
                continue;
            }
            let waste = self.waste_of(child).expect("a strip runs through each child");
            self.shorten(waste, across, cut);
            if self.node(waste).along(across) > 0 {
                kept.push(child);
                continue;
            }
            self.offcuts.retain(|&o| o != waste);
            let rest: Vec<u32> = self.children(child).filter(|&c| c != waste).collect();
            self.drop_node(waste);
            if let [only] = rest[..] {
                if self.node(only).what == what {
                    kept.extend(self.children(only).collect::<Vec<_>>());
                    self.drop_node(only);
                } else {
                    kept.push(only);
                }
                self.drop_node(child);
            } else {
                self.relink(child, &rest);
                kept.push(child);
            }
        }
        // What was cut off lies beside the rest in the parent.
        let node = *self.node(id);
        let (mut width, mut height) = (node.width, node.height);
        if across == What::Columns {
            width = cut;
        } else {
            height = cut;
        }
        if node.parent == NONE {
            let strip =
                self.add(Node { width, height, parent: id, first: NONE, next: NONE, what: What::Offcut });
            self.offcuts.push(strip);
            if let [only] = kept[..] {
                self.relink(id, &[only, strip]);
            } else {
                let inner = self.add(Node { parent: id, next: NONE, ..node });
                self.relink(inner, &kept);
                self.shorten(inner, across, cut);
                self.relink(id, &[inner, strip]);
            }
            self.node_mut(id).what = across;
            self.join_waste(id, across, false);
            return;
        }
        let parent = node.parent;
        let strip = self.add(Node { width, height, parent, first: NONE, next: NONE, what: What::Offcut });
        self.offcuts.push(strip);
        let mut siblings: Vec<u32> = Vec::new();
        for sibling in self.children(parent).collect::<Vec<_>>() {
            if sibling != id {
                siblings.push(sibling);
            } else if let [only] = kept[..] {
                if self.node(only).what == across {
                    siblings.extend(self.children(only).collect::<Vec<_>>());
                    self.drop_node(only);
                } else {
                    siblings.push(only);
                }
                self.drop_node(id);
            } else {
                self.shorten(id, across, cut);
                self.relink(id, &kept);
                siblings.push(id);
            }
        }
        siblings.push(strip);
        self.relink(parent, &siblings);
        self.join_waste(parent, across, false);
    }

    fn shorten(&mut self, id: u32, split: What, cut: u32) {
        let node = self.node_mut(id);
        if split == What::Columns {
            node.width -= cut;
        } else {
            node.height -= cut;
        }
    }

    fn relink(&mut self, parent: u32, children: &[u32]) {
        let mut before = NONE;
        for &child in children {
            self.node_mut(child).parent = parent;
            self.link(parent, before, child);
            before = child;
        }
    }

    /// Cuts waste the other way round wherever that makes larger offcuts, from a node up to the sheet.
    fn settle_waste(&mut self, mut id: u32) {
        while id != NONE {
            let parent = self.node(id).parent;
            if let Some((cut, gain)) = self.strip(id)
                && gain > 0.0
            {
                self.lift(id, cut);
            }
            id = parent;
        }
    }

    /// What of the sheet's two sides the pieces take up.
    pub(crate) fn used(&self) -> (u32, u32) {
        self.used_of(0)
    }

    fn used_of(&self, id: u32) -> (u32, u32) {
        let node = self.node(id);
        match node.what {
            What::Offcut | What::Gone => (0, 0),
            What::Piece { .. } => (node.width, node.height),
            What::Columns => {
                self.children(id).map(|c| self.used_of(c)).fold((0, 0), |a, c| (a.0 + c.0, a.1.max(c.1)))
            }
            What::Rows => {
                self.children(id).map(|c| self.used_of(c)).fold((0, 0), |a, c| (a.0.max(c.0), a.1 + c.1))
            }
        }
    }

    /// The same pieces cut in the same way, waste last, on a sheet that holds what is used of this one.
    pub(crate) fn moved(&self, shop: &Shop, board: usize) -> Tree {
        let shape = shop.boards[board];
        let mut tree = Tree::new(board, shape.width, shape.height);
        self.pour(shop, 0, &mut tree, 0);
        tree.join_all(shop);
        tree
    }

    fn pour(&self, shop: &Shop, id: u32, tree: &mut Tree, mut leaf: u32) {
        let node = *self.node(id);
        match node.what {
            What::Offcut | What::Gone => {}
            What::Piece { kind, turned } => {
                let (width, height) = (node.width, node.height);
                let spot =
                    Spot { leaf, dx: 0, dy: 0, width, height, turned, columns_first: true, score: 0.0 };
                tree.insert(shop, kind as usize, &spot);
            }
            What::Columns | What::Rows => {
                for child in self.children(id) {
                    let (width, height) = self.used_of(child);
                    let extent = if node.what == What::Columns { width } else { height };
                    if extent == 0 {
                        continue;
                    }
                    if extent < tree.node(leaf).along(node.what) {
                        let (near, far) = tree.split(leaf, node.what, extent);
                        self.pour(shop, child, tree, near);
                        leaf = far;
                    } else {
                        self.pour(shop, child, tree, leaf);
                    }
                }
            }
        }
    }

    /// Whether sizes add up all over the tree.
    #[cfg(test)]
    pub(crate) fn sound(&self) -> bool {
        (0..self.nodes.len()).all(|i| {
            let node = &self.nodes[i];
            let id = u32::try_from(i).unwrap();
            if !node.is_split() {
                return (node.what == What::Offcut) == self.offcuts.contains(&id);
            }
            let other = node_side(node.what);
            let sum: u32 = self.children(id).map(|c| self.node(c).along(node.what)).sum();
            sum == node.along(node.what)
                && self.children(id).count() > 1
                && self.children(id).all(|c| {
                    let child = self.node(c);
                    child.parent == id && child.what != node.what && child.along(other) == node.along(other)
                })
        })
    }

    /// Whether a node is in the tree and more than waste.
    pub(crate) fn removable(&self, id: u32) -> bool {
        let node = self.node(id);
        matches!(node.what, What::Piece { .. }) || (node.is_split() && node.parent != NONE)
    }
}

/// The other direction.
const fn node_side(split: What) -> What {
    if matches!(split, What::Columns) { What::Rows } else { What::Columns }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::dice::Dice;
    use crate::{Goal, Job, Options, Piece, Sheet};

    proptest! {
        #[test]
        fn a_tree_stays_sound_whatever_goes_in_and_out(
            sizes in prop::collection::vec((1_u32..30, 1_u32..30), 1..12),
            seed in any::<u64>(),
        ) {
            let pieces = sizes.iter().map(|&(w, h)| Piece::new(w, h, 1).turning()).collect();
            let job = Job { pieces, stock: vec![Sheet::new(60, 60)], goal: Goal::FewestSheets };
            let shop = Shop::new(&job, &Options::default());
            let mut dice = Dice::new(seed);
            let mut tree = Tree::new(0, 60, 60);
            for _ in 0..200 {
                if dice.once_in(3) {
                    let id = u32::try_from(dice.below(tree.nodes.len())).unwrap();
                    if tree.removable(id) {
                        tree.remove(&shop, id, &mut |_| {});
                    }
                } else {
                    let kind = dice.below(shop.kinds.len());
                    if let Some(spot) = tree.best_spot(&shop, kind, &mut || dice.once_in(5)) {
                        tree.insert(&shop, kind, &spot);
                    }
                }
                prop_assert!(tree.sound());
                let waste: f64 = tree.offcuts().iter().map(|&o| f64::from(tree.node(o).width) * f64::from(tree.node(o).height)).sum();
                prop_assert!((waste + tree.area as f64 - 3600.0).abs() < 0.5);
            }
        }
    }
}
