//! TIFF 6.0 and `BigTIFF` of any number of pages: black and white (CCITT G4
//! too), grey, palette, RGB, CMYK and YCbCr, in strips or tiles. A page is a
//! directory of the chain that is no thumbnail and no mask (`NewSubfileType`,
//! TIFF 6.0 section 8). The `tiff` crate decodes samples; here they become
//! RGB. A chain that bites its tail ends there.

use std::io::Cursor;

use image::RgbImage;
use image::metadata::Orientation;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::tags::{IfdPointer, Tag};
use tiff::{ColorType, TiffError};

use super::{Format, Limits};
use crate::error::CaptureError;
use crate::photo::{Photo, turned};

/// The pages of a TIFF: where each has its place in the chain of directories.
pub(super) struct Pages<'a> {
    bytes: &'a [u8],
    pages: Vec<Place>,
}

/// A directory in the chain.
#[derive(Clone, Copy)]
struct Place {
    index: usize,
    offset: u64,
}

/// Thumbnails and masks that a page may have beside it, in a file whose
/// pages are counted against the limit.
const MOST_DIRECTORIES_A_PAGE: usize = 8;
/// Bits of `NewSubfileType`: a smaller version of another page, a mask.
const SMALLER_OR_MASK: u32 = 0b101;

impl<'a> Pages<'a> {
    /// Walks the chain of directories; decodes nothing.
    pub(super) fn of(bytes: &'a [u8], limits: &Limits) -> Result<Pages<'a>, CaptureError> {
        let mut decoder = open(bytes, limits)?;
        let mut seen: Vec<u64> = Vec::new();
        let mut pages = Vec::new();
        let mut next = decoder.ifd_pointer();
        while let Some(IfdPointer(offset)) = next {
            if seen.contains(&offset) {
                break;
            }
            if seen.len() >= limits.pages.saturating_mul(MOST_DIRECTORIES_A_PAGE) {
                return Err(CaptureError::TooManyPages { limit: limits.pages });
            }
            let place = Place { index: seen.len(), offset };
            seen.push(offset);
            // What follows a directory that cannot be read is lost; what came before is not.
            let Ok(directory) = decoder.read_directory(IfdPointer(offset)) else { break };
            next = directory.next();
            let mut tags = decoder.read_directory_tags(&directory);
            let kind = tags.find_tag_unsigned::<u32>(Tag::NewSubfileType).ok().flatten().unwrap_or(0);
            if kind & SMALLER_OR_MASK == 0 && directory.contains(Tag::ImageWidth) {
                pages.push(place);
            }
            limits.check_pages(pages.len())?;
        }
        if pages.is_empty() {
            return Err(CaptureError::NoPages(Format::Tiff));
        }
        Ok(Pages { bytes, pages })
    }

    pub(super) fn count(&self) -> usize {
        self.pages.len()
    }

    /// Decodes one page, after its header was held against the limits.
    pub(super) fn decode(&self, page: usize, limits: &Limits) -> Result<Photo, CaptureError> {
        let Some(&Place { index, offset }) = self.pages.get(page) else {
            return Err(CaptureError::NoSuchPage { page: page.saturating_add(1), pages: self.pages.len() });
        };
        let mut decoder = open(self.bytes, limits)?;
        decoder.seek_to_image(index).map_err(fault)?;
        let (width, height) = decoder.dimensions().map_err(fault)?;
        limits.check_size(width, height)?;
        let turn = decoder.find_tag_unsigned::<u8>(Tag::Orientation).ok().flatten();
        let palette = decoder.find_tag_unsigned_vec::<u16>(Tag::ColorMap).ok().flatten();
        let pixels = match (decoder.find_tag_unsigned::<u16>(Tag::PhotometricInterpretation), palette) {
            (Ok(Some(PALETTE)), Some(palette)) => {
                let indices = with_grey_indices(self.bytes, offset).ok_or_else(odd_directory)?;
                let mut decoder = open(&indices, limits)?;
                decoder.seek_to_image(index).map_err(fault)?;
                Samples::read(&mut decoder)?.to_rgb(width, height, Some(&palette))?
            }
            _ => Samples::read(&mut decoder)?.to_rgb(width, height, None)?,
        };
        let turn = turn.and_then(Orientation::from_exif).unwrap_or(Orientation::NoTransforms);
        Ok(Photo::from_pixels(turned(pixels, turn)))
    }
}

fn open<'b>(bytes: &'b [u8], limits: &Limits) -> Result<Decoder<Cursor<&'b [u8]>>, CaptureError> {
    let mut most = tiff::decoder::Limits::default();
    most.decoding_buffer_size = usize::try_from(limits.decoder_bytes()).unwrap_or(usize::MAX);
    Ok(Decoder::new(Cursor::new(bytes)).map_err(fault)?.with_limits(most))
}

