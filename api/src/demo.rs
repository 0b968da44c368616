//! The demo notebook: the layouts of a small town library's card table, read
//! at the first start from the pictures the program carries, by the same
//! pipeline as any photo.

use capture::{Frame, Options};
use layout::{Card, Layout, LayoutJson, Paper};
use rust_embed::Embed;
use serde::Deserialize;

use crate::app::App;
use crate::error::ApiError;
use crate::handlers::photos::keep_and_read;
use crate::papers_csv;
use crate::store::{Store, StoreError};

#[derive(Embed)]
#[folder = "../sample-images"]
#[include = "demo.json"]
#[include = "papers.csv"]
#[include = "*.jpg"]
#[include = "*.png"]
#[exclude = "readme/*"]
#[allow_missing = true]
struct Samples;

/// One picture of the demo. `sample-images/demo.json` lists them in the order
/// they are read; the last one stands first in the notebook.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sample {
    /// Its name in `sample-images`.
    file: String,
    /// The card it is drawn for.
    card: String,
    /// What the maker calls the layouts on it, in reading order.
    titles: Vec<String>,
    #[serde(default)]
    tags: Vec<String>,
    #[serde(default)]
    notes: String,
    /// `photo` where the whole picture is the card.
    #[serde(default)]
    frame: Option<String>,
}

/// The setting that says how far the demo has come: the pictures done, in words.
const SETTING: &str = "demo";
const DONE: &str = "done";

/// Fills a notebook in which nothing was ever saved; goes on where an earlier
/// start was stopped. What fails is logged and passed over.
pub(crate) async fn fill(app: App) {
    let samples = match samples() {
        Ok(Some(samples)) => samples,
        Ok(None) => return,
        Err(error) => {
            tracing::error!(%error, "the demo's list of pictures does not read");
            return;
        }
    };
    let first = match app.store(next_sample).await {
        Ok(Some(first)) => first,
        Ok(None) => return,
        Err(error) => {
            tracing::error!(%error, "the demo cannot start");
            return;
        }
    };
    let count = samples.len();
    for (index, sample) in samples.into_iter().enumerate().skip(first) {
        let file = sample.file.clone();
        let store = app.store.clone();
        let result = app.reader.work_aside(move || read_sample(&store, &sample)).await;
        let layouts = result.and_then(|result| result).unwrap_or_else(|error| {
            tracing::warn!(%error, file, "a picture of the demo was not read");
            Vec::new()
        });
        let progress = if index + 1 == count { DONE.to_owned() } else { (index + 1).to_string() };
        // In one step, so that a stop in between reads no picture twice.
        let noted = app.store(move |store| store.create_layouts_noting(&layouts, SETTING, &progress)).await;
        if let Err(error) = noted {
            tracing::error!(%error, "the demo stops");
            return;
        }
    }
}

fn samples() -> Result<Option<Vec<Sample>>, serde_json::Error> {
    Samples::get("demo.json").map(|file| serde_json::from_slice(&file.data)).transpose()
}

/// The first picture that is still to be read, if the notebook is the demo's.
fn next_sample(store: &Store) -> Result<Option<usize>, StoreError> {
    match store.setting(SETTING)? {
        Some(progress) => Ok(progress.parse().ok()),
        None if store.is_unused()? => {
            store.add_papers_noting(&papers(), SETTING, "0")?;
            Ok(Some(0))
        }
        None => Ok(None),
    }
}

/// The card table's drawer.
fn papers() -> Vec<Paper> {
    let Some(table) = Samples::get("papers.csv") else { return Vec::new() };
    papers_csv::read(&table.data).unwrap_or_else(|error| {
        tracing::warn!(%error, "the demo's papers do not read");
        Vec::new()
    })
}

fn read_sample(store: &Store, sample: &Sample) -> Result<Vec<Layout>, ApiError> {
    let card: Card = sample.card.parse()?;
    let frame = if sample.frame.as_deref() == Some("photo") { Frame::WholePhoto } else { Frame::Outline };
    let file = Samples::get(&sample.file).ok_or_else(|| ApiError::NoSuchPlace(sample.file.clone()))?;
    let records = keep_and_read(store, &file.data, &Options { card, frame, labels: true })?.into_records();
    let titled = |(index, record): (usize, LayoutJson)| {
        let title = sample.titles.get(index).cloned().unwrap_or_else(|| format!("Layout {}", index + 1));
        let record = LayoutJson { title, tags: sample.tags.clone(), notes: sample.notes.clone(), ..record };
        Layout::try_from(record).map_err(ApiError::Faults)
    };
    records.into_iter().enumerate().map(titled).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_papers_of_the_demo_read() {
        let table = Samples::get("papers.csv").unwrap();
        assert_eq!(papers_csv::read(&table.data).unwrap().len(), 7);
    }

    #[test]
    fn every_picture_of_the_demo_is_carried_and_drawn_for_a_card() {
        let samples = samples().unwrap().expect("sample-images/demo.json is there");
        assert!(samples.iter().map(|sample| sample.titles.len()).sum::<usize>() >= 8);
        for sample in samples {
            assert!(Samples::get(&sample.file).is_some(), "{}", sample.file);
            sample.card.parse::<Card>().unwrap_or_else(|error| panic!("{}: {error}", sample.file));
        }
    }

    #[test]
    fn only_an_unused_notebook_is_filled() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        assert_eq!(next_sample(&store).unwrap(), Some(0));
        store.add_papers_noting(&[], SETTING, "3").unwrap();
        assert_eq!(next_sample(&store).unwrap(), Some(3));
        store.add_papers_noting(&[], SETTING, DONE).unwrap();
        assert_eq!(next_sample(&store).unwrap(), None);
        let other = tempfile::tempdir().unwrap();
        let store = Store::open(other.path()).unwrap();
        store.create_layout(&Layout::new("Thank you", "A2".parse().unwrap())).unwrap();
        assert_eq!(next_sample(&store).unwrap(), None);
    }
}
