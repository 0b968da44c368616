//! Papers as a table (RFC 4180): one line a paper, sizes as makers write them.
//! What is written reads back the same.

use csv::{ReaderBuilder, StringRecord, Trim, Writer};
use layout::{
    EdgesJson, Face, FaceJson, Fault, Faults, Length, Paper, PaperEdges, PaperJson, PaperKind, Pattern, Step,
    Unit, Weight,
};

/// Headings of the table. Only the name, the sides and the count are needed.
const COLUMNS: [&str; 21] = [
    "name",
    "kind",
    "width",
    "height",
    "unit",
    "count",
    "weight",
    "face",
    "colour",
    "pattern",
    "directional",
    "unusable",
    "back face",
    "back colour",
    "back pattern",
    "back directional",
    "back unusable",
    "notes",
    "tags",
    "cut from",
    "two faces",
];
/// Most papers in one table.
const MOST_LINES: usize = 2_000;

/// The table of some papers.
pub(crate) fn write<'a>(papers: impl IntoIterator<Item = &'a Paper>) -> Result<Vec<u8>, csv::Error> {
    let mut table = Writer::from_writer(Vec::new());
    table.write_record(COLUMNS)?;
    for paper in papers {
        let length = |length: Length| length.show(paper.unit);
        let front = paper.faces.first().map(|face| face_cells(face, paper.unit)).unwrap_or_default();
        let back = paper.faces.get(1).map(|face| face_cells(face, paper.unit)).unwrap_or_default();
        let [name, kind] = [paper.name.clone(), paper.kind.word().to_owned()];
        let sides = [length(paper.width), length(paper.height)];
        let rest = [paper.unit.to_string(), paper.count.to_string(), paper.weight.word().to_owned()];
        let cut_from = paper.cut_from.map(|id| id.to_string()).unwrap_or_default();
        let two = if paper.faces.len() > 1 { "yes" } else { "no" };
        let last = [paper.notes.clone(), paper.tags.join("; "), cut_from, two.to_owned()];
        let cells = [name, kind].into_iter().chain(sides).chain(rest).chain(front).chain(back).chain(last);
        table.write_record(cells)?;
    }
    table.into_inner().map_err(|error| error.into_error().into())
}

fn face_cells(face: &Face, unit: Unit) -> [String; 5] {
    let directional = if face.directional { "yes" } else { "no" };
    let PaperEdges { left, right, top, bottom } = face.unusable;
    let edges = [("left", left), ("right", right), ("top", top), ("bottom", bottom)];
    let edges = edges.iter().filter(|(_, width)| *width > Length::ZERO);
    let edges: Vec<String> = edges.map(|(side, width)| format!("{side} {}", width.show(unit))).collect();
    let [name, colour] = [face.name.clone(), face.colour.clone()];
    [name, colour, face.pattern.word().to_owned(), directional.to_owned(), edges.join("; ")]
}

/// The papers in a table; every line with a fault is told.
pub(crate) fn read(bytes: &[u8]) -> Result<Vec<Paper>, Faults> {
    let whole = |message: String| Faults(vec![Fault { at: "table".to_owned(), message }]);
    let mut table = ReaderBuilder::new().trim(Trim::All).flexible(true).from_reader(bytes);
    let headings =
        table.headers().map_err(|error| whole(format!("the table does not read: {error}")))?.clone();
    let place = |column: &str| headings.iter().position(|heading| plain(heading) == column);
    if let Some(missing) =
        ["name", "width", "height", "count"].into_iter().find(|column| place(column).is_none())
    {
        let message = format!(
            "the first line has to name the columns, and {missing} is not among them: name, width, height and \
             count are needed; {} may be there",
            COLUMNS[1..].join(", ")
        );
        return Err(whole(message));
    }
    if let Some(unknown) = headings.iter().find(|heading| !COLUMNS.contains(&&*plain(heading))) {
        return Err(whole(format!("there is no column “{unknown}”: use {}", COLUMNS.join(", "))));
    }
    let mut papers = Vec::new();
    let mut faults = Vec::new();
    for (index, line) in table.records().enumerate() {
        // The headings are line 1.
        let at = format!("line {}", index + 2);
        if index == MOST_LINES {
            return Err(whole(format!("a table has at most {MOST_LINES} papers: split it")));
        }
        let line = match line {
            Ok(line) => line,
            Err(error) => {
                faults.push(Fault { at, message: format!("it does not read: {error}") });
                continue;
            }
        };
        if line.iter().all(str::is_empty) {
            continue;
        }
        let cell = |column: &str| place(column).and_then(|index| line.get(index)).unwrap_or_default();
        match paper(&cell) {
            Ok(paper) => papers.push(paper),
            Err(Faults(found)) => faults
                .extend(found.into_iter().map(|fault| Fault { at: format!("{at}, {}", fault.at), ..fault })),
        }
        let extra = line.len() > headings.len()
            && StringRecord::iter(&line).skip(headings.len()).any(|c| !c.is_empty());
        if extra {
            faults.push(Fault { at, message: "it has more values than there are columns".to_owned() });
        }
    }
    if faults.is_empty() { Ok(papers) } else { Err(Faults(faults)) }
}

