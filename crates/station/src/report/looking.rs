//! Looking at the residuals of one measure: plots out of line, spread by group, places compared, the residuals on the ground.

use guardrow_findings::mid_sentence;
use guardrow_inference::{Analysis, FTest, GroupSpread, Homogeneity, Looking, Options, Suggestion, homogeneity};
use guardrow_publish::chart::{Chart, Figure};
use guardrow_publish::map::{ColourBy, MapView};
use guardrow_publish::report::{Column, Looking as Told, Row, RowKind, Table};

use super::numbers::{Decimals, df, f_ratio, four_digits, p_value};
use crate::analysed::Analysed;
use crate::dossier::{Dossier, Laid};
use crate::paper::map::{Shade, map_view, places_are_known};

/// What is said and shown of the residuals.
///
/// - `day`: the day that the map is made on
pub(crate) fn looking(
    measure: &Analysed,
    analysis: &Analysis,
    looked: &Looking,
    (trial, laid): (&Dossier, &Laid),
    decimals: Decimals,
    (station, day): (&str, &str),
) -> Told {
    let mut told = Told::default();
    told.sentences.push(out_of_line(measure, looked));
    told.tables.extend(outliers(measure, looked, trial, decimals));
    for spread in &looked.groups {
        told.sentences.extend(spread_sentence(spread));
        told.tables.extend(unequal(spread, measure, analysis.level, decimals));
    }
    let of_places = homogeneity(&measure.experiment, &Options::default()).ok().flatten();
    if let Some(places) = of_places.filter(|places| places.environments.len() > 1) {
        told.sentences.extend(places_sentence(&places));
        told.tables.push(places_table(&places, measure, decimals));
    }
    told.sentences.extend(looked.transformation.as_ref().map(|found| match found.suggestion {
        Suggestion::None => found.sentence.clone(),
        _ => format!(
            "{} The numbers above are of the values as they were measured; an analysis of transformed values stands beside them \
             only where the plan names it (`transformed`).",
            found.sentence
        ),
    }));
    told.map = places_are_known(trial, laid).then(|| map(measure, looked, (trial, laid), (station, day)));
    told
}

fn out_of_line(measure: &Analysed, looked: &Looking) -> String {
    let Some(critical) = looked.outliers.critical else {
        return "Too little error is left to say whether a plot is out of line.".to_owned();
    };
    let largest = looked.residuals.iter().filter_map(|it| Some((it.plot, it.external?)));
    let largest = largest.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    match (largest, looked.outliers.flagged.len()) {
        (None, _) => "No plot has a residual of its own: each is fitted whatever its value.".to_owned(),
        (Some((plot, size)), 0) => format!(
            "No plot is out of line: the largest studentised residual is {} (plot {}), and beyond ±{} it would be (Bonferroni, \
             {} plots).",
            f_ratio(size),
            measure.plots[plot],
            f_ratio(critical),
            looked.outliers.plots
        ),
        (Some(_), 1) => "One plot is out of line.".to_owned(),
        (Some(_), count) => format!("{count} plots are out of line."),
    }
}

fn outliers(measure: &Analysed, looked: &Looking, trial: &Dossier, decimals: Decimals) -> Option<Table> {
    let unit = measure.unit.symbol();
    let columns = vec![
        Column::right("Plot"),
        Column::left("Treatment"),
        Column::right("Value").with_unit(unit),
        Column::right("Fitted").with_unit(unit),
        Column::right("Studentised residual"),
        Column::right("p (Bonferroni)"),
        Column::right("Leverage"),
    ];
    let mut table = Table::new("Plots out of line", columns);
    for outlier in &looked.outliers.flagged {
        let Some(residual) = looked.residuals.iter().find(|it| it.plot == outlier.plot) else { continue };
        let number = measure.plots[outlier.plot];
        let treatment = trial.treatment_of_plot(number).map(|it| trial.treatment_labels()[it].clone());
        table.push(Row::of(
            RowKind::Attention,
            [
                number.to_string(),
                treatment.unwrap_or_default(),
                decimals.value(residual.fitted + residual.residual),
                decimals.value(residual.fitted),
                f_ratio(outlier.external),
                p_value(outlier.p),
                f_ratio(residual.leverage),
            ],
        ));
    }
    table.notes = vec![
        looked.outliers.rule.clone(),
        "Look into the field book and at the original record of such a plot. It stays in all numbers of this report: the machine \
         leaves out nothing, and a person only by the rule that was declared before."
            .to_owned(),
    ];
    (!table.rows.is_empty()).then_some(table)
}

