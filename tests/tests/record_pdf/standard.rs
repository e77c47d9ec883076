//! What the file claims to be, and that it is so as far as other programs can tell.

use crate::assess_world::World;
use crate::evidence::{self, imported, of, twelve_weeks};
use crate::tools::Pdf;
use glueday::record::{Case, Evidence, files, pdf};
use serde_json::Value;
use std::sync::OnceLock;

fn drawn(evidence: &Evidence) -> Pdf {
    Pdf::new(&pdf::draw(evidence).unwrap())
}

/// Evidence of each kind with its record, drawn once for all tests.
fn all() -> &'static [(Evidence, Vec<u8>)] {
    static ALL: OnceLock<Vec<(Evidence, Vec<u8>)>> = OnceLock::new();
    ALL.get_or_init(|| {
        let drawn = |evidence| {
            let bytes = pdf::draw(&evidence).unwrap();
            (evidence, bytes)
        };
        kinds().into_iter().map(drawn).collect()
    })
}

/// The record of the spoilt world.
fn spoilt() -> Pdf {
    Pdf::new(&all()[1].1)
}

fn kinds() -> Vec<Evidence> {
    let mut bare = of(&World::ready());
    bare.logs.clear();
    let mut odd = of(&World::ready());
    // What no text of a PDF/A file may hold, and what XML has to escape.
    odd.job_text = odd.job_text.replace(
        "name = \"Test house\"",
        "name = \"\\uE000\\uFEFF\\u0001\\uFFFF 床 <&>\\\"]]> \\u202Eabc \\u05D0\"",
    );
    vec![of(&World::ready()), evidence::spoilt(), imported(), bare, odd]
}

#[test]
fn other_programs_find_no_fault() {
    for (_, bytes) in all() {
        Pdf::new(bytes).check();
    }
}

#[test]
fn the_files_come_out_as_they_went_in() {
    for (evidence, bytes) in all() {
        let case = Case::of(evidence, "job.toml").unwrap();
        let expected = files::write(evidence, &case.assess()).unwrap();
        let found = Pdf::new(bytes).files();
        assert_eq!(found.len(), expected.len());
        for file in &expected {
            assert!(found[&file.name] == file.bytes, "{}", file.name);
        }
        // And they are the evidence.
        let (_, read) = files::read(&found).unwrap();
        assert_eq!(read, *evidence);
    }
}

#[test]
fn the_same_evidence_gives_the_same_bytes() {
    for (evidence, bytes) in all() {
        assert!(*bytes == pdf::draw(evidence).unwrap());
    }
    let (evidence, bytes) = &all()[0];
    let later = Evidence { at_s: evidence.at_s + 60, ..evidence.clone() };
    assert!(*bytes != pdf::draw(&later).unwrap());
}

/// ISO 19005-3, 6.6.4: the part and the level of conformance stand in the XMP metadata; 6.6.2.3: what
/// the document information says, the metadata says as well.
#[test]
fn the_metadata_claims_pdf_a_3_level_a() {
    let metadata = spoilt().metadata();
    assert!(metadata.contains("<pdfaid:part>3</pdfaid:part>"), "{metadata}");
    assert!(metadata.contains("<pdfaid:conformance>A</pdfaid:conformance>"), "{metadata}");
    // The time asked about, day 13 of the world, at midnight; and nothing of the day of drawing.
    let date = "<xmp:CreateDate>2026-03-16T00:00:00";
    assert!(metadata.contains(date), "{metadata}");
    assert!(metadata.contains("Record of site conditions: Test house"), "{metadata}");
    assert!(metadata.contains("glueday test"), "{metadata}");
}

fn walk<'v>(value: &'v Value, see: &mut dyn FnMut(&str, &'v Value)) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                see(key, value);
                walk(value, see);
            }
        }
        Value::Array(list) => list.iter().for_each(|value| walk(value, see)),
        _ => {}
    }
}

