//! A grouping of observations: sites, years, entries at sites.

use std::collections::HashMap;

/// A name and the class that each observation belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NetworkGrouping {
    /// What the classes are, for people.
    pub name: String,
    pub(super) class: Vec<u32>,
    pub(super) classes: usize,
}

/// Cells of a cross-table that are looked up directly; with more of them a map is used.
const DIRECT: usize = 1 << 22;

impl NetworkGrouping {
    /// A grouping by labels counted from 0.
    ///
    /// - `class`: of every observation
    /// - `classes`: their number; classes without an observation are allowed
    pub fn new(name: &str, class: &[usize], classes: usize) -> Self {
        // A class beyond what can be told apart stays beyond `classes`, and is met when the groupings are checked.
        let class = class.iter().map(|&it| u32::try_from(it).unwrap_or(u32::MAX)).collect();
        Self { name: name.to_owned(), class, classes }
    }

    /// The combinations that occur of two groupings over the same observations: site x year. They are numbered in the order of
    /// the first grouping, then the second, whatever the order of the observations.
    pub fn crossed(name: &str, first: &Self, second: &Self) -> Self {
        let width = second.classes.max(1);
        let code = |(&a, &b): (&u32, &u32)| a as usize * width + b as usize;
        let codes = || first.class.iter().zip(&second.class).map(code);
        let cells = first.classes.saturating_mul(width);
        let (class, classes) = if cells <= DIRECT { by_table(codes, cells) } else { by_map(codes) };
        Self { name: name.to_owned(), class, classes }
    }

    /// Number of observations.
    pub fn observations(&self) -> usize {
        self.class.len()
    }

    /// Number of classes.
    pub fn classes(&self) -> usize {
        self.classes
    }

    /// The class of an observation.
    pub fn class_of(&self, observation: usize) -> usize {
        self.class[observation] as usize
    }
}

fn by_table<I: Iterator<Item = usize>>(codes: impl Fn() -> I, cells: usize) -> (Vec<u32>, usize) {
    let mut number = vec![u32::MAX; cells];
    codes().for_each(|code| {
        if let Some(met) = number.get_mut(code) {
            *met = 0;
        }
    });
    let mut classes = 0;
    number.iter_mut().filter(|it| **it == 0).for_each(|it| {
        *it = classes;
        classes += 1;
    });
    (codes().map(|code| number.get(code).copied().unwrap_or(u32::MAX)).collect(), classes as usize)
}

fn by_map<I: Iterator<Item = usize>>(codes: impl Fn() -> I) -> (Vec<u32>, usize) {
    let mut met: Vec<usize> = codes().collect();
    met.sort_unstable();
    met.dedup();
    let number: HashMap<usize, u32> = met.iter().copied().zip(0..).collect();
    (codes().map(|code| number[&code]).collect(), met.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn combinations_are_those_that_occur_in_order() {
        let site = NetworkGrouping::new("site", &[1, 0, 1, 1], 2);
        let year = NetworkGrouping::new("year", &[0, 2, 1, 0], 3);
        let both = NetworkGrouping::crossed("site x year", &site, &year);
        assert_eq!((both.class.as_slice(), both.classes), ([1, 0, 2, 1].as_slice(), 3));
        let codes = || site.class.iter().zip(&year.class).map(|(&a, &b)| a as usize * 3 + b as usize);
        assert_eq!(by_map(codes), (both.class, both.classes));
    }
}