fn plain(heading: &str) -> String {
    heading.trim_start_matches('\u{feff}').trim().to_lowercase().replace('_', " ")
}

fn paper<'a>(cell: &impl Fn(&str) -> &'a str) -> Result<Paper, Faults> {
    let mut faults = Vec::new();
    let mut fault =
        |at: &str, message: &str| faults.push(Fault { at: at.to_owned(), message: message.to_owned() });
    let unit = match cell("unit") {
        // Millimetres that are written are meant.
        "" if cell("width").to_lowercase().contains("mm") => Unit::Millimetre,
        "" => Unit::default(),
        text => text.parse().unwrap_or_else(|_| {
            fault("unit", "a unit is in or mm");
            Unit::default()
        }),
    };
    let mut length = |at: &str, text: &str| match Length::parse(text, unit) {
        Ok(length) => length.value(unit),
        Err(error) => {
            fault(at, &error.to_string());
            // Enough not to be a second fault.
            Length::steps(1, unit, Step::Size).value(unit)
        }
    };
    let width = length("width", cell("width"));
    let height = length("height", cell("height"));
    let mut edges = |column: &str| {
        let mut edges = EdgesJson::default();
        for part in cell(column).split(';').map(str::trim).filter(|part| !part.is_empty()) {
            let (side, text) = part.split_once(' ').unwrap_or((part, ""));
            let value = length(column, text);
            match side {
                "left" => edges.left = value,
                "right" => edges.right = value,
                "top" => edges.top = value,
                "bottom" => edges.bottom = value,
                _ => return Err(()),
            }
        }
        Ok(edges)
    };
    let front_edges = edges("unusable");
    let back_edges = edges("back unusable");
    for (column, edges) in [("unusable", front_edges), ("back unusable", back_edges)] {
        if edges.is_err() {
            fault(column, "write an unusable edge like bottom 1/2; left 1/4");
        }
    }
    let kind = word(cell("kind"), &PaperKind::WORDS).unwrap_or_else(|| {
        fault("kind", "a kind is sheet, pad, strip or offcut");
        PaperKind::default()
    });
    let weights = [Weight::Paper, Weight::Cardstock].map(|weight| (weight.word(), weight));
    let weight = word(cell("weight"), &weights).unwrap_or_else(|| {
        fault("weight", "a weight is paper or cardstock");
        Weight::default()
    });
    let mut pattern = |column: &str| {
        let patterns =
            [Pattern::Plain, Pattern::Quiet, Pattern::Busy].map(|pattern| (pattern.word(), pattern));
        word(cell(column), &patterns).unwrap_or_else(|| {
            fault(column, "a pattern is plain, quiet or busy");
            Pattern::default()
        })
    };
    let [front_pattern, back_pattern] = [pattern("pattern"), pattern("back pattern")];
    let mut yes = |column: &str| match cell(column).to_lowercase().as_str() {
        "" | "no" | "0" | "false" => false,
        "yes" | "1" | "true" => true,
        _ => {
            fault(column, "say yes or no");
            false
        }
    };
    let [front_directional, back_directional, two] =
        [yes("directional"), yes("back directional"), yes("two faces")];
    let count = cell("count").parse().unwrap_or_else(|_| {
        fault("count", "a count is a number of sheets, like 12");
        0
    });
    let cut_from = match cell("cut from") {
        "" => None,
        text => text.parse().map_or_else(
            |_| {
                fault("cut from", "write the id of a paper, or nothing");
                None
            },
            Some,
        ),
    };
    let front = FaceJson {
        name: cell("face").to_owned(),
        colour: cell("colour").to_owned(),
        pattern: front_pattern,
        directional: front_directional,
        unusable: front_edges.unwrap_or_default(),
    };
    let back = FaceJson {
        name: cell("back face").to_owned(),
        colour: cell("back colour").to_owned(),
        pattern: back_pattern,
        directional: back_directional,
        unusable: back_edges.unwrap_or_default(),
    };
    let faces = if two || back != FaceJson::default() { vec![front, back] } else { vec![front] };
    let json = PaperJson {
        schema: 1,
        name: cell("name").to_owned(),
        kind,
        unit,
        width,
        height,
        count,
        weight,
        faces,
        notes: cell("notes").to_owned(),
        tags: cell("tags")
            .split(';')
            .map(str::trim)
            .filter(|tag| !tag.is_empty())
            .map(str::to_owned)
            .collect(),
        cut_from,
    };
    match Paper::try_from(json) {
        Ok(paper) if faults.is_empty() => Ok(paper),
        Ok(_) => Err(Faults(faults)),
        Err(Faults(more)) => {
            faults.extend(more);
            Err(Faults(faults))
        }
    }
}

