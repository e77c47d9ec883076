use super::*;
use crate::physics::salt::{Salt, apparent_rh_pct};
use glueday_types::{CentiCelsius, CentiPercent};
use proptest::prelude::*;

const WATCH_S: u32 = 900;

fn salt() -> Settings {
    Settings {
        channel: Channel::Rh,
        watch_s: WATCH_S,
        reading_spread_max: 50,
        temperature_spread_max: Some(10),
        plausible: 5500..=9500,
    }
}

fn ice() -> Settings {
    Settings {
        channel: Channel::Slab,
        reading_spread_max: 10,
        temperature_spread_max: None,
        plausible: -500..=500,
        ..salt()
    }
}

fn sample(at_s: u32, slab: i16, air: i16, rh: u16) -> Sample {
    Sample {
        at_s,
        slab: Ok(CentiCelsius(slab)),
        air: Ok(CentiCelsius(air)),
        air_rh: Ok(CentiPercent(rh)),
        supply: Err(Absent::NotFitted),
    }
}

/// A jar at rest that is sampled each minute, from second 0 to `last_s`.
fn rest(judge: &mut Judge, last_s: u32) -> State {
    let mut state = State::Watching(Window::default());
    for at_s in (0..=last_s).step_by(60) {
        state = judge.feed(1, &sample(at_s, 2200, 2300, 7747));
    }
    state
}

/// A drift of 0.5 K an hour, 0.125 K in the watched time, with the noise that hides it from a rule on
/// the spread alone: over ten hours, each minute is another chance.
#[test]
fn noise_does_not_hide_a_drift() {
    let mut judge = Judge::new(Settings { plausible: -30_000..=30_000, ..ice() });
    let (mut noise, mut hidden) = (1_u32, 0);
    let mut slabs: Vec<i16> = Vec::new();
    for minute in 0..600_u32 {
        // Two dice of -1, 0 and 1 (xorshift, Marsaglia 2003): a standard deviation of 0.0115 K.
        let mut dice = 0;
        for _ in 0..2 {
            noise ^= noise << 13;
            noise ^= noise >> 17;
            noise ^= noise << 5;
            dice += i16::try_from(noise % 3).unwrap() - 1;
        }
        slabs.push(i16::try_from(minute * 50 / 60).unwrap() + dice);
        let state = judge.feed(1, &sample(minute * 60, *slabs.last().unwrap(), 0, 0));
        assert!(!is_steady(state), "{minute}: {state:?}");
        let window = &slabs[slabs.len().saturating_sub(16)..];
        let spread = window.iter().max().unwrap() - window.iter().min().unwrap();
        hidden += u32::from(window.len() == 16 && spread <= 10);
    }
    assert!(hidden > 5, "the noise hid the drift from the spread {hidden} times only");
}

fn is_steady(state: State) -> bool {
    matches!(state, State::Steady(_))
}

/// The figures on which the bounds rest; see the rule. Greenspan 1977, table: 75.47 % at 20 °C.
#[test]
fn a_kelvin_costs_four_and_a_half_percent() {
    let jar = 75.47;
    assert!((jar - Salt::SodiumChloride.rh_pct(20.0).unwrap()).abs() < 0.01);
    let warmer = apparent_rh_pct(jar, 20.0, 21.0).unwrap();
    assert!((warmer - 70.95).abs() < 0.01, "{warmer}");
    let tenth = jar - apparent_rh_pct(jar, 20.0, 20.1).unwrap();
    assert!((tenth - 0.45).abs() < 0.02, "{tenth}");
}

#[test]
fn rest_takes_the_watched_time_and_not_a_second_less() {
    let mut judge = Judge::new(salt());
    assert!(!is_steady(rest(&mut judge, 899)));
    let State::Steady(window) = judge.feed(1, &sample(900, 2200, 2302, 7749)) else { panic!() };
    assert_eq!((window.samples, window.span_s, window.quiet_s), (16, 900, 900));
    assert!((window.reading - (77.47 * 15.0 + 77.49) / 16.0).abs() < 1e-9);
    assert!((window.temperature_c.unwrap() - (23.0 * 15.0 + 23.02) / 16.0).abs() < 1e-9);
    assert!((window.reading_spread - 0.02).abs() < 1e-9);
    assert_eq!(judge.feed(1, &sample(900, 2200, 2302, 7749)), State::Steady(window), "the same");
}

#[test]
fn exactly_at_the_bounds_is_rest_and_a_hundredth_more_is_not() {
    for (air, rh, steady) in
        [(2310, 7797, true), (2311, 7747, false), (2300, 7798, false), (2289, 7747, false)]
    {
        let mut judge = Judge::new(salt());
        rest(&mut judge, 840);
        assert_eq!(is_steady(judge.feed(1, &sample(900, 2200, air, rh))), steady, "{air} {rh}");
    }
}

