//! One form on one set of points: the best weights for given coordinates, and the best coordinates.

use super::basis::{Domain, End, Range};
use super::form::Form;
use super::least_squares::LeastSquares;
use super::notice::WhyNot;
use super::points::Points;
use super::search::{Least, Place, Surface, on_a_line, on_a_plane};
use crate::matrix::{add_scaled, dot};

/// A form to be fitted to points.
#[derive(Debug, Clone)]
pub(super) struct Problem<'a> {
    pub points: &'a Points,
    pub form: Form,
    pub range: Range,
    /// Amounts of the points, scaled to the tested range.
    u: Vec<f64>,
    /// The different ones among them, ascending.
    different: Vec<f64>,
    values: Vec<f64>,
}

/// Where a form fits best.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Located {
    /// Coordinates.
    pub at: Vec<f64>,
    /// Weights of the columns.
    pub weights: Vec<f64>,
    /// Sum of squares about the curve.
    pub squares: f64,
    /// Whether the join lies on a tested amount, where the sum of squares has a kink.
    pub kink: bool,
    /// Every local least that was found, best first.
    pub leasts: Vec<Least>,
}

impl<'a> Problem<'a> {
    pub fn new(points: &'a Points, form: Form, range: Range) -> Self {
        let u: Vec<f64> = points.amounts.iter().map(|&amount| range.scaled(amount)).collect();
        let mut different = u.clone();
        different.sort_by(f64::total_cmp);
        different.dedup();
        Self { points, form, range, u, different, values: points.values_for(form) }
    }

    /// Least squares for given coordinates.
    pub fn at(&self, at: &[f64]) -> Option<LeastSquares> {
        let columns: Vec<Vec<f64>> =
            self.form.columns(&self.u, at, &self.range).iter().map(|column| self.points.weighed(column)).collect();
        LeastSquares::of(&columns, &self.values)
    }

    pub fn domains(&self) -> Vec<Domain> {
        self.form.domains(&self.different)
    }

    /// The different amounts, scaled to the tested range, ascending.
    pub fn different(&self) -> &[f64] {
        &self.different
    }

    /// How many weights shape the curve, its level left out.
    pub fn shape_weights(&self) -> usize {
        match self.form {
            Form::Flat => 0,
            Form::Quadratic | Form::BrokenLine | Form::BrokenLineAt { .. } => 2,
            _ => 1,
        }
    }

    /// Index of the first of them.
    pub fn first_shape_weight(&self) -> usize {
        usize::from(self.form.has_level())
    }

    /// The sum of squares for given coordinates.
    pub fn squares(&self, at: &[f64]) -> f64 {
        self.at(at).map_or(f64::INFINITY, |solved| solved.squares)
    }

    /// Local leasts over the last coordinate, the others given.
    pub fn leasts_over_last(&self, given: &[f64], domain: &Domain) -> Vec<Least> {
        let objective = |last: f64| {
            let at = [given, &[last]].concat();
            let solved = self.at(&at)?;
            let moves = self.form.moves(&self.u, &at, &solved.weights);
            let slope = -2.0 * dot(&solved.left, &self.points.weighed(&moves[given.len()]));
            Some((solved.squares, slope))
        };
        on_a_line(domain, &objective)
    }

    fn surface(&self, at: &[f64]) -> Option<Surface> {
        let columns: Vec<Vec<f64>> =
            self.form.columns(&self.u, at, &self.range).iter().map(|column| self.points.weighed(column)).collect();
        let solved = LeastSquares::of(&columns, &self.values)?;
        let directions = super::least_squares::further_directions(&[], &columns);
        let free = |column: &Vec<f64>| {
            let mut column = self.points.weighed(column);
            directions.iter().for_each(|direction| {
                let share = dot(direction, &column);
                add_scaled(&mut column, -share, direction);
            });
            column
        };
        let moves = self.form.moves(&self.u, at, &solved.weights);
        Some(Surface { squares: solved.squares, left: solved.left, moves: [free(&moves[0]), free(&moves[1])] })
    }

