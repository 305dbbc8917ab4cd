//! Benchmarks as commands: `cargo run --release -p guardrow-bench -- WORKLOAD [--json]`.
//!
//! Each prints one line per measurement: name, seconds, peak memory, threads, and whether its check passed. A run whose check
//! fails has no time. How to read the figures: `docs/benchmarks.md`.

mod emergence;
mod field_table;
#[cfg(feature = "station")]
mod import;
mod measurement;
mod network;
#[cfg(feature = "station")]
mod report;
mod season;
mod split_plot;

use std::path::PathBuf;

use clap::{Parser, ValueEnum};

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Workload {
    /// One split-plot analysis, from the table of plots to tests, means, differences and letters.
    B1,
    /// A season: 500 analyses of five arrangements.
    B2,
    /// A network of trials: 43,159 plots, 8 variances.
    B3,
    /// The same with 431,543 plots.
    B3x,
    /// Emergence and stand counts: three generalised mixed models at four sizes.
    B5,
    /// 100,000 observations from a CSV file into the journal, all checks included.
    #[cfg(feature = "station")]
    Import,
    /// The report of a split-plot with 48 plots, drawn in process.
    #[cfg(feature = "station")]
    Report,
}

/// Times Guardrow's work on stated inputs.
#[derive(Debug, Parser)]
struct Arguments {
    /// What to measure.
    workload: Workload,
    /// One JSON object per line.
    #[arg(long)]
    json: bool,
    /// Folder with the workloads' inputs.
    #[arg(long, env = "BENCH_DIR")]
    data: Option<PathBuf>,
    /// Folder with the answers that the results are checked against.
    #[arg(long)]
    expected: Option<PathBuf>,
    /// Do the work once, from the input file to this JSON file, for timing the whole process.
    #[arg(long)]
    once: Option<PathBuf>,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let (data, expected) = (arguments.data.as_deref(), arguments.expected.as_deref());
    let needed = || data.ok_or_else(|| anyhow::anyhow!("this workload needs its inputs: --data FOLDER or BENCH_DIR"));
    if let Some(output) = &arguments.once {
        return match arguments.workload {
            Workload::B1 => split_plot::once(needed()?, output),
            Workload::B2 => season::once(needed()?, output),
            Workload::B3 => network::once(&needed()?.join("b3.csv"), output, 1),
            Workload::B3x => network::once(&needed()?.join("b3x.csv"), output, 2),
            Workload::B5 => emergence::once(needed()?, output),
            #[cfg(feature = "station")]
            _ => anyhow::bail!("this workload has no whole process of its own"),
        };
    }
    let measurements = match arguments.workload {
        Workload::B1 => split_plot::measure(data, expected)?,
        Workload::B2 => season::measure(needed()?, expected)?,
        Workload::B3 => network::measure(needed()?)?,
        Workload::B3x => network::measure_large(needed()?)?,
        Workload::B5 => emergence::measure(needed()?, expected)?,
        #[cfg(feature = "station")]
        Workload::Import => import::measure()?,
        #[cfg(feature = "station")]
        Workload::Report => report::measure()?,
    };
    for measurement in measurements {
        println!("{}", if arguments.json { measurement.json() } else { measurement.text() });
    }
    Ok(())
}
