//! The chart as a reader gets it: pixels of the PNG and elements of the SVG.

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

mod plot_scenes;

use std::collections::BTreeSet;

use glueday::assess::{Assessment, Step, assess};
use glueday::history::History;
use glueday::job::Job;
use glueday::limits::{Limits, ResolvedLimits};
use glueday::plot::{Chart, PlotError, Style, png, svg};
use plot_scenes::{DAY_S, HOUR_S, MILESTONES, START_S, four_weeks, job, push};

const LIGHT: Style = Style { width: 1400, height: 1000, dark: false };
const PHONE: Style = Style { width: 720, height: 900, dark: false };

/// A chart's inputs, kept together.
struct Shot {
    job: Job,
    limits: ResolvedLimits,
    history: History,
    assessment: Assessment,
    span: (i64, i64),
}

impl Shot {
    fn new(job: Job, history: History, step: Step, at_s: i64, span: (i64, i64)) -> Self {
        let limits = Limits::resolve(&job);
        let zones: Vec<_> = job.zones.iter().map(|zone| (zone, &history)).collect();
        let assessment = assess(&job, &limits, &zones, step, at_s);
        Self { limits, assessment, history, span, job }
    }

    fn chart(&self, style: Style) -> Chart<'_> {
        let judged = (&self.assessment, &self.assessment.zones[0]);
        Chart::new(&self.job, &self.limits, &self.history, judged, self.span, style).unwrap()
    }

    fn png(&self, style: Style) -> Vec<u8> {
        png(&self.chart(style)).unwrap()
    }

    fn svg(&self, style: Style) -> String {
        svg(&self.chart(style)).unwrap()
    }
}

fn month(units: &str, site: &str) -> Shot {
    let at_s = START_S + 17 * DAY_S;
    let span = (START_S, START_S + 28 * DAY_S);
    Shot::new(job(units, site, MILESTONES), four_weeks(), Step::GlueDown, at_s, span)
}

/// Width, height and RGB bytes.
fn decode(bytes: &[u8]) -> (u32, u32, Vec<u8>) {
    let mut reader = ::png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut pixels).unwrap();
    assert_eq!(info.color_type, ::png::ColorType::Rgb);
    pixels.truncate(info.buffer_size());
    (info.width, info.height, pixels)
}

/// Columns in which two pictures of one size differ.
fn differing_columns(a: &[u8], b: &[u8]) -> BTreeSet<u32> {
    let ((width, height, a), (width_b, height_b, b)) = (decode(a), decode(b));
    assert_eq!((width, height), (width_b, height_b));
    let pixels = a.chunks_exact(3).zip(b.chunks_exact(3)).zip(0_u32..);
    pixels.filter(|((a, b), _)| a != b).map(|(_, i)| i % width).collect()
}

/// The column of a time: found from the picture itself, by the milestone drawn there.
fn column_of(at_s: i64, style: Style) -> u32 {
    let shot = |at_s: i64| {
        let span = (START_S, START_S + 28 * DAY_S);
        Shot::new(job("metric", "Site", ""), History::default(), Step::Service, at_s, span)
    };
    // Rectangles of the SVG that stand only there, as wide as the line of the question.
    let lines = |text: &str| -> BTreeSet<String> {
        text.lines().filter(|l| l.starts_with("<rect")).map(str::to_owned).collect()
    };
    let (with, without) =
        (lines(&shot(at_s).svg(style)), lines(&shot(START_S + 40 * DAY_S).svg(style)));
    let upright: Vec<f64> = with
        .difference(&without)
        .filter(|line| number(line, "width") == 8.0 && number(line, "height") > 100.0)
        .map(|line| number(line, "x") / 4.0 + 1.0)
        .collect();
    assert!(!upright.is_empty());
    assert!(upright.iter().all(|x| (x - upright[0]).abs() < 0.1), "{upright:?}");
    upright[0] as u32
}

fn number(tag: &str, name: &str) -> f64 {
    let (_, rest) = tag.split_once(&format!(" {name}=\"")).unwrap();
    rest.split_once('"').unwrap().0.parse().unwrap()
}

#[test]
fn the_png_decodes_with_the_size_asked_for() {
    let shot = month("us", "Site");
    for (width, height) in [(1400, 1000), (720, 900), (600, 600), (2480, 1754)] {
        let (w, h, pixels) = decode(&shot.png(Style { width, height, dark: false }));
        assert_eq!((w, h), (width, height));
        assert!(pixels.iter().any(|byte| *byte < 80), "nothing is drawn");
    }
}

