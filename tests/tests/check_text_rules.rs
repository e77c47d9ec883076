//! Rules that the text of `check` keeps, whatever it says: on worlds with flaws, and on findings made up
//! at random.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[cfg(test)]
mod assess_world;

use assess_world::{D0, HOUR, Of, World, t};
use glueday::assess::{
    Assessment, Broken, Figure, Finding, Judged, Outcome, REQUIREMENTS, Requirement, Step,
    ZoneAssessment,
};
use glueday::job::Job;
use glueday::limits::{LimitId, Limits, ResolvedLimits};
use glueday::view;
use proptest::prelude::*;

const STEPS: [Step; 6] = Step::ALL;
/// Units that follow a number and stay with it.
const UNITS: [&str; 9] = ["°C", "°F", "%RH", "%MC", "%", "h", "d", "min", "s"];

fn job(us: bool) -> (Job, ResolvedLimits) {
    let mut world = World::ready();
    world.add(
        "\n[[limit]]\nid = \"barrier-surface-max\"\nvalue = \"29 C\"\nreason = \"the sheet\"\n",
    );
    if us {
        world.edit("units = \"metric\"", "units = \"us\"");
    }
    let job = Job::parse(&world.job, "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    (job, limits)
}

/// One finding of a requirement.
#[derive(Clone, Debug)]
struct Made {
    outcome: Outcome,
    limit: usize,
    off: f64,
    guard: f64,
    broken: usize,
    clears_h: Option<i64>,
    words: usize,
    warned: bool,
}

const BECAUSE: [&str; 4] = [
    "the slab was too cold",
    "moisture can condense on the slab, or the probes cannot rule it out",
    "the supply reached 46.2 °C (115.2 °F)",
    "the wood is 2.6 %MC from what it will settle at in this room",
];
const TODO: [&str; 4] = [
    "raise the supply a little and keep the slab in range",
    "keep the heating, ventilation and humidity as they are; leave the wood in the room",
    "ask the maker of the adhesive before going on",
    "enter `resistance`, or `thickness` and `conductivity`, under [wood] in the job file",
];
const WARNINGS: [&str; 4] = [
    "the log covers 23 % of the time since the pour: the other 48.0 d are taken as the calendar counts them",
    "the surface changed by 1.0 °C (1.8 °F) within 24 h: slower is kinder to the floor",
    "by vapour pressure these hours are worth 17 h at 20 °C and 50 %RH: an adhesive that cures with moisture may need longer",
    "the wood was last measured on 2026-03-15",
];

fn made() -> impl Strategy<Value = Made> {
    let outcome = prop_oneof![Just(Outcome::Met), Just(Outcome::NotMet), Just(Outcome::NoEvidence)];
    (
        outcome,
        0..LimitId::ALL.len(),
        prop_oneof![Just(0.0), 0.0..0.05, 0.0..40.0f64],
        prop_oneof![Just(0.0), 0.1..2.0f64],
        0..5_usize,
        proptest::option::of(1..400_i64),
        0..4_usize,
        any::<bool>(),
    )
        .prop_map(|(outcome, limit, off, guard, broken, clears_h, words, warned)| Made {
            outcome,
            limit,
            off,
            guard,
            broken,
            clears_h,
            words,
            warned,
        })
}

fn finding(made: &Made, limits: &ResolvedLimits, at_s: i64) -> Finding {
    let known: Vec<_> = limits.iter().filter_map(|(_, limit)| limit).collect();
    let limit = known[made.limit % known.len()];
    let met = made.outcome == Outcome::Met;
    let figure = [made.off, -made.off - 1e-3].into_iter().find_map(|off| {
        let figure = Figure::new(limit, 0.0, made.guard);
        let observed = figure.bound + off;
        let figure = Figure::new(limit, observed, made.guard);
        (observed >= 0.0 && figure.is_met() == met).then_some(figure)
    });
    let span = |i: usize| {
        let from_s = at_s - (i64::try_from(i).unwrap() + 1) * 30 * HOUR;
        let limit = limit.id;
        Broken {
            from_s,
            to_s: from_s + 11 * HOUR,
            worst: limits.value(limit).unwrap() + 0.01,
            limit,
        }
    };
    Finding {
        outcome: made.outcome,
        // What cannot be told often has no figure.
        figure: figure.filter(|_| made.outcome != Outcome::NoEvidence || made.warned),
        clears_at_s: made.clears_h.filter(|_| !met).map(|h| at_s + h * HOUR),
        broken: (0..if met { 0 } else { made.broken }).rev().map(span).collect(),
        because: BECAUSE[made.words].to_owned(),
        todo: (!met).then(|| TODO[made.words].to_owned()),
        warnings: made.warned.then(|| WARNINGS[made.words].to_owned()).into_iter().collect(),
    }
}

/// Plain text of an assessment at so many columns.
fn text(assessment: &Assessment, us: bool, width: usize) -> String {
    let (job, limits) = job(us);
    let styled = view::text::check(assessment, &job, &limits, width);
    let mut plain = String::new();
    let mut rest = styled.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        plain.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    plain + rest
}

fn assessment(step: Step, made: &[Made], us: bool, rooms: &[&str]) -> Assessment {
    let (_, limits) = job(us);
    let at_s = t(14, 0, 0);
    let zone = |(i, name): (usize, &&str)| {
        let asked: Vec<&'static Requirement> =
            REQUIREMENTS.iter().filter(|r| r.steps.contains(&step)).collect();
        let of = |(j, requirement): (usize, &&'static Requirement)| Judged {
            requirement,
            finding: finding(&made[(i * 7 + j) % made.len()], &limits, at_s),
        };
        ZoneAssessment {
            name: (*name).to_owned(),
            judged: asked.iter().enumerate().map(of).collect(),
            log_notes: Vec::new(),
            marks: Vec::new(),
        }
    };
    Assessment { step, at_s, zones: rooms.iter().enumerate().map(zone).collect() }
}

fn number(word: &str) -> Option<f64> {
    word.trim_start_matches('(').parse().ok()
}

/// The unit at the start of a word that ends with punctuation, if it is one.
fn unit(word: &str) -> Option<&'static str> {
    let bare = word.trim_end_matches(|c: char| "),.;:".contains(c));
    UNITS.into_iter().find(|unit| *unit == bare)
}

