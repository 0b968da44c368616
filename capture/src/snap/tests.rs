//! What the snapper promises.

#![expect(clippy::float_cmp, reason = "places on the grid are exact in binary")]

use layout::{End, Ends, MarkKind};
use proptest::prelude::*;

use super::*;

const EYE_IN: f64 = 0.002;

fn element(shape: Shape, sides: [f64; 4]) -> Measured {
    Measured {
        shape,
        sides: sides.map(|at| Edge { at, sd: EYE_IN, seen: 1.0 }),
        rotation_deg: 0.0,
        corner_radius_in: 0.0,
        held: [None; 2],
    }
}

fn panel(left: f64, top: f64, right: f64, bottom: f64) -> Measured {
    element(Shape::SHARP, [left, top, right, bottom])
}

fn circle(left: f64, top: f64, right: f64, bottom: f64) -> Measured {
    element(Shape::Circle, [left, top, right, bottom])
}

/// Settles on a card and gives left, top, width and height in its unit.
fn settled(card: &str, elements: &[Measured]) -> Vec<[f64; 4]> {
    let card: Card = card.parse().unwrap();
    settle(&card, elements, &Options::default())
        .elements
        .iter()
        .map(|element| {
            let Frame { x, y, width, height } = element.frame;
            [x, y, width, height].map(|length| length.value(card.unit))
        })
        .collect()
}

fn check(card: &str, elements: &[Measured], expected: &[[f64; 4]]) {
    assert_eq!(settled(card, elements), expected);
}

#[test]
fn a_background_drawn_unevenly_gets_one_margin_all_round() {
    check("4.25x5.5", &[panel(0.131, 0.118, 4.14, 5.36)], &[[0.125, 0.125, 4.0, 5.25]]);
}

#[test]
fn squares_of_a_row_are_alike_though_one_would_round_otherwise() {
    // By itself the last would be 1 1/8 wide.
    let row =
        [panel(0.5, 2.252, 1.503, 3.253), panel(1.623, 2.25, 2.628, 3.25), panel(2.745, 2.248, 3.812, 3.251)];
    let got = settled("4.25x5.5", &row);
    assert_eq!(got.iter().map(|at| [at[2], at[3]]).collect::<Vec<_>>(), [[1.0, 1.0]; 3]);
}

#[test]
fn a_mat_is_an_even_border_larger() {
    // Rounded by itself the mat would be 2 5/8 high.
    let nest = [panel(0.94, 0.93, 3.07, 3.51), panel(1.0, 1.0, 3.005, 3.44)];
    let got = settled("4.25x5.5", &nest);
    let [outer, inner] = [got[0], got[1]];
    assert_eq!([outer[2] - inner[2], outer[3] - inner[3]], [0.125, 0.125], "{got:?}");
    assert_eq!([inner[0] - outer[0], inner[1] - outer[1]], [0.0625, 0.0625], "{got:?}");
}

#[test]
fn a_strip_that_meets_both_edges_is_as_wide_as_the_card() {
    check("4.25x5.5", &[panel(0.004, 1.99, 4.247, 3.01)], &[[0.0, 2.0, 4.25, 1.0]]);
}

#[test]
fn metric_cards_are_settled_on_millimetres() {
    let mm = |at: [f64; 4]| panel(at[0] / 25.4, at[1] / 25.4, at[2] / 25.4, at[3] / 25.4);
    check("iso-a6", &[mm([5.05, 5.0, 99.9, 143.05])], &[[5.0, 5.0, 95.0, 138.0]]);
}

#[test]
fn a_scale_wrong_by_a_hundredth_is_seen_through() {
    let meant = [
        panel(0.125, 0.125, 4.125, 5.375),
        panel(0.5, 0.5, 3.75, 2.5),
        panel(0.5, 2.75, 3.75, 5.0),
        panel(0.0, 4.0, 4.25, 4.5),
    ];
    let wrong = meant.clone().map(|mut element| {
        for side in &mut element.sides {
            side.at *= 1.01;
        }
        element
    });
    assert_eq!(settled("4.25x5.5", &wrong), settled("4.25x5.5", &meant));
}

