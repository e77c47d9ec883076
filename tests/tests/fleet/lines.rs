//! `check -`: each line is answered as `check` answers from the archive, or with what is wrong with it.

use crate::Yard;
use crate::fleet_world::{AT, FleetJob};
use glueday_types::{Header, digest};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// A job as the tables of a data set have it.
fn line(job: &FleetJob) -> Value {
    let mut blocks: Vec<Value> = Vec::new();
    for log in &job.logs {
        for block in &log.blocks {
            let mut sha256 = String::new();
            digest(block).iter().for_each(|byte| write!(sha256, "{byte:02x}").unwrap());
            blocks.push(json!({
                "logger": log.logger.to_string(),
                "logger_name": log.name,
                "block": Header::from_bytes(block).unwrap().block,
                "bytes": base64(block),
                "sha256": sha256,
            }));
        }
    }
    json!({ "job": job.name, "job_file": job.text, "block_count": blocks.len(), "blocks": blocks })
}

/// Base64 by RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for part in bytes.chunks(3) {
        let number = (0..3).fold(0, |n, i| n << 8 | u32::from(part.get(i).copied().unwrap_or(0)));
        for i in 0..4 {
            let letter = LETTERS[(number >> (18 - 6 * i) & 63) as usize];
            text.push(if i > part.len() { '=' } else { char::from(letter) });
        }
    }
    text
}

fn ask(yard: &Yard, lines: &[Value], step: &str) -> (Vec<Value>, Option<i32>) {
    let input: String = lines.iter().map(|line| format!("{line}\n")).collect();
    let said =
        yard.run_with(&["check", "-", "--json", "--at", AT, "--step", step], input.as_bytes());
    let answers: Vec<Value> =
        said.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(answers.len(), lines.len(), "{said:?}");
    (answers, said.code)
}

#[test]
fn the_answers_are_those_from_the_archive() {
    let yard = Yard::of(|i| i < 20 && i % 10 != 9);
    for step in ["glue-down", "membrane"] {
        let lines: Vec<Value> = yard.jobs.iter().map(line).collect();
        let (answers, code) = ask(&yard, &lines, step);
        assert_eq!(code, Some(1));
        for (job, answer) in yard.jobs.iter().zip(&answers) {
            let file = format!("{}.toml", job.name);
            let said = yard.run(&["check", &file, "--json", "--at", AT, "--step", step]);
            let expected: Value = serde_json::from_str(&said.out).unwrap();
            assert_eq!(answer["job"], job.name);
            assert_eq!(answer["check"], expected, "{} {step}", job.name);
            assert_eq!(answer["error"], Value::Null);
        }
    }
    // The order of the blocks does not matter, nor do broken lines of Base64, nor whatever else a row has.
    let mut shuffled = line(&yard.jobs[4]);
    shuffled["blocks"].as_array_mut().unwrap().reverse();
    shuffled["blocks"][0]["room"] = json!("Hall");
    let bytes = shuffled["blocks"][0]["bytes"].as_str().unwrap().to_owned();
    shuffled["blocks"][0]["bytes"] = json!(format!("{}\r\n{}", &bytes[..76], &bytes[76..]));
    let (answers, _) = ask(&yard, &[line(&yard.jobs[4]), shuffled], "glue-down");
    assert_eq!(answers[0]["check"], answers[1]["check"]);
    let (_, code) = ask(&yard, &[line(&yard.jobs[0])], "glue-down");
    assert_eq!(code, Some(0), "a go");
}

#[test]
fn what_is_lost_or_changed_on_the_way_is_an_error_and_hides_no_other_job() {
    let yard = Yard::of(|i| i == 0);
    let good = line(&yard.jobs[0]);
    let with = |change: &dyn Fn(&mut Value)| {
        let mut line = good.clone();
        change(&mut line);
        line
    };
    let blocks = |line: &mut Value, change: &dyn Fn(&mut Vec<Value>)| {
        change(line["blocks"].as_array_mut().unwrap());
    };
    let count = good["blocks"].as_array().unwrap().len();
    let cases: Vec<(Value, String)> = vec![
        (with(&|l| blocks(l, &|b| drop(b.pop()))), format!("{} blocks came of {count}", count - 1)),
        (with(&|l| blocks(l, &|b| b.push(b[0].clone()))), format!("{} blocks came of", count + 1)),
        (with(&|l| l["blocks"] = Value::Null), format!("0 blocks came of {count}")),
        (
            with(&|l| (l["blocks"], l["block_count"]) = (Value::Null, json!(0))),
            "room Hall: no block is of its logger \"hall 00\"".to_owned(),
        ),
        (
            with(&|l| {
                let bytes = l["blocks"][1]["bytes"].as_str().unwrap().to_owned();
                let other = if bytes.starts_with('A') { "B" } else { "A" };
                l["blocks"][1]["bytes"] = json!(other.to_owned() + &bytes[1..]);
            }),
            "block 1 of logger".to_owned(),
        ),
        (with(&|l| l["blocks"][0]["bytes"] = json!("~~~")), "no Base64".to_owned()),
        (with(&|l| l["blocks"][0]["logger"] = json!("hall")), "no id of 16".to_owned()),
        (with(&|l| l["blocks"][0]["logger_name"] = json!("bath")), "two names".to_owned()),
        (
            with(&|l| {
                let mut other = l["blocks"][1].clone();
                other["block"] = json!(0);
                l["blocks"].as_array_mut().unwrap()[1] = other;
            }),
            "two versions".to_owned(),
        ),
        (with(&|l| l["job_file"] = json!("[site]\nname = 7\n")), "name".to_owned()),
        (
            with(&|l| drop(l.as_object_mut().unwrap().remove("block_count"))),
            "block_count".to_owned(),
        ),
        (json!("no job"), "is no job with its blocks".to_owned()),
    ];
    let mut lines: Vec<Value> = cases.iter().map(|(line, _)| line.clone()).collect();
    lines.push(good.clone());
    let (answers, code) = ask(&yard, &lines, "glue-down");
    assert_eq!(code, Some(2));
    for ((_, expected), answer) in cases.iter().zip(&answers) {
        let error = answer["error"].as_str().unwrap_or_else(|| panic!("{expected}: {answer}"));
        assert!(error.contains(expected.as_str()), "{expected}: {error}");
        assert_eq!(answer["check"], Value::Null);
    }
    assert_eq!(answers.last().unwrap()["check"]["verdict"], "go");

    for args in [&["check", "-"][..], &["check", "-", "--json", "--why", "dew-margin"]] {
        let said = yard.run(args);
        assert_eq!((said.code, said.err.contains("--json")), (Some(2), true), "{said:?}");
    }
}
