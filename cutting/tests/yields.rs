//! How many of one piece come from one sheet, and the worth of a sheet cut
//! best, against values found outside this crate.

use cutting::{Goal, Job, Options, Piece, Sheet, plan, verify};

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few inches, above 0")]
fn sixteenths(inches: f64) -> u32 {
    (inches * 16.0).round() as u32
}

/// Most pieces (in sixteenths of an inch) that guillotine cuts with turning get from one sheet.
fn most((width, height): (f64, f64), (sheet_width, sheet_height): (f64, f64)) -> u64 {
    let piece = Piece { value: 1, ..Piece::new(sixteenths(width), sixteenths(height), 40).turning() };
    let sheet = Sheet::new(sixteenths(sheet_width), sixteenths(sheet_height)).at_most(1);
    let job = Job { pieces: vec![piece], stock: vec![sheet], goal: Goal::MostValue };
    let options = Options { rounds: 1000, ..Options::default() };
    let plan = plan(&job, &options, &mut |_| true).expect("a job in order");
    assert_eq!(verify(&job, &options, &plan), Ok(()));
    assert!(plan.optimal(), "one size from one sheet is solved exactly");
    plan.score
}

#[test]
fn yields_of_card_sizes_are_those_of_the_published_recursion() {
    // Worked values of the recursion of Gilmore & Gomory (1966) and Beasley (1985), zero blade
    // width, made with a separate program that was itself checked on OR-Library's gcut1. Where a
    // free layout would give more (5 x 7 and 2 1/2 x 3 1/2: a pinwheel), no trimmer can cut it.
    let letter = (8.5, 11.0);
    let square = (12.0, 12.0);
    let pad = (6.0, 6.0);
    let a4 = (8.25, 11.625);
    let check = |piece, sheet, count| assert_eq!(most(piece, sheet), count, "{piece:?} from {sheet:?}");
    check((4.25, 5.5), letter, 4);
    check((4.25, 5.5), square, 4);
    check((4.25, 5.5), a4, 2);
    check((5.5, 8.5), letter, 2);
    check((5.5, 8.5), square, 2);
    check((5.5, 8.5), a4, 1);
    check((4.0, 5.25), square, 6);
    check((4.0, 5.25), letter, 4);
    check((4.0, 5.25), a4, 4);
    check((3.875, 5.125), square, 6);
    check((4.125, 5.375), square, 4);
    check((5.0, 7.0), square, 3);
    check((4.875, 6.875), square, 3);
    check((5.0, 7.0), letter, 2);
    check((5.0, 7.0), a4, 2);
    check((7.0, 10.0), square, 1);
    check((1.25, 4.0), pad, 5);
    check((1.25, 4.0), square, 27);
    check((1.25, 4.0), letter, 16);
    check((1.0, 5.25), pad, 6);
    check((1.0, 5.25), square, 26);
    check((1.0, 5.25), letter, 17);
    check((2.5, 3.5), pad, 3);
    check((2.5, 3.5), square, 14);
    check((2.5, 3.5), letter, 10);
}

#[test]
fn a_leftover_strip_tells_which_pieces_it_is_enough_for() {
    // Counted by hand, in eighths of an inch: a 2 1/2 x 12 in strip has room for two 2 1/2 x 3 1/2 in
    // mats (7 in of it) and four 1 1/4 x 4 in borders side by side in pairs (8 in), but not for both.
    let strip = Sheet::new(20, 96).at_most(1);
    let (mats, borders) = (Piece::new(20, 28, 2), Piece::new(10, 32, 4).turning());
    let options = Options { rounds: 500, ..Options::default() };
    let cut = |pieces: &[Piece]| {
        let job = Job { pieces: pieces.to_vec(), stock: vec![strip.clone()], goal: Goal::MostValue };
        let found = plan(&job, &options, &mut |_| true).unwrap();
        assert!(found.sheets.len() <= 1 && found.optimal());
        found
    };
    assert!(cut(std::slice::from_ref(&mats)).complete());
    assert!(cut(std::slice::from_ref(&borders)).complete());
    let both = cut(&[mats.clone(), borders.clone()]);
    assert!(!both.complete());
    // Worth most: the four borders (1280 square eighths) and one mat (560).
    assert_eq!((both.missing, both.score), (vec![1, 0], 1840));
    // What is worth more goes first.
    let mats = Piece { value: 5000, ..mats };
    assert_eq!(cut(&[mats, borders]).missing, [0, 2]);
    let wide = Piece::new(21, 21, 1);
    assert!(!cut(&[wide]).complete());
}

