//! Which groupings determine which others: a site x year tells its site.

use super::grouping::NetworkGrouping;

/// For two groupings the class of the coarser that each class of the finer stands in, where the finer tells it.
#[derive(Debug)]
pub(super) struct Nesting {
    coarser: Vec<Vec<Option<Vec<u32>>>>,
}

impl Nesting {
    /// Looks at every pair.
    pub fn of(groupings: &[&NetworkGrouping]) -> Self {
        let pair = |fine: &NetworkGrouping, coarse: &NetworkGrouping| {
            (fine.classes >= coarse.classes).then(|| holder_of_classes(fine, coarse)).flatten()
        };
        let coarser = groupings.iter().enumerate().map(|(f, fine)| {
            groupings.iter().enumerate().map(|(c, coarse)| if f == c { None } else { pair(fine, coarse) }).collect()
        });
        Self { coarser: coarser.collect() }
    }

    /// For each class of grouping `fine` its class in `coarse`; nothing where the first does not tell the second.
    pub fn classes(&self, fine: usize, coarse: usize) -> Option<&[u32]> {
        self.coarser[fine][coarse].as_deref()
    }
}

fn holder_of_classes(fine: &NetworkGrouping, coarse: &NetworkGrouping) -> Option<Vec<u32>> {
    let mut holder = vec![u32::MAX; fine.classes];
    let tells = fine.class.iter().zip(&coarse.class).all(|(&inner, &outer)| {
        let known = &mut holder[inner as usize];
        if *known == u32::MAX {
            *known = outer;
        }
        *known == outer
    });
    tells.then_some(holder)
}
