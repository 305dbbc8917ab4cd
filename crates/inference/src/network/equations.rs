//! Henderson's equations in centred form: what each precision multiplies.
//!
//! A grouping that another one tells (site by site x year) need not touch the observations: the effects of the finer grouping are
//! then taken as deviations from it, `eta_fine = eta_coarse + deviation`, and it enters through their distribution only. The
//! equations stay the same but for a change of variables with determinant one, and hold far fewer numbers.
//!
//! Every precision (of the observations of a residual group, or of the deviations of a grouping) enters linearly, so the
//! coefficient matrix is a sum of `precision x fixed coefficients`, kept here entry by entry.
//!
//! Source: Henderson (1975), Biometrics 31:423-447; centring by nesting as in Gelfand, Sahu & Carlin (1995), Biometrika
//! 82:479-488 (both from memory).

use super::elimination;
use super::grouping::NetworkGrouping;
use super::inverse::Form;
use super::nesting::Nesting;
use super::prepared::Prepared;
use super::tree::Tree;

/// A grouping must vary at least this much, as a share of the residual, for others to be centred on it: else its precision would
/// drown theirs.
const HOST_SHARE: f64 = 1e-4;

/// One part of the unknowns.
#[derive(Debug, Clone)]
pub(super) struct Part {
    /// The first of its unknowns.
    pub start: usize,
    /// The random grouping whose deviations carry it; nothing when the observations do.
    pub host: Option<usize>,
}

/// A coefficient of one precision.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// Place in the factor's columns.
    pub at: u32,
    /// Which precision.
    pub precision: u16,
    /// Whether it stands beside the diagonal, and so twice in the matrix.
    pub is_twice: bool,
    pub coefficient: f64,
}

/// The equations of some of the random groupings; the others have no variance.
#[derive(Debug)]
pub(super) struct Equations {
    /// The random groupings in the model, by their index among all.
    pub active: Vec<usize>,
    /// Where the fixed classes are carried.
    pub fixed: Part,
    /// First unknown of the covariates' slopes.
    pub slopes: usize,
    /// Where each active grouping's unknowns are.
    pub parts: Vec<Part>,
    /// Number of unknowns.
    pub unknowns: usize,
    pub tree: Tree,
    /// Coefficients, front by front.
    pub entries: Vec<Entry>,
    /// Where those of each front begin.
    pub starts: Vec<usize>,
}

impl Equations {
    /// - `active`: indices of the random groupings with a variance
    /// - `variances`: of all random groupings, then of the residual groups
    pub fn of(data: &Prepared, active: &[usize], variances: &[f64]) -> Self {
        let nesting = &data.nesting;
        let residual = variances[data.random.len()..].iter().fold(f64::INFINITY, |least, it| least.min(*it));
        let may_host: Vec<bool> = active.iter().map(|&it| variances[it] >= HOST_SHARE * residual).collect();
        let classes = |part: usize| data.random[active[part]].classes;
        let host = |grouping: usize, own: Option<usize>| {
            let tells = |part: &usize| {
                Some(*part) != own && may_host[*part] && nesting.classes(active[*part] + 1, grouping).is_some()
            };
            (0..active.len()).filter(tells).min_by_key(|&part| classes(part))
        };
        let fixed = Part { start: 0, host: host(0, None) };
        let slopes = data.fixed.classes;
        let mut unknowns = slopes + data.covariates.len();
        let mut parts = Vec::new();
        for (part, &grouping) in active.iter().enumerate() {
            parts.push(Part { start: unknowns, host: host(grouping + 1, Some(part)) });
            unknowns += classes(part);
        }
        let coefficients = Coefficients { data, active, fixed: &fixed, slopes, parts: &parts }.all();
        let (tree, entries, starts) = laid_out(coefficients, slopes + data.covariates.len(), unknowns);
        Self { active: active.to_vec(), fixed, slopes, parts, unknowns, tree, entries, starts }
    }

    /// Whether the groupings that others are centred on still vary enough for that.
    pub fn can_stay(&self, data: &Prepared, variances: &[f64]) -> bool {
        let residual = variances[data.random.len()..].iter().fold(f64::INFINITY, |least, it| least.min(*it));
        let hosts = self.parts.iter().chain(std::iter::once(&self.fixed)).filter_map(|part| part.host);
        hosts.map(|host| variances[self.active[host]]).all(|variance| variance >= 0.01 * HOST_SHARE * residual)
    }

    /// What to ask the inverse for to have the prediction error variance of every class of these random groupings: for each front
    /// its forms, numbered over the groupings in their order.
    pub fn prediction_forms(&self, data: &Prepared, groupings: &[usize]) -> Vec<Vec<Form>> {
        let mut forms: Vec<Vec<Form>> = vec![Vec::new(); self.tree.fronts.len()];
        let mut next = 0;
        for grouping in groupings {
            let Some(part) = self.active.iter().position(|it| it == grouping) else { continue };
            let carried = self.carried(data, part);
            for class in 0..data.random[*grouping].classes {
                let own = self.tree.position[self.parts[part].start + class];
                let outer = carried.iter().map(|(start, holder)| self.tree.position[start + holder[class] as usize]);
                let positions: Vec<u32> = std::iter::once(own).chain(outer).collect();
                let first = positions.iter().copied().min().unwrap_or(own);
                let front = self.tree.front_of[first as usize] as usize;
                let places = positions.iter().map(|&it| self.tree.place(front, it) as u32).collect();
                forms[front].push(Form { index: next, places });
                next += 1;
            }
        }
        forms
    }

