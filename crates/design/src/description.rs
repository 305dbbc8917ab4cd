//! The arrangement told in plain English, for the method part of plans and reports.

use crate::{
    Arrangement, DesignError, Draw, Factor, MAIN_PLOT, STRIP_ACROSS, STRIP_ALONG, SUBPLOT, StatedUnits,
    TreatmentStructure,
};

/// Tells in one or two sentences what was randomised to what.
///
/// # Errors
/// Whatever [`Arrangement::check`] finds.
/// # Example
/// ```
/// use guardrow_design::{Arrangement, Factor, TreatmentStructure, method_sentence};
/// let treatments = TreatmentStructure {
///     factors: vec![
///         Factor::qualitative("variety", &["A", "B", "C"]),
///         Factor::quantitative("nitrogen rate", "kg/ha", &[0.0, 30.0, 60.0, 90.0]),
///     ],
///     controls: vec![],
/// };
/// let arrangement = Arrangement::SplitPlot { replicates: 6, main_plot_factors: vec!["variety".into()] };
/// assert_eq!(
///     method_sentence(&treatments, &arrangement)?,
///     "Three varieties on main plots and four nitrogen rates on plots within them were randomised in 6 replicates \
///      (split-plot)."
/// );
/// # Ok::<(), guardrow_design::DesignError>(())
/// ```
pub fn method_sentence(treatments: &TreatmentStructure, arrangement: &Arrangement) -> Result<String, DesignError> {
    arrangement.check(treatments)?;
    let all: Vec<&Factor> = treatments.factors.iter().collect();
    let on_units = |unit: &str| -> Vec<&Factor> {
        arrangement.factors_on(unit, treatments).into_iter().map(|index| &treatments.factors[index]).collect()
    };
    let on = |unit: &str| listed(&on_units(unit));
    let left = |units: &[&str]| {
        let larger: Vec<&Factor> = units.iter().flat_map(|unit| on_units(unit)).collect();
        listed(&all.iter().copied().filter(|factor| !larger.contains(factor)).collect::<Vec<_>>())
    };
    let sentence = match arrangement {
        Arrangement::CompletelyRandom { replicates } => format!(
            "{} were randomised over the whole trial without blocks, {} to each treatment{}.",
            combinations(&all, treatments.factorial_count()),
            counted(*replicates, "plot"),
            each_with_controls(treatments, *replicates, "")
        ),
        Arrangement::RandomisedBlocks { replicates } => format!(
            "{} were randomised in {} (randomised blocks){}.",
            combinations(&all, treatments.factorial_count()),
            each_replicate(*replicates),
            each_with_controls(treatments, 1, " in each replicate")
        ),
        Arrangement::LatinSquare { .. } => {
            let size = treatments.plots_per_replicate();
            let squares = match arrangement.replicates() / size {
                1 => "a Latin square".to_owned(),
                squares => format!("{squares} Latin squares"),
            };
            let rows = format!("of {size} rows and {size} columns");
            format!("{} were randomised in {squares} {rows}.", combinations(&all, treatments.factorial_count()))
        }
        Arrangement::SplitPlot { replicates, .. } => format!(
            "{} on main plots and {} on plots within them were randomised in {} (split-plot).",
            on(MAIN_PLOT),
            left(&[MAIN_PLOT]),
            counted(*replicates, "replicate")
        ),
        Arrangement::SplitSplitPlot { replicates, .. } => format!(
            "{} on main plots, {} on subplots within them and {} on plots within those were randomised in {} (split-split-plot).",
            on(MAIN_PLOT),
            on(SUBPLOT),
            left(&[MAIN_PLOT, SUBPLOT]),
            counted(*replicates, "replicate")
        ),
        Arrangement::StripPlot { replicates, .. } => {
            let within = left(&[STRIP_ACROSS, STRIP_ALONG]);
            let within = if within.is_empty() { within } else { format!(", with {within} on plots where they meet") };
            format!(
                "{} on strips one way and {} on strips the other way were randomised in {}{within} (strip-plot).",
                on(STRIP_ACROSS),
                on(STRIP_ALONG),
                counted(*replicates, "replicate")
            )
        }
        Arrangement::IncompleteBlocks { replicates, block_size } => format!(
            "{} were randomised in {}, each of {} of {}{} (incomplete blocks).",
            combinations(&all, treatments.factorial_count()),
            counted(*replicates, "replicate"),
            counted(treatments.plots_per_replicate() / block_size, "block"),
            counted(*block_size, "plot"),
            each_with_controls(treatments, 1, " in each replicate")
        ),
        Arrangement::RowColumn { replicates, rows, columns } => format!(
            "{} were randomised in {}, each of {rows} rows and {columns} columns{} (row-column).",
            combinations(&all, treatments.factorial_count()),
            counted(*replicates, "replicate"),
            each_with_controls(treatments, 1, " in each replicate")
        ),
        Arrangement::AugmentedBlocks { replicates, checks } => format!(
            "{} on one plot each and the {} {} in every block were randomised in {} (augmented blocks).",
            counted(treatments.treatment_count() - checks.len(), "treatment"),
            if checks.len() == 1 { "check" } else { "checks" },
            joined(checks),
            counted(*replicates, "block")
        ),
        Arrangement::FarmStrips { replicates } => format!(
            "{} were laid in strips on {}{}.",
            combinations(&all, treatments.factorial_count()),
            counted(*replicates, "farm"),
            each_with_controls(treatments, 1, " on each farm")
        ),
        Arrangement::Stated(stated) => stated_units(&all, treatments, stated),
    };
    Ok(capitalised(&sentence))
}

