//! Files that commands make, killed while they are written: the old one, the new one or none.

use crate::campaign::cases;
use crate::import::{COLUMNS, write_csv};
use crate::run::{When, assert_done, command, kill, share, start};
use glueday_tests::flash::Random;
use glueday_tests::programs::glueday;
use std::path::Path;
use std::time::Instant;

/// A command that makes a file of this ending.
struct Output {
    ending: &'static str,
    /// What to run; `FILE` stands for what it makes, `JOB` for the job.
    args: &'static [&'static str],
    /// Whether it may take the place of a file that is there.
    replaces: bool,
}

/// A command with one more output is one more row.
const OUTPUTS: [Output; 5] = [
    Output {
        ending: "svg",
        args: &["plot", "JOB", "--at", "last", "--size", "800x700", "--output", "FILE"],
        replaces: true,
    },
    Output {
        ending: "png",
        args: &["plot", "JOB", "--at", "last", "--size", "640x600", "--output", "FILE"],
        replaces: true,
    },
    Output {
        ending: "toml",
        args: &["job", "new", "FILE", "--site", "Lot 7", "--zone", "America/Denver"],
        replaces: false,
    },
    Output {
        ending: "pdf",
        args: &["record", "JOB", "--at", "last", "--output", "FILE"],
        replaces: true,
    },
    Output {
        ending: "html",
        args: &["record", "JOB", "--at", "last", "--output", "FILE"],
        replaces: true,
    },
];
const CASES: u64 = 100;
const OLD: &str = "what was there before";

/// The names in a folder.
fn names(folder: &Path) -> Vec<String> {
    let names = std::fs::read_dir(folder).unwrap();
    names.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

#[test]
fn outputs_killed_anywhere_are_old_or_new_and_never_half() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (csv, job, archive) = (path("hall.csv"), path("job.toml"), folder.path().join("a.db"));
    write_csv(Path::new(&csv));
    let text = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n[[room]]\n\
                name = \"Hall\"\nlogger = \"hall\"\n";
    std::fs::write(&job, text).unwrap();
    let import = [&["import", csv.as_str(), "--name", "hall"], &COLUMNS[..]].concat();
    assert_done(&glueday(&archive, &import));
    let out = folder.path().join("out");
    let args = |output: &Output, file: &str| -> Vec<String> {
        let word = |arg: &&str| match *arg {
            "FILE" => file.to_owned(),
            "JOB" => job.clone(),
            other => other.to_owned(),
        };
        output.args.iter().map(word).collect()
    };
    let whole = OUTPUTS.each_ref().map(|output| {
        let file = path(&format!("whole.{}", output.ending));
        let began = Instant::now();
        let done = command(&archive, &[]).args(args(output, &file)).output().unwrap();
        assert!(matches!(done.status.code(), Some(0 | 1)), "{done:?}");
        (std::fs::read(file).unwrap(), began.elapsed())
    });
    let (mut kills, mut in_work, mut new, mut none) = (0, 0, 0, 0);
    let all = cases("outputs_killed", CASES, |number| {
        let mut random = Random(number.wrapping_mul(0xA076_1D64_78BD_642F));
        // Each output in turn, then with and without an old file, then another moment to kill.
        let (round, which) = (number / OUTPUTS.len() as u64, number as usize % OUTPUTS.len());
        let (output, (whole, took)) = (&OUTPUTS[which], &whole[which]);
        std::fs::create_dir_all(&out).unwrap();
        let file = out.join(format!("file.{}", output.ending));
        let replaces = output.replaces && round % 2 == 0;
        if replaces {
            std::fs::write(&file, OLD).unwrap();
        }
        let began = names(&out);
        let args = args(output, file.to_str().unwrap());
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let child = start(&archive, &args);
        let mut seen = || names(&out) != began;
        let killed = match round / 2 % 4 {
            0 => kill(child, When::Time(share(&mut random, *took))),
            _ => kill(child, When::Seen(&mut seen)),
        };
        let found = std::fs::read(&file).ok();
        let is_new = found.as_ref() == Some(whole);
        let is_old = found.as_deref() == Some(OLD.as_bytes());
        assert!(
            is_new || (is_old && replaces) || (found.is_none() && !replaces),
            "{} is half: {:?} of {} B",
            file.display(),
            found.map(|bytes| bytes.len()),
            whole.len()
        );
        let hidden = |name: &String| name.starts_with(".glueday-") && name.ends_with(".part");
        let left = names(&out).into_iter().filter(|name| !began.contains(name));
        let left: Vec<String> =
            left.filter(|name| *name != format!("file.{}", output.ending)).collect();
        assert!(left.iter().all(hidden), "{left:?}");
        if killed {
            kills += 1;
            in_work += u32::from(!left.is_empty() || is_new);
            new += u32::from(is_new);
            none += u32::from(found.is_none());
        }
        // What is left is in nobody's way.
        if is_new && !output.replaces {
            std::fs::remove_file(&file).unwrap();
        }
        let again = command(&archive, &args).output().unwrap();
        assert!(matches!(again.status.code(), Some(0 | 1)), "{again:?}");
        assert!(std::fs::read(&file).unwrap() == *whole);
        std::fs::remove_dir_all(&out).unwrap();
        false
    });
    println!(
        "{kills} kills of plot, job and record, {in_work} while a file was written, {new} with the new file in \
         its place, {none} without any"
    );
    if all {
        assert!(kills >= 40 && in_work >= 25, "too few");
    }
}
