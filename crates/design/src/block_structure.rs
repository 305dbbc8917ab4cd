//! The units of the ground as an expression of nesting and crossing.
//!
//! Source: Nelder (1965), Proc. R. Soc. Lond. A 283, 147-162 (simple orthogonal block structures); Bailey (2008),
//! Design of Comparative Experiments, chapter 10.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How the units of the ground nest in and cross one another.
///
/// `block / main plot / plot` is `Nested(Unit(block), Nested(Unit(main plot), Unit(plot)))`.
/// A unit name stands once in a structure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum BlockStructure {
    /// One kind of unit, by its name.
    Unit(String),
    /// Each unit of the left holds its own units of the right.
    Nested(Box<BlockStructure>, Box<BlockStructure>),
    /// Every unit of the left meets every unit of the right.
    Crossed(Box<BlockStructure>, Box<BlockStructure>),
}

/// One stratum: the comparisons among units that share everything further out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stratum {
    /// The units whose labels together name a unit of this stratum, outermost first.
    pub units: Vec<String>,
    /// Name for people: the innermost unit of a nested stratum, or `row x column`.
    pub name: String,
}

impl BlockStructure {
    /// One kind of unit.
    pub fn unit(name: &str) -> Self {
        Self::Unit(name.to_owned())
    }

    /// Units of `inner` inside each unit of `self`.
    pub fn nest(self, inner: Self) -> Self {
        Self::Nested(Box::new(self), Box::new(inner))
    }

    /// Every unit of `self` meeting every unit of `other`.
    pub fn cross(self, other: Self) -> Self {
        Self::Crossed(Box::new(self), Box::new(other))
    }

    /// The names of all units, outermost (and left) first.
    pub fn units(&self) -> Vec<String> {
        match self {
            Self::Unit(name) => vec![name.clone()],
            Self::Nested(left, right) | Self::Crossed(left, right) => [left.units(), right.units()].concat(),
        }
    }

    /// The strata in an order in which each comes after those further out; the grand mean is left out.
    ///
    /// A / B has the strata of A, then those of B each within one whole unit of A.
    /// A x B has the strata of A, those of B, and each of A met by each of B.
    ///
    /// # Source
    /// Nelder (1965) and Bailey (2008), as at the head of this file; the rules are given here from memory.
    /// # Example
    /// ```
    /// use guardrow_design::BlockStructure as Units;
    /// let field = Units::unit("block").nest(Units::unit("row").cross(Units::unit("column")));
    /// let names: Vec<String> = field.strata().into_iter().map(|stratum| stratum.name).collect();
    /// assert_eq!(names, ["block", "row", "column", "row x column"]);
    /// ```
    pub fn strata(&self) -> Vec<Stratum> {
        match self {
            Self::Unit(name) => vec![Stratum { units: vec![name.clone()], name: name.clone() }],
            Self::Nested(outer, inner) => {
                let around = outer.units();
                let within = inner.strata().into_iter().map(|stratum| stratum.within(&around));
                outer.strata().into_iter().chain(within).collect()
            }
            Self::Crossed(left, right) => {
                let (left, right) = (left.strata(), right.strata());
                let met = left.iter().flat_map(|a| right.iter().map(move |b| a.met_by(b))).collect();
                [left.clone(), right.clone(), met].concat()
            }
        }
    }
}

impl Stratum {
    fn within(self, around: &[String]) -> Self {
        Self { units: [around, &self.units].concat(), name: self.name }
    }

    fn met_by(&self, other: &Self) -> Self {
        Self { units: [self.units.as_slice(), &other.units].concat(), name: format!("{} x {}", self.name, other.name) }
    }
}

impl fmt::Display for BlockStructure {
    /// The structure as people write it: `block / main plot / plot`, `block / (row x column)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unit(name) => write!(f, "{name}"),
            Self::Nested(outer, inner) => {
                outer.fmt_inside(f, matches!(**outer, Self::Crossed(..)))?;
                write!(f, " / ")?;
                inner.fmt_inside(f, matches!(**inner, Self::Crossed(..)))
            }
            Self::Crossed(left, right) => {
                left.fmt_inside(f, !matches!(**left, Self::Unit(_)))?;
                write!(f, " x ")?;
                right.fmt_inside(f, !matches!(**right, Self::Unit(_)))
            }
        }
    }
}

impl BlockStructure {
    fn fmt_inside(&self, f: &mut fmt::Formatter<'_>, bracketed: bool) -> fmt::Result {
        if bracketed { write!(f, "({self})") } else { write!(f, "{self}") }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(structure: BlockStructure, written: &str, strata: &[(&str, &[&str])]) {
        assert_eq!(structure.to_string(), written);
        let found: Vec<(String, Vec<String>)> = structure.strata().into_iter().map(|s| (s.name, s.units)).collect();
        let expected: Vec<(String, Vec<String>)> = strata
            .iter()
            .map(|(name, units)| ((*name).to_owned(), units.iter().map(|unit| (*unit).to_owned()).collect()))
            .collect();
        assert_eq!(found, expected, "{written}");
    }

    // Source: the strata that texts on experiments list for each arrangement (Bailey 2008, from memory).
    #[test]
    fn strata_follow_nesting_and_crossing() {
        let unit = BlockStructure::unit;
        check(unit("plot"), "plot", &[("plot", &["plot"])]);
        check(
            unit("block").nest(unit("main plot").nest(unit("plot"))),
            "block / main plot / plot",
            &[("block", &["block"]), ("main plot", &["block", "main plot"]), ("plot", &["block", "main plot", "plot"])],
        );
        check(
            unit("row").cross(unit("column")),
            "row x column",
            &[("row", &["row"]), ("column", &["column"]), ("row x column", &["row", "column"])],
        );
        check(
            unit("block").nest(unit("strip across").cross(unit("strip along"))),
            "block / (strip across x strip along)",
            &[
                ("block", &["block"]),
                ("strip across", &["block", "strip across"]),
                ("strip along", &["block", "strip along"]),
                ("strip across x strip along", &["block", "strip across", "strip along"]),
            ],
        );
    }

    // Source: the rule of Nelder (1965) for nesting within a crossing, from memory.
    #[test]
    fn nesting_in_a_crossing_is_within_the_meeting_of_both() {
        let unit = BlockStructure::unit;
        check(
            unit("site").cross(unit("year")).nest(unit("block")),
            "(site x year) / block",
            &[
                ("site", &["site"]),
                ("year", &["year"]),
                ("site x year", &["site", "year"]),
                ("block", &["site", "year", "block"]),
            ],
        );
    }

    #[test]
    fn nesting_may_be_bracketed_either_way() {
        let unit = BlockStructure::unit;
        let left = unit("block").nest(unit("main plot")).nest(unit("plot"));
        let right = unit("block").nest(unit("main plot").nest(unit("plot")));
        assert_eq!(left.strata(), right.strata());
        assert_eq!(left.to_string(), right.to_string());
    }
}
