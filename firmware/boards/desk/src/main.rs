//! Runs a logger on a flash image, on a pty or TCP port or both, until it is killed.

mod arguments;

use arguments::Arguments;
use clap::Parser as _;
use glueday_desk::{Desk, DeskError, Pace, Port, PortError, Script, Settings};
use glueday_firmware::key::NoKey;
use std::io::Write as _;
use std::process::ExitCode;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

#[derive(Debug, thiserror::Error)]
enum Failure {
    #[error(transparent)]
    Desk(#[from] DeskError),
    #[error(transparent)]
    Port(#[from] PortError),
    #[error("there are no ptys on this system: give an address with --tcp")]
    #[cfg_attr(unix, allow(dead_code))]
    NoPty,
    #[error("cannot say where the logger listens: {0}")]
    Stdout(#[from] std::io::Error),
    #[error("the log: {0}")]
    Log(#[from] glueday_firmware::ring::Error),
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match run(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            // If standard error is closed there is nobody left to tell.
            let _ = writeln!(std::io::stderr(), "glueday-desk: {failure}");
            ExitCode::from(2)
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), Failure> {
    let settings = Settings {
        interval_s: arguments.interval,
        scale: arguments.scale,
        scenario_from_s: arguments.scenario_from.into(),
        pace: Pace {
            bytes_per_s: arguments.pace,
            turnaround: Duration::from_millis(arguments.turnaround.into()),
        },
        keyless: arguments.keyless,
        ..Settings::default()
    };
    let script: Script = arguments.climate.script(arguments.seed);
    let mut desk = Desk::create_or_open(
        &arguments.image,
        arguments.slots,
        arguments.logger,
        Box::new(script),
        &settings,
    )?;
    if let Some(why) = desk.no_key().filter(|why| *why != NoKey::NotWanted) {
        // As for a failure: nobody may be left to tell.
        let _ = writeln!(std::io::stderr(), "glueday-desk: no key: {why}");
    }
    desk.advance_to(arguments.uptime)?;
    let mut ports = Vec::new();
    if let Some(address) = &arguments.tcp {
        ports.push(("tcp", Port::listen_tcp(address)?));
    }
    if arguments.pty.is_some() || arguments.tcp.is_none() {
        ports.push(("pty", pty(arguments)?));
    }
    let places: Vec<String> =
        ports.iter().map(|(kind, port)| format!("{kind}:{}", port.name())).collect();
    let mut stdout = std::io::stdout().lock();
    writeln!(stdout, "{}", places.join(" "))?;
    stdout.flush()?;
    drop(stdout);
    let ports = ports.into_iter().map(|(_, port)| port).collect();
    desk.serve(ports, &AtomicBool::new(false))?;
    Ok(())
}

#[cfg(unix)]
fn pty(arguments: &Arguments) -> Result<Port, Failure> {
    Ok(Port::open_pty(arguments.pty.as_deref())?)
}

#[cfg(not(unix))]
fn pty(_: &Arguments) -> Result<Port, Failure> {
    Err(Failure::NoPty)
}