    /// Unknowns that an active grouping's deviations are taken from: the first unknown of each part and the class for each of the
    /// grouping's own classes.
    pub fn carried<'n>(&self, data: &'n Prepared, part: usize) -> Vec<(usize, &'n [u32])> {
        carried(&data.nesting, &self.active, &self.fixed, &self.parts, part)
    }

    /// First unknown and classes of the parts that the observations carry.
    pub fn direct<'n>(&self, data: &'n Prepared) -> Vec<(usize, &'n [u32])> {
        direct(data, &self.active, &self.fixed, &self.parts)
            .into_iter()
            .map(|(start, it)| (start, it.class.as_slice()))
            .collect()
    }
}

fn carried<'n>(
    nesting: &'n Nesting,
    active: &[usize],
    fixed: &Part,
    parts: &[Part],
    host: usize,
) -> Vec<(usize, &'n [u32])> {
    let all = std::iter::once((fixed, 0)).chain(parts.iter().zip(active.iter().map(|it| it + 1)));
    let hosted = all.filter(|(part, _)| part.host == Some(host));
    hosted.filter_map(|(part, grouping)| Some((part.start, nesting.classes(active[host] + 1, grouping)?))).collect()
}

/// First unknown and grouping of the parts that the observations carry.
fn direct<'n>(data: &'n Prepared, active: &[usize], fixed: &Part, parts: &[Part]) -> Vec<(usize, &'n NetworkGrouping)> {
    let random = parts.iter().zip(active).map(|(part, &grouping)| (part, &data.random[grouping]));
    let all = random.chain(std::iter::once((fixed, &data.fixed)));
    all.filter(|(part, _)| part.host.is_none()).map(|(part, grouping)| (part.start, grouping)).collect()
}

/// A coefficient between two unknowns.
struct Coefficient {
    first: u32,
    second: u32,
    precision: u16,
    value: f64,
}

struct Coefficients<'a> {
    data: &'a Prepared,
    active: &'a [usize],
    fixed: &'a Part,
    slopes: usize,
    parts: &'a [Part],
}

impl Coefficients<'_> {
    fn all(&self) -> Vec<Coefficient> {
        let mut found = Vec::new();
        self.of_observations(&mut found);
        (0..self.parts.len()).for_each(|part| self.of_deviations(part, &mut found));
        found
    }

    /// Sums of weights over the observations that two unknowns share.
    fn of_observations(&self, found: &mut Vec<Coefficient>) {
        let data = self.data;
        let direct = direct(data, self.active, self.fixed, self.parts);
        for (index, &(start, grouping)) in direct.iter().enumerate() {
            let by_class = Sorted::by(&grouping.class, grouping.classes);
            for &(other_start, other) in &direct[index..] {
                by_class.meetings(data, &other.class, |a, b, group, weight| {
                    let (first, second) = ((start + a as usize) as u32, (other_start + b as usize) as u32);
                    found.push(Coefficient { first, second, precision: self.precision_of(group), value: weight });
                });
            }
            for (covariate, values) in data.covariates.iter().enumerate() {
                let second = (self.slopes + covariate) as u32;
                by_class.totals(data, values, |a, group, value| {
                    let first = (start + a as usize) as u32;
                    found.push(Coefficient { first, second, precision: self.precision_of(group), value });
                });
            }
        }
        for (one, values) in data.covariates.iter().enumerate() {
            for (other, others) in data.covariates.iter().enumerate().skip(one) {
                let mut sums = vec![0.0; data.residual.classes];
                for (observation, (value, other)) in values.iter().zip(others).enumerate() {
                    sums[data.residual.class[observation] as usize] += data.weight(observation) * value * other;
                }
                let (first, second) = ((self.slopes + one) as u32, (self.slopes + other) as u32);
                let coefficient =
                    |(group, value)| Coefficient { first, second, precision: self.precision_of(group), value };
                found.extend((0..).zip(sums).map(coefficient));
            }
        }
    }

    fn precision_of(&self, group: u32) -> u16 {
        (self.parts.len() + group as usize) as u16
    }

    /// Products of each deviation with itself: +1 for its class, -1 for what it is taken from.
    fn of_deviations(&self, part: usize, found: &mut Vec<Coefficient>) {
        let start = self.parts[part].start;
        let classes = self.data.random[self.active[part]].classes;
        let carried = carried(&self.data.nesting, self.active, self.fixed, self.parts, part);
        let precision = part as u16;
        let mut both = std::collections::HashMap::new();
        for class in 0..classes {
            let own = (start + class) as u32;
            found.push(Coefficient { first: own, second: own, precision, value: 1.0 });
            for (index, (outer, holder)) in carried.iter().enumerate() {
                let outer = (outer + holder[class] as usize) as u32;
                found.push(Coefficient { first: own, second: outer, precision, value: -1.0 });
                for (other, holder) in &carried[index..] {
                    *both.entry((outer, (other + holder[class] as usize) as u32)).or_insert(0.0) += 1.0;
                }
            }
        }
        let mut both: Vec<((u32, u32), f64)> = both.into_iter().collect();
        both.sort_unstable_by_key(|(pair, _)| *pair);
        let coefficient = |((first, second), value)| Coefficient { first, second, precision, value };
        found.extend(both.into_iter().map(coefficient));
    }
}

