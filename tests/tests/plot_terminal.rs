//! `plot --terminal`, word for word against `fixtures/text`, and what goes with it on the command line.
//!
//! A file is only rewritten when `GLUEDAY_REWRITE_TEXTS` is set; read what it then holds.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

mod assess_world;

use assess_world::{D0, HOUR, Of, World, t};
use glueday_tests::programs::{Said, program};
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

const REWRITE: &str = "GLUEDAY_REWRITE_TEXTS";

/// A job on disk, and an archive with its log, which came as CSV.
struct Site {
    folder: tempfile::TempDir,
    at: String,
}

impl Site {
    fn new(world: &World) -> Self {
        let (day, s) = ((world.at_s - D0) / 86_400, (world.at_s - D0) % 86_400);
        let at = format!("2026-03-{:02}T{:02}:{:02}:00Z", day + 2, s / 3600, s / 60 % 60);
        let site = Self { folder: tempfile::tempdir().unwrap(), at };
        let mut csv = "time,slab,air,rh,supply\n".to_owned();
        let cell = |value: Option<f64>| value.map_or(String::new(), |value| format!("{value:.2}"));
        for reads in &world.samples {
            let (s, a, r, p) = (reads.slab, reads.air, reads.rh, reads.supply);
            writeln!(csv, "{},{},{},{},{}", reads.time_s, cell(s), cell(a), cell(r), cell(p))
                .unwrap();
        }
        std::fs::write(site.path("log.csv"), csv).unwrap();
        let job = world.job.replace("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall logger\"");
        std::fs::write(site.path("job.toml"), job).unwrap();
        let said = site.run(
            &[
                "import",
                "log.csv",
                "--name",
                "hall logger",
                "--time-format",
                "unix-s",
                "--column",
                "time=time",
                "--column",
                "slab=slab[C]",
                "--column",
                "air=air[C]",
                "--column",
                "rh=rh[%]",
                "--column",
                "supply=supply[C]",
            ],
            &[],
        );
        assert_eq!(said.code, Some(0), "{said:?}");
        site
    }

    fn path(&self, name: &str) -> std::path::PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, args: &[&str], variables: &[(&str, &str)]) -> Said {
        let mut command = Command::new(program("glueday"));
        command.current_dir(self.folder.path()).args(["--archive", "archive.sqlite"]).args(args);
        for name in ["COLUMNS", "NO_COLOR", "LC_ALL", "LC_CTYPE", "LANG"] {
            command.env_remove(name);
        }
        command.envs(variables.iter().copied());
        Said::from(command.output().unwrap())
    }

    /// `plot` at the time of the world, with more arguments.
    fn plot(&self, more: &[&str], variables: &[(&str, &str)]) -> Said {
        let mut args = vec!["plot", "job.toml", "--at", &self.at];
        args.extend(more);
        self.run(&args, variables)
    }
}

const UTF8: (&str, &str) = ("LANG", "en_US.UTF-8");
const ASCII: (&str, &str) = ("LANG", "C");

#[track_caller]
fn assert_golden(name: &str, said: &Said, columns: usize) {
    assert!(said.err.is_empty(), "{said:?}");
    assert!(!said.out.contains('\u{1b}'), "colours in a pipe: {said:?}");
    // All signs of these charts are one column wide.
    let widest = said.out.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(columns), "{widest:?} columns: {}", said.out);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("fixtures/text/{name}.txt"));
    if std::env::var_os(REWRITE).is_some() {
        std::fs::write(&path, &said.out).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        golden == said.out,
        "{name}.txt differs; if the new text is right, set {REWRITE}=1, run again and read it.\n\
         --- was\n{golden}\n--- is\n{}",
        said.out
    );
}

/// A spell of damp air, one cold sample, a hole in the log and a supply probe that was silent.
fn eventful() -> World {
    let mut world = World::ready();
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    world.set(Of::Slab, t(5, 5, 0), t(5, 5, 0), 14.5);
    world.set(Of::Supply, t(6, 0, 0), t(8, 0, 0), None);
    world.gap(t(3, 0, 0), 30 * HOUR);
    world
}

#[test]
fn a_go_at_80_columns() {
    let said = Site::new(&World::ready()).plot(&["--terminal"], &[UTF8]);
    assert_eq!(said.code, Some(0));
    assert_golden("plot-go", &said, 80);
}

