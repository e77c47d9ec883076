//! `plot`

use super::args::Plot;
use super::check::answer;
use super::question::{Site, parse_span_s, parse_time};
use super::{Answer, Failure, Talk, fail, print_json, store};
use crate::assess::{ZoneAssessment, corrected};
use crate::history::History;
use crate::job::Zone;
use crate::plot::{Chart, Course, Sheet, Style};
use std::path::{Path, PathBuf};

/// Schema of the JSON document.
const SCHEMA: u32 = 1;

/// The kind of picture that a file name asks for.
#[derive(Clone, Copy)]
enum Picture {
    Png,
    Svg,
}

/// Pictures by the name of their size: for a telephone held upright, whose screen shows three of its
/// pixels as one of a page, and for paper of ISO 216 at 300 dpi. Width, height, and letters in per cent.
const SIZES: [(&str, Size); 3] = [
    ("phone", Size { width: 1080, height: 2760, letters_pct: 190 }),
    ("a4", Size { width: 2480, height: 3508, letters_pct: 115 }),
    ("a4-landscape", Size { width: 3508, height: 2480, letters_pct: 90 }),
];

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Size {
    width: u32,
    height: u32,
    letters_pct: u32,
}

#[derive(serde::Serialize)]
struct Report {
    schema: u32,
    pictures: Vec<Made>,
}

/// A picture that was made.
#[derive(serde::Serialize)]
struct Made {
    room: String,
    file: String,
}

pub(super) fn run(
    args: &Plot,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let picture = args.output.as_deref().map(picture).transpose()?;
    let size = parse_size(&args.size)?;
    let site = Site::open(&args.question, archive)?;
    for note in &site.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    let assessment = site.assess();
    let zone = &site.job.site.time_zone;
    let to_s = args.to.as_deref().map(|t| parse_time(t, zone)).transpose()?.unwrap_or(site.at_s);
    let from_s = match (&args.from, &args.last) {
        (Some(from), _) => Some(parse_time(from, zone)?),
        (None, Some(last)) => Some(to_s.saturating_sub(parse_span_s(last)?)),
        (None, None) => None,
    };
    if from_s.is_some_and(|from_s| from_s >= to_s) {
        return fail("the chart would end before it begins: see --from and --to");
    }
    let rooms: Vec<&str> = site.rooms.iter().map(|(room, _)| room.name.as_str()).collect();
    let paths = args.output.as_deref().map(|output| paths(output, &rooms)).unwrap_or_default();
    let mut paths = paths.into_iter();
    let mut pictures = Vec::new();
    let style = Style { width: size.width, height: size.height, dark: args.dark };
    for (i, ((room, logged), judged)) in site.rooms.iter().zip(&assessment.zones).enumerate() {
        let span = (from_s.unwrap_or_else(|| first_s(logged, to_s)).min(to_s - 1), to_s);
        let history = corrected(&site.job, room, logged);
        let judged: (_, &ZoneAssessment) = (&assessment, judged);
        let chart = Chart::new(&site.job, &site.limits, &history, judged, span, style)?;
        let course = course(&site, (room, logged), span);
        let letters_pct = size.letters_pct.saturating_mul(args.letters) / 100;
        let chart = chart.with_course(&course).with_letters(letters_pct);
        if args.terminal {
            let sheet =
                Sheet { columns: talk.width, ascii: !is_utf8(|name| std::env::var(name).ok()) };
            let between = if i > 0 { "\n" } else { "" };
            write!(talk.out, "{between}{}", crate::plot::terminal(&chart, sheet))?;
        }
        if let (Some(picture), Some(path)) = (picture, paths.next()) {
            let bytes = match picture {
                Picture::Png => crate::plot::png(&chart)?,
                Picture::Svg => crate::plot::svg(&chart)?.into_bytes(),
            };
            store::write(&path, &bytes)?;
            let file = path.display().to_string();
            match (talk.json, args.terminal) {
                (true, _) => pictures.push(Made { room: room.name.clone(), file }),
                (false, true) => writeln!(talk.err, "{file}")?,
                (false, false) => writeln!(talk.out, "{file}")?,
            }
        }
    }
    if talk.json {
        print_json(talk, &Report { schema: SCHEMA, pictures })?;
    }
    Ok(answer(&assessment))
}

/// Where a chart begins when nobody says it.
fn first_s(history: &History, to_s: i64) -> i64 {
    history.span().map_or(to_s - 86_400, |span| span.0)
}

/// How the requirements of a room stood over the span of the chart.
fn course(site: &Site, zone: (&Zone, &History), span: (i64, i64)) -> Course {
    let asked = (site.evidence.step, site.at_s);
    Course::judge(&site.job, &site.limits, zone, asked, span)
}