#[test]
fn one_sample_among_fifty_thousand_shows_in_its_column() {
    let history = |spike: Option<usize>, channel: usize| {
        let mut history = History::default();
        for i in 0..50_000_usize {
            let wobble = (i % 7) as f64 / 20.0;
            let mut values = [20.0 + wobble, 21.0 + wobble, 45.0 + wobble, 22.0 + wobble];
            if spike == Some(i) {
                values[channel] += if channel == 2 { 25.0 } else { 6.0 };
            }
            // Both extremes are in both logs, so that the scales are the same.
            match i {
                0 => values = [5.0, 5.0, 20.0, 5.0],
                1 => values = [30.0, 30.0, 80.0, 30.0],
                _ => {}
            }
            push(&mut history, START_S + i as i64 * 48, 48, values);
        }
        history
    };
    let shot = |history| {
        let span = (START_S, START_S + 28 * DAY_S);
        Shot::new(job("metric", "Site", ""), history, Step::Service, START_S + 30 * DAY_S, span)
    };
    // Without requirements, so that only the log differs.
    let png = |history| {
        let mut shot = shot(history);
        shot.assessment.zones[0].judged.clear();
        shot.png(PHONE)
    };
    let plain = png(history(None, 0));
    let spike = 31_415;
    let column = column_of(START_S + spike as i64 * 48, PHONE);
    for channel in 0..4 {
        let differing = differing_columns(&plain, &png(history(Some(spike), channel)));
        assert!(differing.contains(&column), "channel {channel}: {column} not in {differing:?}");
        assert!(
            differing.iter().all(|c| c.abs_diff(column) <= 4),
            "channel {channel}: only near {column}, not in {differing:?}"
        );
    }
}

#[test]
fn no_line_crosses_a_gap() {
    let (from_s, to_s) = (START_S + 10 * DAY_S, START_S + 13 * DAY_S);
    let shot = |has_gap: bool| {
        let mut history = History::default();
        for i in 0..29 * 144 {
            let time_s = START_S + i * 600;
            if !has_gap || time_s <= from_s || time_s >= to_s {
                push(&mut history, time_s, 600, [20.0, 21.0, 45.0, 25.0]);
            }
        }
        let span = (START_S, START_S + 28 * DAY_S);
        let at_s = START_S + 30 * DAY_S;
        let mut shot = Shot::new(job("metric", "Site", ""), history, Step::Service, at_s, span);
        shot.assessment.zones[0].judged.clear();
        shot
    };
    let gap = shot(true);
    let (left, right) = (column_of(from_s, LIGHT), column_of(to_s, LIGHT));

    // The colours of the lines of data: without a gap there are no others.
    let stroke = |line: &str| {
        let (_, stroke) = line.split_once(" stroke=\"").unwrap();
        stroke.split_once('"').unwrap().0.to_owned()
    };
    let whole = shot(false).svg(LIGHT);
    let colors: BTreeSet<String> =
        whole.lines().filter(|line| line.starts_with("<polyline")).map(stroke).collect();
    // RH has the colour of the slab.
    assert_eq!(colors.len(), 5, "{colors:?}");

    // In the SVG none of them reaches into the gap.
    let text = gap.svg(LIGHT);
    let is_data = |line: &&str| line.starts_with("<polyline") && colors.contains(&stroke(line));
    for line in text.lines().filter(is_data) {
        let xs: Vec<f64> = line
            .split_once(" points=\"")
            .unwrap()
            .1
            .split_whitespace()
            .filter_map(|point| Some(point.split_once(',')?.0.parse::<f64>().unwrap() / 4.0))
            .collect();
        let (first, last) = (xs[0], xs[xs.len() - 1]);
        let is_before = last <= f64::from(left) + 1.0;
        let is_after = first >= f64::from(right) - 1.0;
        assert!(is_before || is_after, "{first} to {last} over {left} to {right}");
    }
    // In the PNG their colours are on both sides, and not in the gap.
    let (width, _, pixels) = decode(&gap.png(LIGHT));
    let columns: BTreeSet<u32> = pixels
        .chunks_exact(3)
        .zip(0_u32..)
        .filter(|(p, _)| colors.contains(&format!("#{:02X}{:02X}{:02X}", p[0], p[1], p[2])))
        .map(|(_, i)| i % width)
        .collect();
    assert!((left - 40..left - 2).all(|c| columns.contains(&c)), "{columns:?}");
    assert!((right + 2..right + 40).all(|c| columns.contains(&c)), "{columns:?}");
    let inside: Vec<_> = columns.range(left + 3..right - 2).collect();
    assert!(inside.is_empty(), "lines in {inside:?}, the gap is {left} to {right}");

    // And the gap itself is hatched, all over.
    let hatched: Vec<f64> = text
        .lines()
        .filter(|line| line.starts_with("<polyline") && !is_data(line))
        .map(|line| line.split_once(" points=\"").unwrap().1.split_once(',').unwrap().0)
        .map(|x| x.parse::<f64>().unwrap() / 4.0)
        .collect();
    assert!(hatched.iter().all(|x| (f64::from(left) - 1.0..f64::from(right)).contains(x)));
    let covered: BTreeSet<i64> = hatched.iter().map(|x| *x as i64 / 10).collect();
    assert!(covered.len() as u32 >= (right - left) / 10, "{covered:?}");
}

