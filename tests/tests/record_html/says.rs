//! What a page says, as a browser reads it: all that the content of the record has, as the PDF does.

use crate::browser::look;
use crate::scenes::{PRODUCT, ROOM, SITE, go, read, wait};
use glueday::assess::caution::PRECEDENCE;
use glueday::record::content::{Block, Content, Section, Table};
use glueday::record::{Case, files, html};

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every text of a content, in order.
fn texts(content: &Content) -> Vec<String> {
    let verdict = &content.verdict;
    let mut texts = vec![
        content.title.clone(),
        verdict.word.to_owned(),
        verdict.site.clone(),
        format!("{}: {}", verdict.word, verdict.step),
        verdict.at_local.clone(),
        verdict.at_utc.clone(),
    ];
    texts.extend(verdict.lines.iter().cloned());
    if verdict.rooms.len() > 1 {
        for room in &verdict.rooms {
            texts.extend([format!("{}: {}", room.name, room.word), room.text.clone()]);
        }
    }
    for section in &content.sections {
        texts.push(section.heading.clone());
        for block in &section.blocks {
            match block {
                Block::Heading(text) | Block::Text(text) => texts.push(text.clone()),
                Block::List(items) => texts.extend(items.iter().cloned()),
                Block::Facts(facts) => {
                    texts
                        .extend(facts.iter().flat_map(|(name, text)| [name.clone(), text.clone()]));
                }
                Block::Table(table) => texts.extend(of_table(table)),
                Block::Chart(_) => {}
            }
        }
    }
    texts.push(content.footer.clone());
    texts
}

fn of_table(table: &Table) -> Vec<String> {
    let mut texts: Vec<String> = table.columns.iter().map(|c| c.head.to_owned()).collect();
    for row in &table.rows {
        texts.extend(row.cells.iter().map(|cell| cell.text.clone()));
        texts.extend(row.notes.iter().cloned());
    }
    texts
}

#[test]
fn every_text_of_the_content_is_read_in_its_order() {
    for evidence in [go(), wait()] {
        let case = Case::of(&evidence, files::JOB).unwrap();
        let assessment = case.assess();
        let attached = files::write(&evidence, &assessment).unwrap();
        let content = Content::of(&case, &assessment, &evidence, &attached);
        let seen = look(&html::draw(&evidence).unwrap(), 1200, &[]);
        let text = words(&seen.text.replace('\n', " \n "));
        // Parted by nothing but tags: compared without blanks.
        let (text, mut at) = (text.replace(' ', ""), 0);
        let texts = texts(&content);
        assert!(texts.len() > 200, "{}", texts.len());
        for expected in texts {
            let expected = words(&expected).replace(' ', "");
            let found = text[at..].find(&expected);
            assert!(found.is_some(), "\"{expected}\" is not in: {}", &text[at..]);
            at += found.unwrap();
        }
    }
}

/// The figures of tables that have a column for units, each with its unit.
fn figures_with_units(section: &Section) -> Vec<String> {
    let mut figures = Vec::new();
    for block in &section.blocks {
        let Block::Table(table) = block else { continue };
        let Some(at) = table.columns.iter().position(|column| column.is_unit) else { continue };
        for row in table.rows.iter().filter(|row| !row.cells[at].text.is_empty()) {
            let cells = row.cells.iter().zip(&table.columns).filter(|(_, it)| it.is_figures);
            figures.extend(cells.map(|(cell, _)| format!("{} {}", cell.text, row.cells[at].text)));
        }
    }
    figures
}

#[test]
fn a_phone_shows_verdict_requirements_both_units_and_cautions() {
    for (evidence, verdict) in [(go(), "Go: glue down"), (wait(), "Wait: glue down")] {
        let case = Case::of(&evidence, files::JOB).unwrap();
        let assessment = case.assess();
        let seen = look(&html::draw(&evidence).unwrap(), 390, &[]);
        let shown = words(&seen.shown);
        assert!(shown.contains(verdict), "{shown}");
        for judged in assessment.zones.iter().flat_map(|zone| &zone.judged) {
            assert!(shown.contains(judged.requirement.title), "{}", judged.requirement.title);
        }
        for caution in assessment.cautions() {
            assert!(shown.contains(&words(caution.text)), "{}", caution.text);
        }
        assert!(shown.contains(&words(PRECEDENCE.text)));
        // The unit stands at each figure, not in a column of its own.
        let attached = files::write(&evidence, &assessment).unwrap();
        let content = Content::of(&case, &assessment, &evidence, &attached);
        let figures: Vec<String> = content.sections.iter().flat_map(figures_with_units).collect();
        assert!(figures.iter().any(|figure| figure.ends_with(" °C/°F")), "{figures:?}");
        for figure in figures {
            assert!(shown.contains(&figure), "{figure} is not in {shown}");
        }
        assert!(seen.requests.is_empty());
    }
}

#[test]
fn names_read_as_they_were_written() {
    let seen = look(&html::draw(&wait()).unwrap(), 390, &[]);
    let shown = words(&seen.shown);
    for name in [SITE, ROOM, PRODUCT] {
        let name = words(&read(name));
        assert!(shown.contains(&name), "{name} is not in {shown}");
    }
}

/// Each chart has all panels with their units, and a strip for every requirement with its outcome.
#[test]
fn charts_show_every_panel_and_a_strip_for_each_requirement() {
    for evidence in [go(), wait()] {
        let assessment = Case::of(&evidence, files::JOB).unwrap().assess();
        let page = html::draw(&evidence).unwrap();
        for width in [390, 1200] {
            let seen = look(&page, width, &[]);
            assert_eq!(seen.chart_texts.len(), assessment.zones.len());
            for (texts, zone) in seen.chart_texts.iter().zip(&assessment.zones) {
                let has = |part: &str| texts.iter().any(|text| text.contains(part));
                for part in ["Temperature, °C", "Heating supply, °C", "Air RH, %", "Wood EMC"] {
                    assert!(has(part), "no {part} at {width}: {texts:?}");
                }
                for part in ["slab max", "supply max", "range for wood", "adhesive max"] {
                    assert!(has(part), "no limit {part} at {width}: {texts:?}");
                }
                for judged in &zone.judged {
                    let title = judged.requirement.title;
                    assert!(texts.iter().any(|text| text == title), "no {title} at {width}");
                }
                assert!(!has("want of room"), "{texts:?}");
            }
        }
    }
}

/// One heading of the first rank, and none that skips one; heads of tables say what they head; charts
/// and navigation have names.
#[test]
fn a_screen_reader_finds_its_way() {
    let page = html::draw(&wait()).unwrap();
    assert!(page.contains("<html lang=\"en\">"));
    let seen = look(&page, 390, &[]);
    assert_eq!(seen.unnamed, Vec::<String>::new());
    assert_eq!(seen.headings.iter().filter(|heading| *heading == "H1").count(), 1);
    assert_eq!(seen.headings[0], "H1");
    let ranks: Vec<u32> = seen.headings.iter().map(|h| h[1..].parse().unwrap()).collect();
    assert!(ranks.windows(2).all(|pair| pair[1] <= pair[0] + 1), "{:?}", seen.headings);
    assert!(page.contains("aria-label=\"Chart of room Hall from "));
}
