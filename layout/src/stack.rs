//! What lies on what: the layers of a layout from the base up, what is seen of
//! each, and how high each lies. Every layer is a flat, stiff piece that rests
//! on the highest of the layers under it; marks are too small to hide or to
//! hold anything.

use crate::element::Shape;
use crate::record::Layout;
use crate::region::Region;

/// Most layers, mats counted, that are looked through: far more than a card
/// has, and still done within a second or two.
pub const MOST_LAYERS: usize = 300;
/// Overlaps of less area than this hold nothing up, in square inches: an
/// eighth by an eighth.
const HOLDS_IN2: f64 = 1.0 / 64.0;

/// Thicknesses of what a card is made of, in inches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calipers {
    /// One layer of cardstock, 0.004 to 0.03. Trade tables disagree: 0.008 to
    /// 0.012 for the usual weights; 0.012 errs to the thick side. Measure a
    /// pile of ten.
    pub cardstock: f64,
    /// Foam adhesive, which comes as 1/32, 1/16 and 1/8; 1/16 is the usual.
    pub foam: f64,
    /// One side of an envelope: 0.0045, thin writing paper.
    pub envelope: f64,
}

impl Default for Calipers {
    fn default() -> Calipers {
        Calipers { cardstock: 0.012, foam: 1.0 / 16.0, envelope: 0.0045 }
    }
}

/// How high something lies over the card's front.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Height {
    /// Layers of paper.
    pub layers: u32,
    /// Layers of foam adhesive.
    pub foam: u32,
}

impl Height {
    /// The same in inches.
    pub fn thickness_in(self, calipers: Calipers) -> f64 {
        f64::from(self.layers) * calipers.cardstock + f64::from(self.foam) * calipers.foam
    }
}

/// One piece of paper in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Index of its element.
    pub index: usize,
    /// Which mat behind the element, 1 the nearest; none for the element.
    pub mat: Option<usize>,
    /// What of it lies on the card.
    pub region: Region,
    /// What is seen of that.
    pub seen: Region,
    /// What it rests on. Foam under it is not counted yet.
    pub rests_at: Height,
    /// Where it hangs over lower layers: the part, and how high that lies.
    pub overhangs: Vec<(Region, Height)>,
}

impl Layer {
    /// Share of its area on the card that is hidden, 0 to 1.
    pub fn hidden_share(&self) -> f64 {
        let area = self.region.area_in();
        if area > 0.0 { (1.0 - self.seen.area_in() / area).clamp(0.0, 1.0) } else { 0.0 }
    }
}

/// A layout as it is glued, bottom first.
#[derive(Clone, Debug, PartialEq)]
pub struct Stack {
    /// Its layers; an element's mats come before it, the largest number first.
    pub layers: Vec<Layer>,
    /// What is seen of the card base.
    pub base_seen: Region,
    /// The highest place.
    pub height: Height,
}

/// A layout that is too deep.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a layout of {0} layers is too deep to look through: up to 300, mats counted, can be")]
pub struct TooDeep(pub usize);

impl Stack {
    /// The layers of a layout, its marks left out.
    pub fn of(layout: &Layout, calipers: Calipers) -> Result<Stack, TooDeep> {
        let elements = layout.elements.iter().filter(|element| !matches!(element.shape, Shape::Mark { .. }));
        let count = elements.map(|element| element.mats.len() + 1).sum();
        if count > MOST_LAYERS {
            return Err(TooDeep(count));
        }
        let card = Region::of(Shape::SHARP, layout.card.frame(), 0.0);
        let mut layers = placed(layout, &card);
        let mut cover = Region::default();
        for layer in layers.iter_mut().rev() {
            layer.seen = layer.region.minus(&cover);
            cover = cover.and(&layer.region);
        }
        let height = rest(layout, &mut layers, &card, calipers);
        Ok(Stack { layers, base_seen: card.minus(&cover), height })
    }

    /// The layer of an element itself; none for a mark.
    pub fn layer(&self, index: usize) -> Option<&Layer> {
        self.layers.iter().find(|layer| layer.index == index && layer.mat.is_none())
    }

    /// What is hidden of a layer by those above it.
    pub fn hidden(layer: &Layer) -> Region {
        layer.region.minus(&layer.seen)
    }
}

fn placed(layout: &Layout, card: &Region) -> Vec<Layer> {
    let mut layers = Vec::new();
    for (index, element) in layout.elements.iter().enumerate() {
        if matches!(element.shape, Shape::Mark { .. }) {
            continue;
        }
        let mats =
            element.mats.iter().enumerate().rev().map(|(before, &adds)| {
                (Some(before + 1), element.shape.grown(adds), element.frame.grown(adds))
            });
        for (mat, shape, frame) in mats.chain([(None, element.shape, element.frame)]) {
            let region = Region::of(shape, frame, element.rotation_deg).shared(card);
            layers.push(Layer {
                index,
                mat,
                region,
                seen: Region::default(),
                rests_at: Height::default(),
                overhangs: Vec::new(),
            });
        }
    }
    layers
}

