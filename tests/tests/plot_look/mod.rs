//! Pictures compared as eyes do.
//!
//! Both pictures are made a third as large and blurred, so that the edges of letters and lines do not
//! count, then compared in CIE 1976 L*a*b* (ISO/CIE 11664-4, white D65) from sRGB (IEC 61966-2-1): the
//! difference is the distance there, delta E*ab. About 2.3 is just noticeable (Mahy and others 1994,
//! from memory).

/// So many pixels of a picture are one of its reference, in each direction.
const SHRINK: usize = 3;

/// A picture in RGB bytes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Picture {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) pixels: Vec<[u8; 3]>,
}

/// How far two pictures are apart, in delta E*ab.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Apart {
    pub(crate) mean: f64,
    pub(crate) max: f64,
    /// Where that is, in pixels of the reference.
    pub(crate) at: (usize, usize),
}

impl Picture {
    pub(crate) fn decode(bytes: &[u8]) -> Self {
        let mut decoder = ::png::Decoder::new(std::io::Cursor::new(bytes));
        decoder.set_transformations(::png::Transformations::EXPAND);
        let mut reader = decoder.read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        assert_eq!(info.color_type, ::png::ColorType::Rgb);
        let pixels = pixels[..info.buffer_size()].chunks_exact(3).map(|p| [p[0], p[1], p[2]]);
        let (width, height) = (info.width as usize, info.height as usize);
        Self { width, height, pixels: pixels.collect() }
    }

    /// As it is kept for reference: the mean of squares of pixels, in 32 levels of each colour.
    pub(crate) fn reference(&self) -> Self {
        let (width, height) = (self.width / SHRINK, self.height / SHRINK);
        let mean = |i: usize, channel: usize| {
            let (x0, y0) = (i % width * SHRINK, i / width * SHRINK);
            let square = (0..SHRINK * SHRINK).map(|k| (x0 + k % SHRINK, y0 + k / SHRINK));
            let sum: usize =
                square.map(|(x, y)| usize::from(self.pixels[y * self.width + x][channel])).sum();
            let level = (sum * 31 + SHRINK * SHRINK * 255 / 2) / (SHRINK * SHRINK * 255);
            u8::try_from(level * 255 / 31).unwrap()
        };
        let pixels = (0..width * height).map(|i| [mean(i, 0), mean(i, 1), mean(i, 2)]);
        Self { width, height, pixels: pixels.collect() }
    }

    /// With at most 256 colours: the 96 most frequent ones, which are those of areas, and others that are
    /// as far apart as need be, so that every colour has one near to it.
    pub(crate) fn encode(&self) -> Vec<u8> {
        let mut counts = std::collections::BTreeMap::new();
        for pixel in &self.pixels {
            *counts.entry(*pixel).or_insert(0_usize) += 1;
        }
        let mut colors: Vec<[u8; 3]> = counts.keys().copied().collect();
        colors.sort_by_key(|pixel| std::cmp::Reverse(counts[pixel]));
        let distance = |a: &[u8; 3], b: &[u8; 3]| -> u32 {
            a.iter().zip(b).map(|(a, b)| u32::from(a.abs_diff(*b)).pow(2)).sum()
        };
        let chosen = |apart: u32| {
            let mut palette: Vec<[u8; 3]> = Vec::new();
            for color in &colors {
                let is_far = palette.iter().all(|p| distance(p, color) > apart * apart);
                if palette.len() < 96 || is_far {
                    palette.push(*color);
                }
            }
            palette
        };
        let mut palettes = (0..).step_by(4).map(chosen);
        let palette = palettes.find(|palette| palette.len() <= 256).unwrap();
        let nearest = |pixel: &[u8; 3]| {
            let places = palette.iter().enumerate();
            places.min_by_key(|(_, p)| distance(p, pixel)).unwrap().0 as u8
        };
        let places: std::collections::BTreeMap<_, u8> =
            counts.keys().map(|pixel| (*pixel, nearest(pixel))).collect();
        let indices: Vec<u8> = self.pixels.iter().map(|pixel| places[pixel]).collect();
        let mut bytes = Vec::new();
        let mut encoder = ::png::Encoder::new(&mut bytes, self.width as u32, self.height as u32);
        encoder.set_color(::png::ColorType::Indexed);
        encoder.set_depth(::png::BitDepth::Eight);
        encoder.set_palette(palette.concat());
        encoder.set_compression(::png::Compression::High);
        let mut writer = encoder.write_header().unwrap();
        writer.write_image_data(&indices).unwrap();
        writer.finish().unwrap();
        bytes
    }

    /// How far apart two references are.
    pub(crate) fn apart(&self, other: &Self) -> Apart {
        assert_eq!((self.width, self.height), (other.width, other.height), "not of one size");
        let (a, b) = (self.blurred(), other.blurred());
        let differences = a
            .iter()
            .zip(&b)
            .map(|(a, b)| a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt());
        let mut apart = Apart { mean: 0.0, max: 0.0, at: (0, 0) };
        for (i, difference) in differences.enumerate() {
            apart.mean += difference / a.len() as f64;
            if difference > apart.max {
                (apart.max, apart.at) = (difference, (i % self.width, i / self.width));
            }
        }
        apart
    }

    /// In L*a*b*, each pixel the mean of the nine around it.
    fn blurred(&self) -> Vec<[f64; 3]> {
        let labs: Vec<[f64; 3]> = self.pixels.iter().map(|pixel| lab(*pixel)).collect();
        let (width, height) = (self.width, self.height);
        let around = |i: usize, channel: usize| {
            let (x, y) = (i % width, i / width);
            let xs = x.saturating_sub(1)..=(x + 1).min(width - 1);
            let ys = y.saturating_sub(1)..=(y + 1).min(height - 1);
            let count = (xs.clone().count() * ys.clone().count()) as f64;
            ys.flat_map(|y| xs.clone().map(move |x| y * width + x))
                .map(|at| labs[at][channel])
                .sum::<f64>()
                / count
        };
        (0..labs.len()).map(|i| [around(i, 0), around(i, 1), around(i, 2)]).collect()
    }
}

/// L*, a* and b* of an sRGB colour.
pub(crate) fn lab(rgb: [u8; 3]) -> [f64; 3] {
    // IEC 61966-2-1.
    let linear = rgb.map(|byte| {
        let c = f64::from(byte) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    });
    let row = |m: [f64; 3]| m.iter().zip(linear).map(|(m, c)| m * c).sum::<f64>();
    let xyz = [
        row([0.4124, 0.3576, 0.1805]) / 0.9505,
        row([0.2126, 0.7152, 0.0722]),
        row([0.0193, 0.1192, 0.9505]) / 1.0890,
    ];
    // ISO/CIE 11664-4.
    let f = xyz.map(|t| {
        let low = 6.0_f64 / 29.0;
        if t > low.powi(3) { t.cbrt() } else { t / (3.0 * low * low) + 4.0 / 29.0 }
    });
    [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
}
