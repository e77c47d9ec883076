//! Every bug of `mutants.toml` is caught, the log without one passes, and a case that failed fails
//! again when it is done alone.

// Tests may panic: that is how they fail.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::print_stdout)]

use glueday_ring_mutants::{CAMPAIGNS, again, all, hunt};
use glueday_ring_trials::ring_trial::{real, replay};

#[test]
fn the_log_without_a_bug_passes() {
    let unchanged = &all()[0].maker;
    for campaign in CAMPAIGNS {
        let counts = (campaign.run)(unchanged)
            .unwrap_or_else(|failed| panic!("{}: {failed}", campaign.name));
        println!("unchanged: {}: {counts}", campaign.name);
        assert!(counts.cases() >= 200, "{}: only {} cases", campaign.name, counts.cases());
    }
}

#[test]
fn every_bug_is_caught() {
    // Broken logs panic, and that is caught: a hook would print each.
    std::panic::set_hook(Box::new(|_| ()));
    let mut survivors = Vec::new();
    let mutants = all();
    assert!(mutants.len() > 20, "only {} bugs", mutants.len() - 1);
    for mutant in &mutants[1..] {
        let name = mutant.maker.name;
        let Some((campaign, failed)) = hunt(&mutant.maker) else {
            survivors.push(format!("{name}: {}", mutant.what));
            continue;
        };
        let case = failed.case.to_string();
        println!("{name}: {}", mutant.what);
        println!("  {campaign}, after {} cases: {}", failed.after, failed.why);
        println!("  again: cargo run -p glueday-ring-mutants -- {name} '{case}'");
        if again(name, &case).is_ok() {
            survivors.push(format!("{name}: not when {case} is done alone"));
        }
        if let Err(failed) = replay(&real(), &failed.case) {
            survivors.push(format!("{name}: the log without the bug fails as well: {failed}"));
        }
    }
    let _ = std::panic::take_hook();
    assert!(survivors.is_empty(), "not caught:\n{}", survivors.join("\n"));
}
