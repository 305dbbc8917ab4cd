//! The trials that are simulated: their layout, and how much each kind of unit varies (plots have variance one).

use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{Covariate, Experiment, Scope};

/// One simulated trial.
pub struct Trial {
    pub name: &'static str,
    /// Units and factors without values.
    pub experiment: Experiment,
    /// Random terms: units and factors that together label their classes, and the variance.
    pub variances: Vec<(Vec<&'static str>, f64)>,
    /// Plots without a value.
    pub lost: Vec<usize>,
    /// Differences whose intervals are counted.
    pub differences: Vec<(&'static str, Vec<f64>)>,
    /// How the leading tests are made.
    pub method: &'static str,
    /// How far an approximate method may be off beyond chance.
    pub allowed: f64,
    pub short: usize,
    pub long: usize,
}

impl Trial {
    /// Each plot's label of a unit or factor.
    pub fn label(&self, name: &str, plot: usize) -> usize {
        if let Some((_, labels)) = self.experiment.units.iter().find(|(unit, _)| unit == name) {
            return labels[plot];
        }
        let factors = &self.experiment.treatments.factors;
        let position = factors.iter().position(|factor| factor.name == name).expect("a unit or a factor");
        let inner: usize = factors[position + 1..].iter().map(|factor| factor.levels.len()).product();
        self.experiment.treatment[plot] / inner % factors[position].levels.len()
    }

    /// Whether a test is one of treatments.
    pub fn is_asked(&self, label: &str) -> bool {
        !self.experiment.environments.iter().any(|place| label == place)
    }
}

fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

fn factor(name: &str, levels: usize) -> Factor {
    let levels = (1..=levels).map(|level| Level { label: format!("{name}{level}"), amount: None }).collect();
    Factor { name: name.into(), scale: Scale::Qualitative, levels }
}

/// A layout counted out: `sizes` of the units from the outermost in; `treatment` gives each plot's by its labels.
fn layout(
    blocks: BlockStructure,
    sizes: &[(&str, usize)],
    factors: Vec<Factor>,
    treatment: impl Fn(&[usize]) -> usize,
) -> Experiment {
    let plots: usize = sizes.iter().map(|it| it.1).product();
    let labels = |plot: usize| {
        let mut rest = plot;
        let mut labels: Vec<usize> = sizes
            .iter()
            .rev()
            .map(|&(_, size)| {
                let label = rest % size;
                rest /= size;
                label
            })
            .collect();
        labels.reverse();
        labels
    };
    let all: Vec<Vec<usize>> = (0..plots).map(labels).collect();
    let innermost = blocks.strata().last().expect("a stratum").units.clone();
    let is_kept = |name: &str| innermost.iter().any(|it| it == name);
    let units = sizes.iter().enumerate().filter(|(_, (name, _))| is_kept(name));
    Experiment::new(
        blocks,
        units
            .map(|(index, (name, _))| ((*name).to_owned(), all.iter().map(|labels| labels[index]).collect()))
            .collect(),
        TreatmentStructure { factors, controls: Vec::new() },
        all.iter().map(|labels| treatment(labels)).collect(),
        vec![None; plots],
    )
}

/// One treatment minus another.
fn pair(treatments: usize, plus: usize, minus: usize) -> Vec<f64> {
    (0..treatments).map(|it| f64::from(u8::from(it == plus)) - f64::from(u8::from(it == minus))).collect()
}

fn exact(name: &'static str, experiment: Experiment, variances: Vec<(Vec<&'static str>, f64)>) -> Trial {
    let treatments = experiment.treatments.treatment_count();
    Trial {
        name,
        experiment,
        variances,
        lost: Vec::new(),
        differences: vec![("two treatments", pair(treatments, 0, 1))],
        method: "exact",
        allowed: 0.0,
        short: 200,
        long: 10_000,
    }
}

fn approximate(mut trial: Trial, method: &'static str, allowed: f64) -> Trial {
    (trial.method, trial.allowed) = (method, allowed);
    trial
}

/// Trials that take long are simulated less often.
fn fewer(mut trial: Trial, short: usize, long: usize) -> Trial {
    (trial.short, trial.long) = (short, long);
    trial
}

fn losing(mut trial: Trial, name: &'static str, lost: &[usize]) -> Trial {
    (trial.name, trial.lost) = (name, lost.to_vec());
    trial
}

fn also(mut trial: Trial, name: &'static str, weights: Vec<f64>) -> Trial {
    trial.differences.push((name, weights));
    trial
}

fn blocks() -> Trial {
    let experiment =
        layout(unit("block").nest(unit("plot")), &[("block", 4), ("plot", 5)], vec![factor("a", 5)], |it| it[1]);
    exact("randomised blocks", experiment, vec![(vec!["block"], 1.0)])
}

fn split_plot(name: &'static str, replicates: usize, main: usize, main_variance: f64) -> Trial {
    let experiment = layout(
        unit("block").nest(unit("main plot").nest(unit("plot"))),
        &[("block", replicates), ("main plot", main), ("plot", 3)],
        vec![factor("a", main), factor("b", 3)],
        |it| it[1] * 3 + it[2],
    );
    let trial = exact(name, experiment, vec![(vec!["block"], 1.0), (vec!["block", "main plot"], main_variance)]);
    // differences between main plots join two errors, so their degrees of freedom are Satterthwaite's
    also(
        approximate(trial, "F exact; between main plots Satterthwaite", 0.01),
        "two main-plot levels at one subplot level",
        pair(main * 3, 0, 3),
    )
}

fn alpha(name: &'static str) -> Trial {
    const SHIFTS: [[usize; 3]; 4] = [[0, 0, 0], [0, 1, 5], [0, 2, 3], [0, 3, 1]];
    let mut experiment = layout(
        unit("replicate").nest(unit("block").nest(unit("plot"))),
        &[("replicate", 3), ("row of the array", 4), ("column of the array", 6)],
        vec![factor("a", 24)],
        |it| it[1] * 6 + it[2],
    );
    let block = |plot: usize| (plot % 6 + SHIFTS[plot / 6 % 4][plot / 24]) % 6;
    experiment.units.push(("block".into(), (0..72).map(block).collect()));
    let variances = vec![(vec!["replicate"], 1.0), (vec!["replicate", "block"], 0.7)];
    fewer(approximate(exact(name, experiment, variances), "Kenward-Roger", 0.01), 100, 4_000)
}

fn at_places(name: &'static str, scope: Scope, years: usize) -> Trial {
    let (structure, sizes): (BlockStructure, Vec<(&str, usize)>) = match years {
        1 => (unit("site"), vec![("site", 5), ("year", 1), ("block", 3), ("plot", 4)]),
        _ => (unit("site").cross(unit("year")), vec![("site", 4), ("year", years), ("block", 2), ("plot", 4)]),
    };
    let structure = structure.nest(unit("block").nest(unit("plot")));
    let mut experiment = layout(structure, &sizes, vec![factor("a", 4)], |it| it[3]);
    experiment.environments = if years == 1 { vec!["site".into()] } else { vec!["site".into(), "year".into()] };
    experiment.scope = scope;
    let is_random = scope == Scope::EnvironmentsLikeThese;
    let mut variances = vec![(vec!["site"], 1.0)];
    if is_random {
        variances.push((vec!["site", "a"], 0.8));
    }
    if years > 1 {
        variances.extend([(vec!["year"], 0.5), (vec!["year", "a"], 0.4), (vec!["site", "year", "a"], 0.3)]);
        variances.push((vec!["site", "year", "block"], 0.4));
    } else {
        variances.push((vec!["site", "block"], 0.4));
    }
    exact(name, experiment, variances)
}

/// All of them, in the order of the table.
pub fn trials() -> Vec<Trial> {
    let random = layout(unit("plot"), &[("round", 4), ("treatment", 4)], vec![factor("a", 4)], |it| it[1]);
    let latin = layout(unit("row").cross(unit("column")), &[("row", 5), ("column", 5)], vec![factor("a", 5)], |it| {
        (it[0] + it[1]) % 5
    });
    let squares = layout(
        unit("square").nest(unit("row").cross(unit("column"))),
        &[("square", 2), ("row", 4), ("column", 4)],
        vec![factor("a", 4)],
        |it| (it[1] + (1 + 2 * it[0]) * it[2]) % 4,
    );
    let factorial = layout(
        unit("block").nest(unit("plot")),
        &[("block", 4), ("plot", 6)],
        vec![factor("a", 2), factor("b", 3)],
        |it| it[1],
    );
    // of 2 x 2 x 2 the three-factor interaction is given to blocks of four
    let confounded = layout(
        unit("block").nest(unit("plot")),
        &[("block", 8), ("plot", 4)],
        vec![factor("a", 2), factor("b", 2), factor("c", 2)],
        |it| [[0, 3, 5, 6], [1, 2, 4, 7]][it[0] % 2][it[1]],
    );
    let split_split = layout(
        unit("block").nest(unit("main plot").nest(unit("subplot").nest(unit("plot")))),
        &[("block", 4), ("main plot", 2), ("subplot", 2), ("plot", 3)],
        vec![factor("a", 2), factor("b", 2), factor("c", 3)],
        |it| it[1] * 6 + it[2] * 3 + it[3],
    );
    let strips = layout(
        unit("block").nest(unit("strip along").cross(unit("strip across"))),
        &[("block", 4), ("strip along", 3), ("strip across", 3)],
        vec![factor("a", 3), factor("b", 3)],
        |it| it[1] * 3 + it[2],
    );
    let row_column = layout(
        unit("replicate").nest(unit("row").cross(unit("column"))),
        &[("replicate", 3), ("row", 4), ("column", 4)],
        vec![factor("a", 16)],
        |it| [4 * it[1] + it[2], 4 * ((it[1] + it[2]) % 4) + it[2], 4 * it[2] + (it[1] + 2 * it[2]) % 4][it[0]],
    );
    // three checks in every block, four entries once each
    let augmented =
        layout(unit("block").nest(unit("plot")), &[("block", 5), ("plot", 7)], vec![factor("a", 23)], |it| {
            if it[1] < 3 { it[1] } else { 3 + it[0] * 4 + it[1] - 3 }
        });
    let subsamples = layout(
        unit("block").nest(unit("plot").nest(unit("subsample"))),
        &[("block", 3), ("plot", 4), ("subsample", 3)],
        vec![factor("a", 4)],
        |it| it[1],
    );
    let mut farms =
        layout(unit("farm").nest(unit("strip")), &[("farm", 6), ("strip", 3)], vec![factor("a", 3)], |it| it[1]);
    (farms.environments, farms.scope) = (vec!["farm".into()], Scope::EnvironmentsLikeThese);
    let mut covariate = blocks();
    covariate.name = "randomised blocks with a covariate";
    let stand = (0..20).map(|plot| Some(((plot * 7919 + 13) % 101) as f64)).collect();
    covariate.experiment.covariates = vec![Covariate { name: "stand".into(), unit: None, values: stand }];

    let rows_and_columns = vec![(vec!["row"], 1.0), (vec!["column"], 1.0)];
    let in_squares = vec![(vec!["square"], 0.5), (vec!["square", "row"], 1.0), (vec!["square", "column"], 1.0)];
    let in_strips =
        vec![(vec!["block"], 1.0), (vec!["block", "strip along"], 0.5), (vec!["block", "strip across"], 0.5)];
    let subplots =
        vec![(vec!["block"], 1.0), (vec!["block", "main plot"], 0.6), (vec!["block", "main plot", "subplot"], 0.4)];
    let in_replicates =
        vec![(vec!["replicate"], 0.5), (vec!["replicate", "row"], 0.8), (vec!["replicate", "column"], 0.8)];
    vec![
        exact("completely random", random, Vec::new()),
        blocks(),
        exact("factorial in blocks", factorial, vec![(vec!["block"], 1.0)]),
        exact("Latin square", latin, rows_and_columns),
        exact("two Latin squares", squares, in_squares),
        // comparisons of single treatments lie within blocks and between them
        approximate(
            exact("confounded factorial", confounded, vec![(vec!["block"], 1.0)]),
            "F exact; single treatments Satterthwaite",
            0.01,
        ),
        split_plot("split-plot, 6 main-plot df", 4, 3, 0.6),
        split_plot("split-plot, 3 main-plot df", 4, 2, 0.6),
        split_plot("split-plot, main plots alike", 4, 3, 0.0),
        approximate(
            also(
                exact("split-split-plot", split_split, subplots),
                "two main-plot levels elsewhere alike",
                pair(12, 0, 6),
            ),
            "F exact; across units Satterthwaite",
            0.01,
        ),
        approximate(
            also(exact("strip-plot", strips, in_strips), "two treatments that share no strip", pair(9, 0, 4)),
            "F exact; across strips Satterthwaite",
            0.02,
        ),
        exact("subsamples in plots", subsamples, vec![(vec!["block"], 1.0), (vec!["block", "plot"], 0.7)]),
        exact("strips on farms, farms like these", farms, vec![(vec!["farm"], 1.0)]),
        at_places("five sites, these", Scope::TheseEnvironments, 1),
        at_places("five sites, sites like these", Scope::EnvironmentsLikeThese, 1),
        fewer(
            approximate(
                at_places("four sites, three years, like these", Scope::EnvironmentsLikeThese, 3),
                "sum of mean squares, Satterthwaite; Kenward-Roger where that sum is not above zero",
                0.03,
            ),
            60,
            2_000,
        ),
        approximate(losing(blocks(), "randomised blocks, 3 of 20 plots lost", &[2, 8, 14]), "Kenward-Roger", 0.01),
        approximate(
            losing(split_plot("", 4, 3, 0.6), "split-plot, 4 of 36 plots lost", &[1, 10, 20, 33]),
            "Kenward-Roger",
            0.02,
        ),
        alpha("alpha design, 24 entries"),
        fewer(
            approximate(exact("rows and columns, 16 entries", row_column, in_replicates), "Kenward-Roger", 0.02),
            100,
            4_000,
        ),
        fewer(
            approximate(exact("augmented, 5 blocks", augmented, vec![(vec!["block"], 1.0)]), "Kenward-Roger", 0.02),
            100,
            4_000,
        ),
        covariate,
    ]
}
