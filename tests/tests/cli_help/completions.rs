//! Completions for shells.

use crate::{all, options, path};
use glueday_tests::programs::glueday;
use std::path::Path;
use std::process::Command;

fn script(shell: &str) -> String {
    let said = glueday(Path::new("none.db"), &["completions", shell]);
    assert_eq!(said.code, Some(0), "{said:?}");
    said.out
}

#[test]
fn the_completions_of_every_shell_hold_every_command_and_option() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = script(shell);
        for command in all() {
            for word in path(&command) {
                assert!(script.contains(&word), "{shell}: {word}");
            }
            for option in options(&command) {
                // fish names options without their dashes.
                let bare = format!("-l {}", &option[2..]);
                assert!(script.contains(if shell == "fish" { &bare } else { &option }), "{option}");
            }
        }
    }
}

/// What bash offers for a line that ends in `word`.
fn offers(script: &Path, line: &[&str]) -> Vec<String> {
    let words: Vec<String> = line.iter().map(|word| format!("'{word}'")).collect();
    let (last, before) = (line.len() - 1, line.len() - 2);
    let ask = format!(
        "source '{}'; COMP_WORDS=({}); COMP_CWORD={last}; \
         _glueday glueday \"${{COMP_WORDS[{last}]}}\" \"${{COMP_WORDS[{before}]}}\"; \
         printf '%s\\n' \"${{COMPREPLY[@]}}\"",
        script.display(),
        words.join(" ")
    );
    let output = Command::new("bash").args(["--norc", "-c", &ask]).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap().lines().map(str::to_owned).collect()
}

#[test]
fn bash_takes_its_completions_and_offers_what_fits() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("glueday");
    std::fs::write(&file, script("bash")).unwrap();
    let output = Command::new("bash").arg("-n").arg(&file).output().unwrap();
    assert!(output.status.success() && output.stderr.is_empty(), "{output:?}");
    assert_eq!(offers(&file, &["glueday", "pro"]), ["probe-check"]);
    assert_eq!(offers(&file, &["glueday", "job", "n"]), ["new"]);
    assert_eq!(offers(&file, &["glueday", "adopt", "--keep"]), ["--keep-clock"]);
    let steps = ["membrane", "glue-down", "traffic", "sanding", "heat-up", "service"];
    assert_eq!(offers(&file, &["glueday", "check", "--step", ""]), steps);
    assert_eq!(offers(&file, &["glueday", "check", "--step", "sa"]), ["sanding"]);
}
