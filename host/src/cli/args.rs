//! The command line: what can be typed, and nothing else. Completions and the man page derive from it.

mod export;
mod help;
mod live;
mod mark;
mod sites;

pub use export::{Export, FormatArg};
pub use live::Live;
pub use mark::{Mark, MarkArg, Marks};
pub use sites::{ColumnArg, Sites};

use crate::assess::Step;
use crate::job::Channel;
use crate::job::Profile;
use crate::physics::salt::Salt;
use crate::quantity::Units;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Checks, plots and proves the site conditions for gluing wood floors down on heated slabs.
#[derive(Debug, Parser)]
#[command(
    name = "glueday",
    version,
    long_version = super::versions::text(),
    after_help = help::PROGRAM_SHORT,
    after_long_help = help::PROGRAM,
    max_term_width = 100
)]
pub struct Cli {
    /// Archive to use: an SQLite file, or postgresql://USER@HOST/DATABASE [default: glueday/archive.db in
    /// your data folder].
    // What the environment says is not shown in the help: it can hold a password.
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = crate::archive::ARCHIVE_ENV,
        hide_env_values = true
    )]
    pub archive: Option<PathBuf>,
    /// Print one JSON document in SI units instead of text.
    #[arg(long, global = true)]
    pub json: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run the whole job without hardware: log, pull, check and plot an invented site.
    Demo(Demo),
    /// List the serial ports of this computer and whether they can be opened.
    #[command(after_long_help = help::PORTS)]
    Ports,
    /// Give a connected logger a name, set its clock, and pin its identity.
    Adopt(Adopt),
    /// Copy the log of a connected logger into the archive. Never changes the logger.
    Pull(Pull),
    /// Put a milestone of the work into the log of a connected logger.
    Mark(Mark),
    /// List what was marked in the log of a job, beside the milestones of its job file.
    Marks(Marks),
    /// Read the CSV file of any logger into the archive.
    Import(Import),
    /// Make or check a job file.
    #[command(subcommand, after_long_help = help::JOB)]
    Job(Job),
    /// Check a probe of a connected logger against ice, salt or an instrument, and note it in the job.
    ProbeCheck(ProbeCheck),
    /// May this step start? Go or wait, with the reasons.
    Check(Check),
    /// The verdicts of many jobs in a table: what blocks, earliest go, last pull, battery.
    Sites(Sites),
    /// Look at a connected logger: readings, dew-point gap, what holds since when, what blocks, earliest go.
    Live(Live),
    /// Draw the history of a job with its limits and the verdict, as PNG or SVG.
    Plot(Plot),
    /// Write the log as a table for other programs: CSV, JSON Lines or Parquet.
    Export(Export),
    /// Make the record for the warranty file: one PDF with the verdict, charts, limits and the log itself.
    Record(Record),
    /// Check a record: what in it is proven, by what, and what is not. Needs nothing but the record.
    Verify(Verify),
    /// List the limits with their sources, and what a job makes of them.
    Limits(Limits),
    /// Dew point and more from the readings of a pocket meter.
    Air(Air),
    /// Print completions for a shell.
    #[command(after_long_help = help::COMPLETIONS)]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page of the program or of a command, or write all of them into a folder.
    #[command(after_long_help = help::MAN)]
    Man(Man),
}

/// `man`
#[derive(Debug, Args)]
pub struct Man {
    /// The command, such as `pull` or `job new` [default: the program as a whole].
    pub command: Vec<String>,
    /// Write the pages of all commands into this folder; made when it is not there.
    #[arg(long, value_name = "FOLDER", conflicts_with = "command")]
    pub folder: Option<PathBuf>,
}

/// How to reach a logger.
#[derive(Debug, Args)]
pub struct Port {
    /// Serial port, exactly as the system names it, or tcp:HOST:PORT [default: the only USB serial port].
    #[arg(long, value_name = "PORT", env = "GLUEDAY_PORT")]
    pub port: Option<String>,
    /// Line speed of a serial port in bits per second.
    #[arg(long, value_name = "BPS", default_value_t = crate::port::BAUD, value_parser = baud)]
    pub baud: u32,
}

/// Reads a line speed.
fn baud(text: &str) -> Result<u32, String> {
    let wanted = "give a whole number of bits per second, such as 115200";
    text.parse().ok().filter(|bps| *bps > 0).ok_or_else(|| wanted.to_owned())
}

/// `demo`
#[derive(Debug, Args)]
#[command(after_long_help = help::DEMO)]
pub struct Demo {
    /// Folder for the files of the demo; made when it is not there.
    #[arg(long, value_name = "FOLDER", default_value = "glueday-demo")]
    pub folder: PathBuf,
    /// Pretend that the last day of the story is this time, such as 2026-03-19T15:00Z [default: now].
    #[arg(long, value_name = "TIME")]
    pub now: Option<String>,
}

