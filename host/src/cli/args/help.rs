//! What `--help` says behind the options: examples, what is worth knowing, exit codes. `-h` stays short.
//!
//! Each example is read by the program's own parser in the tests, so none can go stale.

/// For the program, short.
pub(super) const PROGRAM_SHORT: &str = "\
Exit codes: 0 go or done, 1 wait, 2 error.
What a command takes, with examples: glueday COMMAND --help";

/// For the program.
pub(super) const PROGRAM: &str = "\
Examples:
  glueday demo
  glueday adopt --port /dev/ttyACM0 --name \"hall logger\"
  glueday pull --port /dev/ttyACM0
  glueday check hall.toml
  glueday record hall.toml --output hall.pdf

Times: UTC in files and JSON, the clock of the site in texts and charts.
Units: as the job file says, us or metric; figures are typed with their unit, such as \"68 F\", \
\"20 C\", \"45 %\", \"48 h\". JSON is in SI units.
Output: data goes to standard output, talk to standard error.

Environment:
  GLUEDAY_ARCHIVE  the archive, where --archive does not say it
  GLUEDAY_PORT     the port of the logger, where --port does not say it
  NO_COLOR         when set to anything, no colours
  COLUMNS          width of texts; without it, that of the terminal, or 80

Exit codes: 0 go or done, 1 wait, 2 error.";

/// For `demo`.
pub(super) const DEMO: &str = "\
Examples:
  glueday demo
  glueday demo --folder /tmp/alder --now 2026-03-19T15:00Z

Six weeks of an invented site: a logger without hardware runs through them at once, its log is pulled \
over a real line, and the same question is asked twice, too early and in time. A folder with somebody's \
own archive or job is left alone.

Exit codes: 0 done, 2 error.";

/// For `ports`.
pub(super) const PORTS: &str = "\
Examples:
  glueday ports
  glueday ports --json

Each port with the ids of its USB device (vendor:product), serial number, product, and whether it can \
be opened. One that cannot is listed with the reason. No port is sent anything.

Exit codes: 0 done, 2 error.";

/// For `adopt`.
pub(super) const ADOPT: &str = "\
Examples:
  glueday adopt --port /dev/ttyACM0 --name \"hall logger\"
  glueday adopt --name \"hall logger\" --interval \"10 min\"
  glueday adopt --port tcp:192.0.2.7:4001 --name \"bath logger\" --keep-clock

The key that it prints is pinned: write it down with the logger. Interval: 1 s to 18 h. Adopting a \
logger again under the same name sets its clock and changes nothing else.

Exit codes: 0 done, 2 error.";

/// For `pull`.
pub(super) const PULL: &str = "\
Examples:
  glueday pull --port /dev/ttyACM0
  glueday pull
  glueday pull --port tcp:192.0.2.7:4001 --archive lot7.db

A pull that was cut short is simply done again: it goes on where it stopped. It ends with a signature \
of the logger over its log.

Exit codes: 0 done, 2 error.";

/// For `import`.
pub(super) const IMPORT: &str = "\
Examples:
  glueday import site.csv --name \"hall air\" --zone America/Denver \\
      --column \"air=Temp[F]\" --column \"rh=Humidity\"
  glueday import site.csv --name \"hall air\" --zone +02:00 --column air=2 \\
      --column rh=3 --decimal comma --missing ---- --time-format dmy

Whatever the columns and the file leave open is found out from the file, or asked for in the error \
with the option that says it. A channel that the file does not hold is no evidence.

Exit codes: 0 done, 2 error; a file that is refused leaves the archive as it was.";

/// For `job`.
pub(super) const JOB: &str = "\
Examples:
  glueday job new hall.toml --site \"Lot 7\" --zone America/Denver
  glueday job check hall.toml

Exit codes: 0 done, 2 error.";

/// For `job new`.
pub(super) const JOB_NEW: &str = "\
Examples:
  glueday job new hall.toml --site \"Lot 7\" --zone America/Denver \\
      --logger \"hall logger\"
  glueday job new hall.toml --site \"Lot 7\" --zone Europe/Berlin --units metric

Each key stands in the file with a comment; most are switched off until you fill them in. What is not \
filled in is no evidence, and never taken as met.

Exit codes: 0 done, 2 error, and the file is not made.";

/// For `job check`.
pub(super) const JOB_CHECK: &str = "\
Examples:
  glueday job check hall.toml
  glueday job check hall.toml --json

All errors of the file are told at once, each with its line and column. The file is not changed.

Exit codes: 0 no errors, 2 error.";

/// For `probe-check`.
pub(super) const PROBE_CHECK: &str = "\
Examples:
  glueday probe-check hall.toml --channel slab --ice --interval \"1 min\"
  glueday probe-check hall.toml --room Hall --channel rh --salt NaCl \\
      --interval \"1 min\"
  glueday probe-check hall.toml --channel air --reference \"68.5 F\"

