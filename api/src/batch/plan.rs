//! From orders and papers to sheet plans. All that is cut from one stuff is
//! planned together: its sheets of every size, both their faces, and the
//! hidden middles that the maker lets go. Lengths go to the planner as whole
//! numbers of their common measure, so nothing is rounded.

use cutting::{CutError, Edges, Face, Goal, Job, Options, Plan, Rect, Sheet};
use layout::{Length, Paper, Supply, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::choose::{Chosen, Stuff, area_of, choose, stuffs};
use super::order::Order;
use super::record::Batch;
use super::shortage;
use crate::store::StoredPaper;

/// A batch as it can be cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "BatchPlan")]
pub(crate) struct BatchPlan {
    /// What is made.
    pub(crate) layouts: Vec<PlannedLayout>,
    /// Which paper each part comes from.
    pub(crate) papers: Vec<PlannedPaper>,
    /// What to cut; a letter for each.
    pub(crate) pieces: Vec<PlannedPiece>,
    /// How to cut it: sheets that are cut alike stand together.
    pub(crate) sheets: Vec<PlannedSheet>,
    /// Pieces that found no room, and how many.
    pub(crate) missing: Vec<MissingPiece>,
    /// What could be done about them, in sentences.
    pub(crate) advice: Vec<String>,
    /// The sums.
    pub(crate) totals: Totals,
}

/// A layout of a plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct PlannedLayout {
    /// Its id.
    pub(crate) layout: i64,
    /// The version that was planned.
    pub(crate) version: i64,
    /// What it is called.
    pub(crate) title: String,
    /// How many cards.
    pub(crate) cards: u32,
}

/// Where one part of a layout comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct PlannedPaper {
    /// The layout.
    pub(crate) layout: i64,
    /// `base`, `mat`, `plain`, or the letter.
    pub(crate) supply: String,
    /// The paper; papers of the same stuff serve as well. Null where none will do.
    pub(crate) paper: Option<i64>,
    /// Its name.
    pub(crate) name: String,
    /// Which face is seen, 0 for the first.
    pub(crate) face: usize,
    /// Whether the maker chose it.
    pub(crate) by_hand: bool,
    /// Why this one, or why none.
    pub(crate) why: String,
    /// How many cards' worth of this part alone one sheet gives; of a pad's sheet too.
    pub(crate) cards_per_sheet: Option<u32>,
}

/// Equal pieces of one layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct PlannedPiece {
    /// Written on the piece in drawings.
    pub(crate) letter: String,
    /// The layout.
    pub(crate) layout: i64,
    /// `base`, `mat`, `plain`, or the letter of a paper.
    pub(crate) supply: String,
    /// Extent to the right as it lies on the card, in `unit`.
    pub(crate) width: f64,
    /// Extent downwards.
    pub(crate) height: f64,
    /// The unit of the two.
    pub(crate) unit: Unit,
    /// How many are wanted.
    pub(crate) count: u32,
    /// What it is for.
    pub(crate) words: Vec<String>,
    /// What becomes of the rectangle; empty where it is cut and done.
    pub(crate) finish: String,
    /// Where it is scored; empty for all but a card base.
    pub(crate) score: String,
}

/// Sheets that are cut alike. Lengths are in `unit`, from the sheet's top-left
/// corner with its first face up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct PlannedSheet {
    /// Counts from 1 through the batch.
    pub(crate) number: u32,
    /// The paper; null for a hidden middle.
    pub(crate) paper: Option<i64>,
    /// What it is, in words.
    pub(crate) name: String,
    /// How many sheets are cut like this.
    pub(crate) count: u32,
    /// The unit of its lengths.
    pub(crate) unit: Unit,
    /// The sheet's width.
    pub(crate) width: f64,
    /// The sheet's height.
    pub(crate) height: f64,
    /// The pieces in their places.
    pub(crate) pieces: Vec<PlacedPiece>,
    /// The cuts in an order in which they can be made.
    pub(crate) cuts: Vec<SheetCut>,
    /// What is left.
    pub(crate) offcuts: Vec<Rectangle>,
}

