//! The letters of which a chart in a terminal is made: those of Unicode, or of ASCII alone.

use crate::assess::Outcome;

/// A set of signs, each one column wide.
#[derive(Clone, Copy, Debug)]
pub(super) struct Signs {
    /// Dots in a cell, side by side.
    pub(super) dots_across: usize,
    /// Dots in a cell, one above the other.
    pub(super) dots_down: usize,
    /// Left edge of a panel, at a value, and elsewhere.
    pub(super) edge_mark: char,
    pub(super) edge: char,
    /// The time axis, and a mark of it.
    pub(super) axis: char,
    pub(super) axis_mark: char,
    pub(super) corner: char,
    /// A limit.
    pub(super) limit: char,
    /// No log.
    pub(super) gap: char,
    /// Something was done; the time asked about.
    pub(super) milestone: char,
    pub(super) asked: char,
    /// A limit was broken.
    pub(super) broken: char,
    met: char,
    not_met: char,
    no_evidence: char,
    is_ascii: bool,
}

/// For terminals that show Unicode.
pub(super) const UTF8: Signs = Signs {
    dots_across: 2,
    dots_down: 4,
    edge_mark: '┤',
    edge: '│',
    axis: '─',
    axis_mark: '┬',
    corner: '└',
    limit: '╌',
    gap: '░',
    milestone: '┊',
    asked: '│',
    broken: '█',
    met: '─',
    not_met: '▒',
    no_evidence: '·',
    is_ascii: false,
};

/// For all others.
pub(super) const ASCII: Signs = Signs {
    dots_across: 1,
    dots_down: 3,
    edge_mark: '+',
    edge: '|',
    axis: '-',
    axis_mark: '+',
    corner: '+',
    limit: '~',
    gap: '/',
    milestone: ':',
    asked: '!',
    broken: '#',
    met: '=',
    not_met: 'x',
    no_evidence: '.',
    is_ascii: true,
};

impl Signs {
    /// The bit of a dot.
    pub(super) fn bit(&self, x: usize, y: usize) -> u8 {
        if self.is_ascii {
            return 1 << y.min(2);
        }
        match (x, y) {
            (0, 3) => 0x40,
            (_, 3) => 0x80,
            (0, y) => 1 << y.min(2),
            (_, y) => 8 << y.min(2),
        }
    }

    /// The sign for the dots of a cell.
    pub(super) fn of_dots(&self, dots: u8) -> char {
        if !self.is_ascii {
            return char::from_u32(0x2800 + u32::from(dots)).unwrap_or(' ');
        }
        match dots {
            0 => ' ',
            1 => '\'',
            2 => '-',
            4 => '.',
            _ => '|',
        }
    }

    /// The sign for an outcome in a strip.
    pub(super) fn outcome(&self, outcome: Outcome) -> char {
        match outcome {
            Outcome::Met => self.met,
            Outcome::NotMet => self.not_met,
            Outcome::NoEvidence => self.no_evidence,
        }
    }

    /// A text in the letters that there are; in ASCII, a letter that is none becomes `?`.
    pub(super) fn text(&self, text: &str) -> String {
        if !self.is_ascii {
            return text.chars().filter(|c| !c.is_control()).collect();
        }
        let mut plain = String::with_capacity(text.len());
        for c in text.chars() {
            match c {
                '°' => {}
                '\u{2212}' | '–' | '—' => plain.push('-'),
                '\u{a0}' => plain.push(' '),
                '…' => plain.push_str("..."),
                '²' => plain.push('2'),
                '±' => plain.push_str("+-"),
                '·' => plain.push('*'),
                c if c.is_ascii() && !c.is_ascii_control() => plain.push(c),
                c if c.is_control() => {}
                _ => plain.push('?'),
            }
        }
        plain
    }
}
