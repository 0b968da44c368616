//! Pages as files. PDF: krilla draws what usvg understands of the SVG, with
//! the fonts it uses inside. SVG: text as outlines, so that it looks the same
//! where the fonts are not at hand. PNG: resvg.

use krilla::Document;
use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
use layout::{PX_PER_IN, escape, tidy};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Tree, WriteOptions};

use super::Page;
use super::fonts::options;

/// Why a page did not become a file. None of it is the maker's fault.
#[derive(Debug, thiserror::Error)]
pub(crate) enum PrintError {
    /// The page is no SVG.
    #[error("a page cannot be drawn: {0}")]
    Svg(#[from] resvg::usvg::Error),
    /// The PDF was not made.
    #[error("the pages make no PDF: {0}")]
    Pdf(String),
    /// The picture was not made.
    #[error("the page makes no picture: {0}")]
    Png(String),
}

/// Points of one inch (ISO 32000: a unit of user space is 1/72 in).
const PT_PER_IN: f64 = 72.0;
/// Longest side of a picture, in pixels.
const LONGEST_PX: f64 = 6000.0;

/// Pages as one PDF.
pub(crate) fn pdf(pages: &[Page], title: &str) -> Result<Vec<u8>, PrintError> {
    let failed = |what: &str| PrintError::Pdf(what.to_owned());
    let mut document = Document::new();
    for page in pages {
        let tree = tree(page)?;
        let [width, height] = page.size_in.map(|side| single(side * PT_PER_IN));
        let size = Size::from_wh(width, height).ok_or_else(|| failed("a page without a size"))?;
        let mut sheet = document.start_page_with(PageSettings::new(size));
        let mut surface = sheet.surface();
        surface
            .draw_svg(&tree, size, SvgSettings::default())
            .ok_or_else(|| failed("a page was not drawn"))?;
        surface.finish();
        sheet.finish();
    }
    let title: String = title.chars().filter(|c| !c.is_control()).collect();
    document
        .set_metadata(Metadata::new().title(title).creator("eighths".to_owned()).language("en".to_owned()));
    document.finish().map_err(|error| PrintError::Pdf(format!("{error:?}")))
}

/// A page as an SVG file whose text is outlines.
pub(crate) fn svg(page: &Page, title: &str) -> Result<String, PrintError> {
    let drawn = tree(page)?.to_string(&WriteOptions { coordinates_precision: 3, ..WriteOptions::default() });
    // The size in inches instead of its own: some programs take pixels for other than 1/96 in.
    let inside = drawn.split_once('>').map_or("", |(_, inside)| inside);
    let [across, down] = page.size_in.map(|side| tidy(side * PX_PER_IN));
    let [width, height] = page.size_in.map(tidy);
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" \
         width=\"{width}in\" height=\"{height}in\" viewBox=\"0 0 {across} {down}\">\n<title>{}</title>{inside}",
        escape(title)
    ))
}

/// A page as a picture.
pub(crate) fn png(page: &Page, px_per_in: f64) -> Result<Vec<u8>, PrintError> {
    let longest = page.size_in[0].max(page.size_in[1]);
    picture_of(&tree(page)?, px_per_in.min(LONGEST_PX / longest) / PX_PER_IN)
}

/// A drawing for the screen as a small picture, so many pixels long.
pub(crate) fn small_png(svg: &str, longest_px: u32) -> Result<Vec<u8>, PrintError> {
    let tree = Tree::from_str(svg, &options())?;
    let longest = tree.size().width().max(tree.size().height());
    picture_of(&tree, f64::from(longest_px) / f64::from(longest))
}

/// What is drawn, `scale` pixels for each of its own.
fn picture_of(tree: &Tree, scale: f64) -> Result<Vec<u8>, PrintError> {
    let failed = |what: &str| PrintError::Png(what.to_owned());
    let [width, height] =
        [tree.size().width(), tree.size().height()].map(|side| pixels(f64::from(side) * scale));
    let mut picture = Pixmap::new(width, height).ok_or_else(|| failed("a page without a size"))?;
    let zoom = single(scale);
    resvg::render(tree, Transform::from_scale(zoom, zoom), &mut picture.as_mut());
    picture.encode_png().map_err(|error| PrintError::Png(error.to_string()))
}

#[expect(clippy::cast_possible_truncation, reason = "sizes of pages need no more digits")]
fn single(value: f64) -> f32 {
    value as f32
}

/// A side of a picture: at least one pixel, at most `LONGEST_PX`.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held within bounds")]
fn pixels(side: f64) -> u32 {
    side.ceil().clamp(1.0, LONGEST_PX) as u32
}

fn tree(page: &Page) -> Result<Tree, PrintError> {
    Ok(Tree::from_str(&page.svg(), &options())?)
}
