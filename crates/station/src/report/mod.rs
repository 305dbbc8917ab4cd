//! The report of a trial: everything that is stored and computed, put into words, tables and charts.

mod adjusted;
mod beside;
mod counted;
mod curve_chart;
mod curves;
mod figures;
mod findings;
mod further;
mod in_full;
mod looking;
mod method;
mod notices;
pub(crate) mod numbers;
mod overview;
mod predictions;
mod season;
mod simple_effects;
mod tables;
mod transformed;
mod trends;

use std::collections::BTreeMap;
use std::sync::Arc;

use guardrow_findings::{Findings, PremiseStatus};
use guardrow_publish::chart::{Chart, Figure};
use guardrow_publish::report::{
    Exclusions, Fact, Heading, Notice, NoticeLevel, Person, Report, ResponseReport, Stamp, Standing,
};

pub(crate) use self::curves::FEWEST_AMOUNTS;
pub use self::further::{CurvesOver, Further, TrendAt};
pub use self::in_full::{MeasureAnalysis, ReportInFull};
use self::numbers::Decimals;
use crate::analysed::{Analysed, analyse_all, findings as judge};
use crate::beside::{Beside, Remembered};
use crate::bring_in;
use crate::dossier::{Dossier, Laid};
use crate::observation::Observed;
use crate::paper::map::{map_view, places_are_known};
use crate::station::day;
use crate::{Clock, IncomingFile, Plan, PremiseJudgement, SeasonNote, Station, StationError};

/// All that a report is made from.
pub(crate) struct Material<'a> {
    pub trial: &'a Dossier,
    pub observed: &'a Observed,
    pub premise: Option<&'a PremiseJudgement>,
    pub notes: &'a [SeasonNote],
    pub station: &'a str,
    pub invented: bool,
    pub remembered: &'a Remembered,
    pub now: jiff::Timestamp,
}

/// Models of the errors of the deciding measures, by key.
type ModelsBeside = BTreeMap<String, Arc<Beside>>;

impl Station {
    /// The report of a trial as it stands now, for the page and the print.
    ///
    /// # Errors
    /// When there is no such trial, it has no layout, or the question names what the trial does not have.
    pub fn report(&self, code: &str) -> Result<Report, StationError> {
        self.report_in_full(code).map(|full| full.report)
    }

    /// The report of a trial with the analyses that it was made from.
    ///
    /// # Errors
    /// As [`Self::report`].
    pub fn report_in_full(&self, code: &str) -> Result<ReportInFull, StationError> {
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        let premise = self.premise_of(&trial)?;
        let notes = self.notes(&trial)?;
        in_full(&Material {
            trial: &trial,
            observed: &observed,
            premise: premise.as_ref(),
            notes: &notes,
            station: &self.name()?,
            invented: self.is_invented()?,
            remembered: &self.remembered,
            now: self.now(),
        })
    }
}

/// Analyses and reports a trial that was laid out elsewhere, without a station.
///
/// # Errors
/// With a remark for every field of the plan and every row of the table that cannot be right.
pub fn analyse_file(plan: &Plan, table: &IncomingFile, clock: Clock) -> Result<Report, StationError> {
    analyse_file_in_full(plan, table, clock).map(|full| full.report)
}

/// Analyses and reports a trial that was laid out elsewhere, and gives the analyses too.
///
/// # Errors
/// As [`analyse_file`].
pub fn analyse_file_in_full(plan: &Plan, table: &IncomingFile, clock: Clock) -> Result<ReportInFull, StationError> {
    let now = clock();
    let brought = bring_in::read(plan, table, now)?;
    let observed = brought.observed(&table.name, now);
    in_full(&Material {
        trial: &brought.trial,
        observed: &observed,
        premise: None,
        notes: &[],
        station: "",
        invented: false,
        remembered: &Remembered::default(),
        now,
    })
}

