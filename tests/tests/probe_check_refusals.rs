//! Checks of probes that come to nothing: each says why and what to do, and leaves the job file alone.
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
use glueday_tests::programs::{Said, program};
use glueday_types::{Absent, Probe};
use probe_check_site::{HEAD, Site, TAIL, drifting_jar, steady};
use std::io::{BufRead as _, BufReader, Read as _};
use std::process::{Command, Stdio};

#[test]
fn a_jar_that_warms_is_refused_and_the_interval_is_set_back() {
    let site = Site::new(drifting_jar(0.5), 600);
    let said = site.check(&[
        "--channel",
        "rh",
        "--salt",
        "NaCl",
        "--interval",
        "1 min",
        "--give-up",
        "40 min",
    ]);
    // Half a kelvin an hour is 0.125 K in the 15 min; noise can bring the spread of it below 0.10 K.
    let words = ["the temperature of the jar ", "at most 0.", "draught", "gave up after 40 min"];
    site.assert_refused(&said, &words);
    let told = said.err.lines().last().unwrap();
    assert!(told.contains("moved by 0.1") || told.contains("°C an hour (at most 0.30"), "{told}");
    assert!(said.err.contains("nothing was written"), "{}", said.err);
    let desk = site.end();
    assert_eq!(desk.logger().ring().interval_s(), 600);
    // In forty minutes: a handful of entries at ten minutes, and about forty at one.
    assert!(desk.logger().ring().entries() > 30, "the interval was never a minute");
}

#[test]
fn a_probe_that_does_not_come_back_is_given_up() {
    let mut script = steady(22.0, 23.0, 77.4);
    let (from_s, to_s, reason) = (300, u64::MAX, Absent::BadChecksum);
    script.faults = vec![Fault { probe: Probe::Air, from_s, to_s, reason }];
    let site = Site::new(script, 60);
    let said = site.check(&["--channel", "rh", "--salt", "NaCl", "--give-up", "20 min"]);
    site.assert_refused(&said, &["gave up after 20 min", "wrong checksum", "cable"]);
}

#[test]
fn a_probe_that_lies_on_the_bench_is_no_check_of_it() {
    let site = Site::new(steady(21.3, 20.0, 50.0), 60);
    let said =
        site.check(&["--channel", "slab", "--ice", "--watch", "5 min", "--give-up", "10 min"]);
    site.assert_refused(&said, &["reads 21.3 °C", "put it there", "nothing was written"]);
}

#[test]
fn a_jar_out_of_range_is_refused_at_once_with_the_reason() {
    let site = Site::new(steady(22.0, 31.0, 43.0), 60);
    let said = site.check(&["--channel", "rh", "--salt", "K2CO3"]);
    site.assert_refused(&said, &["temperature of the salt", "0 to 30 °C"]);
    let site = Site::new(steady(22.0, 4.0, 75.0), 60);
    let said = site.check(&["--channel", "rh", "--salt", "NaCl"]);
    site.assert_refused(&said, &["temperature of the jar", "5 to 40", "nothing was written"]);
}

#[test]
fn a_logger_that_is_cut_off_leaves_the_job_file_as_it_was() {
    let site = Site::new(steady(22.0, 20.0, 50.0), 60);
    let link = site.folder.path().join("port");
    let mut logger = Command::new(program("glueday-desk"))
        .args(["--interval", "10", "--logger", "70726f626543686b", "--image"])
        .arg(site.folder.path().join("other.flash"))
        .arg("--pty")
        .arg(&link)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut place = String::new();
    BufReader::new(logger.stdout.take().unwrap()).read_line(&mut place).unwrap();
    let port = place.trim().strip_prefix("pty:").unwrap();
    let mut check = Command::new(program("glueday"))
        .args(["probe-check", "--channel", "air", "--reference", "20 C", "--interval", "1 min"])
        .args(["--port", port])
        .arg(site.job())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut err = BufReader::new(check.stderr.take().unwrap());
    let mut told = String::new();
    while !told.contains("watching until") {
        assert!(err.read_line(&mut told).unwrap() > 0, "{told}");
    }
    // SIGKILL: it goes as a pulled plug does.
    logger.kill().unwrap();
    logger.wait().unwrap();
    err.read_to_string(&mut told).unwrap();
    let mut out = String::new();
    check.stdout.take().unwrap().read_to_string(&mut out).unwrap();
    let said = Said { code: check.wait().unwrap().code(), out, err: told };
    site.assert_refused(&said, &[port, "nothing was written", "the logger goes on with a sample"]);
}

