//! A small disk: a file system in memory in a mount namespace of its own, where that can be had, and
//! else a limit to the length of each file.

use crate::run::command;
use glueday_tests::programs::Said;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// The size of the disk, and of the largest file where there is no disk.
const SIZE_KIB: u64 = 4096;

pub(crate) struct Disk {
    folder: tempfile::TempDir,
    /// Holds the namespace; ends when its standard input is closed.
    keeper: Option<Child>,
    /// Whether the namespace belongs to a user namespace.
    user: bool,
    /// Where there is no disk: how long a file may get, in KiB.
    limit_kib: Option<u64>,
}

impl Disk {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for (user, options) in [(false, "--mount"), (true, "--user --map-root-user --mount")] {
            let script = format!(
                "mount -t tmpfs -o size={SIZE_KIB}k none '{}' && echo mounted && read wait",
                folder.path().display()
            );
            let keeper = Command::new("unshare")
                .args(options.split(' '))
                .args(["sh", "-c", &script])
                .stdin(Stdio::piped())
                .stdout(Stdio::piped())
                .stderr(Stdio::null())
                .spawn();
            let Ok(mut keeper) = keeper else { continue };
            let mut line = String::new();
            let _ = BufReader::new(keeper.stdout.take().unwrap()).read_line(&mut line);
            if line == "mounted\n" {
                return Self { folder, keeper: Some(keeper), user, limit_kib: None };
            }
            let _ = keeper.kill();
            let _ = keeper.wait();
        }
        static TOLD: std::sync::Once = std::sync::Once::new();
        TOLD.call_once(|| {
            println!(
                "NO SMALL DISK: neither as superuser nor in a user namespace can a file system be \
                 mounted here; a limit to the length of files stands in for it"
            );
        });
        Self { folder, keeper: None, user: false, limit_kib: None }
    }

    /// Whether it is a file system of its own.
    pub(crate) fn is_mounted(&self) -> bool {
        self.keeper.is_some()
    }

    /// A file as the programs on this disk name it.
    pub(crate) fn inside(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The same file as this process reaches it.
    pub(crate) fn outside(&self, name: &str) -> PathBuf {
        match &self.keeper {
            None => self.inside(name),
            Some(keeper) => {
                let root = PathBuf::from(format!("/proc/{}/root", keeper.id()));
                root.join(self.inside(name).strip_prefix("/").unwrap())
            }
        }
    }

    /// Runs the program on the disk.
    pub(crate) fn glueday(&self, archive: &str, args: &[&str]) -> Said {
        let plain = command(&self.inside(archive), args);
        let mut command = match (&self.keeper, self.limit_kib) {
            (Some(keeper), _) => {
                let mut command = Command::new("nsenter");
                command.args(["--target", &keeper.id().to_string(), "--mount"]);
                if self.user {
                    command.args(["--user", "--preserve-credentials"]);
                }
                command
            }
            (None, Some(limit_kib)) => {
                // In units of 512 B, as POSIX has it. Ignored signals stay ignored over exec, so that
                // the write fails instead.
                let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$@\"", limit_kib * 2);
                let mut command = Command::new("sh");
                command.args(["-c", &script, "sh"]);
                command
            }
            (None, None) => Command::new("env"),
        };
        command.arg(plain.get_program()).args(plain.get_args()).env_remove("GLUEDAY_PORT");
        Said::from(command.output().unwrap())
    }

    /// Leaves only so much room on the disk, or so much for each file.
    pub(crate) fn leave_kib(&mut self, room_kib: u64) {
        if !self.is_mounted() {
            self.limit_kib = Some(room_kib);
            return;
        }
        let path = self.outside("ballast");
        let mut ballast = std::fs::File::create(&path).unwrap();
        let mut len = 0;
        while let Ok(written @ 1..) = ballast.write(&[0x55; 4096]) {
            len += written as u64;
        }
        assert!(len > room_kib * 1024, "the disk is smaller than what is to be left of it");
        ballast.set_len(len - room_kib * 1024).unwrap();
    }

    pub(crate) fn make_room(&mut self) {
        self.limit_kib = None;
        let _ = std::fs::remove_file(self.outside("ballast"));
    }

    pub(crate) fn put(&self, from: &Path, name: &str) {
        std::fs::copy(from, self.outside(name)).unwrap();
    }

    /// The names of the files on it, in order, without what fills it.
    pub(crate) fn names(&self) -> Vec<String> {
        let names = std::fs::read_dir(self.outside("")).unwrap();
        let names = names.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let mut names: Vec<String> = names.filter(|name| name != "ballast").collect();
        names.sort();
        names
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        if let Some(keeper) = &mut self.keeper {
            drop(keeper.stdin.take());
            let _ = keeper.wait();
        }
    }
}