#[test]
fn the_svg_is_well_formed_and_says_all_in_words() {
    let mut shot = month("us", "Site");
    shot.job.site.name = "A<&>\"B\u{7}".to_owned();
    let text = shot.svg(LIGHT);
    let words = texts(&text);
    let said = |what: &str| words.iter().any(|text| text.contains(what));
    assert!(said("Wait"), "{words:?}");
    assert!(!said("Go"));
    assert!(said("A<&>\"B") && text.contains("A&lt;&amp;&gt;"), "{words:?}");
    for judged in &shot.assessment.zones[0].judged {
        assert!(said(judged.requirement.title), "{}", judged.requirement.title);
    }
    assert!(said("not met") && said("met"));
    assert!(said("wood delivered") && said("clocks +1 h") && said("America/Denver"));
    assert!(text.contains("@font-face") && text.contains("base64,d09GMg"), "no font inside");
    // Without a date of drawing, an address or a script.
    assert!(!text.contains("<script") && text.matches("http").count() == 1);
}

#[test]
fn each_requirement_is_named_on_a_phone_too() {
    let shot = month("us", "Site");
    let words = texts(&shot.svg(PHONE)).join(" ");
    for judged in &shot.assessment.zones[0].judged {
        assert!(words.contains(judged.requirement.title), "{}: {words}", judged.requirement.title);
    }
}

#[test]
fn a_go_says_go() {
    let mut shot = month("metric", "Site");
    shot.assessment.zones[0].judged.truncate(1);
    shot.assessment.zones[0].judged[0].finding.outcome = glueday::assess::Outcome::Met;
    let words = texts(&shot.svg(LIGHT));
    assert!(words.contains(&"Go".to_owned()) && !words.contains(&"Wait".to_owned()), "{words:?}");
    // Nothing judged is never a go.
    shot.assessment.zones[0].judged.clear();
    let words = texts(&shot.svg(LIGHT));
    assert!(words.contains(&"Wait".to_owned()) && !words.contains(&"Go".to_owned()), "{words:?}");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let (first, second) = (month("us", "Site"), month("us", "Site"));
    assert_eq!(first.png(PHONE), second.png(PHONE));
    assert_eq!(first.svg(PHONE), second.svg(PHONE));
    let dark = Style { dark: true, ..PHONE };
    assert_ne!(first.png(PHONE), first.png(dark));
    assert_ne!(first.svg(PHONE), first.svg(dark));
}

#[test]
fn units_are_those_of_the_job() {
    let us = texts(&month("us", "Site").svg(LIGHT));
    let metric = texts(&month("metric", "Site").svg(LIGHT));
    let has = |words: &[String], unit: &str| words.iter().any(|text| text.contains(unit));
    assert!(has(&us, "Temperature, °F") && !has(&us, "°C"), "{us:?}");
    assert!(has(&metric, "Temperature, °C") && !has(&metric, "°F"), "{metric:?}");
    // 18 to 22 °C (TKB leaflet, July 2004) in both units.
    assert!(has(&us, "64.4 °F to 71.6 °F") && has(&metric, "18.0 °C to 22.0 °C"));
}

#[test]
fn what_was_not_measured_is_said() {
    let mut history = History::default();
    for i in 0..100 {
        push(&mut history, START_S + i * 600, 600, [20.0, f64::NAN, f64::NAN, f64::NAN]);
    }
    let span = (START_S, START_S + DAY_S);
    let shot = Shot::new(job("metric", "Site", ""), history, Step::GlueDown, START_S + DAY_S, span);
    let count = texts(&shot.svg(LIGHT)).iter().filter(|text| *text == "not measured").count();
    // Air, supply and air RH.
    assert_eq!(count, 3);
    assert!(texts(&shot.svg(PHONE)).contains(&"supply: not measured".to_owned()));
}

