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

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use super::*;
    use crate::document::Document;

    /// A PDF of pages that are 300 by 200 points, each of these operators.
    fn pdf_of(pages: &[&str], of_page: &str) -> Vec<u8> {
        let mut text = String::from("%PDF-1.7\n1 0 obj <</Type/Catalog/Pages 2 0 R>> endobj\n");
        let kids: Vec<String> = (0..pages.len()).map(|i| format!("{} 0 R", 3 + 2 * i)).collect();
        let (kids, count) = (kids.join(" "), pages.len());
        let _ = writeln!(text, "2 0 obj <</Type/Pages/Count {count}/Kids[{kids}]>> endobj");
        for (i, operators) in pages.iter().enumerate() {
            let (page, contents, length) = (3 + 2 * i, 4 + 2 * i, operators.len());
            let _ = writeln!(
                text,
                "{page} 0 obj <</Type/Page/Parent 2 0 R/MediaBox[0 0 300 200]/Contents {contents} 0 R {of_page}>> endobj\n\
                 {contents} 0 obj <</Length {length}>> stream\n{operators}\nendstream endobj"
            );
        }
        text += "trailer <</Root 1 0 R>>\n%%EOF\n";
        text.into_bytes()
    }

    fn page_of(bytes: &[u8], page: usize) -> RgbImage {
        let document = Document::open(bytes, &Limits::default()).unwrap();
        document.page(page).unwrap().pixels().clone()
    }

    /// A black square of 50 points in the page's lower left corner.
    const CORNER: &str = "0 g 0 0 50 50 re f";
    /// A grey picture of 60 x 40 pixels over the whole page, inline.
    fn inline_scan() -> String {
        let samples = "7f".repeat(60 * 40);
        format!("q 300 0 0 200 0 0 cm BI /W 60 /H 40 /CS /G /BPC 8 /F /AHx ID {samples}> EI Q")
    }

    #[test]
    fn a_page_is_drawn_on_white_with_its_long_side_at_the_usual_length() {
        let picture = page_of(&pdf_of(&[CORNER], ""), 0);
        assert_eq!(picture.dimensions(), (2800, 1867));
        assert_eq!(picture.get_pixel(233, 1867 - 233).0, [0; 3]);
        assert_eq!(picture.get_pixel(500, 1867 - 233).0, [255; 3]);
        assert_eq!(picture.get_pixel(233, 1867 - 500).0, [255; 3]);
    }

    /// ISO 32000, table 31: degrees clockwise.
    #[test]
    fn a_page_is_turned_as_it_says() {
        for (turn, size, [x, y]) in [
            (90, (1867, 2800), [100, 100]),
            (180, (2800, 1867), [2700, 100]),
            (270, (1867, 2800), [1767, 2700]),
        ] {
            let picture = page_of(&pdf_of(&[CORNER], &format!("/Rotate {turn}")), 0);
            assert_eq!(picture.dimensions(), size, "{turn}");
            assert_eq!(picture.get_pixel(x, y).0, [0; 3], "{turn}");
        }
    }

    #[test]
    fn a_page_that_is_one_scan_has_the_scans_own_pixels() {
        let scan = inline_scan()
            .replace("/W 60 /H 40", "/W 300 /H 200")
            .replace(&"7f".repeat(60 * 40), &"7f".repeat(300 * 200));
        let picture = page_of(&pdf_of(&[&scan], ""), 0);
        assert_eq!(picture.dimensions(), (300, 200));
        assert_eq!(picture.get_pixel(150, 100).0, [0x7f; 3]);
        // A line over it, and it is a drawing.
        let drawn = page_of(&pdf_of(&[&format!("{scan} 0 0 m 300 200 l S")], ""), 0);
        assert_eq!(drawn.dimensions(), (2800, 1867));
    }

    #[test]
    fn pages_are_counted_and_told_apart() {
        let bytes = pdf_of(&["", CORNER, ""], "");
        let document = Document::open(&bytes, &Limits::default()).unwrap();
        assert_eq!((document.format(), document.pages()), (Format::Pdf, 3));
        let dark = |page| page_of(&bytes, page).pixels().any(|pixel| pixel.0[0] < 100);
        assert_eq!([dark(0), dark(1), dark(2)], [false, true, false]);
    }

    fn check(bytes: &[u8], message: &str) {
        let error = Document::open(bytes, &Limits::default()).and_then(|d| d.page(0)).expect_err(message);
        assert!(error.to_string().contains(message), "{error}, not {message}");
    }

    #[test]
    fn pdfs_that_cannot_be_read_are_refused_with_what_to_do() {
        check(b"%PDF-1.7", "this PDF could not be read: save it again as PDF, or send a photo");
        check(&pdf_of(&[], ""), "this PDF has no page that can be shown");
        let tiny = inline_scan().replace("300 0 0 200", "299 0 0 200");
        check(&pdf_of(&[&tiny], ""), "only 60 x 40 pixels");
        let huge = "q 300 0 0 200 0 0 cm BI /W 30000 /H 30000 /CS /G /BPC 8 ID 0 EI Q";
        check(&pdf_of(&[huge], ""), "30000 x 30000 pixels, over the limit of 64 megapixels");
        let many = pdf_of(&["", "", ""], "");
        let error = Document::open(&many, &Limits { pages: 2, ..Limits::default() }).err().unwrap();
        assert_eq!(error, CaptureError::TooManyPages { limit: 2 });
    }

    /// Brackets within brackets, dictionaries within dictionaries, and a
    /// form that draws itself: each has filled a reader's stack before.
    #[test]
    fn deep_nesting_ends_in_a_page_or_a_sentence() {
        let brackets = "[".repeat(100_000);
        let dictionaries = "<</A".repeat(100_000);
        let states = "q ".repeat(100_000);
        for operators in [&brackets, &dictionaries, &states] {
            let bytes = pdf_of(&[operators], "");
            let _ = Document::open(&bytes, &Limits::default()).map(|document| document.page(0));
            let bytes = pdf_of(&[CORNER], &format!("/Resources {operators}"));
            let _ = Document::open(&bytes, &Limits::default()).map(|document| document.page(0));
        }
        let form = "/Resources<</XObject<</F 9 0 R>>>>";
        let mut bytes = pdf_of(&["/F Do"], form);
        let itself = format!(
            "9 0 obj <</Type/XObject/Subtype/Form/BBox[0 0 300 200]{form}/Length 5>> stream\n/F Do\nendstream endobj\n"
        );
        let at = bytes.len() - b"trailer <</Root 1 0 R>>\n%%EOF\n".len();
        bytes.splice(at..at, itself.into_bytes());
        assert_eq!(page_of(&bytes, 0).dimensions(), (2800, 1867));
    }
}