/// `adopt`
#[derive(Debug, Args)]
#[command(after_long_help = help::ADOPT)]
pub struct Adopt {
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
    /// Name for the logger; job files refer to it.
    #[arg(long, value_name = "NAME")]
    pub name: String,
    /// Leave the clock of the logger as it is. Its log stays undated until it is set.
    #[arg(long)]
    pub keep_clock: bool,
    /// Sampling interval from now on, such as "10 min" [default: as it is].
    #[arg(long, value_name = "TIME")]
    pub interval: Option<String>,
}

/// `pull`
#[derive(Debug, Args)]
#[command(after_long_help = help::PULL)]
pub struct Pull {
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
    /// Set the logger's clock as well, which writes one entry into its log.
    #[arg(long)]
    pub set_clock: bool,
}

/// `import`
#[derive(Debug, Args)]
#[command(after_long_help = help::IMPORT)]
pub struct Import {
    /// The file.
    pub file: PathBuf,
    /// Name under which job files refer to it, as if it were a logger.
    #[arg(long, value_name = "NAME")]
    pub name: String,
    /// What the columns hold.
    #[arg(
        long,
        value_name = "CHANNEL=COLUMN",
        help = "What a column holds: slab, air, rh or supply, and time or date, as CHANNEL=COLUMN or \
                CHANNEL=COLUMN[UNIT]; the column by its name or its number from 1, or none; units C, F, \
                % or fraction"
    )]
    pub column: Vec<String>,
    /// Time zone of the file's times: an IANA name, or a fixed offset such as +02:00 [default: what
    /// the times say themselves].
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// A word or number that stands for no reading; can be given more than once.
    #[arg(long, value_name = "WORD", allow_hyphen_values = true)]
    pub missing: Vec<String>,
    /// What stands between cells: comma, semicolon, tab or one character [default: as the file reads].
    #[arg(long, value_name = "MARK")]
    pub delimiter: Option<String>,
    /// Decimal mark: point or comma [default: as the file reads].
    #[arg(long, value_name = "MARK")]
    pub decimal: Option<String>,
    /// How times are written: ymd, dmy, mdy, unix-s, unix-ms, or a pattern such as "%d %b %Y %H:%M"
    /// [default: as the file reads, where it can be read in one way only].
    #[arg(long, value_name = "FORMAT")]
    pub time_format: Option<String>,
    /// Line of the first data row, from 1 [default: the first that reads as data].
    #[arg(long, value_name = "LINE")]
    pub first_row: Option<u64>,
}

/// `job`
#[derive(Debug, Subcommand)]
pub enum Job {
    /// Write a commented job file to fill in.
    #[command(after_long_help = help::JOB_NEW)]
    New {
        /// The file to make. An existing file is not overwritten.
        file: PathBuf,
        /// Name of the site.
        #[arg(long, value_name = "NAME")]
        site: String,
        /// Time zone of the site by its IANA name, such as America/Denver.
        #[arg(long, value_name = "ZONE")]
        zone: String,
        /// Units of the examples in the file, and of everything shown.
        #[arg(long, value_enum, default_value_t = UnitsArg::Us)]
        units: UnitsArg,
        /// Name of the logger in the first room, as it was adopted or imported [default: to be filled
        /// in].
        #[arg(long, value_name = "NAME")]
        logger: Option<String>,
    },
    /// Check a job file and print what the program understood.
    #[command(after_long_help = help::JOB_CHECK)]
    Check {
        /// The file.
        file: PathBuf,
    },
}

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

/// Units to show.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum UnitsArg {
    /// °F, inches, ft².
    Us,
    /// °C, mm, m².
    Metric,
}

impl From<UnitsArg> for Units {
    fn from(units: UnitsArg) -> Self {
        match units {
            UnitsArg::Us => Self::Us,
            UnitsArg::Metric => Self::Metric,
        }
    }
}

/// What to ask, and of which job.
#[derive(Debug, Args)]
pub struct Question {
    /// The job file.
    pub job: PathBuf,
    /// The step that is to start.
    #[arg(long, value_enum, default_value_t = StepArg::GlueDown)]
    pub step: StepArg,
    /// Time to ask about: on the clock of the site ("2026-03-18 08:00"), in UTC
    /// ("2026-03-18T14:00Z"), "now", or "last" for the end of the log.
    #[arg(long, value_name = "TIME", default_value = "now")]
    pub at: String,
    /// Only this room of the job; can be given more than once [default: all].
    #[arg(long, value_name = "NAME")]
    pub room: Vec<String>,
}

/// A step of the work.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum StepArg {
    /// Roll the moisture barrier.
    Membrane,
    /// Glue down the floor.
    GlueDown,
    /// Walk on the floor.
    Traffic,
    /// Sand the floor.
    Sanding,
    /// Turn the heat back up.
    HeatUp,
    /// Keep the floor in service.
    Service,
}

impl From<StepArg> for Step {
    fn from(step: StepArg) -> Self {
        match step {
            StepArg::Membrane => Self::Membrane,
            StepArg::GlueDown => Self::GlueDown,
            StepArg::Traffic => Self::Traffic,
            StepArg::Sanding => Self::Sanding,
            StepArg::HeatUp => Self::HeatUp,
            StepArg::Service => Self::Service,
        }
    }
}

