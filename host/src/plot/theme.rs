//! Colours and line styles: told apart without colour, and with any common colour blindness.

use super::canvas::{Pen, Type};
use plotters::prelude::RGBColor;

/// Colours of a picture, and the size of its text.
#[derive(Clone, Copy, Debug)]
pub(super) struct Theme {
    /// Size of one design pixel.
    pub(super) unit: f64,
    pub(super) paper: RGBColor,
    pub(super) panel: RGBColor,
    pub(super) ink: RGBColor,
    pub(super) quiet: RGBColor,
    pub(super) grid: RGBColor,
    pub(super) frame: RGBColor,
    pub(super) band: RGBColor,
    pub(super) gap: RGBColor,
    pub(super) limit: RGBColor,
    pub(super) milestone: RGBColor,
    pub(super) go: RGBColor,
    pub(super) wait: RGBColor,
    pub(super) on_verdict: RGBColor,
    pub(super) broken: RGBColor,
    pub(super) met: RGBColor,
    slab: RGBColor,
    air: RGBColor,
    supply: RGBColor,
    dew: RGBColor,
    rh: RGBColor,
    emc: RGBColor,
}

/// A line of the chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Line {
    Slab,
    Air,
    Supply,
    Dew,
    Rh,
    Emc,
}

impl Theme {
    pub(super) fn new(unit: f64, dark: bool) -> Self {
        if dark {
            return Self {
                unit,
                paper: RGBColor(0x15, 0x18, 0x1c),
                panel: RGBColor(0x1d, 0x21, 0x27),
                ink: RGBColor(0xee, 0xee, 0xea),
                quiet: RGBColor(0xb4, 0xb8, 0xbc),
                grid: RGBColor(0x31, 0x37, 0x3f),
                frame: RGBColor(0x6a, 0x72, 0x7b),
                band: RGBColor(0x2a, 0x3d, 0x4a),
                gap: RGBColor(0x5d, 0x63, 0x6a),
                limit: RGBColor(0xc9, 0xc2, 0xb0),
                milestone: RGBColor(0xd8, 0xd8, 0xd2),
                go: RGBColor(0x2b, 0x6f, 0xb0),
                wait: RGBColor(0xb4, 0x50, 0x12),
                on_verdict: RGBColor(0xff, 0xff, 0xff),
                broken: RGBColor(0xf0, 0x8a, 0x42),
                met: RGBColor(0x36, 0x53, 0x6c),
                slab: RGBColor(0x7c, 0xb7, 0xf2),
                air: RGBColor(0xf2, 0xa6, 0x5a),
                supply: RGBColor(0xe3, 0x8f, 0xc4),
                dew: RGBColor(0x5f, 0xd0, 0xb8),
                rh: RGBColor(0x9f, 0xc9, 0xf5),
                emc: RGBColor(0xd9, 0xb8, 0x6c),
            };
        }
        Self {
            unit,
            paper: RGBColor(0xff, 0xff, 0xff),
            panel: RGBColor(0xfb, 0xfa, 0xf7),
            ink: RGBColor(0x1a, 0x1c, 0x1f),
            quiet: RGBColor(0x55, 0x5a, 0x60),
            grid: RGBColor(0xe2, 0xe1, 0xdc),
            frame: RGBColor(0x8c, 0x90, 0x94),
            band: RGBColor(0xdc, 0xe8, 0xf0),
            gap: RGBColor(0xb2, 0xb2, 0xae),
            limit: RGBColor(0x5b, 0x52, 0x3f),
            milestone: RGBColor(0x3a, 0x3d, 0x42),
            go: RGBColor(0x1d, 0x5c, 0x9c),
            wait: RGBColor(0xa8, 0x46, 0x0a),
            on_verdict: RGBColor(0xff, 0xff, 0xff),
            broken: RGBColor(0xb8, 0x4a, 0x08),
            met: RGBColor(0xb9, 0xd0, 0xe2),
            slab: RGBColor(0x14, 0x50, 0x94),
            air: RGBColor(0xc4, 0x62, 0x10),
            supply: RGBColor(0x92, 0x1f, 0x66),
            dew: RGBColor(0x0a, 0x75, 0x68),
            rh: RGBColor(0x14, 0x50, 0x94),
            emc: RGBColor(0x86, 0x5c, 0x00),
        }
    }

    /// How a line of the chart is drawn.
    pub(super) fn pen(&self, line: Line) -> Pen {
        let (color, width, dash) = match line {
            Line::Slab => (self.slab, 3.0, None),
            Line::Air => (self.air, 1.8, None),
            Line::Supply => (self.supply, 2.0, Some((12.0, 4.0))),
            Line::Dew => (self.dew, 2.5, Some((3.0, 4.0))),
            Line::Rh => (self.rh, 2.5, None),
            Line::Emc => (self.emc, 2.0, Some((8.0, 4.0))),
        };
        let dash = dash.map(|(on, off): (f64, f64)| (on * self.unit, off * self.unit));
        Pen { color, width: width * self.unit, dash }
    }

    /// A plain thin line.
    pub(super) fn thin(&self, color: RGBColor) -> Pen {
        Pen { color, width: self.unit.round().max(1.0), dash: None }
    }

    /// Text of the usual size.
    pub(super) fn body(&self) -> Type {
        Type { em: 17.0 * self.unit, bold: false, color: self.ink }
    }

