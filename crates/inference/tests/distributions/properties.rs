//! What holds for any arguments: tails sum to one, fall as they must, mirror each other, and quantiles undo them.

use guardrow_inference::distribution::*;
use proptest::prelude::*;

/// Degrees of freedom over nine orders of size.
fn df() -> impl Strategy<Value = f64> {
    (-1.0..8.0_f64).prop_map(|power| 10_f64.powf(power))
}

/// Positive values over many orders of size.
fn positive() -> impl Strategy<Value = f64> {
    (-6.0..4.0_f64).prop_map(|power| 10_f64.powf(power))
}

/// Both tails of a distribution at a point.
type Tails = Box<dyn Fn(f64) -> (f64, f64)>;

fn of_positive(a: f64, b: f64, lambda: f64) -> Vec<(&'static str, Tails)> {
    vec![
        ("F", Box::new(move |x| (f_lower(x, a, b), f_upper(x, a, b)))),
        ("chi-square", Box::new(move |x| (chi_square_lower(x * a, a), chi_square_upper(x * a, a)))),
        ("gamma", Box::new(move |x| (gamma_lower(x * a, a), gamma_upper(x * a, a)))),
        ("beta", Box::new(move |x| (beta_lower(x / (1.0 + x), a, b), beta_upper(x / (1.0 + x), a, b)))),
        ("noncentral F", Box::new(move |x| (noncentral_f_lower(x, a, b, lambda), noncentral_f_upper(x, a, b, lambda)))),
    ]
}

fn of_any(df: f64, delta: f64) -> Vec<(&'static str, Tails)> {
    vec![
        ("normal", Box::new(|z| (normal_lower(z), normal_upper(z)))),
        ("t", Box::new(move |t| (t_lower(t, df), t_upper(t, df)))),
        ("noncentral t", Box::new(move |t| (noncentral_t_lower(t, df, delta), noncentral_t_upper(t, df, delta)))),
    ]
}

