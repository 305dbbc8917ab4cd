//! What a measure was adjusted for, in a sentence for each covariate.

use guardrow_inference::{Analysis, CovariateResult};

use super::numbers::{df, f_ratio, four_digits, p_value};

/// One sentence for every covariate: the slope, where the means are given, and whether slopes are alike.
pub(crate) fn adjusted(analysis: &Analysis, unit: &str) -> Vec<String> {
    analysis.covariates.iter().map(|covariate| sentence(covariate, unit)).collect()
}

fn sentence(covariate: &CovariateResult, unit: &str) -> String {
    let own = covariate.unit.as_deref().filter(|unit| !unit.is_empty());
    let with_unit = |value: f64| match own {
        Some(own) => format!("{} {own}", four_digits(value)),
        None => four_digits(value),
    };
    let slope = covariate.slope.zip(covariate.p).map(|(slope, p)| {
        let per = own.map_or_else(|| "unit of it".to_owned(), str::to_owned);
        format!(
            "; slope {} (SE {}) {unit} per {per}, p {}",
            four_digits(slope.estimate),
            four_digits(slope.se),
            p_value(p)
        )
    });
    let parallel = covariate.parallel.map(|test| {
        format!(
            "; slopes of the treatments alike: F {} on {} and {} df, p {}",
            f_ratio(test.f),
            df(test.num_df),
            df(test.den_df),
            p_value(test.p)
        )
    });
    format!(
        "Means are given at {} {}{}{}.",
        covariate.name.to_lowercase(),
        with_unit(covariate.mean),
        slope.unwrap_or_default(),
        parallel.unwrap_or_default()
    )
}
