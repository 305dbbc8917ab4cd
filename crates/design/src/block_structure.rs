//! The units of the ground as an expression of nesting and crossing.
//!
//! Source: Nelder (1965), Proc. R. Soc. Lond. A 283, 147-162 (simple orthogonal block structures); Bailey (2008),
//! Design of Comparative Experiments, chapter 10.

use crate::DesignError;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// How the units of the ground nest in and cross one another.
///
/// `block / main plot / plot` is `Nested(Unit(block), Nested(Unit(main plot), Unit(plot)))`.
/// A unit name stands once in a structure. In text (plan files, JSON) it is written as it is displayed: `block / main plot / plot`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
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

    /// The unit that holds all others, when there is one: the first of a nesting.
    pub fn outermost(&self) -> Option<&str> {
        match self {
            Self::Nested(outer, _) => match outer.as_ref() {
                Self::Unit(name) => Some(name),
                deeper => deeper.outermost(),
            },
            _ => None,
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
    /// Whether each unit of `self` is a part of one unit of `outer`, and not the same as it.
    pub fn lies_within(&self, outer: &Self) -> bool {
        outer.units.len() < self.units.len() && outer.units.iter().all(|unit| self.units.contains(unit))
    }

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

impl From<BlockStructure> for String {
    fn from(structure: BlockStructure) -> String {
        structure.to_string()
    }
}

impl TryFrom<String> for BlockStructure {
    type Error = DesignError;

    fn try_from(text: String) -> Result<Self, DesignError> {
        text.parse()
    }
}

impl FromStr for BlockStructure {
    type Err = DesignError;

    /// Reads units joined by `/` (nested in) and ` x ` (crossed with), with brackets; `x` binds closer than `/`.
    ///
    /// # Errors
    /// [`DesignError::UnitsNotUnderstood`] with what is wrong, [`DesignError::UnitTwice`].
    fn from_str(text: &str) -> Result<Self, DesignError> {
        let fault = |fault: &str| DesignError::UnitsNotUnderstood { text: text.to_owned(), fault: fault.to_owned() };
        let mut reader = Reader { words: words_of(text), at: 0 };
        let structure = reader.nesting().map_err(|what| fault(&what))?;
        if let Some(word) = reader.words.get(reader.at) {
            return Err(fault(&format!("`{}` stands where the text should end", word.trim())));
        }
        let units = structure.units();
        match units.iter().enumerate().find(|(index, unit)| units[..*index].contains(unit)) {
            Some((_, unit)) => Err(DesignError::UnitTwice { unit: unit.clone() }),
            None => Ok(structure),
        }
    }
}

/// The text in pieces: brackets, `/`, `x`, and names of one or more words.
fn words_of(text: &str) -> Vec<String> {
    let spaced = ['/', '(', ')'].iter().fold(text.to_owned(), |text, sign| text.replace(*sign, &format!(" {sign} ")));
    let mut pieces: Vec<String> = Vec::new();
    for word in spaced.split_whitespace() {
        let is_sign = |word: &str| matches!(word, "/" | "(" | ")" | "x" | "×");
        match pieces.last_mut() {
            Some(name) if !is_sign(name) && !is_sign(word) => *name = format!("{name} {word}"),
            _ => pieces.push(word.to_owned()),
        }
    }
    pieces
}

struct Reader {
    words: Vec<String>,
    at: usize,
}

impl Reader {
    fn nesting(&mut self) -> Result<BlockStructure, String> {
        let outer = self.crossing()?;
        if self.take(&["/"]) { Ok(outer.nest(self.nesting()?)) } else { Ok(outer) }
    }

    fn crossing(&mut self) -> Result<BlockStructure, String> {
        let mut crossed = self.one()?;
        while self.take(&["x", "×"]) {
            crossed = crossed.cross(self.one()?);
        }
        Ok(crossed)
    }

    fn one(&mut self) -> Result<BlockStructure, String> {
        if self.take(&["("]) {
            let inner = self.nesting()?;
            return if self.take(&[")"]) { Ok(inner) } else { Err("a bracket is not closed".to_owned()) };
        }
        match self.words.get(self.at) {
            None => Err("a unit is missing at the end".to_owned()),
            Some(word) if matches!(word.as_str(), "/" | ")" | "x" | "×") => {
                Err(format!("`{word}` stands where a unit should stand"))
            }
            Some(word) => {
                self.at += 1;
                Ok(BlockStructure::unit(word))
            }
        }
    }

    fn take(&mut self, signs: &[&str]) -> bool {
        let found = self.words.get(self.at).is_some_and(|word| signs.contains(&word.as_str()));
        self.at += usize::from(found);
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_displayed_is_read_back() {
        for text in [
            "plot",
            "block / main plot / plot",
            "row x column",
            "block / (strip across x strip along)",
            "(site x year) / block / plot",
            "replicate / (row x column) / subsample",
            "(a x b x c) / d",
        ] {
            let structure: BlockStructure = text.parse().unwrap();
            let strata = |structure: &BlockStructure| structure.strata();
            let again: BlockStructure = structure.to_string().parse().unwrap();
            assert_eq!(strata(&again), strata(&structure), "{text}");
        }
        let loose: BlockStructure = "site×year/block/plot".replace('×', " × ").parse().unwrap();
        assert_eq!(loose.units(), ["site", "year", "block", "plot"]);
    }

    #[test]
    fn texts_that_are_no_structure_are_refused() {
        let refused = |text: &str| text.parse::<BlockStructure>().unwrap_err().to_string();
        assert_eq!(refused("block / "), "the units `block / ` cannot be read: a unit is missing at the end");
        assert_eq!(refused(""), "the units `` cannot be read: a unit is missing at the end");
        assert_eq!(refused("/ plot"), "the units `/ plot` cannot be read: `/` stands where a unit should stand");
        assert_eq!(refused("a / (b x c"), "the units `a / (b x c` cannot be read: a bracket is not closed");
        assert_eq!(refused("a) / b"), "the units `a) / b` cannot be read: `)` stands where the text should end");
        assert_eq!(refused("block / block"), "the unit `block` stands twice among the units");
    }

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