/// Lays the layers down one by one: the surface of what lies there already is
/// kept as regions of one height each. Gives the height of all.
fn rest(layout: &Layout, layers: &mut [Layer], card: &Region, calipers: Calipers) -> Height {
    let higher = |a: &Height, b: &Height| a.thickness_in(calipers).total_cmp(&b.thickness_in(calipers));
    let mut surface: Vec<(Height, Region)> = vec![(Height::default(), card.clone())];
    let mut highest = Height::default();
    let mut last = None;
    for layer in layers {
        let mut under: Vec<(Height, Region)> = surface
            .iter()
            .map(|(height, region)| (*height, region.shared(&layer.region)))
            .filter(|(_, region)| !region.is_empty())
            .collect();
        under.sort_by(|a, b| higher(&b.0, &a.0));
        let holds = under.iter().find(|(_, region)| region.area_in() >= HOLDS_IN2);
        layer.rests_at = holds.or(under.first()).map_or(Height::default(), |(height, _)| *height);
        // Only the lowest layer of an element can hang over, and only it lies on foam.
        let is_lowest = last != Some(layer.index);
        last = Some(layer.index);
        let mut top = layer.rests_at;
        if is_lowest {
            layer.overhangs = under
                .into_iter()
                .filter(|(height, _)| higher(height, &layer.rests_at).is_lt())
                .flat_map(|(height, region)| region.parts().into_iter().map(move |part| (part, height)))
                .collect();
            top.foam += u32::from(layout.elements[layer.index].raised);
        }
        top.layers += 1;
        if higher(&top, &highest).is_gt() {
            highest = top;
        }
        for (_, region) in &mut surface {
            *region = region.minus(&layer.region);
        }
        surface.retain(|(_, region)| !region.is_empty());
        match surface.iter_mut().find(|(height, _)| *height == top) {
            Some((_, region)) => *region = region.and(&layer.region),
            None => surface.push((top, layer.region.clone())),
        }
    }
    highest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::{Element, Frame, MarkKind};
    use crate::length::Length;

    pub(crate) fn element(id: u32, shape: Shape, [x, y, width, height]: [i32; 4]) -> Element {
        let [x, y, width, height] = [x, y, width, height].map(Length::eighths);
        Element::new(id, shape, Frame { x, y, width, height })
    }

    fn stack(elements: Vec<Element>) -> Stack {
        let layout = Layout { elements, ..Layout::new("", "A2".parse().unwrap()) };
        Stack::of(&layout, Calipers::default()).unwrap()
    }

    fn height(layers: u32, foam: u32) -> Height {
        Height { layers, foam }
    }

    #[test]
    fn a_panel_is_hidden_by_what_lies_on_it() {
        let stack = stack(vec![
            element(1, Shape::SHARP, [1, 1, 32, 42]),
            element(2, Shape::SHARP, [5, 5, 16, 21]),
            element(3, Shape::Mark { kind: MarkKind::Dot }, [24, 30, 8, 8]),
        ]);
        assert_eq!(stack.layers.len(), 2, "a mark hides nothing");
        assert!((stack.layers[0].hidden_share() - 0.25).abs() < 1e-12);
        assert!((stack.base_seen.area_in() - (4.25 * 5.5 - 21.0)).abs() < 1e-12);
        assert_eq!(stack.height, height(2, 0));
    }

    #[test]
    fn a_mat_is_a_layer_that_shows_its_border() {
        let mut panel = element(1, Shape::SHARP, [1, 1, 32, 42]);
        panel.mats = vec![Length::eighths(1)];
        panel.raised = true;
        let stack = stack(vec![panel]);
        let border = 4.125 * 5.375 - 21.0;
        assert_eq!(stack.layers[0].mat, Some(1));
        assert!((stack.layers[0].seen.area_in() - border).abs() < 1e-9);
        assert_eq!((stack.layers[1].rests_at, stack.height), (height(1, 1), height(2, 1)));
    }

    #[test]
    fn a_strip_that_hangs_over_a_panel_hangs_at_both_ends() {
        let stack =
            stack(vec![element(1, Shape::SHARP, [4, 4, 26, 36]), element(2, Shape::SHARP, [1, 16, 32, 8])]);
        let strip = stack.layer(1).unwrap();
        assert_eq!(strip.rests_at, height(1, 0));
        let hangs: Vec<(f64, Height)> =
            strip.overhangs.iter().map(|(part, height)| (part.area_in(), *height)).collect();
        assert_eq!(hangs, [(0.375, height(0, 0)), (0.375, height(0, 0))]);
    }

    /// A bridge over two panels rests on both; the middle hangs free.
    #[test]
    fn what_lies_on_foam_lies_higher_than_what_lies_on_paper() {
        let mut raised = element(1, Shape::SHARP, [2, 8, 8, 8]);
        raised.raised = true;
        let stack = stack(vec![
            raised,
            element(2, Shape::SHARP, [20, 8, 8, 8]),
            element(3, Shape::SHARP, [4, 10, 20, 4]),
        ]);
        let bridge = stack.layer(2).unwrap();
        assert_eq!(bridge.rests_at, height(1, 1));
        let heights: Vec<Height> = bridge.overhangs.iter().map(|(_, height)| *height).collect();
        assert_eq!(heights, [height(1, 0), height(0, 0)]);
    }

    #[test]
    fn what_is_off_the_card_is_not_counted() {
        let stack =
            stack(vec![element(1, Shape::SHARP, [-8, 0, 16, 44]), element(2, Shape::SHARP, [40, 0, 8, 8])]);
        assert!((stack.layers[0].region.area_in() - 5.5).abs() < 1e-9);
        assert_eq!((stack.layers[1].region.is_empty(), stack.layers[1].hidden_share()), (true, 0.0));
    }

    #[test]
    fn layouts_may_be_too_deep() {
        let elements = (1..=301).map(|id| element(id, Shape::SHARP, [1, 1, 2, 2])).collect();
        let layout = Layout { elements, ..Layout::new("", "A2".parse().unwrap()) };
        assert_eq!(Stack::of(&layout, Calipers::default()), Err(TooDeep(301)));
    }
}
