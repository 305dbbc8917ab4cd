//! The units of the ground as an expression of nesting and crossing (Nelder 1965; Bailey 2008).

use serde::{Deserialize, Serialize};

/// How the units of the ground nest in and cross one another.
///
/// `block / main plot / plot` is `Nested(Unit(block), Nested(Unit(main plot), Unit(plot)))`.
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
