//! Which file, or which server, is the archive.

use etcetera::BaseStrategy as _;
use std::path::{Path, PathBuf};

/// Environment variable that names the archive.
pub const ARCHIVE_ENV: &str = "GLUEDAY_ARCHIVE";

/// The system does not say where the user's data belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "cannot tell where this user's data belongs: name the archive with --archive or {ARCHIVE_ENV}"
)]
pub struct NoPlace;

/// The archive to use: the one of the command line, or else of the environment (unless empty), or
/// else `default`.
#[must_use]
pub fn choose_place(
    argument: Option<&Path>,
    environment: Option<&Path>,
    default: &Path,
) -> PathBuf {
    argument
        .or(environment.filter(|path| !path.as_os_str().is_empty()))
        .unwrap_or(default)
        .to_owned()
}

/// Where the archive is when nobody names it: in the user's data folder, on Linux that of the XDG
/// Base Directory Specification. Reads the environment; makes nothing.
///
/// # Errors
/// [`NoPlace`] when the user has no home.
pub fn default_place() -> Result<PathBuf, NoPlace> {
    let strategy = etcetera::choose_base_strategy().map_err(|_| NoPlace)?;
    Ok(strategy.data_dir().join("glueday").join("archive.db"))
}

/// Whether this names an archive on a server, and no file.
pub(super) fn is_server(path: &Path) -> bool {
    let text = path.to_string_lossy();
    text.starts_with("postgresql://") || text.starts_with("postgres://")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn argument_then_environment_then_default() {
        let [a, e, d] = ["a", "e", "d"].map(Path::new);
        assert_eq!(choose_place(Some(a), Some(e), d), a);
        assert_eq!(choose_place(None, Some(e), d), e);
        assert_eq!(choose_place(None, Some(Path::new("")), d), d);
        assert_eq!(choose_place(None, None, d), d);
    }
}
