//! What the pages say, as another program reads them.

use crate::assess_world::World;
use crate::evidence::{imported, of, spoilt};
use crate::tools::Pdf;
use glueday::assess::caution::PRECEDENCE;
use glueday::record::content::Block;
use glueday::record::{Case, Content, Evidence, files, pdf};
use glueday::view::both;

fn drawn(evidence: &Evidence) -> Pdf {
    Pdf::new(&pdf::draw(evidence).unwrap())
}

#[track_caller]
fn assert_says(words: &str, what: &str) {
    let what = what.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains(&what), "\"{what}\" is not in: {words}");
}

/// Two units of a figure of a requirement, to one decimal.
fn pair(celsius: f64, is_difference: bool) -> String {
    let fahrenheit = if is_difference { celsius * 1.8 } else { celsius.mul_add(1.8, 32.0) };
    format!("{celsius:.1}/{fahrenheit:.1}")
}

#[test]
fn each_requirement_stands_there_with_outcome_figures_and_source() {
    for evidence in [of(&World::ready()), spoilt(), imported()] {
        let case = Case::of(&evidence, "job.toml").unwrap();
        let assessment = case.assess();
        let words = drawn(&evidence).words();
        assert_says(&words, if assessment.is_go() { "Go: glue down" } else { "Wait: glue down" });
        assert_says(&words, &glueday::view::utc_time(evidence.at_s));
        for judged in &assessment.zones[0].judged {
            assert_says(&words, judged.requirement.title);
            let Some(figure) = &judged.finding.figure else { continue };
            assert_says(&words, &format!("Limit {}", figure.limit));
            assert_says(&words, &figure.source);
            if figure.unit.as_str() == "celsius" && judged.requirement.id == "surface-max" {
                assert_says(&words, &pair(figure.observed, false));
                assert_says(&words, &pair(figure.bound, false));
                assert_says(&words, &pair(figure.margin, true));
            }
        }
        for caution in assessment.cautions() {
            assert_says(&words, caution.text);
            assert_says(&words, caution.citation);
        }
        assert_says(&words, PRECEDENCE.text);
        for file in files::write(&evidence, &assessment).unwrap() {
            assert_says(&words, &file.name);
            let digest = <sha2::Sha256 as sha2::Digest>::digest(&file.bytes);
            let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
            assert_says(&words, &hex);
        }
        assert_says(&words, "glueday verify FILE.pdf");
    }
}

#[test]
fn what_is_wrong_is_told() {
    let evidence = spoilt();
    let words = drawn(&evidence).words();
    let (_, logs) = words.split_once("The state of the logs").unwrap();
    assert_says(logs, "samples that no clock sync dates");
    for text in [
        // The gap that the world has, and the limit that its job sets.
        "2 gaps longer than 1 h",
        "power came on",
        "Block 0 was seen in another version",
        "Limits set by the job in place of others",
        "max 55.0 %RH: set by the job: job file",
        "the maker wrote so in May",
        "62.5 %RH, max 55.0 %RH",
        "17.2 °C (63.0 °F), min 18.0 °C (64.4 °F)",
        // The signature.
        "abababababababababababababababababababababababababababababababab",
        "byte 345 of block 2, written 6789 s after start 1",
    ] {
        assert_says(&words, text);
    }
}

#[test]
fn the_limits_of_trust_are_told_for_a_log_without_a_key() {
    let mut evidence = of(&World::ready());
    evidence.logs[0].public_key = None;
    evidence.logs[0].attestations.clear();
    let words = drawn(&evidence).words();
    assert_says(&words, "This logger showed no key: nothing proves that the log is its own.");
    assert_says(&words, "It does not show that a probe lay where it should.");
    let words = drawn(&imported()).words();
    assert_says(&words, "An imported file: it has no key and no signature.");
    assert_says(&words, "the imported file hall (ä).csv");
}

#[test]
fn tests_readings_and_checks_are_told_in_both_units() {
    let evidence = of(&World::ready());
    let case = Case::of(&evidence, "job.toml").unwrap();
    let words = drawn(&evidence).words();
    for test in &case.job.in_situ_tests {
        assert_says(&words, &format!("{:.1} %RH", test.reading.unwrap().percent()));
    }
    let mut checks = 0;
    for check in case.job.probes.iter().flat_map(|probe| &probe.checks) {
        assert_says(&words, &check.date.to_string());
        checks += 1;
    }
    assert!(checks > 0 && !case.job.in_situ_tests.is_empty());
    let zero = both(glueday::limits::LimitUnit::Celsius, 0.0, case.job.site.units);
    assert_eq!(zero, "0.0 °C (32.0 °F)");
    assert_says(&words, &zero);
}