fn picture(output: &Path) -> Result<Picture, Failure> {
    match output.extension().and_then(|e| e.to_str()) {
        Some(e) if e.eq_ignore_ascii_case("png") => Ok(Picture::Png),
        Some(e) if e.eq_ignore_ascii_case("svg") => Ok(Picture::Svg),
        _ => fail(format!("{}: must end in .png or .svg", output.display())),
    }
}

/// A path for each room: `hall.png` and `Bath` to `hall-bath.png`. Rooms whose names are alike get a
/// number, so that none is written over another.
fn paths(output: &Path, rooms: &[&str]) -> Vec<PathBuf> {
    if rooms.len() < 2 {
        return vec![output.to_owned()];
    }
    let mut paths: Vec<PathBuf> = Vec::new();
    for room in rooms {
        let path =
            (1..).map(|number| with_room(output, room, number)).find(|path| !paths.contains(path));
        paths.extend(path);
    }
    paths
}

fn with_room(path: &Path, room: &str, number: u32) -> PathBuf {
    let plain = |c: char| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let room: String = room.chars().map(plain).collect();
    let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or("chart");
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or("png");
    let number = if number > 1 { format!("-{number}") } else { String::new() };
    path.with_file_name(format!("{stem}-{room}{number}.{extension}"))
}

fn parse_size(text: &str) -> Result<Size, Failure> {
    if let Some((_, size)) = SIZES.iter().find(|(name, _)| text.eq_ignore_ascii_case(name)) {
        return Ok(*size);
    }
    let sides =
        text.split_once(['x', 'X']).and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
    match sides {
        // Whether it is a size that a chart can have, the chart says.
        Some((width, height)) => Ok(Size { width, height, letters_pct: 100 }),
        None => fail(format!(
            "`{text}` is no size: write WIDTHxHEIGHT in pixels, such as 1400x1100, or phone, a4 or \
             a4-landscape"
        )),
    }
}

/// Whether the locale is one of UTF-8: the first of the variables that says something decides
/// (POSIX.1, environment variables). Where no locale is set there is only ASCII, but for systems
/// that have no such variables.
fn is_utf8(variable: impl Fn(&str) -> Option<String>) -> bool {
    let said = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .find_map(|name| variable(name).filter(|value| !value.is_empty()));
    match said {
        Some(locale) => {
            let locale = locale.to_ascii_lowercase();
            locale.contains("utf-8") || locale.contains("utf8")
        }
        None => cfg!(windows),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rooms_with_like_names_have_files_of_their_own() {
        let paths = paths(Path::new("out/hall.png"), &["Bath 1", "Bath-1", "Küche", "bath 1"]);
        let names: Vec<_> = paths.iter().map(|path| path.to_str().unwrap()).collect();
        let expected = [
            "out/hall-bath-1.png",
            "out/hall-bath-1-2.png",
            "out/hall-küche.png",
            "out/hall-bath-1-3.png",
        ];
        assert_eq!(names, expected);
        assert_eq!(super::paths(Path::new("a.svg"), &["Bath"]), [PathBuf::from("a.svg")]);
    }

    #[test]
    fn the_first_variable_that_says_something_is_the_locale() {
        let is_utf8 = |set: &[(&str, &str)]| {
            is_utf8(|name| set.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).to_owned()))
        };
        assert!(is_utf8(&[("LANG", "de_AT.UTF-8")]));
        assert!(is_utf8(&[("LC_ALL", ""), ("LC_CTYPE", "C.utf8"), ("LANG", "C")]));
        assert!(!is_utf8(&[("LC_ALL", "C"), ("LANG", "en_US.UTF-8")]));
        assert!(!is_utf8(&[("LC_CTYPE", "de_AT.ISO-8859-1"), ("LANG", "en_US.UTF-8")]));
        assert_eq!(is_utf8(&[]), cfg!(windows));
    }

    #[test]
    fn sizes_have_names_or_sides() {
        let size = |text: &str| parse_size(text).map(|s| (s.width, s.height)).ok();
        // ISO 216: A4 is 210 mm by 297 mm; an inch is 25.4 mm.
        let dots = |mm: f64| mm / 25.4 * 300.0;
        let (width, height) = size("A4").unwrap();
        assert!((f64::from(width) - dots(210.0)).abs() < 1.0);
        assert!((f64::from(height) - dots(297.0)).abs() < 1.0);
        assert_eq!(size("a4-landscape"), Some((height, width)));
        assert_eq!(size("800X600"), Some((800, 600)));
        assert_eq!(size("letter"), None);
        assert_eq!(size("800x"), None);
    }
}