It says what to do, watches until the probe is at rest, and adds the check to the job file; what stood \
there stays as it was, with its comments. Times: min or h. Channels: slab, air and supply in °C or °F, \
rh in %.

Exit codes: 0 within the limit, 1 not within it (the check is noted all the same), 2 error.";

/// For `check`.
pub(super) const CHECK: &str = "\
Examples:
  glueday check hall.toml
  glueday check hall.toml --step membrane --at \"2026-03-16 09:00\"
  glueday check hall.toml --why acclimation
  glueday check hall.toml --why
  glueday check - --json --at 2026-03-18T14:00Z

Figures are in the units of the job; where both stand, as 66.7/19.3, it is °F/°C. No data is never a \
pass: what is missing is listed with what to do about it.

With - in place of a job file, jobs come with their logs as JSON Lines from a data set (`export \
--data-set`), and a line of JSON goes out for each: for engines that spread many jobs over many machines.

Exit codes: 0 go, 1 wait, 2 error.";

/// For `sites`.
pub(super) const SITES: &str = "\
Examples:
  glueday sites
  glueday sites jobs/ annex/bath.toml --sort earliest-go
  glueday sites jobs/ --step sanding --at \"2026-03-18 08:00\" --json

A row for each room of each job. A job that cannot be judged has a row that says why, and hides no \
other.

Exit codes: 0 every room is a go, 1 some wait, 2 some row is an error.";

/// For `live`.
pub(super) const LIVE: &str = "\
Examples:
  glueday live hall.toml --port /dev/ttyACM0
  glueday live hall.toml --port tcp:192.0.2.7:4001 --every \"1 min\"
  glueday live hall.toml --once
  glueday live hall.toml --for \"8 h\" --json > hall.jsonl

What the logger has that the archive lacks is pulled, as `pull` does, and judged as `check` does. q or \
Ctrl-C ends it. When standard output is no terminal, each refresh is one line; with --json it is one \
object a line.

Exit codes: 0 the last verdict was go, 1 it was wait, 2 error, or nothing was judged.";

/// For `mark`.
pub(super) const MARK: &str = "\
Examples:
  glueday mark glue-started --port /dev/ttyACM0
  glueday mark barrier-rolled --port tcp:192.0.2.7:4001 --json

The mark goes into the log of the logger, for good; `pull` brings it into the archive. What counts for \
a verdict is the time in the job file: `check` tells where the two differ, and `marks` lists them.

Exit codes: 0 the mark stands in the log, 2 error.";

/// For `marks`.
pub(super) const MARKS: &str = "\
Examples:
  glueday marks hall.toml
  glueday marks hall.toml --room Hall --at last --json

The marks of the log, and the presses of the logger's button, beside the times in the job file.

Exit codes: 0 nothing contradicts the job file, 1 something does, 2 error.";

/// For `record`.
pub(super) const RECORD: &str = "\
Examples:
  glueday record hall.toml --at \"2026-03-19 08:00\" --output hall.pdf
  glueday record hall.toml --html --output hall.pdf
  glueday record hall.toml --output hall.html

The evidence is inside the record: the log as the logger wrote it, its signatures, the job file, and \
the answer with every limit. A wait makes a record as well, which says so.

Exit codes: 0 go, 1 wait, 2 error, and no record is made.";

/// For `limits`.
pub(super) const LIMITS: &str = "\
Examples:
  glueday limits --profile eu
  glueday limits hall.toml --limit air-rh-max
  glueday limits --json

Each limit with its unit, its source and how well the source is known. Data sheets of the products \
come first: write them into the job file.

Exit codes: 0 done, 2 error.";

/// For `completions`.
pub(super) const COMPLETIONS: &str = "\
Examples:
  glueday completions bash > ~/.local/share/bash-completion/completions/glueday
  glueday completions fish > ~/.config/fish/completions/glueday.fish
  glueday completions zsh > ~/.zfunc/_glueday

Exit codes: 0 done, 2 error.";

/// For `man`.
pub(super) const MAN: &str = "\
Examples:
  glueday man | man -l -
  glueday man probe-check
  glueday man job new
  glueday man --folder ~/.local/share/man/man1

Exit codes: 0 done, 2 error.";

/// For `air`.
pub(super) const AIR: &str = "\
Examples:
  glueday air --temp \"70 F\" --rh \"45 %\" --slab \"66 F\"
  glueday air --temp 21C --rh 45% --slab 27C --resistance \"0.1 m2K/W\"
  glueday air --temp 21C --rh 38% --wood-mc 8% --species \"white oak\" \\
      --width 190mm
  glueday air --temp 23C --rh 73% --salt NaCl
  glueday air --temp 21C --rh 45% --start-weight 50.10g --end-weight 52.30g \\
      --area \"0.486 ft2\" --exposure 68h

Ranges: air and slab -20 to 60 °C (-4 to 140 °F), RH 1 to 100 %. --json names the source of each \
figure.

Exit codes: 0 done, 2 error.";
