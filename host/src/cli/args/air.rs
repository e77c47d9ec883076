//! What `air` takes.

use super::help;
use clap::{Args, ValueEnum};

/// `air`
#[derive(Debug, Args)]
#[command(after_long_help = help::AIR)]
pub struct Air {
    /// Air temperature, such as "21 C" or "70 F".
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub temp: String,
    /// Relative humidity of the air, such as "45 %".
    #[arg(long, value_name = "RH")]
    pub rh: String,
    /// Slab or floor surface temperature, such as "19 C" or "66 F".
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub slab: Option<String>,
    /// Air pressure at the site, such as "101.3 kPa" [default: sea level].
    #[arg(long, value_name = "PRESSURE", conflicts_with = "altitude")]
    pub pressure: Option<String>,
    /// Altitude of the site, such as "1600 m" or "5280 ft".
    #[arg(long, value_name = "ALTITUDE", allow_hyphen_values = true)]
    pub altitude: Option<String>,
    /// Moisture content of the wood now, such as "8 %": how much wider or narrower do boards get?
    #[arg(long, value_name = "MC", requires_all = ["species", "width"])]
    pub wood_mc: Option<String>,
    /// Species of the wood, such as "white oak".
    #[arg(long, value_name = "NAME", requires = "wood_mc")]
    pub species: Option<String>,
    /// Width of a board, such as "190 mm".
    #[arg(long, value_name = "LENGTH", requires = "wood_mc")]
    pub width: Option<String>,
    /// How the board was cut from the log. Plain-sawn moves more.
    #[arg(long, value_enum, default_value_t = CutArg::PlainSawn)]
    pub cut: CutArg,
    /// Thermal resistance of the wood, such as "0.1 m2K/W": how warm does its surface get?
    #[arg(long, value_name = "RESISTANCE", conflicts_with = "thickness")]
    pub resistance: Option<String>,
    /// Thickness of solid hardwood, such as "19 mm" or "3/4 in", in place of its resistance.
    #[arg(long, value_name = "LENGTH")]
    pub thickness: Option<String>,
    /// Supply temperature, such as "35 C", where the slab's is not known: the most that the surface can
    /// get.
    #[arg(long, value_name = "TEMPERATURE", conflicts_with = "slab")]
    pub supply: Option<String>,
    /// Salt in the jar at the temperature and humidity given, such as NaCl: how far is the meter off?
    #[arg(long, value_name = "FORMULA")]
    pub salt: Option<String>,
    /// Weight of the closed calcium chloride dish before the test, such as "50.10 g".
    #[arg(long, value_name = "WEIGHT", requires_all = ["end_weight", "area", "exposure"])]
    pub start_weight: Option<String>,
    /// Weight of the closed dish after the test, such as "52.30 g".
    #[arg(long, value_name = "WEIGHT", requires = "start_weight")]
    pub end_weight: Option<String>,
    /// Area of slab under the dome, such as "0.486 ft2".
    #[arg(long, value_name = "AREA", requires = "start_weight")]
    pub area: Option<String>,
    /// How long the dish was open, such as "68 h".
    #[arg(long, value_name = "TIME", requires = "start_weight")]
    pub exposure: Option<String>,
}

/// How a board was cut from the log.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum CutArg {
    /// The rings lie flat: the width runs along them.
    PlainSawn,
    /// The rings stand up: the width runs across them.
    QuarterSawn,
}
