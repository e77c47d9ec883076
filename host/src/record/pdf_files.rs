//! Takes the attached files out of a PDF.
//!
//! The files of a record are named in two places of the document catalog (ISO 32000-2, 7.11.4 and
//! 14.13): the name tree `EmbeddedFiles` and the list `AF` of associated files. Both are read, and a
//! file that does not go by one name everywhere is refused, so that no two readers of the same PDF
//! see other files in it.
//!
//! Any bytes may come in. Memory is bounded by [`PDF_LEN_MAX`], [`FILES_LEN_MAX`], [`FILES_MAX`] and
//! [`DEPTH_MAX`]. To keep it so, the PDF reader never gets to undo a filter: it does that without a
//! bound, and with some parameters it panics. It reads a copy in which `names::hide` took the names
//! of all filters away, and streams are inflated here. So PDFs whose objects are compressed
//! themselves, which some programs write when they save a PDF anew, are not read; the files can be
//! taken out of them with another tool.

mod names;
mod unpack;

use flate2::bufread::ZlibDecoder;
use hayro_syntax::object::{Array, Dict, ObjRef, Object, Stream, String as Text};
use hayro_syntax::{LoadPdfError, Pdf};
use std::collections::{BTreeMap, BTreeSet};
use unpack::Unpacked;

/// The longest PDF that is read, in bytes.
pub const PDF_LEN_MAX: usize = 64 << 20;
/// What all attached files may come to, in bytes.
pub const FILES_LEN_MAX: usize = 256 << 20;
/// How many files may be attached.
pub const FILES_MAX: usize = 1_000;
/// How many levels the tree of their names may have.
pub const DEPTH_MAX: usize = 16;

/// Why the attached files cannot be taken out. Each message says what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ExtractError {
    /// It is too long.
    #[error(
        "it has {len} bytes; at most {PDF_LEN_MAX} are read: take the files out with `pdfdetach -saveall` and verify their folder"
    )]
    TooLong {
        /// Its length.
        len: usize,
    },
    /// It does not begin as a PDF does.
    #[error("it is no PDF: give the PDF of a record, its web page, or the folder with its files")]
    NotPdf,
    /// It is encrypted.
    #[error("the PDF is encrypted, which a record never is: ask for the record as it was made")]
    Encrypted,
    /// It begins as a PDF, and cannot be read as one.
    #[error(
        "the PDF cannot be read: it was cut off or changed, or saved anew by another program; take the files out with `pdfdetach -saveall` and verify their folder"
    )]
    Broken,
    /// Nothing is attached.
    #[error(
        "the PDF has no files attached, so that nothing in it can be verified: ask for the record as it was made; a print or a scan of it is not enough"
    )]
    Nothing,
    /// More is attached than is read.
    #[error(
        "more than {FILES_MAX} files are attached, or more than {FILES_LEN_MAX} bytes: this is no record"
    )]
    TooMuch,
    /// A file is named in the list and cannot be taken out.
    #[error(
        "the attached file {name} cannot be taken out: {problem}; the PDF was changed, or saved anew by another program"
    )]
    File {
        /// Its name.
        name: String,
        /// Why not.
        problem: &'static str,
    },
    /// Two files have one name.
    #[error(
        "two attached files have the name {name}: readers would differ in which one they take; the PDF was changed"
    )]
    Twice {
        /// The name.
        name: String,
    },
    /// One file has two names.
    #[error(
        "an attached file goes by the names {name} and {other}: readers would differ in which one they take; the PDF was changed"
    )]
    TwoNames {
        /// One name.
        name: String,
        /// The other.
        other: String,
    },
    /// The lists of attached files do not agree.
    #[error(
        "the file {name} is in one list of attached files and not in the other: readers would differ in which files there are; the PDF was changed"
    )]
    OneList {
        /// Its name.
        name: String,
    },
}

