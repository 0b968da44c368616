//! Writes what each stage of a reading saw into a folder, and how long each took.

use std::fmt::Write;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use ::capture::{Stage, Trace};
use image::{ImageFormat, RgbImage};

/// What could not be written where.
type Failure = (PathBuf, io::Error);

/// A folder with one numbered picture a stage (`01-photo.png` …) and
/// `timings.txt`. A stage that runs once per card says which card from the
/// second on (`05-rectify-card2.png`).
pub(super) struct StageFolder {
    folder: PathBuf,
    timings: Vec<(Stage, usize, Duration)>,
    /// Since when the present stage has been running; moved on by the time
    /// that drawing and writing pictures takes.
    since: Instant,
    failure: Option<Failure>,
}

impl StageFolder {
    /// Makes the folder and starts the clock.
    pub(super) fn open(folder: &Path) -> Result<StageFolder, Failure> {
        fs::create_dir_all(folder).map_err(|error| (folder.to_owned(), error))?;
        Ok(StageFolder {
            folder: folder.to_owned(),
            timings: Vec::new(),
            since: Instant::now(),
            failure: None,
        })
    }

    /// Writes the timings; gives the first thing that could not be written.
    pub(super) fn close(self) -> Result<(), Failure> {
        if let Some(failure) = self.failure {
            return Err(failure);
        }
        let path = self.folder.join("timings.txt");
        fs::write(&path, timings_text(&self.timings)).map_err(|error| (path, error))
    }
}

impl Trace for StageFolder {
    fn wants_pictures(&self) -> bool {
        true
    }

    fn ended(&mut self, stage: Stage, card: usize) {
        let now = Instant::now();
        self.timings.push((stage, card, now - self.since));
        self.since = now;
    }

    fn picture(&mut self, stage: Stage, card: usize, picture: RgbImage) {
        let begun = Instant::now();
        let path = self.folder.join(file_name(stage, card));
        if let Err(error) = picture.save_with_format(&path, ImageFormat::Png) {
            self.failure.get_or_insert((path, io::Error::other(error)));
        }
        self.since += begun.elapsed();
    }
}

fn file_name(stage: Stage, card: usize) -> String {
    let number = Stage::ALL.iter().position(|&other| other == stage).map_or(0, |index| index + 1);
    let which = if card == 0 { String::new() } else { format!("-card{}", card + 1) };
    format!("{number:02}-{}{which}.png", stage.word())
}

/// One line a stage, milliseconds, and their sum.
fn timings_text(timings: &[(Stage, usize, Duration)]) -> String {
    let mut text = String::new();
    let mut line = |name: &str, time: Duration| {
        let _ = writeln!(text, "{name:<16} {:>9.1} ms", time.as_secs_f64() * 1000.0);
    };
    for &(stage, card, time) in timings {
        let which = if card == 0 { String::new() } else { format!(" card {}", card + 1) };
        line(&format!("{}{which}", stage.word()), time);
    }
    line("all", timings.iter().map(|&(_, _, time)| time).sum());
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_are_numbered_as_the_photo_travels() {
        let folder = tempfile::tempdir().unwrap();
        let mut stages = StageFolder::open(folder.path()).unwrap();
        for (stage, card) in [(Stage::Photo, 0), (Stage::Snap, 1)] {
            stages.picture(stage, card, RgbImage::new(2, 2));
            stages.ended(stage, card);
        }
        stages.close().unwrap();
        let mut names: Vec<_> = fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        assert_eq!(names, ["01-photo.png", "10-snap-card2.png", "timings.txt"]);
        let timings = fs::read_to_string(folder.path().join("timings.txt")).unwrap();
        let words: Vec<_> = timings.lines().map(|line| line.split("  ").next().unwrap()).collect();
        assert_eq!(words, ["photo", "snap card 2", "all"]);
    }
}