/// A piece in its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct PlacedPiece {
    /// Which piece.
    pub(crate) letter: String,
    /// Whether it lies turned.
    pub(crate) turned: bool,
    /// Which face it shows, 0 for the first.
    pub(crate) face: usize,
    /// Where it lies.
    #[serde(flatten)]
    pub(crate) at: Rectangle,
}

/// A rectangle on a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct Rectangle {
    /// From the left.
    pub(crate) x: f64,
    /// From the top.
    pub(crate) y: f64,
    /// To the right.
    pub(crate) width: f64,
    /// Downwards.
    pub(crate) height: f64,
}

/// One cut from edge to edge of the part in hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct SheetCut {
    /// Counts from 1 on each sheet.
    pub(crate) number: u32,
    /// The part in hand.
    pub(crate) part: Rectangle,
    /// Whether the blade runs from top to bottom, else from left to right.
    pub(crate) upright: bool,
    /// Where it runs: its distance from the part's left side, or top.
    pub(crate) at: f64,
    /// What the trimmer is set to.
    pub(crate) setting: f64,
    /// The same in words: `5 1/4` or `108 mm`.
    pub(crate) setting_words: String,
}

/// Pieces without a place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct MissingPiece {
    /// Which piece.
    pub(crate) letter: String,
    /// How many of it.
    pub(crate) count: u32,
}

/// The sums of a plan.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub(crate) struct Totals {
    /// Cards that are wanted.
    pub(crate) cards: u32,
    /// Sheets that are begun, hidden middles not counted.
    pub(crate) sheets: u32,
    /// No plan needs fewer, or less paper where sheets differ in size.
    pub(crate) least_sheets: Option<u32>,
    /// Pieces that are cut.
    pub(crate) pieces: u32,
    /// Pieces without a place.
    pub(crate) missing: u32,
    /// How many cuts it takes.
    pub(crate) cuts: u32,
    /// How often the trimmer is set anew, sheet by sheet.
    pub(crate) settings: u32,
    /// Share of the begun sheets that becomes pieces, from 0 to 1.
    pub(crate) used: f64,
    /// Whether it is proven that less paper will not do.
    pub(crate) proven: bool,
}

/// What a plan stands on.
pub(crate) struct Ground<'a> {
    /// The batch.
    pub(crate) batch: &'a Batch,
    /// What its layouts ask for.
    pub(crate) orders: &'a [Order],
    /// The papers of which there is a sheet.
    pub(crate) stock: &'a [StoredPaper],
}

/// One stuff, and the job of all that is cut from it.
pub(super) struct Stack {
    /// The stuff's papers, then its middles, as the job's stock.
    stuff: Stuff,
    /// Hidden middles behind the papers: order, index.
    middles: Vec<(usize, usize)>,
    /// For each piece of the job: order, its index in the order, and the face.
    pieces: Vec<(usize, usize, usize)>,
    /// Units of `Length` in one of the job's.
    measure: u32,
    job: Job,
    options: Options,
}