/// What holds for every text.
fn hold_rules(text: &str, assessment: &Assessment, width: usize) {
    let first = text.lines().next().unwrap();
    let verdict = if assessment.is_go() { "GO  " } else { "WAIT  " };
    assert!(first.starts_with(verdict), "{first}\n{text}");
    let lines: Vec<&str> = text.lines().collect();
    for line in &lines {
        assert!(line.chars().count() <= width, "{} columns: {line}", line.chars().count());
        assert_eq!(line.trim_end(), *line);
    }
    for pair in lines.windows(2) {
        let last = pair[0].split(' ').next_back().and_then(number);
        let next = pair[1].split_whitespace().next().and_then(unit);
        assert!(last.is_none() || next.is_none(), "parted:\n{}\n{}\n{text}", pair[0], pair[1]);
    }
    hold_both_units(&lines);
    // The cautions come last, and the line that they give way to last of all.
    let words: Vec<&str> = text.split_whitespace().collect();
    assert!(words.join(" ").ends_with("come before these lines."), "{text}");
}

/// Every temperature stands in both units, and they agree.
fn hold_both_units(lines: &[&str]) {
    for line in lines.iter().filter(|line| line.ends_with("°F/°C") || line.ends_with("°C/°F")) {
        let us_first = line.ends_with("°F/°C");
        let cells: Vec<&str> = line.split_whitespace().rev().skip(1).collect();
        let mut seen = 0;
        for cell in cells {
            let Some((a, b)) = cell.trim_end_matches('*').split_once('/') else { continue };
            let (Ok(a), Ok(b)) = (a.parse::<f64>(), b.parse::<f64>()) else { continue };
            agree(if us_first { (b, a) } else { (a, b) }, line);
            seen += 1;
        }
        assert_eq!(seen, 3, "{line}");
    }
    let prose: Vec<&str> = lines.iter().filter(|line| !line.contains("°F/°C")).copied().collect();
    let prose: Vec<&str> = prose.iter().filter(|line| !line.contains("°C/°F")).copied().collect();
    let words: Vec<&str> = prose.iter().flat_map(|line| line.split_whitespace()).collect();
    let degrees = |word: &str| unit(word).filter(|unit| unit.starts_with('°'));
    let mut i = 0;
    while i < words.len() {
        // `check the unit (°C or °F)` is no temperature.
        let Some(first) = degrees(words[i]).filter(|_| number(words[i - 1]).is_some()) else {
            i += 1;
            continue;
        };
        let here = &words[i - 1..(i + 3).min(words.len())];
        assert!(here.len() == 4 && here[2].starts_with('('), "one unit only: {here:?}");
        let second = degrees(here[3]);
        assert!(second.is_some_and(|second| second != first), "{here:?}");
        let (a, b) = (number(here[0]).unwrap(), number(here[2]).unwrap());
        agree(if first == "°F" { (b, a) } else { (a, b) }, &here.join(" "));
        i += 3;
    }
}

/// As temperatures or as differences, as far as their decimals go.
fn agree((celsius, fahrenheit): (f64, f64), place: &str) {
    let off = |expected: f64| (fahrenheit - expected).abs();
    let near = off(celsius * 1.8).min(off(celsius * 1.8 + 32.0));
    // Half a digit of 0.1 °F, and of 0.1 °C, which is 0.18 °F.
    assert!(
        near <= 0.05 + 0.09 + 1e-6 || near <= 0.5,
        "{celsius} °C is not {fahrenheit} °F: {place}"
    );
}

