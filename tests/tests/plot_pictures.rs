//! Charts against reference pictures in `fixtures/pictures`, each of which was looked at.
//!
//! A picture is only written anew when `GLUEDAY_REWRITE_PICTURES` is set; `GLUEDAY_SHOW_PICTURES=FOLDER`
//! writes all of them there at full size, to be looked at.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "helpers of tests, which fail by panicking"
)]

mod assess_world;
mod plot_look;
#[allow(dead_code)] // Shared with other tests.
mod plot_scenes;

use assess_world::{HOUR, Of, World, t};
use glueday::assess::{Step, assess};
use glueday::history::History;
use glueday::job::Job;
use glueday::limits::Limits;
use glueday::plot::{Chart, Course, Style, png};
use plot_look::{Picture, lab};
use plot_scenes::{DAY_S, MILESTONES, START_S, four_weeks, job};
use std::path::{Path, PathBuf};

const REWRITE: &str = "GLUEDAY_REWRITE_PICTURES";
const SHOW: &str = "GLUEDAY_SHOW_PICTURES";

/// What a picture may be off its reference, in delta E*ab: see `plot_look`. A line or a label that is
/// missing or elsewhere is off by 15 and more at its place; what the reference loses by its fewer
/// colours, and another way to smooth edges, stay below half of this.
const MAX: f64 = 8.0;
const MEAN: f64 = 0.4;

const WIDE: Style = Style { width: 1200, height: 960, dark: false };
/// A telephone: 720 pixels, shown as 360 of a page.
const PHONE: Style = Style { width: 720, height: 1840, dark: false };
/// A4 at 90 dpi; the letters as large on paper as `--size a4` makes them.
const A4: Style = Style { width: 744, height: 1052, dark: false };

/// Draws one room of a job and compares it.
struct Shot {
    job: Job,
    history: History,
    step: Step,
    at_s: i64,
    span: (i64, i64),
    style: Style,
    letters_pct: u32,
    room: usize,
}

impl Shot {
    fn of(world: &World) -> Self {
        let job = Job::parse(&world.job, "job.toml").unwrap_or_else(|errors| panic!("{errors}"));
        let history = world.history();
        let (first_s, _) = history.span().unwrap_or((world.at_s - DAY_S, 0));
        Self {
            job,
            history,
            step: world.step,
            at_s: world.at_s,
            span: (first_s, world.at_s),
            style: WIDE,
            letters_pct: 100,
            room: 0,
        }
    }

    /// Four weeks of an invented site, in US units.
    fn month() -> Self {
        Self {
            job: job("us", "Lot 12, Heron Way", MILESTONES),
            history: four_weeks(),
            step: Step::GlueDown,
            at_s: START_S + 17 * DAY_S,
            span: (START_S, START_S + 28 * DAY_S),
            style: WIDE,
            letters_pct: 100,
            room: 0,
        }
    }

