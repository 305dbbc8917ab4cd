//! Whether groups share a curve: one fit to all groups with parameters in common, against a curve of its own for each.

use super::basis::Range;
use super::form::Form;
use super::least_squares::{LeastSquares, further_directions};
use super::points::Points;
use super::search::{Least, Place, Surface, on_a_line, on_a_plane};
use crate::matrix::{add_scaled, dot};
use serde::{Deserialize, Serialize};

/// What the curves of several groups have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SharedPart {
    /// The join, rate, or midpoint and scale.
    Bend,
    /// Everything but the level.
    Shape,
    /// Everything: one curve.
    Everything,
}

impl SharedPart {
    /// What is shared, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Bend => "the same bend",
            Self::Shape => "the same curve apart from its level",
            Self::Everything => "one curve",
        }
    }
}

/// Extra sum of squares test of curves with something in common against separate curves of the same form.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SharingTest {
    /// The form.
    pub form: Form,
    /// What is shared under the hypothesis.
    pub shared: SharedPart,
    /// The join or rate that the groups then have in common.
    pub bend: Option<f64>,
    /// Parameters spared.
    pub num_df: f64,
    /// Degrees of freedom of the error.
    pub den_df: f64,
    /// The variance ratio.
    pub f: f64,
    /// Its upper tail.
    pub p: f64,
}

/// One form on all groups at once.
struct Joint<'a> {
    points: &'a Points,
    form: Form,
    range: Range,
    u: Vec<f64>,
    values: Vec<f64>,
    groups: usize,
    /// What is shared; none for separate curves.
    shared: Option<SharedPart>,
}

/// A joint fit.
struct JointFit {
    /// Coordinates, of every group.
    at: Vec<Vec<f64>>,
    /// Weights of the form's columns, of every group.
    weights: Vec<Vec<f64>>,
    squares: f64,
}

/// Tests of everything that the groups may share.
///
/// - `own`: coordinates of each group's own curve
pub(super) fn sharing(points: &Points, form: Form, range: Range, own: &[Vec<f64>]) -> Vec<SharingTest> {
    let separate = Joint::new(points, form, range, own.len(), None);
    let Some(full) = separate.fit_separate(own) else { return Vec::new() };
    let bend = (form.coordinates() > 0).then_some(SharedPart::Bend);
    let shape = (form.has_level() && form != Form::Flat).then_some(SharedPart::Shape);
    let parts = bend.into_iter().chain(shape).chain([SharedPart::Everything]);
    let test = |shared: SharedPart| {
        let joint = Joint::new(points, form, range, own.len(), Some(shared));
        let reduced = joint.fit_shared()?;
        let (of_reduced, of_full) = (joint.tangent(&reduced), separate.tangent(&reduced));
        let gained = reduced.squares - full.squares;
        let test = points.test(&of_reduced, Some(&of_full), gained, full.squares)?;
        let theta = form.parameters_from(&range, &reduced.at[0], &reduced.weights[0]);
        let bend = form.bend().map(|index| theta[index]);
        Some(SharingTest { form, shared, bend, num_df: test.num_df, den_df: test.den_df, f: test.f, p: test.p })
    };
    parts.filter_map(test).collect()
}

impl<'a> Joint<'a> {
    fn new(points: &'a Points, form: Form, range: Range, groups: usize, shared: Option<SharedPart>) -> Self {
        let u = points.amounts.iter().map(|&amount| range.scaled(amount)).collect();
        Self { points, form, range, u, values: points.values_for(form), groups, shared }
    }

    /// The form's columns at every point, by its own group's coordinates.
    fn of_form(&self, at: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let point = |it: usize| self.form.columns(&[self.u[it]], &at[self.points.groups[it]], &self.range);
        let of_points: Vec<Vec<Vec<f64>>> = (0..self.u.len()).map(point).collect();
        (0..of_points[0].len()).map(|column| of_points.iter().map(|of_point| of_point[column][0]).collect()).collect()
    }

    fn of_group(&self, column: &[f64], group: usize) -> Vec<f64> {
        let is_in = |it: usize| if self.points.groups[it] == group { column[it] } else { 0.0 };
        (0..column.len()).map(is_in).collect()
    }

    /// Columns of the whole design, weighed, and where each group finds the weights of its form in it.
    fn design(&self, at: &[Vec<f64>]) -> (Vec<Vec<f64>>, Vec<Vec<usize>>) {
        let of_form = self.of_form(at);
        let mut columns = Vec::new();
        let mut places = vec![Vec::new(); self.groups];
        for (index, column) in of_form.iter().enumerate() {
            let is_common = match self.shared {
                None | Some(SharedPart::Bend) => false,
                Some(SharedPart::Shape) => index > 0,
                Some(SharedPart::Everything) => true,
            };
            for (group, places) in places.iter_mut().enumerate() {
                if !is_common {
                    columns.push(self.points.weighed(&self.of_group(column, group)));
                } else if group == 0 {
                    columns.push(self.points.weighed(column));
                }
                places.push(columns.len() - 1);
            }
        }
        (columns, places)
    }