#[test]
fn letters_that_the_fonts_lack_are_told_and_stay_in_the_text() {
    let mut evidence = of(&World::ready());
    let note = "\u{fffd} stands for a letter";
    assert!(!drawn(&evidence).words().contains(note));
    evidence.job_text = evidence.job_text.replace("Test house", "床暖房 Дом");
    let words = drawn(&evidence).words();
    assert_says(&words, note);
    assert_says(&words, "床暖房 Дом");
}

/// Every page ends with what it belongs to, and tables have their heads on each.
#[test]
fn pages_are_numbered_and_tables_go_on_with_their_heads() {
    let text = drawn(&spoilt()).text();
    let pages: Vec<&str> = text.split('\u{c}').filter(|page| !page.trim().is_empty()).collect();
    assert!(pages.len() >= 5);
    for (i, page) in pages.iter().enumerate() {
        let last = page.trim_end().lines().last().unwrap();
        assert!(last.contains(&format!("page {} of {}", i + 1, pages.len())), "{last}");
        assert!(last.contains("Wait: glue down the floor, Test house"), "{last}");
    }
}

/// However much stands before it, no heading is the last thing of a page.
#[test]
fn no_heading_stands_alone_at_the_foot_of_a_page() {
    let mut evidence = spoilt();
    let mut feet = 0;
    for _ in 0..7 {
        // Some rows more each time.
        let row =
            "\n[[meter-reading]]\ndate = 2026-02-27\nof = \"subfloor\"\nreadings = [\"9.9 %\"]\n";
        evidence.job_text.push_str(&row.repeat(3));
        let case = Case::of(&evidence, "job.toml").unwrap();
        let content = Content::of(&case, &case.assess(), &evidence, &[]);
        let within = content.sections.iter().flat_map(|section| &section.blocks);
        let within = within.filter_map(|block| match block {
            Block::Heading(text) => Some(text),
            _ => None,
        });
        let headings: Vec<&String> =
            content.sections.iter().map(|section| &section.heading).chain(within).collect();
        for page in drawn(&evidence).text().split('\u{c}') {
            let lines = page.trim_end().lines().rev().skip(1);
            let last = lines.map(str::trim).find(|line| !line.is_empty()).unwrap_or_default();
            assert!(!headings.iter().any(|heading| *heading == last), "{last} stands alone");
            feet += 1;
        }
    }
    assert!(feet > 7 * 5);
}

/// A table that is longer than a page has its head on each, and loses no row.
#[test]
fn a_long_table_loses_no_row() {
    let mut evidence = of(&World::ready());
    for i in 0..150 {
        evidence.job_text.push_str(&format!(
            "\n[[meter-reading]]\ndate = 2026-03-01\nof = \"subfloor\"\nroom = \"Hall\"\nreadings = [\"{}.{} %\"]\n",
            6 + i / 100,
            i % 10
        ));
    }
    evidence.job_text.push_str(
        "\n[[meter-reading]]\ndate = 2026-02-27\nof = \"subfloor\"\nreadings = [\"9.9 %\"]\n",
    );
    let pdf = drawn(&evidence);
    let text = pdf.text();
    let rows = text.lines().filter(|line| line.contains("wood subfloor")).count();
    assert_eq!(rows, 151);
    let heads = text.lines().filter(|l| l.contains("Lowest") && l.contains("Highest")).count();
    assert!(heads >= 4, "{heads}");
}

/// A cell that is higher than a page is broken between its lines.
#[test]
fn a_row_higher_than_a_page_is_broken_and_not_cut() {
    let mut evidence = of(&World::ready());
    let words: Vec<String> = (0..3000).map(|i| format!("word{i}")).collect();
    evidence.job_text =
        evidence.job_text.replacen("hole = \"", &format!("hole = \"{} ", words.join(" ")), 1);
    assert!(evidence.job_text.contains("word2999"));
    let found = drawn(&evidence).words();
    let all = words.iter().filter(|word| found.contains(word.as_str())).count();
    assert_eq!(all, 3000);
}
