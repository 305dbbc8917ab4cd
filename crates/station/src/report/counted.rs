//! What is told of counts, shares and scores beside tests and means.

use guardrow_inference::generalised::{FittedObservation, Link, ProportionLink};
use guardrow_inference::ordinal::FittedScore;
use guardrow_inference::{DiscreteAnalysis, DiscreteFit, Residual};
use guardrow_publish::report::{Column, Notice, NoticeLevel, Row, Table};

use super::notices::level;
use super::numbers::{Decimals, df, four_digits};
use crate::analysed::Analysed;

/// The notices of an analysis of counts; that there is none, when it failed and the plain analysis stands alone.
pub(crate) fn notices(measure: &Analysed) -> Vec<Notice> {
    match &measure.discrete {
        None => Vec::new(),
        Some(Err(error)) => vec![Notice {
            level: NoticeLevel::Warning,
            text: format!(
                "The values could not be analysed as what they are, so they are taken as plain numbers: {}",
                measure.words(error)
            ),
        }],
        Some(Ok(discrete)) => {
            let of = |notice: &guardrow_inference::Notice| Notice { level: level(notice), text: notice.sentence() };
            let is_told = |notice: &&guardrow_inference::Notice| {
                !matches!(notice, guardrow_inference::Notice::MissingPlots { .. })
            };
            let mut notices: Vec<Notice> = discrete.notices.iter().filter(is_told).map(of).collect();
            if let DiscreteFit::Counted(fit) = &discrete.fit {
                let advice = fit.overdispersion.advice;
                let level = if advice.calls_for_a_look() { NoticeLevel::Warning } else { NoticeLevel::Technical };
                notices.push(Notice { level, text: advice.sentence().to_owned() });
            }
            notices.sort_by_key(|notice| matches!(notice.level, NoticeLevel::Technical));
            notices
        }
    }
}

/// How the numbers were made, and how much units vary.
pub(crate) fn sentences(discrete: &DiscreteAnalysis, unit: &str) -> Vec<String> {
    let scale = match discrete.link {
        Link::Log => "logarithms",
        Link::Proportion(ProportionLink::Logit) => "log odds",
        Link::Proportion(ProportionLink::Probit) => "normal deviates",
        Link::Proportion(ProportionLink::ComplementaryLogLog) => "complementary log-logs",
    };
    let mut sentences = vec![
        discrete.model.clone(),
        format!(
            "Means are those of plots of middling effect{}; p and letters come from the scale of {scale}, \
             differences and their intervals are told in {unit} (delta method).",
            if discrete.has_error_df { ", with the error degrees of freedom of the layout" } else { "" },
            unit = if unit.is_empty() { "the values' own unit" } else { unit },
        ),
    ];
    let varying: Vec<String> =
        discrete.components.iter().map(|unit| format!("{} {}", unit.name, four_digits(unit.sd))).collect();
    if !varying.is_empty() {
        sentences.push(format!("Standard deviations between units, in {scale}: {}.", varying.join(", ")));
    }
    sentences
}

/// Treatments in which nothing or everything was counted.
pub(crate) fn at_edge(discrete: &DiscreteAnalysis, unit: &str, decimals: Decimals) -> Option<Table> {
    if discrete.at_edge.is_empty() {
        return None;
    }
    let interval = format!("{} % interval", df(100.0 * (1.0 - discrete.level)));
    let mut table = Table::new(
        "All at one end",
        vec![
            Column::left("Treatment"),
            Column::right("Observed").with_unit(unit),
            Column::right(&interval).with_unit(unit),
        ],
    );
    for mean in &discrete.at_edge {
        let observed = decimals.value(mean.mean);
        let interval = mean.lower.zip(mean.upper).map(|(low, high)| decimals.interval(low, high)).unwrap_or_default();
        table.push(Row::plain([mean.label.clone(), observed, interval]));
    }
    table.notes.push(
        "Nothing or everything was counted in these (or one end of the scale scored), so no model can place them; intervals are \
         the exact ones of the counts taken together, as if plots did not differ."
            .to_owned(),
    );
    Some(table)
}

/// What is left of every plot, in the form in which charts take residuals, with what it is measured in: for counts and shares
/// Pearson residuals against what was expected (shares in percent), for scores the chance of a lower score less that of a
/// higher against the place on the hidden scale.
pub(crate) fn residuals(discrete: &DiscreteAnalysis) -> (Vec<Residual>, &'static str) {
    let plots = discrete.plots_used + discrete.plots_missing.len();
    let used = (0..plots).filter(|plot| !discrete.plots_missing.contains(plot));
    match &discrete.fit {
        DiscreteFit::Counted(fit) => {
            let of = |(plot, it): (usize, &FittedObservation)| Residual {
                plot,
                fitted: it.trials.map_or(it.fitted, |trials| 100.0 * it.fitted / trials),
                residual: it.pearson,
                standardised: it.pearson,
            };
            (used.zip(&fit.observations).map(of).collect(), "SD of counting")
        }
        DiscreteFit::Scored(fit) => {
            let of = |(plot, it): (usize, &FittedScore)| {
                let (fitted, residual) = (it.predictor?, it.residual?);
                Some(Residual { plot, fitted, residual, standardised: residual })
            };
            (used.zip(&fit.observations).filter_map(of).collect(), "chance lower less higher")
        }
    }
}
