//! The trials of the ring log (`glueday_ring_trials::ring_trial`): cuts, faults, seeds, rot. Each campaign
//! prints what it did and fails if that was too little; each failure names the command that does just
//! that case once more.

// Tests may panic: that is how they fail.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_ring_trials::ring_trial::{
    Counts, Failed, cost, depth_one, depth_two, flips, images, main, real, replay, seeds,
};

/// What a campaign did, how often, and how often it must.
type Floor = (&'static str, fn(&Counts) -> u64, u64);

fn campaign(name: &str, result: Result<Counts, Failed>, floors: &[Floor]) -> Counts {
    let counts = result.unwrap_or_else(|failed| panic!("{name}: {failed}"));
    println!("{name}: {counts}");
    for (what, count, floor) in floors {
        let count = count(&counts);
        assert!(count >= *floor, "{name}: only {count} {what}, expected {floor}");
    }
    counts
}

fn every_step(unit: usize, cuts: u64, faults: u64) {
    campaign(
        &format!("one cut, write unit {unit}"),
        depth_one(&real(), unit, None),
        &[
            ("cuts", |counts| counts.cuts, cuts),
            ("erases cut", |counts| counts.erases_cut, 200),
            ("faults", |counts| counts.faults, faults),
            ("wraps", |counts| counts.wraps, 15),
        ],
    );
}

#[test]
fn every_step_with_a_write_unit_of_1() {
    every_step(1, 17_000, 27_000);
}

#[test]
fn every_step_with_a_write_unit_of_4() {
    every_step(4, 7_000, 11_000);
}

#[test]
fn every_step_with_a_write_unit_of_8() {
    every_step(8, 5_500, 9_000);
}

#[test]
fn every_step_with_a_write_unit_of_32() {
    every_step(32, 6_500, 11_000);
}

/// The write unit of most serial flash chips, which also has the most steps.
#[test]
fn every_pair_of_steps_with_a_write_unit_of_1() {
    for (workload, pairs, going_on) in [
        ("two-first", 165_000, 32_000),
        ("two-within", 54_000, 22_000),
        ("two-edge", 195_000, 32_000),
        ("two-flapping", 75_000, 10_000),
    ] {
        campaign(
            &format!("two cuts, write unit 1, {workload}"),
            depth_two(&real(), 1, Some(&[workload])),
            &[
                ("pairs", |counts| counts.pairs, pairs),
                ("pairs in what went on", |counts| counts.pairs_going_on, going_on),
            ],
        );
    }
}

#[test]
fn every_pair_of_steps_with_a_write_unit_of_8() {
    campaign(
        "two cuts, write unit 8",
        depth_two(&real(), 8, None),
        &[("pairs", |counts| counts.pairs, 60_000)],
    );
}

#[test]
fn random_lives() {
    campaign(
        "seeds",
        seeds(&real(), 0..10_000),
        &[
            ("seeds", |counts| counts.seeds, 10_000),
            ("operations", |counts| counts.operations, 10_000_000),
            ("cuts", |counts| counts.cuts, 30_000),
            ("erases cut", |counts| counts.erases_cut, 2_000),
            ("faults", |counts| counts.faults, 50_000),
            ("restarts", |counts| counts.restarts, 50_000),
            ("wraps", |counts| counts.wraps, 10_000),
        ],
    );
}

/// What a flip can do and cannot is said at `ring_trial::flips`.
#[test]
fn every_flip_of_a_bit() {
    let counts = campaign(
        "flips",
        flips(&real(), 0..u64::MAX),
        &[
            ("flips", |counts| counts.flips, 65_536),
            ("harmless flips", |counts| counts.flips_harmless, 10_000),
            ("entries lost", |counts| counts.entries_lost, 1_000_000),
        ],
    );
    assert!(counts.entries_lost_max <= 400, "more than a block holds");
}

#[test]
fn random_images() {
    let counts = campaign(
        "images",
        images(&real(), 0..100_000),
        &[
            ("images", |counts| counts.images, 100_000),
            ("images refused", |counts| counts.images_refused, 10_000),
        ],
    );
    // Some 80,000 places of damage, each with one chance in 65,536, make 1.2 of these; 8 or more come
    // once in 30,000 times. These images are the same each time.
    assert!(counts.by_chance < 8, "{} altered entries", counts.by_chance);
}

#[test]
fn what_the_log_costs_its_flash() {
    for unit in [1, 8] {
        for slots in [2, 64, 256, 2048] {
            let cost = cost(&real(), unit, slots).unwrap();
            println!("{cost}");
            assert!(cost.erases_per_mib() < 512.0, "more than one erase for half a sector");
        }
    }
}

const CASES: [&str; 6] = [
    "cut unit=32 workload=wrap-2 op=3 step=0 outcome=first:17",
    "fault unit=8 workload=room-18 op=0 step=0 outcome=zeros:2048 failure=silent",
    "pair unit=1 workload=two-edge op=0 step=0 outcome=nothing then=mount then-step=3 \
     then-outcome=noise:3167573",
    "seed 7",
    "flip 4711",
    "image 4711",
];

#[test]
fn a_case_is_done_alone() {
    for text in CASES {
        let case = text.parse().unwrap();
        let counts = replay(&real(), &case).unwrap_or_else(|failed| panic!("{failed}"));
        let one = [counts.pairs, counts.faults, counts.seeds, counts.flips, counts.images];
        let cases = if counts.seeds == 1 { 1 } else { one.iter().sum::<u64>() + counts.cuts };
        assert_eq!(cases, 1, "{text}: {counts}");
    }
}

#[test]
fn the_program_does_a_case_and_seeds() {
    let run = |words: &[&str]| {
        let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
        let mut out = Vec::new();
        let code = main(&real(), &words, &mut out);
        (format!("{code:?}"), String::from_utf8(out).unwrap())
    };
    let code = |code: u8| format!("{:?}", std::process::ExitCode::from(code));
    let (ended, text) = run(&["replay", CASES[0]]);
    assert_eq!(ended, code(0), "{text}");
    assert!(text.contains("holds; 1 cuts"), "{text}");
    let (ended, text) = run(&["seeds", "--seeds", "20", "--from", "90", "--threads", "2"]);
    assert_eq!(ended, code(0), "{text}");
    assert!(text.contains("20 of 20 seeds") && text.contains("seeds a second"), "{text}");
    let (ended, text) = run(&["replay", "cut unit=8 workload=mixed op=1 step=99 outcome=done"]);
    assert_eq!(ended, code(1), "{text}");
    assert!(text.contains("no such case"), "{text}");
    for words in [&["replay", "nonsense"][..], &["seeds", "--seeds"], &["seeds", "--x", "1"], &[]] {
        let (ended, text) = run(words);
        assert_eq!(ended, code(2), "{words:?}: {text}");
        assert!(text.contains("ring-trials seeds"), "{text}");
    }
}
