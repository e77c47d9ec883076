//! Any bytes may be given: the extractor answers, and keeps within its bounds.

use crate::site;
use glueday::record::pdf_files::{ExtractError, FILES_LEN_MAX, FILES_MAX, PDF_LEN_MAX, extract};
use glueday_tests::hostile_record::record;
use proptest::prelude::*;
use std::io::Write as _;

/// A PDF of these objects, numbered from 1, the first of which is the catalog.
fn pdf(objects: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = b"%PDF-1.7\n".to_vec();
    let mut places = Vec::new();
    for (object, number) in objects.iter().zip(1..) {
        places.push(bytes.len());
        bytes.extend_from_slice(format!("{number} 0 obj\n").as_bytes());
        bytes.extend_from_slice(object);
        bytes.extend_from_slice(b"\nendobj\n");
    }
    let start = bytes.len();
    let mut end = format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
    for place in places {
        end.push_str(&format!("{place:010} 00000 n \n"));
    }
    let size = objects.len() + 1;
    end.push_str(&format!("trailer\n<< /Size {size} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n"));
    bytes.extend_from_slice(end.as_bytes());
    bytes
}

fn stream(dict: &str, content: &[u8]) -> Vec<u8> {
    let head = format!("<< /Length {} {dict} >>\nstream\n", content.len());
    [head.as_bytes(), content, b"\nendstream"].concat()
}

/// A PDF with one attached file, whose catalog has these entries more.
fn with_file(more: &str, names: &str, spec: &str, file: Vec<u8>) -> Vec<u8> {
    pdf(&[
        format!("<< /Type /Catalog /Pages 2 0 R /Names << /EmbeddedFiles {names} >> {more} >>")
            .into_bytes(),
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>".to_vec(),
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 9 9] >>".to_vec(),
        format!("<< /Type /Filespec {spec} >>").into_bytes(),
        file,
    ])
}

const NAMES: &str = "<< /Names [(a.txt) 4 0 R] >>";
const SPEC: &str = "/F (a.txt) /UF (a.txt) /EF << /F 5 0 R /UF 5 0 R >>";

fn deflated(content: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    encoder.write_all(content).unwrap();
    encoder.finish().unwrap()
}

#[test]
fn a_file_written_by_hand_is_taken_out() {
    let plain = with_file("/AF [4 0 R]", NAMES, SPEC, stream("", b"hello"));
    let files = extract(&plain).unwrap();
    assert_eq!(files["a.txt"], b"hello");
    for filter in ["/Filter /FlateDecode", "/Filter [/FlateDecode]"] {
        let packed = with_file("", NAMES, SPEC, stream(filter, &deflated(b"hello")));
        assert_eq!(extract(&packed).unwrap()["a.txt"], b"hello", "{filter}");
    }
    // Names of filters in the content are content.
    let content = b"/FlateDecode /Fl /First /Encrypt#20/ObjStm".as_slice();
    let content = &content[..content.len() - 8];
    let tricky = with_file("", NAMES, SPEC, stream("", b"see /FlateDecode /Fl /First"));
    assert_eq!(extract(&tricky).unwrap()["a.txt"], b"see /FlateDecode /Fl /First", "{content:?}");
    // UTF-16 with its mark, as the standard allows for both names.
    let utf16 = SPEC.replace("/UF (a.txt)", "/UF <FEFF0061002E007400780074>");
    assert!(
        extract(&with_file("", NAMES, &utf16, stream("", b"x"))).unwrap().contains_key("a.txt")
    );
    // A tree with a level more.
    let tree = format!("<< /Kids [{NAMES}] >>");
    assert!(extract(&with_file("", &tree, SPEC, stream("", b"x"))).unwrap().contains_key("a.txt"));
}

