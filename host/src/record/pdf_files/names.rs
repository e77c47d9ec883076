//! A copy of a PDF that its reader can do no harm with.

/// What stands in the copy for `FlateDecode`, the one filter that a record has. As long, and no
/// filter.
pub(super) const DEFLATE: &[u8] = b"FlateHidden";

/// Filters by their names and short names (ISO 32000-2, table 6 and table 92), and the keys without
/// which objects are never looked for in streams.
const HIDDEN: [&[u8]; 21] = [
    b"ASCIIHexDecode",
    b"AHx",
    b"ASCII85Decode",
    b"A85",
    b"LZWDecode",
    b"LZW",
    b"FlateDecode",
    b"Fl",
    b"RunLengthDecode",
    b"RL",
    b"CCITTFaxDecode",
    b"CCF",
    b"JBIG2Decode",
    b"DCTDecode",
    b"DCT",
    b"JPXDecode",
    b"Crypt",
    b"ObjStm",
    b"First",
    b"Encrypt",
    DEFLATE,
];

/// A PDF without names of filters.
pub(super) struct Hidden {
    /// As long as the PDF, and different from it in names only.
    pub(super) bytes: Vec<u8>,
    /// Whether it had the key that an encrypted PDF has.
    pub(super) encrypted: bool,
}

/// Goes over everything that can be read as a name, wherever it stands: a name in a string or in the
/// content of a stream is changed too, which is why contents are taken from the PDF itself.
pub(super) fn hide(pdf: &[u8]) -> Hidden {
    let mut bytes = pdf.to_vec();
    let mut encrypted = false;
    let mut at = 0;
    while let Some(slash) = pdf.get(at..).and_then(|rest| rest.iter().position(|b| *b == b'/')) {
        let start = at + slash + 1;
        let rest = pdf.get(start..).unwrap_or_default();
        let len = rest.iter().position(|byte| !is_regular(*byte)).unwrap_or(rest.len());
        at = start + len;
        let (Some(written), Some(copy)) = (rest.get(..len), bytes.get_mut(start..at)) else {
            break;
        };
        if written == b"FlateDecode" {
            copy.copy_from_slice(DEFLATE);
            continue;
        }
        let name = unescaped(written);
        if HIDDEN.contains(&name.as_slice()) {
            encrypted |= name == b"Encrypt";
            copy.fill(b'x');
        }
    }
    Hidden { bytes, encrypted }
}

/// Whether the character can be part of a name (ISO 32000-2, 7.2.3).
fn is_regular(byte: u8) -> bool {
    !matches!(
        byte,
        b'\0'
            | b'\t'
            | b'\n'
            | b'\x0C'
            | b'\r'
            | b' '
            | b'('
            | b')'
            | b'<'
            | b'>'
            | b'['
            | b']'
            | b'{'
            | b'}'
            | b'/'
            | b'%'
    )
}

/// A name with its `#` escapes undone (ISO 32000-2, 7.3.5).
fn unescaped(written: &[u8]) -> Vec<u8> {
    let digit = |byte: Option<&u8>| char::from(*byte?).to_digit(16);
    let mut name = Vec::new();
    let mut rest = written;
    while let Some((first, behind)) = rest.split_first() {
        let code = digit(behind.first()).zip(digit(behind.get(1)));
        match code.and_then(|(high, low)| u8::try_from(high << 4 | low).ok()) {
            Some(byte) if *first == b'#' => {
                name.push(byte);
                rest = behind.get(2..).unwrap_or_default();
            }
            _ => {
                name.push(*first);
                rest = behind;
            }
        }
    }
    name
}
