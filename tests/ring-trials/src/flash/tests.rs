//! The simulator does what it says.

use super::*;

const FF: u8 = 0xFF;

fn failed(flash: &mut SimFlash<4>, after: u64, outcome: Outcome) -> Vec<u8> {
    flash.cut(Cut { after, outcome, failure: Failure::Power });
    assert_eq!(flash.write(8, &[0, 1, 2, 3, 4, 5, 6, 7]), Err(SimError::Dark));
    assert_eq!(flash.read(0, &mut [0]), Err(SimError::Dark));
    assert_eq!(flash.erase(0, 4096), Err(SimError::Dark));
    flash.power_on();
    flash.bytes()[8..16].to_vec()
}

#[test]
fn cuts_leave_what_they_say() {
    let new = SimFlash::<4>::new(1);
    let run = |after, outcome| failed(&mut new.clone(), after, outcome);
    assert_eq!(run(0, Outcome::Nothing), [FF; 8]);
    assert_eq!(run(0, Outcome::Done), [0, 1, 2, 3, FF, FF, FF, FF]);
    assert_eq!(run(1, Outcome::First(1)), [0, 1, 2, 3, 4, FF, FF, FF]);
    assert_eq!(run(1, Outcome::Last(2)), [0, 1, 2, 3, FF, FF, 6, 7]);
    assert_eq!(run(1, Outcome::Zeros(3)), [0, 1, 2, 3, 0, 0, 0, FF]);
    let bits = run(0, Outcome::Bits { seed: 1, share: 128 });
    assert!(bits[..4] != [0, 1, 2, 3] && bits[..4] != [FF; 4] && bits[4..] == [FF; 4]);
    assert!(bits.iter().zip([0, 1, 2, 3]).all(|(cell, target)| cell & target == target));
    let noise = run(0, Outcome::Noise { seed: 1 });
    assert!(noise.iter().zip([0, 1, 2, 3]).any(|(cell, target)| cell & target != target));
    assert_eq!(noise[4..], [FF; 4], "noise in another unit");
}

#[test]
fn half_an_erase_leaves_what_it_says() {
    let full = SimFlash::<8>::from_bytes((0..=250).cycle().take(8192).collect());
    let run = |outcome| {
        let mut flash = full.clone();
        flash.cut(Cut { after: 0, outcome, failure: Failure::Power });
        assert_eq!(flash.erase(4096, 8192), Err(SimError::Dark));
        flash.bytes()
    };
    let old = full.bytes();
    for outcome in [Outcome::Done, Outcome::First(64), Outcome::Noise { seed: 3 }] {
        assert_eq!(run(outcome)[..4096], old[..4096], "{outcome:?} in another sector");
    }
    assert_eq!(run(Outcome::Nothing), old);
    assert_eq!(run(Outcome::Done)[4096..], [FF; 4096]);
    assert_eq!(run(Outcome::First(64))[4096..4160], [FF; 64]);
    assert_eq!(run(Outcome::First(64))[4160..], old[4160..]);
    assert_eq!(run(Outcome::Last(64))[4096..8128], old[4096..8128]);
    assert_eq!(run(Outcome::Zeros(64))[4096..4160], [0; 64]);
    let risen = run(Outcome::Bits { seed: 1, share: 100 });
    assert!(risen.iter().zip(&old).all(|(new, old)| new & old == *old), "a bit fell in an erase");
    assert!(risen != old);
}

#[test]
fn the_rules_are_kept() {
    let mut flash = SimFlash::<4>::new(2);
    flash.write(4, &[0; 4]).unwrap();
    assert_eq!(flash.write(4, &[0; 4]), Err(SimError::NotErased(4)));
    assert!(flash.write(5, &[0; 4]).is_err());
    assert!(flash.write(8, &[0; 3]).is_err());
    assert!(flash.erase(4, 4096).is_err());
    assert!(flash.erase(4096, 3 * 4096).is_err());
    assert_eq!(flash.counters().violations, 5);
    flash.erase(0, 4096).unwrap();
    assert_eq!(flash.bytes(), [FF; 8192]);
    flash.cut(Cut { after: 0, outcome: Outcome::Done, failure: Failure::Reported });
    assert_eq!(flash.write(4, &[0; 4]), Err(SimError::Failed));
    flash.write(8, &[0; 4]).unwrap();
    assert_eq!(flash.bytes()[4..12], [0; 8]);
}

