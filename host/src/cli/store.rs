//! Files that the program writes: each is there whole, or as it was before.
//!
//! New contents are written under a name of their own beside the place, handed to the disk, and put
//! into the place in one step. Whoever is killed leaves the old file or the new one, and perhaps a
//! hidden file that nobody reads; the next write to the folder takes it away after an hour.

use std::ffi::OsStr;
use std::fs::{self, File, Metadata};
use std::io::{self, BufWriter, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use tempfile::NamedTempFile;

/// How the hidden files begin and end.
const PART: (&str, &str) = (".glueday-", ".part");
/// A hidden file of this age has nobody left who writes to it: a write takes seconds at most.
const PART_AGE_MAX: Duration = Duration::from_secs(3600);

/// Why a file was not written. The place is as it was before.
#[derive(Debug, thiserror::Error)]
pub(super) enum StoreError {
    /// It must not be there, and is.
    #[error("{} is there already: choose another name or move it away", .0.display())]
    Exists(PathBuf),
    /// Its folder is not there.
    #[error("the folder of {} does not exist: make it, or choose another name", .0.display())]
    FolderMissing(PathBuf),
    /// The name belongs to a folder or a device.
    #[error("{} is not a file: choose another name", .0.display())]
    NotAFile(PathBuf),
    /// The file that is there is marked as one that is only to be read.
    #[error("{} is read-only: make it writable, or choose another name", .0.display())]
    ReadOnly(PathBuf),
    /// Nothing can be made in the folder.
    #[error(
        "nothing can be written in the folder of {} ({detail}): make the folder writable, or choose another one",
        .path.display()
    )]
    FolderReadOnly {
        /// The file.
        path: PathBuf,
        /// The system's words.
        detail: String,
    },
    /// The disk is full, or the user's share of it, or it takes no file that large.
    #[error(
        "no room left on the disk for {} ({detail}); nothing was changed: make room and repeat",
        .path.display()
    )]
    NoRoom {
        /// The file.
        path: PathBuf,
        /// The system's words.
        detail: String,
    },
    /// Something else.
    #[error("cannot write {} ({detail}); nothing was changed: check the disk and repeat", .path.display())]
    Other {
        /// The file.
        path: PathBuf,
        /// The system's words.
        detail: String,
    },
}

/// Writes a file, in place of the one that may be there: a link keeps leading to it, and it keeps its
/// permissions and, where that is allowed, its owner.
pub(super) fn write(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    fill(path, |part| part.write_all(bytes).map_err(|error| explain(path, &error)))
}

/// Writes a file as [`write()`] does, with contents that are made on the way. When they cannot be
/// made, the place stays as it was and the maker's error comes back.
pub(super) fn fill<E: From<StoreError>>(
    path: &Path,
    make: impl FnOnce(&mut dyn io::Write) -> Result<(), E>,
) -> Result<(), E> {
    let (place, old) = place(path)?;
    let explain = |error| explain(path, &error);
    let mut part = begin(&place).map_err(explain)?;
    let mut buffer = BufWriter::new(part.as_file_mut());
    make(&mut buffer)?;
    buffer.flush().map_err(explain)?;
    drop(buffer);
    end(&part, old.as_ref()).map_err(explain)?;
    part.persist(&place).map_err(|error| explain(error.error))?;
    Ok(finish(&place).map_err(explain)?)
}

/// Writes a file that must not be there yet.
pub(super) fn create(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    // A link that leads nowhere is in the way as well.
    if path.symlink_metadata().is_ok() {
        return Err(StoreError::Exists(path.to_owned()));
    }
    let explain = |error| explain(path, &error);
    let mut part = begin(path).map_err(explain)?;
    part.write_all(bytes).map_err(explain)?;
    end(&part, None).map_err(explain)?;
    part.persist_noclobber(path).map_err(|error| explain(error.error))?;
    finish(path).map_err(explain)
}

/// Finds out, for somebody who will write the file later, whether it could be written now.
pub(super) fn rehearse(path: &Path) -> Result<(), StoreError> {
    let (place, old) = place(path)?;
    begin(&place).and_then(|part| end(&part, old.as_ref())).map_err(|error| explain(path, &error))
}

/// Where the contents belong, links followed, and what is there by now.
fn place(path: &Path) -> Result<(PathBuf, Option<Metadata>), StoreError> {
    let mut place = path.to_owned();
    // A name that ends in a link is followed; the folders before it lead there anyway.
    if path.is_symlink() {
        place = fs::canonicalize(path).map_err(|error| explain(path, &error))?;
    }
    let old = match fs::metadata(&place) {
        Ok(old) if !old.is_file() => return Err(StoreError::NotAFile(path.to_owned())),
        Ok(old) => old,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok((place, None)),
        Err(error) => return Err(explain(path, &error)),
    };
    // To put another file in the place of this one asks nobody for this one's permissions, nor are
    // those of a superuser bound by them.
    let denied = |error: io::Error| error.kind() == ErrorKind::PermissionDenied;
    if old.permissions().readonly() || File::options().append(true).open(&place).is_err_and(denied)
    {
        return Err(StoreError::ReadOnly(path.to_owned()));
    }
    Ok((place, Some(old)))
}