fn in_full(material: &Material<'_>) -> Result<ReportInFull, StationError> {
    let analysed = analyse_all(material.trial, material.observed)?;
    let beside = models_beside(material, &analysed)?;
    let findings = judge(material.trial, &analysed, premise_status(material))?;
    let report = report(material, &analysed, &beside, &findings)?;
    let (laid, plan) = (material.trial.laid()?, &material.trial.plan);
    let of = |measure: Analysed| {
        let models = beside.get(&measure.key).map(Arc::as_ref);
        MeasureAnalysis::of(measure, models, laid, plan)
    };
    Ok(ReportInFull { report, findings, analyses: analysed.into_iter().map(of).collect() })
}

/// Models of the errors of the deciding measures, as far as they are measurements.
fn models_beside(material: &Material<'_>, analysed: &[Analysed]) -> Result<ModelsBeside, StationError> {
    let (trial, laid) = (material.trial, material.trial.laid()?);
    let known = places_are_known(trial, laid);
    let wanted = analysed
        .iter()
        .filter(|measure| is_deciding(trial, measure) && measure.discrete.is_none() && measure.outcome.is_ok());
    Ok(wanted.map(|measure| (measure.key.clone(), material.remembered.beside(measure, laid, known))).collect())
}

fn report(
    material: &Material<'_>,
    analysed: &[Analysed],
    beside: &ModelsBeside,
    found: &Findings,
) -> Result<Report, StationError> {
    let trial = material.trial;
    let laid = trial.laid()?;
    let status = premise_status(material);
    let decides = |measure: &Analysed| is_deciding(trial, measure);
    let others: Vec<&Analysed> = analysed.iter().filter(|measure| !decides(measure)).collect();
    let map = map_view(trial, laid, material.station, &day(material.now), None);
    Ok(Report {
        heading: heading(material, analysed),
        question: findings::question(trial, found, status, material.premise),
        findings: findings::findings(found, analysed),
        method: method::method(trial, laid)?,
        map: Some(Figure::new(
            format!("Plot map, layout version {}. Numbers are plot numbers.", laid.line.version),
            Chart::PlotMap(map),
        )),
        season: season::season(material.notes),
        responses: analysed
            .iter()
            .map(|measure| response(material, (measure, beside), found, laid, decides(measure)))
            .collect(),
        harvest: season::harvest(trial, material.observed)?,
        sections: overview::overview(&others).into_iter().collect(),
        not_meant: findings::not_meant(trial, found),
        cautions: findings::cautions(trial, found),
        exclusions: exclusions(trial, material.observed, analysed),
        provenance: provenance(material, laid),
    })
}

fn premise_status(material: &Material<'_>) -> PremiseStatus {
    match (&material.trial.plan.question.premise, material.premise) {
        (None, _) => PremiseStatus::NoneNeeded,
        (Some(_), Some(judgement)) => judgement.status,
        (Some(_), None) => PremiseStatus::CannotTell,
    }
}

fn heading(material: &Material<'_>, analysed: &[Analysed]) -> Heading {
    let head = &material.trial.plan.trial;
    Heading {
        title: head.title.clone(),
        trial_code: head.code.clone(),
        station: material.station.to_owned(),
        season: head.season.to_string(),
        site: head.site.clone(),
        crop: head.crop.clone(),
        people: head
            .people
            .iter()
            .map(|person| Person { name: person.name.clone(), role: person.role.clone() })
            .collect(),
        prepared_on: day(material.now),
        stamp: stamp(material, analysed),
    }
}

fn stamp(material: &Material<'_>, analysed: &[Analysed]) -> Stamp {
    let primary = material.trial.plan.primary_measure();
    let has_primary = analysed.first().is_some_and(|measure| Some(&measure.key) == primary.as_ref());
    let disagreements = material.observed.disagreements().len();
    let (standing, text) = if !has_primary {
        (Standing::InSeason, "In season: the deciding measure is not in yet".to_owned())
    } else if disagreements > 0 {
        (Standing::Draft, format!("Draft: {disagreements} values disagree and wait for a decision"))
    } else {
        (Standing::Final, String::new())
    };
    match (material.invented, text.as_str()) {
        (false, _) => Stamp { standing, text },
        (true, "") => Stamp { standing, text: "Invented data, for demonstration".to_owned() },
        (true, text) => Stamp { standing, text: format!("{text}. Invented data, for demonstration") },
    }
}

