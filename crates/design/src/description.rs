//! The arrangement told in plain English, for the method part of plans and reports.

use crate::{Arrangement, DesignError, Draw, Factor, MAIN_PLOT, TreatmentStructure};

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
        Arrangement::SplitPlot { replicates, .. } => {
            let (main, within): (Vec<&Factor>, Vec<&Factor>) =
                all.iter().partition(|factor| arrangement.unit_of(&factor.name) == MAIN_PLOT);
            format!(
                "{} on main plots and {} on plots within them were randomised in {} (split-plot).",
                listed(&main),
                listed(&within),
                counted(*replicates, "replicate")
            )
        }
    };
    Ok(capitalised(&sentence))
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