/// What the decoder's fault means to the person who has the file.
fn fault(error: TiffError) -> CaptureError {
    match error {
        TiffError::UnsupportedError(what) => {
            CaptureError::UnsupportedKind { format: Format::Tiff, what: what.to_string() }
        }
        TiffError::LimitsExceeded => CaptureError::Damaged("its parts are larger than its page".to_owned()),
        other => CaptureError::Damaged(other.to_string()),
    }
}

fn odd_directory() -> CaptureError {
    CaptureError::Damaged("its directory is odd".to_owned())
}

/// `PhotometricInterpretation` of pixels that are numbers of colours.
const PALETTE: u16 = 3;

/// The file with the directory at `offset` saying that its palette indices
/// are grey: the decoder gives indices for that alone.
fn with_grey_indices(bytes: &[u8], offset: u64) -> Option<Vec<u8>> {
    /// `BlackIsZero`.
    const GREY: u16 = 1;
    let little = bytes.first()? == &b'I';
    let big_tiff = [bytes.get(2)?, bytes.get(3)?].contains(&&0x2b);
    let read_u16 = |at: usize| -> Option<u16> {
        let two = [*bytes.get(at)?, *bytes.get(at + 1)?];
        Some(if little { u16::from_le_bytes(two) } else { u16::from_be_bytes(two) })
    };
    let start = usize::try_from(offset).ok()?;
    // Entries are a tag, a type, a count and a value: 12 bytes, in BigTIFF 20.
    let (first, entry, value) = if big_tiff { (8, 20, 12) } else { (2, 12, 8) };
    let mut at = start.checked_add(first)?;
    // Tags stand in rising order: photometric is among the first few.
    for _ in 0..64 {
        if read_u16(at)? == Tag::PhotometricInterpretation.to_u16() {
            let mut patched = bytes.to_vec();
            let word = if little { GREY.to_le_bytes() } else { GREY.to_be_bytes() };
            patched.get_mut(at + value..at + value + 2)?.copy_from_slice(&word);
            return Some(patched);
        }
        at += entry;
    }
    None
}

/// The samples of a page as the file has them, 8 bits each, or packed.
struct Samples {
    color: ColorType,
    /// One byte a sample, but below 8 bits packed as in the file.
    bytes: Vec<u8>,
    row_bytes: usize,
    /// Bytes of a plane, where each colour has its own.
    plane_bytes: Option<usize>,
    /// The colour is multiplied with its alpha already.
    premultiplied: bool,
}

impl Samples {
    fn read(decoder: &mut Decoder<Cursor<&[u8]>>) -> Result<Samples, CaptureError> {
        /// `ExtraSamples`: alpha that the colours are multiplied with.
        const ASSOCIATED_ALPHA: u16 = 1;
        let color = decoder.colortype().map_err(fault)?;
        let extra = decoder.find_tag_unsigned_vec::<u16>(Tag::ExtraSamples).ok().flatten();
        let mut result = DecodingResult::U8(Vec::new());
        let layout = decoder.read_image_to_buffer(&mut result).map_err(fault)?;
        // Samples are brought to 8 bits: the reader looks at no more.
        let (bytes, width) = match result {
            DecodingResult::U8(samples) => (samples, 1),
            DecodingResult::U16(samples) => (samples.iter().map(|v| v.to_be_bytes()[0]).collect(), 2),
            DecodingResult::U32(samples) => (samples.iter().map(|v| v.to_be_bytes()[0]).collect(), 4),
            DecodingResult::F32(samples) => (samples.iter().map(|&v| byte_of(v)).collect(), 4),
            _ => return Err(unsupported("samples of this kind")),
        };
        Ok(Samples {
            color,
            bytes,
            row_bytes: layout.row_stride.map_or(0, std::num::NonZero::get) / width,
            plane_bytes: (layout.planes > 1)
                .then(|| layout.plane_stride.map_or(0, std::num::NonZero::get) / width),
            premultiplied: extra.is_some_and(|extra| extra.first() == Some(&ASSOCIATED_ALPHA)),
        })
    }

