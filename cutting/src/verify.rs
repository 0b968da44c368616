//! Checks a plan without knowing how it was made: from the places of the
//! pieces alone. Taking any cut that is possible never spoils a later one, for
//! a part of a guillotine pattern is one; so no search is needed.

use crate::{Edges, Job, Options, Placed, Plan, Rect, SheetPlan};

/// What is wrong with a plan.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Flaw {
    /// A piece or sheet the job does not have.
    #[error("sheet {0} of the plan names a piece or a sheet that the job does not have")]
    Unknown(usize),
    /// Pieces cut and missing do not add up to those wanted.
    #[error("piece {0}: cut and missing do not add up to its quantity")]
    Quantity(usize),
    /// More sheets than there are.
    #[error("more of sheet {0} than there are")]
    Stock(usize),
    /// A piece of another size, or turned where it may not be.
    #[error("piece {0} lies with another size, or turned where it may not be")]
    Size(usize),
    /// A piece over the edge, or where no face serves it.
    #[error("piece {0} lies where no face of its sheet serves it")]
    Place(usize),
    /// Two pieces share a place, or are closer than the blade is wide.
    #[error("pieces overlap on sheet {0} of the plan")]
    Overlap(usize),
    /// No cut from edge to edge frees the pieces.
    #[error("sheet {0} of the plan cannot be taken apart with cuts from edge to edge")]
    NoCut(usize),
    /// More changes of direction than allowed.
    #[error("sheet {0} of the plan takes more stages than allowed")]
    Stages(usize),
    /// A cut with nothing wide enough to hold on either side.
    #[error("sheet {0} of the plan has a cut with no part wide enough to hold")]
    Strip(usize),
    /// The cuts listed do not free the pieces.
    #[error("the cuts of sheet {0} of the plan do not give its pieces")]
    Cuts(usize),
}

/// Finds the first flaw of a plan.
pub fn verify(job: &Job, options: &Options, plan: &Plan) -> Result<(), Flaw> {
    let mut cut = vec![0_u32; job.pieces.len()];
    let mut used = vec![0_u32; job.stock.len()];
    for (number, sheet) in plan.sheets.iter().enumerate() {
        let stock = job.stock.get(sheet.sheet).ok_or(Flaw::Unknown(number))?;
        used[sheet.sheet] += 1;
        let placed = sheet.placed();
        for place in &placed {
            let piece = job.pieces.get(place.piece).ok_or(Flaw::Unknown(number))?;
            cut[place.piece] += 1;
            let size = if place.turned { piece.size.turned() } else { piece.size };
            if place.size != size || (place.turned && !piece.may_turn) {
                return Err(Flaw::Size(place.piece));
            }
            let served = if stock.faces.is_empty() {
                piece.papers.is_empty() && inside(place, stock.size, Edges::default())
            } else {
                stock.faces.iter().any(|face| {
                    (piece.papers.is_empty() || piece.papers.contains(&face.paper))
                        && inside(place, stock.size, face.unusable)
                })
            };
            if !served {
                return Err(Flaw::Place(place.piece));
            }
        }
        let boxes: Vec<[u32; 4]> = placed
            .iter()
            .map(|p| [p.x, p.y, p.x + p.size.width + options.kerf, p.y + p.size.height + options.kerf])
            .collect();
        for (i, a) in boxes.iter().enumerate() {
            if boxes[..i].iter().any(|b| a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]) {
                return Err(Flaw::Overlap(number));
            }
        }
        let stages =
            stages(&boxes, 0).into_iter().chain(stages(&boxes, 1)).min().ok_or(Flaw::NoCut(number))?;
        if stages > options.stages.limit() {
            return Err(Flaw::Stages(number));
        }
        follow(number, sheet, stock.size, &placed, options)?;
    }
    for (i, piece) in job.pieces.iter().enumerate() {
        if plan.missing.get(i).is_none_or(|m| cut[i] + m != piece.quantity) {
            return Err(Flaw::Quantity(i));
        }
    }
    for (i, stock) in job.stock.iter().enumerate() {
        if stock.count.is_some_and(|count| used[i] > count) {
            return Err(Flaw::Stock(i));
        }
    }
    Ok(())
}

fn inside(place: &Placed, sheet: Rect, edges: Edges) -> bool {
    place.x >= edges.left
        && place.y >= edges.top
        && place.x + place.size.width + edges.right <= sheet.width
        && place.y + place.size.height + edges.bottom <= sheet.height
}

/// How many stages free the boxes when the first cuts part them along `axis`;
/// `None` where that never frees them.
fn stages(boxes: &[[u32; 4]], axis: usize) -> Option<u32> {
    if boxes.len() <= 1 {
        return Some(1);
    }
    let mut order = boxes.to_vec();
    order.sort_unstable_by_key(|b| b[axis]);
    let mut groups: Vec<Vec<[u32; 4]>> = Vec::new();
    let mut reach = 0;
    for b in order {
        match groups.last_mut() {
            Some(group) if b[axis] < reach => group.push(b),
            _ => groups.push(vec![b]),
        }
        reach = reach.max(b[axis + 2]);
    }
    if groups.len() == 1 && !parts(boxes, 1 - axis) {
        return None;
    }
    let mut most = 0;
    for group in &groups {
        if group.len() > 1 {
            most = most.max(stages(group, 1 - axis)?);
        }
    }
    Some(1 + most)
}

/// Whether some cut parts the boxes along an axis.
fn parts(boxes: &[[u32; 4]], axis: usize) -> bool {
    boxes.iter().any(|edge| {
        let at = edge[axis + 2];
        boxes.iter().any(|b| b[axis] >= at) && boxes.iter().all(|b| b[axis] >= at || b[axis + 2] <= at)
    })
}

/// Makes the cuts of a sheet one by one and looks whether the pieces come out.
fn follow(
    number: usize,
    sheet: &SheetPlan,
    size: Rect,
    placed: &[Placed],
    options: &Options,
) -> Result<(), Flaw> {
    let flaw = Flaw::Cuts(number);
    let mut hand = vec![[0, 0, size.width, size.height]];
    for cut in sheet.cuts() {
        let part = [cut.x, cut.y, cut.size.width, cut.size.height];
        let Some(found) = hand.iter().position(|h| *h == part) else { return Err(flaw) };
        hand.swap_remove(found);
        let axis = usize::from(!cut.columns);
        let whole = part[axis + 2];
        if cut.at == 0 || cut.at >= whole {
            return Err(flaw);
        }
        let rest = whole.saturating_sub(cut.at + options.kerf);
        if cut.at.max(rest) < options.least_strip {
            return Err(Flaw::Strip(number));
        }
        if cut.setting != cut.at && cut.setting != rest {
            return Err(flaw);
        }
        let (mut near, mut far) = (part, part);
        near[axis + 2] = cut.at;
        far[axis] += cut.at + options.kerf;
        far[axis + 2] = rest;
        hand.push(near);
        hand.push(far);
    }
    let freed = |p: &Placed| hand.contains(&[p.x, p.y, p.size.width, p.size.height]);
    if placed.iter().all(freed) { Ok(()) } else { Err(flaw) }
}
