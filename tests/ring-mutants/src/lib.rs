//! The ring log with deliberate bugs. `mutants.toml` lists them; the test of this crate fails when the
//! trials of the ring log (`glueday_ring_trials::ring_trial`) let one of them pass.

use glueday_ring_trials::ring_trial::{
    Counts, Failed, Maker, depth_one, depth_two, flips, images, replay, seeds,
};

/// What the ring log takes from the crate that it is in.
mod fmt {
    macro_rules! line {
        ($text:literal $(, $value:expr)* $(,)?) => {{ $(let _ = &$value;)* }};
    }
    pub(crate) use {line as info, line as warning};
}

/// A ring log with a bug.
#[derive(Clone, Copy, Debug)]
pub struct Mutant {
    /// What is wrong with it; empty for the one without a bug.
    pub what: &'static str,
    /// The log.
    pub maker: Maker,
}

// The lints of the workspace hold for the original.
include!(concat!(env!("OUT_DIR"), "/mutants.rs"));

/// A campaign, short enough to be done for every bug.
pub struct Campaign {
    /// What it is called.
    pub name: &'static str,
    /// Does it.
    pub run: fn(&Maker) -> Result<Counts, Failed>,
}

/// The campaigns, in the order in which they are tried.
pub const CAMPAIGNS: [Campaign; 6] = [
    Campaign {
        name: "one cut",
        run: |log| {
            let hard = ["new", "wrap-2", "room-30", "interval-edge", "endings"];
            depth_one(log, 8, Some(&hard))
        },
    },
    Campaign { name: "one cut, byte by byte", run: |log| depth_one(log, 1, Some(&["endings"])) },
    Campaign { name: "two cuts", run: |log| depth_two(log, 8, Some(&["two-within"])) },
    Campaign { name: "seeds", run: |log| seeds(log, 0..200) },
    Campaign { name: "flips", run: |log| flips(log, 0..500) },
    Campaign { name: "images", run: |log| images(log, 0..500) },
];

/// Does the campaigns up to the first case that fails, and says which campaign that was.
#[must_use]
pub fn hunt(maker: &Maker) -> Option<(&'static str, Failed)> {
    CAMPAIGNS.iter().find_map(|campaign| Some((campaign.name, (campaign.run)(maker).err()?)))
}

/// Does a case with the log of this name once more.
///
/// # Errors
/// What is wrong with the arguments, or with the log.
pub fn again(name: &str, case: &str) -> Result<Counts, String> {
    let all = all();
    let mutant = all.iter().find(|mutant| mutant.maker.name == name);
    let mutant = mutant.ok_or_else(|| format!("no log is called {name}"))?;
    let case = case.parse().map_err(|error| format!("{error}"))?;
    replay(&mutant.maker, &case).map_err(|failed| failed.why.into())
}