    /// Every pixel as red, green and blue.
    fn to_rgb(&self, width: u32, height: u32, palette: Option<&[u16]>) -> Result<RgbImage, CaptureError> {
        let (count, bits, kind) = kind_of(self.color)?;
        if let Some(palette) = palette {
            // Reds, then greens, then blues, as 16 bits each (TIFF 6.0, section 5).
            let colours = palette.len() / 3;
            let part = |plane: usize, index: u8| {
                palette.get(plane * colours + usize::from(index)).map_or(0, |v| v.to_be_bytes()[0])
            };
            return self
                .rows(width, height, 1, bits, false, |s| [part(0, s[0]), part(1, s[0]), part(2, s[0])]);
        }
        let paper = |colour: u8, alpha: u8| on_paper(colour, alpha, self.premultiplied);
        match kind {
            Kind::Grey => self.rows(width, height, count, bits, true, |s| [s[0]; 3]),
            Kind::GreyAlpha => self.rows(width, height, count, bits, true, |s| [paper(s[0], s[1]); 3]),
            Kind::Rgb => self.rows(width, height, count, bits, true, |s| [s[0], s[1], s[2]]),
            Kind::Rgba => self.rows(width, height, count, bits, true, |s| {
                [paper(s[0], s[3]), paper(s[1], s[3]), paper(s[2], s[3])]
            }),
            Kind::Cmyk => {
                self.rows(width, height, count, bits, true, |s| [s[0], s[1], s[2]].map(|c| inked(c, s[3])))
            }
            Kind::YCbCr => self.rows(width, height, count, bits, true, |s| from_ycbcr([s[0], s[1], s[2]])),
        }
    }

    /// Goes through the pixels: `count` samples of `bits` each become a colour.
    /// Fewer bits than 8 are stretched to the whole range if `stretch`.
    fn rows(
        &self,
        width: u32,
        height: u32,
        count: usize,
        bits: u8,
        stretch: bool,
        colour: impl Fn(&[u8]) -> [u8; 3],
    ) -> Result<RgbImage, CaptureError> {
        let short = || CaptureError::Damaged("it has fewer pixels than it says".to_owned());
        let columns = width as usize;
        let mut out = RgbImage::new(width, height);
        let mut row_samples = vec![0u8; count * columns];
        let (planes, in_plane) = if self.plane_bytes.is_some() { (count, 1) } else { (1, count) };
        for (y, line) in out.chunks_exact_mut(3 * columns).enumerate() {
            for plane in 0..planes {
                let start = plane * self.plane_bytes.unwrap_or(0) + y * self.row_bytes;
                let row = self.bytes.get(start..start + self.row_bytes).ok_or_else(short)?;
                let places = row_samples[plane..].iter_mut().step_by(planes).take(in_plane * columns);
                if bits >= 8 {
                    if row.len() < in_plane * columns {
                        return Err(short());
                    }
                    places.zip(row).for_each(|(to, from)| *to = *from);
                } else {
                    unpack(row, bits, stretch, places).ok_or_else(short)?;
                }
            }
            for (pixel, samples) in line.chunks_exact_mut(3).zip(row_samples.chunks_exact(count)) {
                pixel.copy_from_slice(&colour(samples));
            }
        }
        Ok(out)
    }
}

/// What the samples of a pixel mean.
enum Kind {
    Grey,
    GreyAlpha,
    Rgb,
    Rgba,
    Cmyk,
    YCbCr,
}

/// Samples of a pixel, bits of each, and what they mean.
fn kind_of(color: ColorType) -> Result<(usize, u8, Kind), CaptureError> {
    let found = match color {
        ColorType::Gray(bits) => (1, bits, Kind::Grey),
        ColorType::GrayA(bits) | ColorType::Multiband { bit_depth: bits, num_samples: 2 } => {
            (2, bits, Kind::GreyAlpha)
        }
        ColorType::RGB(bits) => (3, bits, Kind::Rgb),
        ColorType::RGBA(bits) => (4, bits, Kind::Rgba),
        ColorType::CMYK(bits) => (4, bits, Kind::Cmyk),
        ColorType::CMYKA(bits) => (5, bits, Kind::Cmyk),
        ColorType::YCbCr(bits) => (3, bits, Kind::YCbCr),
        other => return Err(unsupported(&format!("{other:?}"))),
    };
    match found.1 {
        1 | 2 | 4 | 8 | 16 | 32 => Ok(found),
        bits => Err(unsupported(&format!("{bits} bits a sample"))),
    }
}

