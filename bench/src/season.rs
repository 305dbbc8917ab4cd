//! Workload B2: a season, 500 analyses of 25 trials in five arrangements, up to three plots missing in every measure.

use std::collections::HashMap;
use std::path::Path;

use anyhow::{Context, bail};
use guardrow_design::BlockStructure;
use guardrow_inference::{Analysis, Experiment, Method, Options, analyse};

use crate::field_table::{FieldTable, experiment};
use crate::measurement::Measurement;

/// One analysis of the season: its name and its rows.
type Asked = (String, Vec<usize>);

/// Times the season on one thread and on two, from the parsed table to all outputs.
pub fn measure(data: &Path, expected: Option<&Path>) -> anyhow::Result<Vec<Measurement>> {
    let table = FieldTable::read(&data.join("b2.csv"))?;
    let asked = asked(&table)?;
    let analyses = run(&table, &asked)?;
    let check = match expected {
        Some(folder) => check(&asked, &analyses, &folder.join("b2_tests.csv"))?,
        None => Err("no expected values were given (--expected FOLDER)".to_owned()),
    };
    let one = Measurement::of("b2 a season, in process", 5, || run(&table, &asked)).with_check(check.clone());
    let two =
        Measurement::of_threads("b2 a season, in process", 5, 2, || on_threads(&table, &asked, 2)).with_check(check);
    Ok(vec![one, two])
}

/// All analyses from the file to one JSON file.
pub fn once(data: &Path, output: &Path) -> anyhow::Result<()> {
    let table = FieldTable::read(&data.join("b2.csv"))?;
    let asked = asked(&table)?;
    let analyses = on_threads(&table, &asked, 1)?;
    let named: HashMap<&str, &Analysis> = asked.iter().map(|it| it.0.as_str()).zip(&analyses).collect();
    let file = std::io::BufWriter::new(std::fs::File::create(output)?);
    Ok(serde_json::to_writer(file, &named)?)
}

fn asked(table: &FieldTable) -> anyhow::Result<Vec<Asked>> {
    Ok(table.groups(&[table.column("trial")?, table.column("measure")?]))
}

fn run(table: &FieldTable, asked: &[Asked]) -> anyhow::Result<Vec<Analysis>> {
    let options = Options { method: Method::Mixed, ..Options::default() };
    let one = |(name, rows): &Asked| {
        let experiment = laid_out(table, rows).with_context(|| format!("{name} is not laid out"))?;
        analyse(&experiment, &options).with_context(|| format!("{name} cannot be analysed"))
    };
    asked.iter().map(one).collect()
}

/// The same, every thread taking each so-many-th analysis; the results do not depend on how many there are.
fn on_threads(table: &FieldTable, asked: &[Asked], threads: usize) -> anyhow::Result<Vec<Analysis>> {
    let part = |thread: usize| asked.iter().skip(thread).step_by(threads).cloned().collect::<Vec<Asked>>();
    let parts: Vec<anyhow::Result<Vec<Analysis>>> = std::thread::scope(|scope| {
        let started: Vec<_> = (0..threads).map(|thread| scope.spawn(move || run(table, &part(thread)))).collect();
        started.into_iter().map(|it| it.join().unwrap_or_else(|_| bail!("a thread stopped"))).collect()
    });
    let mut parts: Vec<_> = parts.into_iter().map(|part| part.map(Vec::into_iter)).collect::<Result<_, _>>()?;
    Ok((0..asked.len()).filter_map(|index| parts[index % threads].next()).collect())
}

