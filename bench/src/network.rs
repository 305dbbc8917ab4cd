//! Workloads B3 and B3x: a network of trials, one mixed model over all sites and years.

use std::collections::HashMap;
use std::path::Path;

use anyhow::Context;
use guardrow_inference::{Network, NetworkFit, NetworkGrouping, NetworkOptions, fit_network};
use serde_json::json;

use crate::measurement::Measurement;

/// The columns of the table as a reader leaves them: labels and their codes, values.
struct Columns {
    site: Coded,
    year: Coded,
    block: Coded,
    entry: Coded,
    yields: Vec<f64>,
}

#[derive(Default)]
struct Coded {
    labels: Vec<String>,
    known: HashMap<String, usize>,
    code: Vec<usize>,
}

impl Coded {
    fn push(&mut self, label: &str) {
        let next = self.labels.len();
        let code = match self.known.get(label) {
            Some(&code) => code,
            None => {
                self.labels.push(label.to_owned());
                self.known.insert(label.to_owned(), next);
                next
            }
        };
        self.code.push(code);
    }

    fn grouping(&self, name: &str) -> NetworkGrouping {
        NetworkGrouping::new(name, &self.code, self.labels.len())
    }
}

fn read(path: &Path) -> anyhow::Result<Columns> {
    let mut reader = csv::Reader::from_path(path).with_context(|| format!("{} cannot be read", path.display()))?;
    let new = Coded::default;
    let mut columns = Columns { site: new(), year: new(), block: new(), entry: new(), yields: Vec::new() };
    let mut row = csv::StringRecord::new();
    while reader.read_record(&mut row)? {
        let text = |column: usize| row.get(column).with_context(|| format!("a row of {} cells", row.len()));
        columns.site.push(text(0)?);
        columns.year.push(text(1)?);
        columns.block.push(text(2)?);
        columns.entry.push(text(3)?);
        columns.yields.push(text(4)?.parse()?);
    }
    Ok(columns)
}

/// Index of entry x site among the random groupings.
const ENTRY_AT_SITE: usize = 4;

/// From the parsed columns to all outputs.
fn fit(columns: &Columns, threads: usize) -> anyhow::Result<Answer> {
    let (site, year, entry) =
        (columns.site.grouping("site"), columns.year.grouping("year"), columns.entry.grouping("entry"));
    let block = columns.block.grouping("block");
    let site_year = NetworkGrouping::crossed("site x year", &site, &year);
    let blocks = NetworkGrouping::crossed("block in site x year", &site_year, &block);
    let entry_site = NetworkGrouping::crossed("entry x site", &entry, &site);
    let entry_year = NetworkGrouping::crossed("entry x year", &entry, &year);
    let entry_site_year = NetworkGrouping::crossed("entry x site x year", &entry, &site_year);
    let random = vec![site, year, site_year, blocks, entry_site, entry_year, entry_site_year];
    let network = Network::new(columns.yields.clone(), entry, random);
    let fit = fit_network(&network, &NetworkOptions { threads, predicted: vec![ENTRY_AT_SITE] })?;
    let differences = fit.difference_ses();
    Ok(Answer { fit, differences })
}

struct Answer {
    fit: NetworkFit,
    differences: Vec<Vec<Option<f64>>>,
}

/// Times B3 on one thread and on two.
pub fn measure(data: &Path) -> anyhow::Result<Vec<Measurement>> {
    let columns = read(&data.join("b3.csv"))?;
    let check = check(&fit(&columns, 1)?, Some(-313_741.627_38));
    let one = Measurement::of("b3 a network of 43,159 plots, in process", 9, || fit(&columns, 1));
    let two = Measurement::of_threads("b3 a network of 43,159 plots, in process", 9, 2, || fit(&columns, 2));
    Ok(vec![one.with_check(check.clone()), two.with_check(check)])
}

/// Times B3x on two threads.
pub fn measure_large(data: &Path) -> anyhow::Result<Vec<Measurement>> {
    let columns = read(&data.join("b3x.csv"))?;
    let check = check(&fit(&columns, 2)?, None);
    let two = Measurement::of_threads("b3x a network of 431,543 plots, in process", 3, 2, || fit(&columns, 2));
    Ok(vec![two.with_check(check)])
}

/// From the file to one JSON file.
pub fn once(table: &Path, output: &Path, threads: usize) -> anyhow::Result<()> {
    let columns = read(table)?;
    let Answer { fit, differences } = fit(&columns, threads)?;
    let means: HashMap<&str, (f64, f64)> = columns
        .entry
        .labels
        .iter()
        .zip(fit.means.iter().flatten())
        .map(|(label, it)| (label.as_str(), (it.mean, it.se)))
        .collect();
    let answer = json!({
        "variances": fit.components,
        "residual": fit.residual,
        "reml_log_likelihood": fit.reml_log_likelihood,
        "evidence": fit.evidence,
        "entries": columns.entry.labels,
        "sites": columns.site.labels,
        "means": means,
        "difference_se": differences,
        "entry_at_site": fit.predictions[ENTRY_AT_SITE].effects,
        "entry_at_site_se": fit.predictions[ENTRY_AT_SITE].prediction_se,
    });
    let file = std::io::BufWriter::new(std::fs::File::create(output)?);
    Ok(serde_json::to_writer(file, &answer)?)
}

/// The log-likelihood at least the peer's less 1e-6, no score above 1e-4.
fn check(answer: &Answer, least: Option<f64>) -> Result<String, String> {
    let fit = &answer.fit;
    let score = fit.evidence.gradient / 2.0;
    let reached = fit.reml_log_likelihood;
    let found =
        format!("log-likelihood {reached:.9} after {} steps, largest score {score:.1e}", fit.evidence.iterations);
    let is_right = score < 1e-4 && least.is_none_or(|least| reached >= least - 1e-6);
    if is_right { Ok(found) } else { Err(found) }
}