fn spread_sentence(spread: &GroupSpread) -> Option<String> {
    let test = spread.brown_forsythe?;
    Some(format!("Spread of plots by {}: {}.", spread.by, test_words("Brown-Forsythe", &test)))
}

fn test_words(name: &str, test: &FTest) -> String {
    format!("{name} F {} on {} and {} df, p {}", f_ratio(test.f), df(test.num_df), df(test.den_df), p_value(test.p))
}

/// Groups with their spread, where it is unequal.
fn unequal(spread: &GroupSpread, measure: &Analysed, level: f64, decimals: Decimals) -> Option<Table> {
    spread.brown_forsythe.filter(|test| test.p < level)?;
    let unit = measure.unit.symbol();
    let columns = vec![
        Column::left(spread.by.clone()),
        Column::right("n"),
        Column::right("Mean").with_unit(unit),
        Column::right("SD of residuals").with_unit(unit),
    ];
    let mut table = Table::new(format!("Plots vary unequally by {}", spread.by), columns);
    for row in &spread.rows {
        let sd = row.sd.map(|sd| decimals.finer().value(sd)).unwrap_or_default();
        table.push(Row::plain([row.label.clone(), row.n.to_string(), decimals.value(row.mean), sd]));
    }
    table.notes = vec![
        "One error is used for all: differences between the groups that vary least are surer than told, and those between the groups \
         that vary most less sure."
            .to_owned(),
    ];
    Some(table)
}

fn places_sentence(places: &Homogeneity) -> Option<String> {
    let test = places.bartlett?;
    let times = places
        .largest_over_smallest
        .map_or(String::new(), |it| format!(", the largest {} times the smallest", f_ratio(it)));
    Some(format!(
        "Errors of the places and years, each analysed by itself: Bartlett chi-square {} on {} df, p {}{times}.",
        f_ratio(test.chi_square),
        df(test.df),
        p_value(test.p)
    ))
}

fn places_table(places: &Homogeneity, measure: &Analysed, decimals: Decimals) -> Table {
    let columns = vec![
        Column::left("Place or year"),
        Column::right("Plots"),
        Column::right("Mean").with_unit(measure.unit.symbol()),
        Column::right("Error mean square"),
        Column::right("Error df"),
    ];
    let mut table = Table::new("Error of each place and year by itself", columns);
    for place in &places.environments {
        table.push(Row::plain([
            place.label.clone(),
            place.plots.to_string(),
            decimals.value(place.mean),
            four_digits(place.error_ms),
            df(place.error_df),
        ]));
    }
    table
}

/// The residuals over their errors, each on its plot.
fn map(measure: &Analysed, looked: &Looking, (trial, laid): (&Dossier, &Laid), (station, day): (&str, &str)) -> Figure {
    let value = |number: u32| {
        let index = measure.plots.iter().position(|plot| *plot == number)?;
        let residual = looked.residuals.iter().find(|it| it.plot == index)?.internal?;
        let text = format!("{residual:+.1}").replace('-', "−");
        Some((residual, text))
    };
    let shade = Shade { label: "Residual over its error".to_owned(), value: &value };
    let view = MapView {
        colour_by: ColourBy::Residual,
        notes: vec!["Patches of one colour, or a drift along ranges or passes, are differences of the ground that the layout did not take up.".to_owned()],
        ..map_view(trial, laid, station, day, Some(shade))
    };
    Figure::new(format!("Residuals of {} on the ground.", mid_sentence(&measure.name)), Chart::PlotMap(view))
}