/// An empty file beside the place of the contents.
fn begin(place: &Path) -> io::Result<NamedTempFile> {
    let folder = folder(place);
    sweep(folder);
    let mut builder = tempfile::Builder::new();
    builder.prefix(PART.0).suffix(PART.1);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // The user's mask takes from it what it takes from any new file.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Gives the written file what the old one had, and hands it to the disk.
fn end(part: &NamedTempFile, old: Option<&Metadata>) -> io::Result<()> {
    if let Some(old) = old {
        // Only a superuser may give a file away; anybody else keeps the new one.
        #[cfg(unix)]
        {
            use std::os::unix::fs::{MetadataExt as _, fchown};
            let _ = fchown(part.as_file(), Some(old.uid()), Some(old.gid()));
        }
        part.as_file().set_permissions(old.permissions())?;
    }
    part.as_file().sync_all()
}

/// Hands the name to the disk as well.
#[cfg_attr(not(unix), allow(clippy::unnecessary_wraps, unused_variables))]
fn finish(place: &Path) -> io::Result<()> {
    #[cfg(unix)]
    match File::open(folder(place)).and_then(|folder| folder.sync_all()) {
        // A folder that takes files may still be closed to readers, and not every file system syncs one.
        Err(error)
            if !matches!(
                error.kind(),
                ErrorKind::PermissionDenied | ErrorKind::InvalidInput | ErrorKind::Unsupported
            ) =>
        {
            return Err(error);
        }
        _ => {}
    }
    Ok(())
}

fn folder(place: &Path) -> &Path {
    match place.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Takes away what killed writers left in the folder. What cannot be taken away harms nobody.
fn sweep(folder: &Path) {
    let is_part = |name: &OsStr| {
        name.to_str().is_some_and(|name| name.starts_with(PART.0) && name.ends_with(PART.1))
    };
    let is_old = |found: &Metadata| {
        let modified = found.modified().unwrap_or_else(|_| SystemTime::now());
        found.is_file() && modified.elapsed().is_ok_and(|age| age > PART_AGE_MAX)
    };
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if is_part(&entry.file_name()) && entry.metadata().is_ok_and(|found| is_old(&found)) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// What went wrong with the file, and what to do.
pub(super) fn explain(path: &Path, error: &io::Error) -> StoreError {
    let (path, detail) = (path.to_owned(), error.to_string());
    match error.kind() {
        ErrorKind::AlreadyExists => StoreError::Exists(path),
        ErrorKind::NotFound | ErrorKind::NotADirectory => StoreError::FolderMissing(path),
        ErrorKind::IsADirectory => StoreError::NotAFile(path),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            StoreError::FolderReadOnly { path, detail }
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            StoreError::NoRoom { path, detail }
        }
        _ => StoreError::Other { path, detail },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let names = fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name());
        let mut names: Vec<String> = names.map(|name| name.into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_is_made_and_replaced_and_nothing_is_left_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("hall.toml");
        for text in ["one", "", "another"] {
            write(&path, text.as_bytes()).unwrap();
            assert_eq!(fs::read_to_string(&path).unwrap(), text);
        }
        assert!(matches!(create(&path, b"x"), Err(StoreError::Exists(_))));
        assert_eq!(fs::read_to_string(&path).unwrap(), "another");
        create(&folder.path().join("bath.toml"), b"x").unwrap();
        rehearse(&folder.path().join("attic.toml")).unwrap();
        assert_eq!(names(folder.path()), ["bath.toml", "hall.toml"]);
    }

    #[test]
    fn what_cannot_be_written_is_told_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("no/such/hall.toml");
        for result in [write(&path, b"x"), create(&path, b"x"), rehearse(&path)] {
            assert!(matches!(result, Err(StoreError::FolderMissing(_))), "{result:?}");
        }
        let result = write(folder.path(), b"x");
        assert!(matches!(result, Err(StoreError::NotAFile(_))), "{result:?}");
        let path = folder.path().join("hall.toml");
        fs::write(&path, "kept").unwrap();
        let mut permissions = fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&path, permissions).unwrap();
        for result in [write(&path, b"x"), rehearse(&path)] {
            assert!(matches!(result, Err(StoreError::ReadOnly(_))), "{result:?}");
        }
        assert_eq!(fs::read_to_string(&path).unwrap(), "kept");
        assert_eq!(names(folder.path()), ["hall.toml"]);
    }

    #[test]
    fn only_old_parts_are_taken_away() {
        let folder = tempfile::tempdir().unwrap();
        let make = |name: &str, age_s: u64| {
            let file = File::create(folder.path().join(name)).unwrap();
            file.set_modified(SystemTime::now() - Duration::from_secs(age_s)).unwrap();
        };
        make(".glueday-dead.part", 3700);
        make(".glueday-busy.part", 3500);
        make("glueday.part", 3700);
        make(".glueday-notes", 3700);
        write(&folder.path().join("a"), b"x").unwrap();
        assert_eq!(
            names(folder.path()),
            [".glueday-busy.part", ".glueday-notes", "a", "glueday.part"]
        );
    }

    #[cfg(unix)]
    #[test]
    fn permissions_and_links_are_kept() {
        use std::os::unix::fs::{PermissionsExt as _, symlink};
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("hall.toml"), folder.path().join("link.toml"));
        fs::write(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        symlink("hall.toml", &link).unwrap();
        write(&link, b"new").unwrap();
        assert!(link.is_symlink());
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
        // A new file gets what the mask leaves of any.
        let (ours, any) = (folder.path().join("ours"), folder.path().join("any"));
        write(&ours, b"x").unwrap();
        File::create(&any).unwrap();
        let mode = |path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&ours), mode(&any));
        symlink("nowhere", folder.path().join("dangling")).unwrap();
        assert!(matches!(
            create(&folder.path().join("dangling"), b"x"),
            Err(StoreError::Exists(_))
        ));
    }
}