fn stated_units(all: &[&Factor], treatments: &TreatmentStructure, stated: &StatedUnits) -> String {
    let told = stated.randomised_to.iter().map(|(factor, unit)| format!("{factor} to {}", units_in_words(unit)));
    let told: Vec<String> = told.collect();
    let to = if told.is_empty() { String::new() } else { format!(", {}", joined(&told)) };
    let treatments = combinations(all, treatments.factorial_count());
    format!("{treatments} were randomised within the units {}{to}.", stated.units)
}

/// The units of a stratum in the plural: `main plots`, `plots (row x column)`.
pub(crate) fn units_in_words(stratum: &str) -> String {
    if stratum.contains(" x ") { format!("plots ({stratum})") } else { format!("{stratum}s") }
}

/// Tells how the draw was made, so that anyone can make it again.
pub fn draw_sentence(draw: &Draw) -> String {
    format!("The layout was drawn with ChaCha20, algorithm {}, from the seed {}.", draw.algorithm, draw.seed)
}

fn combinations(factors: &[&Factor], count: usize) -> String {
    match factors {
        [_] => listed(factors),
        _ => format!("{} in all {count} combinations", listed(factors)),
    }
}

fn each_with_controls(treatments: &TreatmentStructure, times: usize, place: &str) -> String {
    if treatments.controls.is_empty() {
        return String::new();
    }
    let told = treatments.controls.iter().map(|control| {
        let plots = counted(control.plots_per_replicate * times, "plot");
        format!("the control {} on {plots}{place}", control.label)
    });
    format!(", with {}", joined(&told.collect::<Vec<_>>()))
}

fn listed(factors: &[&Factor]) -> String {
    let told: Vec<String> = factors.iter().map(|factor| levels_of(factor)).collect();
    joined(&told)
}

fn levels_of(factor: &Factor) -> String {
    let count = in_words(factor.levels.len());
    match plural(&factor.name) {
        Some(plural) => format!("{count} {plural}"),
        None => format!("{count} levels of {}", factor.name),
    }
}

/// The plural of a factor's name when its last word is one whose plural is sure; a stuff such as nitrogen has none.
fn plural(name: &str) -> Option<String> {
    const REGULAR: [&str; 24] = [
        "rate",
        "date",
        "treatment",
        "product",
        "source",
        "method",
        "cultivar",
        "hybrid",
        "depth",
        "height",
        "stage",
        "lot",
        "inoculant",
        "rotation",
        "crop",
        "system",
        "width",
        "time",
        "fertiliser",
        "herbicide",
        "fungicide",
        "insecticide",
        "form",
        "temperature",
    ];
    const OTHER: [(&str, &str); 3] = [("variety", "varieties"), ("density", "densities"), ("frequency", "frequencies")];
    let last = name.rsplit(' ').next().unwrap_or(name);
    let head = &name[..name.len() - last.len()];
    let small = last.to_lowercase();
    if let Some((_, plural)) = OTHER.iter().find(|(singular, _)| *singular == small) {
        return Some(format!("{head}{plural}"));
    }
    if small == "spacing" || REGULAR.contains(&small.as_str()) { Some(format!("{name}s")) } else { None }
}

fn joined(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

/// Numbers up to twelve in words, as printed English has them.
fn in_words(count: usize) -> String {
    const WORDS: [&str; 13] =
        ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    WORDS.get(count).map_or_else(|| count.to_string(), |word| (*word).to_owned())
}

fn each_replicate(count: usize) -> String {
    if count == 1 { "1 replicate".to_owned() } else { format!("each of {count} replicates") }
}

fn counted(count: usize, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

fn capitalised(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
