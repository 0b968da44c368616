//! PDF (ISO 32000): every page becomes a picture, turned as its `/Rotate`
//! says, on white. The crate `hayro` draws. How large the picture gets is
//! decided by looking at what the page paints ([`Survey`]): a page that is
//! one scanned picture and nothing else is drawn at the scan's own
//! resolution, any other so that its long side is [`LONG_SIDE_PX`].
//!
//! What the guard cannot catch here: a page that paints for hours (patterns
//! within patterns), streams that unpack to gigabytes, and pictures whose
//! own header says more than the PDF does. Stacks run full only beyond the
//! depth of [`guard::run_deep`](super::guard::run_deep).

use hayro::hayro_interpret::font::GlyphRun;
use hayro::hayro_interpret::{
    BlendMode, ClipPath, Context, Device, DrawMode, DrawProps, Image, ImageDrawProps, InterpreterCache,
    InterpreterSettings, SoftMask, TransformExt, interpret_page,
};
use hayro::hayro_syntax::page::Page;
use hayro::hayro_syntax::{DecryptionError, LoadPdfError, Pdf};
use hayro::kurbo::{Affine, BezPath, Rect};
use hayro::vello_cpu::color::palette::css::WHITE;
use hayro::vello_cpu::{Pixmap, RasterizerSettings, RenderContext, Resources, TargetInit};
use hayro::{RenderCache, RenderSettings, render_into};
use image::RgbImage;

use super::{Format, Limits};
use crate::error::CaptureError;
use crate::photo::Photo;

/// Long side of a drawn page: 250 pixels to an inch of a letter page, twice
/// what is needed to tell an eighth on a card that fills a quarter of it.
const LONG_SIDE_PX: f64 = 2800.0;
/// Longest side of a page that is a scan: 360 to an inch of a letter page.
/// Finer scans show the paper's fibres and no better lines.
const LONGEST_SCAN_PX: f64 = 4000.0;
/// Share of the page that a scan covers at least: scanners and printers
/// leave a margin.
const SCAN_COVERS: f64 = 0.8;

/// The pages of a PDF.
pub(super) struct Pages {
    pdf: Pdf,
}

impl Pages {
    /// Reads the tree of pages; draws nothing.
    pub(super) fn of(bytes: &[u8], limits: &Limits) -> Result<Pages, CaptureError> {
        let pdf = Pdf::new(bytes.to_vec()).map_err(|error| match error {
            LoadPdfError::Decryption(DecryptionError::PasswordProtected) => CaptureError::Locked(Format::Pdf),
            LoadPdfError::Decryption(_) => CaptureError::UnsupportedKind {
                format: Format::Pdf,
                what: "an encryption that is not known".to_owned(),
            },
            LoadPdfError::Invalid => CaptureError::Unreadable(Format::Pdf),
        })?;
        limits.check_pages(pdf.pages().len())?;
        if pdf.pages().is_empty() {
            return Err(CaptureError::NoPages(Format::Pdf));
        }
        Ok(Pages { pdf })
    }

    pub(super) fn count(&self) -> usize {
        self.pdf.pages().len()
    }

    /// Draws one page. What it takes to do so is dropped with it.
    pub(super) fn draw(&self, index: usize, limits: &Limits) -> Result<Photo, CaptureError> {
        let pages = self.pdf.pages();
        let page = pages
            .get(index)
            .ok_or(CaptureError::NoSuchPage { page: index.saturating_add(1), pages: pages.len() })?;
        let (width_pt, height_pt) = page.render_dimensions();
        let (width_pt, height_pt) = (f64::from(width_pt), f64::from(height_pt));
        let cache = RenderCache::new();
        let long_side_px = match Survey::of(page).scan(width_pt, height_pt, limits)? {
            Some(px_per_pt) => (width_pt.max(height_pt) * px_per_pt).min(LONGEST_SCAN_PX),
            None => LONG_SIDE_PX,
        };
        let scale = long_side_px / width_pt.max(height_pt);
        let (width, height) = (side_px(width_pt * scale), side_px(height_pt * scale));
        limits.check_size(width.into(), height.into())?;

        let mut context = RenderContext::new(width, height);
        // Whole pixels: the page is stretched by less than one.
        let fit = Affine::scale_non_uniform(f64::from(width) / width_pt, f64::from(height) / height_pt);
        let transform = fit * upright(page);
        render_into(
            page,
            &cache,
            &InterpreterSettings::default(),
            &RenderSettings::default(),
            &mut context,
            transform,
        );
        context.flush();
        let mut picture = Pixmap::new(width, height);
        let on_white =
            RasterizerSettings { target_init: TargetInit::Clear(WHITE), ..RasterizerSettings::default() };
        context.render_with(&mut picture, &mut Resources::default(), on_white);
        drop(context);

        let mut pixels = RgbImage::new(width.into(), height.into());
        for (to, from) in pixels.pixels_mut().zip(picture.data()) {
            to.0 = [from.r, from.g, from.b];
        }
        Ok(Photo::from_pixels(pixels))
    }
}

