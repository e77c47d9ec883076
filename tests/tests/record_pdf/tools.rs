//! Other people's programs on our files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A PDF file on disk.
pub(crate) struct Pdf {
    folder: tempfile::TempDir,
    path: PathBuf,
}

fn run(program: &str, args: &[&str], path: &Path, after: &[&str]) -> Output {
    let output = Command::new(program).args(args).arg(path).args(after).output();
    output.unwrap_or_else(|error| panic!("{program}: {error}; run tests/pdf-tools to install it"))
}

impl Pdf {
    pub(crate) fn new(bytes: &[u8]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.pdf");
        std::fs::write(&path, bytes).unwrap();
        Self { folder, path }
    }

    /// Its text as Poppler reads it.
    pub(crate) fn text(&self) -> String {
        let output = run("pdftotext", &["-layout"], &self.path, &["-"]);
        assert!(output.status.success(), "{output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// The text with every break between words as one space.
    pub(crate) fn words(&self) -> String {
        let output = run("pdftotext", &[], &self.path, &["-"]);
        let text = String::from_utf8(output.stdout).unwrap();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// The files inside, as Poppler takes them out.
    pub(crate) fn files(&self) -> BTreeMap<String, Vec<u8>> {
        let folder = self.folder.path().join("out");
        std::fs::create_dir(&folder).unwrap();
        let output =
            run("pdfdetach", &["-saveall", "-o", folder.to_str().unwrap()], &self.path, &[]);
        assert!(output.status.success(), "{output:?}");
        let read = |entry: std::io::Result<std::fs::DirEntry>| {
            let entry = entry.unwrap();
            (entry.file_name().into_string().unwrap(), std::fs::read(entry.path()).unwrap())
        };
        std::fs::read_dir(folder).unwrap().map(read).collect()
    }

    /// What qpdf says against it.
    pub(crate) fn check(&self) {
        let output = run("qpdf", &["--check"], &self.path, &[]);
        assert!(output.status.success(), "{output:?}");
        let said = String::from_utf8_lossy(&output.stdout);
        assert!(said.contains("No syntax or stream encoding errors"), "{said}");
    }

    /// Every object of the file, as qpdf reads it.
    pub(crate) fn objects(&self) -> serde_json::Value {
        let output = run("qpdf", &["--json=2", "--json-key=qpdf"], &self.path, &[]);
        assert!(output.status.success(), "{output:?}");
        let document: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        document["qpdf"][1].clone()
    }

    /// Fonts as Poppler lists them: a line each.
    pub(crate) fn fonts(&self) -> Vec<String> {
        let output = run("pdffonts", &[], &self.path, &[]);
        String::from_utf8(output.stdout).unwrap().lines().skip(2).map(str::to_owned).collect()
    }

    /// The XMP metadata.
    pub(crate) fn metadata(&self) -> String {
        String::from_utf8(run("pdfinfo", &["-meta"], &self.path, &[]).stdout).unwrap()
    }

    /// Width and height of the first page in points.
    pub(crate) fn paper(&self) -> String {
        let said = String::from_utf8(run("pdfinfo", &[], &self.path, &[]).stdout).unwrap();
        said.lines().find_map(|line| line.strip_prefix("Page size:")).unwrap().trim().to_owned()
    }

    /// Structure as Poppler reads it from the tags, without the text in it.
    pub(crate) fn structure(&self) -> String {
        String::from_utf8(run("pdfinfo", &["-struct"], &self.path, &[]).stdout).unwrap()
    }
}
