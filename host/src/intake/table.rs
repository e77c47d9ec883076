//! Records of a delimited text with the line each starts on.

use csv::{ByteRecord, Reader, ReaderBuilder};

/// A record: its fields, and where it stands in the file.
pub(super) trait Record {
    /// Line on which the record starts, counted from 1.
    fn line(&self) -> u64;

    /// Line on which the record ends: another one only if a quoted field holds a line end.
    fn last_line(&self) -> u64;

    fn len(&self) -> usize;

    /// The field without surrounding blanks.
    fn field(&self, index: usize) -> Option<&[u8]>;

    /// The field as text.
    fn text(&self, index: usize) -> &str {
        self.field(index).and_then(|f| std::str::from_utf8(f).ok()).unwrap_or_default()
    }

    /// Whether no field holds anything.
    #[inline]
    fn is_blank(&self) -> bool {
        self.field(0).is_none_or(<[u8]>::is_empty) && self.is_blank_from(0)
    }

    /// Whether no field from `index` on holds anything.
    fn is_blank_from(&self, index: usize) -> bool {
        (index..self.len()).all(|i| self.field(i).is_none_or(<[u8]>::is_empty))
    }
}

/// Reads record after record; blank lines are passed over.
pub(super) struct Records<'t> {
    text: &'t [u8],
    reader: Reader<&'t [u8]>,
    record: ByteRecord,
    line: u64,
}

impl<'t> Records<'t> {
    pub(super) fn new(text: &'t str, delimiter: u8) -> Self {
        let reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(delimiter)
            .from_reader(text.as_bytes());
        let record = ByteRecord::new();
        Self { text: text.as_bytes(), reader, record, line: 1 }
    }

    /// Goes to the next record; false after the last.
    #[inline]
    pub(super) fn advance(&mut self) -> bool {
        // Reading a slice does not fail, and neither does a record of any length; the reader has no
        // other errors for bytes.
        if !self.reader.read_byte_record(&mut self.record).unwrap_or(false) {
            return false;
        }
        if let Some(position) = self.record.position() {
            // The reader's position is before the line ends that it passed over.
            let start = usize::try_from(position.byte()).unwrap_or(usize::MAX);
            let passed = self.text.get(start..).unwrap_or_default().iter();
            let passed = passed.take_while(|b| matches!(b, b'\r' | b'\n'));
            self.line = position.line() + passed.filter(|b| **b == b'\n').count() as u64;
        }
        true
    }
}

impl Record for Records<'_> {
    #[inline]
    fn line(&self) -> u64 {
        self.line
    }

    fn last_line(&self) -> u64 {
        self.line + self.record.iter().flatten().filter(|b| **b == b'\n').count() as u64
    }

    #[inline]
    fn len(&self) -> usize {
        self.record.len()
    }

    #[inline]
    fn field(&self, index: usize) -> Option<&[u8]> {
        self.record.get(index).map(trim)
    }
}

/// A line of a text without quotation marks.
pub(super) struct Line<'t> {
    number: u64,
    fields: Vec<&'t [u8]>,
}

impl<'t> Line<'t> {
    /// `line` is without its end.
    pub(super) fn new(line: &'t [u8], number: u64, delimiter: u8) -> Self {
        let mut fields = Vec::new();
        let mut from = 0;
        for at in memchr::memchr_iter(delimiter, line) {
            fields.push(line.get(from..at).unwrap_or_default());
            from = at + 1;
        }
        fields.push(line.get(from..).unwrap_or_default());
        Self { number, fields }
    }
}

impl Record for Line<'_> {
    fn line(&self) -> u64 {
        self.number
    }

    fn last_line(&self) -> u64 {
        self.number
    }

    fn len(&self) -> usize {
        self.fields.len()
    }

    fn field(&self, index: usize) -> Option<&[u8]> {
        self.fields.get(index).copied().map(trim)
    }
}

/// Strips blanks, and the no-break space (U+00A0) as well.
#[inline]
pub(super) fn trim(field: &[u8]) -> &[u8] {
    // Nothing to strip, nearly always.
    if let [first, .., last] = field
        && first.is_ascii_graphic()
        && last.is_ascii_graphic()
    {
        return field;
    }
    std::str::from_utf8(field).map_or(field, |text| text.trim().as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_counted_through_blank_lines_line_ends_and_quotes() {
        let text = "a;b\r\n\r\nc;d\r\n\n\ne; f \r\n\"x\ny\";g\r\nz;\u{a0}z";
        let mut records = Records::new(text, b';');
        let mut seen = Vec::new();
        while records.advance() {
            seen.push((records.line(), records.last_line(), records.text(1).to_owned()));
        }
        let expected = [(1, 1, "b"), (3, 3, "d"), (6, 6, "f"), (7, 8, "g"), (9, 9, "z")];
        assert_eq!(seen, expected.map(|(from, to, text)| (from, to, text.to_owned())));
    }
}