fn check(tails: &[(&'static str, Tails)], at: f64, further: f64) -> Result<(), TestCaseError> {
    for (name, tails) in tails {
        let ((lower, upper), (lower_further, upper_further)) = (tails(at), tails(further));
        prop_assert!((lower + upper - 1.0).abs() < 2e-12, "{name} at {at}: {lower} + {upper}");
        // up to rounding of either value
        prop_assert!(
            lower_further >= lower * (1.0 - 1e-11),
            "{name}: lower {lower} at {at}, {lower_further} at {further}"
        );
        prop_assert!(
            upper_further <= upper * (1.0 + 1e-11),
            "{name}: upper {upper} at {at}, {upper_further} at {further}"
        );
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn tails_of_positive_variables(a in df(), b in df(), lambda in positive(), at in positive(), more in 1e-6..3.0_f64) {
        check(&of_positive(a, b, lambda), at, at * (1.0 + more))?;
    }

    #[test]
    fn tails_of_any_variable(df in df(), delta in -40.0..40.0_f64, at in -60.0..60.0_f64, more in 1e-6..20.0_f64) {
        check(&of_any(df, delta), at, at + more)?;
    }

    #[test]
    fn mirrored(df in df(), delta in -20.0..20.0_f64, t in -30.0..30.0_f64, a in df(), b in df(), f in positive()) {
        prop_assert_eq!(t_lower(t, df), t_upper(-t, df));
        prop_assert_eq!(noncentral_t_log_lower(t, df, delta), noncentral_t_log_upper(-t, df, -delta));
        let (one, other) = (f_log_upper(f, a, b), f_log_lower(1.0 / f, b, a));
        prop_assert!((one - other).abs() <= 1e-9 * one.abs().max(1e-3), "{} {}", one, other);
    }

    // The square of a t is an F, also when both have noncentrality.
    #[test]
    fn squares_of_t_are_f(df in df(), delta in 0.0..9.0_f64, t in 0.01..20.0_f64) {
        let two_sided = t_two_sided(t, df);
        prop_assert!((f_upper(t * t, 1.0, df) / two_sided - 1.0).abs() < 1e-9);
        let both = noncentral_t_upper(t, df, delta) + noncentral_t_lower(-t, df, delta);
        prop_assert!((noncentral_f_upper(t * t, 1.0, df, delta * delta) / both - 1.0).abs() < 1e-9);
    }

    #[test]
    fn quantiles_undo_tails(p in 1e-12..1.0_f64, a in df(), b in df()) {
        let near = |found: f64| (found / p - 1.0).abs() < 1e-9;
        prop_assert!(near(f_lower(f_quantile(p, a, b), a, b)));
        prop_assert!(near(f_upper(f_quantile_of_upper(p, a, b), a, b)));
        prop_assert!(near(chi_square_lower(chi_square_quantile(p, a), a)));
        prop_assert!(near(t_lower(t_quantile(p, a), a)));
        prop_assert!(near(normal_lower(normal_quantile(p))));
        prop_assert!(near(normal_upper(normal_quantile_of_upper(p))));
    }

    #[test]
    fn the_more_compared_the_larger_the_largest(means in 2..80_usize, q in 0.0..12.0_f64, df in 1.0..300.0_f64, more in 0.001..2.0_f64) {
        let (few, many) = (StudentisedRange::of(means), StudentisedRange::of(means + 1));
        let here = few.upper(q, df);
        prop_assert!((0.0..=1.0).contains(&here));
        prop_assert!(many.upper(q, df) >= here - 1e-9);
        prop_assert!(few.upper(q + more, df) <= here + 1e-9);
        // Bonferroni's bound over all pairs
        let pairs = (means * (means - 1)) as f64 / 2.0;
        prop_assert!(here <= pairs * t_two_sided(q / std::f64::consts::SQRT_2, df) + 1e-9);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn dunnett_lies_between_one_comparison_and_all_apart(lambda in prop::collection::vec(0.05..0.9_f64, 2..9), t in 0.1..6.0_f64, df in 1.0..200.0_f64) {
        let joint = Dunnett::with(&lambda);
        let (one, found) = (t_two_sided(t, df), joint.upper(t, df));
        prop_assert!(found >= one - 1e-9 && found <= lambda.len() as f64 * one + 1e-9);
        let one_sided = Dunnett::with_factors(&lambda, Sides::Upper);
        prop_assert!(one_sided.upper(t, df) <= found + 1e-9);
        let critical = joint.quantile_of_upper(0.05, df);
        prop_assert!((joint.upper(critical, df) - 0.05).abs() < 1e-9);
    }
}

// The order of the comparisons does not matter, nor whether a correlation matrix of product form comes as a matrix.
#[test]
fn correlations_of_product_form_are_recognised() {
    let lambda = [0.8, -0.3, 0.55, 0.7];
    let matrix: Vec<Vec<f64>> =
        (0..4).map(|i| (0..4).map(|j| if i == j { 4.0 } else { 4.0 * lambda[i] * lambda[j] }).collect()).collect();
    for sides in [Sides::Both, Sides::Upper] {
        let (as_matrix, as_factors) =
            (Dunnett::with_covariance(&matrix, sides).unwrap(), Dunnett::with_factors(&lambda, sides));
        assert!(as_matrix.is_product_form());
        for t in [0.5, 2.0, 4.0] {
            assert!((as_matrix.upper(t, 11.0) - as_factors.upper(t, 11.0)).abs() < 1e-9, "{t}");
        }
    }
}

#[test]
fn differences_that_follow_from_others_are_refused() {
    // c = a - b
    let matrix = [[2.0, 1.0, 1.0], [1.0, 2.0, -1.0], [1.0, -1.0, 2.0]].map(|row| row.to_vec());
    assert!(Dunnett::with_covariance(&matrix, Sides::Both).is_none());
    assert!(Dunnett::with_covariance(&[vec![1.0, f64::NAN], vec![f64::NAN, 1.0]], Sides::Both).is_none());
    assert!(Dunnett::with_covariance(&[vec![0.0]], Sides::Both).is_none());
}
