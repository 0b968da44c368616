//! What holds for every plan, on jobs thrown by dice.

use cutting::{Edges, Face, Goal, Job, Options, Piece, Plan, Sheet, Stages, plan, verify};
use proptest::prelude::*;

fn pieces(papers: bool) -> impl Strategy<Value = Vec<Piece>> {
    let piece =
        (1_u32..40, 1_u32..40, 1_u32..6, any::<bool>(), 0_u32..4).prop_map(move |(w, h, n, turns, paper)| {
            let piece = Piece::new(w, h, n);
            let piece = if turns { piece.turning() } else { piece };
            if papers && paper > 0 { piece.from_papers(&[paper]) } else { piece }
        });
    prop::collection::vec(piece, 1..12)
}

fn stock(papers: bool) -> impl Strategy<Value = Vec<Sheet>> {
    let edges = (0_u32..6, 0_u32..6, 0_u32..6, 0_u32..6).prop_map(|(left, right, top, bottom)| Edges {
        left,
        right,
        top,
        bottom,
    });
    let face = (1_u32..4, edges).prop_map(|(paper, unusable)| Face { paper, unusable });
    let sheet = (20_u32..60, 20_u32..60, prop::option::of(0_u32..5), prop::collection::vec(face, 1..3))
        .prop_map(move |(w, h, count, faces)| {
            let sheet = Sheet { count, ..Sheet::new(w, h) };
            if papers { sheet.with_faces(&faces) } else { sheet }
        });
    prop::collection::vec(sheet, 1..4)
}

fn options() -> impl Strategy<Value = Options> {
    let stages = prop::sample::select(vec![Stages::Two, Stages::Three, Stages::Free]);
    (stages, 0_u32..3, 0_u32..15).prop_map(|(stages, kerf, least_strip)| Options {
        stages,
        kerf,
        least_strip,
        rounds: 200,
    })
}

fn goal() -> impl Strategy<Value = Goal> {
    prop::sample::select(vec![Goal::FewestSheets, Goal::LeastCost, Goal::MostValue])
}

/// Left, top, right and bottom of a piece in its place.
type Box = [u32; 4];

/// Whether cuts from edge to edge free all of the boxes, by trying every cut beside a box: slow, and
/// nothing like the way plans are made or verified.
fn separable(boxes: &[Box], kerf: u32) -> bool {
    boxes.len() <= 1
        || [0, 1].into_iter().any(|axis| {
            boxes.iter().map(|b| b[axis + 2]).any(|at| {
                let (near, rest): (Vec<Box>, Vec<Box>) = boxes.iter().partition(|b| b[axis + 2] <= at);
                !rest.is_empty()
                    && rest.iter().all(|b| b[axis] >= at + kerf)
                    && separable(&near, kerf)
                    && separable(&rest, kerf)
            })
        })
}

/// What a plan must keep to, from the places of its pieces alone.
fn check_places(job: &Job, options: &Options, found: &Plan) -> Result<(), TestCaseError> {
    let mut cut = vec![0; job.pieces.len()];
    for sheet in &found.sheets {
        let size = job.stock[sheet.sheet].size;
        let mut painted = vec![false; (size.width * size.height) as usize];
        let mut boxes = Vec::new();
        for p in sheet.placed() {
            cut[p.piece] += 1;
            let (right, bottom) = (p.x + p.size.width, p.y + p.size.height);
            prop_assert!(right <= size.width && bottom <= size.height, "a piece leaves its sheet");
            for (x, y) in (p.x..right).flat_map(|x| (p.y..bottom).map(move |y| (x, y))) {
                let cell = &mut painted[(x * size.height + y) as usize];
                prop_assert!(!std::mem::replace(cell, true), "two pieces on one place");
            }
            boxes.push([p.x, p.y, right, bottom]);
        }
        prop_assert!(separable(&boxes, options.kerf), "no cut frees these: {:?}", boxes);
    }
    for (i, piece) in job.pieces.iter().enumerate() {
        prop_assert_eq!(cut[i] + found.missing[i], piece.quantity, "a piece is lost or made up");
    }
    Ok(())
}

