//! Letters: two means share one exactly when they are not declared different.

/// Letters for means, given which pairs differ; `a` stands on the largest mean.
///
/// - `means`: one value per mean
/// - `differ(i, j)`: whether means `i` and `j` are declared different
///
/// # Source
/// Insert-and-absorb, Piepho (2004), J. Comput. Graph. Stat. 13:456-466. Different correct algorithms may write different
/// letters for the same differences.
pub fn letters_from(means: &[f64], differ: impl Fn(usize, usize) -> bool) -> Vec<String> {
    let mut order: Vec<usize> = (0..means.len()).collect();
    order.sort_by(|&a, &b| means[b].total_cmp(&means[a]));
    let rank_differ = |a: usize, b: usize| differ(order[a], order[b]);
    let mut columns: Vec<Vec<bool>> = vec![vec![true; means.len()]];
    for first in 0..means.len() {
        for second in first + 1..means.len() {
            if rank_differ(first, second) {
                columns = absorbed(split(columns, first, second));
            }
        }
    }
    columns.sort_by(|a, b| b.cmp(a));
    let mut letters = vec![String::new(); means.len()];
    for (rank, &mean) in order.iter().enumerate() {
        letters[mean] = columns.iter().enumerate().filter(|(_, it)| it[rank]).map(|(number, _)| name(number)).collect();
    }
    letters
}

/// Every column that holds both becomes two, each without one of them.
fn split(columns: Vec<Vec<bool>>, first: usize, second: usize) -> Vec<Vec<bool>> {
    let without = |column: &[bool], index: usize| {
        let mut column = column.to_vec();
        column[index] = false;
        column
    };
    columns
        .iter()
        .flat_map(|column| match column[first] && column[second] {
            true => vec![without(column, first), without(column, second)],
            false => vec![column.clone()],
        })
        .collect()
}

/// Leaves out columns that another column contains.
fn absorbed(columns: Vec<Vec<bool>>) -> Vec<Vec<bool>> {
    let contains = |big: &[bool], small: &[bool]| big.iter().zip(small).all(|(big, small)| *big || !small);
    let mut kept: Vec<Vec<bool>> = Vec::new();
    for column in columns {
        if !kept.iter().any(|other| contains(other, &column)) {
            kept.retain(|other| !contains(&column, other));
            kept.push(column);
        }
    }
    kept
}

/// a to z, then a2 to z2 and so on, so that every column has its own.
fn name(number: usize) -> String {
    let letter = char::from(b'a' + (number % 26) as u8);
    match number / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{}", round + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(means: &[f64], differing: &[(usize, usize)]) {
        let differ = |a: usize, b: usize| differing.contains(&(a, b)) || differing.contains(&(b, a));
        let letters = letters_from(means, differ);
        for a in 0..means.len() {
            for b in 0..a {
                let share = letters[a].chars().any(|letter| letters[b].contains(letter));
                assert_eq!(share, !differ(a, b), "{letters:?} for means {a} and {b}");
            }
        }
        let top = (0..means.len()).max_by(|&a, &b| means[a].total_cmp(&means[b])).unwrap();
        assert!(letters[top].contains('a'));
    }

    #[test]
    fn means_share_a_letter_exactly_when_they_do_not_differ() {
        check(&[1.0, 2.0, 3.0], &[]);
        check(&[1.0, 2.0, 3.0], &[(0, 2)]);
        check(&[1.0, 2.0, 3.0], &[(0, 1), (0, 2), (1, 2)]);
        check(&[5.0, 1.0, 4.0, 2.0], &[(0, 1), (0, 3), (2, 1)]);
        // not an interval order: neighbours differ while the far pair does not, as unequal errors can give
        check(&[1.0, 2.0, 3.0, 4.0], &[(0, 1), (2, 3)]);
    }
}
