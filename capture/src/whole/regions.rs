//! Regions that may be the inside of a drawn figure.
//! Method: connected components (Rosenfeld and Pfaltz, "Sequential operations
//! in digital picture processing", JACM 13, 1966) of two kinds. *Faces* are
//! what the ink closes off, after the ink has grown by a few pixels to close
//! the gaps a hand leaves. *Figures on a ground* are what stands on a large
//! face: everything that is not ground, after an opening that cuts the thin
//! lines between figures (Serra, "Image Analysis and Mathematical Morphology",
//! 1982); a figure cut up by writing or by a picture in it is whole there.
//! A region is handed on as its profile, the outermost pixel of every row and
//! column from all four sides, so that what is written inside does not matter.

use crate::bits::{Bits, Neighbours, Regions};

/// A growth of the ink, which closes gaps of twice as much.
struct Growth {
    px: usize,
    /// Whether what it closes off is looked at.
    faces: bool,
    /// Whether what stands on its grounds is.
    grounds: bool,
}

/// The growths that are tried.
const GROWTHS: [Growth; 5] = [
    Growth { px: 0, faces: true, grounds: false },
    Growth { px: 1, faces: false, grounds: true },
    Growth { px: 2, faces: true, grounds: false },
    Growth { px: 4, faces: true, grounds: true },
    Growth { px: 7, faces: true, grounds: false },
];
/// Least share of the picture that is a ground.
const GROUNDS: [f32; 4] = [0.002, 0.01, 0.03, 0.1];
/// Half the width of what an opening cuts off, in pixels: a doubled stroke.
const OPENING_PX: usize = 5;
/// Half the width of a stroke in pixels, from its edge to its middle.
const HALF_STROKE_PX: f32 = 2.5;
/// Regions whose bounds differ by less are one, in pixels.
const ALIKE_PX: f32 = 2.5;
/// Smallest side of a region in pixels: a tenth of an inch.
const SMALLEST_PX: usize = 12;

/// The outermost pixels of a region.
pub(super) struct Profile {
    /// First row and column.
    pub(super) origin: [f32; 2],
    /// Leftmost and rightmost of every row.
    pub(super) rows: Vec<[f32; 2]>,
    /// Topmost and bottommost of every column.
    pub(super) columns: Vec<[f32; 2]>,
}

/// All regions of one level of ink.
pub(super) fn propose(ink: &Bits, out: &mut Vec<Profile>) {
    let all = (ink.width * ink.height) as f32;
    for growth in GROWTHS {
        let free = ink.grown(growth.px).inverted();
        let regions = free.regions(Neighbours::Four);
        if growth.faces {
            profiles(&free, &regions, growth.px as f32 + HALF_STROKE_PX, out);
        }
        if !growth.grounds {
            continue;
        }
        let mut before = 0;
        for share in GROUNDS {
            let ground: Vec<bool> = regions.areas.iter().map(|area| *area as f32 >= share * all).collect();
            // Fewer grounds than with the share before, or nothing new stands on them.
            let count = ground.iter().filter(|ground| **ground).count();
            if count == 0 || count == before {
                continue;
            }
            before = count;
            let opened = free.of_regions(&regions, &ground).grown(OPENING_PX + growth.px).inverted();
            let grown = OPENING_PX as f32 - HALF_STROKE_PX;
            profiles(&opened, &opened.regions(Neighbours::Four), grown, out);
        }
    }
}

