//! Bits that are wrong by chance, and what the check of a frame is good for.
//!
//! One wrong bit in a byte of data changes one bit of the payload or of its CRC-32, which finds every
//! change of one to three bits at these lengths (Koopman 2002: distance 4 from 2975 to 91607 bits for
//! IEEE 802.3). A wrong bit that makes a zero cuts the frame, one in a code byte of COBS moves zeros
//! about, and one in the zero at the end runs the frame into the next: for these the algebra says
//! nothing, so that each bit of each frame is tried here, and two at once: all pairs in short frames,
//! a part of them in chunks.
//!
//! What is left: of frames with many wrong bits a CRC-32 passes one in 4.3e9. At one wrong bit in a
//! thousand a frame with 1024 bytes of the log comes whole once in some thousands, so that a pull of 8
//! tries gives up; of each such try one in 4.3e9 would be taken for right. In a finished block the
//! SHA-256 in the next block finds it; in the open block it stays until the block is finished, is
//! then kept beside the right bytes and told as a conflict. The entry's own check refuses it before
//! with all but 2^-16.

use glueday::pull::{Link, NoProgress};
use glueday_tests::faulty_link::{OneFault, RealLogger, Seen, ToyLogger, frame};
use glueday_tests::flash::Random;
use glueday_types::frame::Collector;
use glueday_types::wire::{REPLY_FRAME_LEN_MAX, Refusal, Reply};
use std::collections::BTreeMap;

use super::campaign::{again, firsts};
use super::ends::End;
use super::every_exchange::all_talks;
use super::every_frame::{clean, nothing_false, pull_twice, whole};
use super::{NOW_S, archive};

/// Names the one run to do again, by its rate and seed.
const NOISE: &str = "GLUEDAY_LINK_NOISE";

/// Of two bits in a chunk, so many pairs.
const PAIRS: usize = 20_000;

/// Whether a receiver takes anything of these bytes but the frame `next` that follows them.
fn taken(bytes: &[u8], next: &[u8], next_payload: &[u8]) -> bool {
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let mut read = |bytes: &[u8], right: Option<&[u8]>| {
        let mut any = false;
        for byte in bytes {
            if let Some(Ok(payload)) = collector.push(*byte) {
                any |= right != Some(payload);
            }
        }
        any
    };
    read(bytes, None) || read(next, Some(next_payload))
}

fn payload(frame: &[u8]) -> Vec<u8> {
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    frame.iter().find_map(|byte| collector.push(*byte)?.ok().map(<[u8]>::to_vec)).unwrap()
}

fn flip(bytes: &mut [u8], bit: usize) {
    bytes[bit / 8] ^= 1 << (bit % 8);
}

#[test]
fn no_frame_with_one_or_two_wrong_bits_is_taken() {
    let mut frames: Vec<Seen> = clean::<RealLogger>(None);
    frames.extend(clean::<ToyLogger>(Some(ToyLogger::LAST_CHUNK)));
    frames.extend(all_talks());
    let refused = Reply::Refused(Refusal::NoSuchBlock { oldest: 3, newest: 4 });
    let latest = Reply::Latest { boot: 4, uptime_s: 600, sample: None };
    let more = [refused, latest].map(|reply| frame(9, &reply));
    frames.extend(more.map(|bytes| Seen { to_logger: false, bytes }));
    let kinds: Vec<usize> = firsts(&frames)
        .into_iter()
        .filter(|(_, len, first, _)| *first && *len > 1)
        .map(|(number, ..)| number)
        .collect();
    let next = frames[kinds[0]].bytes.clone();
    let right = payload(&next);
    let (mut single, mut pairs) = (0_usize, 0_usize);
    let mut random = Random(11);
    for number in &kinds {
        let mut bytes = frames[*number].bytes.clone();
        let bits = bytes.len() * 8;
        for bit in 0..bits {
            flip(&mut bytes, bit);
            assert!(!taken(&bytes, &next, &right), "frame {number}, bit {bit}");
            flip(&mut bytes, bit);
            single += 1;
        }
        let mut try_two = |a: usize, b: usize| {
            flip(&mut bytes, a);
            flip(&mut bytes, b);
            assert!(!taken(&bytes, &next, &right), "frame {number}, bits {a} and {b}");
            flip(&mut bytes, a);
            flip(&mut bytes, b);
            pairs += 1;
        };
        if bits <= 500 {
            (0..bits).for_each(|a| (a + 1..bits).for_each(|b| try_two(a, b)));
        } else {
            let below = |random: &mut Random| {
                usize::from(random.byte()) * bits / 256 + usize::from(random.byte()) * bits / 65_536
            };
            for _ in 0..PAIRS {
                let (a, b) = (below(&mut random), below(&mut random));
                if a != b {
                    try_two(a, b);
                }
            }
        }
    }
    println!("{} kinds of frames: {single} single bits, {pairs} pairs", kinds.len());
    assert!(kinds.len() >= 14 && single >= 13_000 && pairs >= 110_000);
}