/// Observations sorted by class.
struct Sorted {
    starts: Vec<u32>,
    observations: Vec<u32>,
}

impl Sorted {
    fn by(class: &[u32], classes: usize) -> Self {
        let mut starts = vec![0_u32; classes + 1];
        class.iter().for_each(|&it| starts[it as usize + 1] += 1);
        (0..classes).for_each(|it| starts[it + 1] += starts[it]);
        let mut next = starts.clone();
        let mut observations = vec![0; class.len()];
        for (observation, &it) in class.iter().enumerate() {
            observations[next[it as usize] as usize] = observation as u32;
            next[it as usize] += 1;
        }
        Self { starts, observations }
    }

    fn classes(&self) -> impl Iterator<Item = (u32, &[u32])> {
        let ranges = self.starts.windows(2).map(|it| it[0] as usize..it[1] as usize);
        (0..).zip(ranges.map(|range| &self.observations[range]))
    }

    /// Calls with class, class of the other grouping, residual group and the sum of weights, wherever they meet.
    fn meetings(&self, data: &Prepared, other: &[u32], mut found: impl FnMut(u32, u32, u32, f64)) {
        let mut met: Vec<(u32, u32, f64)> = Vec::new();
        for (class, observations) in self.classes() {
            met.clear();
            met.extend(observations.iter().map(|&it| {
                let observation = it as usize;
                (other[observation], data.residual.class[observation], data.weight(observation))
            }));
            met.sort_by_key(|it| (it.0, it.1));
            for same in met.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
                found(class, same[0].0, same[0].1, same.iter().map(|it| it.2).sum());
            }
        }
    }

    /// Calls with class, residual group and the weighted sum of the values.
    fn totals(&self, data: &Prepared, values: &[f64], mut found: impl FnMut(u32, u32, f64)) {
        let mut met: Vec<(u32, f64)> = Vec::new();
        for (class, observations) in self.classes() {
            met.clear();
            met.extend(observations.iter().map(|&it| {
                let observation = it as usize;
                (data.residual.class[observation], data.weight(observation) * values[observation])
            }));
            met.sort_by_key(|it| it.0);
            for same in met.chunk_by(|a, b| a.0 == b.0) {
                found(class, same[0].0, same.iter().map(|it| it.1).sum());
            }
        }
    }
}

/// Orders the unknowns and puts every coefficient at its place in the factor.
fn laid_out(coefficients: Vec<Coefficient>, fixed: usize, unknowns: usize) -> (Tree, Vec<Entry>, Vec<usize>) {
    let mut neighbours: Vec<Vec<u32>> = vec![Vec::new(); unknowns];
    for it in coefficients.iter().filter(|it| it.first != it.second) {
        neighbours[it.first as usize].push(it.second);
        neighbours[it.second as usize].push(it.first);
    }
    neighbours.iter_mut().for_each(|list| {
        list.sort_unstable();
        list.dedup();
    });
    let last: Vec<bool> = (0..unknowns).map(|it| it < fixed).collect();
    let tree = Tree::of(elimination::order(neighbours, &last));
    let placed = coefficients.iter().map(|it| {
        let (a, b) = (tree.position[it.first as usize], tree.position[it.second as usize]);
        let (low, high) = (a.min(b), a.max(b));
        let front = tree.front_of[low as usize] as usize;
        let owner = &tree.fronts[front];
        let at = owner.panel + (low as usize - owner.first) * owner.size() + tree.place(front, high);
        (front, Entry { at: at as u32, precision: it.precision, is_twice: a != b, coefficient: it.value })
    });
    let placed: Vec<(usize, Entry)> = placed.collect();
    let mut starts = vec![0; tree.fronts.len() + 1];
    placed.iter().for_each(|(front, _)| starts[front + 1] += 1);
    (0..tree.fronts.len()).for_each(|it| starts[it + 1] += starts[it]);
    let blank = Entry { at: 0, precision: 0, is_twice: false, coefficient: 0.0 };
    let mut entries = vec![blank; placed.len()];
    let mut next = starts.clone();
    for (front, entry) in placed {
        entries[next[front]] = entry;
        next[front] += 1;
    }
    (tree, entries, starts)
}
