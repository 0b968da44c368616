//! Which format a file is of, told by its first bytes (WHATWG MIME Sniffing;
//! ISO/IEC 14496-12 for `ftyp`): names and declared types lie.

use std::fmt;

use crate::error::CaptureError;

/// A format that layouts come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Format {
    /// JPEG (ITU-T T.81).
    Jpeg,
    /// PNG.
    Png,
    /// WebP; of a moving one the first picture.
    WebP,
    /// TIFF 6.0 or `BigTIFF`, of any number of pages.
    Tiff,
    /// HEIF with HEVC pictures inside, as phones write it (HEIC).
    Heif,
    /// PDF.
    Pdf,
}

/// How far into a file a PDF's header may start, in bytes: mailers and old
/// scanners put lines before it, and viewers accept it in the first 1024.
const PDF_HEADER_WITHIN: usize = 1024;

impl Format {
    /// The format of these bytes.
    ///
    /// # Errors
    /// [`CaptureError::Empty`], [`CaptureError::UnknownFormat`], or
    /// [`CaptureError::UnsupportedFormat`] for a known one that is not read.
    pub fn of(bytes: &[u8]) -> Result<Format, CaptureError> {
        match bytes {
            [] => Err(CaptureError::Empty),
            [0xff, 0xd8, 0xff, ..] => Ok(Format::Jpeg),
            [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Ok(Format::Png),
            [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Ok(Format::WebP),
            [b'I', b'I', 0x2a | 0x2b, 0, ..] | [b'M', b'M', 0, 0x2a | 0x2b, ..] => Ok(Format::Tiff),
            [_, _, _, _, b'f', b't', b'y', b'p', brand @ ..] if brand.len() >= 4 => match &brand[..4] {
                b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"hevx" | b"mif1" | b"mif2" | b"msf1" => {
                    Ok(Format::Heif)
                }
                b"avif" | b"avis" => Err(CaptureError::UnsupportedFormat("AVIF")),
                _ => Err(CaptureError::UnknownFormat),
            },
            [b'G', b'I', b'F', b'8', ..] => Err(CaptureError::UnsupportedFormat("GIF")),
            [b'B', b'M', _, _, _, _, 0, 0, 0, 0, ..] => Err(CaptureError::UnsupportedFormat("BMP")),
            _ => {
                let start = &bytes[..bytes.len().min(PDF_HEADER_WITHIN + 5)];
                let is_pdf = start.windows(5).any(|five| five == b"%PDF-");
                if is_pdf { Ok(Format::Pdf) } else { Err(CaptureError::UnknownFormat) }
            }
        }
    }

    /// The media type, as HTTP names it.
    pub fn media_type(self) -> &'static str {
        match self {
            Format::Jpeg => "image/jpeg",
            Format::Png => "image/png",
            Format::WebP => "image/webp",
            Format::Tiff => "image/tiff",
            Format::Heif => "image/heic",
            Format::Pdf => "application/pdf",
        }
    }
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Format::Jpeg => "JPEG",
            Format::Png => "PNG",
            Format::WebP => "WebP",
            Format::Tiff => "TIFF",
            Format::Heif => "HEIC",
            Format::Pdf => "PDF",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_format_is_told_by_its_first_bytes() {
        let cases: [(&[u8], &str); 12] = [
            (b"\xff\xd8\xff\xe0", "JPEG"),
            (b"\x89PNG\r\n\x1a\n", "PNG"),
            (b"RIFF\x10\0\0\0WEBPVP8 ", "WebP"),
            (b"II\x2a\0", "TIFF"),
            (b"MM\0\x2a", "TIFF"),
            (b"II\x2b\0\x08\0\0\0", "TIFF"),
            (b"\0\0\0\x18ftypheic\0\0", "HEIC"),
            (b"\0\0\0\x18ftypmif1\0\0", "HEIC"),
            (b"%PDF-1.7\n", "PDF"),
            (b"\r\nsent from the scanner\r\n%PDF-1.4\n", "PDF"),
            (b"\0\0\0\x1cftypavif\0\0", "AVIF files are not read"),
            (b"RIFF\x10\0\0\0WAVEfmt ", "no picture or PDF I can read"),
        ];
        for (bytes, expected) in cases {
            let told = Format::of(bytes).map_or_else(|error| error.to_string(), |format| format.to_string());
            assert!(told.contains(expected), "{told}");
        }
    }
}