#[test]
fn a_swing_that_comes_back_is_no_rest_until_it_is_past() {
    let mut judge = Judge::new(ice());
    for at_s in (0..=1800).step_by(60) {
        let slab = if at_s == 600 { 15 } else { 3 };
        let state = judge.feed(1, &sample(at_s, slab, 0, 0));
        // The window of second 1560 begins at 660, behind the swing.
        assert_eq!(is_steady(state), at_s >= 1560, "{at_s}");
    }
}

#[test]
fn the_air_does_not_matter_to_a_slab_probe_and_may_be_missing() {
    let mut judge = Judge::new(ice());
    for at_s in (0..=900).step_by(300) {
        let air = Err(Absent::NotFitted);
        let state = judge.feed(1, &Sample { air, ..sample(at_s, 5, 0, 0) });
        assert_eq!(is_steady(state), at_s == 900);
    }
}

#[test]
fn a_missing_reading_and_a_reboot_start_over() {
    for channel in [Channel::Air, Channel::Rh] {
        let mut judge = Judge::new(salt());
        rest(&mut judge, 840);
        let mut broken = sample(900, 2200, 2300, 7747);
        match channel {
            Channel::Air => broken.air = Err(Absent::NoAnswer),
            _ => broken.air_rh = Err(Absent::BadChecksum),
        }
        let State::Restarted(Restart::Absent(of, _)) = judge.feed(1, &broken) else { panic!() };
        assert_eq!(of, channel);
        assert!(!is_steady(judge.feed(1, &sample(960, 2200, 2300, 7747))));
    }
    let mut judge = Judge::new(salt());
    rest(&mut judge, 900);
    let after = sample(960, 2200, 2300, 7747);
    assert_eq!(judge.feed(2, &after), State::Restarted(Restart::Rebooted));
    let State::Watching(window) = judge.feed(2, &after) else { panic!() };
    assert_eq!(window.samples, 1);
    // Time that runs back is another boot, whatever its number.
    assert_eq!(judge.feed(2, &sample(60, 0, 2300, 7747)), State::Restarted(Restart::Rebooted));
}

#[test]
fn gaps_start_over_and_few_samples_do_not_do() {
    let mut judge = Judge::new(salt());
    rest(&mut judge, 840);
    let state = judge.feed(1, &sample(840 + 451, 2200, 2300, 7747));
    assert_eq!(state, State::Restarted(Restart::Gap(451)));
    // Three samples 450 s apart span the time and are too few; the fourth pushes the first out.
    let mut judge = Judge::new(salt());
    for at_s in [0, 450, 900, 1350, 1800] {
        assert!(!is_steady(judge.feed(1, &sample(at_s, 2200, 2300, 7747))), "{at_s}");
    }
}

#[test]
fn a_probe_that_is_not_where_it_should_be_is_never_steady() {
    let mut judge = Judge::new(ice());
    for at_s in (0..=3600).step_by(60) {
        let State::Watching(window) = judge.feed(1, &sample(at_s, 2100, 0, 0)) else { panic!() };
        assert!(!window.plausible && window.quiet_s == 0);
    }
}

/// The rule by hand, over all that was fed so far: no window is kept, nothing is thrown away.
fn naive(settings: &Settings, fed: &[(u32, Sample)]) -> bool {
    let mut run: Vec<(u32, i32, i32)> = Vec::new();
    let mut before: Option<(u32, u32)> = None;
    for (boot, sample) in fed {
        let other_boot = before.is_some_and(|(of, at_s)| of != *boot || at_s > sample.at_s);
        if before == Some((*boot, sample.at_s)) {
            continue;
        }
        before = Some((*boot, sample.at_s));
        let (Ok(air), Ok(rh)) = (sample.air, sample.air_rh) else {
            run.clear();
            continue;
        };
        if other_boot {
            run.clear();
        }
        if run.last().is_some_and(|last| sample.at_s - last.0 > settings.watch_s / 2) {
            run.clear();
        }
        run.push((sample.at_s, i32::from(rh.0), i32::from(air.0)));
    }
    let Some(last) = run.last() else { return false };
    let covering = (0..run.len()).rev().find(|&i| last.0 - run[i].0 >= settings.watch_s);
    let Some(first) = covering else { return false };
    let window = &run[first..];
    // Spread, and the line through the mean times and values; by their number, so that all is whole.
    let rests = |of: fn(&(u32, i32, i32)) -> i32, most: i32| {
        let values: Vec<i32> = window.iter().map(of).collect();
        let spread = values.iter().max().unwrap() - values.iter().min().unwrap();
        let n = i128::try_from(values.len()).unwrap();
        let times: Vec<i128> = window.iter().map(|p| i128::from(p.0)).collect();
        let values: Vec<i128> = values.into_iter().map(i128::from).collect();
        let centred = |all: &[i128]| -> Vec<i128> {
            let sum: i128 = all.iter().sum();
            all.iter().map(|one| one * n - sum).collect()
        };
        let (times, values) = (centred(&times), centred(&values));
        let products: i128 = times.iter().zip(&values).map(|(t, v)| t * v).sum();
        let squares: i128 = times.iter().map(|t| t * t).sum();
        let span_s = i128::from(last.0 - window[0].0);
        spread <= most && products.abs() * span_s * 4 <= i128::from(most) * squares * 3
    };
    window.len() >= 4
        && rests(|p| p.1, settings.reading_spread_max)
        && rests(|p| p.2, settings.temperature_spread_max.unwrap())
        && window.iter().all(|p| settings.plausible.contains(&p.1))
}

