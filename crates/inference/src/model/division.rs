//! A division of the used plots into classes, and the order in which divisions refine one another.
//!
//! Source: Bailey (2008), Design of Comparative Experiments, chapter 10 (factors as partitions; from memory).

use std::collections::HashMap;

/// Each used plot's class; classes are numbered without gaps in the order in which they are met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Division {
    /// The class of each used plot.
    pub class: Vec<usize>,
    /// Number of classes.
    pub classes: usize,
}

impl Division {
    /// All plots in one class.
    pub fn whole(plots: usize) -> Self {
        Self { class: vec![0; plots], classes: usize::from(plots > 0) }
    }

    /// Every plot a class of its own.
    pub fn into_plots(plots: usize) -> Self {
        Self { class: (0..plots).collect(), classes: plots }
    }

    /// Plots with the same label in one class.
    pub fn by(labels: impl Iterator<Item = usize>) -> Self {
        let mut seen = HashMap::new();
        let mut class = Vec::new();
        for label in labels {
            let next = seen.len();
            class.push(*seen.entry(label).or_insert(next));
        }
        Self { class, classes: seen.len() }
    }

    /// Each class divided further by a label of every plot.
    pub fn refined_by(&self, labels: impl Iterator<Item = usize>) -> Self {
        let mut seen = HashMap::new();
        let mut class = Vec::with_capacity(self.class.len());
        for (&outer, label) in self.class.iter().zip(labels) {
            let next = seen.len();
            class.push(*seen.entry((outer, label)).or_insert(next));
        }
        Self { class, classes: seen.len() }
    }

    /// Whether each class of `self` is made of whole classes of `finer` (which may be the same division).
    pub fn holds(&self, finer: &Self) -> bool {
        if self.classes > finer.classes {
            return false;
        }
        let mut holder = vec![usize::MAX; finer.classes];
        self.class.iter().zip(&finer.class).all(|(&outer, &inner)| {
            let known = &mut holder[inner];
            if *known == usize::MAX {
                *known = outer;
            }
            *known == outer
        })
    }

    /// Whether both divide the plots alike.
    pub fn is_same_as(&self, other: &Self) -> bool {
        self.classes == other.classes && self.holds(other)
    }

    /// The finest division that holds both.
    pub fn supremum(&self, other: &Self) -> Self {
        let mut root: Vec<usize> = (0..self.classes).collect();
        let mut first = vec![usize::MAX; other.classes];
        for (&mine, &theirs) in self.class.iter().zip(&other.class) {
            if first[theirs] == usize::MAX {
                first[theirs] = mine;
            }
            let (a, b) = (find(&mut root, first[theirs]), find(&mut root, mine));
            root[a.max(b)] = a.min(b);
        }
        Self::by(self.class.iter().map(|&class| find(&mut root, class)))
    }

    /// Plots in each class.
    pub fn sizes(&self) -> Vec<f64> {
        let mut sizes = vec![0.0; self.classes];
        self.class.iter().for_each(|&class| sizes[class] += 1.0);
        sizes
    }

    /// Plots per class, when all classes have the same number.
    pub fn uniform_size(&self) -> Option<f64> {
        let sizes = self.sizes();
        sizes.iter().all(|size| *size == sizes[0]).then(|| sizes[0])
    }

    /// Every value replaced by the mean of its class.
    pub fn averaged(&self, values: &[f64]) -> Vec<f64> {
        let mut means = vec![0.0; self.classes];
        self.class.iter().zip(values).for_each(|(&class, value)| means[class] += value);
        means.iter_mut().zip(self.sizes()).for_each(|(sum, size)| *sum /= size);
        self.class.iter().map(|&class| means[class]).collect()
    }

    /// Position of the first plot of each class.
    pub fn first_plots(&self) -> Vec<usize> {
        let mut first = vec![usize::MAX; self.classes];
        for (position, &class) in self.class.iter().enumerate().rev() {
            first[class] = position;
        }
        first
    }
}

fn find(root: &mut [usize], mut class: usize) -> usize {
    while root[class] != class {
        root[class] = root[root[class]];
        class = root[class];
    }
    class
}

#[cfg(test)]
mod tests {
    use super::*;

    fn division(labels: &[usize]) -> Division {
        Division::by(labels.iter().copied())
    }

    #[test]
    fn blocks_hold_their_plots_and_rows_do_not_hold_columns() {
        let (blocks, plots) = (division(&[1, 1, 2, 2]), Division::into_plots(4));
        let (rows, columns) = (division(&[0, 0, 1, 1]), division(&[0, 1, 0, 1]));
        assert!(blocks.holds(&plots) && !plots.holds(&blocks) && blocks.is_same_as(&rows));
        assert!(!rows.holds(&columns) && !columns.holds(&rows));
    }

    #[test]
    fn the_supremum_is_what_both_stand_in() {
        let (rows, columns) = (division(&[0, 0, 1, 1]), division(&[0, 1, 0, 1]));
        assert_eq!(rows.supremum(&columns), Division::whole(4));
        // entries at sites and entries in years stand in entries
        let entry = [0, 0, 0, 0, 1, 1, 1, 1];
        let (site, year) = ([0, 0, 1, 1, 0, 0, 1, 1], [0, 1, 0, 1, 0, 1, 0, 1]);
        let (at_sites, in_years) =
            (division(&entry).refined_by(site.into_iter()), division(&entry).refined_by(year.into_iter()));
        assert!(at_sites.supremum(&in_years).is_same_as(&division(&entry)));
    }
}