#[test]
fn a_fixed_size_stays_and_its_row_follows() {
    let row = [panel(0.5, 2.25, 1.55, 3.25), panel(1.62, 2.25, 2.69, 3.25), panel(2.74, 2.25, 3.80, 3.25)];
    let free = settled("4.25x5.5", &row);
    let mut fixed = row.to_vec();
    let other = if free[0][2] < 1.1 { Length::eighths(9) } else { Length::eighths(8) };
    fixed[0].held[0] = Some(other);
    let got = settled("4.25x5.5", &fixed);
    assert_eq!(got[0][2], other.value(Unit::Inch));
    assert_eq!([got[1][2], got[2][2]], [got[0][2]; 2], "the others of the row follow: {free:?} {got:?}");
}

#[test]
fn a_size_between_two_eighths_has_its_runner_up() {
    let card: Card = "5x7".parse().unwrap();
    let options = Options { hand_sd_in: Some(0.03) };
    let got = settle(&card, &[panel(0.7, 1.1, 2.765, 3.165)], &options);
    let element = &got.elements[0];
    assert!(!element.alternatives.is_empty(), "{element:?}");
    for other in &element.alternatives {
        let chosen = if other.side == Side::Width { element.frame.width } else { element.frame.height };
        assert!(other.probability > WORTH_TELLING && other.probability < 0.8);
        assert_eq!((other.size - chosen).abs(), Length::eighths(1));
    }
    assert!(element.certainty < 0.8);
}

#[test]
fn every_size_says_what_it_was_and_what_spoke_for_it() {
    let card: Card = "4.25x5.5".parse().unwrap();
    let got = settle(&card, &[panel(0.131, 0.118, 4.14, 5.36)], &Options::default());
    let why = &got.elements[0].why[0];
    assert!((why.measured_in - 4.009).abs() < 1e-9 && why.sd_in > 0.0 && !why.held);
    assert!(why.habits.iter().any(|(habit, _)| *habit == Habit::CentredOnCard), "{why:?}");
    assert!(why.habits.windows(2).all(|pair| pair[0].1 >= pair[1].1), "strongest first");
}

#[test]
fn roles_follow_shape_and_place() {
    let card: Card = "4.25x5.5".parse().unwrap();
    let banner = Shape::Banner { ends: Ends::new(End::Straight, End::Fishtail) };
    let elements = [
        panel(0.125, 0.125, 4.125, 5.375),
        panel(0.0, 2.0, 4.25, 2.75),
        panel(0.5, 0.5, 3.0, 4.0),
        circle(1.0, 1.0, 2.5, 2.5),
        circle(1.0625, 1.0625, 2.4375, 2.4375),
        element(banner, [2.0, 4.0, 4.25, 4.5]),
        element(Shape::Mark { kind: MarkKind::Dot }, [3.0, 3.0, 3.1, 3.1]),
    ];
    let roles: Vec<Role> =
        settle(&card, &elements, &Options::default()).elements.iter().map(|element| element.role).collect();
    assert_eq!(
        roles,
        [
            Role::Background,
            Role::Strip,
            Role::Panel,
            Role::Mat,
            Role::Focal,
            Role::Sentiment,
            Role::Embellishment
        ]
    );
}

#[test]
fn what_cannot_be_measured_still_gets_a_box() {
    for sides in [[f64::NAN; 4], [0.0; 4], [-9.0, -9.0, -8.0, -8.0], [3.0, 3.0, 1.0, 1.0], [1e9; 4]] {
        for shape in [Shape::SHARP, Shape::Circle, Shape::Mark { kind: MarkKind::Dot }] {
            let got = settled("4.25x5.5", &[element(shape, sides)]);
            assert!(got[0][2] > 0.0 && got[0][3] > 0.0, "{sides:?} {got:?}");
        }
    }
    assert!(settled("4.25x5.5", &[]).is_empty());
}

/// Elements on a card of 4 1/4 x 5 1/2 as a hand may draw them: sometimes
/// sharing lines, sometimes not.
fn drawings() -> impl Strategy<Value = Vec<Measured>> {
    let size = 3_i32..28;
    let one = (0_u32..6, 0_i32..60, 0_i32..80, size.clone(), size, prop::array::uniform4(-0.06_f64..0.06));
    prop::collection::vec(one, 1..7).prop_map(|all| {
        all.into_iter()
            .map(|(kind, x, y, width, height, stray)| {
                let (width, height) = (f64::from(width) / 8.0, f64::from(height) / 8.0);
                let height = if kind == 0 { width } else { height };
                let left = (f64::from(x) / 16.0).min(4.25 - width.min(4.0));
                let top = (f64::from(y) / 16.0).min(5.5 - height.min(5.0));
                let at = [left, top, left + width, top + height];
                let sides = [0, 1, 2, 3].map(|k| at[k] + stray[k]);
                match kind {
                    0 => circle(sides[0], sides[1], sides[2], sides[3]),
                    1 => element(Shape::Oval, sides),
                    2 => Measured { rotation_deg: 8.0, ..element(Shape::SHARP, sides) },
                    _ => element(Shape::SHARP, sides),
                }
            })
            .collect()
    })
}

