//! Notices of an analysis: first what changes how the numbers may be read, after the charts how they were computed.

use guardrow_inference::{Analysis, Notice as Found};
use guardrow_publish::report::{Notice, NoticeLevel};

/// The notices, those that matter most first; nothing is said twice.
pub(crate) fn notices(analysis: &Analysis) -> Vec<Notice> {
    let mut notices: Vec<Notice> = analysis
        .notices
        .iter()
        .filter(|notice| !is_said_elsewhere(notice, analysis))
        .map(|notice| Notice { level: level(notice), text: sentence(notice, analysis) })
        .collect();
    let difference = analysis.difference_between_methods.clone();
    notices.extend(difference.map(|text| Notice { level: NoticeLevel::Technical, text }));
    // The sort is stable: within a level they keep the order of the analysis.
    notices.sort_by_key(|notice| match notice.level {
        NoticeLevel::Warning => 0,
        NoticeLevel::Remark => 1,
        NoticeLevel::Technical => 2,
    });
    notices
}

/// A notice is technical when it tells how a number came about and no reader would act otherwise for it.
pub(super) fn level(notice: &Found) -> NoticeLevel {
    match notice {
        Found::OneUnit { .. }
        | Found::SameUnits { .. }
        | Found::NegativeVariance { .. }
        | Found::VarianceAtZero { .. }
        | Found::VarianceNotSeparable { .. }
        | Found::InteractionIsUnits { .. }
        | Found::ErrorIsSum { .. }
        | Found::PlotVarianceNotSeen { .. }
        | Found::CountsVaryAsPoisson
        | Found::SecondMethodFailed { .. } => NoticeLevel::Technical,
        _ => NoticeLevel::Warning,
    }
}

/// Missing plots stand above the notices, by their numbers. A variance at zero is told once: by the sentence on what the
/// two methods make of it, or else together with its estimate from the mean squares.
fn is_said_elsewhere(notice: &Found, analysis: &Analysis) -> bool {
    match notice {
        Found::MissingPlots { .. } => true,
        Found::VarianceAtZero { stratum } => tells_zero(analysis, stratum),
        Found::NegativeVariance { stratum } => tells_zero(analysis, stratum) || is_at_zero(analysis, stratum),
        _ => false,
    }
}

/// Whether the sentence on the two methods names this variance as held at zero.
fn tells_zero(analysis: &Analysis, stratum: &str) -> bool {
    analysis.difference_between_methods.is_some() && is_at_zero(analysis, stratum)
}

fn is_at_zero(analysis: &Analysis, stratum: &str) -> bool {
    analysis.notices.iter().any(|notice| matches!(notice, Found::VarianceAtZero { stratum: at } if at == stratum))
}

fn sentence(notice: &Found, analysis: &Analysis) -> String {
    match notice {
        Found::VarianceAtZero { stratum } if is_negative(analysis, stratum) => format!(
            "The variance of '{stratum}' is estimated at zero in the mixed model, and from the mean squares it would be \
             negative; its mean square is still the error of its stratum."
        ),
        notice => notice.sentence(),
    }
}

fn is_negative(analysis: &Analysis, stratum: &str) -> bool {
    analysis.notices.iter().any(|notice| matches!(notice, Found::NegativeVariance { stratum: at } if at == stratum))
}