/// From the page's points to the picture's at one pixel a point, turned as
/// the page says.
fn upright(page: &Page) -> Affine {
    page.initial_transform(true).to_kurbo()
}

/// A side of the picture; at least a pixel, so that it can be refused as too small.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the type's range")]
fn side_px(side: f64) -> u16 {
    side.round().clamp(1.0, f64::from(u16::MAX)) as u16
}

/// What a page paints, without painting it.
#[derive(Default)]
struct Survey {
    pictures: Vec<Picture>,
    /// Anything that is seen besides pictures.
    drawing: bool,
}

impl Survey {
    fn of(page: &Page) -> Survey {
        let (width, height) = page.render_dimensions();
        let mut survey = Survey::default();
        let cache = InterpreterCache::new();
        let area = Rect::new(0.0, 0.0, width.into(), height.into());
        let settings = InterpreterSettings::default();
        let mut context = Context::new(upright(page), area, &cache, page.xref(), settings);
        interpret_page(page, &mut context, &mut survey);
        survey
    }

    /// The resolution of a page of these points that is only a scan, in
    /// pixels a point; of one in strips or layers that of the finest.
    fn scan(&self, width_pt: f64, height_pt: f64, limits: &Limits) -> Result<Option<f64>, CaptureError> {
        for &Picture { width, height, .. } in &self.pictures {
            limits.check_pixels(width, height)?;
        }
        let covered: f64 = self.pictures.iter().map(Picture::area_pt).sum();
        if self.drawing || covered < SCAN_COVERS * width_pt * height_pt {
            return Ok(None);
        }
        Ok(self.pictures.iter().map(Picture::px_per_pt).max_by(f64::total_cmp))
    }
}

/// A picture on a page.
struct Picture {
    /// Its own width, pixels.
    width: u32,
    /// Its own height, pixels.
    height: u32,
    /// From its pixels to the page's points.
    place: Affine,
}

impl Picture {
    /// What it covers of the page, square points.
    fn area_pt(&self) -> f64 {
        self.place.determinant().abs() * f64::from(self.width) * f64::from(self.height)
    }

    /// Pixels to a point, along the finer of its sides.
    fn px_per_pt(&self) -> f64 {
        let [a, b, c, d, _, _] = self.place.as_coeffs();
        1.0 / a.hypot(b).min(c.hypot(d)).max(f64::EPSILON)
    }
}

impl Device<'_> for Survey {
    fn draw_path(&mut self, _: &BezPath, _: DrawProps<'_>, mode: &DrawMode) {
        self.drawing |= !matches!(mode, DrawMode::Invisible);
    }
    fn draw_glyph_run(&mut self, _: &GlyphRun<'_, '_>, _: DrawProps<'_>, mode: &DrawMode) {
        // A scanner that reads lays its words invisibly over the picture.
        self.drawing |= !matches!(mode, DrawMode::Invisible);
    }
    fn draw_image(&mut self, image: Image<'_, '_>, props: ImageDrawProps<'_>) {
        let (width, height) = (image.width(), image.height());
        self.pictures.push(Picture { width, height, place: props.transform });
    }
    fn push_clip_path(&mut self, _: &ClipPath) {}
    fn push_transparency_group(&mut self, _: f32, _: Option<SoftMask<'_>>, _: BlendMode) {}
    fn pop_clip(&mut self) {}
    fn pop_transparency_group(&mut self) {}
}
