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
                met: RGBColor(0x3b, 0x5a, 0x74),
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
