//! The program with an archive on a server: the same words, byte for byte, as with a file.

use crate::fleet_world::{self, AT};
use crate::postgres::{OWNER, Server};
use glueday::archive::Archive;
use glueday::pull::{Finding, Link, NoProgress, Progress, Tally};
use glueday_tests::faulty_link::{FaultyLink, ToyLogger};
use glueday_tests::programs::{Said, program};
use std::path::Path;
use std::process::Command;

fn run(folder: &Path, archive: &str, args: &[&str]) -> Said {
    let mut command = Command::new(program("glueday"));
    command.current_dir(folder).env("GLUEDAY_ARCHIVE", archive).env_remove("COLUMNS").args(args);
    Said::from(command.output().unwrap())
}

#[test]
fn check_and_sites_say_the_same_of_both() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::shared();
    let uri = server.uri(&server.database());
    let jobs = fleet_world::jobs();
    fleet_world::write_jobs(folder.path(), &jobs);
    fleet_world::fill(&mut Archive::create(&folder.path().join("archive.sqlite")).unwrap(), &jobs);
    fleet_world::fill(&mut Archive::create(Path::new(&uri)).unwrap(), &jobs);

    let both = |args: &[&str]| {
        let [file, office] =
            ["archive.sqlite", &uri].map(|archive| run(folder.path(), archive, args));
        assert_eq!((&file.out, file.code), (&office.out, office.code), "{args:?}: {}", office.err);
        // What differs is how the archive is called.
        assert_eq!(file.err.lines().count(), office.err.lines().count(), "{}", office.err);
        assert!(!file.out.is_empty() || file.code == Some(2), "{args:?}: {}", file.err);
        file
    };
    let said = both(&["sites", "--at", AT, "--json"]);
    assert_eq!(said.code, Some(2));
    let document: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let count = |what: &str| document[what].as_u64().unwrap();
    assert!(count("go") >= 8 && count("wait") >= 20, "{}", said.out);
    assert_eq!(count("error"), 4);
    both(&["sites", "--at", AT, "--sort", "battery"]);
    let mut codes = [0; 3];
    for job in jobs.iter().take(20) {
        let file = format!("{}.toml", job.name);
        let said = both(&["check", &file, "--at", AT, "--json"]);
        codes[usize::try_from(said.code.unwrap()).unwrap()] += 1;
    }
    assert!(codes.iter().all(|count| *count >= 2), "{codes:?}");
    both(&["check", "job-04.toml", "--at", AT, "--why", "dew-margin"]);
    both(&["export", "job-06.toml", "-o", "-", "--format", "csv"]);
}

#[test]
fn the_program_makes_its_archive_on_a_server_and_never_shows_the_password() {
    const PASSWORD: &str = "w0rd-0f-the-keeper";
    let folder = tempfile::tempdir().unwrap();
    let server = Server::shared();
    let database = server.database();
    server.sql(
        &database,
        &format!("CREATE ROLE cara LOGIN PASSWORD '{PASSWORD}'; GRANT CREATE ON DATABASE {database} TO cara"),
    );
    let csv = "time,T,RH\n2026-03-01 08:00,20.1,41\n2026-03-01 08:10,20.2,41.5\n";
    std::fs::write(folder.path().join("air.csv"), csv).unwrap();
    let uri = server.uri_as(&format!("cara:{PASSWORD}"), &database);
    let columns = ["--zone", "+01:00", "--column", "air=T", "--column", "rh=RH"];
    let import = [&["import", "air.csv", "--name", "hall air"], &columns[..]].concat();
    let said = run(folder.path(), &uri, &import);
    assert_eq!(said.code, Some(0), "{said:?}");
    let said =
        run(folder.path(), &uri, &["export", "--logger", "hall air", "-o", "-", "--format", "csv"]);
    assert!(said.out.contains("2026-03-01T07:10:00Z"), "{said:?}");
    // The password can come in PostgreSQL's own variable.
    let mut command = Command::new(program("glueday"));
    command.args([
        "--archive",
        &server.uri_as("cara", &database),
        "export",
        "--logger",
        "hall air",
    ]);
    command.args(["-o", "-", "--format", "jsonl"]).env("PGPASSWORD", PASSWORD);
    assert_eq!(Said::from(command.output().unwrap()).out.lines().count(), 2);

    let wrong = uri.replace(&database, "nowhere");
    for (archive, args) in [
        (&uri, vec!["--help"]),
        (&uri, vec!["export", "--help"]),
        (&wrong, vec!["export", "--logger", "hall air", "-o", "-", "--format", "csv"]),
        (&wrong, import.clone()),
        (&uri, vec!["export", "--logger", "bath", "-o", "-", "--format", "csv"]),
        (&uri.replace("%2F", "/"), import.clone()),
        (&uri.replace("postgresql://cara", "postgresql://far.example/x?password"), import.clone()),
        (&uri, vec!["no-such-command"]),
    ] {
        let said = run(folder.path(), archive, &args);
        let told = format!("{}{}", said.out, said.err);
        assert!(!told.is_empty() && !told.contains(PASSWORD), "{args:?}: {told}");
    }
    server.sql(&database, "DROP OWNED BY cara; DROP ROLE cara");
}

/// Kills the server when so many bytes came.
struct Killer<'a> {
    server: &'a Server,
    at_bytes: u64,
}

impl Progress for Killer<'_> {
    fn moved(&mut self, tally: Tally) {
        if tally.bytes >= self.at_bytes {
            self.at_bytes = u64::MAX;
            self.server.kill();
        }
    }

    fn found(&mut self, _: &Finding) {}
}

#[test]
fn a_pull_whose_server_is_killed_is_resumed_by_the_next() {
    let server = Server::new();
    let uri = server.uri(&server.database());
    let mut logger = ToyLogger::new(*b"toy-0001", 500, 4);
    logger.sample(3000, 5);
    let (id, blocks) = (logger.id, logger.blocks.clone());
    assert!(blocks.len() >= 6);
    let mut archive = Archive::open_or_create(Path::new(&uri)).unwrap();
    let mut line = Link::new(FaultyLink::new(logger), 1);
    let mut killer = Killer { server: &server, at_bytes: 3 * 4096 };
    let error = line.pull(&mut archive, 1_800_000_000, &mut killer).unwrap_err().to_string();
    assert!(error.contains("what was stored before is safe") && error.contains(OWNER), "{error}");

    server.start();
    let held = Archive::open_read_only(Path::new(&uri)).unwrap().blocks(id).unwrap();
    assert!((1..blocks.len()).contains(&held.len()), "{} blocks", held.len());
    assert!(held.iter().all(|block| blocks[&block.number].starts_with(&block.bytes)));

    let mut line = Link::new(line.into_port(), 2);
    let before = line.port().received;
    line.pull(&mut archive, 1_800_000_000, &mut NoProgress).unwrap();
    let moved = usize::try_from(line.port().received - before).unwrap();
    let all: usize = blocks.values().map(Vec::len).sum();
    assert!(moved < all - 4096 * (held.len() - 1), "{moved} B for what was missing of {all} B");
    let held = archive.blocks(id).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(blocks.values()));
    assert_eq!(archive.conflicts(id).unwrap(), []);
}
