//! The chart of a response to amounts, filled from the curves that are told.

use guardrow_design::PlotKind;
use guardrow_findings::mid_sentence;
use guardrow_inference::{Analysis, BestAmount, CurveFit, Optimum};
use guardrow_publish::chart::{
    Axis, BestKind, BestMark, Chart, CurvePanel, CurvePoint, Figure, MeanAtAmount, PlotAtAmount, ResponseCurveChart,
};

use super::capital_first;
use super::curves::{OverAmounts, is_lowest};

/// The chart with its caption.
pub(crate) fn figure(over: &OverAmounts<'_>, analysis: &Analysis) -> Figure {
    let measure = over.measure;
    let panels: Vec<CurvePanel> = (0..over.groups.len()).map(|index| panel(over, index)).collect();
    let by = over.by.map_or(String::new(), |by| format!(", by {}", by.name));
    let title = format!("{} over {}{by}", measure.name, over.factor.name);
    let chart = ResponseCurveChart {
        description: describe(over, &panels),
        x_axis: Axis::new(capital_first(&over.factor.name), over.unit),
        y_axis: Axis::new(measure.name.clone(), measure.unit.symbol()),
        interval_text: legend(&panels, !analysis.covariates.is_empty()),
        panels,
        title: title.clone(),
    };
    Figure::new(format!("{title}: plots, means and curve."), Chart::ResponseCurve(chart))
}

fn legend(panels: &[CurvePanel], is_adjusted: bool) -> String {
    let mut parts = vec![
        if is_adjusted { "Dots: plots as measured, not adjusted." } else { "Dots: plots." },
        "Rings: means with 95 % intervals.",
    ];
    let courses = || panels.iter().flat_map(|panel| &panel.course);
    match (courses().next().is_some(), courses().any(|point| point.lower.is_some())) {
        (true, true) => parts.push("Line: fitted curve, shaded its 95 % interval at each amount."),
        (true, false) => parts.push("Line: fitted curve; its level has no error of its own here."),
        (false, _) => parts.push("No curve fits without lack of fit, so none is drawn."),
    }
    let best = || panels.iter().flat_map(|panel| &panel.best).filter(|mark| mark.has_interval);
    if best().next().is_some() {
        parts.push("Under it: best amounts with 95 % intervals.");
    }
    if best().any(|mark| mark.lower.is_none() || mark.upper.is_none()) {
        parts.push("An arrow: nothing bounds the interval there.");
    }
    parts.join(" ")
}

fn describe(over: &OverAmounts<'_>, panels: &[CurvePanel]) -> String {
    let told = panels.iter().map(|panel| {
        let of = if panel.label.is_empty() { String::new() } else { format!("{}: ", panel.label) };
        let means: Vec<String> =
            panel.means.iter().map(|mean| format!("{} at {}", mean.text, over.amount(mean.amount))).collect();
        let best: Vec<String> = panel.best.iter().map(|mark| mark.text.clone()).collect();
        let curve = if panel.curve_text.is_empty() { "no curve".to_owned() } else { panel.curve_text.clone() };
        [format!("{of}means {}", means.join(", ")), curve].into_iter().chain(best).collect::<Vec<_>>().join("; ")
    });
    format!("{}.", told.collect::<Vec<_>>().join(". "))
}

fn panel(over: &OverAmounts<'_>, index: usize) -> CurvePanel {
    let group = &over.groups[index];
    let fit = over.drawn(index);
    CurvePanel {
        label: match over.by {
            Some(by) => format!("{} {}", by.name, group.label),
            None => String::new(),
        },
        curve_text: fit.map(curve_text).unwrap_or_default(),
        plots: plots(over, &group.label),
        means: group
            .means
            .iter()
            .map(|mean| MeanAtAmount {
                amount: mean.amount,
                mean: mean.mean.estimate,
                lower: mean.mean.lower,
                upper: mean.mean.upper,
                text: over.decimals.value(mean.mean.estimate),
            })
            .collect(),
        course: fit.map(course).unwrap_or_default(),
        best: fit.map(|fit| best(over, fit)).unwrap_or_default(),
    }
}

fn curve_text(fit: &CurveFit) -> String {
    match fit.explained {
        Some(test) if test.p >= 0.05 => format!("{}, not surely better than no response", fit.form.name()),
        _ => fit.form.name().to_owned(),
    }
}

fn course(fit: &CurveFit) -> Vec<CurvePoint> {
    let point = |point: &guardrow_inference::CoursePoint| CurvePoint {
        amount: point.amount,
        value: point.response.estimate,
        lower: point.response.lower,
        upper: point.response.upper,
    };
    fit.course.iter().map(point).collect()
}

/// Every plot of the group with its value, whatever its other factors.
fn plots(over: &OverAmounts<'_>, label: &str) -> Vec<PlotAtAmount> {
    let factors = &over.laid.treatments.factors;
    let place = |name: &str| factors.iter().position(|factor| factor.name == name);
    let Some(along) = place(&over.factor.name) else { return Vec::new() };
    let by = over.by.and_then(|by| place(&by.name));
    let treatments = over.laid.treatments.treatments();
    let measure = over.measure;
    let plot = |(number, value): (&u32, &Option<f64>)| {
        let plot = over.laid.plot(*number).filter(|plot| plot.kind == PlotKind::Plot)?;
        let levels = &treatments.get(plot.treatment?)?.levels;
        let amount = over.factor.levels[*levels.get(along)?].amount?;
        let is_in = by.is_none_or(|by| factors[by].levels[levels[by]].label == label);
        let value = value.filter(|_| is_in)?;
        Some(PlotAtAmount { plot: number.to_string(), amount, value })
    };
    measure.plots.iter().zip(&measure.response).filter_map(plot).collect()
}

fn best(over: &OverAmounts<'_>, fit: &CurveFit) -> Vec<BestMark> {
    let highest = format!("highest {}", short_name(over));
    let of = |kind: BestKind, words: &str, best: &BestAmount| best.found().map(|it| mark(over, kind, words, it));
    let response = of(BestKind::Response, &highest, &fit.best);
    let economic = fit.economic.as_ref().and_then(|best| of(BestKind::Return, "highest return", best));
    response.into_iter().chain(economic).collect()
}

/// `yield` for every kind of yield: the axis has the whole name.
fn short_name(over: &OverAmounts<'_>) -> String {
    let name = mid_sentence(&over.measure.name);
    if name.to_lowercase().contains("yield") { "yield".to_owned() } else { name }
}

fn mark(over: &OverAmounts<'_>, kind: BestKind, words: &str, best: &Optimum) -> BestMark {
    let value = |amount: f64| over.amounts.value(amount);
    // For the lowest amount there is no lower end, and an upper one only where more might be best.
    let lowest = is_lowest(best);
    let interval = best.profile.filter(|it| !lowest || it.upper.is_none_or(|upper| upper > best.amount.estimate));
    let within = match interval.map(|it| (it.lower, it.upper)) {
        None if lowest => ", the lowest tested".to_owned(),
        None => String::new(),
        Some((Some(lower), Some(upper))) => format!(" ({} to {})", value(lower), value(upper)),
        Some((Some(lower), None)) => format!(" (at least {})", value(lower)),
        Some((None, Some(upper))) => format!(" (at most {})", value(upper)),
        Some((None, None)) => " (no bounds)".to_owned(),
    };
    BestMark {
        kind,
        amount: best.amount.estimate,
        lower: interval.and_then(|it| it.lower),
        upper: interval.and_then(|it| it.upper),
        has_interval: interval.is_some(),
        text: format!("{words} at {}{within}", value(best.amount.estimate)),
    }
}
