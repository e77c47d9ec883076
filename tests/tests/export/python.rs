//! Readers of the formats that are not ours: the `csv` module of Python, and DuckDB for Parquet.
//!
//! They need Python 3 and, the first time, a package index. Without them a test says so on stderr and
//! passes, unless GLUEDAY_REQUIRE_PYTHON=1 forbids it.

use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The version that is installed, and its environment under `target/tmp`.
const PACKAGE: &str = "duckdb==2.0.1";
const ENVIRONMENT: &str = "duckdb-2.0.1";

/// What the script of that name in `generate/` prints, or `None` where this machine cannot run it.
///
/// A script that runs and fails, or prints something else, is a fault and panics.
pub(crate) fn run(script: &str, arguments: &[&Path]) -> Option<serde_json::Value> {
    static PYTHON: OnceLock<Result<PathBuf, String>> = OnceLock::new();
    let python = match PYTHON.get_or_init(environment) {
        Ok(python) => python,
        Err(reason) => {
            let required = std::env::var_os("GLUEDAY_REQUIRE_PYTHON").is_some_and(|set| set == "1");
            assert!(!required, "GLUEDAY_REQUIRE_PYTHON is set, but {reason}");
            // Not `eprintln!`: the test harness would keep it to itself when the test passes.
            let _ = writeln!(
                std::io::stderr(),
                "SKIPPED {script}: {reason} (GLUEDAY_REQUIRE_PYTHON=1 makes this an error)"
            );
            return None;
        }
    };
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("generate").join(script);
    let arguments = arguments.iter().map(|argument| argument.as_os_str());
    let text = output(python.as_os_str(), [path.as_os_str()].into_iter().chain(arguments));
    let text = text.unwrap_or_else(|reason| panic!("{script}: {reason}"));
    Some(serde_json::from_str(&text).expect("the script prints one document"))
}

fn environment() -> Result<PathBuf, String> {
    let home = Path::new(env!("CARGO_TARGET_TMPDIR")).join(ENVIRONMENT);
    let python = if cfg!(windows) { "Scripts/python.exe" } else { "bin/python3" };
    let python = home.join(python);
    if output(python.as_os_str(), ["-c", "import duckdb"].map(OsStr::new)).is_ok() {
        return Ok(python);
    }
    let make = ["-m", "venv", "--clear"].map(OsStr::new);
    output(OsStr::new("python3"), make.into_iter().chain([home.as_os_str()]))
        .map_err(|reason| format!("no Python 3 that makes environments: {reason}"))?;
    let install = ["-m", "pip", "--disable-pip-version-check", "install", "--quiet"];
    let patience = ["--no-deps", "--retries", "1", "--timeout", "20", PACKAGE];
    output(python.as_os_str(), install.iter().chain(&patience).map(OsStr::new))
        .map_err(|reason| format!("{PACKAGE} cannot be installed: {reason}"))?;
    Ok(python)
}

fn output<'a>(
    program: &OsStr,
    arguments: impl IntoIterator<Item = &'a OsStr>,
) -> Result<String, String> {
    let output = Command::new(program)
        .args(arguments)
        .output()
        .map_err(|error| format!("{} does not start: {error}", program.display()))?;
    if output.status.success() {
        return String::from_utf8(output.stdout).map_err(|error| error.to_string());
    }
    let talk = String::from_utf8_lossy(&output.stderr);
    let last = talk.trim().lines().next_back().unwrap_or("it says nothing").to_owned();
    Err(format!("{} ends with {}: {last}", program.display(), output.status))
}
