//! The text of a new job file.

use crate::quantity::Units;

/// Prose starts with `# `, a key that is switched off with `#` and no space. `<a|b>` is `a` for
/// customary and `b` for metric units.
const TEXT: &str = include_str!("template.txt");
/// Column at which the comments stand.
const COMMENT_COLUMN: usize = 40;

/// The line that names the first room's logger, switched off.
const LOGGER: &str = "#logger = \"hall logger\"";

pub(super) fn text(site_name: &str, time_zone: &str, units: Units, logger: Option<&str>) -> String {
    let logger = logger.map_or(LOGGER.to_owned(), |name| format!("logger = {}", quoted(name)));
    let (name, zone) = (quoted(site_name), quoted(time_zone));
    let mut text = String::new();
    for line in TEXT.lines() {
        let line = in_units(line, units);
        if let Some(rest) = line.strip_prefix(LOGGER) {
            text.push_str(&aligned(&format!("{logger}{rest}")));
        } else if line.starts_with("# ") {
            text.push_str(&line);
        } else {
            // The two stand on lines of their own, so neither is looked for in the other.
            text.push_str(&aligned(&line.replace("@zone@", &zone).replace("@name@", &name)));
        }
        text.push('\n');
    }
    text
}

/// Takes one side of each `<a|b>`.
fn in_units(line: &str, units: Units) -> String {
    let mut parts = line.split('<');
    let mut text = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let choice = part.split_once('>').and_then(|(choice, rest)| {
            let (us, metric) = choice.split_once('|')?;
            Some((if units == Units::Us { us } else { metric }, rest))
        });
        match choice {
            Some((chosen, rest)) => text.extend([chosen, rest]),
            None => text.extend(["<", part]),
        }
    }
    text
}

/// Moves the comment behind a value to the common column.
fn aligned(line: &str) -> String {
    match line.rsplit_once("  # ") {
        Some((value, comment)) => {
            format!("{:<COMMENT_COLUMN$}# {}", format!("{}  ", value.trim_end()), comment)
        }
        None => line.to_owned(),
    }
}

/// As a TOML string, with quotes and escapes.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
