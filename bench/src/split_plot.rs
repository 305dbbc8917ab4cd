//! Workload B1: a split-plot of 4 blocks, 3 main-plot levels and 4 plot levels, nothing missing.

use guardrow_design::{Arrangement, Factor, RandomStream, Seed, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, Options, analyse};

use crate::measurement::Measurement;

const BLOCKS: usize = 4;
const MAIN: usize = 3;
const SUB: usize = 4;

/// The layout and a response with effects of its own at every level; the values are invented from a fixed seed.
pub fn experiment() -> Experiment {
    let treatments = TreatmentStructure {
        factors: vec![
            Factor::qualitative("a", &["a1", "a2", "a3"]),
            Factor::qualitative("b", &["b1", "b2", "b3", "b4"]),
        ],
        controls: Vec::new(),
    };
    let arrangement = Arrangement::SplitPlot { replicates: BLOCKS, main_plot_factors: vec!["a".to_owned()] };
    let mut stream = RandomStream::new(&Seed::from_number(31));
    let mut spread =
        |size: f64| (0..12).map(|_| f64::from(stream.below(1_000_001)) / 1e6).sum::<f64>() * size - 6.0 * size;
    let (mut block, mut main, mut treatment, mut response) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for b in 0..BLOCKS {
        let of_block = spread(250.0);
        for a in 0..MAIN {
            let of_main = spread(180.0);
            for s in 0..SUB {
                block.push(b);
                main.push(a);
                treatment.push(a * SUB + s);
                let effect = [0.0, 90.0, 120.0][a] + [0.0, 100.0, 250.0, 280.0][s];
                response.push(Some(4000.0 + effect + of_block + of_main + spread(220.0)));
            }
        }
    }
    let units = vec![("block".to_owned(), block), ("main plot".to_owned(), main)];
    Experiment::new(arrangement.block_structure(), units, treatments, treatment, response)
}

/// Times whole analyses, the model rebuilt from the table of plots each time.
pub fn measure() -> anyhow::Result<Vec<Measurement>> {
    let experiment = experiment();
    let analysis = analyse(&experiment, &Options::default())?;
    let wrong = check(&experiment, &analysis);
    let timed = Measurement::of("b1 one split-plot, in process", 200, || analyse(&experiment, &Options::default()));
    Ok(vec![timed.checked(wrong)])
}

/// The F ratios must be those of the mean squares worked out here from the balanced table.
fn check(experiment: &Experiment, analysis: &Analysis) -> Option<String> {
    let y: Vec<f64> = experiment.response.iter().flatten().copied().collect();
    let mean = |keep: &dyn Fn(usize, usize, usize) -> bool| {
        let kept: Vec<f64> =
            (0..y.len()).filter(|&i| keep(i / (MAIN * SUB), i / SUB % MAIN, i % SUB)).map(|i| y[i]).collect();
        kept.iter().sum::<f64>() / kept.len() as f64
    };
    let grand = mean(&|_, _, _| true);
    let blocks: Vec<f64> = (0..BLOCKS).map(|b| mean(&|x, _, _| x == b)).collect();
    let mains: Vec<f64> = (0..MAIN).map(|a| mean(&|_, x, _| x == a)).collect();
    let ss_a: f64 = mains.iter().map(|m| (m - grand).powi(2)).sum::<f64>() * (BLOCKS * SUB) as f64;
    let mut ss_error = 0.0;
    for (b, of_block) in blocks.iter().enumerate() {
        for (a, of_main) in mains.iter().enumerate() {
            let cell = mean(&|x, z, _| x == b && z == a);
            ss_error += (cell - of_block - of_main + grand).powi(2) * SUB as f64;
        }
    }
    let (df_a, df_error) = ((MAIN - 1) as f64, ((BLOCKS - 1) * (MAIN - 1)) as f64);
    let expected = (ss_a / df_a) / (ss_error / df_error);
    let found = analysis.tests.iter().find(|test| test.term == ["a"])?.f;
    ((found - expected).abs() > 1e-9 * expected).then(|| format!("F of a is {found}, the mean squares give {expected}"))
}
