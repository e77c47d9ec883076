//! From the bytes of a file to its text.

use std::borrow::Cow;

use super::error::{IntakeError, Problem};

/// The text and how it was written, if not as plain UTF-8.
pub(super) struct Text<'b> {
    pub(super) text: Cow<'b, str>,
    pub(super) encoding: Option<&'static str>,
    pub(super) has: Has,
}

/// What else there is in a text, noted on the way.
#[derive(Clone, Copy)]
pub(super) struct Has {
    pub(super) quote: bool,
    pub(super) carriage_return: bool,
}

/// First bytes of files that are mistaken for CSV, and what to call them.
const OTHER_FILES: [(&[u8], &str); 9] = [
    (b"PK\x03\x04", "a spreadsheet workbook or another ZIP archive"),
    (b"\xD0\xCF\x11\xE0", "an old spreadsheet workbook"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xFF\xD8\xFF", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF-", "a PDF document"),
    (b"\x1F\x8B", "a gzip archive"),
    (b"7z\xBC\xAF", "a 7z archive"),
    (b"SQLite format 3\0", "an SQLite database"),
];

pub(super) fn decode(bytes: &[u8]) -> Result<Text<'_>, IntakeError> {
    if let Some((_, kind)) = OTHER_FILES.iter().find(|(magic, _)| bytes.starts_with(magic)) {
        return Err(Problem::OtherFile { kind }.in_file());
    }
    let (text, encoding) = match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => match std::str::from_utf8(rest) {
            Ok(text) => (Cow::Borrowed(text), None),
            Err(error) => {
                let line = 1 + count_lines(rest.get(..error.valid_up_to()).unwrap_or_default());
                return Err(Problem::Damaged { encoding: "UTF-8" }.on_line(line));
            }
        },
        [0xFF, 0xFE, ..] => utf_16(encoding_rs::UTF_16LE, bytes, "UTF-16LE")?,
        [0xFE, 0xFF, ..] => utf_16(encoding_rs::UTF_16BE, bytes, "UTF-16BE")?,
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => (Cow::Borrowed(text), None),
            Err(_) => {
                let (text, _) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes);
                (text, Some("Windows-1252"))
            }
        },
    };
    let control = |b: &u8| *b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0C);
    // The old end-of-file sign of DOS is harmless at the end.
    let body = text.strip_suffix('\x1A').unwrap_or(&text);
    // Without a way out inside the chunk, the check takes many bytes in one step.
    let (mut found, mut has) = (false, Has { quote: false, carriage_return: false });
    for chunk in body.as_bytes().chunks(256) {
        found |= chunk.iter().fold(false, |any, b| any | control(b));
        has.quote |= chunk.iter().fold(false, |any, b| any | (*b == b'"'));
        has.carriage_return |= chunk.iter().fold(false, |any, b| any | (*b == b'\r'));
    }
    if found && let Some(byte) = body.bytes().position(|b| control(&b)) {
        let line = 1 + count_lines(body.as_bytes().get(..byte).unwrap_or_default());
        let code = body.as_bytes().get(byte).copied().unwrap_or_default();
        return Err(Problem::NotText { code }.on_line(line));
    }
    if body.trim().is_empty() {
        return Err(Problem::Empty.in_file());
    }
    let text = match text {
        Cow::Borrowed(text) => unify(text.strip_suffix('\x1A').unwrap_or(text)),
        Cow::Owned(mut text) => {
            if text.ends_with('\x1A') {
                text.pop();
            }
            Cow::Owned(unify(&text).into_owned())
        }
    };
    Ok(Text { text, encoding, has })
}

fn utf_16<'b>(
    encoding: &'static encoding_rs::Encoding,
    bytes: &'b [u8],
    name: &'static str,
) -> Result<(Cow<'b, str>, Option<&'static str>), IntakeError> {
    let (text, damaged) = encoding.decode_with_bom_removal(bytes);
    if damaged {
        Err(Problem::Damaged { encoding: name }.in_file())
    } else {
        Ok((text, Some(name)))
    }
}

fn count_lines(text: &[u8]) -> u64 {
    text.iter().filter(|b| **b == b'\n').count() as u64
}

/// Line ends of a lone carriage return, as very old systems wrote them, become line feeds, so that
/// lines can be counted by line feeds alone.
fn unify(text: &str) -> Cow<'_, str> {
    if text.as_bytes().contains(&b'\n') || !text.as_bytes().contains(&b'\r') {
        Cow::Borrowed(text)
    } else {
        Cow::Owned(text.replace('\r', "\n"))
    }
}
