//! How to do a check, step by step, in words for the site.

use super::plan::{Method, Plan};

/// What to do, in order.
#[must_use]
pub fn steps(plan: &Plan) -> Vec<String> {
    let fixed: &[&str] = match plan.method() {
        Method::Ice => &[
            "Crush ice made of clean water and fill a vacuum flask or a thick cup with it.",
            "Add just enough clean cold water to fill the gaps: slush down to the bottom, no ice afloat \
             on water.",
            "Put the probe into the middle, as deep as it is long at least, not touching wall or bottom. \
             Only a waterproof probe goes in bare; put any other into a thin bag without air and keep its \
             mouth out of the water.",
            "Stir gently now and then, pour off water and add ice as it melts.",
            "Wait. This program says when the reading is steady.",
        ],
        Method::Salt(salt) => {
            return vec![
                format!(
                    "Stir {} of at least technical purity with a little clean water to a moist slush: wet \
                     all through, with salt left undissolved, not a soup.",
                    salt.formula()
                ),
                "Put it into a small jar, a finger high, and hang the sensor into the air above it. The \
                 sensor never touches the slush, and nothing may splash on it."
                    .to_owned(),
                "Seal the jar around the cable.".to_owned(),
                "Stand jar and logger in a room of even temperature, without sun, draught or a hand on the \
                 jar. A sensor that is one degree warmer than the slush reads several percent too low."
                    .to_owned(),
                "Wait: an hour is common, and the first time longer. This program says when humidity and \
                 temperature are steady."
                    .to_owned(),
            ];
        }
        Method::Comparison(_) => &[
            "Take a reference instrument with a valid calibration certificate.",
            "Put both probes side by side at one spot, touching the same thing (the same slab, the same \
             pipe) or hanging in the same air, out of sun and draught, away from people.",
            "Wait until both are steady. This program says when the logger's probe is.",
            "Read the reference instrument again at the end. If it does not show what you typed, do the \
             check again with what it shows.",
        ],
    };
    fixed.iter().map(|&step| step.to_owned()).collect()
}

/// What can hurt people or things. Trade practice, from memory; data sheets and local rules come first.
#[must_use]
pub fn cautions(plan: &Plan) -> Vec<&'static str> {
    let mut cautions = match plan.method() {
        Method::Ice => Vec::new(),
        Method::Salt(_) => vec![
            "Salts and their brines irritate eyes and skin, and some are harmful when swallowed: read the \
             safety data sheet, wear gloves and eye protection, wash your hands, and keep the jar away \
             from children, food and metal, which it corrodes.",
        ],
        Method::Comparison(_) => Vec::new(),
    };
    cautions.push(
        "Keep liquids away from the logger, from its plugs and from anything on mains power; unplug the \
         probe from nothing but the logger.",
    );
    if plan.channel() == crate::job::Channel::Supply {
        cautions.push(
            "Heating water and its pipes scald: take the probe off a pipe only when it has cooled, and \
             leave the circuit closed.",
        );
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Channel;
    use crate::physics::salt::Salt;

    /// What a check is spoilt by, or hurts by, is said in each case.
    #[test]
    fn what_matters_is_said() {
        let told = |channel, method| {
            let plan = Plan::new(channel, method, 900).unwrap();
            [steps(&plan), cautions(&plan).iter().map(|&c| c.to_owned()).collect()]
                .concat()
                .join(" ")
        };
        let salt = told(Channel::Rh, Method::Salt(Salt::MagnesiumChloride));
        for word in
            ["MgCl2", "undissolved", "never touches", "Seal", "draught", "safety data sheet"]
        {
            assert!(salt.contains(word), "{word}: {salt}");
        }
        let ice = told(Channel::Supply, Method::Ice);
        for word in ["Crush", "bottom", "waterproof", "Stir", "scald", "mains"] {
            assert!(ice.contains(word), "{word}: {ice}");
        }
        let comparison = told(Channel::Rh, Method::Comparison(45.0));
        for word in ["side by side", "calibration", "draught", "mains"] {
            assert!(comparison.contains(word), "{word}: {comparison}");
        }
        assert!(!comparison.contains("scald"));
    }
}
