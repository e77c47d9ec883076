//! What `probe-check` takes.

use super::{Port, help};
use crate::job::Channel;
use crate::physics::salt::Salt;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `probe-check`
#[derive(Debug, Args)]
#[command(
    group(clap::ArgGroup::new("against").required(true).args(["ice", "salt", "reference"])),
    after_long_help = help::PROBE_CHECK
)]
pub struct ProbeCheck {
    /// The job file.
    pub job: PathBuf,
    /// Room whose logger is connected [default: the only one].
    #[arg(long, value_name = "NAME")]
    pub room: Option<String>,
    /// What the probe measures.
    #[arg(long, value_enum)]
    pub channel: ChannelArg,
    /// The probe is in melting ice: for temperature.
    #[arg(long)]
    pub ice: bool,
    /// The probe hangs over this saturated salt in a sealed jar: for humidity. NaCl (75 %), MgCl2
    /// (33 %), K2CO3 (43 %), LiCl (11 %), KCl (85 %) or K2SO4 (97 %).
    #[arg(long, value_name = "SALT", value_parser = salt)]
    pub salt: Option<Salt>,
    /// What a reference instrument beside the probe reads, such as "20.3 C", "68.5 F" or "45 %".
    #[arg(long, value_name = "READING", allow_hyphen_values = true)]
    pub reference: Option<String>,
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
    /// For how long the probe must be at rest.
    #[arg(long, value_name = "TIME", default_value = "15 min")]
    pub watch: String,
    /// Give up when it is not at rest after this time.
    #[arg(long, value_name = "TIME", default_value = "2 h")]
    pub give_up: String,
    /// Sampling interval during the check, such as "1 min"; the old one is set again at the end
    /// [default: as it is].
    #[arg(long, value_name = "TIME")]
    pub interval: Option<String>,
    /// Print what would be added to the job file, and leave the file alone.
    #[arg(long)]
    pub dry_run: bool,
}

/// Reads a salt by its formula.
fn salt(formula: &str) -> Result<Salt, String> {
    Salt::from_formula(formula).ok_or_else(|| {
        let known: Vec<&str> = Salt::ALL.iter().map(|salt| salt.formula()).collect();
        format!("the salts are {}", known.join(", "))
    })
}

/// A channel of the logger.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ChannelArg {
    /// Slab surface temperature.
    Slab,
    /// Air temperature.
    Air,
    /// Relative humidity of the air.
    Rh,
    /// Supply temperature of the heating.
    Supply,
}

impl From<ChannelArg> for Channel {
    fn from(channel: ChannelArg) -> Self {
        match channel {
            ChannelArg::Slab => Self::Slab,
            ChannelArg::Air => Self::Air,
            ChannelArg::Rh => Self::Rh,
            ChannelArg::Supply => Self::Supply,
        }
    }
}