/// What a word stands for; the usual thing for none.
fn word<T: Copy + Default>(text: &str, words: &[(&str, T)]) -> Option<T> {
    if text.is_empty() {
        return Some(T::default());
    }
    words.iter().find(|(name, _)| name.eq_ignore_ascii_case(text)).map(|&(_, value)| value)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_short_table_is_enough() {
        let papers = read(
            b"\xef\xbb\xbfName,Width,Height,Count\nFerns,12,12 1/4,6\n\n\"Copier, white\",210 mm,297 mm,40\n",
        )
        .unwrap();
        assert_eq!(papers.len(), 2);
        assert_eq!((papers[0].height, papers[0].count), (Length::eighths(98), 6));
        assert_eq!(papers[0].faces, [Face::default()]);
    }

    #[test]
    fn every_line_with_a_fault_is_told() {
        let Faults(faults) =
            read(b"name,width,height,count,kind\nFerns,12,wide,six,sheet\nSky,12,12,6,roll\n").unwrap_err();
        let told: Vec<_> = faults.iter().map(|fault| fault.at.as_str()).collect();
        assert_eq!(told, ["line 2, height", "line 2, count", "line 3, kind"]);
        assert!(read(b"name,width\n").unwrap_err().to_string().contains("height is not among them"));
        assert!(
            read(b"name,width,height,count,price\n").unwrap_err().to_string().contains("no column “price”")
        );
        assert!(read(b"").unwrap_err().to_string().contains("name is not among them"));
        assert!(
            read(b"name,width,height,count\nFerns,12,12,6,7\n")
                .unwrap_err()
                .to_string()
                .contains("more values")
        );
        assert!(read(b"name,width,height,count\n\xff,12,12,6\n").is_err());
    }

    fn faces() -> impl Strategy<Value = Face> {
        let words = "[a-zA-Z0-9,;\"'=é]{0,12}";
        (words, words, 0..3usize, any::<bool>(), [0..20i32, 0..20, 0..20, 0..20]).prop_map(
            |(name, colour, pattern, directional, [left, right, top, bottom])| Face {
                name,
                colour,
                pattern: [Pattern::Plain, Pattern::Quiet, Pattern::Busy][pattern],
                directional,
                unusable: PaperEdges {
                    left: Length::sixteenths(left),
                    right: Length::sixteenths(right),
                    top: Length::sixteenths(top),
                    bottom: Length::sixteenths(bottom),
                },
            },
        )
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_the_same(
            name in "[a-z\"',][a-z ,\n\"é=]{0,20}[a-z]",
            notes in "[a-z\"',\n=]{0,20}",
            sides in [100..200i32, 100..200],
            faces in prop::collection::vec(faces(), 1..3),
            count in 0..100u32,
            cut_from in prop::option::of(1..50i64),
        ) {
            let paper = Paper {
                name, kind: PaperKind::Pad, unit: Unit::Inch,
                width: Length::sixteenths(sides[0]), height: Length::sixteenths(sides[1]),
                count, weight: Weight::Cardstock, faces, notes: notes.trim().to_owned(),
                tags: vec!["spring".to_owned(), "for Tomas".to_owned()], cut_from,
            };
            let table = write([&paper]).unwrap();
            prop_assert_eq!(read(&table).unwrap(), [paper]);
        }

        #[test]
        fn any_table_is_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let mut table = b"name,width,height,count\n".to_vec();
            table.extend(bytes);
            let _ = read(&table);
        }
    }
}
