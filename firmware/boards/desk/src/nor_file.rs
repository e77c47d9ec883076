//! A NOR flash in a file, with its rules kept: programming only clears bits, erasing sets whole
//! sectors.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash, check_erase, check_read,
    check_write,
};
use std::fs::{File, OpenOptions};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

const SECTOR_LEN: usize = 4096;

/// The file as a NOR flash with a write unit of one byte and sectors of 4096 bytes.
///
/// Only one process at a time can have it open. Each program and each erase is written to the file
/// before it returns: killing the process loses nothing. The machine's power failing may.
#[derive(Debug)]
pub struct NorFile {
    file: File,
    capacity: usize,
}

/// Why the file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum NorFileError {
    /// The operating system says no.
    #[error("cannot {what} flash image {path}: {error}")]
    Io {
        /// What was tried.
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// What the operating system says.
        #[source]
        error: io::Error,
    },
    /// Another process has it.
    #[error("flash image {path} is in use by another logger; stop that one, or give another image")]
    InUse {
        /// The file.
        path: PathBuf,
    },
    /// It is as long as another number of slots.
    #[error(
        "flash image {path} is {found_len} bytes long, not {slots} slots of 4096 bytes; \
         give the number of slots it was made with, or another image"
    )]
    WrongLen {
        /// The file.
        path: PathBuf,
        /// Its length.
        found_len: u64,
        /// The slots that were asked for.
        slots: u32,
    },
    /// A flash of no slots, or of more than an address reaches.
    #[error("a flash of {slots} slots: give from 2 to 1048575")]
    BadSlots {
        /// The slots that were asked for.
        slots: u32,
    },
}

impl NorFile {
    /// Opens the image at `path`, or makes an erased one of `slots` sectors there.
    ///
    /// # Errors
    /// See [`NorFileError`]. An image of another size is not changed.
    pub fn create_or_open(path: &Path, slots: u32) -> Result<Self, NorFileError> {
        if slots < 2 {
            return Err(NorFileError::BadSlots { slots });
        }
        Self::open_sectors(path, slots, OpenOptions::new())
    }

    /// Opens the one sector at `path` that a key is kept in, or makes an erased one there, which only
    /// its owner may read where the system has such permissions.
    pub(crate) fn create_or_open_key(path: &Path) -> Result<Self, NorFileError> {
        #[allow(unused_mut, reason = "where there are no such permissions")]
        let mut options = OpenOptions::new();
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        Self::open_sectors(path, 1, options)
    }

    fn open_sectors(
        path: &Path,
        slots: u32,
        mut options: OpenOptions,
    ) -> Result<Self, NorFileError> {
        let io = |what| move |error| NorFileError::Io { what, path: path.to_owned(), error };
        let capacity = usize::try_from(slots).ok().and_then(|slots| slots.checked_mul(SECTOR_LEN));
        let capacity = capacity.filter(|len| u32::try_from(*len).is_ok());
        let capacity = capacity.ok_or(NorFileError::BadSlots { slots })?;
        let mut file = options
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(io("open"))?;
        file.try_lock().map_err(|error| match error {
            std::fs::TryLockError::WouldBlock => NorFileError::InUse { path: path.to_owned() },
            std::fs::TryLockError::Error(error) => io("lock")(error),
        })?;
        let found_len = file.metadata().map_err(io("look at"))?.len();
        if found_len == 0 {
            fill_erased(&mut file, capacity).map_err(io("make"))?;
        } else if u64::try_from(capacity) != Ok(found_len) {
            return Err(NorFileError::WrongLen { path: path.to_owned(), found_len, slots });
        }
        Ok(Self { file, capacity })
    }

    fn read_at(&mut self, offset: u32, bytes: &mut [u8]) -> io::Result<()> {
        self.file.seek(SeekFrom::Start(offset.into()))?;
        self.file.read_exact(bytes)
    }

    fn write_at(&mut self, offset: u32, bytes: &[u8]) -> io::Result<()> {
        self.file.seek(SeekFrom::Start(offset.into()))?;
        self.file.write_all(bytes)
    }
}

