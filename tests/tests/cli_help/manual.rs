//! Manual pages.

use crate::{all, options, path};
use glueday_tests::programs::{Said, glueday};
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

fn man(args: &[&str]) -> Said {
    glueday(Path::new("none.db"), &[&["man"], args].concat())
}

/// The file of a command's page.
fn file_name(path: &[String]) -> String {
    let words: Vec<&str> =
        std::iter::once("glueday").chain(path.iter().map(String::as_str)).collect();
    format!("{}.1", words.join("-"))
}

#[test]
fn there_is_a_page_of_every_command_and_a_formatter_takes_each_without_a_warning() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("man1");
    let said = man(&["--folder", place.to_str().unwrap()]);
    assert_eq!(said.code, Some(0), "{said:?}");
    let names: BTreeSet<String> = std::fs::read_dir(&place)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let expected: BTreeSet<String> =
        all().iter().map(|command| file_name(&path(command))).collect();
    assert_eq!(names, expected);
    let has_formatter = Command::new("groff").arg("--version").output().is_ok();
    for command in all() {
        let path = path(&command);
        let page = std::fs::read_to_string(place.join(file_name(&path))).unwrap();
        let plain = page.replace("\\-", "-");
        let options = options(&command);
        let lacks = options.iter().find(|option| !plain.contains(*option));
        assert!(lacks.is_none(), "{path:?}: {lacks:?}");
        for heading in ["NAME", "SYNOPSIS", "OPTIONS", "EXAMPLES"] {
            assert!(plain.contains(&format!(".SH {heading}\n")), "{path:?}: {heading}");
        }
        for below in command.get_subcommands() {
            assert!(plain.contains(below.get_name()), "{path:?}: {}", below.get_name());
        }
        if has_formatter {
            let formatted = Command::new("groff")
                .args(["-man", "-Tutf8", "-ww", "-z"])
                .arg(place.join(file_name(&path)))
                .output()
                .unwrap();
            let warnings = String::from_utf8_lossy(&formatted.stderr);
            assert!(formatted.status.success() && warnings.is_empty(), "{path:?}: {warnings}");
        }
        // The same page, asked for by its name.
        let words: Vec<&str> = path.iter().map(String::as_str).collect();
        if words.len() != 1 || words == ["pull"] {
            assert_eq!(man(&words).out, page, "{words:?}");
        }
    }
}

#[test]
fn a_page_keeps_its_examples_on_lines_of_their_own() {
    let page = man(&["import"]).out.replace("\\-", "-");
    let (_, examples) = page.split_once(".SH EXAMPLES\n").unwrap();
    let (examples, rest) = examples.split_once(".fi\n").unwrap();
    assert!(examples.starts_with(".nf\n"), "{examples}");
    let first = "glueday import site.csv --name \"hall air\" --zone America/Denver \\\\\n";
    assert!(examples.replace("\\e", "\\\\").contains(first), "{examples}");
    assert!(rest.contains(".SH \"EXIT STATUS\"\n0 done, 2 error"), "{rest}");
}

#[test]
fn a_page_that_there_is_not_is_told_with_those_that_there_are() {
    let said = man(&["job", "knew"]);
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""));
    assert!(said.err.contains("`job knew`") && said.err.contains("new, check"), "{said:?}");
    let said = man(&["pull", "new"]);
    assert!(said.err.contains("`pull` has no commands of its own"), "{said:?}");
}