/// Plans a batch. `seen` is shown the sums of the best plan so far, now and
/// then, and ends the search by saying no; a plan comes out all the same. The
/// same ground, rounds and answers give the same plan.
pub(crate) fn plan(
    ground: &Ground<'_>,
    rounds: u64,
    seen: &mut dyn FnMut(&Totals) -> bool,
) -> Result<BatchPlan, CutError> {
    let stuffs = stuffs(ground.stock);
    let chosen = choose(ground.batch, ground.orders, ground.stock, &stuffs);
    let mut stacks = Vec::new();
    for (index, stuff) in stuffs.iter().enumerate() {
        if chosen.iter().any(|one| one.from.is_some_and(|(from, _)| from == index)) {
            stacks.push(Stack::of(ground, stuff, index, &chosen));
        }
    }
    // A whole first plan at once, then a better one stack by stack.
    let mut plans = Vec::with_capacity(stacks.len());
    for stack in &stacks {
        plans.push(stack.plan(0, &mut |_| true)?);
    }
    let mut going = seen(&sums(ground, &stacks, &plans));
    for (index, stack) in stacks.iter().enumerate() {
        if !going || rounds == 0 {
            continue;
        }
        let mut best = plans[index].clone();
        let better = stack.plan(rounds, &mut |plan| {
            if is_better(plan, &best) {
                best = plan.clone();
                plans[index] = plan.clone();
                going = seen(&sums(ground, &stacks, &plans));
            }
            going
        })?;
        // Of plans with equal sheets the last has the larger offcuts and the fewer settings.
        if !is_better(&best, &better) {
            plans[index] = better;
        }
    }
    let mut told = told(ground, &stuffs, &chosen, &stacks, &plans);
    if told.totals.missing > 0 {
        told.advice = shortage::advice(ground, &stuffs, &chosen, &told);
    }
    Ok(told)
}

fn is_better(one: &Plan, other: &Plan) -> bool {
    let rank = |plan: &Plan| (plan.missing.iter().sum::<u32>(), plan.score);
    rank(one) < rank(other)
}

impl Stack {
    fn of(ground: &Ground<'_>, stuff: &Stuff, index: usize, chosen: &[Chosen]) -> Stack {
        let mut stack = Stack {
            stuff: stuff.clone(),
            middles: Vec::new(),
            pieces: Vec::new(),
            measure: 1,
            job: Job::default(),
            options: Options::default(),
        };
        // Everything in units of `Length` first.
        for &one in stuff {
            stack.job.stock.push(sheet_of(&ground.stock[one].paper));
        }
        let faces = ground.stock[stuff[0]].paper.faces.clone();
        for one in chosen {
            let Some((_, face)) = one.from.filter(|&(from, _)| from == index) else { continue };
            let order = &ground.orders[one.order];
            for (place, piece) in order.pieces.pieces.iter().enumerate() {
                if piece.supply != one.supply {
                    continue;
                }
                stack.job.pieces.push(wanted(piece, face, faces[face].directional));
                stack.pieces.push((one.order, place, face));
            }
            if ground.batch.cutting.middles {
                for (place, middle) in
                    order.middles.iter().enumerate().filter(|(_, m)| m.supply == one.supply)
                {
                    let mut sheet =
                        Sheet::new(units(middle.width), units(middle.height)).at_most(order.cards);
                    sheet.faces = (0..faces.len())
                        .map(|face| Face { paper: number(face), ..Face::default() })
                        .collect();
                    stack.job.stock.push(sheet);
                    stack.middles.push((one.order, place));
                }
            }
        }
        let sizes = stack.job.stock.iter().map(|sheet| sheet.size);
        let alike = sizes.clone().all(|size| Some(size) == stack.job.stock.first().map(|first| first.size));
        stack.job.goal = if alike { Goal::FewestSheets } else { Goal::LeastCost };
        let cutting = ground.batch.cutting;
        stack.options = Options {
            stages: cutting.stages,
            kerf: units(cutting.blade),
            least_strip: units(cutting.least_strip),
            ..Options::default()
        };
        stack.measure();
        stack
    }