/// What two readers could read in two ways, or this one cannot at all.
#[test]
fn each_doubtful_pdf_has_its_error() {
    let name = || "a.txt".to_owned();
    let plain = || stream("", b"hello");
    let file = |problem| ExtractError::File { name: name(), problem };
    let other_way = "it is packed in a way that no record has";
    let cases = [
        ("no PDF", b"hello".to_vec(), ExtractError::NotPdf),
        ("nothing at all", Vec::new(), ExtractError::NotPdf),
        ("a PDF that ends at once", b"%PDF-1.7\n".to_vec(), ExtractError::Broken),
        ("no files", with_file("", "<< >>", "", plain()), ExtractError::Nothing),
        (
            "twice in the tree",
            with_file("", "<< /Names [(a.txt) 4 0 R (a.txt) 4 0 R] >>", SPEC, plain()),
            ExtractError::Twice { name: name() },
        ),
        (
            "another key in the tree",
            with_file("", "<< /Names [(b.txt) 4 0 R] >>", SPEC, plain()),
            ExtractError::TwoNames { name: "b.txt".to_owned(), other: name() },
        ),
        (
            "another plain name",
            with_file("", NAMES, &SPEC.replace("/F (a.txt)", "/F (b.txt)"), plain()),
            ExtractError::TwoNames { name: name(), other: "b.txt".to_owned() },
        ),
        (
            "another stream for the other name",
            with_file("", NAMES, &SPEC.replace("/UF 5 0 R", "/UF 3 0 R"), plain()),
            ExtractError::Twice { name: name() },
        ),
        (
            "in one list only",
            with_file("/AF []", NAMES, SPEC, plain()),
            ExtractError::OneList { name: name() },
        ),
        (
            "in the other list only",
            with_file("/AF [4 0 R]", "<< >>", SPEC, plain()),
            ExtractError::OneList { name: name() },
        ),
        (
            "another stream in the other list",
            with_file(
                "/AF [<< /Type /Filespec /F (a.txt) /EF << /F 3 0 R >> >>]",
                NAMES,
                SPEC,
                plain(),
            ),
            ExtractError::Twice { name: name() },
        ),
        (
            "listed twice",
            with_file("/AF [4 0 R 4 0 R]", NAMES, SPEC, plain()),
            ExtractError::Twice { name: name() },
        ),
        (
            "no stream",
            with_file("", NAMES, "/F (a.txt) /EF << /F 9 0 R >>", plain()),
            file("nothing is there"),
        ),
        (
            "no reference",
            with_file("", NAMES, "/F (a.txt) /EF << >>", plain()),
            file("nothing is there"),
        ),
        (
            "two filters",
            with_file(
                "",
                NAMES,
                SPEC,
                stream("/Filter [/FlateDecode /FlateDecode]", &deflated(&deflated(b"x"))),
            ),
            file(other_way),
        ),
        (
            "another filter",
            with_file("", NAMES, SPEC, stream("/Filter /LZWDecode", b"x")),
            file(other_way),
        ),
        (
            "a filter with an escape",
            with_file("", NAMES, SPEC, stream("/Filter /Flate#44ecode", &deflated(b"x"))),
            file(other_way),
        ),
        (
            "a filter by reference",
            with_file("", NAMES, SPEC, stream("/Filter 3 0 R", b"x")),
            file(other_way),
        ),
        (
            "the name that stands for the filter",
            with_file("", NAMES, SPEC, stream("/Filter /FlateHidden", &deflated(b"x"))),
            file(other_way),
        ),
        (
            "parameters of a filter",
            with_file(
                "",
                NAMES,
                SPEC,
                stream(
                    "/Filter /FlateDecode /DecodeParms << /Predictor 2 /Columns 0 >>",
                    &deflated(b"x"),
                ),
            ),
            file(other_way),
        ),
        ("a file outside", with_file("", NAMES, SPEC, stream("/F (b.txt)", b"x")), file(other_way)),
        (
            "another length beside it",
            with_file("", NAMES, SPEC, stream("/Params << /Size 4 >>", b"hello")),
            file("it has not the length that is noted beside it"),
        ),
        (
            "bytes behind the packed ones",
            with_file(
                "",
                NAMES,
                SPEC,
                stream("/Filter /FlateDecode", &[deflated(b"x"), b"y".to_vec()].concat()),
            ),
            file("there are bytes behind its end"),
        ),
        (
            "packed bytes cut off",
            with_file("", NAMES, SPEC, stream("/Filter /FlateDecode", &deflated(b"hello")[..9])),
            file("it cannot be inflated"),
        ),
        ("encrypted", with_file("/Encrypt 3 0 R", NAMES, SPEC, plain()), ExtractError::Encrypted),
        (
            "a tree in itself",
            with_file("", "<< /Kids [4 0 R] >>", "/Kids [4 0 R]", plain()),
            ExtractError::Broken,
        ),
        (
            "too long",
            [b"%PDF-".to_vec(), vec![b' '; PDF_LEN_MAX]].concat(),
            ExtractError::TooLong { len: PDF_LEN_MAX + 5 },
        ),
    ];
    for (what, pdf, expected) in cases {
        assert_eq!(extract(&pdf).unwrap_err(), expected, "{what}");
    }
    let many: String =
        (0..=FILES_MAX).map(|i| format!("({i}) << /F ({i}) /EF << /F 5 0 R >> >> ")).collect();
    let many = with_file("", &format!("<< /Names [{many}] >>"), SPEC, plain());
    assert_eq!(extract(&many).unwrap_err(), ExtractError::TooMuch);
}

/// Little more than a megabyte that comes to more than may be unpacked.
#[test]
fn what_swells_beyond_the_bound_is_refused() {
    let bomb = deflated(&vec![0; FILES_LEN_MAX + 1]);
    assert!(bomb.len() < 1_500_000, "{}", bomb.len());
    let pdf = with_file("", NAMES, SPEC, stream("/Filter /FlateDecode", &bomb));
    assert_eq!(extract(&pdf).unwrap_err(), ExtractError::TooMuch);
    // In an index of objects, where the PDF library itself would unpack it, twice over.
    let twice = deflated(&bomb);
    let index = stream(
        "/Type /XRef /Size 9 /W [1 2 1] /Root 1 0 R /Filter [/FlateDecode /FlateDecode]",
        &twice,
    );
    let mut pdf = b"%PDF-1.7\n1 0 obj\n".to_vec();
    pdf.extend_from_slice(&index);
    pdf.extend_from_slice(b"\nendobj\nstartxref\n9\n%%EOF\n");
    assert_eq!(extract(&pdf).unwrap_err(), ExtractError::Broken);
}

