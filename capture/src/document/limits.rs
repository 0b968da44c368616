//! What a file may cost before it is refused.

use crate::error::CaptureError;

/// What a file may cost before it is refused. All of it is checked on
/// headers, before anything is decoded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of a file, in millions: 200. A notebook of 200 pages
    /// scanned in colour stays below.
    pub megabytes: u32,
    /// Most pages of a document. 200 is more than any notebook has.
    pub pages: usize,
    /// Most pixels of a page, in millions. 64 covers every phone of
    /// today at its ordinary setting; decoding that takes 200 MB.
    pub megapixels: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Limits { megabytes: 200, pages: 200, megapixels: 64 }
    }
}

/// Shortest side of a picture that is looked at, in pixels.
const SHORTEST_SIDE_PX: u32 = 200;

impl Limits {
    /// Refuses a file that is too long.
    pub(super) fn check_bytes(&self, bytes: usize) -> Result<(), CaptureError> {
        if bytes as u64 > u64::from(self.megabytes) * 1_000_000 {
            let megabytes = bytes.div_ceil(1_000_000);
            return Err(CaptureError::TooManyBytes { megabytes, limit_megabytes: self.megabytes });
        }
        Ok(())
    }

    /// Refuses a document of too many pages.
    pub(super) fn check_pages(&self, pages: usize) -> Result<(), CaptureError> {
        if pages > self.pages {
            return Err(CaptureError::TooManyPages { limit: self.pages });
        }
        Ok(())
    }

    /// Refuses a page of too many pixels to decode, or too few to see.
    pub(super) fn check_size(&self, width: u32, height: u32) -> Result<(), CaptureError> {
        self.check_pixels(width, height)?;
        if width.min(height) < SHORTEST_SIDE_PX {
            return Err(CaptureError::TooSmall { width, height });
        }
        Ok(())
    }

    /// Refuses a picture, also one on a page, of too many pixels to decode.
    pub(super) fn check_pixels(&self, width: u32, height: u32) -> Result<(), CaptureError> {
        if u64::from(width) * u64::from(height) > self.pixels() {
            return Err(CaptureError::TooManyPixels { width, height, limit_megapixels: self.megapixels });
        }
        Ok(())
    }

    /// Most pixels of a page.
    pub(super) fn pixels(&self) -> u64 {
        u64::from(self.megapixels) * 1_000_000
    }

    /// Most bytes that a decoder may take for one page: eight a pixel (four
    /// samples of 16 bits), and 64 MiB of tables.
    pub(super) fn decoder_bytes(&self) -> u64 {
        self.pixels() * 8 + (64 << 20)
    }
}