fn frames(card: &Card, elements: &[Measured]) -> Vec<Frame> {
    settle(card, elements, &Options::default()).elements.into_iter().map(|element| element.frame).collect()
}

fn a2() -> Card {
    "4.25x5.5".parse().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn settling_what_is_settled_changes_nothing(elements in drawings()) {
        let once = frames(&a2(), &elements);
        let again: Vec<Measured> = elements.iter().zip(&once).map(|(element, frame)| {
            let sides = [frame.x, frame.y, frame.right(), frame.bottom()].map(|side| side.value(Unit::Inch));
            Measured { sides: sides.map(|at| Edge { at, sd: EYE_IN, seen: 1.0 }), ..element.clone() }
        }).collect();
        prop_assert_eq!(frames(&a2(), &again), once);
    }

    #[test]
    fn a_mirrored_drawing_is_settled_as_the_mirror_image(elements in drawings()) {
        let card = a2();
        let mirrored: Vec<Measured> = elements.iter().map(|element| {
            let [left, top, right, bottom] = element.sides;
            let flip = |side: Edge| Edge { at: 4.25 - side.at, ..side };
            Measured {
                sides: [flip(right), top, flip(left), bottom],
                rotation_deg: -element.rotation_deg,
                ..element.clone()
            }
        }).collect();
        let expected: Vec<Frame> = frames(&card, &elements).into_iter()
            .map(|frame| Frame { x: card.width - frame.right(), ..frame }).collect();
        prop_assert_eq!(frames(&card, &mirrored), expected);
    }

    #[test]
    fn a_drawing_turned_a_quarter_is_settled_turned(elements in drawings()) {
        let lying: Card = "5.5x4.25".parse().unwrap();
        let turned: Vec<Measured> = elements.iter().map(|element| {
            let [left, top, right, bottom] = element.sides;
            let flip = |side: Edge| Edge { at: 5.5 - side.at, ..side };
            Measured { sides: [flip(bottom), left, flip(top), right], ..element.clone() }
        }).collect();
        let expected: Vec<Frame> = frames(&a2(), &elements).into_iter().map(|frame| Frame {
            x: lying.width - frame.bottom(), y: frame.x, width: frame.height, height: frame.width,
        }).collect();
        prop_assert_eq!(frames(&lying, &turned), expected);
    }

    #[test]
    fn boxes_are_on_the_grid_and_never_inside_out(elements in drawings(), metric in any::<bool>()) {
        let card: Card = if metric { "110x140mm".parse().unwrap() } else { a2() };
        let got = settle(&card, &elements, &Options::default());
        prop_assert_eq!(got.elements.len(), elements.len());
        for element in &got.elements {
            let Frame { x, y, width, height } = element.frame;
            prop_assert!(width.is_positive() && height.is_positive());
            prop_assert!([width, height].iter().all(|size| size.is_on(card.unit, Step::Size)));
            prop_assert!([x, y].iter().all(|at| at.is_on(card.unit, Step::Position)));
            prop_assert!((0.0..=1.0 + 1e-9).contains(&element.certainty));
        }
    }

    #[test]
    fn a_size_fixed_by_hand_stays_fixed(elements in drawings(), which in 0_usize..6, size in 1_i32..30) {
        let mut elements = elements;
        let which = which % elements.len();
        elements[which].held[0] = Some(Length::eighths(size));
        prop_assert_eq!(frames(&a2(), &elements)[which].width, Length::eighths(size));
    }

    #[test]
    fn the_same_drawing_is_settled_the_same_twice(elements in drawings()) {
        let one = settle(&a2(), &elements, &Options::default());
        let two = settle(&a2(), &elements, &Options::default());
        for (one, two) in one.elements.iter().zip(&two.elements) {
            prop_assert_eq!(one.frame, two.frame);
            prop_assert_eq!(one.certainty.to_bits(), two.certainty.to_bits());
        }
    }
}
