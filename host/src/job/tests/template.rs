//! The template, as it is and with every key switched on.

use crate::job::*;
use crate::limits::LimitId;
use crate::quantity::Units;

#[test]
fn the_template_parses_as_it_is() {
    for units in [Units::Us, Units::Metric] {
        let text = Job::template("North \"house\" @zone@ <a|b>", "America/Denver", units);
        let job = Job::parse(&text, "new.toml").unwrap_or_else(|errors| panic!("{errors}\n{text}"));
        assert_eq!(job.site.name, "North \"house\" @zone@ <a|b>");
        assert_eq!(job.site.units, units);
        assert_eq!(job.zones.len(), 1);
        assert_eq!(job.wood, Wood::default());
        let wide = text.lines().find(|line| line.chars().count() > 100);
        assert_eq!(wide, None);
    }
}

#[test]
fn the_template_names_a_logger_when_it_is_told_one() {
    let plain = Job::template("Lot 7", "America/Denver", Units::Us);
    assert_eq!(Job::parse(&plain, "new.toml").unwrap().zones[0].logger, None);
    let name = "hall \"2\" @name@ # logger";
    let text = Job::template_with_logger("Lot 7", "America/Denver", Units::Us, name);
    let job = Job::parse(&text, "new.toml").unwrap();
    assert_eq!(job.zones[0].logger, Some(LoggerRef::Name(name.to_owned())));
    // And nothing else is different.
    let differing = plain.lines().zip(text.lines()).filter(|(a, b)| a != b);
    assert_eq!((differing.count(), plain.lines().count()), (1, text.lines().count()));
}

#[test]
fn the_template_parses_with_every_key_switched_on() {
    for units in [Units::Us, Units::Metric] {
        let text = Job::template("North house", "America/Denver", units);
        let on: Vec<&str> = text.lines().map(switched_on).collect();
        let on = on.join("\n");
        let job = Job::parse(&on, "new.toml").unwrap_or_else(|errors| panic!("{errors}\n{on}"));
        // Every key of the reader is in the template: nothing is left unknown.
        let mut unknown = Vec::new();
        nulls(&serde_json::to_value(&job).unwrap(), "", &mut unknown);
        // Given in one of two ways.
        assert_eq!(unknown, ["/wood/conductivity-w-per-m-k"]);
        assert_eq!(job.probes[0].checks.len(), 1);
        assert_eq!(job.limit_overrides[0].id, LimitId::InSituRhMax);
        assert_eq!(job.meter_readings[0].readings.len(), 3);
    }
}

/// `#key = ...` without its `#`; prose, which has a space behind it, as it is.
fn switched_on(line: &str) -> &str {
    match line.strip_prefix('#') {
        Some(key) if !key.is_empty() && !key.starts_with(' ') => key,
        _ => line,
    }
}

fn nulls(value: &serde_json::Value, path: &str, found: &mut Vec<String>) {
    match value {
        serde_json::Value::Null => found.push(path.to_owned()),
        serde_json::Value::Array(items) => {
            assert!(!items.is_empty(), "{path} is empty");
            items
                .iter()
                .enumerate()
                .for_each(|(i, item)| nulls(item, &format!("{path}/{i}"), found));
        }
        serde_json::Value::Object(fields) => {
            fields.iter().for_each(|(key, item)| nulls(item, &format!("{path}/{key}"), found));
        }
        _ => {}
    }
}

#[test]
fn every_template_key_has_a_comment_and_hazards_have_cautions() {
    let text = Job::template("North house", "America/Denver", Units::Metric);
    for line in text.lines().map(switched_on) {
        let is_key = line.split_once(" = ").is_some_and(|(key, _)| !key.starts_with('#'));
        assert!(!is_key || line.contains("  # "), "no comment: {line}");
    }
    for word in ["tendons", "silica", "isocyanate", "solvent", "safety data sheet", "sanding dust"]
    {
        assert!(text.contains(word), "{word}");
    }
}

proptest::proptest! {
    #[test]
    fn no_damage_to_a_file_panics(cut in 0_usize..12_000, byte in 0_u8..128, at in 0_usize..12_000) {
        let text = Job::template("North house", "America/Denver", Units::Us);
        let on: Vec<&str> = text.lines().map(switched_on).collect();
        let mut bytes = on.join("\n").into_bytes();
        if let Some(place) = bytes.get_mut(at) {
            *place = byte;
        }
        bytes.truncate(cut);
        let text = String::from_utf8_lossy(&bytes);
        // Read or refused, but never silent about a refusal.
        if let Err(errors) = Job::parse(&text, "f") {
            proptest::prop_assert!(errors.iter().count() > 0);
        }
    }
}