#[test]
fn little_or_no_log_is_a_chart_and_no_error() {
    let span = (START_S, START_S + 4 * HOUR_S);
    let at_s = START_S + 2 * HOUR_S;
    let shot = |history| Shot::new(job("us", "Site", ""), history, Step::GlueDown, at_s, span);
    let said = |shot: &Shot| texts(&shot.svg(PHONE)).join(" ");
    assert!(said(&shot(History::default())).contains("There is no dated log for this zone."));

    let mut one = History::default();
    push(&mut one, START_S + HOUR_S, 600, [19.0, 20.0, 45.0, 25.0]);
    let single = shot(one.clone());
    assert!(!said(&single).contains("no dated log"));
    // The one sample is seen: slab, air, dew point, supply and RH.
    let mut bare = single;
    bare.assessment.zones[0].judged.clear();
    assert_eq!(bare.svg(PHONE).matches("<polygon").count(), 5);

    one.time_s[0] = START_S - 30 * DAY_S;
    let outside = said(&shot(one));
    assert!(outside.contains("No log in this span of time. The log runs from"), "{outside}");
}

#[test]
fn impossible_times_and_sizes_are_refused_with_a_cure() {
    let shot = month("us", "Site");
    let judged = (&shot.assessment, &shot.assessment.zones[0]);
    let new = |span, style| {
        Chart::new(&shot.job, &shot.limits, &shot.history, judged, span, style).map(|_| ())
    };
    assert!(matches!(new((5, 5), LIGHT), Err(PlotError::Span { from_s: 5, to_s: 5 })));
    assert!(matches!(new((0, i64::MAX), LIGHT), Err(PlotError::Time(i64::MAX))));
    for (width, height) in [(0, 1000), (1400, 599), (4001, 1000)] {
        let error = new((0, 5), Style { width, height, dark: false }).unwrap_err();
        assert!(error.to_string().contains("600 to 4000"), "{error}");
    }
    // Seconds or centuries: both are drawn.
    for span in [(START_S, START_S + 1), (-60_000_000_000, 60_000_000_000)] {
        let chart =
            Chart::new(&shot.job, &shot.limits, &shot.history, judged, span, PHONE).unwrap();
        texts(&svg(&chart).unwrap());
    }
}

/// The texts of an SVG, unescaped. Panics when it is not well-formed: tags that do not nest, attributes
/// without quotes, bare `&` or `<`, or characters that XML 1.0 (section 2.2) forbids.
fn texts(xml: &str) -> Vec<String> {
    assert!(xml.chars().all(|c| c >= ' ' || matches!(c, '\t' | '\n' | '\r')), "control character");
    let mut open: Vec<&str> = Vec::new();
    let mut texts = Vec::new();
    let mut rest = xml;
    while let Some((text, after)) = rest.split_once('<') {
        let said = unescape(text);
        if open.last() == Some(&"text") {
            texts.push(said.trim().to_owned());
        } else if open.last() != Some(&"style") {
            assert!(said.trim().is_empty(), "text outside of an element: {said}");
        }
        let (tag, after) = after.split_once('>').expect("a tag that does not end");
        rest = after;
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "tags do not nest");
            continue;
        }
        let (tag, is_empty) = tag.strip_suffix('/').map_or((tag, false), |tag| (tag, true));
        let (name, attributes) = tag.split_once(' ').unwrap_or((tag, ""));
        check_attributes(attributes);
        if !is_empty {
            open.push(name);
        }
    }
    assert!(open.is_empty() && rest.trim().is_empty(), "not closed: {open:?}");
    texts
}

fn check_attributes(mut rest: &str) {
    let mut names = BTreeSet::new();
    while !rest.trim().is_empty() {
        let (name, after) = rest.split_once("=\"").expect("an attribute without a value");
        assert!(names.insert(name.trim()), "{name} twice");
        let (value, after) = after.split_once('"').expect("a value that does not end");
        assert!(!value.contains('<'));
        unescape(value);
        rest = after;
    }
}

fn unescape(text: &str) -> String {
    let mut parts = text.split('&');
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (name, rest) = part.split_once(';').expect("a bare &");
        out.push(match name {
            "lt" => '<',
            "gt" => '>',
            "amp" => '&',
            "quot" => '"',
            "apos" => '\'',
            other => panic!("unknown entity {other}"),
        });
        out.push_str(rest);
    }
    out
}
