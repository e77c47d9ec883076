//! Checks of probes from a user's chair: what is noted, and that nothing else changes.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

mod probe_check_site;

use glueday_desk::Fault;
use glueday_types::{Absent, Probe};
use probe_check_site::{HEAD, Site, TAIL, last_value, number, steady};

#[test]
fn a_salt_check_is_noted_and_the_rest_of_the_file_stays() {
    // Greenspan 1977, table: NaCl is 75.47 % at 20 °C and 75.29 % at 25 °C. The probe reads 2.1 % more
    // than what lies between them at 23 °C.
    let site = Site::new(steady(22.0, 23.0, 75.37 + 2.1), 60);
    let said = site.check(&["--room", "Hall", "--channel", "rh", "--salt", "nacl"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    for word in ["undissolved", "CAUTION", "safety data sheet", "at rest for 15 min"] {
        assert!(said.err.contains(word), "no `{word}` in: {}", said.err);
    }
    assert!(said.out.contains("within the limit of 3.0 %RH"), "{said:?}");
    assert!(said.out.contains("known to 0.14 %RH"), "{said:?}");

    let text = site.text();
    let added = text.strip_prefix(HEAD).and_then(|rest| rest.strip_suffix(TAIL)).unwrap();
    assert!(added.starts_with("\n[[probe.check]]\ndate = 20"), "{added}");
    assert_eq!(added.matches("[[").count(), 1, "{added}");
    assert!((number(&last_value(&text, "reference")) - 75.37).abs() < 0.02, "{added}");
    assert!((number(&last_value(&text, "reading")) - 77.47).abs() < 0.06, "{added}");
    assert!((number(&last_value(&text, "temperature")) - 23.0).abs() < 0.02, "{added}");

    let job = site.job();
    let checked = site.run(&["--json", "job", "check", job.to_str().unwrap()]);
    assert_eq!(checked.code, Some(0), "{checked:?}");
    let seen: serde_json::Value = serde_json::from_str(&checked.out).unwrap();
    assert_eq!(seen["probes"][0]["checks"][0]["method"], "salt");
    assert_eq!(seen["probes"][0]["uncertainty"], 2.5);
}

#[test]
fn the_shorter_interval_holds_for_the_check_only() {
    let site = Site::new(steady(0.2, 20.0, 50.0), 600);
    let asked = ["--channel", "slab", "--ice", "--watch", "5 min"];
    let said = site.check(&asked);
    site.assert_refused(&said, &["every 10 min", "fewer than four in 5 min", "--interval"]);
    let said = site.check(&[&asked[..], &["--interval", "1 min"]].concat());
    assert_eq!(said.code, Some(0), "{said:?}");
    assert_eq!(site.end().logger().ring().interval_s(), 600);
}

#[test]
fn a_probe_that_fails_in_between_starts_over_and_is_told() {
    let mut script = steady(22.0, 23.0, 77.4);
    let (from_s, to_s, reason) = (900, 1260, Absent::NoAnswer);
    script.faults = vec![Fault { probe: Probe::Air, from_s, to_s, reason }];
    let site = Site::new(script, 60);
    let said = site.check(&["--json", "--channel", "rh", "--salt", "NaCl", "--watch", "20 min"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.err.contains("started over: rh: the probe does not answer"), "{}", said.err);
    let answer: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(answer["channel"], "rh");
    assert_eq!((&answer["method"], &answer["salt"]), (&"salt".into(), &"NaCl".into()));
    assert_eq!((&answer["unit"], &answer["limit"]), (&"%RH".into(), &3.0.into()));
    assert_eq!((&answer["within"], &answer["written"]), (&true.into(), &true.into()));
    let watched_s = answer["watched_s"].as_u64().unwrap();
    assert!((1200..1320).contains(&watched_s), "{answer}");
    assert!((4..=21).contains(&answer["samples"].as_u64().unwrap()), "{answer}");
    let error = answer["reading"].as_f64().unwrap() - answer["reference"].as_f64().unwrap();
    assert!((answer["error"].as_f64().unwrap() - error).abs() < 1e-9 && error > 1.9, "{answer}");
    assert!((answer["temperature_c"].as_f64().unwrap() - 23.0).abs() < 0.02, "{answer}");
}

#[test]
fn ice_on_the_slab_channel_makes_its_own_section() {
    let site = Site::new(steady(0.3, 20.0, 50.0), 60);
    std::fs::write(site.job(), format!("{HEAD}{TAIL}").replace("metric", "us")).unwrap();
    let said = site.check(&["--channel", "slab", "--ice", "--watch", "5 min"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.err.contains("waterproof") && said.err.contains("mains"), "{}", said.err);
    let text = site.text();
    let job = glueday::job::Job::parse(&text, "hall.toml").unwrap();
    let slab = job.probe("Hall", glueday::job::Channel::Slab).unwrap();
    assert_eq!((slab.room.as_deref(), slab.checks.len()), (Some("Hall"), 1));
    assert_eq!(last_value(&text, "reference"), "\"32.00 F\"");
    // 0.30 °C is 32.54 °F.
    assert!((number(&last_value(&text, "reading")) - 32.54).abs() < 0.03, "{text}");
    assert!(text.starts_with(&HEAD.replace("metric", "us")) && text.ends_with(TAIL), "{text}");
}

#[test]
fn an_error_over_the_limit_is_noted_all_the_same_and_says_so() {
    let site = Site::new(steady(0.8, 20.0, 50.0), 60);
    let said = site.check(&["--channel", "slab", "--ice", "--watch", "5 min"]);
    assert_eq!(said.code, Some(1), "{said:?}");
    assert!(said.out.contains("NOT within the limit of 0.5 °C"), "{said:?}");
    assert!(said.err.contains("replace the probe"), "{said:?}");
    assert!((number(&last_value(&site.text(), "reading")) - 0.8).abs() < 0.02);
}

#[test]
fn a_comparison_in_fahrenheit_is_noted_in_fahrenheit() {
    let site = Site::new(steady(22.0, 20.55, 50.0), 60);
    let asked = ["--channel", "air", "--reference", "68.5 F", "--watch", "5 min"];
    // First without writing: the lines alone are data.
    let said = site.check(&[&asked[..], &["--dry-run"]].concat());
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(
        said.out.starts_with("[[probe]]\nroom = \"Hall\"\nchannel = \"air\"\n\n[[probe.check]]\n")
    );
    assert_eq!(said.out.parse::<toml::Table>().unwrap()["probe"].as_array().unwrap().len(), 1);
    assert_eq!(site.text(), format!("{HEAD}{TAIL}"));

    let said = site.check(&asked);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.err.contains("must still read 68.5 F"), "{}", said.err);
    let text = site.text();
    assert_eq!(last_value(&text, "reference"), "\"68.5 F\"");
    // 20.55 °C is 68.99 °F.
    assert!((number(&last_value(&text, "reading")) - 68.99).abs() < 0.03, "{text}");
}

#[test]
fn a_link_to_the_job_file_and_its_permissions_stay() {
    use std::os::unix::fs::PermissionsExt as _;
    let site = Site::new(steady(22.0, 20.0, 50.0), 60);
    let real = site.folder.path().join("real.toml");
    std::fs::rename(site.job(), &real).unwrap();
    std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o640)).unwrap();
    std::os::unix::fs::symlink(&real, site.job()).unwrap();
    let said = site.check(&["--channel", "air", "--reference", "20.1 C", "--watch", "5 min"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(std::fs::symlink_metadata(site.job()).unwrap().is_symlink());
    assert_eq!(std::fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
    assert!(std::fs::read_to_string(&real).unwrap().contains("[[probe.check]]"));
    let left: Vec<_> = std::fs::read_dir(site.folder.path()).unwrap().collect();
    assert!(left.iter().all(|f| !f.as_ref().unwrap().path().ends_with(".part")), "{left:?}");
}