    /// Divides every length by their common measure: the planner's tables grow
    /// with the numbers.
    fn measure(&mut self) {
        let mut measure = gcd(self.options.kerf, self.options.least_strip);
        let sizes =
            self.job.pieces.iter().map(|piece| piece.size).chain(self.job.stock.iter().map(|s| s.size));
        for size in sizes {
            measure = gcd(gcd(measure, size.width), size.height);
        }
        for face in self.job.stock.iter().flat_map(|sheet| &sheet.faces) {
            let Edges { left, right, top, bottom } = face.unusable;
            measure = [left, right, top, bottom].into_iter().fold(measure, gcd);
        }
        self.measure = measure.max(1);
        let part = |length: &mut u32| *length /= measure.max(1);
        part(&mut self.options.kerf);
        part(&mut self.options.least_strip);
        for piece in &mut self.job.pieces {
            part(&mut piece.size.width);
            part(&mut piece.size.height);
        }
        for (index, sheet) in self.job.stock.iter_mut().enumerate() {
            part(&mut sheet.size.width);
            part(&mut sheet.size.height);
            // A hidden middle costs next to nothing: it would be thrown away.
            sheet.cost = if index < self.stuff.len() { sheet.size.area() } else { 1 };
            for face in &mut sheet.faces {
                let Edges { left, right, top, bottom } = &mut face.unusable;
                for edge in [left, right, top, bottom] {
                    part(edge);
                }
            }
        }
    }

    fn plan(&self, rounds: u64, keep_going: &mut dyn FnMut(&Plan) -> bool) -> Result<Plan, CutError> {
        cutting::plan(&self.job, &Options { rounds, ..self.options }, keep_going)
    }

    /// A number of the job as a length.
    fn length(&self, number: u32) -> Length {
        Length::of_units(i32::try_from(number.saturating_mul(self.measure)).unwrap_or(i32::MAX))
    }
}

/// A paper of the drawer as the planner sees it. The edges of its second face
/// are seen through the sheet: left is right.
pub(super) fn sheet_of(paper: &Paper) -> Sheet {
    let faces: Vec<Face> = paper
        .faces
        .iter()
        .enumerate()
        .map(|(index, face)| {
            let edges = face.unusable;
            let (left, right) =
                if index == 0 { (edges.left, edges.right) } else { (edges.right, edges.left) };
            let [left, right, top, bottom] = [left, right, edges.top, edges.bottom].map(units);
            Face { paper: number(index), unusable: Edges { left, right, top, bottom } }
        })
        .collect();
    Sheet::new(units(paper.width), units(paper.height)).at_most(paper.count).with_faces(&faces)
}

/// A piece that has to show this face of its paper.
pub(super) fn wanted(piece: &layout::Piece, face: usize, directional: bool) -> cutting::Piece {
    let wanted = cutting::Piece::new(units(piece.width), units(piece.height), piece.count);
    let wanted = if piece.upright && directional { wanted } else { wanted.turning() };
    wanted.from_papers(&[number(face)])
}

fn units(length: Length) -> u32 {
    length.in_units().unsigned_abs()
}

fn number(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}

fn gcd(one: u32, other: u32) -> u32 {
    if other == 0 { one } else { gcd(other, one % other) }
}

/// The sums of the plans of all stacks.
fn sums(ground: &Ground<'_>, stacks: &[Stack], plans: &[Plan]) -> Totals {
    let mut totals = Totals {
        cards: ground.orders.iter().map(|order| order.cards).sum(),
        proven: true,
        ..Totals::default()
    };
    let (mut begun, mut used) = (0.0, 0.0);
    let mut least = Some(0);
    for (stack, plan) in stacks.iter().zip(plans) {
        totals.missing += plan.missing.iter().sum::<u32>();
        totals.cuts += number(plan.cuts());
        totals.settings += plan.sheets.iter().map(|sheet| settings(&sheet.cuts())).sum::<u32>();
        totals.proven &= plan.optimal();
        least = match stack.job.goal {
            Goal::FewestSheets => least.zip(u32::try_from(plan.bound).ok()).map(|(sum, bound)| sum + bound),
            _ => None,
        };
        for sheet in &plan.sheets {
            let pieces = sheet.placed();
            totals.pieces += number(pieces.len());
            if sheet.sheet < stack.stuff.len() {
                totals.sheets += 1;
                begun += area_in(stack, stack.job.stock[sheet.sheet].size);
            }
            used += pieces.iter().map(|piece| area_in(stack, piece.size)).sum::<f64>();
        }
    }
    // What a partial plan leaves out would take more sheets.
    totals.least_sheets = least.filter(|_| totals.missing == 0);
    totals.used = if begun > 0.0 { (used / begun).min(1.0) } else { 0.0 };
    totals
}

