//! `guardrow trial`

use guardrow_station::{StationError, TrialView};

use super::trials::stage;
use crate::arguments::TrialOf;
use crate::printed;
use crate::trouble::remark_lines;

/// Show one trial: how far it is, what is missing, what comes next
#[derive(Debug, clap::Args)]
pub(crate) struct Trial {
    #[command(flatten)]
    of: TrialOf,
    /// Print everything about the trial as JSON
    #[arg(long)]
    pub json: bool,
}

pub(crate) fn run(trial: &Trial) -> Result<String, StationError> {
    let view = super::open(&trial.of.station)?.trial(&trial.of.code)?;
    if trial.json { printed::json(&view) } else { Ok(in_words(&view)) }
}

fn in_words(view: &TrialView) -> String {
    let mut text = String::new();
    let head = &view.plan.trial;
    printed::heading(&mut text, &format!("{}  {}", head.code, head.title));
    printed::paragraph(&mut text, &format!("Season {}, {}, {}", head.season, head.crop, head.site));
    printed::paragraph(&mut text, &format!("Stage: {} (plan version {})", stage(view.stage), view.plan_version));
    printed::paragraph(&mut text, &format!("Next:  {}", view.next));
    printed::paragraph(&mut text, view.method.as_deref().unwrap_or(""));
    if !view.remarks.is_empty() {
        printed::heading(&mut text, "Remarks on the plan");
        text.extend(view.remarks.iter().map(remark_lines));
    }
    layouts(&mut text, view);
    events(&mut text, view);
    if let Some(premise) = &view.premise {
        let when = if premise.after_yields { "after yields were known" } else { "before yields were known" };
        printed::heading(&mut text, "Premise");
        printed::paragraph(&mut text, &format!("Judged by {} {when}: {}", premise.by, premise.evidence));
    }
    if !view.notes.is_empty() {
        printed::heading(&mut text, "Season");
        for note in &view.notes {
            let plots = if note.plots.is_empty() { String::new() } else { format!(" (plots {:?})", note.plots) };
            printed::paragraph(&mut text, &format!("{}  {}: {}{plots}", note.on, note.kind, note.text));
        }
    }
    if !view.publications.is_empty() {
        printed::heading(&mut text, "Documents, newest first");
        for made in &view.publications {
            printed::paragraph(&mut text, &format!("{}  {}", made.made_at.strftime("%Y-%m-%d %H:%M UTC"), made.file));
        }
    }
    text
}

fn layouts(text: &mut String, view: &TrialView) {
    if view.layout_versions.is_empty() {
        return;
    }
    printed::heading(text, "Layouts");
    for line in &view.layout_versions {
        let reason = if line.reason.is_empty() { String::new() } else { format!(", because {}", line.reason) };
        let locked = line.locked.as_ref().map_or(String::new(), |what| format!("; locked: {what}"));
        printed::paragraph(text, &format!("Version {} by {}{reason}{locked}", line.version, line.by));
        if !line.seed.is_empty() {
            printed::indented(text, &format!("seed {}, drawing algorithm {}", line.seed, line.algorithm));
        }
    }
}

fn events(text: &mut String, view: &TrialView) {
    if view.events.is_empty() {
        return;
    }
    let rows: Vec<Vec<String>> = view
        .events
        .iter()
        .map(|event| {
            let measures: Vec<&str> = event.measures.iter().map(|measure| measure.key.as_str()).collect();
            vec![event.event.clone(), measures.join(", "), format!("{} of {}", event.done, event.plots)]
        })
        .collect();
    printed::heading(text, "Observations");
    text.push_str(&printed::rows(&["Event", "Measures", "Plots done"], &rows));
}
