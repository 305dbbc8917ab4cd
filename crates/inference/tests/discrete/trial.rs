//! Small trials with counts, made by a seeded generator.

use guardrow_design::{BlockStructure, Factor, Level, RandomStream, Scale, Seed, TreatmentStructure};
use guardrow_inference::distribution::normal_quantile;
use guardrow_inference::generalised::{CountSpread, ProportionLink};
use guardrow_inference::{
    DiscreteAnalysis, DiscreteKind, Experiment, InferenceError, Options, analyse, analyse_discrete, plain_values,
};

pub fn factor(name: &str, levels: &[&str]) -> Factor {
    let level = |label: &&str| Level { label: (*label).to_owned(), amount: None };
    Factor { name: name.to_owned(), scale: Scale::Qualitative, levels: levels.iter().map(level).collect() }
}

fn nested(units: &[&str]) -> BlockStructure {
    let mut units = units.iter().map(|unit| BlockStructure::unit(unit));
    let first = units.next().expect("a unit");
    units.fold(first, BlockStructure::nest)
}

/// Main plots with levels of `a`, plots in them with levels of `b`; no values.
pub fn split_plot(blocks: usize) -> Experiment {
    let (of_a, of_b) = (3, 4);
    let plots = blocks * of_a * of_b;
    let column = |size: usize| (0..plots).map(|plot| plot / size).collect::<Vec<_>>();
    let factors = vec![factor("a", &["a1", "a2", "a3"]), factor("b", &["b1", "b2", "b3", "b4"])];
    Experiment::new(
        nested(&["block", "main plot", "plot"]),
        vec![("block".into(), column(of_a * of_b)), ("main plot".into(), column(of_b))],
        TreatmentStructure { factors, controls: Vec::new() },
        (0..plots).map(|plot| plot % (of_a * of_b)).collect(),
        vec![None; plots],
    )
}

/// Blocks of one plot for each level of `a`; no values.
pub fn blocks(blocks: usize, levels: &[&str]) -> Experiment {
    let plots = blocks * levels.len();
    Experiment::new(
        nested(&["block", "plot"]),
        vec![("block".into(), (0..plots).map(|plot| plot / levels.len()).collect())],
        TreatmentStructure { factors: vec![factor("a", levels)], controls: Vec::new() },
        (0..plots).map(|plot| plot % levels.len()).collect(),
        vec![None; plots],
    )
}

pub fn stream(seed: u64) -> RandomStream {
    RandomStream::new(&Seed::from_number(seed))
}

pub fn uniform(stream: &mut RandomStream) -> f64 {
    (f64::from(stream.below(1 << 30)) + 0.5) / f64::from(1 << 30)
}

pub fn normal(stream: &mut RandomStream) -> f64 {
    normal_quantile(uniform(stream))
}

pub fn binomial(stream: &mut RandomStream, trials: usize, share: f64) -> f64 {
    (0..trials).filter(|_| uniform(stream) < share).count() as f64
}

/// By waiting times; for means up to some hundreds.
pub fn poisson(stream: &mut RandomStream, mean: f64) -> f64 {
    let (mut waited, mut count) = (-uniform(stream).ln(), 0.0);
    while waited < mean {
        waited -= uniform(stream).ln();
        count += 1.0;
    }
    count
}

/// Predictors: `level` of each treatment, and normal effects of the units with these standard deviations, plots last.
pub fn predictors(trial: &Experiment, level: &[f64], sd: &[f64], stream: &mut RandomStream) -> Vec<f64> {
    let mut eta: Vec<f64> = trial.treatment.iter().map(|&treatment| level[treatment]).collect();
    for ((_, units), sd) in trial.units.iter().zip(sd) {
        let effects: Vec<f64> = (0..=*units.iter().max().unwrap()).map(|_| sd * normal(stream)).collect();
        eta.iter_mut().zip(units).for_each(|(eta, &unit)| *eta += effects[unit]);
    }
    let last = sd[trial.units.len()];
    eta.iter_mut().for_each(|eta| *eta += last * normal(stream));
    eta
}

pub fn shares(of: f64, plots: usize) -> DiscreteKind {
    DiscreteKind::Shares { of: vec![Some(of); plots], link: ProportionLink::Logit }
}

pub fn counts() -> DiscreteKind {
    DiscreteKind::Counts { searched: None, spread: CountSpread::Poisson }
}

/// As a trial is analysed: the plain values first, which lend their degrees of freedom.
pub fn analysed(experiment: &Experiment, kind: &DiscreteKind) -> Result<DiscreteAnalysis, InferenceError> {
    let plain = Experiment { response: plain_values(kind, &experiment.response), ..experiment.clone() };
    let plain = analyse(&plain, &Options::default());
    analyse_discrete(experiment, kind, plain.as_ref().ok(), &Options::default())
}
