//! What comes out: for each sheet its tree of cuts, and from that the places
//! of the pieces, the offcuts, and the cuts in the order in which they are
//! made, each with the distance the trimmer is set to.

use std::collections::BTreeSet;

use crate::Rect;
use crate::settings::Extents;
use crate::shop::Shop;
use crate::tree::{Tree, What};

/// A plan: which pieces come from which sheets, and how well that does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// The sheets to cut.
    pub sheets: Vec<SheetPlan>,
    /// For each piece of the job, how many found no place.
    pub missing: Vec<u32>,
    /// What the goal counts: sheets, their cost, or the pieces' value.
    pub score: u64,
    /// No plan has a lower score than this (for [`crate::Goal::MostValue`]: a higher).
    pub bound: u64,
    /// Nothing is missing that fits a sheet, or the goal does not ask.
    pub(crate) cuts_wanted: bool,
}

/// One sheet of a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetPlan {
    /// Which sheet of the job's stock.
    pub sheet: usize,
    /// The sheet as a tree of cuts.
    pub part: Part,
    /// Least width the trimmer can hold, as the options said.
    pub least_strip: u32,
}

/// A part of a sheet: a piece, an offcut, or something to cut up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// Distance of its corner from the sheet's, along the width.
    pub x: u32,
    /// Distance of its corner from the sheet's, along the height.
    pub y: u32,
    /// Its size.
    pub size: Rect,
    /// What becomes of it.
    pub content: Content,
}

/// What becomes of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// It is a piece.
    Piece {
        /// Which piece of the job.
        piece: usize,
        /// Whether it lies turned.
        turned: bool,
    },
    /// It is left over; where the blade takes all of it, one side is 0.
    Offcut,
    /// It is cut between parts that lie side by side along its width.
    Columns(Vec<Part>),
    /// It is cut between parts that lie one above the other along its height.
    Rows(Vec<Part>),
}

/// A piece in its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Which piece of the job.
    pub piece: usize,
    /// Distance of its corner from the sheet's, along the width.
    pub x: u32,
    /// Distance of its corner from the sheet's, along the height.
    pub y: u32,
    /// Its size as it lies.
    pub size: Rect,
    /// Whether it lies turned.
    pub turned: bool,
}

/// One cut from edge to edge of a part in hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// Corner of the part in hand along the sheet's width.
    pub x: u32,
    /// Corner of the part in hand along the sheet's height.
    pub y: u32,
    /// Size of the part in hand.
    pub size: Rect,
    /// Whether the parts lie side by side along the width, else along the height.
    pub columns: bool,
    /// Where the cut runs: its distance from that corner.
    pub at: u32,
    /// What the trimmer is set to: the extent of the part cut off, or of the other where that is too
    /// thin to hold.
    pub setting: u32,
}

impl Plan {
    /// Whether every piece found a place.
    pub fn complete(&self) -> bool {
        self.missing.iter().all(|&n| n == 0)
    }

    /// Whether it is proven that no plan has a better score.
    pub fn optimal(&self) -> bool {
        self.cuts_wanted && self.score == self.bound
    }

    /// The largest offcut's area; 0 where nothing is left.
    pub fn largest_offcut(&self) -> u64 {
        self.sheets.iter().flat_map(SheetPlan::offcuts).map(|o| o.size.area()).max().unwrap_or(0)
    }

    /// The distances the trimmer is set to, without repeats, in order.
    pub fn settings(&self) -> Vec<u32> {
        let all: BTreeSet<u32> = self.sheets.iter().flat_map(SheetPlan::cuts).map(|c| c.setting).collect();
        all.into_iter().collect()
    }

    /// How many cuts it takes.
    pub fn cuts(&self) -> usize {
        self.sheets.iter().map(|s| s.cuts().len()).sum()
    }
}

impl SheetPlan {
    /// The pieces of this sheet in their places.
    pub fn placed(&self) -> Vec<Placed> {
        let mut found = Vec::new();
        self.part.visit(&mut |part| {
            if let Content::Piece { piece, turned } = part.content {
                found.push(Placed { piece, x: part.x, y: part.y, size: part.size, turned });
            }
        });
        found
    }

    /// What is left of this sheet.
    pub fn offcuts(&self) -> Vec<&Part> {
        let mut found = Vec::new();
        self.part.visit(&mut |part| {
            if part.content == Content::Offcut && part.size.area() > 0 {
                found.push(part);
            }
        });
        found
    }

    /// The cuts of this sheet in an order in which they can be made.
    pub fn cuts(&self) -> Vec<Cut> {
        let mut cuts = Vec::new();
        self.part.visit(&mut |part| part.cut_up(self.least_strip, &mut cuts));
        cuts
    }
}

impl Part {
    fn visit<'p>(&'p self, look: &mut dyn FnMut(&'p Part)) {
        look(self);
        if let Content::Columns(parts) | Content::Rows(parts) = &self.content {
            for part in parts {
                part.visit(look);
            }
        }
    }

