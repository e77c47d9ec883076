//! Whole processes, from their start to their end: what `import`, `check`, `plot` and `sites` take of
//! time and memory. A year of minutes, 8 weeks of 10 minutes, and books of 100, 500 and 1,000 jobs with
//! 12 weeks of 10 minutes each, every job with a logger of its own.
//!
//! `cargo bench -p glueday --bench book`; words behind `--` choose the rows whose name holds one of them,
//! and `BOOK_PROGRAM` names another program to compare with. Times are those of the operating system;
//! the peak of memory is what it says of the process right before its end.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a benchmark that cannot start may stop, and what it prints is what it is for"
)]

#[path = "../../tests/src/season.rs"]
#[allow(dead_code, unreachable_pub, reason = "shared with other benchmarks")]
mod season;

use glueday::archive::{Archive, NewImport, PullRecord};
use glueday_types::LoggerId;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Jobs in each of the books.
const BOOKS: [u32; 3] = [100, 500, 1_000];
/// Samples of 12 weeks and of 8 weeks at 10 minutes.
const SAMPLES_12_WEEKS: u32 = 12_096;
const SAMPLES_8_WEEKS: u32 = 8_064;

fn main() {
    // Cargo hands over a flag of its own.
    let words: Vec<String> =
        std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let is_wanted =
        |name: &str| words.is_empty() || words.iter().any(|word| name.contains(&**word));
    let folder = tempfile::tempdir().unwrap();
    println!(
        "{:<28} {:>5} {:>10} {:>10} {:>8} {:>8} {:>9}",
        "process", "runs", "least ms", "median ms", "user ms", "sys ms", "peak MiB"
    );
    let row = |name: &str, runs: usize, args: &[&str], before: &dyn Fn()| {
        let took: Vec<Took> = (0..runs)
            .map(|_| {
                before();
                run(args, folder.path())
            })
            .collect();
        print(name, &took);
    };
    let nothing = || ();

    let year = ["import year", "check year", "plot year"];
    if year.iter().any(|name| is_wanted(name)) {
        std::fs::write(folder.path().join("year.csv"), season::csv(season::YEAR, 60)).unwrap();
        std::fs::write(folder.path().join("year.toml"), season::job("year", "Year", 3)).unwrap();
        let gone = || drop(std::fs::remove_file(folder.path().join("year.sqlite")));
        let import = import("year.sqlite", "year.csv", "year");
        let import: Vec<&str> = import.iter().map(String::as_str).collect();
        row(year[0], 11, &import, &gone);
        let of_year = |command| ["--archive", "year.sqlite", command, "year.toml", "--at", "last"];
        row(year[1], 11, &of_year("check"), &nothing);
        let plot = [&of_year("plot")[..], &["--output", "year.svg"]].concat();
        row(year[2], 5, &plot, &|| drop(std::fs::remove_file(folder.path().join("year.svg"))));
    }
    if is_wanted("check 8 weeks") {
        std::fs::write(folder.path().join("weeks.csv"), season::csv(SAMPLES_8_WEEKS, 600)).unwrap();
        std::fs::write(folder.path().join("weeks.toml"), season::job("weeks", "Weeks", 3)).unwrap();
        let import = import("weeks.sqlite", "weeks.csv", "weeks");
        run(&import.iter().map(String::as_str).collect::<Vec<_>>(), folder.path());
        let check = ["--archive", "weeks.sqlite", "check", "weeks.toml", "--at", "last"];
        row("check 8 weeks", 41, &check, &nothing);
        row("--version", 41, &["--version"], &nothing);
    }
    for jobs in BOOKS {
        let name = format!("sites {jobs} jobs");
        if is_wanted(&name) {
            let (archive, book) = (format!("{jobs}.sqlite"), format!("jobs-{jobs}"));
            make_book(&folder.path().join(&archive), &folder.path().join(&book), jobs);
            row(&name, 5, &["--archive", &archive, "sites", &book, "--at", "last"], &nothing);
        }
    }
}

/// The command that imports what [`season::csv`] made.
fn import(archive: &str, file: &str, name: &str) -> Vec<String> {
    let mut args: Vec<String> =
        ["--archive", archive, "import", file, "--name", name].map(str::to_owned).into();
    for (option, value) in season::mapping().to_options() {
        args.extend([option.to_owned(), value]);
    }
    args
}

