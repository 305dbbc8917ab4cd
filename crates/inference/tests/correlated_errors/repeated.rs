//! Plots visited on several days: correlated occasions, variances of their own, and Kenward and Roger's correction.
//!
//! Source: `tests/reference/repeated-measures/make_values.R` with R 4.2.2: nlme 3.1-162 with tight tolerances, and dense REML whose
//! correction rests on numerical derivatives (good to about 1e-7) in other coordinates than the program works in.

use crate::case::{Case, close, near};
use guardrow_inference::Covariate;
use guardrow_inference::correlated_errors::{Axis, CorrelatedAnalysis, Groups, Observations, Part, Unit, fit};

/// REML estimates of another program's search.
const COMPONENT: f64 = 1e-4;

struct Trial {
    case: Case,
    cells: Vec<String>,
}

impl Trial {
    fn open() -> Self {
        let case = Case::open("repeated-measures");
        let cells = case.classes(&["treatment", "occasion"]).0;
        Self { case, cells }
    }

    fn observations(&self) -> Observations {
        let (cells, cell) = self.case.classes(&["treatment", "occasion"]);
        Observations::new(self.case.numbers("y"), cell, cells.len())
    }

    fn blocks(&self) -> Part {
        Part::units("block", self.case.classes(&["block"]).1)
    }

    fn along(&self, axis: Axis) -> Part {
        Part::along("plot", Unit::Classes(self.case.classes(&["plot"]).1), vec![axis])
    }

    fn occasions(&self) -> Axis {
        Axis::steps("occasion", self.case.numbers("occasion"))
    }

    fn days(&self) -> Axis {
        Axis::decay("day", self.case.numbers("day"))
    }

    fn by_occasion(&self) -> Groups {
        let (labels, group) = self.case.classes(&["occasion"]);
        Groups { labels, group }
    }

    /// Fixed effects of the blocks.
    fn block_columns(&self) -> Vec<Covariate> {
        let block = self.case.numbers("block");
        let column = |which: i32| Covariate {
            name: format!("block {which}"),
            unit: None,
            values: block.iter().map(|it| Some(f64::from(u8::from(*it == f64::from(which))))).collect(),
        };
        (2..=5).map(column).collect()
    }

