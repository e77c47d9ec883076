//! A copy of a PDF that its reader can do no harm with.
//!
//! Everything here is `#[inline]` so that the tests, which are compiled with optimisation where the
//! library is not, compile it as well: they read a record once for each of its bytes.

use std::borrow::Cow;
use std::io::BufRead as _;

/// What stands in the copy for `FlateDecode`, the one filter that a record has. As long, and no
/// filter.
pub(super) const DEFLATE: &[u8] = b"FlateHidden";

/// Filters by their names and short names (ISO 32000-2, table 6 and table 92), the keys without which
/// objects are never looked for in streams, and the key of an encrypted PDF.
#[inline]
fn is_hidden(name: &[u8]) -> bool {
    matches!(
        name,
        b"ASCIIHexDecode"
            | b"AHx"
            | b"ASCII85Decode"
            | b"A85"
            | b"LZWDecode"
            | b"LZW"
            | b"FlateDecode"
            | b"Fl"
            | b"RunLengthDecode"
            | b"RL"
            | b"CCITTFaxDecode"
            | b"CCF"
            | b"JBIG2Decode"
            | b"DCTDecode"
            | b"DCT"
            | b"JPXDecode"
            | b"Crypt"
            | b"ObjStm"
            | b"First"
            | ENCRYPT
            | DEFLATE
    )
}

const ENCRYPT: &[u8] = b"Encrypt";

/// A PDF without names of filters.
pub(super) struct Hidden {
    /// As long as the PDF, and different from it in names only.
    pub(super) bytes: Vec<u8>,
    /// Whether it had the key that an encrypted PDF has.
    pub(super) encrypted: bool,
}

/// Goes over everything that can be read as a name, wherever it stands: a name in a string or in the
/// content of a stream is changed too, which is why contents are taken from the PDF itself.
#[inline]
pub(super) fn hide(pdf: &[u8]) -> Hidden {
    let mut bytes = pdf.to_vec();
    let mut encrypted = false;
    let mut rest = pdf;
    // Reading from a slice never fails.
    while let Ok(1..) = rest.skip_until(b'/') {
        // Most names begin as none of those that are hidden.
        let [b'A' | b'C' | b'D' | b'E' | b'F' | b'J' | b'L' | b'O' | b'R' | b'#', ..] = rest else {
            continue;
        };
        let start = pdf.len() - rest.len();
        let (written, behind) = rest.split_at(name_len(rest));
        rest = behind;
        let Some(copy) = bytes.get_mut(start..start + written.len()) else { break };
        if written == b"FlateDecode" {
            copy.copy_from_slice(DEFLATE);
            continue;
        }
        let name = unescaped(written);
        if is_hidden(&name) {
            encrypted |= *name == *ENCRYPT;
            copy.fill(b'x');
        }
    }
    Hidden { bytes, encrypted }
}

/// How many of the bytes are of the name that they begin with.
#[inline]
fn name_len(bytes: &[u8]) -> usize {
    let mut len = 0;
    for byte in bytes {
        if !is_regular(*byte) {
            break;
        }
        len += 1;
    }
    len
}

/// Whether the character can be part of a name (ISO 32000-2, 7.2.3).
#[inline]
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
#[inline]
fn unescaped(written: &[u8]) -> Cow<'_, [u8]> {
    if !written.contains(&b'#') {
        return Cow::Borrowed(written);
    }
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
    Cow::Owned(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hidden(pdf: &[u8]) -> String {
        let hidden = hide(pdf);
        assert_eq!(hidden.bytes.len(), pdf.len());
        String::from_utf8_lossy(&hidden.bytes).into_owned()
    }

    #[test]
    fn every_filter_is_hidden_and_nothing_else() {
        let names = "ASCIIHexDecode AHx ASCII85Decode A85 LZWDecode LZW Fl RunLengthDecode RL \
                     CCITTFaxDecode CCF JBIG2Decode DCTDecode DCT JPXDecode Crypt ObjStm First \
                     FlateHidden";
        for name in names.split(' ') {
            let gone = format!("/{} 1", "x".repeat(name.len()));
            assert_eq!(hidden(format!("/{name} 1").as_bytes()), gone);
            // Each of its letters may be written by its code.
            for at in 0..name.len() {
                let code = name.as_bytes()[at];
                let (before, behind) = (name.split_at(at).0, name.split_at(at + 1).1);
                let escaped = format!("/{before}#{code:02x}{behind}");
                assert!(!hidden(escaped.as_bytes()).contains('#'), "{escaped}");
            }
            for other in [format!("/{name}s"), format!("/x{name}"), name.to_owned()] {
                assert_eq!(hidden(other.as_bytes()), other);
            }
        }
        assert_eq!(hidden(b"/FlateDecode/Length"), "/FlateHidden/Length");
        assert_eq!(hidden(b"//Fl//Fl"), "//xx//xx");
        assert_eq!(hidden(b"/"), "/");
        assert_eq!(hidden(b""), "");
    }

    #[test]
    fn an_encrypted_pdf_is_known_however_the_key_is_written() {
        for pdf in ["/Encrypt 1 0 R", "/Size 1/Encrypt<<", "/#45ncrypt 1", "/E#6Ecrypt"] {
            assert!(hide(pdf.as_bytes()).encrypted, "{pdf}");
        }
        assert!(!hide(b"(Encrypt) /Encrypted /EncryptMetadata true").encrypted);
    }
}
