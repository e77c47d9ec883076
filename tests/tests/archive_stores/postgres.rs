//! A PostgreSQL server of the test's own: its data in a temporary folder, reached through a socket there.
//!
//! `tests/postgres` installs the programs. The server refuses to run as root, so that a test that does
//! gives it another user. It ends with the value, or with the test program, however that ends.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, Weak};
use std::time::{Duration, Instant};

/// Who may do everything without a password.
pub(crate) const OWNER: &str = "keeper";
/// The user that a server runs as where the test is root: "nobody" on every Linux.
const NOBODY: u32 = 65_534;

pub(crate) struct Server {
    folder: tempfile::TempDir,
    bin: PathBuf,
    running: Mutex<Option<Child>>,
    databases: AtomicU32,
}

impl Server {
    /// One that the tests share for as long as any of them runs.
    pub(crate) fn shared() -> Arc<Self> {
        static SHARED: Mutex<Weak<Server>> = Mutex::new(Weak::new());
        let mut shared = SHARED.lock().unwrap();
        shared.upgrade().unwrap_or_else(|| {
            let server = Arc::new(Self::new());
            *shared = Arc::downgrade(&server);
            server
        })
    }

    /// A new one, running.
    pub(crate) fn new() -> Self {
        let server = Self {
            folder: tempfile::tempdir().unwrap(),
            bin: programs(),
            running: Mutex::new(None),
            databases: AtomicU32::new(0),
        };
        if is_root() {
            std::os::unix::fs::chown(server.folder.path(), Some(NOBODY), Some(NOBODY)).unwrap();
        }
        let mut make = server.command("initdb");
        make.args(["--no-sync", "-E", "UTF8", "--locale=C", "-U", OWNER, "-D"]).arg(server.data());
        let made = make.output().unwrap();
        assert!(made.status.success(), "initdb: {}", String::from_utf8_lossy(&made.stderr));
        let logins = format!("local all {OWNER} trust\nlocal all all scram-sha-256\n");
        std::fs::write(server.data().join("pg_hba.conf"), logins).unwrap();
        server.start();
        server
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    /// A program of the server, as a user that it accepts.
    fn command(&self, program: &str) -> Command {
        let program = self.bin.join(program);
        let mut command = if is_root() {
            let mut command = Command::new("setpriv");
            let id = NOBODY.to_string();
            command.args(["--reuid", &id, "--regid", &id, "--clear-groups", "--"]).arg(program);
            command
        } else {
            Command::new(program)
        };
        command.current_dir(self.folder.path()).env("LC_ALL", "C");
        command
    }

    /// Starts it, and waits until it answers.
    pub(crate) fn start(&self) {
        let mut running = self.running.lock().unwrap();
        assert!(running.is_none());
        let postgres = self.command("postgres");
        // Ends the server when the pipe to this program closes, whatever became of this program.
        let mut shell = Command::new("sh");
        shell.args(["-c", "\"$@\" & server=$!; cat >/dev/null; kill -INT $server; wait $server"]);
        shell.arg("sh").arg(postgres.get_program()).args(postgres.get_args());
        shell.arg("-D").arg(self.data()).arg("-k").arg(self.folder.path());
        shell.args(["-c", "listen_addresses=", "-c", "fsync=off", "-c", "shared_buffers=16MB"]);
        shell.current_dir(self.folder.path()).env("LC_ALL", "C");
        let log = std::fs::File::create(self.folder.path().join("log")).unwrap();
        shell.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(log);
        *running = Some(shell.spawn().unwrap());
        drop(running);
        let began = Instant::now();
        while postgres_client(&self.uri("postgres")).is_err() {
            let log = || std::fs::read_to_string(self.folder.path().join("log")).unwrap();
            assert!(
                began.elapsed() < Duration::from_secs(30),
                "the server does not start: {}",
                log()
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Ends it without warning, as a power cut does.
    pub(crate) fn kill(&self) {
        let pid = std::fs::read_to_string(self.data().join("postmaster.pid")).unwrap();
        let pid = pid.lines().next().unwrap().parse().unwrap();
        let pid = rustix::process::Pid::from_raw(pid).unwrap();
        rustix::process::kill_process(pid, rustix::process::Signal::QUIT).unwrap();
        self.stop();
    }

    /// Ends it in order.
    pub(crate) fn stop(&self) {
        if let Some(mut shell) = self.running.lock().unwrap().take() {
            drop(shell.stdin.take());
            let _ = shell.wait();
        }
    }

    /// The URI of a database.
    pub(crate) fn uri(&self, database: &str) -> String {
        self.uri_as(OWNER, database)
    }

    /// The same, for another user, who may have a password: `name:password`.
    pub(crate) fn uri_as(&self, user: &str, database: &str) -> String {
        let folder = self.folder.path().display().to_string().replace('/', "%2F");
        format!("postgresql://{user}@{folder}/{database}")
    }

    /// A new database; its name.
    pub(crate) fn database(&self) -> String {
        let name = format!("office{}", self.databases.fetch_add(1, Ordering::Relaxed));
        self.sql("postgres", &format!("CREATE DATABASE {name}"));
        name
    }

    /// Does something in a database as its owner.
    pub(crate) fn sql(&self, database: &str, sql: &str) {
        let mut client = postgres_client(&self.uri(database)).unwrap();
        client.batch_execute(sql).unwrap_or_else(|error| panic!("{sql}: {error:?}"));
    }

    /// A number from a database.
    pub(crate) fn number(&self, database: &str, sql: &str) -> i64 {
        let mut client = postgres_client(&self.uri(database)).unwrap();
        client.query_one(sql, &[]).unwrap().get(0)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.stop();
    }
}

pub(crate) fn postgres_client(uri: &str) -> Result<postgres::Client, postgres::Error> {
    postgres::Client::connect(uri, postgres::NoTls)
}

fn is_root() -> bool {
    rustix::process::geteuid().is_root()
}

/// The folder with the programs of a server: one that PATH has, or else one of the system's.
fn programs() -> PathBuf {
    let has = |folder: &Path| ["initdb", "postgres"].iter().all(|it| folder.join(it).exists());
    let mut folders: Vec<PathBuf> = Vec::new();
    for versions in std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten() {
        folders.push(versions.path().join("bin"));
    }
    folders.sort();
    folders.extend(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default()));
    folders.push(PathBuf::from("/usr/local/pgsql/bin"));
    let found = folders.into_iter().rfind(|folder| has(folder));
    found.expect("no database server: run tests/postgres to install it")
}