/// Width, height and most copies of each piece of instance 2s.
const TWO_S: [(u32, u32, u32); 10] = [
    (21, 22, 1),
    (31, 13, 1),
    (9, 35, 3),
    (9, 24, 3),
    (30, 7, 2),
    (11, 13, 3),
    (10, 14, 1),
    (14, 8, 3),
    (12, 8, 3),
    (13, 7, 3),
];

#[test]
fn a_sheet_whose_copies_run_out_is_worth_its_published_optimum() {
    // Instance 2s of Hifi (1997): sheet and pieces of OR-Library's cgcut2, each worth its area. Optimum as
    // given by the exact models of Furini, Malaguti & Thomopulos (2016).
    let pieces = TWO_S.map(|(w, h, n)| Piece::new(w, h, n));
    let job =
        Job { pieces: pieces.to_vec(), stock: vec![Sheet::new(40, 70).at_most(1)], goal: Goal::MostValue };
    let found = plan(&job, &Options::default(), &mut |_| true).unwrap();
    assert_eq!((found.score, found.bound), (2778, 2778));
    verify(&job, &Options::default(), &found).unwrap();
}

#[test]
fn one_sheet_of_gcut1_is_worth_its_published_optimum() {
    // OR-Library, gcut1, pieces without limit; optima 56460 fixed and 58136 turning as published
    // on a university's page of results for unconstrained guillotine cutting.
    let sizes = [
        (167, 184),
        (114, 118),
        (167, 152),
        (83, 140),
        (70, 86),
        (143, 166),
        (120, 160),
        (66, 148),
        (87, 141),
        (69, 165),
    ];
    for (turns, optimum) in [(false, 56460), (true, 58136)] {
        let piece = |&(w, h): &(u32, u32)| {
            let piece = Piece::new(w, h, 20);
            if turns { piece.turning() } else { piece }
        };
        let job = Job {
            pieces: sizes.iter().map(piece).collect(),
            stock: vec![Sheet::new(250, 250).at_most(1)],
            goal: Goal::MostValue,
        };
        let options = Options::default();
        let plan = plan(&job, &options, &mut |_| true).unwrap();
        assert_eq!((plan.score, plan.bound), (optimum, optimum), "turning: {turns}");
        verify(&job, &options, &plan).unwrap();
    }
}

#[test]
fn a_batch_of_ten_layouts_fits_ten_double_sided_sheets() {
    // Ten layouts, four cards each: panel, mat, strip from the prints, bases from plain cardstock.
    use cutting::{Edges, Face};
    let (floral, dots, plain) = (1, 2, 3);
    let mut pieces = Vec::new();
    for layout in 0..10_u32 {
        let print = if layout % 2 == 0 { floral } else { dots };
        pieces.push(Piece::new(62 - layout, 82 - layout, 4).from_papers(&[print]));
        pieces.push(Piece::new(12 + layout, 64, 4).turning().from_papers(&[floral, dots]));
        pieces.push(Piece::new(64, 84, 4).turning().from_papers(&[plain]));
        pieces.push(Piece::new(68, 176, 4).turning().from_papers(&[plain]));
    }
    let bar = Edges { bottom: 10, ..Edges::default() };
    let faces = [Face { paper: floral, unusable: bar }, Face { paper: dots, unusable: Edges::default() }];
    let card = [Face { paper: plain, unusable: Edges::default() }];
    let stock =
        vec![Sheet::new(192, 192).at_most(10).with_faces(&faces), Sheet::new(136, 176).with_faces(&card)];
    let job = Job { pieces, stock, goal: Goal::FewestSheets };
    let options = Options { rounds: 200, ..Options::default() };
    let begin = std::time::Instant::now();
    let mut first = None;
    let plan = plan(&job, &options, &mut |_| {
        first.get_or_insert_with(|| begin.elapsed());
        true
    })
    .unwrap();
    verify(&job, &options, &plan).unwrap();
    assert!(plan.complete());
    assert!(plan.sheets.iter().filter(|s| s.sheet == 0).count() <= 10);
    assert!(first.is_none_or(|f| f.as_secs_f64() < 1.0), "first plan after {first:?}");
}
