//! Records: PDFs of any bytes, PDFs built of sound parts, and the files of a record with some of their
//! bytes changed.

use super::input::Input;
use crate::hostile_record;

/// The bytes choose: any bytes as a PDF, a PDF whose objects they are, or changes of a sound record's
/// files, of which every one has to be found.
pub fn record(data: &[u8]) {
    let Some((head, rest)) = data.split_first() else { return };
    match head % 3 {
        0 => hostile_record::record(&[&[0], rest].concat()),
        1 => hostile_record::record(&[&[0], pdf(rest).as_slice()].concat()),
        _ => hostile_record::record(&[&[1], rest].concat()),
    }
}

/// A PDF with a right index, so that the reader gets to its objects: the first is the catalog. Objects
/// are what stands between bytes of zero; each may be packed as a stream, rightly or with a wrong
/// length.
fn pdf(data: &[u8]) -> Vec<u8> {
    let mut input = Input::new(data);
    let mut bytes = b"%PDF-1.7\n".to_vec();
    let mut places = Vec::new();
    let flags = input.take::<u8>();
    for (object, number) in input.rest().split(|byte| *byte == 0).take(40).zip(1..) {
        places.push(bytes.len());
        bytes.extend_from_slice(format!("{number} 0 obj\n").as_bytes());
        match object.split_first() {
            // What is behind the mark is the content of a stream with the dictionary of a file.
            Some((b'~', content)) => stream(&mut bytes, content, flags),
            _ => bytes.extend_from_slice(object),
        }
        bytes.extend_from_slice(b"\nendobj\n");
    }
    let start = bytes.len();
    let size = places.len() + 1;
    bytes.extend_from_slice(format!("xref\n0 {size}\n0000000000 65535 f \n").as_bytes());
    for place in places {
        bytes.extend_from_slice(format!("{place:010} 00000 n \n").as_bytes());
    }
    let end = format!("trailer\n<< /Size {size} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n");
    bytes.extend_from_slice(end.as_bytes());
    bytes
}

/// A stream that is stored, said to be packed by the first flag, with what the others add.
fn stream(bytes: &mut Vec<u8>, content: &[u8], flags: u8) {
    let length = content.len() + usize::from(flags >> 4);
    let filter = ["", "/Filter /FlateDecode", "/Filter [/FlateDecode]", "/Filter /LZW"];
    let filter = filter[usize::from(flags & 3)];
    let head = format!("<< /Type /EmbeddedFile /Length {length} {filter} >>\nstream\n");
    bytes.extend_from_slice(head.as_bytes());
    bytes.extend_from_slice(content);
    bytes.extend_from_slice(b"\nendstream");
}