fn area_in(stack: &Stack, size: Rect) -> f64 {
    area_of(stack.length(size.width), stack.length(size.height))
}

/// How often the trimmer is set anew while these cuts are made in order.
fn settings(cuts: &[cutting::Cut]) -> u32 {
    let changes = cuts.windows(2).filter(|pair| pair[0].setting != pair[1].setting).count();
    number(changes) + u32::from(!cuts.is_empty())
}

/// The plan as it is told.
fn told(
    ground: &Ground<'_>,
    stuffs: &[Stuff],
    chosen: &[Chosen],
    stacks: &[Stack],
    plans: &[Plan],
) -> BatchPlan {
    let layouts = ground.orders.iter().map(|order| PlannedLayout {
        layout: order.layout,
        version: order.version,
        title: order.title.clone(),
        cards: order.cards,
    });
    let mut plan = BatchPlan {
        layouts: layouts.collect(),
        papers: chosen.iter().map(|one| paper_told(ground, stuffs, one)).collect(),
        pieces: Vec::new(),
        sheets: Vec::new(),
        missing: Vec::new(),
        advice: Vec::new(),
        totals: sums(ground, stacks, plans),
    };
    // Letters go through the orders as they stand.
    let mut letters: Vec<((usize, usize), String)> = Vec::new();
    for (index, order) in ground.orders.iter().enumerate() {
        for (place, piece) in order.pieces.pieces.iter().enumerate() {
            if piece.supply == Supply::Base && !ground.batch.cutting.bases {
                continue;
            }
            let letter = letter(letters.len());
            let unit = order.pieces.unit;
            plan.pieces.push(PlannedPiece {
                letter: letter.clone(),
                layout: order.layout,
                supply: piece.supply.to_string(),
                width: piece.width.value(unit),
                height: piece.height.value(unit),
                unit,
                count: piece.count,
                words: piece.uses.iter().map(|one| one.words.clone()).collect(),
                finish: piece.finish_words(unit),
                score: piece.score_words(unit),
            });
            letters.push(((index, place), letter));
        }
    }
    let letter_of = |order: usize, place: usize| {
        let found = letters.iter().find(|(key, _)| *key == (order, place));
        found.map(|(_, letter)| letter.clone()).unwrap_or_default()
    };
    for (stack, found) in stacks.iter().zip(plans) {
        for (&(order, place, _), &count) in stack.pieces.iter().zip(&found.missing) {
            if count > 0 {
                plan.missing.push(MissingPiece { letter: letter_of(order, place), count });
            }
        }
        let mut alike: Vec<(&cutting::SheetPlan, u32)> = Vec::new();
        for sheet in &found.sheets {
            match alike.iter_mut().find(|(other, _)| *other == sheet) {
                Some((_, count)) => *count += 1,
                None => alike.push((sheet, 1)),
            }
        }
        for (sheet, count) in alike {
            let number = number(plan.sheets.len()) + 1;
            plan.sheets.push(sheet_told(ground, stack, sheet, count, number, &letter_of));
        }
    }
    // What no paper will do for is missing as well.
    for one in chosen.iter().filter(|one| one.from.is_none()) {
        let pieces = ground.orders[one.order].pieces.pieces.iter().enumerate();
        for (place, piece) in pieces.filter(|(_, piece)| piece.supply == one.supply) {
            plan.missing.push(MissingPiece { letter: letter_of(one.order, place), count: piece.count });
            plan.totals.missing += piece.count;
            plan.totals.proven = false;
        }
    }
    plan
}

