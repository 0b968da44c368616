//! A file as a maker has it: one or more pages, each of which can be decoded
//! to an upright [`Photo`]. Stage 1 of a reading: the format is sniffed by
//! the bytes alone, what the headers tell is held against the [`Limits`], and
//! only then is a page decoded, one at a time, so that a long scan takes no
//! more memory than its largest page.
//!
//! Decoders are other people's programs fed with strangers' bytes: each runs
//! in [`guard::run`], where a panic becomes a sentence. What cannot be caught
//! that way (a stack that runs full, a loop that does not end) is told where
//! it could happen, in the module of the format.

mod format;
mod guard;
mod heif;
mod limits;
mod pdf;
mod plain;
mod tiff;

pub use format::Format;
pub use limits::Limits;

use crate::error::CaptureError;
use crate::photo::Photo;

/// A file that holds pages.
///
/// ```
/// use capture::{Document, Format, Limits};
/// # let mut bytes = std::io::Cursor::new(Vec::new());
/// # image::RgbImage::new(300, 200).write_to(&mut bytes, image::ImageFormat::Png)?;
/// # let bytes = bytes.into_inner();
/// let document = Document::open(&bytes, &Limits::default())?;
/// assert_eq!((document.format(), document.pages()), (Format::Png, 1));
/// for index in 0..document.pages() {
///     let photo = document.page(index)?;
///     assert_eq!(photo.size_px(), [300, 200]);
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Document<'a> {
    format: Format,
    source: Source<'a>,
    limits: Limits,
}

