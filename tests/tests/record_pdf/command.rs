//! `record` as a user runs it.

use crate::assess_world::{D0, Of, World, t};
use crate::tools::Pdf;
use glueday::archive::Archive;
use glueday_tests::programs::{Said, program};
use glueday_types::{BLOCK_LEN, LoggerId};
use std::path::PathBuf;
use std::process::Command;

const LOGGER: LoggerId = LoggerId(*b"worldlog");

/// A job file, and an archive with the log of a world.
struct Site {
    folder: tempfile::TempDir,
    at: String,
}

impl Site {
    fn new(world: &World) -> Self {
        Self::with(world, &world.blocks())
    }

    fn with(world: &World, blocks: &[Vec<u8>]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut archive = Archive::create(&folder.path().join("archive.sqlite")).unwrap();
        archive.adopt(LOGGER, "hall logger", None, D0).unwrap();
        for block in blocks {
            if block.len() == BLOCK_LEN {
                archive.put_block(LOGGER, block, "test", D0).unwrap();
            } else {
                archive.extend_open_block(LOGGER, block, "test", D0).unwrap();
            }
        }
        let mut world = world.clone();
        world.edit("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall logger\"");
        std::fs::write(folder.path().join("job.toml"), &world.job).unwrap();
        Self { folder, at: glueday::view::utc_time(world.at_s) }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, args: &[&str], environment: &[(&str, &str)]) -> Said {
        let mut command = Command::new(program("glueday"));
        command.current_dir(self.folder.path()).args(["--archive", "archive.sqlite"]).args(args);
        Said::from(command.envs(environment.iter().copied()).output().unwrap())
    }

    fn record(&self, name: &str) -> Said {
        self.run(&["record", "job.toml", "--at", &self.at, "-o", name], &[])
    }

    fn pdf(&self, name: &str) -> Pdf {
        Pdf::new(&std::fs::read(self.path(name)).unwrap())
    }
}

fn cold() -> World {
    let mut world = World::ready();
    world.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    world
}

#[test]
fn a_go_and_a_wait_both_make_a_record_and_say_which() {
    for (world, code, verdict) in [(World::ready(), 0, "go"), (cold(), 1, "wait")] {
        let site = Site::new(&world);
        let said = site.record("hall.pdf");
        assert_eq!(said.code, Some(code), "{said:?}");
        assert!(said.out.is_empty(), "{said:?}");
        let bytes = std::fs::read(site.path("hall.pdf")).unwrap();
        let digest = <sha2::Sha256 as sha2::Digest>::digest(&bytes);
        let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        let expected =
            format!("hall.pdf: {} bytes, verdict {verdict}\nSHA-256 {hex}\n", bytes.len());
        assert_eq!(said.err, expected);
        assert!(
            site.pdf("hall.pdf").words().to_lowercase().contains(&format!("{verdict}: glue down"))
        );

        let at = &site.at;
        let said = site.run(&["--json", "record", "job.toml", "--at", at, "-o", "again.pdf"], &[]);
        let document: serde_json::Value = serde_json::from_str(&said.out).unwrap();
        assert_eq!(document["verdict"], verdict);
        assert_eq!(document["sha256"], hex.as_str());
        assert_eq!(document["bytes"], bytes.len());
    }
}

/// `check` and `record` cannot differ: the assessment inside is what `check --json` prints.
#[test]
fn the_assessment_inside_is_that_of_check() {
    for world in [World::ready(), cold()] {
        let site = Site::new(&world);
        site.record("hall.pdf");
        let at = &site.at;
        let check = site.run(&["--json", "check", "job.toml", "--at", at], &[]);
        let inside = &site.pdf("hall.pdf").files()["assessment.json"];
        assert!(check.out.as_bytes() == inside.as_slice(), "{}", check.out);
    }
}

#[test]
fn the_record_depends_on_nothing_but_the_evidence() {
    let site = Site::new(&World::ready());
    let first = site.record("hall.pdf");
    assert_eq!(first.code, Some(0), "{first:?}");
    let at = &site.at;
    let environment = [("TZ", "Asia/Tokyo"), ("LC_ALL", "de_DE.UTF-8"), ("COLUMNS", "40")];
    std::fs::create_dir(site.path("elsewhere")).unwrap();
    let args = ["record", "./job.toml", "--at", at, "-o", "elsewhere/other.pdf"];
    assert_eq!(site.run(&args, &environment).code, Some(0));
    let read = |name: &str| std::fs::read(site.path(name)).unwrap();
    assert!(read("hall.pdf") == read("elsewhere/other.pdf"));
}

/// A block of which the rest was never pulled, and later ones: what comes out of the record is judged
/// as what went in.
#[test]
fn a_block_that_was_never_pulled_whole_stays_in_its_place() {
    let world = World::ready();
    let mut blocks = world.blocks();
    assert!(blocks.len() >= 4, "{}", blocks.len());
    blocks[1].truncate(2000);
    blocks.remove(2);
    let site = Site::with(&world, &blocks);
    let said = site.record("hall.pdf");
    assert_eq!(said.code, Some(1), "{said:?}");
    let files = site.pdf("hall.pdf").files();
    let (_, evidence) = glueday::record::files::read(&files).unwrap();
    let case = glueday::record::Case::of(&evidence, "job.toml").unwrap();
    let again = glueday::view::json::check(&case.assess()).unwrap() + "\n";
    assert!(files["assessment.json"] == again.as_bytes());
    let log = &files[&format!("log-{LOGGER}.bin")];
    assert_eq!(log.len() % BLOCK_LEN, blocks.last().unwrap().len() % BLOCK_LEN);
}

/// Dated by a clock that was a century ahead: whoever reads a record cannot know what the time was.
#[test]
fn a_log_that_goes_on_after_now_makes_no_record() {
    let mut world = World::ready();
    let sync = world.boots[0].started_s;
    world.first_syncs(&[(sync, sync + 2_208_988_800)]);
    let site = Site::new(&world);
    for name in ["hall.pdf", "hall.html"] {
        let said = site.run(&["record", "job.toml", "-o", name], &[]);
        assert_eq!(said.code, Some(2), "{said:?}");
        assert!(said.err.contains("later than now"), "{said:?}");
        assert!(!site.path(name).exists());
    }
}

/// Asked about a time in the past, a record says how much of the log came after it.
#[test]
fn readings_after_the_time_asked_about_are_told() {
    let mut world = World::ready();
    let at_s = world.at_s;
    world.until(at_s + 86_400);
    world.at_s = at_s;
    let site = Site::new(&world);
    assert_eq!(site.record("hall.pdf").code, Some(0));
    let words = site.pdf("hall.pdf").words();
    // A day at ten minutes.
    let expected = "After the time asked about 144 samples, in the log of this record; the verdict \
                    has none of them";
    assert!(words.contains(expected), "{words}");
}

#[test]
fn what_cannot_be_recorded_is_an_error_and_leaves_no_file() {
    let site = Site::new(&World::ready());
    let cases: [(&[&str], &str); 3] = [
        (&["record", "job.toml", "-o", "hall.txt"], "must end in .pdf"),
        (&["record", "job.toml", "--room", "Attic", "-o", "hall.pdf"], "no room \"Attic\""),
        (&["record", "none.toml", "-o", "hall.pdf"], "none.toml"),
    ];
    for (args, expected) in cases {
        let said = site.run(args, &[]);
        assert_eq!(said.code, Some(2), "{said:?}");
        assert!(said.err.contains(expected), "{said:?}");
        assert!(!site.path("hall.pdf").exists() && !site.path("hall.txt").exists());
    }
}
