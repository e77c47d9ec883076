//! A pseudo-terminal: to the host it is a serial device.

use super::{Io, PortError, outcome};
use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::fs;
use std::io;
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::path::{Path, PathBuf};

#[derive(Debug)]
pub(super) struct Pty {
    master: OwnedFd,
    name: String,
    link: Option<PathBuf>,
}

impl Pty {
    pub(super) fn open(link: Option<&Path>) -> Result<Self, PortError> {
        let (master, name) = open_raw().map_err(PortError::Pty)?;
        let mut pty = Self { master, name, link: None };
        if let Some(link) = link {
            make_link(&pty.name, link)?;
            pty.link = Some(link.to_owned());
        }
        Ok(pty)
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    pub(super) fn as_fd(&self) -> BorrowedFd<'_> {
        self.master.as_fd()
    }

    /// `Gone` while no process has the other side open.
    pub(super) fn receive(&mut self, bytes: &mut [u8]) -> Io {
        outcome(rustix::io::read(&self.master, bytes).map_err(io::Error::from))
    }

    pub(super) fn send(&mut self, bytes: &[u8]) -> Io {
        outcome(rustix::io::write(&self.master, bytes).map_err(io::Error::from))
    }
}

impl Drop for Pty {
    fn drop(&mut self) {
        if let Some(link) = &self.link
            && fs::read_link(link).is_ok_and(|target| target == Path::new(&self.name))
        {
            // Nothing is left to tell of a failure, and a stale link does no harm.
            let _ = fs::remove_file(link);
        }
    }
}

fn open_raw() -> io::Result<(OwnedFd, String)> {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
    grantpt(&master)?;
    unlockpt(&master)?;
    let name = ptsname(&master, Vec::new())?;
    let name = name.into_string().map_err(|error| io::Error::other(error.to_string()))?;
    // Raw from the start, for peers that do not set it themselves. The settings stay with the pty.
    let slave = open(&*name, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty())?;
    let mut settings = tcgetattr(&slave)?;
    settings.make_raw();
    tcsetattr(&slave, OptionalActions::Now, &settings)?;
    fcntl_setfl(&master, fcntl_getfl(&master)? | OFlags::NONBLOCK)?;
    Ok((master, name))
}

/// Makes `link` lead to `target`, in place of a link that is there already.
fn make_link(target: &str, link: &Path) -> Result<(), PortError> {
    let error = |error| PortError::Link { link: link.to_owned(), error };
    match fs::symlink_metadata(link) {
        Ok(found) if found.is_symlink() => fs::remove_file(link).map_err(error)?,
        Ok(_) => return Err(PortError::NotALink { link: link.to_owned() }),
        Err(_) => {}
    }
    std::os::unix::fs::symlink(target, link).map_err(error)
}