/// Makes the image in one write where the system allows: if it is killed in the middle, the length
/// tells.
fn fill_erased(file: &mut File, capacity: usize) -> io::Result<()> {
    file.write_all(&vec![0xFF; capacity])
}

/// Why the flash in the file refused, or failed at, an operation.
#[derive(Debug, thiserror::Error)]
pub enum NorError {
    /// Not aligned, or beyond the end.
    #[error("{0}")]
    Arguments(NorFlashErrorKind),
    /// A program would have had to set a bit, which only erasing can.
    #[error("a program at {address:#x} would set bits: that sector was not erased")]
    NotErased {
        /// Address of the first such byte.
        address: u32,
    },
    /// The file failed.
    #[error("the flash image failed: {0}")]
    Io(#[from] io::Error),
}

impl NorFlashError for NorError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Arguments(kind) => *kind,
            Self::NotErased { .. } | Self::Io(_) => NorFlashErrorKind::Other,
        }
    }
}

impl ErrorType for NorFile {
    type Error = NorError;
}

impl ReadNorFlash for NorFile {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len()).map_err(NorError::Arguments)?;
        Ok(self.read_at(offset, bytes)?)
    }

    fn capacity(&self) -> usize {
        self.capacity
    }
}

impl NorFlash for NorFile {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to).map_err(NorError::Arguments)?;
        for sector in (from..to).step_by(SECTOR_LEN) {
            self.write_at(sector, &[0xFF; SECTOR_LEN])?;
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len()).map_err(NorError::Arguments)?;
        let mut before = vec![0; bytes.len()];
        self.read_at(offset, &mut before)?;
        for (address, (before, after)) in (offset..).zip(before.iter().zip(bytes)) {
            if before & after != *after {
                return Err(NorError::NotErased { address });
            }
        }
        Ok(self.write_at(offset, bytes)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn programming_only_clears_bits() {
        let dir = tempfile::tempdir().unwrap();
        let mut flash = NorFile::create_or_open(&dir.path().join("nor"), 2).unwrap();
        flash.write(10, &[0xF0, 0x0F]).unwrap();
        flash.write(10, &[0x10, 0x0F]).unwrap();
        let refused = flash.write(10, &[0x10, 0x1F]);
        assert!(matches!(refused, Err(NorError::NotErased { address: 11 })), "{refused:?}");
        let mut bytes = [0; 3];
        flash.read(9, &mut bytes).unwrap();
        assert_eq!(bytes, [0xFF, 0x10, 0x0F]);
        flash.erase(0, 4096).unwrap();
        flash.read(9, &mut bytes).unwrap();
        assert_eq!(bytes, [0xFF; 3]);
        assert!(flash.erase(1, 4096).is_err());
        assert!(flash.write(8191, &[0, 0]).is_err());
    }

    #[test]
    #[cfg(unix)]
    fn only_the_owner_may_read_a_key() {
        use std::os::unix::fs::PermissionsExt as _;
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("nor.key");
        let mut sector = NorFile::create_or_open_key(&path).unwrap();
        assert_eq!(sector.capacity(), SECTOR_LEN);
        sector.write(0, &[1]).unwrap();
        assert_eq!(path.metadata().unwrap().permissions().mode() & 0o077, 0);
    }

    #[test]
    fn an_image_is_kept_and_guarded() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("nor");
        let mut flash = NorFile::create_or_open(&path, 3).unwrap();
        flash.write(8000, &[0x55]).unwrap();
        let second = NorFile::create_or_open(&path, 3);
        assert!(matches!(second, Err(NorFileError::InUse { .. })), "{second:?}");
        drop(flash);
        let mut bytes = [0];
        NorFile::create_or_open(&path, 3).unwrap().read(8000, &mut bytes).unwrap();
        assert_eq!(bytes, [0x55]);
        let wrong = NorFile::create_or_open(&path, 4);
        assert!(
            matches!(wrong, Err(NorFileError::WrongLen { found_len: 12_288, .. })),
            "{wrong:?}"
        );
        assert!(matches!(NorFile::create_or_open(&path, 1), Err(NorFileError::BadSlots { .. })));
    }
}