fn laid_out(table: &FieldTable, rows: &[usize]) -> anyhow::Result<Experiment> {
    let unit = BlockStructure::unit;
    let block = ("block", "block");
    let factorial = ["a", "b"];
    let arrangement = table.rows[rows[0]][table.column("arrangement")?].as_str();
    match arrangement {
        "rcb" => experiment(table, rows, unit("block").nest(unit("plot")), &[block], &["entry"]),
        "factorial" => experiment(table, rows, unit("block").nest(unit("plot")), &[block], &factorial),
        "split" => {
            let structure = unit("block").nest(unit("main plot").nest(unit("plot")));
            experiment(table, rows, structure, &[block, ("main plot", "a")], &factorial)
        }
        "strip" => {
            let structure = unit("block").nest(unit("strip along").cross(unit("strip across")));
            experiment(table, rows, structure, &[block, ("strip along", "a"), ("strip across", "b")], &factorial)
        }
        "alpha" => {
            let structure = unit("replicate").nest(unit("block").nest(unit("plot")));
            experiment(table, rows, structure, &[("replicate", "rep"), ("block", "iblock")], &["entry"])
        }
        other => bail!("no arrangement '{other}'"),
    }
}

/// Every test within 1e-5 (F), 1e-4 (df) relative and 1e-6 absolute (p) of the reference; log-likelihoods not below it by 1e-6.
fn check(asked: &[Asked], analyses: &[Analysis], expected: &Path) -> anyhow::Result<Result<String, String>> {
    let golden = FieldTable::read(expected)?;
    let at = |name: &str| golden.column(name);
    let (analysis, term) = (at("analysis")?, at("term")?);
    let (ndf, ddf, f, p, log_likelihood, singular) =
        (at("ndf")?, at("ddf")?, at("F")?, at("p")?, at("loglik")?, at("singular")?);
    let by_name: HashMap<&str, &Analysis> = asked.iter().map(|it| it.0.as_str()).zip(analyses).collect();
    let mut at_zero = std::collections::HashSet::new();
    let (mut worst_f, mut worst_df, mut worst_p): (f64, f64, f64) = (0.0, 0.0, 0.0);
    for row in &golden.rows {
        let number = |column: usize| row[column].parse::<f64>().with_context(|| format!("no number in {row:?}"));
        let name = row[analysis].as_str();
        let Some(found) = by_name.get(name) else { return Ok(Err(format!("{name} was not analysed"))) };
        let label = row[term].replace(':', " x ");
        let Some(test) = found.tests.iter().find(|test| test.label == label) else {
            return Ok(Err(format!("{name} has no test of {label}")));
        };
        let relative = |found: f64, golden: f64| (found - golden).abs() / golden.abs();
        let (off_f, off_df) = (relative(test.f, number(f)?), relative(test.den_df, number(ddf)?));
        let off_p = (test.p - number(p)?).abs();
        let mixed = found.mixed.as_ref().context("the mixed model was asked for")?;
        let reached = mixed.reml_log_likelihood - log_change_of_coding(found);
        let is_right = off_f <= 1e-5 && off_df <= 1e-4 && off_p <= 1e-6 && test.num_df == number(ndf)?;
        if !is_right || reached < number(log_likelihood)? - 1e-6 || mixed.evidence.singular != (row[singular] == "1") {
            return Ok(Err(format!("{name}, {label}: {test:?}, log-likelihood {reached}, expected {row:?}")));
        }
        if mixed.evidence.singular {
            at_zero.insert(name);
        }
        (worst_f, worst_df, worst_p) = (worst_f.max(off_f), worst_df.max(off_df), worst_p.max(off_p));
    }
    let pairs: usize = analyses.iter().flat_map(|it| &it.tables).map(|table| table.pairs.len()).sum();
    Ok(Ok(format!(
        "{} analyses ({} with a variance at zero), {} tests, {pairs} differences; largest misses F {worst_f:.1e}, df {worst_df:.1e}, p {worst_p:.1e}",
        analyses.len(),
        at_zero.len(),
        golden.rows.len()
    )))
}

/// The reference was made with contrasts that sum to zero; its model matrix is ours times one with this logarithm of its determinant:
/// `k` for one factor of `k` levels, `a^b b^a` for two.
fn log_change_of_coding(analysis: &Analysis) -> f64 {
    let levels: Vec<f64> =
        analysis.tables.iter().filter(|it| it.term.len() == 1).map(|it| it.cells.len() as f64).collect();
    match levels.as_slice() {
        [a, b] => b * a.ln() + a * b.ln(),
        all => all.iter().map(|levels| levels.ln()).sum(),
    }
}