#[test]
fn a_job_file_that_cannot_take_a_check_is_told_before_anybody_waits() {
    let site = Site::new(steady(22.0, 20.0, 50.0), 60);
    let (site_and_room, _) = HEAD.split_once("[[probe]]").unwrap();
    let one_line = format!("probe = [{{ channel = \"air\" }}]\n{site_and_room}{TAIL}");
    std::fs::write(site.job(), &one_line).unwrap();
    let said = site.check(&["--channel", "air", "--reference", "20 C", "--watch", "5 min"]);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.err.contains("[[probe]]") && !said.err.contains("watching"), "{}", said.err);
    assert_eq!(site.text(), one_line);
}

#[test]
fn a_job_file_that_is_broken_meanwhile_does_not_cost_the_check() {
    let site = Site::new(steady(0.2, 20.0, 50.0), 60);
    let job = site.job();
    let editor = std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(900));
        std::fs::write(job, "[site\n").unwrap();
    });
    let said = site.check(&["--channel", "slab", "--ice", "--watch", "10 min"]);
    editor.join().unwrap();
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{said:?}");
    for word in
        ["hall.toml:1:", "not written; add it by hand", "[[probe.check]]\n", "reading = \"0."]
    {
        assert!(said.err.contains(word), "no `{word}` in: {}", said.err);
    }
    assert_eq!(site.text(), "[site\n");
}

#[test]
fn a_read_only_job_file_is_told_before_anybody_waits() {
    let site = Site::new(steady(22.0, 20.0, 50.0), 60);
    let mut permissions = std::fs::metadata(site.job()).unwrap().permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(site.job(), permissions).unwrap();
    let asked = ["--channel", "air", "--reference", "20 C", "--watch", "5 min"];
    let said = site.check(&asked);
    site.assert_refused(&said, &["hall.toml", "read-only", "--dry-run"]);
    assert!(!said.err.contains("watching"), "{}", said.err);
    assert_eq!(site.check(&[&asked[..], &["--dry-run"]].concat()).code, Some(0));
}

#[test]
fn what_does_not_fit_is_told_before_the_logger_is_asked() {
    let site = Site::new(steady(22.0, 20.0, 50.0), 60);
    for (args, words) in [
        (
            &["--channel", "rh", "--ice"][..],
            &["ice checks temperature", "salt checks humidity"][..],
        ),
        (&["--channel", "slab", "--salt", "NaCl"], &["salt checks humidity"]),
        (&["--channel", "rh", "--salt", "Mg(NO3)2"], &["2.0 %RH", "NaCl or MgCl2"]),
        (&["--channel", "rh", "--salt", "sugar"], &["NaCl, ", "K2SO4"]),
        (&["--channel", "air", "--reference", "20.3"], &["no unit", "C or F"]),
        (&["--channel", "rh", "--reference", "20.3 C"], &["not a unit of relative humidity"]),
        (&["--channel", "air"], &["--ice", "--salt", "--reference"]),
        (&["--channel", "air", "--ice", "--reference", "0 C"], &["cannot be used with"]),
        (&["--channel", "air", "--ice", "--watch", "1 min"], &["too short", "5 min"]),
        (&["--channel", "air", "--ice", "--give-up", "15 min"], &["longer than the watched time"]),
        (&["--channel", "air", "--ice", "--room", "Attic"], &["Attic", "Hall"]),
    ] {
        let said = site.check(args);
        site.assert_refused(&said, words);
        assert!(!said.err.contains("watching"), "{}", said.err);
    }
}

#[test]
fn the_logger_of_another_room_is_refused() {
    let site = Site::new(steady(0.0, 20.0, 50.0), 60);
    let asked = ["--channel", "slab", "--ice", "--watch", "5 min"];
    let other = format!("{HEAD}{TAIL}").replace("70726f626543686b", "0123456789abcdef");
    std::fs::write(site.job(), &other).unwrap();
    let said = site.check(&asked);
    assert_eq!(said.code, Some(2), "{said:?}");
    for word in ["70726f626543686b", "0123456789abcdef", "Hall"] {
        assert!(said.err.contains(word), "{}", said.err);
    }
    assert_eq!(site.text(), other);
    // A name that nobody gave to a logger says nothing either way.
    std::fs::write(site.job(), other.replace("0123456789abcdef", "hall logger")).unwrap();
    let said = site.check(&[&asked[..], &["--dry-run"]].concat());
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.err.contains("cannot tell whether this is the logger of room Hall"), "{said:?}");
    // A name that another one has does.
    assert_eq!(site.run(&["adopt", "--port", &site.port, "--name", "den logger"]).code, Some(0));
    assert_eq!(site.check(&[&asked[..], &["--dry-run"]].concat()).code, Some(0));
    let two_rooms =
        other.replace("0123456789abcdef", "den logger") + "\n[[room]]\nname = \"Den\"\n";
    std::fs::write(site.job(), two_rooms).unwrap();
    let said = site.check(&asked);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.err.contains("--room: Hall, Den"), "{said:?}");
    let said = site.check(&[&asked[..], &["--room", "Hall"]].concat());
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(!said.err.contains("note:"), "{said:?}");
}
