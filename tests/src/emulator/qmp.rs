//! The emulator's monitor (QEMU machine protocol).

use super::PATIENCE;
use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader, Write as _};
use std::os::unix::net::UnixStream;

/// A connection to the monitor.
#[derive(Debug)]
pub struct Qmp {
    reader: BufReader<UnixStream>,
}

impl Qmp {
    /// Greets the monitor.
    ///
    /// # Panics
    /// When it does not answer.
    #[must_use]
    pub fn new(stream: UnixStream) -> Self {
        stream.set_read_timeout(Some(PATIENCE)).expect("a timeout");
        let mut qmp = Self { reader: BufReader::new(stream) };
        assert!(qmp.receive().get("QMP").is_some(), "no greeting");
        qmp.command("qmp_capabilities", Value::Null);
        qmp
    }

    fn receive(&mut self) -> Value {
        let mut line = String::new();
        self.reader.read_line(&mut line).expect("the emulator's monitor answers");
        serde_json::from_str(&line).expect("JSON from the monitor")
    }

    /// Does a command and returns its answer.
    ///
    /// # Panics
    /// When it fails.
    pub fn command(&mut self, command: &str, arguments: Value) -> Value {
        let mut message = json!({ "execute": command });
        if !arguments.is_null()
            && let Some(message) = message.as_object_mut()
        {
            message.insert("arguments".to_owned(), arguments);
        }
        self.reader.get_mut().write_all(format!("{message}\n").as_bytes()).expect("it listens");
        loop {
            let mut answer = self.receive();
            // Events come in between.
            if let Some(value) = answer.get_mut("return") {
                return value.take();
            }
            assert!(answer.get("error").is_none(), "{command}: {answer}");
        }
    }

    /// What the emulator calls the far end of a line.
    ///
    /// # Panics
    /// When there is no such line.
    pub fn chardev(&mut self, id: &str) -> String {
        let all = self.command("query-chardev", Value::Null);
        let all = all.as_array().expect("a list");
        let line = all.iter().find(|line| line["label"] == id).expect("the line");
        line["filename"].as_str().expect("a name").to_owned()
    }
}
