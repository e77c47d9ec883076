//! How an error is told: on lines that fit the screen, with every cause that the message does not name.

use std::error::Error;
use std::fmt::Write as _;
use std::io::ErrorKind;
use std::path::Path;

/// Lines that are narrower help nobody.
const WIDTH_MIN: usize = 40;

/// The text of an error; broken into lines of `width` where a screen has one.
pub(super) fn error(error: &dyn Error, width: Option<usize>) -> String {
    let message = error.to_string();
    let mut text = format!("glueday: {message}\n");
    let mut cause = error.source();
    while let Some(source) = cause {
        let because = source.to_string();
        if !message.contains(&because) {
            let _ = writeln!(text, "  because: {because}");
        }
        cause = source.source();
    }
    match width {
        Some(width) => text.lines().map(|line| broken(line, width.max(WIDTH_MIN))).collect(),
        None => text,
    }
}

/// A line in lines of `width`, further ones set in by two more than the first. A word, such as the name
/// of a file, is never parted: it has to be there to be copied.
fn broken(line: &str, width: usize) -> String {
    let indent = line.len() - line.trim_start().len();
    let words = line.trim_start().split(' ');
    let (mut out, mut room) = (" ".repeat(indent), width.saturating_sub(indent));
    let mut first = true;
    for word in words {
        let wide = word.chars().count();
        if !first && wide < room {
            out.push(' ');
            room -= wide + 1;
        } else {
            if !first {
                let _ = write!(out, "\n{:1$}", "", indent + 2);
                room = width.saturating_sub(indent + 2);
            }
            room = room.saturating_sub(wide);
        }
        out.push_str(word);
        first = false;
    }
    out.push('\n');
    out
}

/// Why a file could not be read, and what to do.
pub(super) fn unread(path: &Path, error: &std::io::Error) -> String {
    let name = path.display();
    match error.kind() {
        ErrorKind::NotFound => {
            format!("there is no file {name}: check its name and the folder that you are in")
        }
        ErrorKind::PermissionDenied => {
            format!("{name} may not be read by you ({error}): see to its permissions")
        }
        ErrorKind::IsADirectory => format!("{name} is a folder: name a file"),
        _ => format!("{name} cannot be read ({error}): check the disk, and try a copy"),
    }
}

/// Why a folder could not be made, and what to do.
pub(super) fn folder(path: &Path, error: &std::io::Error) -> String {
    let name = path.display();
    match error.kind() {
        ErrorKind::AlreadyExists | ErrorKind::NotADirectory => {
            format!("{name} is not a folder: name another --folder")
        }
        _ => format!("the folder {name} cannot be made ({error}): name another --folder"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_between_words_and_words_never() {
        let line = "    one two three";
        assert_eq!(broken(line, 17), "    one two three\n");
        assert_eq!(broken(line, 16), "    one two\n      three\n");
        assert_eq!(broken("a-long-name-of-a-file b", 5), "a-long-name-of-a-file\n  b\n");
        assert_eq!(broken("", 40), "\n");
    }
}
