//! Every kind of error as it is told, on a screen of 80 columns, against `fixtures/text/errors.txt`.
//!
//! Each says what happened, where, and what to do next. The file is only rewritten when
//! `GLUEDAY_REWRITE_TEXTS` is set; read what it then holds.

use glueday_tests::command_line::commands;
use glueday_tests::programs::program;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What is typed. Files are those that [`Folder::new`] makes.
const TYPED: &str = r#"
glueday chek hall.toml
glueday demo --folder two-rows.csv
glueday demo --folder new --now 9998-06-01T00:00Z
glueday demo --now tuesday
glueday adopt --name hall --port /dev/ttyNONE9
glueday adopt --name hall --port tcp:192.0.2.7
glueday adopt --name hall --port /dev/ttyNONE9 --interval "20 h"
glueday pull --port two-rows.csv
glueday pull --port tcp:127.0.0.1:1
glueday pull --baud fast
glueday import none.csv --name air
glueday import two-rows.csv --name air --column air=T
glueday import two-rows.csv --name air --column air=T --zone Europe/Berln
glueday import two-rows.csv --name air --column air=Temp --zone +01:00
glueday import two-rows.csv --name air --column air --zone +01:00
glueday import no-number.csv --name air --column air=T --column rh=RH --zone +01:00
glueday import two-rows.csv --name "bath air" --column air=T --zone +01:00
glueday import other.pdf --name air
glueday job new hall.toml --site "Lot 7" --zone America/Denver
glueday job new attic/new.toml --site "Lot 7" --zone America/Denver
glueday job new new.toml --site "Lot 7" --zone Denver
glueday job check none.toml
glueday job check wrong-key.toml
glueday job check wrong-unit.toml
glueday job check no-toml.toml
glueday check attic.toml
glueday check hall.toml --room Bath
glueday check hall.toml --step glue
glueday check bath.toml --at tuesday
glueday check bath.toml --at "2026-03-08 02:30"
glueday check bath.toml --at "2026-11-01 01:30"
glueday check folder
glueday --archive none.db check hall.toml
glueday --archive two-rows.csv check hall.toml
glueday --archive cut.db check hall.toml
glueday --archive folder check hall.toml
glueday --archive postgresql://ann@127.0.0.1:1/site check hall.toml
glueday --archive postgresql://ann@192.0.2.7/site check hall.toml
glueday --archive postgresql://ann@localhost/ check hall.toml
glueday check - --at last
glueday probe-check hall.toml --channel slab
glueday probe-check hall.toml --channel rh --ice
glueday probe-check hall.toml --channel rh --salt NaC
glueday probe-check hall.toml --channel air --reference warm
glueday sites attic/
glueday sites none.toml
glueday sites --sort supply
glueday sites hall.toml --at tuesday
glueday live none.toml --port tcp:127.0.0.1:1
glueday live hall.toml --port tcp:127.0.0.1:1 --once
glueday live hall.toml --port /dev/ttyNONE9 --every "0 s"
glueday live hall.toml --port /dev/ttyNONE9 --for ever
glueday mark glued --port /dev/ttyNONE9
glueday mark glue-started --port /dev/ttyNONE9
glueday marks attic.toml
glueday marks hall.toml --room Bath
glueday plot bath.toml --at last --output bath.jpeg
glueday plot bath.toml --at last --output bath.png --size 10x10
glueday plot bath.toml --at last --output bath.png --last "14 lightyears"
glueday plot bath.toml --at last --output attic/bath.png
glueday record bath.toml --output bath.doc
glueday record bath.toml --at last --output attic/bath.pdf
glueday export bath.toml --output -
glueday export bath.toml --output bath.xls
glueday export bath.toml --output b.csv --events b.csv
glueday export bath.toml --data-set two-rows.csv
glueday export bath.toml --data-set fleet --output b.csv
glueday export --logger attic --output b.csv
glueday export --logger "bath air" --output b.csv --local-time
glueday verify none.pdf
glueday verify other.pdf
glueday verify folder
glueday verify other.pdf --key 1234
glueday limits --limit air-rh-maxx
glueday air --temp 21 --rh 45%
glueday air --temp 21C --rh 450%
glueday air --temp 21C --rh 45% --salt sugar
glueday completions tcsh
glueday man pul
"#;

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        let folder = Self(tempfile::tempdir().unwrap());
        let job = super::JOB;
        let bath = job.replace("hall logger", "bath air");
        folder.write("hall.toml", job);
        folder.write("bath.toml", &bath);
        folder.write("attic.toml", &job.replace("hall logger", "attic logger"));
        folder.write("wrong-key.toml", &job.replace("logger =", "loger ="));
        let thick = format!("{job}[concrete]\nthickness = \"120 furlongs\"\n");
        folder.write("wrong-unit.toml", &thick);
        folder.write("no-toml.toml", "[site\n");
        let rows = "time,T,RH\n2026-03-01 08:00,20.1,41\n2026-03-01 08:10,20.2,41.5\n";
        folder.write("two-rows.csv", rows);
        folder.write("no-number.csv", &rows.replace("20.2", "abc"));
        folder.write("other.pdf", "%PDF-1.7\nnothing more\n");
        std::fs::create_dir(folder.path("folder")).unwrap();
        let import = "glueday import two-rows.csv --name \"bath air\" --zone +02:00 --column air=T \
                      --column rh=RH";
        let (code, said) = folder.run(&commands(import)[0]);
        assert_eq!(code, Some(0), "{said}");
        let whole = std::fs::read(folder.path("archive.db")).unwrap();
        std::fs::write(folder.path("cut.db"), &whole[..5000]).unwrap();
        folder
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).unwrap();
    }

    /// Runs a command in the folder; what it says on standard error.
    fn run(&self, words: &[String]) -> (Option<i32>, String) {
        let output = Command::new(program("glueday"))
            .args(&words[1..])
            .current_dir(self.0.path())
            .env("GLUEDAY_ARCHIVE", "archive.db")
            .env("COLUMNS", "80")
            .env_remove("GLUEDAY_PORT")
            .output()
            .unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    }
}

#[test]
fn every_error_reads_as_it_stands_in_the_table() {
    let folder = Folder::new();
    let mut table = String::new();
    let mut count = 0;
    for line in TYPED.lines().filter(|line| !line.is_empty()) {
        let (code, said) = folder.run(&commands(line)[0]);
        assert_eq!(code, Some(2), "{line}: {said}");
        // What the parser of the command line says is one line for each thing that is wrong.
        let wide = said.lines().find(|line| line.chars().count() > 80);
        assert!(said.starts_with("error: ") || wide.is_none(), "{line}: {wide:?}");
        writeln!(table, "$ {line}\n{said}").unwrap();
        count += 1;
    }
    assert!(count >= 72, "only {count} errors");
    let left: Vec<String> = std::fs::read_dir(folder.0.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| {
            name.starts_with("new") || name.starts_with("bath.p") || name.contains("part")
        })
        .collect();
    assert_eq!(left, [""; 0], "an error left something behind");

    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text/errors.txt");
    if std::env::var_os("GLUEDAY_REWRITE_TEXTS").is_some() {
        std::fs::write(&file, &table).unwrap();
    }
    let expected = std::fs::read_to_string(&file).unwrap_or_default();
    for (now, then) in table.split("\n$ ").zip(expected.split("\n$ ")) {
        assert_eq!(now, then, "GLUEDAY_REWRITE_TEXTS=1 writes {} anew", file.display());
    }
    assert_eq!(table.len(), expected.len());
}
