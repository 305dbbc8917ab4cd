//! Workload B1: a split-plot of 4 blocks, 3 main-plot levels and 4 plot levels, nothing missing.

use std::path::Path;

use anyhow::Context;
use guardrow_design::{Arrangement, BlockStructure, Factor, RandomStream, Seed, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, Method, Options, analyse};
use serde_json::Value;

use crate::field_table::FieldTable;
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
    Experiment::new(arrangement.block_structure(&treatments), units, treatments, treatment, response)
}

/// Times whole analyses, the model rebuilt from the table of plots each time.
pub fn measure(data: Option<&Path>, expected: Option<&Path>) -> anyhow::Result<Vec<Measurement>> {
    let Some(data) = data else {
        let experiment = experiment();
        let wrong = check(&experiment, &analyse(&experiment, &Options::default())?);
        let timed = Measurement::of("b1 our own split-plot", 2000, || analyse(&experiment, &Options::default()));
        return Ok(vec![timed.checked(wrong)]);
    };
    let table = FieldTable::read(&data.join("b1.csv"))?;
    let analysis = run(&table)?;
    let check = match expected {
        Some(folder) => check_against(&analysis, &folder.join("b1.json"))?,
        None => Err("no expected values were given (--expected FOLDER)".to_owned()),
    };
    Ok(vec![Measurement::of("b1 one split-plot, in process", 2000, || run(&table)).with_check(check)])
}

/// One analysis from the file to a JSON file.
pub fn once(data: &Path, output: &Path) -> anyhow::Result<()> {
    let analysis = run(&FieldTable::read(&data.join("b1.csv"))?)?;
    Ok(std::fs::write(output, serde_json::to_vec(&analysis)?)?)
}

fn run(table: &FieldTable) -> anyhow::Result<Analysis> {
    let rows: Vec<usize> = (0..table.rows.len()).collect();
    let unit = BlockStructure::unit;
    let blocks = unit("block").nest(unit("main plot").nest(unit("plot")));
    let units = [("block", "block"), ("main plot", "a")];
    let experiment = crate::field_table::experiment(table, &rows, blocks, &units, &["a", "b"])?;
    Ok(analyse(&experiment, &Options { method: Method::Mixed, ..Options::default() })?)
}

/// F to 1e-9 of the mean-square ratios, df, means, every difference and its Tukey p, and which means share a letter.
fn check_against(analysis: &Analysis, expected: &Path) -> anyhow::Result<Result<String, String>> {
    let golden: Value = serde_json::from_slice(&std::fs::read(expected)?)?;
    let classical = [("a", 6.15626986536, 6.0), ("b", 5.30773710274, 27.0), ("a x b", 1.07120806623, 27.0)];
    for (label, f, df) in classical {
        let test = analysis.tests.iter().find(|test| test.label == label).context("a test is missing")?;
        if (test.f - f).abs() > 1e-9 * f || (test.den_df - df).abs() > 1e-6 {
            return Ok(Err(format!("F of {label} is {} on {} df, expected {f} on {df}", test.f, test.den_df)));
        }
    }
    let mut differences = 0;
    for (term, key) in [(&["a"][..], "a"), (&["b"], "b"), (&["a", "b"], "a:b")] {
        let table = analysis.table(term).context("a table is missing")?;
        let largest_se = table.pairs.iter().map(|pair| pair.se).fold(0.0, f64::max);
        for golden in golden["terms"][key]["pairs"].as_array().context("expected pairs")? {
            let name = golden["contrast"].as_str().unwrap_or_default();
            let label = |cell: usize| table.cells[cell].levels.join(" ");
            let found = table.pairs.iter().find_map(|pair| match name {
                _ if name == format!("{} - {}", label(pair.a), label(pair.b)) => Some((pair, 1.0)),
                _ if name == format!("{} - {}", label(pair.b), label(pair.a)) => Some((pair, -1.0)),
                _ => None,
            });
            let Some((pair, sign)) = found else { return Ok(Err(format!("no difference {name}"))) };
            let number = |key: &str| golden[key].as_f64().unwrap_or(f64::NAN);
            let is_right = (sign * pair.estimate - number("estimate")).abs() <= 1e-6 * largest_se
                && (pair.se - number("SE")).abs() <= 1e-6 * largest_se
                && (pair.df - number("df")).abs() <= 1e-4 * pair.df
                && (pair.p_tukey - number("p.value")).abs() <= 1e-6;
            if !is_right {
                return Ok(Err(format!("{name}: {pair:?}, expected {golden}")));
            }
            differences += 1;
        }
        let letters = table.letters.as_ref().context("letters are missing")?;
        let shares = |a: usize, b: usize| letters[a].chars().any(|letter| letters[b].contains(letter));
        if let Some(pair) = table.pairs.iter().find(|pair| shares(pair.a, pair.b) != (pair.p_tukey >= 0.05)) {
            return Ok(Err(format!("letters {letters:?} do not agree with {pair:?}")));
        }
    }
    Ok(Ok(format!("3 tests, {differences} differences")))
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