#[test]
fn ones_are_programmed_once_too() {
    let mut flash = SimFlash::<4>::new(1);
    flash.write(0, &[FF; 4]).unwrap();
    assert_eq!(flash.write(0, &[0; 4]), Err(SimError::NotErased(0)));
    flash.cut(Cut { after: 0, outcome: Outcome::Nothing, failure: Failure::Reported });
    assert_eq!(flash.write(4, &[0; 4]), Err(SimError::Failed));
    flash.write(4, &[0; 4]).unwrap();
}

#[test]
fn it_counts() {
    let mut flash = SimFlash::<4>::new(1);
    flash.write(0, &[0; 12]).unwrap();
    flash.read(0, &mut [0; 7]).unwrap();
    flash.read(7, &mut [0; 2]).unwrap();
    flash.erase(0, 4096).unwrap();
    let expected = Counters {
        reads: 2,
        read_bytes: 9,
        programs: 3,
        program_bytes: 12,
        erases: 1,
        ..Counters::default()
    };
    assert_eq!(flash.counters(), expected);
}

#[test]
fn a_step_done_by_its_deed_is_the_step_that_was_done() {
    let mut flash = SimFlash::<4>::from_bytes(vec![0; 8192]);
    let mut cells = flash.chip().cells();
    flash.record();
    flash.erase(4096, 8192).unwrap();
    flash.write(4100, &[1, 2, 3, 4, 5, 6, 7, 8]).unwrap();
    let deeds = flash.chip().recorded();
    assert_eq!(deeds.iter().map(|deed| deed.steps(4)).sum::<usize>(), 3);
    for deed in &deeds {
        for index in 0..deed.steps(4) {
            assert!(!cells.step(deed, index, Outcome::Done, None));
        }
    }
    assert!(cells == flash.chip().cells());
}

#[test]
fn a_veto_makes_another_outcome() {
    fn all(_: &[u8], offset: usize, written: &[u8]) -> bool {
        offset == 8 && written == [0; 12]
    }
    for (outcome, left) in [
        (Outcome::Noise { seed: 1 }, [0, 0, 0, 0, FF, FF, FF, FF, FF]),
        (Outcome::Done, [0, 0, 0, 0, FF, FF, FF, FF, FF]),
        (Outcome::Nothing, [0, 0, 0, 0, 0, 0, 0, 0, FF]),
        (Outcome::Last(0), [0, 0, 0, 0, 0, 0, 0, 0, FF]),
    ] {
        let mut flash = SimFlash::<4>::new(1);
        flash.chip().veto(all);
        flash.cut(Cut { after: 1, outcome, failure: Failure::Reported });
        assert_eq!(flash.write(8, &[0; 12]), Err(SimError::Failed));
        assert_eq!(flash.bytes()[8..17], left, "{outcome:?}");
        assert_eq!((flash.counters().vetoed, flash.counters().cuts), (1, 1));
    }
}

#[test]
fn reads_fail_and_end_when_told_to() {
    let mut flash = SimFlash::<4>::new(1);
    flash.chip().fail_read(1);
    assert_eq!(flash.read(0, &mut [0; 4]), Ok(()));
    assert_eq!(flash.read(0, &mut [0; 4]), Err(SimError::Failed));
    assert_eq!(flash.read(0, &mut [0; 4]), Ok(()));
    flash.chip().limit_reads(4);
    assert_eq!(flash.read(0, &mut [0; 4]), Ok(()));
    assert_eq!(flash.read(0, &mut [0; 1]), Err(SimError::ReadLimit));
}
