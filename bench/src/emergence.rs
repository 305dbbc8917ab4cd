//! Workload B5: seedlings emerged of those sown, and stand counts, in split-plots of 48 to 480 plots.
//!
//! The answers to check against are those that the peers print: `peers/run.sh b5 > FOLDER/b5_peer.jsonl`.

use std::path::Path;

use anyhow::Context;
use guardrow_inference::Estimate;
use guardrow_inference::generalised::{
    BackTransformed, CountSpread, GeneralisedFit, GeneralisedModel, Grouping, Observed, ProportionLink, fit,
};
use serde_json::{Value, json};

use crate::field_table::FieldTable;
use crate::measurement::Measurement;

const SIZES: [usize; 4] = [48, 96, 192, 480];
const A: usize = 3;
const B: usize = 4;
const LEVEL: f64 = 0.05;

/// The table as the reader leaves it: labels numbered, numbers as numbers.
struct Plots {
    block: Vec<usize>,
    a: Vec<usize>,
    b: Vec<usize>,
    sown: Vec<f64>,
    emerged: Vec<f64>,
    stand: Vec<f64>,
}

/// One of the three models, by the name that the peers give it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Model {
    Binomial,
    BinomialPlots,
    PoissonPlots,
}

impl Model {
    const ALL: [Model; 3] = [Model::Binomial, Model::BinomialPlots, Model::PoissonPlots];

    fn name(self) -> &'static str {
        match self {
            Model::Binomial => "binomial",
            Model::BinomialPlots => "binomial + plot effect",
            Model::PoissonPlots => "poisson + plot effect",
        }
    }
}

/// All that the workload asks of one model.
struct Output {
    fitted: GeneralisedFit,
    /// Means of a, b and both, on either scale.
    means: Vec<BackTransformed>,
    /// All differences within each of the three tables, on the link's scale and in the unit of what was counted.
    differences: Vec<(Estimate, Estimate)>,
}

/// Times the three models at four sizes.
pub fn measure(data: &Path, expected: Option<&Path>) -> anyhow::Result<Vec<Measurement>> {
    let peers = peers(expected.unwrap_or(data))?;
    let mut measurements = Vec::new();
    for size in SIZES {
        let plots = Plots::read(&data.join(format!("b5_{size}.csv")))?;
        for model in Model::ALL {
            let output = run(&plots, model)?;
            let name = format!("b5 {}, {size} plots, in process", model.name());
            let timed = Measurement::of(&name, 200, || run(&plots, model));
            measurements.push(timed.with_check(check(&output, &peers, model, size)));
        }
    }
    Ok(measurements)
}

/// All twelve models from the files to one JSON file.
pub fn once(data: &Path, output: &Path) -> anyhow::Result<()> {
    let mut all = serde_json::Map::new();
    for size in SIZES {
        let plots = Plots::read(&data.join(format!("b5_{size}.csv")))?;
        for model in Model::ALL {
            let Output { fitted, means, differences } = run(&plots, model)?;
            let answer = json!({ "fit": fitted, "means": means, "differences": differences });
            all.insert(format!("{}, {size}", model.name()), answer);
        }
    }
    let file = std::io::BufWriter::new(std::fs::File::create(output)?);
    Ok(serde_json::to_writer(file, &all)?)
}

impl Plots {
    fn read(path: &Path) -> anyhow::Result<Self> {
        let table = FieldTable::read(path)?;
        let numbered = |name: &str| {
            let groups = table.groups(&[table.column(name)?]);
            let mut index = vec![0; table.rows.len()];
            groups.iter().enumerate().for_each(|(at, (_, rows))| rows.iter().for_each(|&row| index[row] = at));
            anyhow::Ok(index)
        };
        let numbers = |name: &str| {
            let column = table.column(name)?;
            let parsed = table.rows.iter().map(|row| row[column].parse::<f64>());
            parsed.collect::<Result<Vec<f64>, _>>().with_context(|| format!("{name} holds something else than numbers"))
        };
        Ok(Self {
            block: numbered("block")?,
            a: numbered("a")?,
            b: numbered("b")?,
            sown: numbers("sown")?,
            emerged: numbers("emerged")?,
            stand: numbers("stand")?,
        })
    }

    fn model(&self, model: Model) -> GeneralisedModel {
        let plots = self.block.len();
        let blocks = self.block.iter().max().map_or(0, |last| last + 1);
        let main = self.block.iter().zip(&self.a).map(|(block, a)| block * A + a).collect();
        let mut groupings = vec![
            Grouping { name: "block".into(), class: self.block.clone(), classes: blocks },
            Grouping { name: "block:a".into(), class: main, classes: blocks * A },
        ];
        if model != Model::Binomial {
            groupings.push(Grouping::each_observation("plot", plots));
        }
        let observed = match model {
            Model::PoissonPlots => Observed::Counts { counts: self.stand.clone(), spread: CountSpread::Poisson },
            _ => Observed::Proportions {
                successes: self.emerged.clone(),
                trials: self.sown.clone(),
                link: ProportionLink::Logit,
            },
        };
        GeneralisedModel {
            observed,
            treatments: (0..A * B).map(|it| format!("a{} b{}", it / B + 1, it % B + 1)).collect(),
            treatment: self.a.iter().zip(&self.b).map(|(a, b)| a * B + b).collect(),
            columns: Vec::new(),
            offset: None,
            groupings,
        }
    }
}