/// The profiles of all regions that do not touch the picture's border, grown
/// by some pixels on all sides.
fn profiles(bits: &Bits, regions: &Regions, grown: f32, out: &mut Vec<Profile>) {
    let nowhere = Extent { left: usize::MAX, top: usize::MAX, right: 0, bottom: 0 };
    let mut extents = vec![nowhere; regions.areas.len()];
    for run in &regions.runs {
        let extent = &mut extents[run.region];
        extent.left = extent.left.min(run.start);
        extent.right = extent.right.max(run.end);
        extent.top = extent.top.min(run.y);
        extent.bottom = extent.bottom.max(run.y);
    }
    let first = out.len();
    // Where the profile of each region is, if it has one.
    let place: Vec<usize> = extents
        .iter()
        .map(|extent| {
            let inside = extent.left > 0
                && extent.top > 0
                && extent.right + 1 < bits.width
                && extent.bottom + 1 < bits.height;
            let (w, h) = (extent.right + 1 - extent.left, extent.bottom + 1 - extent.top);
            if !inside || w.min(h) < SMALLEST_PX {
                return usize::MAX;
            }
            out.push(Profile {
                origin: [extent.left as f32, extent.top as f32],
                rows: vec![[f32::MAX, f32::MIN]; h],
                columns: vec![[f32::MAX, f32::MIN]; w],
            });
            out.len() - 1
        })
        .collect();
    for run in &regions.runs {
        let Some(profile) = out.get_mut(place[run.region]) else { continue };
        let extent = extents[run.region];
        let row = &mut profile.rows[run.y - extent.top];
        *row = [row[0].min(run.start as f32), row[1].max(run.end as f32)];
        let y = run.y as f32;
        let columns = &mut profile.columns;
        bits.edge(*run, false, |x| columns[x - extent.left][0] = columns[x - extent.left][0].min(y));
        bits.edge(*run, true, |x| columns[x - extent.left][1] = columns[x - extent.left][1].max(y));
    }
    for profile in &mut out[first..] {
        profile.grow(grown);
    }
}

/// Where a region is.
#[derive(Clone, Copy)]
struct Extent {
    left: usize,
    top: usize,
    right: usize,
    bottom: usize,
}

impl Profile {
    /// Its bounds in steps of a few pixels: what is in one cell is alike.
    pub(super) fn cell(&self) -> [i32; 4] {
        let step = |v: f32| crate::raster::round_px(f64::from(v / ALIKE_PX));
        let outer = |ends: &[[f32; 2]], which: usize, pick: fn(f32, f32) -> f32| {
            ends.iter().map(|pair| pair[which]).reduce(pick).map_or(0, step)
        };
        [
            outer(&self.rows, 0, f32::min),
            outer(&self.rows, 1, f32::max),
            outer(&self.columns, 0, f32::min),
            outer(&self.columns, 1, f32::max),
        ]
    }

    fn grow(&mut self, by: f32) {
        for [low, high] in self.rows.iter_mut().chain(&mut self.columns) {
            *low -= by;
            *high += by;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ink where `inked` says so.
    fn drawn(width: usize, height: usize, inked: impl Fn(usize, usize) -> bool) -> Bits {
        let values: Vec<u8> = (0..width * height).map(|i| u8::from(inked(i % width, i / width))).collect();
        Bits::at_least(&values, width, 1)
    }

    /// The regions that the ink, grown by some pixels, closes off.
    fn faces(ink: &Bits, growth: usize) -> Vec<Profile> {
        let mut faces = Vec::new();
        let free = ink.grown(growth).inverted();
        profiles(&free, &free.regions(Neighbours::Four), growth as f32, &mut faces);
        faces
    }

    #[test]
    fn a_face_is_what_the_ink_closes_off() {
        let rows = [
            "....................",
            ".##################.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".#......####......#.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".#................#.",
            ".##################.",
            "....................",
        ];
        let faces = faces(&drawn(20, 16, |x, y| rows[y].as_bytes()[x] == b'#'), 0);
        // The paper around touches the border; what is written inside does not matter.
        assert_eq!(faces.len(), 1);
        let whole = |ends: &[[f32; 2]]| {
            ends.iter().map(|pair| pair.map(|v| crate::raster::round_px(v.into()))).collect::<Vec<_>>()
        };
        assert_eq!(whole(&faces[0].rows), vec![[2, 17]; 12]);
        assert_eq!(whole(&faces[0].columns), vec![[2, 13]; 16]);
    }

    #[test]
    fn grown_ink_closes_a_gap() {
        let side = 40;
        let ink = drawn(60, 60, |x, y| {
            let edge = (x == 10 || x == 10 + side) && (10..=10 + side).contains(&y)
                || (y == 10 || y == 10 + side) && (10..=10 + side).contains(&x);
            // Four pixels are missing from the right side.
            edge && !(x == 10 + side && (28..32).contains(&y))
        });
        for (growth, whole) in [(0, 0), (2, 1)] {
            assert_eq!(faces(&ink, growth).len(), whole, "growth {growth}");
        }
    }
}