/// With these parameters the PDF library divides by zero when it undoes the filter of an index.
#[test]
fn parameters_on_which_the_library_panics_do_not_reach_it() {
    let index = |filter: &str| {
        let index = stream(
            &format!("/Type /XRef /Size 9 /W [1 2 1] /Root 1 0 R {filter}"),
            &deflated(b"xyz"),
        );
        let mut pdf = b"%PDF-1.7\n1 0 obj\n".to_vec();
        pdf.extend_from_slice(&index);
        pdf.extend_from_slice(b"\nendobj\nstartxref\n9\n%%EOF\n");
        pdf
    };
    for name in ["FlateDecode", "Fl", "Flate#44ecode", "LZWDecode", "LZW"] {
        let filter = format!("/Filter /{name} /DecodeParms << /Predictor 2 /Columns 0 >>");
        assert_eq!(extract(&index(&filter)).unwrap_err(), ExtractError::Broken, "{name}");
    }
}

#[test]
fn a_record_cut_off_anywhere_is_refused_or_whole() {
    let pdf = site::draw(&site::tiny()).unwrap();
    let whole = extract(&pdf).unwrap();
    let mut read = 0;
    // Every place near the end, and every thirteenth before it.
    for len in (0..pdf.len()).filter(|len| len % 13 == 0 || len + 1500 > pdf.len()) {
        // Only the index at the end is missing, which the PDF library makes anew.
        if let Ok(files) = extract(&pdf[..len]) {
            read += 1;
            assert_eq!(files, whole, "cut to {len}");
        }
    }
    eprintln!("{read} cuts left the files readable");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_bytes_get_an_answer(bytes in prop::collection::vec(any::<u8>(), 0..4000)) {
        record(&bytes);
        record(&[b"\0%PDF-1.7\n".as_slice(), &bytes].concat());
    }

    /// Pieces of PDF in any order.
    #[test]
    fn any_pieces_get_an_answer(pieces in prop::collection::vec(0..PIECES.len(), 0..120)) {
        let mut bytes = b"\0%PDF-1.7\n".to_vec();
        for piece in pieces {
            bytes.extend_from_slice(PIECES[piece]);
        }
        record(&bytes);
    }

    /// A record with spans of it changed, moved or repeated.
    #[test]
    fn any_changed_record_gets_an_answer(edits in prop::collection::vec((any::<u16>(), any::<u16>(), any::<u16>(), 0..4_u8), 1..6)) {
        let mut pdf = sound();
        for (from, to, len, kind) in edits {
            let at = usize::from(from) % pdf.len();
            let end = (at + usize::from(len) % 300).min(pdf.len());
            let span = pdf[at..end].to_vec();
            let place = usize::from(to) % pdf.len();
            match kind {
                0 => { pdf.drain(at..end); }
                1 => { pdf.splice(place..place, span); }
                2 => pdf[at] = to as u8,
                _ => pdf[at..end].fill(to as u8),
            }
            if pdf.is_empty() { break; }
        }
        record(&[b"\0".as_slice(), &pdf].concat());
    }
}

fn sound() -> Vec<u8> {
    static RECORD: std::sync::OnceLock<Vec<u8>> = std::sync::OnceLock::new();
    RECORD.get_or_init(|| site::draw(&site::tiny()).unwrap()).clone()
}

const PIECES: [&[u8]; 40] = [
    b"1 0 obj\n",
    b"2 0 obj ",
    b"endobj\n",
    b"<< ",
    b">> ",
    b"[ ",
    b"] ",
    b"/Type /Catalog ",
    b"/Type /Pages ",
    b"/Type /Page ",
    b"/Type /ObjStm ",
    b"/Type /XRef ",
    b"/Pages 2 0 R ",
    b"/Names ",
    b"/EmbeddedFiles ",
    b"/Kids ",
    b"/AF ",
    b"/EF ",
    b"/F ",
    b"/UF ",
    b"(a.txt) ",
    b"1 0 R ",
    b"2 0 R ",
    b"3 0 R ",
    b"/Length 3 ",
    b"/Length 99999999999 ",
    b"stream\nabc\nendstream ",
    b"stream\n",
    b"endstream\n",
    b"/W [1 8 1] ",
    b"/N 3 /First 18446744073709551615 ",
    b"0 1 2 3 ",
    b"/Index [0 4294967295] ",
    b"/Prev 9 ",
    b"/Root 1 0 R ",
    b"trailer\n",
    b"startxref\n9\n",
    b"xref\n0 3\n0000000000 65535 f \n0000000009 00000 n \n0000000009 00000 n \n",
    b"%%EOF\n",
    b"/Encoding << /Predictor 2 /Columns 0 >> ",
];
