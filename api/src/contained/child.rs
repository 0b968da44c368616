//! The process that decodes and reads: one task from its standard input, one
//! answer to its standard output, under limits that it sets itself before it
//! looks at a byte.

use std::io::{self, Cursor};
use std::process::ExitCode;

use capture::{CaptureError, Document, Frame, Limits, NoTrace, Options, Photo};
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};

use super::task::{self, Answer, Task, Unread};
use crate::import;

/// Address space in bytes. A picture of 64 megapixels takes 200 MB decoded and
/// as much again where it is turned; what lies idle of threads' stacks counts too.
const MEMORY: u64 = 3 << 30;
/// Seconds on a processor, for when nobody is left who would stop it.
const PROCESSOR_S: u64 = 120;

/// Does the task that comes in, and answers.
pub(crate) fn serve() -> ExitCode {
    limit();
    end_with_parent();
    match answer() {
        Ok(()) => ExitCode::SUCCESS,
        // Nobody reads on: there is nothing to be told.
        Err(_) => ExitCode::FAILURE,
    }
}

fn answer() -> io::Result<()> {
    let (task, bytes) = task::read::<Task>(&mut io::stdin().lock())?;
    let (answer, picture) = carry_out(&task, &bytes);
    task::write(&mut io::stdout().lock(), &answer, &picture)
}

/// Limits that hold whatever a decoder does. Where the system has none of the
/// kind, the parent's patience is the limit.
fn limit() {
    #[cfg(unix)]
    {
        use rlimit::Resource;
        for (resource, most) in [(Resource::AS, MEMORY), (Resource::CPU, PROCESSOR_S), (Resource::CORE, 0)] {
            let hard = resource.get_hard().unwrap_or(most);
            let _ = resource.set(most.min(hard), most.min(hard));
        }
    }
}

/// Ends the process as soon as nobody is left who waits for its answer.
fn end_with_parent() {
    #[cfg(unix)]
    {
        use std::os::unix::process::parent_id;
        use std::time::Duration;
        use std::{process, thread};
        /// How often it is looked, in milliseconds.
        const LOOK_MS: u64 = 250;
        let parent = parent_id();
        // Without the thread the limit on the processor's time is what ends it.
        let _ = thread::Builder::new().stack_size(64 << 10).spawn(move || {
            while parent_id() == parent {
                thread::sleep(Duration::from_millis(LOOK_MS));
            }
            process::exit(1);
        });
    }
}

/// Does a task. Gives the answer and the bytes that go with it.
pub(super) fn carry_out(task: &Task, bytes: &[u8]) -> (Answer, Vec<u8>) {
    match task {
        Task::Import { page, plan } => {
            let (page, pages) = import::read_page(bytes, *page, plan);
            (Answer::Imported { page, pages }, Vec::new())
        }
        Task::Read { page, card, corners, whole, labels } => {
            let frame = match corners {
                Some(corners) => Frame::Corners(*corners),
                None if *whole => Frame::WholePhoto,
                None => Frame::Outline,
            };
            let answer = match (decoded(bytes, *page), card.parse()) {
                (Err(error), _) => Answer::Unread(error.into()),
                (_, Err(error)) => Answer::Unread(Unread::from(error)),
                (Ok((photo, pages)), Ok(card)) => {
                    let read = capture::read(&photo, &Options { card, frame, labels: *labels }, &mut NoTrace);
                    let layouts = match read {
                        Ok(layouts) if layouts.is_empty() => Err(CaptureError::NoOutline.into()),
                        read => read.map_err(Unread::from),
                    };
                    Answer::Page { size_px: photo.size_px(), pages, layouts }
                }
            };
            (answer, Vec::new())
        }
        Task::Picture { page, width } => match decoded(bytes, *page) {
            Ok((photo, _)) => match jpeg(&photo, *width) {
                Ok(picture) => (Answer::Picture, picture),
                Err(error) => (Answer::Unread(CaptureError::Damaged(error.to_string()).into()), Vec::new()),
            },
            Err(error) => (Answer::Unread(error.into()), Vec::new()),
        },
    }
}

/// A page of a file, counted from 1, and how many it has.
fn decoded(bytes: &[u8], page: u32) -> Result<(Photo, usize), CaptureError> {
    let document = Document::open(bytes, &Limits::default())?;
    let index = usize::try_from(page.saturating_sub(1)).unwrap_or(usize::MAX);
    Ok((document.page(index)?, document.pages()))
}

/// JPEG quality of pictures for the screen: no visible loss on line drawings.
const SCREEN_QUALITY: u8 = 88;

/// A picture for the screen, at most so wide.
fn jpeg(photo: &Photo, width: u32) -> image::ImageResult<Vec<u8>> {
    let [whole, height] = photo.size_px();
    let mut jpeg = Cursor::new(Vec::new());
    let mut encoder = JpegEncoder::new_with_quality(&mut jpeg, SCREEN_QUALITY);
    if width < whole {
        let height = u64::from(height) * u64::from(width) / u64::from(whole.max(1));
        let height = u32::try_from(height).unwrap_or(u32::MAX).max(1);
        encoder.encode_image(&imageops::resize(photo.pixels(), width, height, FilterType::Triangle))?;
    } else {
        encoder.encode_image(photo.pixels())?;
    }
    Ok(jpeg.into_inner())
}