fn paper_told(ground: &Ground<'_>, stuffs: &[Stuff], one: &Chosen) -> PlannedPaper {
    let order = &ground.orders[one.order];
    let representative = one.from.map(|(stuff, face)| (&ground.stock[stuffs[stuff][0]].paper, face));
    PlannedPaper {
        layout: order.layout,
        supply: one.supply.to_string(),
        paper: one.paper,
        name: representative.map_or_else(String::new, |(paper, face)| name_of(paper, face)),
        face: one.from.map_or(0, |(_, face)| face),
        by_hand: one.by_hand,
        why: one.why.clone(),
        cards_per_sheet: one
            .from
            .and_then(|(stuff, face)| shortage::cards_per_sheet(ground, &stuffs[stuff], one, face)),
    }
}

/// The paper's name, and the face where there are two.
fn name_of(paper: &Paper, face: usize) -> String {
    let words = paper.faces.get(face).map(layout::Face::words).unwrap_or_default();
    if paper.faces.len() > 1 && words != paper.name {
        format!("{}: {words}", paper.name)
    } else {
        paper.name.clone()
    }
}

fn sheet_told(
    ground: &Ground<'_>,
    stack: &Stack,
    sheet: &cutting::SheetPlan,
    count: u32,
    number: u32,
    letter_of: &dyn Fn(usize, usize) -> String,
) -> PlannedSheet {
    let (paper, name, unit) = if let Some(&index) = stack.stuff.get(sheet.sheet) {
        let StoredPaper { id, paper, .. } = &ground.stock[index];
        (Some(*id), format!("{}, {}", paper.name, paper.size_words()), paper.unit)
    } else {
        let (order, place) = stack.middles[sheet.sheet - stack.stuff.len()];
        let order = &ground.orders[order];
        (None, format!("hidden middle of {}", order.middles[place].words), order.pieces.unit)
    };
    let value = |number: u32| stack.length(number).value(unit);
    let rectangle = |x: u32, y: u32, size: Rect| Rectangle {
        x: value(x),
        y: value(y),
        width: value(size.width),
        height: value(size.height),
    };
    let size = stack.job.stock[sheet.sheet].size;
    let pieces = sheet.placed().into_iter().map(|placed| {
        let (order, place, face) = stack.pieces[placed.piece];
        PlacedPiece {
            letter: letter_of(order, place),
            turned: placed.turned,
            face,
            at: rectangle(placed.x, placed.y, placed.size),
        }
    });
    let cuts = (1..).zip(sheet.cuts()).map(|(number, cut)| SheetCut {
        number,
        part: rectangle(cut.x, cut.y, cut.size),
        upright: cut.columns,
        at: value(cut.at),
        setting: value(cut.setting),
        setting_words: stack.length(cut.setting).show(unit),
    });
    PlannedSheet {
        number,
        paper,
        name,
        count,
        unit,
        width: value(size.width),
        height: value(size.height),
        pieces: pieces.collect(),
        cuts: cuts.collect(),
        offcuts: sheet.offcuts().iter().map(|part| rectangle(part.x, part.y, part.size)).collect(),
    }
}

/// `a` to `z`, then `aa`, `ab` and so on.
fn letter(index: usize) -> String {
    let last = char::from(b'a' + u8::try_from(index % 26).unwrap_or(0));
    if index < 26 { last.to_string() } else { format!("{}{last}", letter(index / 26 - 1)) }
}

/// How many pieces find no room with these choices: what is tried where paper
/// runs short.
pub(super) fn missing(ground: &Ground<'_>, stuffs: &[Stuff], chosen: &[Chosen]) -> u32 {
    /// Rounds of a trial: some 10 ms.
    const TRIAL: u64 = 2_000;
    stuffs
        .iter()
        .enumerate()
        .filter(|(index, _)| chosen.iter().any(|one| one.from.is_some_and(|(from, _)| from == *index)))
        .map(|(index, stuff)| {
            let stack = Stack::of(ground, stuff, index, chosen);
            let wanted: u32 = stack.job.pieces.iter().map(|piece| piece.quantity).sum();
            // It ends as soon as everything has its place.
            let plan = stack.plan(TRIAL, &mut |plan| !plan.complete());
            plan.map_or(wanted, |plan| plan.missing.iter().sum::<u32>())
        })
        .sum()
}