/// Makes a plan and checks all that any plan must keep to.
fn check(job: &Job, options: &Options) -> Result<(), TestCaseError> {
    let found = plan(job, options, &mut |_| true).map_err(|e| TestCaseError::fail(e.to_string()))?;
    prop_assert_eq!(verify(job, options, &found), Ok(()));
    check_places(job, options, &found)?;
    let again = plan(job, options, &mut |_| true);
    prop_assert_eq!(again.as_ref(), Ok(&found), "same rounds, same plan");
    if job.goal == Goal::MostValue {
        prop_assert!(found.score <= found.bound);
    } else {
        prop_assert!(found.score >= found.bound || !found.complete());
    }
    let (mut pieces, mut left) = (0, 0);
    for sheet in &found.sheets {
        pieces += sheet.placed().iter().map(|p| p.size.area()).sum::<u64>();
        left += sheet.offcuts().iter().map(|o| o.size.area()).sum::<u64>();
    }
    let sheets: u64 = found.sheets.iter().map(|s| job.stock[s.sheet].size.area()).sum();
    if options.kerf == 0 {
        prop_assert_eq!(pieces + left, sheets, "pieces and offcuts are all of the sheets");
    } else {
        prop_assert!(pieces + left <= sheets);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn plain_plans_keep_to_the_rules(pieces in pieces(false), stock in stock(false), goal in goal()) {
        let options = Options { rounds: 200, ..Options::default() };
        check(&Job { pieces, stock, goal }, &options)?;
    }

    #[test]
    fn plans_keep_to_blade_strip_and_stages(
        pieces in pieces(false),
        stock in stock(false),
        goal in goal(),
        options in options(),
    ) {
        check(&Job { pieces, stock, goal }, &options)?;
    }

    #[test]
    fn two_faced_sheets_serve_only_what_they_may(
        pieces in pieces(true),
        stock in stock(true),
        goal in goal(),
        options in options(),
    ) {
        check(&Job { pieces, stock, goal }, &options)?;
    }

    #[test]
    fn one_sheet_alone_keeps_to_the_rules(
        pieces in pieces(true),
        sheet in stock(true).prop_map(|mut stock| stock.remove(0)),
        options in options(),
    ) {
        check(&Job { pieces, stock: vec![sheet.at_most(1)], goal: Goal::MostValue }, &options)?;
    }

    #[test]
    fn many_copies_are_planned_by_the_same_rules(
        pieces in prop::collection::vec((5_u32..40, 5_u32..40, 20_u32..60), 1..5),
        goal in prop::sample::select(vec![Goal::FewestSheets, Goal::LeastCost]),
    ) {
        let pieces = pieces.into_iter().map(|(w, h, n)| Piece::new(w, h, n).turning()).collect();
        let stock = vec![Sheet::new(60, 50), Sheet::new(45, 70)];
        check(&Job { pieces, stock, goal }, &Options { rounds: 4_000, ..Options::default() })?;
    }
}

#[test]
fn waste_thinner_than_the_blade_stays_at_the_edge() {
    // It once lay between two pieces, where no cut could take it off.
    let job = Job {
        pieces: vec![Piece::new(7, 8, 1), Piece::new(2, 4, 3)],
        stock: vec![Sheet::new(21, 21)],
        goal: Goal::FewestSheets,
    };
    let options = Options { kerf: 2, rounds: 200, ..Options::default() };
    let found = plan(&job, &options, &mut |_| true).unwrap();
    assert_eq!(verify(&job, &options, &found), Ok(()));
}

#[test]
fn saying_no_gives_the_best_plan_so_far() {
    let pieces = (1..30).map(|i| Piece::new(10 + i % 7, 5 + i, 2)).collect();
    let job = Job { pieces, stock: vec![Sheet::new(60, 60)], goal: Goal::FewestSheets };
    let options = Options::default();
    let mut asked = 0;
    let found = plan(&job, &options, &mut |best| {
        asked += 1;
        assert!(best.complete());
        asked < 10
    })
    .unwrap();
    assert_eq!(asked, 10);
    assert_eq!(verify(&job, &options, &found), Ok(()));
}

#[test]
fn a_sheet_that_is_not_there_leaves_pieces_missing() {
    let job = Job {
        pieces: vec![Piece::new(10, 10, 5), Piece::new(100, 100, 1)],
        stock: vec![Sheet::new(20, 20).at_most(1)],
        goal: Goal::FewestSheets,
    };
    let found = plan(&job, &Options::default(), &mut |_| true).unwrap();
    assert_eq!(found.missing, [1, 1]);
    assert!(!found.complete());
}
