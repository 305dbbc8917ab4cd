//! Combinations that were lost everywhere, until nothing of a term can be compared.

use crate::{change, factor, randomised_blocks, run, split_plot, structure};
use guardrow_inference::{FixedUnitsWhen, InferenceError, Notice, Options, analyse};

#[test]
fn one_of_two_by_two_combinations_lost_leaves_three_treatments_and_no_factorial() {
    let lost = change(randomised_blocks(4, 3), |it| {
        it.treatments = structure(&[("a", 2), ("b", 2)]);
        (0..12).filter(|plot| plot % 4 == 0).for_each(|plot| it.response[plot] = None);
    });
    let options = Options { fixed_units: FixedUnitsWhen::Always, ..Options::default() };
    let analysis = analyse(&lost, &options).unwrap();
    for term in ["a", "b", "a x b"] {
        assert!(analysis.notices.contains(&Notice::NotTestable { term: term.into() }), "{:?}", analysis.notices);
        assert!(!analysis.tests.iter().any(|test| test.label == term));
    }
    // before, the table of the fixed analysis had these terms with no degrees of freedom and no number
    let fixed = analysis.fixed_units.unwrap();
    assert_eq!(fixed.marginal, []);
    assert_eq!((fixed.treatments.df, fixed.residual_df), (2.0, 4.0));
}

#[test]
fn a_factor_with_one_level_compares_nothing() {
    let one = change(randomised_blocks(4, 3), |it| it.treatments.factors.push(factor("b", 1)));
    assert_eq!(run(&one), Err(InferenceError::TooFewLevels { factor: "b".into() }));
}

#[test]
fn a_level_lost_everywhere_is_named_and_the_others_are_compared() {
    let lost = change(split_plot(4, 3, 4), |it| {
        (0..48).filter(|plot| plot % 4 == 3).for_each(|plot| it.response[plot] = None);
    });
    let analysis = run(&lost).unwrap();
    let cell = |table: &str, cell: &str| Notice::MeanNotEstimable { table: table.into(), cell: cell.into() };
    assert!(analysis.notices.contains(&cell("b", "b4")), "{:?}", analysis.notices);
    assert_eq!(analysis.table(&["b"]).unwrap().pairs.len(), 3);
}
