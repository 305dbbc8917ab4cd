//! Small charts, drawn once and kept: a change of the drawing shows as a change of the snapshot.

use guardrow_publish::chart::{
    Axis, BestKind, BestMark, Chart, CurvePanel, CurvePoint, Difference, DifferencesChart, InteractionChart,
    InteractionLine, InteractionPoint, MeanAtAmount, MeanPoint, MeansChart, PlotAtAmount, Residual, ResidualChart,
    ResponseCurveChart, Width, draw,
};
use guardrow_publish::map::{ColourBy, MapPlot, MapView};
use guardrow_publish::report::{Verdict, VerdictKind};

fn mean(label: &str, mean: f64) -> MeanPoint {
    MeanPoint {
        label: label.into(),
        mean,
        lower: mean - 0.2,
        upper: mean + 0.2,
        text: format!("{mean:.1}"),
        ..MeanPoint::default()
    }
}

#[test]
fn means() {
    let chart = MeansChart {
        title: "Yield".into(),
        description: "Two means.".into(),
        axis: Axis::new("Yield", "t/ha"),
        rows: vec![mean("with", 2.4), mean("without", 2.0)],
        interval_text: "Bars: 95 % intervals.".into(),
    };
    insta::assert_snapshot!(draw(&Chart::Means(chart), Width::Page));
}

#[test]
fn differences() {
    let row = Difference {
        label: "with − without".into(),
        estimate: 0.4,
        lower_95: -0.1,
        upper_95: 0.9,
        lower_90: 0.0,
        upper_90: 0.8,
        text: "+0.4 (−0.1 to 0.9)".into(),
        verdict: Verdict { kind: VerdictKind::Undecided, word: "undecided".into() },
    };
    let chart = DifferencesChart {
        title: "Difference".into(),
        axis: Axis::new("Difference", "t/ha"),
        margin: Some(0.3),
        margin_text: "margin 0.3".into(),
        below_zero: "against".into(),
        above_zero: "as claimed".into(),
        rows: vec![row],
        interval_text: "Thick 90 %, thin 95 %.".into(),
        ..DifferencesChart::default()
    };
    insta::assert_snapshot!(draw(&Chart::Differences(chart), Width::Page));
}

#[test]
fn interaction() {
    let point = |x: f64, mean: f64| InteractionPoint {
        x,
        mean,
        lower: mean - 0.1,
        upper: mean + 0.1,
        text: format!("{mean:.1}"),
    };
    let line = |label: &str, points: &[(f64, f64)]| InteractionLine {
        label: label.into(),
        points: points.iter().map(|&(x, mean)| point(x, mean)).collect(),
    };
    let chart = InteractionChart {
        title: "Rate by time".into(),
        x_axis: Axis::new("Rate", "kernels/m²"),
        y_axis: Axis::new("Yield", "t/ha"),
        lines: vec![line("early", &[(100.0, 1.4), (200.0, 1.8)]), line("late", &[(100.0, 1.4), (200.0, 1.5)])],
        interval_text: "Bars: 95 % intervals.".into(),
        ..InteractionChart::default()
    };
    insta::assert_snapshot!(draw(&Chart::Interaction(chart), Width::Phone));
}

fn curve() -> ResponseCurveChart {
    let mean = |amount: f64, mean: f64| MeanAtAmount {
        amount,
        mean,
        lower: Some(mean - 0.5),
        upper: Some(mean + 0.5),
        text: format!("{mean:.1}"),
    };
    let point =
        |amount: f64, value: f64| CurvePoint { amount, value, lower: Some(value - 0.3), upper: Some(value + 0.3) };
    let best = BestMark {
        kind: BestKind::Response,
        amount: 110.0,
        lower: Some(80.0),
        upper: None,
        has_interval: true,
        text: "highest yield at 110 (at least 80)".into(),
    };
    let panel = CurvePanel {
        curve_text: "quadratic".into(),
        plots: vec![
            PlotAtAmount { plot: "101".into(), amount: 0.0, value: 2.2 },
            PlotAtAmount { plot: "102".into(), amount: 100.0, value: 5.1 },
        ],
        means: vec![mean(0.0, 2.0), mean(50.0, 4.0), mean(100.0, 5.0)],
        course: vec![point(0.0, 2.0), point(50.0, 4.0), point(100.0, 5.0)],
        best: vec![best],
        ..CurvePanel::default()
    };
    ResponseCurveChart {
        title: "Yield over nitrogen".into(),
        x_axis: Axis::new("Nitrogen", "kg/ha"),
        y_axis: Axis::new("Yield", "t/ha"),
        panels: vec![panel],
        interval_text: "Bars: 95 % intervals.".into(),
        ..ResponseCurveChart::default()
    }
}