    fn solved(&self, at: &[Vec<f64>]) -> Option<(LeastSquares, Vec<Vec<f64>>)> {
        let (columns, places) = self.design(at);
        let solved = LeastSquares::of(&columns, &self.values)?;
        let weights = places.iter().map(|places| places.iter().map(|&it| solved.weights[it]).collect()).collect();
        Some((solved, weights))
    }

    /// How the weighed curves move with the coordinates of one group, or of all when they share them.
    fn moves(&self, at: &[Vec<f64>], weights: &[Vec<f64>], group: Option<usize>) -> Vec<Vec<f64>> {
        let mut moves = vec![vec![0.0; self.u.len()]; self.form.coordinates()];
        for (point, &of) in self.points.groups.iter().enumerate() {
            if group.is_none_or(|group| group == of) {
                let moved = self.form.moves(&[self.u[point]], &at[of], &weights[of]);
                moved.iter().zip(&mut moves).for_each(|(moved, moves)| moves[point] = moved[0]);
            }
        }
        moves.iter().map(|column| self.points.weighed(column)).collect()
    }

    /// Derivatives of the curves in all their parameters, at a fit.
    fn tangent(&self, fit: &JointFit) -> Vec<Vec<f64>> {
        let (mut columns, _) = self.design(&fit.at);
        match self.shared {
            Some(_) => columns.extend(self.moves(&fit.at, &fit.weights, None)),
            None => (0..self.groups).for_each(|group| columns.extend(self.moves(&fit.at, &fit.weights, Some(group)))),
        }
        columns
    }

    /// The best coordinates of one group, the others' given, or of all together.
    fn best(&self, at: &[Vec<f64>], group: Option<usize>) -> Option<Least> {
        let mut different: Vec<f64> = (0..self.u.len())
            .filter(|&it| group.is_none_or(|group| self.points.groups[it] == group))
            .map(|it| self.u[it])
            .collect();
        different.sort_by(f64::total_cmp);
        different.dedup();
        // a group that lacks the lowest amount starts later; its domain is that of its own amounts
        let domains = self.form.domains(&different);
        let with = |here: &[f64]| {
            let mut at = at.to_vec();
            at.iter_mut().enumerate().filter(|(it, _)| group.is_none_or(|group| group == *it)).for_each(|(_, at)| {
                at.clear();
                at.extend(here);
            });
            at
        };
        let leasts = if domains.len() == 1 {
            on_a_line(&domains[0], &|here| {
                let at = with(&[here]);
                let (solved, weights) = self.solved(&at)?;
                let moves = self.moves(&at, &weights, group);
                Some((solved.squares, -2.0 * dot(&solved.left, &moves[0])))
            })
        } else {
            on_a_plane(&domains, &|here| {
                let at = with(here);
                let (solved, weights) = self.solved(&at)?;
                let directions = further_directions(&[], &self.design(&at).0);
                let free = |mut column: Vec<f64>| {
                    directions.iter().for_each(|direction| {
                        let share = dot(direction, &column);
                        add_scaled(&mut column, -share, direction);
                    });
                    column
                };
                let [one, two] = <[Vec<f64>; 2]>::try_from(self.moves(&at, &weights, group)).ok()?;
                Some(Surface { squares: solved.squares, left: solved.left, moves: [free(one), free(two)] })
            })
        };
        leasts.into_iter().next().filter(|least| !matches!(least.place, Place::End { .. }))
    }

    fn fit_shared(&self) -> Option<JointFit> {
        let nowhere = vec![Vec::new(); self.groups];
        let at = match self.form.coordinates() {
            0 => nowhere,
            _ => vec![self.best(&nowhere, None)?.at; self.groups],
        };
        let (solved, weights) = self.solved(&at)?;
        Some(JointFit { at, weights, squares: solved.squares })
    }

    /// Separate curves, improved one group after the other: their errors may be correlated through the units they share.
    fn fit_separate(&self, own: &[Vec<f64>]) -> Option<JointFit> {
        const ROUNDS: usize = 30;
        let mut at = own.to_vec();
        let mut squares = self.solved(&at)?.0.squares;
        for _round in 0..if self.form.coordinates() > 0 { ROUNDS } else { 0 } {
            let before = squares;
            for group in 0..self.groups {
                let Some(least) = self.best(&at, Some(group)).filter(|least| least.squares < squares) else { continue };
                (at[group], squares) = (least.at, least.squares);
            }
            if before - squares <= 1e-12 * before {
                break;
            }
        }
        let (solved, weights) = self.solved(&at)?;
        Some(JointFit { at, weights, squares: solved.squares })
    }
}
