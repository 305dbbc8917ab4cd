//! Whether all fixed classes meet within the outermost random groupings.

use super::prepared::Prepared;
use crate::Notice;

/// A notice for each random grouping, in no other, within whose classes groups of the fixed classes never meet.
///
/// A grouping that tells the fixed class (entry x site) is no ground on which classes could meet, and is passed over.
pub(super) fn disconnected(data: &Prepared) -> Vec<Notice> {
    let count = data.random.len();
    let is_outermost = |index: &usize| {
        let own = index + 1;
        data.nesting.classes(own, 0).is_none() && (1..=count).all(|other| data.nesting.classes(own, other).is_none())
    };
    (0..count).filter(is_outermost).filter_map(|index| notice(data, index)).collect()
}

fn notice(data: &Prepared, index: usize) -> Option<Notice> {
    let grouping = &data.random[index];
    let mut root: Vec<u32> = (0..data.fixed.classes as u32).collect();
    let mut first = vec![u32::MAX; grouping.classes];
    for (&class, &unit) in data.fixed.class.iter().zip(&grouping.class) {
        let known = &mut first[unit as usize];
        if *known == u32::MAX {
            *known = class;
        }
        let (a, b) = (find(&mut root, *known), find(&mut root, class));
        root[a.max(b) as usize] = a.min(b);
    }
    let mut groups: Vec<Vec<String>> = vec![Vec::new(); data.fixed.classes];
    for class in 0..data.fixed.classes as u32 {
        groups[find(&mut root, class) as usize].push((class + 1).to_string());
    }
    groups.retain(|group| !group.is_empty());
    (groups.len() > 1).then(|| Notice::Disconnected { stratum: grouping.name.clone(), groups })
}

fn find(root: &mut [u32], mut class: u32) -> u32 {
    while root[class as usize] != class {
        root[class as usize] = root[root[class as usize] as usize];
        class = root[class as usize];
    }
    class
}
