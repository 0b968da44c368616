//! A job made ready for the search: pieces in the ways they may lie, sheets,
//! and which part of which sheet may serve which piece. The blade's width is
//! added to pieces and sheets alike, after which no cut has a width.

use crate::job::{Face, Goal, Job, Options};

/// One way a piece may lie.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Way {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) turned: bool,
}

/// A piece of the job.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    pub(crate) ways: Vec<Way>,
    pub(crate) quantity: u32,
    /// Lost for each one that is not cut: its area, or its value.
    pub(crate) worth: f64,
    pub(crate) area: u64,
}

/// A sheet of the job.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Board {
    pub(crate) width: u32,
    pub(crate) height: u32,
    /// How many can be of use.
    pub(crate) count: u32,
    /// What the goal counts.
    pub(crate) cost: u64,
}

impl Board {
    pub(crate) fn area(self) -> u64 {
        u64::from(self.width) * u64::from(self.height)
    }
}

/// The part of a sheet that may serve a piece, by its corners.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Zone {
    pub(crate) x0: u32,
    pub(crate) y0: u32,
    pub(crate) x1: u32,
    pub(crate) y1: u32,
}

#[derive(Clone, Debug)]
pub(crate) struct Shop {
    pub(crate) kinds: Vec<Kind>,
    pub(crate) boards: Vec<Board>,
    pub(crate) goal: Goal,
    pub(crate) stages: u32,
    pub(crate) kerf: u32,
    /// With the blade's width; 0 when any strip can be held.
    pub(crate) least_strip: u32,
    /// Some face cannot be used up to its edge, so places on a sheet differ.
    pub(crate) edges: bool,
    /// For each board, for each kind.
    zones: Vec<Vec<Zone>>,
}

impl Shop {
    pub(crate) fn new(job: &Job, options: &Options) -> Shop {
        let kerf = options.kerf;
        let boards: Vec<Board> = job
            .stock
            .iter()
            .map(|s| Board {
                width: s.size.width + kerf,
                height: s.size.height + kerf,
                count: s.count.unwrap_or(u32::MAX),
                cost: match job.goal {
                    Goal::FewestSheets => 1,
                    Goal::LeastCost => s.cost,
                    Goal::MostValue => 0,
                },
            })
            .collect();
        let mut zones = Vec::new();
        for sheet in &job.stock {
            for piece in &job.pieces {
                let plain = [Face::default()];
                let any = sheet.faces.is_empty();
                let faces = if any { &plain[..] } else { &sheet.faces[..] };
                let mut found: Vec<Zone> = faces
                    .iter()
                    .filter(|f| piece.papers.is_empty() || (!any && piece.papers.contains(&f.paper)))
                    .map(|f| Zone {
                        x0: f.unusable.left,
                        y0: f.unusable.top,
                        x1: (sheet.size.width + kerf).saturating_sub(f.unusable.right),
                        y1: (sheet.size.height + kerf).saturating_sub(f.unusable.bottom),
                    })
                    .collect();
                found.dedup();
                zones.push(found);
            }
        }
        let whole = |s: usize, z: &Zone| {
            let b: &Board = &boards[s];
            *z == Zone { x0: 0, y0: 0, x1: b.width, y1: b.height }
        };
        let pieces = job.pieces.len();
        let edges = zones.iter().enumerate().any(|(i, found)| found.iter().any(|z| !whole(i / pieces, z)));
        let mut kinds: Vec<Kind> = job
            .pieces
            .iter()
            .map(|p| {
                let (width, height) = (p.size.width + kerf, p.size.height + kerf);
                let mut ways = vec![Way { width, height, turned: false }];
                if p.may_turn && width != height {
                    ways.push(Way { width: height, height: width, turned: true });
                }
                let area = u64::from(width) * u64::from(height);
                let worth = if job.goal == Goal::MostValue { p.value } else { area };
                Kind { ways, quantity: p.quantity, worth: worth as f64, area }
            })
            .collect();
        // A way that fits no sheet is no way; a piece without a way stays in the plan as missing.
        for (k, kind) in kinds.iter_mut().enumerate() {
            kind.ways.retain(|way| {
                (0..boards.len()).any(|b| {
                    boards[b].count > 0
                        && zones[b * pieces + k]
                            .iter()
                            .any(|z| way.width + z.x0 <= z.x1 && way.height + z.y0 <= z.y1)
                })
            });
        }
        let least_strip = if options.least_strip == 0 { 0 } else { options.least_strip + kerf };
        Shop {
            kinds,
            boards,
            goal: job.goal,
            stages: options.stages.limit(),
            kerf,
            least_strip,
            edges,
            zones,
        }
    }

    /// The parts of a board that may serve a kind.
    pub(crate) fn zones(&self, board: usize, kind: usize) -> &[Zone] {
        &self.zones[board * self.kinds.len() + kind]
    }

    /// Whether a kind can be cut from a board.
    pub(crate) fn suits(&self, board: usize, kind: usize) -> bool {
        let zones = self.zones(board, kind);
        self.kinds[kind]
            .ways
            .iter()
            .any(|w| zones.iter().any(|z| w.width + z.x0 <= z.x1 && w.height + z.y0 <= z.y1))
    }

    /// Whether nothing but size decides what fits where, and no cut is forbidden.
    pub(crate) fn plain(&self) -> bool {
        !self.edges && self.stages == u32::MAX && self.least_strip == 0
    }

    /// The worth of all that is wanted and fits some sheet.
    pub(crate) fn wanted_worth(&self) -> f64 {
        self.kinds.iter().filter(|k| !k.ways.is_empty()).map(|k| k.worth * f64::from(k.quantity)).sum()
    }

    /// Pieces wanted that fit on some sheet, copies counted.
    pub(crate) fn wanted(&self) -> u32 {
        self.kinds.iter().filter(|k| !k.ways.is_empty()).map(|k| k.quantity).sum()
    }
}
