//! The content of a stream.

use super::names;
use flate2::bufread::ZlibDecoder;
use hayro_syntax::object::{Dict, MaybeRef, Name, Object};
use std::io::Read as _;

/// A packing that no reader of records has to know.
const OTHERWISE: Unpacked = Unpacked::Problem("it is packed in a way that no record has");

/// The content of a stream of at most `room` bytes, from what stands in the PDF for it. The decoder is
/// used again for each, because its tables are larger than most files.
pub(super) fn content<'a>(
    decoder: &mut ZlibDecoder<&'a [u8]>,
    dict: &Dict<'_>,
    raw: &'a [u8],
    room: usize,
) -> Result<Vec<u8>, Unpacked> {
    if ["DecodeParms", "DP", "F"].iter().any(|key| dict.contains_key(key)) {
        return Err(OTHERWISE);
    }
    let bytes = match filter(dict)? {
        Packing::Plain if raw.len() > room => return Err(Unpacked::TooMuch),
        Packing::Plain => raw.to_vec(),
        Packing::Deflate => inflate(decoder, raw, room)?,
    };
    // What the file says of itself.
    let said = dict.get::<Dict<'_>>("Params").and_then(|params| params.get::<u32>("Size"));
    match said.map(usize::try_from) {
        Some(Ok(said)) if said != bytes.len() => {
            Err(Unpacked::Problem("it has not the length that is noted beside it"))
        }
        _ => Ok(bytes),
    }
}

/// Why a stream was not unpacked.
pub(super) enum Unpacked {
    TooMuch,
    Problem(&'static str),
}

/// How a stream is packed.
enum Packing {
    Plain,
    Deflate,
}

fn filter(dict: &Dict<'_>) -> Result<Packing, Unpacked> {
    let name = match dict.get_raw::<Object<'_>>("Filter") {
        None => return Ok(Packing::Plain),
        Some(MaybeRef::NotRef(Object::Name(name))) => Some(name),
        Some(MaybeRef::NotRef(Object::Array(names))) => {
            let mut names = names.iter::<Object<'_>>();
            match (names.next(), names.next()) {
                (None, _) => return Ok(Packing::Plain),
                (Some(Object::Name(name)), None) => Some(name),
                _ => None,
            }
        }
        Some(_) => None,
    };
    let is_deflate = |name: &Name<'_>| name.as_ref() == names::DEFLATE;
    match name.as_ref().is_some_and(is_deflate) {
        true => Ok(Packing::Deflate),
        false => Err(OTHERWISE),
    }
}

/// Undoes deflate (RFC 1950), with its Adler-32 checked and nothing behind it.
fn inflate<'a>(
    decoder: &mut ZlibDecoder<&'a [u8]>,
    packed: &'a [u8],
    room: usize,
) -> Result<Vec<u8>, Unpacked> {
    let mut bytes = Vec::new();
    let bound = u64::try_from(room).unwrap_or(u64::MAX).saturating_add(1);
    decoder.reset(packed);
    let read = decoder.take(bound).read_to_end(&mut bytes);
    if bytes.len() > room {
        return Err(Unpacked::TooMuch);
    }
    match read {
        Ok(_) if decoder.get_ref().is_empty() => Ok(bytes),
        Ok(_) => Err(Unpacked::Problem("there are bytes behind its end")),
        Err(_) => Err(Unpacked::Problem("it cannot be inflated")),
    }
}
