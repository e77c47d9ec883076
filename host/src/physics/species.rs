//! Dimensional change coefficients of flooring species.

/// How the board was cut from the log, which says what runs along its width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// Plain-sawn (flat-sawn): the width runs along the growth rings (tangential).
    PlainSawn,
    /// Quarter-sawn: the width runs across the growth rings (radial). Rift-sawn boards lie in
    /// between; plain-sawn is the safe assumption for them.
    QuarterSawn,
}

/// A species and its coefficients, valid for 6 to 14 % MC.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Species {
    /// Name as the table has it.
    pub name: &'static str,
    /// Change across the rings, as a fraction of the width for 1 % MC.
    pub radial_per_pct: f64,
    /// Change along the rings, as a fraction of the width for 1 % MC.
    pub tangential_per_pct: f64,
}

impl Species {
    /// The coefficient that holds for the width of a board of this cut.
    #[must_use]
    pub const fn coefficient_per_pct(&self, cut: Cut) -> f64 {
        match cut {
            Cut::PlainSawn => self.tangential_per_pct,
            Cut::QuarterSawn => self.radial_per_pct,
        }
    }
}

const fn species(name: &'static str, radial_per_pct: f64, tangential_per_pct: f64) -> Species {
    Species { name, radial_per_pct, tangential_per_pct }
}

/// Species of the trade.
///
/// Source: Wood Handbook FPL-GTR-190 (2010) Table 13-5; the radial value of true hickory is from
/// memory. Some trade lists print 0.00365 for plain-sawn red oak, which is the value of white oak.
pub const SPECIES: &[Species] = &[
    species("ash, white", 0.00169, 0.00274),
    species("beech, American", 0.00190, 0.00431),
    species("birch, yellow", 0.00256, 0.00338),
    species("cherry, black", 0.00126, 0.00248),
    species("hickory, pecan", 0.00169, 0.00315),
    species("hickory, true", 0.00259, 0.00411),
    species("maple, red", 0.00137, 0.00289),
    species("maple, sugar", 0.00165, 0.00353),
    species("red oak, commercial", 0.00158, 0.00369),
    species("walnut, black", 0.00190, 0.00274),
    species("white oak, commercial", 0.00180, 0.00365),
];

/// The species of this name, whatever the case of its letters; `None` if the table lacks it.
#[must_use]
pub fn find(name: &str) -> Option<&'static Species> {
    SPECIES.iter().find(|species| species.name.eq_ignore_ascii_case(name.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_in_any_case_and_unknown_ones_are_not() {
        assert_eq!(find(" White Oak, Commercial ").unwrap().tangential_per_pct, 0.00365);
        assert_eq!(find("oak"), None);
    }

    #[test]
    fn every_species_moves_more_along_the_rings() {
        for species in SPECIES {
            assert!(species.tangential_per_pct > species.radial_per_pct, "{}", species.name);
        }
    }
}