    fn png(&self) -> Vec<u8> {
        let limits = Limits::resolve(&self.job);
        let rooms: Vec<_> = self.job.zones.iter().map(|zone| (zone, &self.history)).collect();
        let assessment = assess(&self.job, &limits, &rooms, self.step, self.at_s);
        let asked = (self.step, self.at_s);
        let course = Course::judge(&self.job, &limits, rooms[self.room], asked, self.span);
        let judged = (&assessment, &assessment.zones[self.room]);
        let chart =
            Chart::new(&self.job, &limits, &self.history, judged, self.span, self.style).unwrap();
        png(&chart.with_course(&course).with_letters(self.letters_pct)).unwrap()
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/pictures")
}

#[track_caller]
fn assert_looks_like(name: &str, shot: &Shot) {
    let drawn = shot.png();
    if let Some(folder) = std::env::var_os(SHOW) {
        std::fs::write(Path::new(&folder).join(format!("{name}.png")), &drawn).unwrap();
    }
    let path = folder().join(format!("{name}.png"));
    let drawn = Picture::decode(&drawn).reference();
    if std::env::var_os(REWRITE).is_some() {
        std::fs::write(&path, drawn.encode()).unwrap();
    }
    let kept = std::fs::read(&path).unwrap_or_else(|e| panic!("{name}: {e}; set {REWRITE}=1"));
    let apart = drawn.apart(&Picture::decode(&kept));
    assert!(
        apart.max <= MAX && apart.mean <= MEAN,
        "{name}: {apart:?} (a third of the pixels of the chart); if the new chart is right, set \
         {REWRITE}=1, run again and look at it"
    );
}

#[test]
fn a_go() {
    assert_looks_like("go", &Shot::of(&World::ready()));
}

#[test]
fn a_wait() {
    assert_looks_like("wait", &Shot::month());
}

#[test]
fn on_a_phone() {
    assert_looks_like("phone", &Shot { style: PHONE, letters_pct: 127, ..Shot::month() });
}

#[test]
fn on_a4() {
    assert_looks_like("a4", &Shot { style: A4, letters_pct: 61, ..Shot::month() });
}

#[test]
fn three_dark_days_with_a_gap() {
    let span = (START_S + 8 * DAY_S, START_S + 11 * DAY_S);
    let style = Style { dark: true, ..WIDE };
    assert_looks_like("dark", &Shot { span, style, ..Shot::month() });
}

#[test]
fn twelve_hours() {
    let span = (START_S + 14 * DAY_S - 6 * HOUR, START_S + 14 * DAY_S + 6 * HOUR);
    assert_looks_like("hours", &Shot { span, ..Shot::month() });
}

#[test]
fn gaps_dead_probes_and_undated_spans() {
    let mut world = World::ready();
    world.gap(t(3, 0, 0), 30 * HOUR);
    world.gap(t(9, 12, 0), 5 * HOUR);
    world.set(Of::Supply, t(6, 0, 0), t(8, 0, 0), None);
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    // A second start that nobody told the time.
    world.reboot(t(12, 0, 0), &[]);
    assert_looks_like("gaps", &Shot::of(&world));
}

#[test]
fn no_log() {
    let mut shot = Shot::of(&World::ready());
    shot.history = History::default();
    shot.style.height = 800;
    assert_looks_like("no-log", &shot);
}

#[test]
fn the_second_of_two_rooms() {
    let mut world = World::ready();
    world.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    let mut shot = Shot::of(&world);
    shot.job.zones.push(shot.job.zones[0].clone());
    shot.job.zones[1].name = "Winter garden towards the courtyard, with the long name".to_owned();
    shot.room = 1;
    shot.style = Style { width: 1000, height: 900, dark: false };
    assert_looks_like("second-room", &shot);
}

#[test]
fn the_references_stay_small() {
    let sizes = std::fs::read_dir(folder()).unwrap().map(|file| file.unwrap().metadata().unwrap());
    let bytes: u64 = sizes.map(|file| file.len()).sum();
    assert!(bytes < 400_000, "{bytes} bytes");
}

/// White, mid grey and the primaries of sRGB in L*a*b*, as tables give them (D65, from memory).
#[test]
fn the_measure_agrees_with_tables() {
    for (rgb, expected) in [
        ([255, 255, 255], [100.0, 0.0, 0.0]),
        ([119, 119, 119], [50.0, 0.0, 0.0]),
        ([255, 0, 0], [53.2, 80.1, 67.2]),
        ([0, 255, 0], [87.7, -86.2, 83.2]),
        ([0, 0, 255], [32.3, 79.2, -107.9]),
    ] {
        let found = lab(rgb);
        let near = found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 0.15);
        assert!(near, "{rgb:?}: {found:?}, not {expected:?}");
    }
}

/// A line of two pixels that is missing, of other colour or three pixels elsewhere is noticed; noise of
/// the last bits is not.
#[test]
fn the_tolerance_notices_a_line_and_no_noise() {
    let picture = |line: Option<(usize, [u8; 3])>, noise: u8| {
        let pixel = |i: usize| match line {
            Some((y, color)) if (y..y + 2).contains(&(i / 300)) => color,
            _ => [251 - noise * (i % 2) as u8, 250, 247],
        };
        Picture { width: 300, height: 90, pixels: (0..300 * 90).map(pixel).collect() }.reference()
    };
    let blue = [0x14, 0x50, 0x94];
    let kept = picture(Some((40, blue)), 0);
    let max = |line, noise| kept.apart(&picture(line, noise)).max;
    assert!(max(Some((40, blue)), 3) < MAX / 2.0);
    for line in [None, Some((43, blue)), Some((40, [0xc4, 0x62, 0x10]))] {
        assert!(max(line, 0) > MAX, "{line:?}: {}", max(line, 0));
    }
}
