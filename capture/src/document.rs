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
        let source = guard::run(format, || {
            Ok(match format {
                Format::Jpeg | Format::Png | Format::WebP => Source::Plain(bytes),
                Format::Tiff => Source::Tiff(tiff::Pages::of(bytes, limits)?),
                Format::Heif => Source::Heif(heif::Pages::of(bytes, limits)?),
                Format::Pdf => Source::Pdf(pdf::Pages::of(bytes, limits)?),
            })
        })?;
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
        guard::run(self.format, || match &self.source {
            Source::Plain(bytes) => plain::decode(bytes, self.format, &self.limits),
            Source::Tiff(pages) => pages.decode(index, &self.limits),
            Source::Heif(pages) => pages.decode(index, &self.limits),
            Source::Pdf(pages) => pages.draw(index, &self.limits),
        })
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use image::{DynamicImage, ImageFormat};

    use super::*;

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