/// The lines of the table of a room, one for each requirement met.
fn hold_one_line_each(text: &str, zone: &ZoneAssessment) {
    for judged in zone.judged.iter().filter(|j| j.finding.outcome == Outcome::Met) {
        let title: String = judged.requirement.title.chars().take(12).collect();
        let rows = text.lines().filter(|line| line.starts_with(&format!("  {title}")));
        assert!(rows.count() >= 1, "{title}\n{text}");
    }
    let met = zone.judged.iter().filter(|j| j.finding.outcome == Outcome::Met).count();
    let table: Vec<&str> = text
        .lines()
        .skip_while(|line| !line.starts_with("Met"))
        .skip(1)
        .take_while(|line| line.starts_with("  ") && !line.starts_with("  - "))
        .filter(|line| !line.starts_with("  * "))
        .collect();
    assert_eq!(table.len(), met, "{text}");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 300,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn any_findings_keep_the_rules(
        made in proptest::collection::vec(made(), 20),
        step in 0..6_usize,
        us in any::<bool>(),
        width in prop_oneof![Just(80_usize), 40..121_usize],
        rooms in 1..4_usize,
    ) {
        let names = ["Hall", "Kitchen and dining room", "床暖房"];
        let assessment = assessment(STEPS[step], &made, us, &names[..rooms]);
        let text = text(&assessment, us, width);
        // The last name is twice as wide as it has letters.
        hold_rules(&text, &assessment, width);
        if rooms == 1 && width >= 80 && assessment.zones[0].judged.iter().any(|j| j.finding.outcome == Outcome::Met) {
            hold_one_line_each(&text, &assessment.zones[0]);
        }
        for (zone, name) in assessment.zones.iter().zip(names) {
            if rooms > 1 {
                let word = if zone.is_go() { "go" } else { "wait" };
                let heading = format!("{name}: {word}");
                prop_assert!(text.lines().any(|line| line == heading), "{text}");
                let at = text.find(&format!("  {heading}"));
                prop_assert!(at < text.find(&format!("\n{heading}")), "{text}");
            }
        }
    }

    #[test]
    fn a_go_has_thirty_lines_and_a_wait_for_two_forty_five(
        made in proptest::collection::vec(made(), 20),
        two in (0..20_usize, 0..20_usize),
        us in any::<bool>(),
        step in 0..6_usize,
    ) {
        let step = STEPS[step];
        let met = |made: &Made| Made { outcome: Outcome::Met, ..made.clone() };
        let all_met: Vec<Made> = made.iter().map(met).collect();
        let go = assessment(step, &all_met, us, &["Hall"]);
        prop_assert!(go.is_go());
        let lines = text(&go, us, 80);
        prop_assert!(lines.lines().count() <= 30, "{lines}");
        let mut wait = all_met;
        let asked = REQUIREMENTS.iter().filter(|r| r.steps.contains(&step)).count();
        for i in [two.0 % asked, two.1 % asked] {
            wait[i].outcome =
                if made[i].outcome == Outcome::Met { Outcome::NotMet } else { made[i].outcome };
        }
        let lines = text(&assessment(step, &wait, us, &["Hall"]), us, 80);
        prop_assert!(lines.lines().count() <= 45, "{}\n{lines}", lines.lines().count());
    }

    #[test]
    fn real_assessments_keep_the_rules(
        of in 0..4_usize,
        back_h in 0..120_i64,
        long_h in 0..30_i64,
        value in 5.0..70.0f64,
        early_h in 0..200_i64,
        step in 0..6_usize,
        us in any::<bool>(),
        untested in any::<bool>(),
    ) {
        let mut world = if step < 2 { World::ready() } else { World::glued(STEPS[step]) };
        world.step = STEPS[step];
        let end_s = world.at_s - back_h * HOUR;
        let channel = [Of::Slab, Of::Air, Of::Rh, Of::Supply][of];
        world.set(channel, end_s - long_h * HOUR - 600, end_s, value);
        world.at_s = (world.at_s - early_h * HOUR).max(D0);
        if untested {
            world.edit("reading = \"72 %\"\n", "");
        }
        let assessment = world.assessment();
        let text = text(&assessment, us, 80);
        hold_rules(&text, &assessment, 80);
        if assessment.zones[0].judged.iter().any(|j| j.finding.outcome == Outcome::Met) {
            hold_one_line_each(&text, &assessment.zones[0]);
        }
        prop_assert!(!assessment.is_go() || text.lines().count() <= 30, "{text}");
    }
}

#[test]
fn no_evidence_does_not_look_like_not_met() {
    let base = Made {
        outcome: Outcome::NotMet,
        limit: 0,
        off: 1.0,
        guard: 0.0,
        broken: 0,
        clears_h: None,
        words: 0,
        warned: true,
    };
    let of = |outcome| {
        let made = Made { outcome, ..base.clone() };
        text(&assessment(Step::Membrane, &[made], false, &["Hall"]), false, 80)
    };
    let (not_met, unknown) = (of(Outcome::NotMet), of(Outcome::NoEvidence));
    assert!(not_met.contains("\nNot met\n  x ") && !not_met.contains("evidence"), "{not_met}");
    assert!(unknown.contains("\nNo evidence") && unknown.contains("\n  ? "), "{unknown}");
    assert!(!unknown.contains("Not met"), "{unknown}");
}