/// The attached files by their names.
///
/// # Errors
/// See [`ExtractError`].
#[inline] // See `names`.
pub fn extract(pdf: &[u8]) -> Result<BTreeMap<String, Vec<u8>>, ExtractError> {
    if pdf.len() > PDF_LEN_MAX {
        return Err(ExtractError::TooLong { len: pdf.len() });
    }
    // Other readers look for it in the first 1024 bytes; a record begins with it.
    if !pdf.starts_with(b"%PDF-") {
        return Err(ExtractError::NotPdf);
    }
    let hidden = names::hide(pdf);
    if hidden.encrypted {
        return Err(ExtractError::Encrypted);
    }
    let document = Pdf::new(hidden.bytes).map_err(|error| match error {
        LoadPdfError::Decryption(_) => ExtractError::Encrypted,
        LoadPdfError::Invalid => ExtractError::Broken,
    })?;
    let xref = document.xref();
    let catalog: Dict<'_> = xref.get(xref.root_id()).ok_or(ExtractError::Broken)?;
    let mut found = Found::new(pdf, document.data().as_ref());
    if let Some(tree) = catalog.get::<Dict<'_>>("Names").and_then(|n| n.get("EmbeddedFiles")) {
        found.tree(&tree, 0)?;
    }
    let listed = catalog.get::<Array<'_>>("AF");
    if let Some(listed) = &listed {
        found.list(listed)?;
    }
    if found.files.is_empty() {
        return Err(ExtractError::Nothing);
    }
    match found.streams.keys().find(|name| listed.is_some() && !found.listed.contains(*name)) {
        Some(name) => Err(ExtractError::OneList { name: name.clone() }),
        None => Ok(found.files),
    }
}

/// What was found so far.
struct Found<'a> {
    /// The PDF.
    pdf: &'a [u8],
    /// The copy that the PDF reader works on, of the same length.
    read: &'a [u8],
    files: BTreeMap<String, Vec<u8>>,
    /// The stream that holds each file of the name tree.
    streams: BTreeMap<String, ObjRef>,
    /// The names in the list of associated files.
    listed: BTreeSet<String>,
    len: usize,
    nodes: usize,
    decoder: ZlibDecoder<&'a [u8]>,
}

impl<'a> Found<'a> {
    fn new(pdf: &'a [u8], read: &'a [u8]) -> Self {
        Self {
            pdf,
            read,
            files: BTreeMap::new(),
            streams: BTreeMap::new(),
            listed: BTreeSet::new(),
            len: 0,
            nodes: 0,
            decoder: ZlibDecoder::new(&[]),
        }
    }

