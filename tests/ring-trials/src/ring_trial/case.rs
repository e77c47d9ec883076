//! A case as a text, so that it can be done once more.

use super::workload;
use crate::flash::{Failure, Outcome};
use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

/// One case of a campaign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Case {
    /// The power fails in one step.
    Cut {
        /// Write unit of the flash.
        unit: usize,
        /// Name of the workload.
        workload: &'static str,
        /// Which of its operations.
        op: usize,
        /// Which step of that.
        step: usize,
        /// What is left of the step.
        outcome: Outcome,
    },
    /// One step fails, and the power stays.
    Fault {
        /// Write unit of the flash.
        unit: usize,
        /// Name of the workload.
        workload: &'static str,
        /// Which of its operations.
        op: usize,
        /// Which step of that.
        step: usize,
        /// What is left of the step.
        outcome: Outcome,
        /// Whether the flash says so.
        failure: Failure,
    },
    /// The power fails twice.
    Pair {
        /// Write unit of the flash.
        unit: usize,
        /// Name of the workload.
        workload: &'static str,
        /// Which of its operations.
        op: usize,
        /// Which step of that.
        step: usize,
        /// What is left of the step.
        outcome: Outcome,
        /// When it fails again.
        then: Then,
        /// In which step of that.
        then_step: usize,
        /// What is left of that step.
        then_outcome: Outcome,
    },
    /// A random workload with random faults.
    Seed(u64),
    /// One bit of an image has flipped.
    Flip(u64),
    /// A random image.
    Image(u64),
}

/// When the power fails for the second time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Then {
    /// While mounting.
    Mount,
    /// In this operation of the workload, which went on.
    Op(usize),
}

/// A case that failed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failed {
    /// Which.
    pub case: Case,
    /// What was not as it must be.
    pub why: Box<str>,
    /// How many cases of its campaign went before it.
    pub after: u64,
}

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { case, why, .. } = self;
        write!(
            f,
            "{why}\n  again: cargo run -p glueday-ring-trials --bin ring-trials -- replay '{case}'"
        )
    }
}

impl std::error::Error for Failed {}

/// The text is not a case.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not a case: {0}")]
pub struct NotACase(String);

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cut { unit, workload, op, step, outcome } => {
                write!(f, "cut unit={unit} workload={workload} op={op} step={step} ")?;
                write!(f, "outcome={}", Text(*outcome))
            }
            Self::Fault { unit, workload, op, step, outcome, failure } => {
                write!(f, "fault unit={unit} workload={workload} op={op} step={step} ")?;
                let failure = if *failure == Failure::Silent { "silent" } else { "reported" };
                write!(f, "outcome={} failure={failure}", Text(*outcome))
            }
            Self::Pair { unit, workload, op, step, outcome, then, then_step, then_outcome } => {
                write!(f, "pair unit={unit} workload={workload} op={op} step={step} ")?;
                write!(f, "outcome={} ", Text(*outcome))?;
                match then {
                    Then::Mount => write!(f, "then=mount ")?,
                    Then::Op(op) => write!(f, "then={op} ")?,
                }
                write!(f, "then-step={then_step} then-outcome={}", Text(*then_outcome))
            }
            Self::Seed(seed) => write!(f, "seed {seed}"),
            Self::Flip(bit) => write!(f, "flip {bit}"),
            Self::Image(number) => write!(f, "image {number}"),
        }
    }
}

/// An outcome as a text.
struct Text(Outcome);

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Outcome::Nothing => f.write_str("nothing"),
            Outcome::Done => f.write_str("done"),
            Outcome::First(bytes) => write!(f, "first:{bytes}"),
            Outcome::Last(bytes) => write!(f, "last:{bytes}"),
            Outcome::Bits { seed, share } => write!(f, "bits:{seed}:{share}"),
            Outcome::Noise { seed } => write!(f, "noise:{seed}"),
            Outcome::Zeros(bytes) => write!(f, "zeros:{bytes}"),
        }
    }
}

fn outcome(text: &str) -> Option<Outcome> {
    let mut parts = text.split(':');
    let name = parts.next()?;
    let numbers: Vec<u64> = parts.map(|part| part.parse().ok()).collect::<Option<_>>()?;
    Some(match (name, &numbers[..]) {
        ("nothing", []) => Outcome::Nothing,
        ("done", []) => Outcome::Done,
        ("first", [bytes]) => Outcome::First(usize::try_from(*bytes).ok()?),
        ("last", [bytes]) => Outcome::Last(usize::try_from(*bytes).ok()?),
        ("zeros", [bytes]) => Outcome::Zeros(usize::try_from(*bytes).ok()?),
        ("noise", [seed]) => Outcome::Noise { seed: *seed },
        ("bits", [seed, share]) => Outcome::Bits { seed: *seed, share: u8::try_from(*share).ok()? },
        _ => return None,
    })
}