fn unsupported(what: &str) -> CaptureError {
    CaptureError::UnsupportedKind { format: Format::Tiff, what: what.to_owned() }
}

/// Takes samples of 1, 2 or 4 bits out of their bytes, the highest bits first.
fn unpack<'p>(row: &[u8], bits: u8, stretch: bool, places: impl Iterator<Item = &'p mut u8>) -> Option<()> {
    let a_byte = usize::from(8 / bits);
    let most = u8::MAX >> (8 - bits);
    let step = if stretch { u8::MAX / most } else { 1 };
    for (i, to) in places.enumerate() {
        let shift = 8 - usize::from(bits) * (i % a_byte + 1);
        *to = (row.get(i / a_byte)? >> shift & most) * step;
    }
    Some(())
}

/// A colour seen through its alpha on white paper.
fn on_paper(colour: u8, alpha: u8, premultiplied: bool) -> u8 {
    let (c, a) = (u16::from(colour), u16::from(alpha));
    let seen = if premultiplied { c + 255 - a } else { (c * a + 255 * (255 - a) + 127) / 255 };
    u8::try_from(seen).unwrap_or(u8::MAX)
}

/// What of white is left under an ink and black.
fn inked(ink: u8, black: u8) -> u8 {
    let left = (255 - u16::from(ink)) * (255 - u16::from(black));
    u8::try_from((left + 127) / 255).unwrap_or(u8::MAX)
}

/// The colours of JPEG's luma and chroma (ITU-T T.871, section 7).
fn from_ycbcr([y, cb, cr]: [u8; 3]) -> [u8; 3] {
    let (y, cb, cr) = (f32::from(y), f32::from(cb) - 128.0, f32::from(cr) - 128.0);
    [y + 1.402 * cr, y - 0.344_136 * cb - 0.714_136 * cr, y + 1.772 * cb].map(|v| byte_of(v / 255.0))
}

/// A share of white, 0 to 1, as a byte.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to a byte's range")]
fn byte_of(share: f32) -> u8 {
    (share.clamp(0.0, 1.0) * 255.0 + 0.5) as u8
}

#[cfg(test)]
mod tests {
    use tiff::encoder::colortype::{CMYK8, ColorType as Encoded, Gray8, Gray16, RGB8, RGBA8};
    use tiff::encoder::{TiffEncoder, TiffKind, TiffKindStandard};

    use super::*;
    use crate::document::Document;

    /// Side of the test's pages, pixels: the least that is looked at.
    const SIDE: u32 = 200;

