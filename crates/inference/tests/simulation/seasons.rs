//! Seasons whose errors are known: how the chosen model of a plot's errors over time keeps its size.

use crate::{Count, normal, note};
use guardrow_design::{BlockStructure, Factor, Level, RandomStream, Scale, Seed, TreatmentStructure};
use guardrow_inference::{Estimate, Experiment, Occasions, Options, Visit, repeated};

const BLOCKS: usize = 5;
const TREATMENTS: usize = 4;
const DAYS: [f64; 5] = [0.0, 7.0, 21.0, 35.0, 63.0];

/// How the errors of a plot hang together; blocks and blocks on an occasion have variance one half each.
#[derive(Clone, Copy)]
pub enum Errors {
    /// A lasting level and independent errors, variance one each.
    Lasting,
    /// Decay over days with this correlation for one day, variance two.
    Decay(f64),
    /// The same, the standard deviation three times as large on the last day as on the first.
    Growing(f64),
}

pub const KINDS: [Errors; 3] = [Errors::Lasting, Errors::Decay(0.97), Errors::Growing(0.97)];

impl Errors {
    fn name(self) -> String {
        match self {
            Self::Lasting => "a lasting level".into(),
            Self::Decay(rho) => format!("decay, {rho} for a day"),
            Self::Growing(rho) => format!("decay, {rho} for a day, growing"),
        }
    }

    /// Errors of one plot.
    fn drawn(self, stream: &mut RandomStream) -> Vec<f64> {
        let decay = |rho: f64, stream: &mut RandomStream| {
            let mut values = vec![normal(stream)];
            for pair in DAYS.windows(2) {
                let kept = rho.powf(pair[1] - pair[0]);
                let before = values[values.len() - 1];
                values.push(kept * before + (1.0 - kept * kept).sqrt() * normal(stream));
            }
            values
        };
        match self {
            Self::Lasting => {
                let level = normal(stream);
                DAYS.iter().map(|_| level + normal(stream)).collect()
            }
            Self::Decay(rho) => decay(rho, stream).iter().map(|it| 2.0_f64.sqrt() * it).collect(),
            Self::Growing(rho) => {
                decay(rho, stream).iter().zip(DAYS).map(|(it, day)| (1.0 + 2.0 * day / DAYS[4]) * it).collect()
            }
        }
    }
}

fn season(errors: Errors, stream: &mut RandomStream) -> (Experiment, Occasions) {
    let plots = BLOCKS * TREATMENTS;
    let block: Vec<usize> = (0..plots).map(|plot| plot / TREATMENTS).collect();
    let half = 0.5_f64.sqrt();
    let lasting: Vec<f64> = (0..BLOCKS).map(|_| half * normal(stream)).collect();
    let of_plot: Vec<Vec<f64>> = (0..plots).map(|_| errors.drawn(stream)).collect();
    let visits = DAYS.iter().enumerate().map(|(at, &day)| {
        let own: Vec<f64> = (0..BLOCKS).map(|_| half * normal(stream)).collect();
        let value = |plot: usize| 20.0 + lasting[block[plot]] + own[block[plot]] + of_plot[plot][at];
        Visit { label: format!("day {day}"), day: Some(day), response: (0..plots).map(|it| Some(value(it))).collect() }
    });
    let occasions = Occasions::new(visits.collect());
    let levels = (1..=TREATMENTS).map(|it| Level { label: format!("t{it}"), amount: None }).collect();
    let factor = Factor { name: "a".into(), scale: Scale::Qualitative, levels };
    let experiment = Experiment::new(
        BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
        vec![("block".into(), block)],
        TreatmentStructure { factors: vec![factor], controls: Vec::new() },
        (0..plots).map(|plot| plot % TREATMENTS).collect(),
        vec![None; plots],
    );
    (experiment, occasions)
}

/// Counts over simulated seasons, with the name of their errors.
pub fn simulate(errors: Errors, runs: usize, seed: u64) -> (String, Vec<Count>) {
    let mut stream = RandomStream::new(&Seed::from_number(seed));
    let mut counts = Vec::new();
    for _ in 0..runs {
        let (experiment, occasions) = season(errors, &mut stream);
        let result = repeated(&experiment, &occasions, &Options::default()).expect("every season can be analysed");
        for test in &result.tests {
            note(&mut counts, format!("F of {}", test.label), test.den_df, test.p < 0.05);
        }
        let last = result.within_occasions.last().expect("the last day").pairs[0];
        let estimate = Estimate { estimate: last.estimate, se: last.se, df: last.df };
        note(&mut counts, "interval of two treatments on the last day".into(), last.df, misses(&estimate));
        let season = result.contrast(&[1.0, -1.0, 0.0, 0.0]).expect("a difference");
        note(&mut counts, "interval of two treatments over the season".into(), season.df, misses(&season));
    }
    (errors.name(), counts)
}

fn misses(estimate: &Estimate) -> bool {
    let (lower, upper) = estimate.interval(0.05);
    lower > 0.0 || upper < 0.0
}

/// Chosen models may be off by as much as the page tells.
pub fn check(name: &str, counts: &[Count]) {
    for count in counts {
        let chance = 4.5 * (0.05 * 0.95 / count.runs as f64).sqrt();
        assert!((count.share() - 0.05).abs() <= chance + 0.05, "{name}, {}: {}", count.name, count.share());
    }
}
