//! What came of an import, told to a person and to other programs.

use std::fmt::Write;

use super::{Counts, FileResult, Outcome};

/// The counts in a table of one line an outcome, without those that are none.
pub(crate) fn summary(counts: &Counts) -> String {
    let mut text = String::new();
    for (_, outcome) in Outcome::WORDS {
        let count = counts.of(outcome);
        if count > 0 {
            let _ = writeln!(text, "{count:>7}  {}", outcome.title());
        }
    }
    text
}

/// Every page a person has something to do about or may wonder at: its name and
/// why, under its outcome.
pub(crate) fn table(files: &[FileResult]) -> String {
    let mut text = String::new();
    for (_, outcome) in Outcome::WORDS {
        if outcome == Outcome::Read {
            continue;
        }
        let mut first = true;
        for file in files {
            for page in file.pages.iter().filter(|page| page.outcome == outcome) {
                if first {
                    let _ = writeln!(text, "\n{}", outcome.title());
                    first = false;
                }
                let several =
                    if file.pages.len() > 1 { format!(", page {}", page.page) } else { String::new() };
                let _ = writeln!(
                    text,
                    "  {}{several}{}{}",
                    file.name,
                    if page.reason.is_empty() { "" } else { ": " },
                    page.reason
                );
            }
        }
    }
    let mut first = true;
    for file in files {
        for layout in file.pages.iter().flat_map(|page| &page.layouts) {
            if let (Some(like), None) = (layout.like, &layout.verdict) {
                if first {
                    text += "\nlooks like one that was there\n";
                    first = false;
                }
                let _ = writeln!(text, "  {}: layout {} looks like layout {like}", file.name, layout.id);
            }
        }
    }
    text
}

/// Headings of the table for other programs.
const COLUMNS: [&str; 7] = ["file", "page", "outcome", "reason", "layouts", "looks like", "photo"];

/// A line for each page, as values with commas between (RFC 4180).
pub(crate) fn csv(files: &[FileResult]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    let joined = |ids: Vec<String>| ids.join(" ");
    for file in files {
        for page in &file.pages {
            writer.write_record([
                file.name.as_str(),
                &page.page.to_string(),
                page.outcome.word(),
                &page.reason,
                &joined(page.layouts.iter().map(|layout| layout.id.to_string()).collect()),
                &joined(
                    page.layouts.iter().filter_map(|layout| layout.like).map(|id| id.to_string()).collect(),
                ),
                page.photo.as_deref().unwrap_or_default(),
            ])?;
        }
    }
    writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

#[cfg(test)]
mod tests {
    use super::super::{LayoutRead, PageResult};
    use super::*;

    fn file(name: &str, pages: Vec<PageResult>) -> FileResult {
        FileResult { sequence: 1, number: 1, name: name.to_owned(), pages }
    }

    fn page(page: u32, outcome: Outcome, reason: &str, layouts: Vec<LayoutRead>) -> PageResult {
        PageResult { page, outcome, reason: reason.to_owned(), photo: None, layouts }
    }

    #[test]
    fn each_file_is_named_with_its_reason() {
        let alike = LayoutRead { id: 9, like: Some(2), verdict: None };
        let files = [
            file("tall/one.jpg", vec![page(1, Outcome::Read, "", vec![alike])]),
            file("notes, old.txt", vec![page(1, Outcome::Unreadable, "this is no picture", Vec::new())]),
            file(
                "scan.pdf",
                vec![
                    page(1, Outcome::Blank, "", Vec::new()),
                    page(2, Outcome::NoLayout, "nothing", Vec::new()),
                ],
            ),
        ];
        assert_eq!(
            table(&files),
            "\nblank\n  scan.pdf, page 1\n\nno layout found\n  scan.pdf, page 2: nothing\n\nunreadable\n  notes, \
             old.txt: this is no picture\n\nlooks like one that was there\n  tall/one.jpg: layout 9 looks like \
             layout 2\n"
        );
        let text = String::from_utf8(csv(&files).unwrap()).unwrap();
        assert_eq!(
            text,
            "file,page,outcome,reason,layouts,looks like,photo\ntall/one.jpg,1,read,,9,2,\n\"notes, \
             old.txt\",1,unreadable,this is no picture,,,\nscan.pdf,1,blank,,,,\nscan.pdf,2,no-layout,nothing,,,\n"
        );
    }
}
