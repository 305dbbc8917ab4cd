//! Tests of the fixed terms by Wald's statistic.

use crate::fit::Fit;
use crate::model::Cells;
use crate::terms::Term;
use crate::{FTest, Notice, TermTest, TestMethod};

/// One test for every term that can be tested, with what could not.
pub(super) fn tests(fit: &Fit, terms: &[Term], cells: &Cells) -> (Vec<TermTest>, Vec<Notice>) {
    let (mut tests, mut notices) = (Vec::new(), Vec::new());
    for term in terms {
        let comparisons = term.comparisons(cells);
        let label = term.label.clone();
        let (df, full_df) = (comparisons.rows.len() as f64, comparisons.full_df as f64);
        let test = if comparisons.rows.is_empty() { None } else { fit.f_test_of_cells(&comparisons.rows).ok() };
        match test {
            None => notices.push(Notice::NotTestable { term: label }),
            Some(FTest { num_df, den_df, f, p }) => {
                if df < full_df {
                    notices.push(Notice::TestedInPart { term: label.clone(), df, full_df });
                }
                let (term, method) = (term.names.clone(), TestMethod::Wald);
                tests.push(TermTest { term, label, stratum: None, num_df, den_df, f, p, method });
            }
        }
    }
    (tests, notices)
}