#[test]
fn response_curve() {
    insta::assert_snapshot!(draw(&Chart::ResponseCurve(curve()), Width::Phone));
}

/// A coordinate of the rings that mark means, in the order of drawing.
fn of_means(svg: &str, coordinate: &str) -> Vec<f64> {
    let named = format!("{coordinate}=\"");
    let value = |mark: &str| mark.split(&named).nth(1)?.split('"').next()?.parse().ok();
    svg.split("class=\"gr-point\"").skip(1).filter_map(value).collect()
}

/// Half way between two amounts is half way between their marks, however many levels lie between.
#[test]
fn amounts_stand_on_a_true_axis() {
    let mut chart = curve();
    chart.panels[0].means[1].amount = 25.0;
    let at = of_means(&draw(&Chart::ResponseCurve(chart), Width::Page), "cx");
    assert_eq!(at.len(), 3);
    assert!(((at[1] - at[0]) / (at[2] - at[0]) - 0.25).abs() < 1e-3, "{at:?}");
}

/// All panels have one scale, so that a curve that lies higher is drawn higher.
#[test]
fn panels_share_their_axes() {
    let mut chart = curve();
    let mut other = chart.panels[0].clone();
    other.means.iter_mut().for_each(|mean| mean.mean += 1.0);
    chart.panels.push(other);
    let y = of_means(&draw(&Chart::ResponseCurve(chart), Width::Page), "cy");
    assert_eq!(y.len(), 6);
    let per_tonne = (y[0] - y[1]) / 2.0;
    assert!((0..3).all(|it| (y[it] - y[it + 3] - per_tonne).abs() < 0.02), "{y:?}");
}

#[test]
fn residuals() {
    let point = |plot: &str, fitted: f64, residual: f64, normal_quantile: f64| Residual {
        plot: plot.into(),
        fitted,
        residual,
        normal_quantile,
        flagged: residual > 0.5,
    };
    let chart = ResidualChart {
        title: "Residuals".into(),
        points: vec![
            point("101", 1.0, -0.3, -1.15),
            point("102", 2.0, -0.1, -0.3),
            point("103", 3.0, 0.1, 0.3),
            point("104", 4.0, 0.6, 1.15),
        ],
        ..ResidualChart::default()
    };
    insta::assert_snapshot!(draw(&Chart::Residuals(chart), Width::Page));
}

#[test]
fn plot_map() {
    let plot = |range: u32, pass: u32, treatment: &str| MapPlot {
        range,
        pass,
        number: Some(range * 100 + pass),
        treatment: treatment.into(),
        replicate: Some(range),
        ..MapPlot::default()
    };
    let guard = MapPlot { range: 1, pass: 3, guard: true, ..MapPlot::default() };
    let map = MapView {
        trial_code: "T1".into(),
        layout_version: 1,
        plots: vec![plot(1, 1, "with"), plot(1, 2, "without"), guard, plot(2, 1, "without"), plot(2, 2, "with")],
        plot_length_m: 6.0,
        plot_width_m: 1.5,
        up_bearing_deg: Some(90.0),
        ..MapView::default()
    };
    insta::assert_snapshot!(draw(&Chart::PlotMap(map), Width::Phone));
}

/// A plot above and one below what was fitted are told apart by shape, not only by colour.
#[test]
fn residuals_on_the_ground_have_a_mark_for_their_sign() {
    let plot = |pass: u32, value: Option<f64>| MapPlot {
        range: 1,
        pass,
        number: Some(100 + pass),
        value,
        value_text: value.map(|value| format!("{value:+.1}")).unwrap_or_default(),
        replicate: Some(1),
        ..MapPlot::default()
    };
    let map = MapView {
        trial_code: "T1".into(),
        plots: vec![plot(1, Some(1.2)), plot(2, Some(-2.5)), plot(3, None)],
        colour_by: ColourBy::Residual,
        value_label: "Residual over its error".into(),
        ..MapView::default()
    };
    let svg = draw(&Chart::PlotMap(map), Width::Page);
    let of_plot = |number: u32| {
        let plot = svg.split(&format!("data-plot=\"{number}\"")).nth(1).expect("the plot is drawn");
        plot.split("</g>").next().expect("its group ends").to_string()
    };
    let is_filled = |plot: &str| plot.contains("gr-shape");
    let is_hollow = |plot: &str| plot.contains("class=\"gr-mark\"");
    let (above, below, none) = (of_plot(101), of_plot(102), of_plot(103));
    assert!(is_filled(&above) && !is_hollow(&above), "{above}");
    assert!(!is_filled(&below) && is_hollow(&below), "{below}");
    assert!(!is_filled(&none) && !is_hollow(&none) && none.contains("gr-hatch"), "{none}");
    assert!(svg.contains("hatched: no value"));
}