/// `check`
#[derive(Debug, Args)]
#[command(after_long_help = help::CHECK)]
pub struct Check {
    /// What to ask.
    #[command(flatten)]
    pub question: Question,
    /// Explain a requirement: rule, figures, spans, layers and sources of its limits. Can be given
    /// more than once, or with commas; without a name it lists the requirements of the step.
    #[arg(
        long,
        value_name = "REQUIREMENT",
        num_args = 0..=1,
        default_missing_value = "",
        value_delimiter = ','
    )]
    pub why: Vec<String>,
}

/// `plot`
#[derive(Debug, Args)]
#[command(
    after_long_help = "Examples:\n  glueday plot hall.toml --last \"14 d\" --output hall.png\n  \
    glueday plot hall.toml --room Bath --terminal\n  \
    glueday plot hall.toml --from \"2026-03-16 06:00\" --to \"2026-03-17 06:00\" \\\n    \
    --size phone --dark --output night.png\n\n\
    Times are on the clock of the site, or in UTC with a Z. Values are in the units of the job.\n\
    Exit codes: 0 go, 1 wait, 2 error."
)]
pub struct Plot {
    /// What to ask.
    #[command(flatten)]
    pub question: Question,
    /// The picture: a file that ends in .png or .svg. With several rooms there is one for each, with
    /// the room's name put in.
    #[arg(long, short, value_name = "FILE", required_unless_present = "terminal")]
    pub output: Option<PathBuf>,
    /// Write the chart as text, as wide as the terminal: without colours into a pipe, and in ASCII
    /// letters when the locale (LC_ALL, LC_CTYPE, LANG) is not UTF-8.
    #[arg(long, conflicts_with = "json")]
    pub terminal: bool,
    /// Show from this time on [default: the start of the log].
    #[arg(long, value_name = "TIME", conflicts_with = "last")]
    pub from: Option<String>,
    /// Show up to this time [default: the time asked about].
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// Show this much time up to the end, such as "14 d".
    #[arg(long, value_name = "TIME")]
    pub last: Option<String>,
    /// Size of the picture: in pixels, or one of phone (upright, 1080x2760), a4 (upright, 300 dpi)
    /// and a4-landscape.
    #[arg(long, value_name = "WIDTHxHEIGHT|NAME", default_value = "1400x1100")]
    pub size: String,
    /// Size of letters and lines in per cent of those that suit the size, 50 to 400.
    #[arg(long, value_name = "PERCENT", default_value_t = 100,
        value_parser = clap::value_parser!(u32).range(50..=400))]
    pub letters: u32,
    /// Light lines on a dark ground.
    #[arg(long)]
    pub dark: bool,
}

/// `record`
#[derive(Debug, Args)]
#[command(after_long_help = help::RECORD)]
pub struct Record {
    /// What to ask.
    #[command(flatten)]
    pub question: Question,
    /// The record: a file that ends in .pdf, or in .html for the page alone.
    #[arg(long, short, value_name = "FILE")]
    pub output: PathBuf,
    /// Make the web page for phones and screens as well, beside the PDF. It says the same.
    #[arg(long)]
    pub html: bool,
}

/// `verify`
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  glueday verify hall-record.pdf\n  \
    glueday verify hall-record.pdf --key 6668-7aad-f862-bd77-6c8f\n  \
    pdfdetach -saveall -o hall hall-record.pdf; glueday verify hall\n\n\
    It makes everything anew that the record claims: digests, the chain of the log, signatures, the\n\
    verdict, the pages. Without --key or --archive, the keys are those that the record itself names.\n\n\
    Exit codes: 0 nothing is contradicted, 1 something does not hold, 2 it cannot be read as a record.")]
pub struct Verify {
    /// The PDF of the record, its web page, or a folder with the files taken out of it.
    pub record: PathBuf,
    /// Key of a logger, as noted when it was adopted: its fingerprint, or all 64 hexadecimal digits.
    /// Can be given more than once. With --archive, the keys that are pinned there count as well.
    #[arg(long, value_name = "KEY")]
    pub key: Vec<String>,
}

/// `limits`
#[derive(Debug, Args)]
#[command(after_long_help = help::LIMITS)]
pub struct Limits {
    /// Show what this job makes of the shipped limits.
    pub job: Option<PathBuf>,
    /// Only this limit, by its id; can be given more than once, or with commas [default: all].
    #[arg(long, value_name = "LIMIT", value_delimiter = ',')]
    pub limit: Vec<String>,
    /// Whose shipped limits, where no job says it [default: us].
    #[arg(long, value_enum, conflicts_with = "job")]
    pub profile: Option<ProfileArg>,
}

/// Whose trade's figures.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ProfileArg {
    /// United States.
    Us,
    /// Europe.
    Eu,
}

impl From<ProfileArg> for Profile {
    fn from(profile: ProfileArg) -> Self {
        match profile {
            ProfileArg::Us => Self::Us,
            ProfileArg::Eu => Self::Eu,
        }
    }
}

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
