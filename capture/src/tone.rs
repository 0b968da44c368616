//! Stage 2: the light divided out. What is left is how much darker each pixel
//! is than the paper around it, in natural-log units (0.1 is about a tenth
//! darker), whatever the lamp, shadow or vignette.
//! Method: the paper's brightness is the morphological closing of the log
//! picture, blurred (background division; Soille, "Morphological Image
//! Analysis", ch. 4 on top-hats); dividing is subtracting logs. Per colour
//! channel, then half the mean plus half the largest, so that a coloured pen
//! keeps its contrast.

use image::RgbImage;

use crate::raster::Plane;

/// Darkness relative to the paper around each pixel.
///
/// `reach_px`: strokes up to twice this wide count as ink, not as paper.
pub(crate) fn darkness(picture: &RgbImage, reach_px: usize) -> Plane {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    // Black is not minus infinity: a sensor's black is about 2 of 255.
    let log: Vec<f32> = (0..256u16).map(|v| ((f32::from(v) + 2.0) / 257.0).ln()).collect();
    let mut mean = Plane::new(width, height, 0.0);
    let mut most = Plane::new(width, height, 0.0);
    let mut channel = Plane::new(width, height, 0.0);
    for c in 0..3 {
        for (to, from) in channel.data.iter_mut().zip(picture.pixels()) {
            *to = log[usize::from(from.0[c])];
        }
        let paper = paper_level(&channel, reach_px);
        for (((mean, most), paper), value) in
            mean.data.iter_mut().zip(&mut most.data).zip(&paper.data).zip(&channel.data)
        {
            let darker = (paper - value).max(0.0);
            *mean += darker / 3.0;
            *most = most.max(darker);
        }
    }
    for (mean, most) in mean.data.iter_mut().zip(&most.data) {
        *mean = 0.5 * *mean + 0.5 * most;
    }
    mean
}

/// Brightness as natural logs, a little blurred.
pub(crate) fn log_light(picture: &RgbImage) -> Plane {
    let mut light = Plane::new(picture.width() as usize, picture.height() as usize, 0.0);
    for (to, from) in light.data.iter_mut().zip(picture.pixels()) {
        let [r, g, b] = from.0.map(f32::from);
        *to = ((r + 2.0 * g + b) / 4.0 + 2.0).ln();
    }
    light.blurred(1.0)
}

/// The paper's own level, found at half the resolution: light changes slowly.
fn paper_level(channel: &Plane, reach_px: usize) -> Plane {
    let (width, height) = (channel.width.div_ceil(2), channel.height.div_ceil(2));
    let mut half = Plane::new(width, height, 0.0);
    for y in 0..height {
        for x in 0..width {
            let (x1, y1) = ((2 * x + 1).min(channel.width - 1), (2 * y + 1).min(channel.height - 1));
            // The brightest of the four: thin strokes vanish a little sooner.
            half.data[y * width + x] = channel
                .at(2 * x, 2 * y)
                .max(channel.at(x1, 2 * y))
                .max(channel.at(2 * x, y1))
                .max(channel.at(x1, y1));
        }
    }
    let radius = (reach_px / 2).max(1);
    let closed = half.dilated(radius).eroded(radius).blurred(radius as f32 / 2.0);
    let mut out = Plane::new(channel.width, channel.height, 0.0);
    for y in 0..channel.height {
        let row = &mut out.data[y * channel.width..(y + 1) * channel.width];
        for (x, value) in row.iter_mut().enumerate() {
            *value = closed.at(x / 2, y / 2);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_stroke_is_as_dark_in_shadow_as_in_light() {
        // Light falls off from left to right; two strokes halve it.
        let picture = RgbImage::from_fn(200, 60, |x, _| {
            let light = 240.0 - 0.7 * f64::from(x);
            let grey = if x % 100 == 50 || x % 100 == 51 { light / 2.0 } else { light };
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 50 and 240")]
            Rgb([grey as u8; 3])
        });
        let dark = darkness(&picture, 12);
        let (lit, shaded) = (dark.at(50, 30), dark.at(150, 30));
        assert!((lit - 0.69).abs() < 0.1 && (shaded - 0.69).abs() < 0.1, "{lit} {shaded}");
        assert!(dark.at(100, 30) < 0.05, "{}", dark.at(100, 30));
    }
}
