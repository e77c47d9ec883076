//! What can hurt people at a step: short lines, each with where it comes from.
//!
//! They change no verdict and replace no data sheet, code or licensed trade.

use super::{Assessment, Outcome, Step};
use serde::Serialize;

/// A caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// What it is about, in a word or two.
    pub topic: &'static str,
    /// What to do, in a sentence or two.
    pub text: &'static str,
    /// Where it comes from, and how well that is known.
    pub citation: &'static str,
}

const DRILLING: Caution = Caution {
    topic: "drilling",
    text: "Before drilling, locate and mark heating pipes, cables and tendons. Never drill a \
           tensioned slab that was not scanned.",
    citation: "29 CFR 1926.416(a)(3), concealed circuits; EN 1264-4, test holes before pipes (second \
               hand)",
};

const SILICA: Caution = Caution {
    topic: "silica dust",
    text: "Drilled or ground concrete gives off silica dust: water or a vacuum shroud, and a \
           respirator (limit 50 µg/m³ over 8 h, action from 25).",
    citation: "29 CFR 1926.1153",
};

const ASBESTOS: Caution = Caution {
    topic: "asbestos",
    text: "Old flooring and black adhesive may hold asbestos: have it tested before it is sanded, \
           ground or swept.",
    citation: "warnings in ASTM F1869 and F2170 (second hand)",
};

const VAPOUR: Caution = Caution {
    topic: "vapour",
    text: "Isocyanate and solvent vapour: follow the safety data sheet, air the room, wear gloves and \
           respirator, keep flames and sparks away.",
    citation: "29 CFR 1910.1200 (from memory)",
};

const TRAINING: Caution = Caution {
    topic: "training",
    text: "From 0.1 % free diisocyanate the EU asks for trained users.",
    citation: "Regulation (EU) 2020/1149",
};

const CURING: Caution = Caution {
    topic: "vapour",
    text: "Adhesive that still cures gives off vapour: air the room, keep flames and sparks away.",
    citation: "29 CFR 1910.1200 (from memory)",
};

const WOOD_DUST: Caution = Caution {
    topic: "wood dust",
    text: "Wood dust burns and can explode, and a full bag heats up by itself: empty it into a metal \
           bin outdoors. Wear a dust mask.",
    citation: "NFPA 652, as the trade press quotes it",
};

const ELECTRICITY: Caution = Caution {
    topic: "electricity",
    text: "Sanders and vacuums: ground-fault protected circuits (GFCI, RCD) only.",
    citation: "29 CFR 1926.404(b)(1)",
};

const HOT_WATER: Caution = Caution {
    topic: "hot water",
    text: "Hot water scalds: strap probes on, open no live loop. The high-limit device stays in place.",
    citation: "EN 1264-4, temperature limiter (from memory)",
};

const LICENSED: Caution = Caution {
    topic: "heating and mains",
    text: "Only licensed people work on the heating plant and on mains power.",
    citation: "common practice, no source; local codes say who",
};

/// What all of them give way to.
pub const PRECEDENCE: Caution = Caution {
    topic: "precedence",
    text: "Data sheets, local codes and licensed trades come before these lines.",
    citation: "common practice, no source",
};

impl Step {
    /// What can hurt people at the step; `testing` when moisture tests are still to be made.
    #[must_use]
    pub fn cautions(self, testing: bool) -> Vec<Caution> {
        let mut cautions = Vec::new();
        match self {
            Self::Membrane | Self::GlueDown => {
                // Few enough to be read: who still tests does not glue yet.
                if testing {
                    cautions.extend([DRILLING, SILICA, ASBESTOS, VAPOUR]);
                } else {
                    cautions.extend([VAPOUR, TRAINING]);
                }
            }
            Self::Traffic => cautions.push(CURING),
            Self::Sanding => cautions.extend([WOOD_DUST, ELECTRICITY]),
            Self::HeatUp | Self::Service => cautions.extend([HOT_WATER, LICENSED]),
        }
        cautions
    }
}

impl Assessment {
    /// What can hurt people at the step asked about, and while the tests that it lacks are made.
    #[must_use]
    pub fn cautions(&self) -> Vec<Caution> {
        self.step.cautions(self.lacks_tests())
    }

    /// Whether a room has no moisture tests that pass.
    fn lacks_tests(&self) -> bool {
        self.zones
            .iter()
            .flat_map(|zone| &zone.judged)
            .any(|j| j.requirement.id == "moisture-tests" && j.finding.outcome != Outcome::Met)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_has_a_caution_and_every_caution_a_citation() {
        for step in Step::ALL {
            for testing in [false, true] {
                let cautions = step.cautions(testing);
                assert!((1..=4).contains(&cautions.len()), "{step:?}");
                for caution in cautions {
                    assert!(!caution.citation.is_empty() && caution.text.ends_with('.'));
                    // Two lines of a terminal.
                    assert!(caution.text.chars().count() <= 140, "{}", caution.topic);
                }
            }
        }
    }

    #[test]
    fn drilling_is_spoken_of_only_where_slabs_are_tested() {
        for step in Step::ALL {
            let drills = step.cautions(true).contains(&DRILLING);
            assert_eq!(drills, matches!(step, Step::Membrane | Step::GlueDown), "{step:?}");
            assert!(!step.cautions(false).contains(&DRILLING), "{step:?}");
        }
    }
}