#[test]
fn a_wait_at_80_and_120_columns_and_in_ascii() {
    let site = Site::new(&eventful());
    for (name, locale, columns) in [
        ("plot-wait", UTF8, None),
        ("plot-wait-120", UTF8, Some("120")),
        ("plot-wait-ascii", ASCII, None),
        ("plot-wait-ascii-120", ASCII, Some("120")),
    ] {
        let columns = columns.map(|columns| ("COLUMNS", columns));
        let variables: Vec<_> = [locale].into_iter().chain(columns).collect();
        let said = site.plot(&["--terminal"], &variables);
        assert_eq!(said.code, Some(1), "{said:?}");
        let is_ascii = locale == ASCII;
        assert_eq!(said.out.is_ascii(), is_ascii, "{}", said.out);
        assert_golden(name, &said, columns.map_or(80, |(_, columns)| columns.parse().unwrap()));
    }
}

#[test]
fn one_day_of_a_log_and_no_log() {
    let site = Site::new(&eventful());
    let day = ["--terminal", "--from", "2026-03-13 00:00", "--to", "2026-03-14"];
    assert_golden("plot-day", &site.plot(&day, &[UTF8]), 80);
    let before = ["--terminal", "--from", "2026-02-01", "--to", "2026-02-03"];
    assert_golden("plot-before", &site.plot(&before, &[UTF8]), 80);
}

#[test]
fn one_room_or_all_on_screen_and_in_files() {
    let mut world = World::ready();
    world.edit(
        "name = \"Hall\"",
        "name = \"Hall\"\n[[room]]\nname = \"Bath 1\"\n[[room]]\nname = \"Bath-1\"",
    );
    let site = Site::new(&world);
    let rooms = |said: &Said| -> Vec<String> {
        let heads = said.out.lines().filter_map(|line| line.split_once("Test house: "));
        heads.map(|(_, room)| room.to_owned()).collect()
    };
    let all = site.plot(&["--terminal"], &[UTF8]);
    // The others have no logger.
    assert_eq!(
        (rooms(&all), all.code),
        (vec!["Hall".into(), "Bath 1".into(), "Bath-1".into()], Some(1))
    );
    let one = site.plot(&["--terminal", "--room", "Bath-1"], &[UTF8]);
    assert_eq!(rooms(&one), ["Bath-1"]);

    let size = ["--size", "600x600", "-o", "site.svg"];
    let all = site.plot(&size, &[]);
    let files = ["site-hall.svg", "site-bath-1.svg", "site-bath-1-2.svg"];
    assert_eq!(all.out.lines().collect::<Vec<_>>(), files);
    let svg = |file: &str| std::fs::read_to_string(site.path(file)).unwrap();
    assert!(svg(files[1]).contains("Test house: Bath 1<") || svg(files[1]).contains("Bath 1\n"));
    assert!(svg(files[2]).contains("Bath-1"));

    let one = [size.as_slice(), &["--room", "Hall", "--json"]].concat();
    let said = site.plot(&one, &[]);
    let json: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let expected =
        serde_json::json!({"schema": 1, "pictures": [{"room": "Hall", "file": "site.svg"}]});
    assert_eq!((json, said.code), (expected, Some(0)));
}

#[test]
fn arguments_that_make_no_sense_are_refused() {
    let site = Site::new(&World::ready());
    for (args, words) in [
        (vec![], "--output"),
        (vec!["--terminal", "--json"], "cannot be used with"),
        (vec!["-o", "a.png", "--size", "letter"], "a4"),
        (vec!["-o", "a.png", "--letters", "401"], "50..=400"),
        (vec!["--terminal", "--from", "2026-03-09", "--last", "2 d"], "cannot be used with"),
        (vec!["--terminal", "--from", "2026-03-09", "--to", "2026-03-09"], "--from"),
    ] {
        let said = site.plot(&args, &[]);
        assert_eq!(said.code, Some(2), "{args:?}: {said:?}");
        assert!(said.err.contains(words) && said.out.is_empty(), "{args:?}: {said:?}");
    }
}

#[test]
fn the_help_has_three_examples_that_parse() {
    let site = Site::new(&World::ready());
    let help = site.run(&["plot", "--help"], &[]).out;
    let examples = help.lines().filter(|line| line.trim().starts_with("glueday plot "));
    assert_eq!(examples.count(), 3, "{help}");
    for flag in
        ["--from", "--to", "--last", "--room", "--size", "--letters", "--dark", "--terminal"]
    {
        assert!(help.contains(flag), "{flag}: {help}");
    }
}