fn make_book(archive: &Path, folder: &Path, jobs: u32) {
    std::fs::create_dir(folder).unwrap();
    let mut archive = Archive::create(archive).unwrap();
    for i in 0..jobs {
        let (name, logger) =
            (format!("logger {i}"), LoggerId((0xB00C_0000 + u64::from(i)).to_be_bytes()));
        let (blocks, at_s) = season::blocks(SAMPLES_12_WEEKS, 600, logger);
        let new = NewImport {
            name: &name,
            file_name: "book.csv",
            original: &logger.0,
            mapping: "[]",
            blocks: &blocks,
            logger,
        };
        archive.add_import(&new, at_s).unwrap();
        archive
            .note_pull(&PullRecord {
                logger,
                at_s,
                port: "a line".to_owned(),
                bytes: 0,
                result: PullRecord::COMPLETE.to_owned(),
                supply_mv: Some(2_900),
            })
            .unwrap();
        let job = season::job(&name, &format!("Site {i:04}"), 3 + i64::from(i % 40));
        std::fs::write(folder.join(format!("{i:04}.toml")), job).unwrap();
    }
}

/// What a process took.
#[derive(Clone, Copy, Debug, Default)]
struct Took {
    wall: Duration,
    user_ms: u64,
    system_ms: u64,
    peak_kib: u64,
}

fn program() -> PathBuf {
    std::env::var_os("BOOK_PROGRAM")
        .map_or_else(|| env!("CARGO_BIN_EXE_glueday").into(), PathBuf::from)
}

fn run(args: &[&str], folder: &Path) -> Took {
    let started = Instant::now();
    let mut child = Command::new(program())
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(std::fs::File::create(folder.join("out")).unwrap())
        .stderr(std::fs::File::create(folder.join("err")).unwrap())
        .spawn()
        .unwrap();
    let mut took = Took::default();
    let process = PathBuf::from(format!("/proc/{}", child.id()));
    // A process that has ended is still listed until somebody waits for it, without its memory.
    while let Some((is_over, user_ms, system_ms)) = times(&process) {
        took = Took { wall: started.elapsed(), user_ms, system_ms, ..took };
        if is_over {
            break;
        }
        took.peak_kib = took.peak_kib.max(peak_kib(&process).unwrap_or(0));
        std::thread::sleep(Duration::from_micros(200));
    }
    let status = child.wait().unwrap();
    if took.wall.is_zero() {
        took.wall = started.elapsed();
    }
    // 1 is the answer to wait.
    if !matches!(status.code(), Some(0 | 1)) {
        let err = std::fs::read_to_string(folder.join("err")).unwrap_or_default();
        println!("{args:?}: {status}: {err}");
    }
    took
}

/// Whether the process is over, and its user and system time.
fn times(process: &Path) -> Option<(bool, u64, u64)> {
    let stat = std::fs::read_to_string(process.join("stat")).ok()?;
    // The name, in parentheses, can hold anything.
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    // proc_pid_stat(5): fields 3, 14 and 15, the times in hundredths of a second.
    let ticks = |at: usize| fields.get(at)?.parse::<u64>().ok().map(|ticks| ticks * 10);
    Some((*fields.first()? == "Z", ticks(11)?, ticks(12)?))
}

fn peak_kib(process: &Path) -> Option<u64> {
    let status = std::fs::read_to_string(process.join("status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

fn print(name: &str, took: &[Took]) {
    let mut walls: Vec<Duration> = took.iter().map(|took| took.wall).collect();
    walls.sort_unstable();
    let ms = |wall: Duration| wall.as_secs_f64() * 1000.0;
    let least = |of: fn(&Took) -> u64| took.iter().map(of).min().unwrap_or(0);
    let peak_kib = took.iter().map(|took| took.peak_kib).max().unwrap_or(0);
    println!(
        "{name:<28} {:>5} {:>10.1} {:>10.1} {:>8} {:>8} {:>9.1}",
        walls.len(),
        ms(walls[0]),
        ms(walls[walls.len() / 2]),
        least(|took| took.user_ms),
        least(|took| took.system_ms),
        u32::try_from(peak_kib).map_or(f64::NAN, f64::from) / 1024.0,
    );
}
