//! Benchmarks as commands: `cargo run --release -p guardrow-bench -- WORKLOAD [--json]`.
//!
//! Each prints one line per measurement: name, seconds, peak memory, threads, and whether its check passed. A run whose check
//! fails has no time. How to read the figures: `docs/benchmarks.md`.

#[cfg(feature = "station")]
mod import;
mod measurement;
#[cfg(feature = "station")]
mod report;
mod split_plot;

use clap::{Parser, ValueEnum};

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Workload {
    /// One split-plot analysis, from the table of plots to tests, means, differences and letters.
    B1,
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
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let measurements = match arguments.workload {
        Workload::B1 => split_plot::measure()?,
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
