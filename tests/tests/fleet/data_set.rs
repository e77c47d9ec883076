//! `export --data-set`: which files there are, and whose.

use crate::Yard;
use std::collections::BTreeMap;

fn export(yard: &Yard, job: &str) -> serde_json::Value {
    let said = yard.run(&["export", job, "--data-set", "fleet", "--json"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    serde_json::from_str(&said.out).unwrap()
}

/// The bytes of every file.
fn bytes(yard: &Yard) -> BTreeMap<String, Vec<u8>> {
    let read = |name: String| {
        let bytes = std::fs::read(yard.path("fleet").join(&name)).unwrap();
        (name, bytes)
    };
    yard.files("fleet").into_iter().map(read).collect()
}

#[test]
fn folders_say_job_room_and_month_and_an_export_again_changes_its_own_only() {
    // One with three rooms, of which one has no logger, and one whose clock nobody set after a restart.
    let yard = Yard::of(|i| i == 4 || i == 6);
    let report = export(&yard, "job-06.toml");
    let mut expected = vec![
        "blocks/job=job-06/room=Hall/blocks.parquet",
        "events/job=job-06/room=Hall/events.parquet",
        "jobs/job=job-06/_site",
        "jobs/job=job-06/job.parquet",
        "samples/job=job-06/room=Hall/month=2026-03/samples.parquet",
        "samples/job=job-06/room=Hall/month=__HIVE_DEFAULT_PARTITION__/samples.parquet",
    ];
    assert_eq!(yard.files("fleet"), expected);
    let told: Vec<&str> =
        report["files"].as_array().unwrap().iter().map(|f| f["file"].as_str().unwrap()).collect();
    let mut told_sorted = told.clone();
    told_sorted.sort_unstable();
    let mut parquet = expected.clone();
    parquet.retain(|file| file.ends_with(".parquet"));
    assert_eq!(told_sorted, parquet);
    // A sample is in one file of its table.
    let rows = |part: &str| -> u64 {
        let files = report["files"].as_array().unwrap().iter();
        files
            .filter(|f| f["file"].as_str().unwrap().starts_with(part))
            .map(|f| f["rows"].as_u64().unwrap())
            .sum()
    };
    assert_eq!(rows("samples/"), report["samples"].as_u64().unwrap());
    assert!(report["undated"].as_u64().unwrap() > 100, "{report}");
    assert_eq!(rows("blocks/"), yard.jobs[1].logs[0].blocks.len() as u64);

    let first = bytes(&yard);
    export(&yard, "job-04.toml");
    let bath = "room=Bath %2F %22north%22 – größte";
    let of_bath = [
        format!("blocks/job=job-04/{bath}/blocks.parquet"),
        format!("events/job=job-04/{bath}/events.parquet"),
        format!("samples/job=job-04/{bath}/month=2026-03/samples.parquet"),
    ];
    expected.extend(of_bath.iter().map(String::as_str));
    expected.extend([
        "blocks/job=job-04/room=Hall/blocks.parquet",
        "events/job=job-04/room=Hall/events.parquet",
        "jobs/job=job-04/_site",
        "jobs/job=job-04/job.parquet",
        "samples/job=job-04/room=Hall/month=2026-03/samples.parquet",
    ]);
    expected.sort_unstable();
    assert_eq!(yard.files("fleet"), expected);
    let both = bytes(&yard);
    assert!(first.iter().all(|(name, bytes)| both[name] == *bytes), "of another job");
    // The same again makes the same files.
    export(&yard, "job-04.toml");
    assert_eq!(bytes(&yard), both);

    // Without its second room the job has fewer files, and nobody else has; what is not ours stays.
    std::fs::write(yard.path("fleet/samples/job=job-04/room=Hall/notes.txt"), "kept").unwrap();
    let text = std::fs::read_to_string(yard.path("job-04.toml")).unwrap();
    let bath_section = text.find("[[room]]\nname = \"Bath").unwrap();
    let attic = text.find("[[room]]\nname = \"Attic").unwrap();
    std::fs::write(yard.path("job-04.toml"), [&text[..bath_section], &text[attic..]].concat())
        .unwrap();
    export(&yard, "job-04.toml");
    expected.retain(|file| !of_bath.iter().any(|bath| bath == file));
    expected.push("samples/job=job-04/room=Hall/notes.txt");
    expected.sort_unstable();
    assert_eq!(yard.files("fleet"), expected);
    let after = bytes(&yard);
    assert!(first.iter().all(|(name, bytes)| after[name] == *bytes), "of another job");
}

#[test]
fn a_job_that_cannot_be_exported_changes_nothing_and_says_why() {
    let yard = Yard::of(|i| matches!(i, 0 | 9 | 19));
    export(&yard, "job-00.toml");
    let before = bytes(&yard);
    for (job, parts) in [
        ("job-09.toml", ["Hall", "nobody 09"]),
        ("job-19.toml", ["job-19.toml", "name"]),
        ("absent.toml", ["no file", "absent.toml"]),
    ] {
        let said = yard.run(&["export", job, "--data-set", "fleet"]);
        assert_eq!(said.code, Some(2), "{said:?}");
        assert!(parts.iter().all(|part| said.err.contains(part)), "{}", said.err);
        assert_eq!(bytes(&yard), before, "{job}");
    }
    // Another site's job file of the same name does not take its place.
    std::fs::create_dir(yard.path("other")).unwrap();
    let text = std::fs::read_to_string(yard.path("job-00.toml")).unwrap();
    std::fs::write(yard.path("other/job-00.toml"), text.replace("Mill Row 0", "Quay 3")).unwrap();
    let said = yard.run(&["export", "other/job-00.toml", "--data-set", "fleet"]);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(
        said.err.contains("Mill Row 0") && said.err.contains("rename the job file"),
        "{said:?}"
    );
    assert_eq!(bytes(&yard), before);
    // Part of a job would take the rest away.
    for part in [["--last", "2 d"], ["--room", "Hall"], ["--output", "x.csv"]] {
        let said =
            yard.run(&[&["export", "job-00.toml", "--data-set", "fleet"], &part[..]].concat());
        assert_eq!(said.code, Some(2), "{said:?}");
    }
    std::fs::write(yard.path("file"), "").unwrap();
    let said = yard.run(&["export", "job-00.toml", "--data-set", "file"]);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.err.contains("file"), "{said:?}");
}
