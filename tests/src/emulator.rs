//! The whole logger on an emulated Cortex-M3, with the world around it: `firmware/boards/bench` in
//! QEMU, its flash in a file, its thermometers in the emulator, its air probe here.
//!
//! Waits are bounded and long: the machine that runs the tests may be busy.

mod air_probe;
mod line;
mod memory;
mod qmp;

pub use crate::log::{blocks, entries};
pub use air_probe::{AirFault, AirProbe, DamagedAnswer};
pub use line::Line;
pub use memory::Memory;
pub use qmp::Qmp;

use std::fs::File;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// How long the emulator may take to do anything at all.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// How the emulator's time goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// With the clock on the wall.
    Real,
    /// An instruction takes 2^`shift` ns, and sleep takes no time at all.
    Instructions {
        /// The exponent.
        shift: u32,
    },
}

/// What the line to the host is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineKind {
    /// A pty, as a serial adapter would be.
    Pty,
    /// A TCP port.
    Tcp,
}

/// A machine that runs. It is killed, without being told, when this is dropped.
#[derive(Debug)]
pub struct Machine {
    child: Child,
    qmp: Qmp,
    port: String,
}

/// An image that `firmware/build` or `firmware/build --features log` leaves.
///
/// # Panics
/// When it was not built.
#[must_use]
pub fn image(name: &str) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
    let image = root.join("target/boards").join(name);
    assert!(
        image.exists(),
        "{} is missing: run firmware/build, and firmware/build --features log",
        image.display()
    );
    image
}

impl Machine {
    /// Starts the bench image over `memory`, with `air` as its air probe.
    ///
    /// # Panics
    /// When the emulator cannot be run, or something does not come about in time.
    #[must_use]
    pub fn start(memory: &Memory, air: &AirProbe, pace: Pace, line: LineKind) -> Self {
        Self::start_image(&image("bench.elf"), memory, air, pace, line, Stdio::null())
    }

    /// The same with another image, whose semihosting goes to `output`.
    ///
    /// # Panics
    /// See [`Machine::start`].
    #[must_use]
    pub fn start_image(
        image: &Path,
        memory: &Memory,
        air: &AirProbe,
        pace: Pace,
        line: LineKind,
        output: Stdio,
    ) -> Self {
        let folder = memory.path().parent().expect("a folder");
        let (qmp_path, air_path) = (folder.join("qmp"), folder.join("air"));
        for path in [&qmp_path, &air_path] {
            let _ = std::fs::remove_file(path);
        }
        let socket = |path: &Path| format!("path={},server=on,wait=off", path.display());
        let mut command = Command::new("qemu-system-arm");
        command
            .args(["-M", "mps2-an385,memory-backend=nor", "-S", "-nodefaults", "-display", "none"])
            .arg("-object")
            .arg(format!(
                "memory-backend-file,id=nor,size=16M,mem-path={},share=on",
                memory.path().display()
            ))
            .args(["-chardev", &format!("socket,id=qmp,{}", socket(&qmp_path))])
            .args(["-mon", "chardev=qmp,mode=control"])
            .args(["-chardev"])
            .arg(match line {
                LineKind::Pty => "pty,id=line".to_owned(),
                LineKind::Tcp => {
                    "socket,id=line,host=127.0.0.1,port=0,server=on,wait=off,nodelay=on".to_owned()
                }
            })
            .args(["-serial", "chardev:line"])
            .args(["-chardev", &format!("socket,id=air,{}", socket(&air_path))])
            .args(["-serial", "chardev:air"])
            .args(["-device", "tmp105,id=slab,address=0x48"])
            .args(["-device", "tmp105,id=supply,address=0x49"])
            .args(["-semihosting-config", "enable=on,target=native"])
            .arg("-kernel")
            .arg(image);
        if let Pace::Instructions { shift } = pace {
            command.args(["-icount", &format!("shift={shift},sleep=off")]);
        }
        let child = command
            .stdin(Stdio::null())
            .stdout(output)
            .stderr(File::create(folder.join("emulator.txt")).expect("a file for what it says"))
            .spawn()
            .expect("qemu-system-arm, which tests/emulator installs");
        let mut qmp = Qmp::new(connect(&qmp_path));
        air.serve(connect(&air_path));
        let mut port = String::new();
        within(PATIENCE, "the emulator's lines to be connected", || {
            let mut name = |id| qmp.chardev(id);
            port = name("line");
            !name("air").starts_with("disconnected")
        });
        let port = match line {
            LineKind::Pty => port.trim_start_matches("pty:").to_owned(),
            LineKind::Tcp => {
                let (_, from) = port.split_once("tcp:").expect("a TCP address");
                let end = from.find(',').unwrap_or(from.len());
                format!("tcp:{}", from.get(..end).expect("an address"))
            }
        };
        Self { child, qmp, port }
    }

    /// Lets it run.
    pub fn go(&mut self) {
        self.qmp.command("cont", serde_json::Value::Null);
    }

    /// Stops it between two instructions.
    pub fn pause(&mut self) {
        self.qmp.command("stop", serde_json::Value::Null);
    }

    /// The port to give to `glueday`.
    #[must_use]
    pub fn port(&self) -> &str {
        &self.port
    }

    /// Talks to the logger over its TCP port; before [`Machine::go`], nothing is missed.
    ///
    /// # Panics
    /// When it is on a pty, or does not listen.
    pub fn line(&mut self) -> Line {
        let address = self.port.strip_prefix("tcp:").expect("a TCP port");
        let line = Line::connect(address);
        let qmp = &mut self.qmp;
        within(PATIENCE, "the line to be connected", || {
            !qmp.chardev("line").starts_with("disconnected")
        });
        line
    }

    /// Sets the temperature of the thermometer `slab` or `supply`, in thousandths of a degree.
    pub fn set_milli_c(&mut self, probe: &str, milli_c: i32) {
        let path = format!("/machine/peripheral/{probe}");
        self.qmp.command(
            "qom-set",
            serde_json::json!({ "path": path, "property": "temperature", "value": milli_c }),
        );
    }

    /// The monitor.
    pub fn qmp(&mut self) -> &mut Qmp {
        &mut self.qmp
    }

    /// Kills it in the middle of whatever it does.
    pub fn kill(self) {
        drop(self);
    }
}

impl Drop for Machine {
    fn drop(&mut self) {
        // SIGKILL: it writes nothing more.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn connect(path: &Path) -> UnixStream {
    let began = Instant::now();
    loop {
        match UnixStream::connect(path) {
            Ok(stream) => return stream,
            Err(error) if began.elapsed() > PATIENCE => {
                let said = std::fs::read_to_string(path.with_file_name("emulator.txt"));
                panic!("the emulator does not start: {error}; {said:?}");
            }
            Err(_) => std::thread::sleep(Duration::from_millis(2)),
        }
    }
}

/// Waits until `done`.
///
/// # Panics
/// When it takes longer than `patience`.
#[track_caller]
pub fn within(patience: Duration, what: &str, mut done: impl FnMut() -> bool) {
    let began = Instant::now();
    while !done() {
        assert!(began.elapsed() < patience, "waited {patience:?} for {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}
