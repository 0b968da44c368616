//! HEIF with HEVC pictures, as phones write it (ISO/IEC 23008-12). The first
//! page is the primary picture, then come the other pictures that are meant
//! to be seen; thumbnails, tiles and depth maps are none. The container says
//! how a picture is cropped, turned and mirrored (`clap`, `irot`, `imir`) and
//! the decoder does so; the EXIF orientation that stands in the file as well
//! tells what was done, and is not applied again.

use heifer::heifer_isobmff::{self, HeifFile, ItemId};
use image::RgbaImage;

use super::{Format, Limits};
use crate::error::CaptureError;
use crate::photo::{Photo, rgba_on_white};

/// The pictures of a HEIF file.
pub(super) struct Pages<'a> {
    bytes: &'a [u8],
    pictures: Vec<ItemId>,
}

impl<'a> Pages<'a> {
    /// Reads the container; decodes nothing.
    pub(super) fn of(bytes: &'a [u8], limits: &Limits) -> Result<Pages<'a>, CaptureError> {
        let file = HeifFile::parse(bytes).map_err(broken)?;
        let mut pictures = file.top_level_image_ids();
        limits.check_pages(pictures.len())?;
        if let Some(primary) = pictures.iter().position(|id| *id == file.primary_id) {
            pictures[..=primary].rotate_right(1);
        }
        if pictures.is_empty() {
            return Err(CaptureError::NoPages(Format::Heif));
        }
        Ok(Pages { bytes, pictures })
    }

    pub(super) fn count(&self) -> usize {
        self.pictures.len()
    }

    /// Decodes one picture, after its header was held against the limits.
    pub(super) fn decode(&self, page: usize, limits: &Limits) -> Result<Photo, CaptureError> {
        let no_page =
            || CaptureError::NoSuchPage { page: page.saturating_add(1), pages: self.pictures.len() };
        let id = *self.pictures.get(page).ok_or_else(no_page)?;
        let file = HeifFile::parse(self.bytes).map_err(broken)?;
        if let Some((width, height)) = file.image_size(id).map_err(broken)? {
            limits.check_size(width, height)?;
        }
        let rgba = if id == file.primary_id {
            let options = heifer::Options { max_pixels: limits.pixels(), ..heifer::Options::default() };
            let picture = heifer::decode_rgba8(self.bytes, &options).map_err(fault)?;
            RgbaImage::from_raw(picture.width, picture.height, picture.data)
        } else {
            let picture = heifer::decode_item(&file, id, 0).map_err(fault)?;
            RgbaImage::from_raw(picture.width, picture.height, picture.to_rgba8())
        };
        let rgba =
            rgba.ok_or_else(|| CaptureError::Damaged("it has fewer pixels than it says".to_owned()))?;
        // What the container crops it to.
        limits.check_size(rgba.width(), rgba.height())?;
        Ok(Photo::from_pixels(rgba_on_white(&rgba)))
    }
}

#[expect(clippy::needless_pass_by_value, reason = "it stands in `map_err`")]
fn broken(error: heifer_isobmff::Error) -> CaptureError {
    CaptureError::Damaged(error.to_string())
}

/// What the decoder's fault means to the person who has the file.
fn fault(error: heifer::Error) -> CaptureError {
    use heifer::heifer_hevc_dec::Error::Unimplemented;
    let what = match error {
        heifer::Error::Unsupported(what) => what,
        heifer::Error::Hevc(Unimplemented(what)) => what.to_owned(),
        other => return CaptureError::Damaged(other.to_string()),
    };
    CaptureError::UnsupportedKind { format: Format::Heif, what }
}
