//! One trial's way through the station, by the use cases that a person's clicks call.

use guardrow_design::{MAIN_PLOT, PlotKind};
use guardrow_findings::PremiseStatus;
use guardrow_station::{
    DocumentKind, DocumentOptions, DrawLayout, ErrorKind, IncomingFile, JudgePremise, Lot, Plan, SaveLot, SavePlan,
    SeasonNote, ShowObservations, Station, StationError, TypedValue, TypedValues, read_plan_file,
};

use crate::{FindingLine, Papers, Step, TrialOutcome, clock};

/// A plot as the generator of values needs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Plot {
    /// Number on the stake.
    pub number: u32,
    /// Replicate from 1.
    pub replicate: usize,
    /// Main plot from 1 within the replicate; 0 where there are none.
    pub main_plot: usize,
    /// Index of the treatment.
    pub treatment: usize,
    /// Its label.
    pub label: String,
}

/// One trial on its way.
pub(crate) struct Walk<'a> {
    station: &'a Station,
    plan: Plan,
    papers: Papers,
    progress: &'a mut dyn FnMut(Step),
}

impl<'a> Walk<'a> {
    /// A trial with its plan, not yet in the station.
    pub(crate) fn new(
        station: &'a Station,
        plan_file: &str,
        text: &str,
        papers: Papers,
        progress: &'a mut dyn FnMut(Step),
    ) -> Result<Walk<'a>, StationError> {
        Ok(Walk { station, plan: read_plan_file(plan_file, text)?, papers, progress })
    }

    fn code(&self) -> &str {
        &self.plan.trial.code
    }

    fn tell(&mut self, what: impl Into<String>) {
        let step = Step { trial: self.plan.trial.code.clone(), what: what.into() };
        (self.progress)(step);
    }

    /// Starts the trial with its question only.
    pub(crate) fn ask(&mut self, by: &str) -> Result<(), StationError> {
        let question = Plan { trial: self.plan.trial.clone(), question: self.plan.question.clone(), ..Plan::default() };
        let request = SavePlan { plan: question, expected_version: None, by: by.to_owned(), reason: String::new() };
        let trial = self.station.start_trial(&request)?;
        let question = &trial.plan.question;
        let parts = [
            counted(question.claims.len(), "claim"),
            counted(question.links.len(), "link"),
            counted(question.rivals.len(), "rival"),
        ];
        let missing = counted(trial.remarks.len(), "remark");
        self.tell(format!("the question is written down: {}; {missing} on what is still missing", parts.join(", ")));
        Ok(())
    }

    /// Completes the plan.
    pub(crate) fn plan(&mut self, by: &str) -> Result<(), StationError> {
        let request =
            SavePlan { plan: self.plan.clone(), expected_version: Some(1), by: by.to_owned(), reason: String::new() };
        let trial = self.station.save_plan(self.code(), &request)?;
        self.tell(format!("the plan is complete: {}", trial.method.unwrap_or_default()));
        for remark in trial.remarks {
            self.tell(format!("remark on the plan: {}", remark.what));
        }
        Ok(())
    }

    /// Draws the layout.
    pub(crate) fn draw(&mut self, by: &str, seed: u64) -> Result<Vec<Plot>, StationError> {
        let request = DrawLayout { by: by.to_owned(), seed: Some(seed.to_string()), reason: String::new() };
        let drawn = self.station.draw_layout(self.code(), &request)?;
        let mut plots: Vec<Plot> = drawn
            .layout
            .plots
            .iter()
            .filter(|plot| plot.kind == PlotKind::Plot)
            .filter_map(|plot| {
                let treatment = plot.treatment?;
                Some(Plot {
                    number: plot.number?,
                    replicate: plot.replicate?,
                    main_plot: plot.unit(MAIN_PLOT).unwrap_or(0),
                    treatment,
                    label: drawn.treatments[treatment].clone(),
                })
            })
            .collect();
        plots.sort_by_key(|plot| plot.number);
        self.tell(format!("the layout is drawn from seed {seed}: {} plots", plots.len()));
        Ok(plots)
    }

    /// Enters lots and computes the packets.
    pub(crate) fn supply(&mut self, by: &str, lots: Vec<Lot>) -> Result<(), StationError> {
        for lot in lots {
            let code = lot.code.clone();
            self.station.save_lot(&SaveLot { lot, by: by.to_owned(), reason: String::new() })?;
            self.tell(format!("seed lot {code} is entered"));
        }
        let view = self.station.packets(self.code())?;
        let grams: f64 = view.packets.iter().map(|packet| packet.grams).sum();
        self.tell(format!("{} packets are computed, {grams:.0} g of seed", view.packets.len()));
        Ok(())
    }

    /// Prints papers of the whole trial: map, blind map, labels and list.
    pub(crate) fn print_for_seeding(&mut self, by: &str) -> Result<(), StationError> {
        if self.papers == Papers::Few {
            return Ok(());
        }
        self.print(DocumentKind::Map, "the plot map is printed", &options(by, None, false))?;
        self.print(DocumentKind::Map, "the plot map without treatment names is printed", &options(by, None, true))?;
        self.print(
            DocumentKind::PacketLabels,
            "packet labels are printed in seeding order",
            &options(by, None, false),
        )?;
        self.print(DocumentKind::PackingList, "the packing list is printed", &options(by, None, false))
    }

    /// Prints the sheet of an event on paper and as a workbook; the workbook only when few papers are wanted.
    pub(crate) fn print_sheet(&mut self, by: &str, event: &str) -> Result<(), StationError> {
        let options = options(by, Some(event), true);
        if self.papers == Papers::All {
            self.print(DocumentKind::FieldSheet, &format!("the field sheet “{event}” is printed"), &options)?;
        }
        self.print(DocumentKind::FieldWorkbook, &format!("the workbook “{event}” is made"), &options)
    }

    fn print(&mut self, kind: DocumentKind, what: &str, options: &DocumentOptions) -> Result<(), StationError> {
        let made = self.station.make_document(self.code(), kind, options)?;
        self.tell(format!("{what}: {}", made.file));
        Ok(())
    }

    /// Reads a table back.
    pub(crate) fn take_in(&mut self, by: &str, name: &str, bytes: Vec<u8>) -> Result<(), StationError> {
        let file = IncomingFile { name: name.to_owned(), bytes };
        let looked_at = self.station.check_file(self.code(), &file)?;
        let accepted = self.station.accept_file(self.code(), &file, by)?;
        let values = accepted.accepted.unwrap_or(0);
        self.tell(format!("{name} is read as {} and accepted: {values} values", looked_at.read_as));
        Ok(())
    }

    /// Brings a file that must be refused, and tells why it was.
    pub(crate) fn see_refused(&mut self, by: &str, name: &str, bytes: Vec<u8>) -> Result<(), StationError> {
        let file = IncomingFile { name: name.to_owned(), bytes };
        match self.station.accept_file(self.code(), &file, by) {
            Err(error) if error.kind == ErrorKind::Refused => {
                let first = error.remarks.first().map_or(String::new(), |remark| format!(": {}", remark.what));
                self.tell(format!("{name} is refused, nothing of it is written{first}"));
                Ok(())
            }
            Err(error) => Err(error),
            Ok(_) => Err(StationError::new(
                ErrorKind::Internal,
                format!("{name} was accepted although it holds wrong values"),
                name,
                "report this; the demonstration is wrong",
            )),
        }
    }

    /// Types values of one measure.
    pub(crate) fn type_in(
        &mut self,
        by: &str,
        observed_on: jiff::civil::Date,
        measure: &str,
        values: &[(u32, String)],
    ) -> Result<(), StationError> {
        let typed = |(plot, text): &(u32, String)| TypedValue {
            plot: *plot,
            measure: measure.to_owned(),
            text: text.clone(),
            replaces: None,
            reason: String::new(),
        };
        let request = TypedValues {
            by: by.to_owned(),
            observed_on: Some(observed_on),
            values: values.iter().map(typed).collect(),
        };
        self.station.record(self.code(), &request)?;
        self.tell(format!("{} values of {measure} are typed in", values.len()));
        Ok(())
    }

    /// Corrects one value, with the reason.
    pub(crate) fn correct(
        &mut self,
        by: &str,
        plot: u32,
        measure: &str,
        text: &str,
        reason: &str,
    ) -> Result<(), StationError> {
        let table = self.station.observations(self.code(), &ShowObservations::default())?;
        let at = table.measures.iter().position(|known| known.key == measure);
        let row = table.rows.iter().find(|row| row.plot == plot);
        let entry = at.zip(row).and_then(|(at, row)| row.cells[at].first());
        let replaces = entry.map(|entry| entry.id);
        let value = TypedValue {
            plot,
            measure: measure.to_owned(),
            text: text.to_owned(),
            replaces,
            reason: reason.to_owned(),
        };
        let request = TypedValues { by: by.to_owned(), observed_on: None, values: vec![value] };
        self.station.record(self.code(), &request)?;
        self.tell(format!("{measure} of plot {plot} is corrected to {text}: {reason}"));
        Ok(())
    }

    /// Writes a note of the season.
    pub(crate) fn note(
        &mut self,
        by: &str,
        kind: &str,
        on: jiff::civil::Date,
        text: &str,
        plots: &[u32],
    ) -> Result<(), StationError> {
        let note =
            SeasonNote { kind: kind.to_owned(), on, text: text.to_owned(), plots: plots.to_vec(), by: by.to_owned() };
        self.station.add_note(self.code(), &note)?;
        self.tell(format!("{kind} of {on} is noted"));
        Ok(())
    }

    /// Judges the premise.
    pub(crate) fn judge(&mut self, by: &str, status: PremiseStatus, evidence: &str) -> Result<(), StationError> {
        let request = JudgePremise { by: by.to_owned(), status, evidence: evidence.to_owned() };
        let trial = self.station.judge_premise(self.code(), &request)?;
        let when = match trial.premise {
            Some(premise) if !premise.after_yields => "before any yield was known",
            _ => "after yields were known",
        };
        self.tell(format!("the premise is judged, {when}"));
        Ok(())
    }

    /// Shows the harvest, makes report and data package, and says what was found.
    pub(crate) fn publish(mut self, by: &str) -> Result<TrialOutcome, StationError> {
        let harvest = self.station.harvest(self.code())?;
        let yields = harvest.lines.iter().filter(|line| line.standard.is_some()).count();
        self.tell(format!("{yields} yields are brought to {} % moisture", harvest.standard_moisture_pct));
        let report = self.station.report(self.code())?;
        self.tell(format!("the analysis is done: {}", counted(report.findings.len(), "finding")));
        if self.papers == Papers::All {
            self.print(DocumentKind::Report, "the report is printed", &options(by, None, false))?;
            self.print(DocumentKind::DataPackage, "the data package is packed", &options(by, None, false))?;
        }
        let findings = report.findings.into_iter().map(|finding| FindingLine {
            claim: finding.claim,
            verdict: finding.verdict.word,
            numbers: finding.numbers,
        });
        self.outcome(findings.collect())
    }

    /// Ends the way here: the trial goes on another time.
    pub(crate) fn leave(self) -> Result<TrialOutcome, StationError> {
        self.outcome(Vec::new())
    }

    fn outcome(self, findings: Vec<FindingLine>) -> Result<TrialOutcome, StationError> {
        let trial = self.station.trial(self.code())?;
        let papers = trial.publications.iter().map(|made| self.station.publication(&made.file));
        Ok(TrialOutcome {
            code: trial.plan.trial.code.clone(),
            title: trial.plan.trial.title.clone(),
            stage: trial.stage,
            findings,
            papers: papers.collect::<Result<_, _>>()?,
        })
    }

    /// Moves the invented clock on.
    pub(crate) fn on(&self, moment: &str) {
        clock::set(moment);
    }
}

fn options(by: &str, event: Option<&str>, blind: bool) -> DocumentOptions {
    DocumentOptions { by: by.to_owned(), event: event.map(str::to_owned), blind, paper: None }
}

/// `1 link`, `2 links`.
fn counted(count: usize, word: &str) -> String {
    if count == 1 { format!("1 {word}") } else { format!("{count} {word}s") }
}