    /// A TIFF whose pages are of one colour each, with their subfile type.
    fn pages_of<C: Encoded>(colours: &[(&[C::Inner], u32)]) -> Vec<u8>
    where
        [C::Inner]: tiff::encoder::TiffValue,
        C::Inner: Copy,
    {
        let mut bytes = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut bytes).unwrap();
        for (colour, kind) in colours {
            add::<C, TiffKindStandard>(&mut encoder, colour, *kind);
        }
        bytes.into_inner()
    }

    fn add<C: Encoded, K: TiffKind>(
        encoder: &mut TiffEncoder<&mut Cursor<Vec<u8>>, K>,
        colour: &[C::Inner],
        kind: u32,
    ) where
        [C::Inner]: tiff::encoder::TiffValue,
        C::Inner: Copy,
    {
        let mut image = encoder.new_image::<C>(SIDE, SIDE).unwrap();
        image.encoder().write_tag(Tag::NewSubfileType, kind).unwrap();
        image.write_data(&colour.repeat((SIDE * SIDE) as usize)).unwrap();
    }

    /// The colour in the middle of each page.
    fn middles(bytes: &[u8]) -> Vec<[u8; 3]> {
        let document = Document::open(bytes, &Limits::default()).unwrap();
        let middle = |page| document.page(page).unwrap().pixels().get_pixel(SIDE / 2, SIDE / 2).0;
        (0..document.pages()).map(middle).collect()
    }

    #[test]
    fn pages_come_in_their_order_and_thumbnails_and_masks_are_none() {
        let bytes = pages_of::<Gray8>(&[(&[10], 0), (&[99], 1), (&[20], 2), (&[99], 4), (&[30], 0)]);
        assert_eq!(middles(&bytes), [[10; 3], [20; 3], [30; 3]]);
    }

    #[test]
    fn every_kind_of_colour_becomes_red_green_and_blue() {
        assert_eq!(middles(&pages_of::<RGB8>(&[(&[200, 100, 50], 0)])), [[200, 100, 50]]);
        assert_eq!(middles(&pages_of::<Gray16>(&[(&[0x80ff], 0)])), [[0x80; 3]]);
        // Half-seen black on white paper; full magenta ink with half black.
        assert_eq!(middles(&pages_of::<RGBA8>(&[(&[0, 0, 0, 128], 0)])), [[127; 3]]);
        assert_eq!(middles(&pages_of::<CMYK8>(&[(&[0, 255, 0, 128], 0)])), [[127, 0, 127]]);
    }

    #[test]
    fn palette_pages_have_the_colours_of_their_palette() {
        let mut bytes = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut bytes).unwrap();
        let mut image = encoder.new_image::<Gray8>(SIDE, SIDE).unwrap();
        let mut palette = [0u16; 768];
        // Colour 7 is orange: 255, 128, 0.
        (palette[7], palette[256 + 7]) = (0xffff, 0x8080);
        image.encoder().write_tag(Tag::PhotometricInterpretation, PALETTE).unwrap();
        image.encoder().write_tag(Tag::ColorMap, &palette[..]).unwrap();
        image.write_data(&vec![7; (SIDE * SIDE) as usize]).unwrap();
        assert_eq!(middles(&bytes.into_inner()), [[255, 128, 0]]);
    }

    #[test]
    fn samples_of_few_bits_are_stretched_to_the_whole_range() {
        let mut two_bits = [9; 5];
        unpack(&[0b0001_1011, 0b1100_0000], 2, true, two_bits.iter_mut()).unwrap();
        assert_eq!(two_bits, [0, 85, 170, 255, 255]);
        let mut one_bit = [9; 9];
        unpack(&[0b1010_0001, 0b1000_0000], 1, true, one_bit.iter_mut()).unwrap();
        assert_eq!(one_bit, [255, 0, 255, 0, 0, 0, 0, 255, 255]);
        assert!(unpack(&[0], 4, true, [0; 3].iter_mut()).is_none(), "a row that is too short");
    }

    #[test]
    fn a_chain_that_bites_its_tail_ends_and_one_that_is_too_long_is_refused() {
        let mut bytes = pages_of::<Gray8>(&[(&[10], 0), (&[20], 0)]);
        // The second directory says that the first follows.
        let first = u32::from_le_bytes(bytes[4..8].try_into().unwrap());
        let next_of = |bytes: &[u8], at: usize| {
            at + 2 + 12 * usize::from(u16::from_le_bytes(bytes[at..at + 2].try_into().unwrap()))
        };
        let after_first = next_of(&bytes, first as usize);
        let second = u32::from_le_bytes(bytes[after_first..after_first + 4].try_into().unwrap());
        let after_second = next_of(&bytes, second as usize);
        bytes[after_second..after_second + 4].copy_from_slice(&first.to_le_bytes());
        let document = Document::open(&bytes, &Limits::default()).unwrap();
        assert_eq!(document.pages(), 2);
        assert!(document.page(0).is_ok());

        let one_page = Limits { pages: 1, ..Limits::default() };
        let error = Document::open(&bytes, &one_page).err().unwrap();
        assert_eq!(error.to_string(), "the document has more than 1 pages: send it in parts");
    }

    #[test]
    fn a_page_that_is_cut_off_is_told_and_the_others_are_read() {
        let bytes = pages_of::<Gray8>(&[(&[10], 0), (&[20], 0)]);
        // The encoder writes a page's samples, then its directory.
        let mut directory_only = bytes.clone();
        let strip_offset = |bytes: &[u8]| {
            let at = u32::from_le_bytes(bytes[4..8].try_into().unwrap()) as usize;
            (at + 2..).step_by(12).find(|at| bytes[*at..*at + 2] == 273u16.to_le_bytes()).unwrap() + 8
        };
        let at = strip_offset(&bytes);
        directory_only[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
        let document = Document::open(&directory_only, &Limits::default()).unwrap();
        assert!(document.page(0).unwrap_err().to_string().contains("damaged or cut short"));
        assert!(document.page(1).is_ok());
        let error = document.page(2).unwrap_err();
        assert_eq!(error.to_string(), "there is no page 3: the file has pages 1 to 2");
    }
}
