//! Spark judges a fleet on two workers, and Spark and DuckDB read what was exported.

use crate::Yard;
use crate::fleet_world::AT;
use glueday_tests::programs::program;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// Python with both engines.
fn python() -> &'static Path {
    static PYTHON: OnceLock<PathBuf> = OnceLock::new();
    PYTHON.get_or_init(|| {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("spark");
        let output = Command::new(script).output().unwrap();
        let talk = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "tests/spark: {talk}");
        PathBuf::from(String::from_utf8(output.stdout).unwrap().trim_end())
    })
}

fn run(script: &str, args: &[&str]) -> String {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("fleet").join(script);
    let mut command = Command::new(python());
    command.arg(script).args(args).env("SPARK_LOCAL_IP", "127.0.0.1");
    // Workers take the Python of their driver, which has the library.
    command.env("PYSPARK_PYTHON", python()).env_remove("SPARK_HOME").env_remove("SPARK_MASTER");
    let folder = tempfile::tempdir().unwrap();
    command.current_dir(folder.path());
    let output = command.output().unwrap();
    let talk = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{talk}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_verdicts_of_a_cluster_are_those_of_check_and_sites() {
    let yard = Yard::of(|_| true);
    let mut refused = BTreeSet::new();
    for job in &yard.jobs {
        let said = yard.run(&["export", &format!("{}.toml", job.name), "--data-set", "fleet"]);
        if said.code != Some(0) {
            refused.insert(job.name.clone());
        }
    }
    let data_set = yard.path("fleet").display().to_string();
    let glueday = program("glueday").display().to_string();
    let out = run("assess.py", &[&data_set, AT, &glueday]);
    let answers: BTreeMap<String, Value> = out
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .map(|answer| (answer["job"].as_str().unwrap().to_owned(), answer))
        .collect();

    // As `check` says of each job.
    for (job, answer) in &answers {
        let said = yard.run(&["check", &format!("{job}.toml"), "--json", "--at", AT]);
        let expected: Value = serde_json::from_str(&said.out).unwrap();
        assert_eq!(answer["check"], expected, "{job}");
    }
    // As `sites` says of all of them: the same verdict for each room, and the same jobs that have none.
    let said = yard.run(&["sites", "--json", "--at", AT]);
    let sites: Value = serde_json::from_str(&said.out).unwrap();
    let (mut rooms, mut errors) = (BTreeMap::new(), BTreeSet::new());
    for row in sites["rows"].as_array().unwrap() {
        let job = row["job"].as_str().unwrap();
        let job = Path::new(job).file_stem().unwrap().to_str().unwrap().to_owned();
        if row["verdict"] == "error" {
            errors.insert(job);
        } else {
            let told = (row["verdict"].clone(), row["earliest_go"].clone());
            rooms.insert((job, row["room"].as_str().unwrap().to_owned()), told);
        }
    }
    assert_eq!(refused, errors);
    assert_eq!(refused.len() + answers.len(), yard.jobs.len());
    let mut answered = BTreeMap::new();
    for (job, answer) in &answers {
        for zone in answer["check"]["zones"].as_array().unwrap() {
            let told = (zone["verdict"].clone(), zone["earliest_go"].clone());
            answered.insert((job.clone(), zone["name"].as_str().unwrap().to_owned()), told);
        }
    }
    assert_eq!(answered, rooms);
    let gos = answered.values().filter(|told| told.0 == "go").count();
    println!(
        "{} jobs, {} rooms, {gos} of them go, {} refused",
        answers.len(),
        rooms.len(),
        refused.len()
    );
    assert!(gos >= 8 && rooms.len() - gos >= 20);
}

#[test]
fn duckdb_and_spark_read_the_same_as_stands_in_a_single_table() {
    let yard = Yard::of(|i| matches!(i, 4 | 6 | 8));
    let mut expected: Vec<Vec<Value>> = Vec::new();
    let mut blocks = 0;
    for job in &yard.jobs {
        let file = format!("{}.toml", job.name);
        let said = yard.run(&["export", &file, "--data-set", "fleet"]);
        assert_eq!(said.code, Some(0), "{said:?}");
        blocks += job.logs.iter().map(|log| log.blocks.len()).sum::<usize>();
        let said = yard.run(&["export", &file, "-o", "-", "--format", "jsonl"]);
        for line in said.out.lines() {
            let row: Value = serde_json::from_str(line).unwrap();
            let time = row["time_utc"].as_str();
            let time_s = time.map(|time| time.parse::<jiff::Timestamp>().unwrap().as_second());
            let month = time.map_or(Value::Null, |time| time[..7].into());
            let mut cells = vec![job.name.clone().into(), row["room"].clone(), month];
            cells.extend([row["boot"].clone(), row["uptime_s"].clone(), time_s.into()]);
            for column in ["slab_c", "air_c", "air_rh_pct", "supply_c", "slab_absent", "emc_pct"] {
                cells.push(row[column].clone());
            }
            expected.push(cells);
        }
    }
    let key = |row: &Vec<Value>| {
        let text = |i: usize| row[i].as_str().unwrap().to_owned();
        (text(0), text(1), row[3].as_i64().unwrap(), row[4].as_i64().unwrap())
    };
    expected.sort_by_key(key);
    let found: Value =
        serde_json::from_str(&run("read.py", &[&yard.path("fleet").display().to_string()]))
            .unwrap();
    for engine in ["duckdb", "spark"] {
        let found = &found[engine];
        let mut rows: Vec<Vec<Value>> = serde_json::from_value(found["samples"].clone()).unwrap();
        rows.sort_by_key(key);
        assert_eq!(rows.len(), expected.len(), "{engine}");
        for (row, expected) in rows.iter().zip(&expected) {
            assert_eq!(row, expected, "{engine}");
        }
        // Bytes and digest say the same.
        let held = found["blocks"].as_array().unwrap();
        assert_eq!(held.len(), blocks, "{engine}");
        assert!(held.iter().all(|row| row[3] == row[4]), "{engine}");
        for (table, more) in [
            ("samples", &["job", "month", "room"][..]),
            ("events", &["job", "room"]),
            ("blocks", &["job", "room"]),
            ("jobs", &["job"]),
        ] {
            let of =
                glueday::export::data_set::Table::ALL.into_iter().find(|it| it.folder() == table);
            let mut names: Vec<&str> =
                of.unwrap().columns().iter().map(|column| column.name).collect();
            names.extend(more);
            names.sort_unstable();
            assert_eq!(found["columns"][table], serde_json::json!(names), "{engine}: {table}");
        }
    }
}
