//! What the desk logger can be told on the command line.

use clap::{Parser, ValueEnum};
use glueday_desk::{Channel, Fault, Keyframe, Script};
use glueday_types::{Absent, LoggerId, Probe};
use std::path::PathBuf;

/// A logger without hardware: the firmware with its flash in a file and a made-up climate.
///
/// Prints one line that says where it listens, `tcp:HOST:PORT` or `pty:PATH` or both, and runs until
/// it is killed. That may happen at any moment: what it has acknowledged is in the image.
#[derive(Clone, Debug, Parser)]
#[command(version)]
pub(crate) struct Arguments {
    /// File that holds the flash; made if it is not there.
    #[arg(long, value_name = "FILE")]
    pub(crate) image: PathBuf,
    /// Blocks of 4096 bytes in the flash.
    #[arg(long, value_name = "N", default_value_t = 256)]
    pub(crate) slots: u32,
    /// Id of the logger, 16 hexadecimal digits.
    #[arg(long, value_name = "ID", default_value = "6465736b6465736b")]
    pub(crate) logger: LoggerId,
    /// Listen on a pty and make this link to it. Without --tcp, a pty is opened in any case.
    #[arg(long, value_name = "LINK")]
    pub(crate) pty: Option<PathBuf>,
    /// Listen on this TCP address, such as 127.0.0.1:0.
    #[arg(long, value_name = "HOST:PORT")]
    pub(crate) tcp: Option<String>,
    /// Let this much time pass before listening, such as 90m, 12h, 5d or 8w.
    #[arg(long, value_name = "TIME", default_value = "0s", value_parser = seconds)]
    pub(crate) uptime: u32,
    /// Boot at this time of the made-up climate.
    #[arg(long, value_name = "TIME", default_value = "0s", value_parser = seconds)]
    pub(crate) scenario_from: u32,
    /// Seconds of the logger to a real second while it listens.
    #[arg(long, value_name = "N", default_value_t = 1.0)]
    pub(crate) scale: f64,
    /// Another seed gives other noise.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Sampling interval in seconds of a log that begins; one that goes on keeps its own.
    #[arg(long, value_name = "SECONDS", default_value_t = 600,
          value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) interval: u16,
    /// The climate around the logger.
    #[arg(long, value_enum, default_value_t = ClimateName::Steady)]
    pub(crate) climate: ClimateName,
    /// Send at most this many bytes a second; 115200 baud carry 11520.
    #[arg(long, value_name = "BYTES", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) pace: Option<u32>,
    /// Do without a key, so that the logger cannot sign its log. Without this, a key is made together
    /// with the log and kept beside the image, in FILE.key.
    #[arg(long)]
    pub(crate) keyless: bool,
    /// Wait this many milliseconds before answering, as a USB serial adapter does.
    #[arg(long, value_name = "MS", default_value_t = 0)]
    pub(crate) turnaround: u32,
}

/// A climate that comes with the desk logger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ClimateName {
    /// A heated room that stays as it is.
    Steady,
    /// The heating fails on the third day for a day and a half, and humid air comes in.
    HeatingFails,
    /// As steady, but the air probe is unplugged on the second day for six hours.
    ProbeUnplugged,
    /// No probes are fitted.
    NoProbes,
}

const HOUR_S: u64 = 3600;

impl ClimateName {
    pub(crate) fn script(self, seed: u64) -> Script {
        let steady = Script::steady(seed);
        match self {
            Self::Steady => steady,
            Self::HeatingFails => Script { keyframes: heating_fails(), ..steady },
            Self::ProbeUnplugged => {
                let (from_s, to_s) = (30 * HOUR_S, 36 * HOUR_S);
                let reason = Absent::NoAnswer;
                let fault = Fault { probe: Probe::Air, from_s, to_s, reason };
                Script { faults: vec![fault], ..steady }
            }
            Self::NoProbes => Script { keyframes: Vec::new(), slab: Channel::default(), ..steady },
        }
    }
}

fn heating_fails() -> Vec<Keyframe> {
    let frame = |hours: u64, slab_c, air_c, air_rh_pct, supply_c| Keyframe {
        at_s: hours * HOUR_S,
        slab_c,
        air_c,
        air_rh_pct,
        supply_c,
    };
    vec![
        frame(48, 22.0, 20.0, 45.0, 28.0),
        frame(50, 21.4, 19.5, 48.0, 19.0),
        frame(72, 15.0, 16.0, 78.0, 14.5),
        frame(84, 14.0, 16.5, 82.0, 14.0),
        frame(86, 14.5, 17.0, 76.0, 30.0),
        frame(110, 22.0, 20.0, 45.0, 28.0),
    ]
}

/// Reads a time such as `90m`.
fn seconds(text: &str) -> Result<u32, String> {
    let wanted = "give a whole number and s, m, h, d or w, such as 90m, 12h or 8w";
    let split = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let (number, unit) = text.split_at_checked(split).ok_or(wanted)?;
    let unit_s: u32 = match unit {
        "s" => 1,
        "m" => 60,
        "h" => 3600,
        "d" => 86_400,
        "w" => 604_800,
        _ => return Err(wanted.to_owned()),
    };
    let number: u32 = number.parse().map_err(|_| wanted)?;
    number.checked_mul(unit_s).ok_or_else(|| "longer than the logger can count (136 years)".into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[test]
    fn times_have_units() {
        for (text, expected) in [
            ("0s", Some(0)),
            ("90m", Some(5400)),
            ("8w", Some(4_838_400)),
            ("", None),
            ("8", None),
            ("w", None),
            ("-1h", None),
            ("1.5h", None),
            ("8 w", None),
            ("9999999w", None),
            ("8€", None),
        ] {
            assert_eq!(seconds(text).ok(), expected, "{text:?}");
        }
    }

    #[test]
    fn the_definition_holds_together() {
        Arguments::command().debug_assert();
    }
}
