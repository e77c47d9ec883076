//! How a page stands on a phone and on a screen.

use crate::browser::{look, picture};
use crate::scenes::{go, wait};
use glueday::record::html::draw;

/// A small phone and a desk: CSS pixels of the window.
const PHONE: u32 = 390;
const DESK: u32 = 1200;
/// Pixels of the highest picture that the browser is asked for.
const MAX_HEIGHT: u32 = 16_000;
/// Ground of the box of a go and of a wait, and of the page, as the style sheet has them.
const GO: [u8; 3] = [0x1d, 0x5c, 0x9c];
const WAIT: [u8; 3] = [0xa8, 0x46, 0x0a];
const PAPER: [u8; 3] = [0xff; 3];
const DARK: [u8; 3] = [0x15, 0x18, 0x1c];

const IN_THE_DARK: [&str; 1] = ["--blink-settings=preferredColorScheme=0"];

#[test]
fn nothing_is_wider_than_the_window() {
    for evidence in [go(), wait()] {
        let page = draw(&evidence).unwrap();
        for width in [PHONE, DESK] {
            let seen = look(&page, width, &[]);
            assert_eq!(seen.window, width);
            assert!(seen.width <= seen.window, "{} in {}", seen.width, seen.window);
            assert_eq!(seen.beyond, Vec::<String>::new());
            assert_eq!(seen.small, Vec::<String>::new());
            assert_eq!(seen.fonts, [true, true]);
            assert!(seen.height > 2000, "{}", seen.height);
        }
    }
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    let seen = look(&draw(&wait()).unwrap(), PHONE, &[]);
    assert_eq!(seen.requests, Vec::<String>::new());
    assert_eq!((seen.scripts, seen.images), (0, 0));
    assert!(seen.title.starts_with("Record of site conditions: <script>"), "{}", seen.title);
}

#[test]
fn the_verdict_stands_on_top_in_its_colour_and_shape() {
    for (evidence, name, color, other) in [(go(), "go", GO, WAIT), (wait(), "wait", WAIT, GO)] {
        let page = draw(&evidence).unwrap();
        for width in [PHONE, DESK] {
            let picture = picture(&page, width, 700, &[]);
            picture.keep(&format!("{name}-{width}.png"));
            assert_eq!((picture.width, picture.height), (width, 700));
            let (ground, shown) = (picture.share(PAPER), picture.share(color));
            assert!((0.5..0.97).contains(&ground), "{name} at {width}: ground {ground}");
            // A full box for go, a frame for wait.
            let expected = if color == GO { 0.02..0.3 } else { 0.004..0.06 };
            assert!(expected.contains(&shown), "{name} at {width}: {shown}");
            assert!(picture.share(other) < 0.002, "{name} at {width}");
        }
    }
}

/// The whole page, for whoever wants to look: `GLUEDAY_PICTURES=FOLDER`.
#[test]
fn the_whole_page_is_drawn() {
    let page = draw(&wait()).unwrap();
    for (width, args, name) in
        [(PHONE, &[][..], "light"), (DESK, &[][..], "light"), (PHONE, &IN_THE_DARK[..], "dark")]
    {
        let height = look(&page, width, &[]).height.min(MAX_HEIGHT);
        let picture = picture(&page, width, height, args);
        picture.keep(&format!("whole-{name}-{width}.png"));
        let ground = picture.share(if name == "dark" { DARK } else { PAPER });
        assert!((0.4..0.97).contains(&ground), "{name} at {width}: ground {ground}");
        // No band of the page is empty: at every 2000 px something is drawn.
        let row = usize::try_from(width).unwrap();
        for band in picture.pixels.chunks_exact(row * 2000) {
            let first = band[0];
            let drawn = band.iter().filter(|pixel| **pixel != first).count();
            assert!(drawn * 100 > band.len(), "{name} at {width}: an empty band");
        }
    }
}

#[test]
fn it_follows_the_dark_of_the_system_and_its_charts_do_too() {
    let page = draw(&go()).unwrap();
    let light = look(&page, PHONE, &[]);
    let dark = look(&page, PHONE, &IN_THE_DARK);
    assert_eq!(light.colors[..2], ["rgb(255, 255, 255)", "rgb(22, 25, 29)"]);
    assert_eq!(dark.colors[..2], ["rgb(21, 24, 28)", "rgb(238, 238, 234)"]);
    assert_ne!(light.colors[2], dark.colors[2], "the texts of the charts");
    // And not on paper, whatever the system has.
    assert_ne!(dark.colors[0], dark.colors[2]);
}

/// One chart a room is shown at each width, with letters that can be read.
#[test]
fn charts_fit_the_window_and_can_be_read() {
    let page = draw(&wait()).unwrap();
    for (width, widest) in [(PHONE, 390.0), (DESK, 960.0)] {
        let seen = look(&page, width, &[]);
        assert_eq!(seen.charts.len(), 2, "at {width}");
        for (wide, letters) in &seen.charts {
            assert!((300.0..=widest).contains(wide), "{wide} at {width}");
            assert!(*letters >= 9.5, "{letters} px at {width}");
        }
    }
}

/// The word of the verdict has a line of its own on a phone, and leaves the box to the site on a desk.
#[test]
fn the_verdict_takes_its_share_of_the_box() {
    let page = draw(&go()).unwrap();
    let (phone, desk) = (look(&page, PHONE, &[]).word, look(&page, DESK, &[]).word);
    assert!(phone > 0.9, "{phone}");
    assert!((0.1..0.3).contains(&desk), "{desk}");
}