    /// Goes through a node of the name tree (ISO 32000-2, 7.9.6).
    fn tree(&mut self, node: &Dict<'a>, depth: usize) -> Result<(), ExtractError> {
        self.nodes += 1;
        if depth > DEPTH_MAX || self.nodes > FILES_MAX {
            return Err(ExtractError::TooMuch);
        }
        if let Some(pairs) = node.get::<Array<'a>>("Names") {
            let mut items = objects(&pairs)?.into_iter();
            while let Some(key) = items.next() {
                let (Some(key), Some(spec)) = (key.into_string(), items.next()) else {
                    return Err(ExtractError::Broken);
                };
                let spec = spec.into_dict().ok_or(ExtractError::Broken)?;
                let (name, stream) = self.spec(&spec)?;
                same_name(&text(&key), &name)?;
                self.add(name, stream, &spec)?;
            }
        }
        if let Some(kids) = node.get::<Array<'a>>("Kids") {
            for kid in objects(&kids)? {
                let kid = kid.into_dict().ok_or(ExtractError::Broken)?;
                self.tree(&kid, depth + 1)?;
            }
        }
        Ok(())
    }

    /// Goes through the associated files, which must be those of the tree.
    fn list(&mut self, listed: &Array<'a>) -> Result<(), ExtractError> {
        for spec in objects(listed)? {
            let spec = spec.into_dict().ok_or(ExtractError::Broken)?;
            let (name, stream) = self.spec(&spec)?;
            match self.streams.get(&name) {
                Some(known) if *known == stream => {}
                Some(_) => return Err(ExtractError::Twice { name }),
                None => return Err(ExtractError::OneList { name }),
            }
            if !self.listed.insert(name.clone()) {
                return Err(ExtractError::Twice { name });
            }
        }
        Ok(())
    }

    /// The name in a file specification, and the stream that it names.
    fn spec(&self, spec: &Dict<'a>) -> Result<(String, ObjRef), ExtractError> {
        let named = |key: &str| spec.get::<Text<'a>>(key).map(|name| text(&name));
        let name = named("UF").or_else(|| named("F")).ok_or(ExtractError::Broken)?;
        if let Some(plain) = named("F") {
            same_name(&name, &plain)?;
        }
        let holder = spec.get::<Dict<'a>>("EF").ok_or(ExtractError::Broken)?;
        let streams: Vec<ObjRef> =
            ["F", "UF"].iter().filter_map(|key| holder.get_ref(*key)).collect();
        match streams.as_slice() {
            [stream] => Ok((name, *stream)),
            [stream, other] if stream == other => Ok((name, *stream)),
            [] => Err(ExtractError::File { name, problem: "nothing is there" }),
            _ => Err(ExtractError::Twice { name }),
        }
    }

    fn add(&mut self, name: String, stream: ObjRef, spec: &Dict<'a>) -> Result<(), ExtractError> {
        if self.streams.insert(name.clone(), stream).is_some() {
            return Err(ExtractError::Twice { name });
        }
        if self.files.len() >= FILES_MAX {
            return Err(ExtractError::TooMuch);
        }
        let holder = spec.get::<Dict<'a>>("EF");
        let object =
            holder.and_then(|holder| holder.get::<Stream<'a>>("F").or_else(|| holder.get("UF")));
        let room = FILES_LEN_MAX.saturating_sub(self.len);
        let bytes = match object.as_ref().and_then(|o| Some((o, self.given(&o.raw_data())?))) {
            Some((object, raw)) => unpack::content(&mut self.decoder, object.dict(), raw, room),
            None => Err(Unpacked::Problem("nothing is there")),
        };
        match bytes {
            Ok(bytes) => {
                self.len += bytes.len();
                self.files.insert(name, bytes);
                Ok(())
            }
            Err(Unpacked::TooMuch) => Err(ExtractError::TooMuch),
            Err(Unpacked::Problem(problem)) => Err(ExtractError::File { name, problem }),
        }
    }

    /// The bytes of the PDF at the place of these of its copy.
    fn given(&self, read: &[u8]) -> Option<&'a [u8]> {
        let from = read.as_ptr().addr().checked_sub(self.read.as_ptr().addr())?;
        let to = from.checked_add(read.len())?;
        (to <= self.read.len()).then(|| self.pdf.get(from..to)).flatten()
    }
}

/// The objects of an array. The PDF reader stops silently at the first one that is not there, or that
/// is an array in itself.
fn objects<'a>(array: &Array<'a>) -> Result<Vec<Object<'a>>, ExtractError> {
    let objects: Vec<Object<'a>> = array.iter().take(2 * FILES_MAX + 2).collect();
    match array.raw_iter().take(objects.len() + 1).count() == objects.len() {
        true => Ok(objects),
        false if objects.len() > 2 * FILES_MAX => Err(ExtractError::TooMuch),
        false => Err(ExtractError::Broken),
    }
}

fn same_name(name: &str, other: &str) -> Result<(), ExtractError> {
    if name == other {
        return Ok(());
    }
    Err(ExtractError::TwoNames { name: name.to_owned(), other: other.to_owned() })
}

/// A text string (ISO 32000-2, 7.9.2.2). Names of a record have ASCII only, which all encodings of
/// it share; others are as good as any.
fn text(string: &Text<'_>) -> String {
    let bytes = string.as_bytes();
    match bytes.strip_prefix(b"\xFE\xFF") {
        Some(utf16) => {
            let units = utf16
                .chunks(2)
                .map(|pair| pair.iter().fold(0_u16, |unit, byte| unit << 8 | u16::from(*byte)));
            char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
        }
        None => {
            let utf8 = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
            String::from_utf8_lossy(utf8).into_owned()
        }
    }
}