/// A measure decides when a claim rests on it; without a claim, the primary measure does.
fn is_deciding(trial: &Dossier, measure: &Analysed) -> bool {
    let claims = &trial.plan.question.claims;
    match claims.is_empty() {
        true => trial.plan.primary_measure().as_ref() == Some(&measure.key),
        false => claims.iter().any(|claim| claim.measure == measure.key),
    }
}

fn response(
    material: &Material<'_>,
    (measure, beside): (&Analysed, &ModelsBeside),
    found: &Findings,
    laid: &Laid,
    deciding: bool,
) -> ResponseReport {
    let trial = material.trial;
    let used = measure.response.iter().filter(|value| value.is_some()).count();
    let missing: Vec<String> = measure
        .plots
        .iter()
        .zip(&measure.response)
        .filter(|(_, value)| value.is_none())
        .map(|(plot, _)| plot.to_string())
        .collect();
    let unit = measure.unit.symbol();
    let mut report = ResponseReport {
        key: measure.key.clone(),
        measure: measure.name.clone(),
        unit: unit.to_owned(),
        deciding,
        n: used as u32,
        missing: missing.len() as u32,
        n_sentence: n_sentence(used, &missing),
        ..ResponseReport::default()
    };
    let Some(leading) = measure.leading() else {
        let why_not = measure.why_not().unwrap_or_default();
        report.notices.push(Notice { level: NoticeLevel::Warning, text: why_not });
        return report;
    };
    let decimals = Decimals::earned(smallest_se(leading.tables), measure.unit);
    let about: Vec<_> = found.claims.iter().filter(|finding| finding.measure_key == measure.key).collect();
    let withheld = findings::withheld(&about);
    let factors = &laid.treatments.factors;
    report.tests = tables::tests(measure);
    report.gate_sentence = about
        .iter()
        .filter_map(|finding| finding.gate.as_ref())
        .map(|gate| as_sentence(&gate.sentence))
        .collect::<Vec<_>>()
        .join(" ");
    report.means = tables::means(leading, unit, decimals, &withheld);
    report.notices = counted::notices(measure);
    let mut over_amounts = curves::Curves::default();
    match (measure.as_discrete(), &measure.outcome) {
        (Some(discrete), _) => {
            report.means.extend(counted::at_edge(discrete, unit, decimals));
            report.precision.extend(counted::sentences(discrete, unit));
            let (residuals, unit) = counted::residuals(discrete);
            report.diagnostics = Some(figures::untested_residuals(measure, &residuals, unit));
        }
        (None, Ok(analysis)) => {
            let names: Vec<String> = factors.iter().map(|factor| factor.name.clone()).collect();
            report.means.extend(simple_effects::tables(analysis, &names, &withheld, unit, decimals));
            report.means.extend(predictions::tables(analysis, unit, decimals));
            report.precision = trends::trends(analysis, factors);
            report.precision.extend(precision(analysis));
            if deciding {
                let paying = |factor: &guardrow_design::Factor| trial.plan.paying(&measure.key, factor);
                over_amounts = curves::curves(measure, analysis, laid, &withheld, decimals, paying);
            }
            report.precision.append(&mut over_amounts.sentences);
            report.precision.extend(adjusted::adjusted(analysis, unit));
            if let Ok(looked) = analysis.looking() {
                report.diagnostics = Some(figures::residuals(measure, &looked, unit));
                let (ground, on) = ((trial, laid), day(material.now));
                report.looking =
                    looking::looking(measure, analysis, &looked, ground, decimals, (material.station, &on));
            }
            if let Some(models) = beside.get(&measure.key) {
                let on = self::beside::On { trial, laid, station: material.station, day: &day(material.now) };
                report.beside = self::beside::told(measure, models, leading, decimals, &withheld, &on);
                report.notices.extend(self::beside::why_not(measure, models, places_are_known(trial, laid)));
            }
            report.notices.extend(notices::notices(analysis));
        }
        (None, Err(_)) => {}
    }
    // The curve of a trial with one factor shows its means too.
    let is_shown = over_amounts.figures.len() == 1 && factors.len() == 1 && laid.treatments.controls.is_empty();
    if !is_shown {
        report.figures.extend(figures::means(measure, leading, factors, decimals));
    }
    report.figures.append(&mut over_amounts.figures);
    report.figures.extend(figures::differences(measure, &about, decimals));
    report.means.extend(transformed::means(measure, unit, decimals));
    report.notices.extend(transformed::why_not(measure));
    report
}