/// ISO 19005-3: 6.2.3 an output intent; 6.5 and 6.6.1 no action but to go to a place in the document;
/// 6.1.3 no encryption; 6.8 each attachment with its relationship, and listed by the catalogue; 6.7.2
/// marked and with a structure, 6.7.4 with a language.
#[test]
fn the_objects_keep_to_the_standard() {
    let pdf = spoilt();
    let objects = pdf.objects();
    let mut keys = std::collections::BTreeSet::new();
    let (mut subtypes, mut related, mut intents) = (Vec::new(), 0, Vec::new());
    walk(&objects, &mut |key, value| {
        keys.insert(key.to_owned());
        match key {
            "/AFRelationship" => {
                assert!(value == "/Source" || value == "/Data", "{value}");
                related += 1;
            }
            "/Subtype" => subtypes.push(value.clone()),
            "/OutputIntents" => intents.push(value.clone()),
            "/S" => assert!(value != "/URI" && value != "/Launch" && value != "/JavaScript"),
            _ => {}
        }
    });
    for key in ["/Encrypt", "/JavaScript", "/JS", "/AA", "/OpenAction", "/URI", "/AcroForm", "/XFA"]
    {
        assert!(!keys.contains(key), "{key}");
    }
    for key in
        ["/StructTreeRoot", "/MarkInfo", "/Lang", "/AF", "/EmbeddedFiles", "/ToUnicode", "/UF"]
    {
        assert!(keys.contains(key), "no {key}");
    }
    assert_eq!(intents.len(), 1);
    assert!(!subtypes.iter().any(|kind| kind == "/Link" || kind == "/Widget"));
    // The manifest, the job, the assessment, the log, its signatures, and the other copy.
    assert_eq!(related, 6);
    let kinds: Vec<&Value> = subtypes
        .iter()
        .filter(|kind| kind.as_str().is_some_and(|kind| kind.contains("json")))
        .collect();
    assert_eq!(kinds.len(), 3, "{subtypes:?}");
}

/// ISO 19005-3, 6.2.11.4: fonts are embedded, and their letters have Unicode values (6.2.11.7).
#[test]
fn both_fonts_are_inside() {
    for (_, bytes) in all() {
        let fonts = Pdf::new(bytes).fonts();
        assert_eq!(fonts.len(), 2, "{fonts:?}");
        for font in fonts {
            // Embedded, a subset, with a map to Unicode.
            assert!(font.contains("CID TrueType") && font.contains("yes yes yes"), "{font}");
        }
    }
}

/// ISO 32000-1, 14.8: headings, tables with heads, lists and figures with another text.
#[test]
fn the_tags_tell_headings_tables_lists_and_figures() {
    let structure = spoilt().structure();
    for tag in ["H1", "H2", "H3", "Sect", "Table", "THead", "TBody", "TR", "TH", "TD", "L", "LI"] {
        let is_there = structure.lines().any(|line| {
            line.split_whitespace().next().map(|word| word.trim_end_matches(':')) == Some(tag)
        });
        assert!(is_there, "no {tag}: {structure}");
    }
    assert!(structure.contains("Figure"), "{structure}");
    let rows = structure.matches("TR").count();
    // 15 requirements and more.
    assert!(rows > 40, "{rows}");
}

#[test]
fn the_paper_is_that_of_the_units() {
    let metric = of(&World::ready());
    assert!(Pdf::new(&all()[0].1).paper().contains("A4"));
    let mut us = metric;
    us.job_text = us.job_text.replace("units = \"metric\"", "units = \"us\"");
    assert!(drawn(&us).paper().contains("letter"));
}

#[test]
fn twelve_weeks_take_less_than_two_mebibytes() {
    let evidence = twelve_weeks();
    let case = Case::of(&evidence, "job.toml").unwrap();
    assert_eq!(case.rooms[0].1.len(), 12_096);
    let bytes = pdf::draw(&evidence).unwrap();
    assert!(bytes.len() < 2 << 20, "{} bytes", bytes.len());
    Pdf::new(&bytes).check();
}
