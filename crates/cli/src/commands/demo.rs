//! `guardrow demo`

use std::fs;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use guardrow_demo::{STEPS, Step, Summary, TRIALS};
use guardrow_station::{ErrorKind, StationError};
use guardrow_web::ServeOptions;
use indicatif::{ProgressBar, ProgressStyle};

use super::serve;
use crate::{given_file, printed};

/// Make an invented station, take its trials all the way, and open it in the browser
///
/// Everything in it is invented and says so. When the folder holds such a station already, that one is opened.
#[derive(Debug, clap::Args)]
pub(crate) struct Demo {
    /// Folder of the station
    #[arg(value_name = "FOLDER", default_value = "demo-station")]
    folder: PathBuf,
    /// Do not open the browser
    #[arg(long)]
    no_browser: bool,
    /// Make the station, and stop
    #[arg(long)]
    no_serve: bool,
    /// Port to listen on; 0 for any that is free [default: 4715, or any that is free]
    #[arg(long, value_name = "PORT")]
    port: Option<u16>,
    /// Make the station anew; only a folder that is marked as invented is ever removed
    #[arg(long)]
    fresh: bool,
}

pub(crate) fn run(demo: &Demo) -> Result<String, StationError> {
    let there = folder_is_used(&demo.folder)?;
    if there {
        let trials = refuse_what_is_not_invented(&demo.folder)?;
        if trials < TRIALS && !demo.fresh {
            return Err(unfinished(&demo.folder));
        }
    }
    if there && demo.fresh {
        fs::remove_dir_all(&demo.folder).map_err(|cause| given_file::cannot("remove", &demo.folder, &cause))?;
    }
    let answer = if there && !demo.fresh {
        format!(
            "{} holds the invented station already; it is left as it is (--fresh makes it anew).\n",
            demo.folder.display()
        )
    } else {
        make(&demo.folder)?
    };
    if demo.no_serve {
        return Ok(answer);
    }
    printed::to_standard_output(&answer)?;
    let station = Arc::new(super::open(&demo.folder)?);
    match demo.port {
        None => serve::run_on_any_port(&station, !demo.no_browser)?,
        Some(port) => {
            let options = ServeOptions { port, open_browser: !demo.no_browser };
            guardrow_web::serve(station, options, serve::announce).map_err(|error| serve::trouble(&error))?;
        }
    }
    Ok("The station is closed.\n".to_owned())
}

fn folder_is_used(folder: &Path) -> Result<bool, StationError> {
    match fs::read_dir(folder) {
        Ok(mut entries) => Ok(entries.next().is_some()),
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => Ok(false),
        Err(cause) => Err(given_file::cannot("look into", folder, &cause)),
    }
}

fn unfinished(folder: &Path) -> StationError {
    let what = format!(
        "the invented station in {} was not finished; the program was stopped while it made it",
        folder.display()
    );
    StationError::new(ErrorKind::Refused, what, folder.display().to_string(), "add --fresh to make it anew")
}

/// Refuses a folder that holds anything but a station that this command made; returns how many trials it has.
fn refuse_what_is_not_invented(folder: &Path) -> Result<usize, StationError> {
    let refused = |what: String| {
        let try_this = "name another folder; nothing in this one was touched";
        StationError::new(ErrorKind::Refused, what, folder.display().to_string(), try_this)
    };
    let view = match super::open(folder) {
        Ok(station) => station.view()?,
        Err(error) if error.kind == ErrorKind::NotThere => {
            return Err(refused(format!("the folder {} holds something that is no station", folder.display())));
        }
        Err(error) => return Err(error),
    };
    if view.invented && view.name == guardrow_demo::NAME {
        return Ok(view.trials.len());
    }
    Err(refused(format!(
        "the folder {} holds the station “{}”, which is not the invented one",
        folder.display(),
        view.name
    )))
}

fn make(folder: &Path) -> Result<String, StationError> {
    let progress = Progress::start();
    let made = guardrow_demo::build(folder, &mut |step| progress.tell(&step));
    progress.end();
    Ok(in_words(&made?))
}

fn in_words(summary: &Summary) -> String {
    let mut text = String::new();
    printed::heading(&mut text, &format!("{}: what its trials found", summary.name));
    let mut rows = Vec::new();
    for trial in &summary.trials {
        for finding in &trial.findings {
            rows.push(vec![
                trial.code.clone(),
                finding.claim.clone(),
                finding.verdict.clone(),
                finding.numbers.clone(),
            ]);
        }
    }
    text.push_str(&printed::rows(&["Trial", "Claim", "Verdict", "Estimate"], &rows));
    for trial in summary.trials.iter().filter(|trial| trial.findings.is_empty()) {
        let stage = super::trials::stage(trial.stage);
        printed::paragraph(&mut text, &format!("{}  {}: {stage}, nothing observed yet.", trial.code, trial.title));
    }
    printed::heading(&mut text, "Reports");
    let papers = summary.trials.iter().flat_map(|trial| &trial.papers);
    let reports = papers.filter(|paper| paper.to_string_lossy().ends_with("report.pdf"));
    for report in reports {
        printed::paragraph(&mut text, &report.display().to_string());
    }
    printed::paragraph(
        &mut text,
        "\nAll of this is invented, by a seeded generator with known true effects (demo/README.md).",
    );
    text
}

/// Progress on standard error: a bar on a terminal, plain lines elsewhere.
struct Progress(Option<ProgressBar>);

impl Progress {
    fn start() -> Progress {
        if !std::io::stderr().is_terminal() {
            return Progress(None);
        }
        let bar = ProgressBar::new(STEPS as u64);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos:>3} of {len}  {elapsed}") {
            bar.set_style(style);
        }
        Progress(Some(bar))
    }

    fn tell(&self, step: &Step) {
        let line = format!("{:<7} {}", step.trial, step.what);
        match &self.0 {
            Some(bar) => {
                bar.println(line);
                bar.inc(1);
            }
            None => eprintln!("{line}"),
        }
    }

    fn end(&self) {
        if let Some(bar) = &self.0 {
            bar.finish_and_clear();
        }
    }
}