    /// The best fit.
    ///
    /// # Errors
    /// Why the form cannot be told from a simpler one on these points.
    pub fn locate(&self) -> Result<Located, WhyNot> {
        let (found, needed) = (self.different.len(), self.form.amounts_needed());
        if found < needed {
            return Err(WhyNot::TooFewAmounts { found, needed });
        }
        self.check_given_join()?;
        if self.form != Form::Flat && self.is_flat() {
            return Err(WhyNot::NoDifferences);
        }
        let domains = self.domains();
        let leasts = match domains.len() {
            0 => vec![Least { at: Vec::new(), squares: self.squares(&[]), place: Place::Smooth }],
            1 => self.leasts_over_last(&[], &domains[0]),
            _ => on_a_plane(&domains, &|at| self.surface(at)),
        };
        let best = leasts.first().ok_or(WhyNot::NotSeparable)?.clone();
        let solved = self.at(&best.at).ok_or(WhyNot::NotSeparable)?;
        if let Place::End { coordinate, upper } = best.place {
            return Err(self.beyond(domains[coordinate].ends[usize::from(upper)]));
        }
        if let [domain] = domains.as_slice() {
            self.check_better_than_ends(domain, best.squares)?;
        }
        if self.form == Form::QuadraticPlateau && best.at[0] <= 1.0 {
            return Err(WhyNot::NoPlateau);
        }
        let kink = best.place == Place::Kink;
        Ok(Located { at: best.at, weights: solved.weights, squares: solved.squares, kink, leasts })
    }

    /// A least that is no lower than what the curve tends to at an end of its domain is no least of its own: next to an end the
    /// sum of squares can be so level that rounding turns its slope.
    fn check_better_than_ends(&self, domain: &Domain, least: f64) -> Result<(), WhyNot> {
        let places = [domain.breaks[0], domain.breaks[domain.breaks.len() - 1]];
        let rounding = 1e-9 * least + 1e-14 * dot(&self.values, &self.values);
        let is_no_better = |place: &f64| self.squares(&[*place]) - least <= rounding;
        match places.iter().position(is_no_better) {
            Some(end) => Err(self.beyond(domain.ends[end])),
            None => Ok(()),
        }
    }

    fn check_given_join(&self) -> Result<(), WhyNot> {
        let Form::BrokenLineAt { join } = self.form else { return Ok(()) };
        let join = self.range.scaled(join);
        let on_a_side = |side: &dyn Fn(f64) -> bool| self.different.iter().filter(|&&u| side(u)).count();
        let inside = on_a_side(&|u| u < join) > 0 && on_a_side(&|u| u > join) > 0;
        if inside && on_a_side(&|u| u <= join) > 1 && on_a_side(&|u| u >= join) > 1 {
            Ok(())
        } else {
            Err(WhyNot::JoinNotInside)
        }
    }

    fn beyond(&self, end: End) -> WhyNot {
        match (self.form, end) {
            (Form::Logistic | Form::LogisticFromZero, End::Step) => WhyNot::StepBetweenAmounts,
            (Form::Logistic | Form::LogisticFromZero, _) => WhyNot::NoTurn,
            (Form::Exponential, End::BeforeSecond) => WhyNot::CompleteBeforeSecondAmount,
            (Form::Exponential, _) => WhyNot::NoCurvature,
            (Form::BrokenLine, _) => WhyNot::OneAmountOnASide,
            (_, End::BeforeSecond) => WhyNot::OneAmountBelowJoin,
            _ => WhyNot::NoPlateau,
        }
    }

    /// Whether the points do not differ, to rounding.
    fn is_flat(&self) -> bool {
        let level = LeastSquares::of(&[self.points.weighed(&vec![1.0; self.u.len()])], &self.values);
        let Some(level) = level else { return true };
        let total = dot(&self.values, &self.values);
        match self.points.scatter() {
            None => level.squares <= 1e-12,
            Some((among, _)) => level.squares <= 1e-12 * among || level.squares <= 1e-26 * total,
        }
    }
}