    /// The comparisons of the script: weights over the cells by name.
    fn comparisons(&self) -> [(&'static str, Vec<f64>); 3] {
        let weights = |of: &dyn Fn(&str) -> f64| self.cells.iter().map(|cell| of(cell)).collect::<Vec<f64>>();
        let between = |plus: &str, minus: &str, share: f64| {
            weights(&|cell| {
                if cell.starts_with(plus) {
                    share
                } else if cell.starts_with(minus) {
                    -share
                } else {
                    0.0
                }
            })
        };
        [
            ("last_day", between("a:5", "d:5", 1.0)),
            ("all_days", between("a:", "d:", 0.2)),
            ("two_days", between("b:5", "b:1", 1.0)),
        ]
    }

    fn check(&self, analysis: &CorrelatedAnalysis, path: &str) {
        let log_likelihood = self.case.number(&format!("{path}/reml_loglik"));
        near(analysis.model.reml_log_likelihood, log_likelihood, 1e-6, "log-likelihood");
        assert!(analysis.model.edges.is_empty() && analysis.model.evidence.gradient < 1e-5);
        let means = analysis.means();
        for (name, weights) in self.comparisons() {
            let golden = |at: usize| self.case.number(&format!("{path}/{name}/{at}"));
            let estimate: f64 = weights.iter().zip(&means).map(|(weight, mean)| weight * mean).sum();
            near(estimate, golden(0), 1e-5 * golden(1), name);
            close(analysis.plain_variance(&weights).sqrt(), golden(1), 1e-5, name);
        }
    }

    /// Standard errors and degrees of freedom with Kenward and Roger's correction.
    fn check_corrected(&self, analysis: &CorrelatedAnalysis, path: &str) {
        let fit = analysis.fit(self.cells.clone());
        for (name, weights) in self.comparisons() {
            let golden = |at: usize| self.case.number(&format!("{path}/{name}/{at}"));
            let found = fit.contrast(&weights).unwrap();
            close(found.se, golden(2), 1e-5, name);
            close(found.df, golden(3), 1e-4, name);
            // the correction is many times larger than the tolerance
            assert!((golden(2) / golden(1) - 1.0).abs() > 1e-4, "{name} shows nothing");
        }
    }
}

fn variances(analysis: &CorrelatedAnalysis, name: &str) -> Vec<f64> {
    let part = analysis.model.parts.iter().find(|part| part.name == name).expect("the part is there");
    part.variances.iter().map(|it| it.variance).collect()
}

fn correlation(analysis: &CorrelatedAnalysis) -> f64 {
    let axes = &analysis.model.parts.iter().find(|part| part.name == "plot").expect("the part is there").axes;
    axes[0].correlation.expect("it was estimated")
}

fn check_list(found: &[f64], golden: &[serde_json::Value], what: &str) {
    assert_eq!(found.len(), golden.len());
    found.iter().zip(golden).for_each(|(found, golden)| close(*found, golden.as_f64().unwrap(), COMPONENT, what));
}

#[test]
fn autoregression_over_occasions_and_decay_over_days() {
    let trial = Trial::open();
    for (axis, path) in [(trial.occasions(), "/nlme/autoregression"), (trial.days(), "/nlme/decay")] {
        let analysis = fit(&trial.observations(), vec![trial.blocks(), trial.along(axis)]).unwrap();
        let golden = |name: &str| trial.case.number(&format!("{path}/{name}"));
        close(variances(&analysis, "block")[0], golden("block"), COMPONENT, "block");
        close(variances(&analysis, "plot")[0], golden("variance"), COMPONENT, "variance");
        close(correlation(&analysis), golden("rho"), COMPONENT, "rho");
        trial.check(&analysis, path);
    }
}

#[test]
fn a_variance_for_each_occasion() {
    let trial = Trial::open();
    let parts = vec![trial.blocks(), Part::residual().with_variances_by(trial.by_occasion())];
    let analysis = fit(&trial.observations(), parts).unwrap();
    let path = "/nlme/variance_by_occasion";
    close(variances(&analysis, "block")[0], trial.case.number(&format!("{path}/block")), COMPONENT, "block");
    check_list(&variances(&analysis, "residual"), trial.case.list(&format!("{path}/variances")), "variance");
    trial.check(&analysis, path);
}

#[test]
fn autoregression_with_a_variance_for_each_occasion_among_fixed_blocks() {
    let trial = Trial::open();
    let observations = Observations { columns: trial.block_columns(), ..trial.observations() };
    let parts = vec![trial.along(trial.occasions()).with_variances_by(trial.by_occasion())];
    let analysis = fit(&observations, parts).unwrap();
    for path in ["/nlme/autoregression_and_variances", "/dense/autoregression_and_variances"] {
        trial.check(&analysis, path);
    }
    let path = "/nlme/autoregression_and_variances";
    check_list(&variances(&analysis, "plot"), trial.case.list(&format!("{path}/variances")), "variance");
    close(correlation(&analysis), trial.case.number(&format!("{path}/rho")), COMPONENT, "rho");
    trial.check_corrected(&analysis, "/dense/autoregression_and_variances");
}

#[test]
fn decay_over_days_with_independent_errors() {
    let trial = Trial::open();
    let parts = vec![trial.blocks(), trial.along(trial.days()), Part::residual()];
    let analysis = fit(&trial.observations(), parts).unwrap();
    let path = "/dense/decay_and_independent";
    let found = [
        variances(&analysis, "block")[0],
        variances(&analysis, "plot")[0],
        correlation(&analysis),
        variances(&analysis, "residual")[0],
    ];
    check_list(&found, trial.case.list(&format!("{path}/theta")), "component");
    trial.check(&analysis, path);
    trial.check_corrected(&analysis, path);
}