    /// Text for axes, limits and notes.
    pub(super) fn small(&self) -> Type {
        Type { em: 15.0 * self.unit, bold: false, color: self.quiet }
    }
}

impl Type {
    pub(super) fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    pub(super) fn color(self, color: RGBColor) -> Self {
        Self { color, ..self }
    }

    pub(super) fn times(self, factor: f64) -> Self {
        Self { em: self.em * factor, ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Linear = [f64; 3];

    /// What is left of colours (linear RGB) without one kind of cone: Machado, Oliveira and Fernandes,
    /// "A physiologically-based model for simulation of color vision deficiency", IEEE Transactions
    /// on Visualization and Computer Graphics 15 (6), 2009, severity 1.0. Tables from memory; each
    /// row must leave white as it is.
    const BLINDNESSES: [(&str, [Linear; 3]); 4] = [
        ("none", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protanopia",
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255528, -0.076749, -0.178779],
                [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900],
            ],
        ),
    ];

    /// IEC 61966-2-1.
    fn linear(color: RGBColor) -> Linear {
        [color.0, color.1, color.2].map(|byte| {
            let c = f64::from(byte) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        })
    }

    fn times(matrix: &[Linear; 3], color: Linear) -> Linear {
        matrix.map(|row| row.iter().zip(color).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0))
    }

    /// CIE 1976 L*a*b* (ISO/CIE 11664-4, white D65).
    fn lab(color: Linear) -> [f64; 3] {
        let row = |m: Linear| m.iter().zip(color).map(|(m, c)| m * c).sum::<f64>();
        let xyz = [
            row([0.4124, 0.3576, 0.1805]) / 0.9505,
            row([0.2126, 0.7152, 0.0722]),
            row([0.0193, 0.1192, 0.9505]) / 1.0890,
        ];
        let f = xyz.map(|t: f64| {
            let low = 6.0_f64 / 29.0;
            if t > low.powi(3) { t.cbrt() } else { t / (3.0 * low * low) + 4.0 / 29.0 }
        });
        [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
    }

    /// Delta E*ab.
    fn apart(a: RGBColor, b: RGBColor, blindness: &[Linear; 3]) -> f64 {
        let seen = |color| lab(times(blindness, linear(color)));
        seen(a).iter().zip(seen(b)).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
    }

    /// Contrast ratio of WCAG 2.2.
    fn contrast(a: RGBColor, b: RGBColor) -> f64 {
        let luminance = |color| {
            let [red, green, blue] = linear(color);
            0.2126 * red + 0.7152 * green + 0.0722 * blue
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    fn themes() -> [(&'static str, Theme); 2] {
        [("light", Theme::new(1.0, false)), ("dark", Theme::new(1.0, true))]
    }

    #[test]
    fn white_stays_white_without_a_kind_of_cone() {
        for (name, matrix) in &BLINDNESSES {
            for row in matrix {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{name}: {row:?}");
            }
        }
    }

    /// Lines that can stand in one panel: all temperatures. 20 is some nine times the difference that
    /// is just noticeable. Each pair differs in dash or clearly in width as well, for prints in grey.
    #[test]
    fn lines_of_a_panel_are_told_apart_by_everybody() {
        let lines = [Line::Slab, Line::Air, Line::Supply, Line::Dew];
        for (theme_name, theme) in themes() {
            for (i, a) in lines.into_iter().enumerate() {
                for b in lines.into_iter().skip(i + 1) {
                    let (pen, other) = (theme.pen(a), theme.pen(b));
                    for (name, blindness) in &BLINDNESSES {
                        let apart = apart(pen.color, other.color, blindness);
                        let by_dash = pen.dash != other.dash;
                        assert!(
                            apart >= 20.0 || by_dash,
                            "{theme_name}, {name}: {a:?} and {b:?} are {apart:.1} apart"
                        );
                    }
                    let (thin, thick) = (pen.width.min(other.width), pen.width.max(other.width));
                    assert!(pen.dash != other.dash || thick >= 1.5 * thin, "{a:?} and {b:?}");
                }
            }
        }
    }

    /// WCAG 2.2: 3 to 1 for what carries meaning (1.4.11), 4.5 to 1 for text (1.4.3).
    #[test]
    fn lines_and_letters_stand_out_from_their_ground() {
        for (name, theme) in themes() {
            for line in [Line::Slab, Line::Air, Line::Supply, Line::Dew, Line::Rh, Line::Emc] {
                for ground in [theme.panel, theme.band] {
                    let ratio = contrast(theme.pen(line).color, ground);
                    assert!(ratio >= 3.0, "{name}: {line:?} {ratio:.2}");
                }
            }
            for (text, ground) in [
                (theme.ink, theme.paper),
                (theme.quiet, theme.paper),
                (theme.limit, theme.panel),
                (theme.limit, theme.band),
                (theme.on_verdict, theme.go),
                (theme.on_verdict, theme.wait),
            ] {
                let ratio = contrast(text, ground);
                assert!(ratio >= 4.5, "{name}: {text:?} on {ground:?} {ratio:.2}");
            }
            for (mark, ground) in [(theme.broken, theme.paper), (theme.broken, theme.met)] {
                let ratio = contrast(mark, ground);
                assert!(ratio >= 3.0, "{name}: {mark:?} on {ground:?} {ratio:.2}");
            }
        }
    }
}