/// A sample with its boot: mostly quiet, sometimes not there, sometimes far off.
fn fed() -> impl Strategy<Value = Vec<(u32, Sample)>> {
    let wait = prop_oneof![4 => 200..=310u32, 1 => 0..=1u32, 1 => 440..=460u32];
    let rh = prop_oneof![20 => 7700..=7735u16, 2 => 7700..=7760u16, 1 => 9490..=9510u16];
    let air = prop_oneof![20 => 2300..=2308i16, 2 => 2300..=2316i16];
    let event = prop_oneof![30 => Just(0u8), 1 => Just(1), 1 => Just(2), 1 => Just(3)];
    prop::collection::vec((wait, rh, air, event), 1..60).prop_map(|steps| {
        let (mut boot, mut now_s) = (1, 0);
        let mut fed: Vec<(u32, Sample)> = Vec::new();
        for (wait_s, rh, air, event) in steps {
            now_s += wait_s;
            if wait_s == 0
                && let Some(last) = fed.last()
            {
                fed.push(*last);
                continue;
            }
            let mut next = sample(now_s, 0, air, rh);
            match event {
                1 => next.air_rh = Err(Absent::NoAnswer),
                2 => boot += 1,
                3 => {
                    boot += 1;
                    now_s = 0;
                    next.at_s = 0;
                }
                _ => {}
            }
            fed.push((boot, next));
        }
        fed
    })
}

proptest! {
    #[test]
    fn a_naive_twin_agrees(fed in fed()) {
        let mut judge = Judge::new(salt());
        for (i, (boot, sample)) in fed.iter().enumerate() {
            let state = judge.feed(*boot, sample);
            let restarted = matches!(state, State::Restarted(_));
            let expected = naive(&salt(), &fed[..=i]);
            prop_assert_eq!(is_steady(state), expected, "at {}: {:?}", i, state);
            prop_assert!(!(restarted && expected));
        }
    }

    /// Whatever the noise within half of the bounds: rest, as soon as the watched time is over.
    #[test]
    fn noise_within_the_bounds_is_rest(
        noise in prop::collection::vec((0..=25u16, 0..=5i16), 16..40),
    ) {
        let mut judge = Judge::new(salt());
        for (i, (rh, air)) in noise.into_iter().enumerate() {
            let at_s = u32::try_from(i).unwrap() * 60;
            let state = judge.feed(1, &sample(at_s, 0, 2300 + air, 7700 + rh));
            prop_assert_eq!(is_steady(state), at_s >= WATCH_S);
        }
    }

    /// A drift that adds up to more than the bound within the watched time is never taken for rest,
    /// whatever its sign, and however it is sampled.
    #[test]
    fn a_drift_beyond_the_bound_is_never_rest(
        interval_s in 20..=300u32,
        // Hundredths of a kelvin in the watched time; a hundredth goes to rounding.
        drift in prop_oneof![12..=400i32, -400..=-12i32],
        start in -100..=100i32,
    ) {
        let settings = Settings { plausible: -30_000..=30_000, ..ice() };
        let mut judge = Judge::new(settings);
        for i in 0..100u32 {
            let at_s = i * interval_s;
            let drifted = i64::from(drift) * i64::from(at_s) / i64::from(WATCH_S);
            let slab = i16::try_from((i64::from(start) + drifted).clamp(-30_000, 30_000)).unwrap();
            let state = judge.feed(1, &sample(at_s, slab, 0, 0));
            prop_assert!(!is_steady(state), "{:?}", state);
        }
    }
}