/// How pulls ended, by rate.
type Ends = BTreeMap<(String, &'static str), usize>;

fn noisy<E: End>(rate: f64, seed: u64) -> OneFault<E> {
    let mut line = OneFault::new(E::fresh());
    line.bit_errors = rate;
    line.random = Random(seed);
    line
}

/// The seeds and rates to run: all, or the one that is to be run again.
fn chosen(rates: &[f64], seeds: u64) -> Vec<(f64, u64)> {
    if let Ok(wanted) = std::env::var(NOISE) {
        let (rate, seed) = wanted.split_once(' ').expect("RATE SEED");
        return vec![(rate.parse().unwrap(), seed.parse().unwrap())];
    }
    rates.iter().flat_map(|rate| (0..seeds).map(|seed| (*rate, seed))).collect()
}

fn fails(test: &str, rate: f64, seed: u64, why: &str) -> ! {
    panic!("{why}\n  again: {NOISE}='{rate} {seed}' {}", again(test))
}

#[test]
fn noise_on_a_first_pull() {
    let mut ends = Ends::new();
    for (rate, seed) in chosen(&[1e-6, 1e-5, 1e-4, 1e-3], 40) {
        let mut note = |name: &str, ended| {
            *ends.entry((format!("{name} at {rate:e}"), ended)).or_default() += 1;
        };
        match pull_twice(noisy::<RealLogger>(rate, seed)) {
            Ok((ended, _)) => note("real", ended),
            Err(why) => fails("noise_on_a_first_pull", rate, seed, &why),
        }
        match pull_twice(noisy::<ToyLogger>(rate, seed)) {
            Ok((ended, _)) => note("toy", ended),
            Err(why) => fails("noise_on_a_first_pull", rate, seed, &why),
        }
    }
    println!("first pulls: {ends:?}");
    if std::env::var_os(NOISE).is_none() {
        let of = |name: &str, ended| ends.get(&(name.to_owned(), ended)).copied().unwrap_or(0);
        assert!(of("real at 1e-6", "complete") + of("toy at 1e-6", "complete") >= 78);
        assert!(of("real at 1e-5", "complete") + of("toy at 1e-5", "complete") >= 70);
        // No frame with a whole chunk comes through.
        assert!(of("real at 1e-3", "noisy line") + of("toy at 1e-3", "noisy line") >= 70);
    }
}

/// Half an hour of the log is missing, in short frames that get through.
#[test]
fn noise_on_a_later_pull() {
    let mut ends = Ends::new();
    for (rate, seed) in chosen(&[1e-3], 200) {
        let mut archive = archive();
        let mut link = Link::new(OneFault::new(RealLogger::fresh()), 1);
        link.pull(&mut archive, NOW_S, &mut NoProgress).unwrap();
        let mut line = link.into_port();
        for at_s in [600, 1200, 1800] {
            line.far.logger_mut().tick(at_s).unwrap();
        }
        line.bit_errors = rate;
        line.random = Random(seed);
        let mut link = Link::new(line, 1000);
        let ended = link.pull(&mut archive, NOW_S, &mut NoProgress);
        let mut line = link.into_port();
        let log = line.far.log();
        let judged = nothing_false(&archive, &log, RealLogger::ID).and_then(|()| match &ended {
            Ok(_) => whole(&archive, &log, RealLogger::ID).map(|()| "complete"),
            Err(error) => super::campaign::told(error),
        });
        match judged {
            Ok(ended) => *ends.entry((format!("{rate:e}"), ended)).or_default() += 1,
            Err(why) => fails("noise_on_a_later_pull", rate, seed, &why),
        }
        line.calm();
        let mut link = Link::new(line, 2000);
        link.pull(&mut archive, NOW_S, &mut NoProgress).unwrap();
        if let Err(why) = whole(&archive, &log, RealLogger::ID) {
            fails("noise_on_a_later_pull", rate, seed, &why);
        }
    }
    println!("later pulls: {ends:?}");
    if std::env::var_os(NOISE).is_none() {
        assert!(ends.get(&("1e-3".to_owned(), "complete")).is_some_and(|runs| *runs >= 100));
    }
}