    /// The cuts between the children: parts are taken off from both ends until
    /// only the waste is left, which then needs no setting of its own; where there
    /// is none, the last part; and where too little of either is there to hold, the largest.
    fn cut_up(&self, least_strip: u32, cuts: &mut Vec<Cut>) {
        let (parts, columns) = match &self.content {
            Content::Columns(parts) => (parts, true),
            Content::Rows(parts) => (parts, false),
            _ => return,
        };
        let extent = |p: &Part| if columns { p.size.width } else { p.size.height };
        let largest = (0..parts.len()).max_by_key(|&i| extent(&parts[i])).unwrap_or(0);
        let waste = (0..parts.len()).rev().find(|&i| parts[i].content == Content::Offcut);
        let kept = waste.unwrap_or(parts.len() - 1);
        let kept = if extent(&parts[kept]) >= least_strip { kept } else { largest };
        let from = |p: &Part| if columns { p.x } else { p.y };
        let (mut near, mut far) = (0, parts.len() - 1);
        let (mut start, mut end) = (from(self), from(self) + extent(self));
        while near < far {
            let (x, y, size) = if columns {
                (start, self.y, Rect::new(end - start, self.size.height))
            } else {
                (self.x, start, Rect::new(self.size.width, end - start))
            };
            let (at, off, other) = if near < kept {
                near += 1;
                let at = extent(&parts[near - 1]);
                start = from(&parts[near]);
                (at, at, end.saturating_sub(start))
            } else {
                far -= 1;
                end = from(&parts[far]) + extent(&parts[far]);
                let at = end - start;
                (at, extent(&parts[far + 1]), at)
            };
            // The part that is measured is the one that is held.
            let setting = if off < least_strip.max(1) { other } else { off };
            cuts.push(Cut { x, y, size, columns, at, setting });
        }
    }
}

/// The plan that these sheets are.
pub(crate) fn plan_of(shop: &Shop, trees: &[Tree], bound: u64) -> Plan {
    let mut missing: Vec<u32> = shop.kinds.iter().map(|k| k.quantity).collect();
    let extents = Extents::of(trees);
    let sheets: Vec<SheetPlan> = trees
        .iter()
        .filter(|tree| tree.pieces > 0)
        .map(|tree| SheetPlan {
            sheet: tree.board,
            part: part_of(shop, &extents, tree, 0, (0, 0), Lean::default()),
            least_strip: shop.least_strip.saturating_sub(shop.kerf),
        })
        .collect();
    let mut value = 0.0;
    for placed in sheets.iter().flat_map(SheetPlan::placed) {
        missing[placed.piece] -= 1;
        value += shop.kinds[placed.piece].worth;
    }
    let score = if shop.goal == crate::Goal::MostValue {
        whole(value)
    } else {
        trees.iter().filter(|t| t.pieces > 0).map(|t| shop.boards[t.board].cost).sum()
    };
    let cuts_wanted = shop.goal == crate::Goal::MostValue
        || missing.iter().zip(&shop.kinds).all(|(&n, k)| n == 0 || k.ways.is_empty());
    Plan { sheets, missing, score, bound, cuts_wanted }
}

/// A sum of whole numbers that was carried as a float.
pub(crate) fn whole(sum: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "sums of whole numbers below 2^53"
    )]
    let sum = sum.max(0.0).round() as u64;
    sum
}

/// Towards which end of each side the pieces of a part lie: `true` for the far one.
#[derive(Clone, Copy, Default)]
struct Lean {
    x: bool,
    y: bool,
}

/// A node with its children in their places. Waste lies before the last of them,
/// where places may be chosen, and the last leans to the far end: so the pieces
/// on either side are flush with the edges they are measured from, and no cut
/// trims several of them at once. Where there is no waste, what needs no setting
/// lies last.
fn part_of(shop: &Shop, extents: &Extents, tree: &Tree, id: u32, (x, y): (u32, u32), lean: Lean) -> Part {
    let node = tree.node(id);
    let content = match node.what {
        What::Piece { kind, turned } => Content::Piece { piece: kind as usize, turned },
        What::Columns | What::Rows => {
            let columns = node.what == What::Columns;
            let (mut x, mut y) = (x, y);
            let mut children: Vec<u32> = tree.children(id).collect();
            if !shop.edges {
                let remains = extents.remains(tree, id);
                children.sort_by_key(|&c| Some(c) == remains);
                let last = children.len() - 1;
                let end = tree.node(children[last]);
                let far = if columns { lean.x } else { lean.y };
                // What the blade would swallow stays at the edge.
                if (last > 1 || far) && end.what == What::Offcut && end.along(node.what) > shop.kerf {
                    children.swap(last - 1, last);
                }
            }
            let is_kept = |c: &u32| tree.node(*c).what != What::Offcut;
            let kept = children.iter().filter(|c| is_kept(c)).count();
            let last = children.iter().rposition(is_kept);
            let mut parts = Vec::new();
            for (place, &child) in children.iter().enumerate() {
                // Across, the last of several leans the other way, so that both edges are reached.
                let lean = match (kept > 1, Some(place) == last) {
                    (false, _) => lean,
                    (true, far) if columns => Lean { x: far, y: lean.y != far },
                    (true, far) => Lean { x: lean.x != far, y: far },
                };
                parts.push(part_of(shop, extents, tree, child, (x, y), lean));
                let size = tree.node(child).along(node.what);
                *if columns { &mut x } else { &mut y } += size;
            }
            if columns { Content::Columns(parts) } else { Content::Rows(parts) }
        }
        What::Offcut | What::Gone => Content::Offcut,
    };
    let size = Rect::new(node.width.saturating_sub(shop.kerf), node.height.saturating_sub(shop.kerf));
    Part { x, y, size, content }
}