impl FromStr for Case {
    type Err = NotACase;

    fn from_str(text: &str) -> Result<Self, NotACase> {
        let mut words = text.split_whitespace();
        let kind = words.next().unwrap_or_default();
        let wrong = |what: &str| NotACase(format!("{what} in {text:?}"));
        if matches!(kind, "seed" | "flip" | "image") {
            let number = words.next().and_then(|word| word.parse().ok());
            let number: u64 = number.ok_or_else(|| wrong("no number"))?;
            return match (kind, words.next()) {
                (_, Some(_)) => Err(wrong("too many words")),
                ("seed", _) => Ok(Self::Seed(number)),
                ("flip", _) => Ok(Self::Flip(number)),
                _ => Ok(Self::Image(number)),
            };
        }
        let fields: BTreeMap<&str, &str> = words
            .map(|word| word.split_once('=').ok_or_else(|| wrong("a word without '='")))
            .collect::<Result<_, _>>()?;
        let field =
            |name: &str| fields.get(name).copied().ok_or_else(|| wrong(&format!("no {name}")));
        let number = |name: &str| {
            field(name)?.parse::<usize>().map_err(|_| wrong(&format!("no number for {name}")))
        };
        let left = |name: &str| {
            outcome(field(name)?).ok_or_else(|| wrong(&format!("no outcome for {name}")))
        };
        let workload =
            workload::named(field("workload")?).ok_or_else(|| wrong("no workload"))?.name;
        let (unit, op, step) = (number("unit")?, number("op")?, number("step")?);
        let outcome = left("outcome")?;
        let case = match kind {
            "cut" => Self::Cut { unit, workload, op, step, outcome },
            "fault" => {
                let failure = match field("failure")? {
                    "reported" => Failure::Reported,
                    "silent" => Failure::Silent,
                    _ => return Err(wrong("no failure")),
                };
                Self::Fault { unit, workload, op, step, outcome, failure }
            }
            "pair" => {
                let then = match field("then")? {
                    "mount" => Then::Mount,
                    _ => Then::Op(number("then")?),
                };
                let (then_step, then_outcome) = (number("then-step")?, left("then-outcome")?);
                Self::Pair { unit, workload, op, step, outcome, then, then_step, then_outcome }
            }
            _ => return Err(wrong("no cut, fault, pair, seed, flip or image")),
        };
        Ok(case)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_case_parses_back() {
        let (unit, workload, op, step) = (32, "mixed", 3, 17);
        let outcomes = [
            Outcome::Nothing,
            Outcome::Done,
            Outcome::First(31),
            Outcome::Last(4032),
            Outcome::Bits { seed: u64::MAX, share: 250 },
            Outcome::Noise { seed: 12 },
            Outcome::Zeros(4096),
        ];
        let mut cases = vec![Case::Seed(u64::MAX), Case::Flip(65_535), Case::Image(0)];
        for outcome in outcomes {
            cases.push(Case::Cut { unit, workload, op, step, outcome });
            for failure in [Failure::Reported, Failure::Silent] {
                cases.push(Case::Fault { unit, workload, op, step, outcome, failure });
            }
            for then in [Then::Mount, Then::Op(4)] {
                let (then_step, then_outcome) = (5, Outcome::Noise { seed: 1 });
                cases.push(Case::Pair {
                    unit,
                    workload,
                    op,
                    step,
                    outcome,
                    then,
                    then_step,
                    then_outcome,
                });
            }
        }
        for case in cases {
            assert_eq!(case.to_string().parse(), Ok(case), "{case}");
        }
    }

    #[test]
    fn what_is_no_case_is_refused() {
        for text in [
            "",
            "seed",
            "seed x",
            "seed 1 2",
            "cut unit=8",
            "cut unit=8 workload=nonesuch op=1 step=1 outcome=done",
            "cut unit=8 workload=mixed op=1 step=1 outcome=first",
            "cut unit=8 workload=mixed op=one step=1 outcome=done",
            "fault unit=8 workload=mixed op=1 step=1 outcome=done failure=maybe",
            "melt unit=8 workload=mixed op=1 step=1 outcome=done",
        ] {
            assert!(text.parse::<Case>().is_err(), "{text:?}");
        }
    }
}
