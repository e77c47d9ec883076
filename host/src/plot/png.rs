//! The picture as pixels, and as a PNG file.

use super::PlotError;
use super::canvas::{Canvas, Target};
use super::font;
use plotters::prelude::BitMapBackend;

/// Drawn so many times larger, then averaged: smooth lines, and text on fractions of a pixel.
const SCALE: u32 = 2;

/// Draws and encodes.
///
/// # Errors
/// [`PlotError::Draw`] or [`PlotError::Png`].
pub(super) fn encode(canvas: &Canvas, width: u32, height: u32) -> Result<Vec<u8>, PlotError> {
    let large = draw(canvas, width * SCALE, height * SCALE)?;
    let pixels = shrink(&large, width);
    let mut bytes = Vec::new();
    let mut encoder = ::png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(::png::ColorType::Rgb);
    encoder.set_depth(::png::BitDepth::Eight);
    // The usual level takes a sixth of the time of a long chart, the fastest makes files over twice as
    // large.
    encoder.set_deflate_compression(::png::DeflateCompression::Level(2));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&pixels)?;
    writer.finish()?;
    Ok(bytes)
}

fn draw(canvas: &Canvas, width: u32, height: u32) -> Result<Vec<u8>, PlotError> {
    let refused = |error: &dyn std::fmt::Display| PlotError::Draw(error.to_string());
    let area = usize::try_from(width).ok().zip(usize::try_from(height).ok());
    let len = area.and_then(|(w, h)| w.checked_mul(h)?.checked_mul(3));
    let mut pixels = vec![0; len.ok_or_else(|| refused(&"the picture is too large"))?];
    let mut backend = BitMapBackend::with_buffer(&mut pixels, (width, height));
    // The backend takes the baseline to be half the height of the font below the top.
    let baseline_em = font::HEIGHT_EM / 2.0;
    let target = Target { scale: f64::from(SCALE), baseline_em, brush: true };
    canvas.play(&mut backend, target)?;
    drop(backend);
    Ok(pixels)
}

/// Averages squares of `SCALE` by `SCALE` pixels.
fn shrink(large: &[u8], width: u32) -> Vec<u8> {
    let scale = SCALE as usize;
    let row_len = width as usize * scale * 3;
    let mut small = Vec::with_capacity(large.len() / (scale * scale));
    let mut sums = vec![0_u32; width as usize * 3];
    for rows in large.chunks_exact(row_len * scale) {
        sums.fill(0);
        for row in rows.chunks_exact(row_len) {
            for (square, sum) in row.chunks_exact(scale * 3).zip(sums.chunks_exact_mut(3)) {
                for pixel in square.chunks_exact(3) {
                    for (sum, byte) in sum.iter_mut().zip(pixel) {
                        *sum += u32::from(*byte);
                    }
                }
            }
        }
        // A mean of bytes is a byte.
        small.extend(sums.iter().map(|sum| u8::try_from(sum / (SCALE * SCALE)).unwrap_or(u8::MAX)));
    }
    small
}