/// Coefficients of variation of all strata, in one line.
fn precision(analysis: &guardrow_inference::Analysis) -> Vec<String> {
    let known: Vec<String> = analysis
        .cv
        .iter()
        .filter_map(|cv| Some(format!("{} {} %", cv.stratum, numbers::f_ratio(cv.percent?))))
        .collect();
    if known.is_empty() { Vec::new() } else { vec![format!("CV: {}.", known.join(", "))] }
}

/// A capital at its head and a stop at its end.
fn as_sentence(text: &str) -> String {
    let stop = if text.ends_with('.') || text.is_empty() { "" } else { "." };
    format!("{}{stop}", capital_first(text))
}

/// The text as it begins a sentence.
fn capital_first(text: &str) -> String {
    let mut signs = text.chars();
    let head = signs.next().map(|sign| sign.to_uppercase().collect::<String>()).unwrap_or_default();
    format!("{head}{}", signs.as_str())
}

fn n_sentence(used: usize, missing: &[String]) -> String {
    match missing {
        [] => format!("All {used} plots have a value."),
        [plot] => format!("{used} plots have a value; plot {plot} has none and is left out, not filled in."),
        plots => {
            format!("{used} plots have a value; plots {} have none and are left out, not filled in.", plots.join(", "))
        }
    }
}

/// The smallest standard error of a mean decides how many decimals the means earn.
fn smallest_se(tables: &[guardrow_inference::MeansTable]) -> Option<f64> {
    let ses = tables.iter().flat_map(|table| table.cells.iter().filter_map(|cell| cell.se));
    ses.filter(|se| *se > 0.0).reduce(f64::min)
}

fn exclusions(trial: &Dossier, observed: &Observed, analysed: &[Analysed]) -> Exclusions {
    let rule = match trial.plan.exclusion_rule.trim() {
        "" => "No rule for leaving plots out was declared.".to_owned(),
        rule => format!("Rule declared before harvest: {rule}"),
    };
    let without: usize =
        analysed.first().map_or(0, |measure| measure.response.iter().filter(|value| value.is_none()).count());
    let lost = match without {
        0 => "No plot was left out".to_owned(),
        1 => "No plot was left out by choice; one has no value of the deciding measure".to_owned(),
        count => format!("No plot was left out by choice; {count} have no value of the deciding measure"),
    };
    let disagreeing: Vec<String> = observed
        .disagreements()
        .into_iter()
        .map(|(plot, measure)| format!("{} on plot {plot}", trial.measures[measure].name))
        .collect();
    let disagreeing = match disagreeing.is_empty() {
        true => String::new(),
        false => format!(" Entries disagree and were left out until a person decides: {}.", disagreeing.join(", ")),
    };
    Exclusions { sentence: format!("{lost}. {rule}{disagreeing}"), table: None }
}

fn provenance(material: &Material<'_>, laid: &Laid) -> Vec<Fact> {
    let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
    let mut facts = vec![
        fact("Program", format!("Guardrow {}", env!("CARGO_PKG_VERSION"))),
        fact("Plan", format!("version {}", material.trial.plan_version)),
    ];
    facts.push(match laid.line.algorithm {
        0 => fact("Layout", "laid out elsewhere, as stated in the plan".to_owned()),
        algorithm => fact(
            "Layout",
            format!("version {}, drawn by algorithm {algorithm} from seed {}", laid.line.version, laid.line.seed),
        ),
    });
    facts.push(fact("Data", format!("as known on {} (UTC)", material.now.strftime("%Y-%m-%d %H:%M"))));
    facts.push(fact(
        "Levels",
        "tests and intervals at 5 %, two-sided; equivalence by two one-sided tests at 5 % (the 90 % interval)"
            .to_owned(),
    ));
    facts
}
