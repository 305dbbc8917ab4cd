//! The distributions against values computed another way, closed forms, and properties that hold for any arguments.

mod classical;
mod multivariate;
mod noncentral;
mod properties;
mod reference;

use guardrow_inference::distribution::*;

// Closed forms: t with 1 df is Cauchy, F with 2 numerator df has upper tail (1 + 2f/b)^(-b/2), chi-square with 2 df is exponential,
// the range of two means is sqrt(2) |t|.
#[test]
fn closed_forms() {
    for x in [0.01_f64, 0.5, 3.0, 1e4, 1e9] {
        let cauchy = (1.0 / x).atan() / std::f64::consts::PI;
        assert!((t_upper(x, 1.0) / cauchy - 1.0).abs() < 1e-12, "{x}");
        assert!((f_upper(x, 2.0, 7.0) / (1.0 + 2.0 * x / 7.0).powf(-3.5) - 1.0).abs() < 1e-12, "{x}");
        assert!((chi_square_upper(x.min(900.0), 2.0) / (-0.5 * x.min(900.0)).exp() - 1.0).abs() < 1e-12, "{x}");
        let pair = StudentisedRange::of(2).upper(x * 2.0_f64.sqrt(), 9.0);
        assert!((pair / t_two_sided(x, 9.0) - 1.0).abs() < 1e-12, "{x}");
    }
}

// Infinite degrees of freedom are the limit of many.
#[test]
fn infinite_degrees_of_freedom() {
    for x in [0.3, 1.0, 2.7] {
        assert!((t_upper(x, 1e13) / t_upper(x, f64::INFINITY) - 1.0).abs() < 1e-11);
        assert_eq!(t_upper(x, f64::INFINITY), normal_upper(x));
        assert!((f_upper(x, 3.0, 1e13) / f_upper(x, 3.0, f64::INFINITY) - 1.0).abs() < 1e-11);
        assert!((f_upper(x, 1e13, 3.0) / f_upper(x, f64::INFINITY, 3.0) - 1.0).abs() < 1e-11);
        let range = StudentisedRange::of(6);
        assert!((range.upper(x, 1e12) / range.upper(x, f64::INFINITY) - 1.0).abs() < 1e-9);
        let many = noncentral_t_upper(x, 1e12, 1.0) / noncentral_t_upper(x, f64::INFINITY, 1.0);
        assert!((many - 1.0).abs() < 1e-10);
    }
    assert_eq!(f_upper(0.9, f64::INFINITY, f64::INFINITY), 1.0);
    assert_eq!(f_upper(1.1, f64::INFINITY, f64::INFINITY), 0.0);
}

#[test]
fn arguments_that_make_no_sense_give_nan_and_never_panic() {
    for odd in [f64::NAN, -1.0, 2.0, f64::INFINITY] {
        assert!(t_quantile(odd, 5.0).is_nan());
        assert!(f_quantile(odd, 2.0, 5.0).is_nan());
        assert!(chi_square_quantile(odd, 5.0).is_nan());
        assert!(gamma_quantile_of_upper(odd, 5.0).is_nan());
        assert!(beta_quantile(odd, 5.0, 1.0).is_nan());
        assert!(normal_quantile(odd).is_nan());
        assert!(noncentral_t_quantile(odd, 5.0, 1.0).is_nan());
        assert!(noncentral_f_quantile(odd, 5.0, 4.0, 1.0).is_nan());
        assert!(StudentisedRange::of(5).quantile_of_upper(odd, 10.0).is_nan());
    }
    for df in [f64::NAN, 0.0, -3.0] {
        assert!(t_quantile(0.4, df).is_nan());
        assert!(t_upper(0.4, df).is_nan());
        assert!(f_upper(0.4, df, 3.0).is_nan());
        assert!(f_upper(0.4, 3.0, df).is_nan());
        assert!(chi_square_upper(0.4, df).is_nan());
        assert!(noncentral_t_upper(0.4, df, 1.0).is_nan());
        assert!(noncentral_f_upper(0.4, 3.0, df, 1.0).is_nan());
        assert!(StudentisedRange::of(5).upper(3.0, df).is_nan());
        assert!(Dunnett::with(&[0.5, 0.5]).upper(2.0, df).is_nan());
        assert!(Dunnett::with(&[0.5, 0.5]).quantile_of_upper(0.05, df).is_nan());
    }
    for lambda in [f64::NAN, -1.0, f64::INFINITY] {
        assert!(noncentral_f_upper(0.4, 3.0, 5.0, lambda).is_nan());
    }
    for x in [f64::NEG_INFINITY, -5.0, 0.0] {
        assert_eq!((f_lower(x, 2.0, 3.0), f_upper(x, 2.0, 3.0)), (0.0, 1.0));
        assert_eq!((beta_lower(x, 2.0, 3.0), beta_upper(x, 2.0, 3.0)), (0.0, 1.0));
        assert_eq!((noncentral_f_lower(x, 2.0, 3.0, 1.0), noncentral_f_upper(x, 2.0, 3.0, 1.0)), (0.0, 1.0));
    }
    assert_eq!((f_lower(f64::INFINITY, 2.0, 3.0), f_upper(f64::INFINITY, 2.0, 3.0)), (1.0, 0.0));
    assert_eq!((chi_square_lower(f64::INFINITY, 2.0), chi_square_upper(f64::INFINITY, 2.0)), (1.0, 0.0));
    assert_eq!((beta_lower(1.0, 2.0, 3.0), beta_upper(1.5, 2.0, 3.0)), (1.0, 0.0));
    assert_eq!(StudentisedRange::of(5).upper(f64::INFINITY, 10.0), 0.0);
    assert_eq!(t_upper(f64::INFINITY, 10.0), 0.0);
    assert_eq!(t_quantile(0.0, 3.0), f64::NEG_INFINITY);
    assert_eq!(f_quantile(1.0, 3.0, 4.0), f64::INFINITY);
    // Degrees of freedom so few that no one has them, and so many that no one needs them.
    for df in [1e-3, 1e-1, 1e15, 1e300] {
        for t in [1e-300, 1e-3, 1.0, 1e3, 1e300] {
            assert!((0.0..=0.5).contains(&t_upper(t, df)), "{t} {df}");
            assert!((0.0..=1.0).contains(&f_upper(t, df, 4.0)), "{t} {df}");
            assert!((0.0..=1.0).contains(&f_upper(t, 4.0, df)), "{t} {df}");
            assert!((0.0..=1.0).contains(&chi_square_upper(t, df)), "{t} {df}");
            assert!((0.0..=1.0).contains(&noncentral_t_upper(t, df, 3.0)), "{t} {df}");
        }
    }
}