fn run(plots: &Plots, model: Model) -> anyhow::Result<Output> {
    let fitted = fit(&plots.model(model))?;
    let natural = fitted.on_natural_scale()?;
    let (mut means, mut differences) = (Vec::new(), Vec::new());
    for table in tables() {
        for weights in &table {
            means.push(fitted.mean(weights, LEVEL)?);
        }
        for (first, one) in table.iter().enumerate() {
            for other in &table[..first] {
                let weights: Vec<f64> = one.iter().zip(other).map(|(a, b)| a - b).collect();
                differences.push((fitted.contrast(&weights)?, natural.contrast(&weights)?));
            }
        }
    }
    Ok(Output { fitted, means, differences })
}

/// Weights over the treatments for every mean of a, of b, and of both.
fn tables() -> [Vec<Vec<f64>>; 3] {
    let mean = |keep: &dyn Fn(usize) -> bool| {
        let kept = (0..A * B).filter(|&it| keep(it)).count() as f64;
        (0..A * B).map(|it| if keep(it) { 1.0 / kept } else { 0.0 }).collect::<Vec<f64>>()
    };
    [
        (0..A).map(|a| mean(&|it| it / B == a)).collect(),
        (0..B).map(|b| mean(&|it| it % B == b)).collect(),
        (0..A * B).map(|cell| mean(&|it| it == cell)).collect(),
    ]
}

/// Weights of the peers' coefficients: contrasts that sum to zero, a quicker than a:b within b.
fn coefficients() -> Vec<Vec<f64>> {
    // mean of the named levels, or all; the effect is what it differs from what contains it
    let cells = |a: Option<usize>, b: Option<usize>| -> Vec<f64> {
        let keep = |it: usize| a.is_none_or(|a| it / B == a) && b.is_none_or(|b| it % B == b);
        let kept = (0..A * B).filter(|&it| keep(it)).count() as f64;
        (0..A * B).map(|it| if keep(it) { 1.0 / kept } else { 0.0 }).collect()
    };
    let combine = |terms: &[(f64, Vec<f64>)]| -> Vec<f64> {
        (0..A * B).map(|it| terms.iter().map(|(sign, weights)| sign * weights[it]).sum()).collect()
    };
    let grand = || cells(None, None);
    let mut rows = vec![grand()];
    rows.extend((0..A - 1).map(|a| combine(&[(1.0, cells(Some(a), None)), (-1.0, grand())])));
    rows.extend((0..B - 1).map(|b| combine(&[(1.0, cells(None, Some(b))), (-1.0, grand())])));
    for b in 0..B - 1 {
        for a in 0..A - 1 {
            let (own, of_a, of_b) = (cells(Some(a), Some(b)), cells(Some(a), None), cells(None, Some(b)));
            rows.push(combine(&[(1.0, own), (-1.0, of_a), (-1.0, of_b), (1.0, grand())]));
        }
    }
    rows
}

fn peers(folder: &Path) -> anyhow::Result<Vec<Value>> {
    let path = folder.join("b5_peer.jsonl");
    let missing = || format!("{}: make it with peers/run.sh b5 > {}", path.display(), path.display());
    let text = std::fs::read_to_string(&path).with_context(missing)?;
    Ok(text.lines().map(serde_json::from_str).collect::<Result<_, _>>()?)
}

fn check(output: &Output, peers: &[Value], model: Model, size: usize) -> Result<String, String> {
    let of = |peer: &str| {
        let what = format!("{peer} {}", model.name());
        let found = peers.iter().find(|it| it["what"] == what.as_str() && it["plots"] == size);
        found.ok_or_else(|| format!("the peers' answers lack '{what}' at {size} plots"))
    };
    let number = |value: &Value| value.as_f64().ok_or_else(|| format!("{value} is not a number"));
    let (glmer, strong) = (of("glmer")?, of("glmmTMB")?);
    let best = number(&glmer["loglik"])?.max(number(&strong["loglik"])?);
    let ahead = output.fitted.log_likelihood - best;
    if !(ahead > -1e-5 && ahead < 1e-3) {
        return Err(format!("the log-likelihood differs by {ahead:e} from the best of the peers"));
    }
    let (mut shift, mut ratio) = (0.0_f64, 0.0_f64);
    for (index, weights) in coefficients().iter().enumerate() {
        let ours = output.fitted.contrast(weights).map_err(|error| error.to_string())?;
        let (fixed, se) = (number(&strong["fixed"][index])?, number(&strong["se"][index])?);
        shift = shift.max((ours.estimate - fixed).abs() / se);
        ratio = ratio.max((ours.se / se - 1.0).abs());
    }
    if output.means.len() != A + B + A * B || output.differences.len() != 3 + 6 + 66 {
        return Err("means or differences are missing".to_owned());
    }
    if shift > 1e-3 || ratio > 1e-3 {
        return Err(format!("coefficients differ by up to {shift:e} SE, SE by up to {ratio:e} of it, from glmmTMB's"));
    }
    Ok(format!(
        "log-likelihood ahead of the better peer by {ahead:.1e}, coefficients within {shift:.1e} SE, SE within {ratio:.1e} of glmmTMB's"
    ))
}
