//! The plot map of a layout as a view for drawing.

use guardrow_design::{COLUMN, Corner, Layout, MAIN_PLOT, PlotKind, ROW};
use guardrow_publish::map::{self, ColourBy, MapPlot, MapView, Travel, TreatmentKey};

use crate::dossier::{Dossier, Laid};

/// A value per plot that shades the map, with its name and unit.
pub(crate) struct Shade<'a> {
    /// Name and unit.
    pub label: String,
    /// The value of a plot and its text.
    pub value: &'a dyn Fn(u32) -> Option<(f64, String)>,
}

/// Builds the map of a trial's layout.
pub(crate) fn map_view(
    trial: &Dossier,
    laid: &Laid,
    station: &str,
    drawn_on: &str,
    shade: Option<Shade<'_>>,
) -> MapView {
    let head = &trial.plan.trial;
    let labels = trial.treatment_labels();
    let layout = &laid.layout;
    let plots = layout.plots.iter().map(|plot| {
        let shaded = plot.number.zip(shade.as_ref()).and_then(|(number, shade)| (shade.value)(number));
        MapPlot {
            range: plot.range as u32,
            pass: plot.pass as u32,
            number: plot.number,
            treatment_number: plot.treatment.map(|index| index as u32 + 1),
            treatment: plot.treatment.map(|index| labels[index].clone()).unwrap_or_default(),
            tint: plot.treatment.map(|index| tint_of(trial, index)),
            replicate: plot.replicate.map(|replicate| replicate as u32),
            main_plot: plot.unit(MAIN_PLOT).map(|main_plot| main_plot as u32),
            guard: plot.kind == PlotKind::Guard,
            value: shaded.as_ref().map(|(value, _)| *value),
            value_text: shaded.map(|(_, text)| text).unwrap_or_default(),
        }
    });
    MapView {
        trial_code: head.code.clone(),
        title: head.title.clone(),
        station: station.to_owned(),
        season: head.season.to_string(),
        site: head.site.clone(),
        layout_version: laid.line.version,
        drawn_on: drawn_on.to_owned(),
        plots: plots.collect(),
        treatments: labels
            .iter()
            .enumerate()
            .map(|(index, label)| TreatmentKey {
                number: index as u32 + 1,
                label: label.clone(),
                description: String::new(),
            })
            .collect(),
        plot_length_m: layout.ground.plot_length_m,
        plot_width_m: layout.ground.plot_width_m,
        alley_m: layout.ground.alley_between_ranges_m,
        alley_between_replicates_m: layout.ground.alley_between_replicates_m,
        gap_m: 0.0,
        up_bearing_deg: Some(layout.ground.north_bearing_deg),
        start_corner: start_corner(layout.ground.seeder_start),
        travel: Travel::Serpentine,
        blind: false,
        colour_by: if shade.is_some() { ColourBy::Value } else { ColourBy::Treatment },
        value_label: shade.map(|shade| shade.label).unwrap_or_default(),
        notes: vec![size_note(layout)],
    }
}

/// A trial that was laid out elsewhere has places for its plots when its table names them, or its rows and columns.
pub(crate) fn places_are_known(trial: &Dossier, laid: &Laid) -> bool {
    let named = trial.plan.table.as_ref().is_some_and(|table| table.range.is_some() && table.pass.is_some());
    let in_rows = laid.layout.plots.iter().any(|plot| plot.unit(ROW).is_some() && plot.unit(COLUMN).is_some());
    laid.line.algorithm != 0 || named || in_rows
}

/// Plots of one level of the first factor share a fill, so that the eye finds the pattern; controls come after them.
fn tint_of(trial: &Dossier, treatment: usize) -> u32 {
    let levels = |index: usize| trial.treatments()[index].levels.first().copied();
    let after_all = || (0..trial.treatments().len()).filter_map(levels).max().map_or(0, |last| last + 1);
    levels(treatment).unwrap_or_else(after_all) as u32
}

/// The design measures from the front left; the drawing has the front at the bottom.
fn start_corner(corner: Corner) -> map::Corner {
    match corner {
        Corner::FrontLeft => map::Corner::BottomLeft,
        Corner::FrontRight => map::Corner::BottomRight,
        Corner::BackLeft => map::Corner::TopLeft,
        Corner::BackRight => map::Corner::TopRight,
    }
}

fn size_note(layout: &Layout) -> String {
    format!(
        "Trial {:.2} m × {:.2} m with alleys; plot {:.2} m × {:.2} m, harvested {:.2} m × {:.2} m.",
        layout.width_m,
        layout.length_m,
        layout.ground.plot_width_m,
        layout.ground.plot_length_m,
        layout.ground.harvested_width_m,
        layout.ground.harvested_length_m,
    )
}