/// What the pages come from.
enum Source<'a> {
    /// JPEG, PNG and WebP: the picture is the page.
    Plain(&'a [u8]),
    Tiff(tiff::Pages<'a>),
    Heif(heif::Pages<'a>),
    Pdf(pdf::Pages),
}

impl<'a> Document<'a> {
    /// Looks at what the bytes are and counts their pages; decodes none.
    ///
    /// # Errors
    /// What is empty, of no format that is read, damaged already in its
    /// headers, larger than `limits` or of more pages.
    pub fn open(bytes: &'a [u8], limits: &Limits) -> Result<Document<'a>, CaptureError> {
        let format = Format::of(bytes)?;
        limits.check_bytes(bytes.len())?;
        let source = match format {
            Format::Jpeg | Format::Png | Format::WebP => Source::Plain(bytes),
            Format::Tiff => Source::Tiff(guard::run(format, || tiff::Pages::of(bytes, limits))?),
            Format::Heif => Source::Heif(guard::run(format, || heif::Pages::of(bytes, limits))?),
            Format::Pdf => Source::Pdf(guard::run_deep(format, || pdf::Pages::of(bytes, limits))?),
        };
        Ok(Document { format, source, limits: *limits })
    }

    /// The format, as the bytes tell it.
    pub fn format(&self) -> Format {
        self.format
    }

    /// How many pages there are: at least one.
    pub fn pages(&self) -> usize {
        match &self.source {
            Source::Plain(_) => 1,
            Source::Tiff(pages) => pages.count(),
            Source::Heif(pages) => pages.count(),
            Source::Pdf(pages) => pages.count(),
        }
    }

    /// Decodes one page, counted from 0, the right way up. Nothing of it is
    /// kept in the document.
    ///
    /// # Errors
    /// A page that is not there, is damaged, or has more or fewer pixels than
    /// the limits allow, which its header tells before it is decoded.
    pub fn page(&self, index: usize) -> Result<Photo, CaptureError> {
        if index >= self.pages() {
            return Err(CaptureError::NoSuchPage { page: index.saturating_add(1), pages: self.pages() });
        }
        let (format, limits) = (self.format, &self.limits);
        match &self.source {
            Source::Plain(bytes) => guard::run(format, || plain::decode(bytes, format, limits)),
            Source::Tiff(pages) => guard::run(format, || pages.decode(index, limits)),
            Source::Heif(pages) => guard::run(format, || pages.decode(index, limits)),
            Source::Pdf(pages) => guard::run_deep(format, || pages.draw(index, limits)),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::io::Cursor;
    use std::path::Path;

    use image::{DynamicImage, ImageFormat};

    use super::*;

    fn sample(name: &str) -> Vec<u8> {
        fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-images").join(name)).unwrap()
    }

    #[test]
    fn the_sample_documents_have_the_pages_their_answers_tell() {
        for (name, format, sizes) in [
            ("fax-and-scan.tif", Format::Tiff, &[[1131, 1600], [900, 1200]][..]),
            ("scan-and-lines.pdf", Format::Pdf, &[[1131, 1600], [2164, 2800]]),
            ("phone.heic", Format::Heif, &[[1600, 1200]]),
        ] {
            let bytes = sample(name);
            let document = Document::open(&bytes, &Limits::default()).unwrap();
            let found: Vec<_> = (0..document.pages()).map(|i| document.page(i).unwrap().size_px()).collect();
            assert_eq!((document.format(), &found[..]), (format, sizes), "{name}");
        }
    }

    /// The container turns the picture, and EXIF says in the same file that
    /// it has to be turned: done twice, the page would lie on its side.
    #[test]
    fn a_heic_photo_is_turned_once() {
        let heic = Photo::decode(&sample("phone.heic"), &Limits::default()).unwrap();
        let jpeg = Photo::decode(&sample("turned-by-exif.jpg"), &Limits::default()).unwrap();
        assert_eq!(heic.size_px(), jpeg.size_px());
        let apart =
            heic.pixels().as_raw().iter().zip(jpeg.pixels().as_raw()).map(|(a, b)| u64::from(a.abs_diff(*b)));
        let mean = apart.sum::<u64>() as f64 / jpeg.pixels().as_raw().len() as f64;
        assert!(mean < 4.0, "{mean} grey levels apart");
    }

    #[test]
    fn documents_go_from_thread_to_thread() {
        fn goes<T: Send + Sync>(_: &T) {}
        goes(&Document::open(&sample("scan-and-lines.pdf"), &Limits::default()).unwrap());
    }

    /// Whatever is wrong inside a file, it is told and ends: bytes changed
    /// and files cut at many places, the same each time.
    #[test]
    fn damaged_documents_are_told_and_never_panic() {
        let limits = Limits { pages: 8, megapixels: 8, ..Limits::default() };
        for name in ["fax-and-scan.tif", "scan-and-lines.pdf", "phone.heic"] {
            let whole = sample(name);
            let mut dice = 0x2545_f491_4f6c_dd1du64;
            for round in 0..24 {
                let mut bytes = whole.clone();
                for _ in 0..=round / 2 {
                    // Xorshift (Marsaglia, 2003).
                    dice ^= dice << 13;
                    dice ^= dice >> 7;
                    dice ^= dice << 17;
                    let [low, high, value, ..] = dice.to_le_bytes();
                    let place = usize::from(u16::from_le_bytes([low, high])) * bytes.len() / 65_536;
                    // Headers stand in front and are what decoders trust.
                    let place = if round % 2 == 0 { place % 600.min(bytes.len()) } else { place };
                    bytes[place] = value;
                }
                if round % 3 == 0 {
                    bytes.truncate(whole.len() * (round + 1) / 26);
                }
                if let Ok(document) = Document::open(&bytes, &limits) {
                    for index in 0..document.pages() {
                        let _ = document.page(index);
                    }
                }
            }
        }
    }

    fn check(bytes: &[u8], message: &str) {
        let error = Photo::decode(bytes, &Limits::default()).expect_err(message);
        assert!(error.to_string().contains(message), "{error}");
    }

    #[test]
    fn bad_files_are_refused_with_what_to_do() {
        check(b"", "the file is empty");
        check(b"Dear Edith, the cards are ready", "no picture or PDF I can read");
        check(b"GIF89a", "GIF files are not read: save this one as JPEG or PNG");
        check(b"\xff\xd8\xff\xe0\0\x10JFIF", "damaged or cut short");
        let mut jpeg = Cursor::new(Vec::new());
        DynamicImage::new_rgb8(300, 300).write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
        check(&jpeg.get_ref()[..jpeg.get_ref().len() - 2], "damaged or cut short");
        let mut one_pixel = Cursor::new(Vec::new());
        DynamicImage::new_rgb8(1, 1).write_to(&mut one_pixel, ImageFormat::Png).unwrap();
        check(one_pixel.get_ref(), "only 1 x 1 pixels");
    }

    #[test]
    fn a_huge_header_is_refused_before_decoding() {
        let mut png = Cursor::new(Vec::new());
        DynamicImage::new_rgb8(1, 1).write_to(&mut png, ImageFormat::Png).unwrap();
        let mut bytes = png.into_inner();
        bytes[16..24].copy_from_slice(&[0, 0, 0x75, 0x30, 0, 0, 0x75, 0x30]);
        // The header's checksum has to fit, or the header itself is refused.
        let crc = bytes[12..29].iter().fold(u32::MAX, |crc, byte| {
            (0..8)
                .fold(crc ^ u32::from(*byte), |crc, _| (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg()))
        });
        bytes[29..33].copy_from_slice(&(!crc).to_be_bytes());
        check(&bytes, "30000 x 30000 pixels, over the limit of 64 megapixels");
    }
}
