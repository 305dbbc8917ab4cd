//! The command line.

use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};
use guardrow_station::DocumentKind;

use crate::commands::{
    analyse, backup, bring_in, check, demo, document, draw, findings, harvest, lot, new, note, packets, plan, premise,
    serve, start, take_in, trial, trials,
};

/// Small-plot field trials, from the question to the printed report.
#[derive(Debug, Parser)]
#[command(name = "guardrow", version, about, after_help = crate::exit::help(), max_term_width = 100)]
pub(crate) struct Arguments {
    /// What is to be done.
    #[command(subcommand)]
    pub command: Command,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Make an invented station, take its trials all the way, and open it in the browser
    Demo(demo::Demo),
    /// Set up a station of your own in a new folder
    New(new::New),
    /// Open a station in the browser; it listens on this machine only
    Serve(serve::Serve),
    /// Analyse and report a trial that was laid out elsewhere, without a station
    Analyse(analyse::Analyse),
    /// Take a trial that was laid out elsewhere into a station
    BringIn(bring_in::BringIn),
    /// List the trials of a station
    Trials(trials::Trials),
    /// Show one trial: how far it is, what is missing, what comes next
    Trial(trial::Trial),
    /// Start a trial from a plan file, or change its plan to what the file says
    Start(start::Start),
    /// Print the plan file of a trial
    Plan(plan::Plan),
    /// Draw the layout of a trial
    Draw(draw::Draw),
    /// Enter a seed lot with its papers, or change them
    Lot(lot::LotPapers),
    /// Compute the seed for each plot, in seeding order, and what each lot has to give
    Packets(packets::Packets),
    /// Write a note of the season: an operation, a deviation, an incident, the weather
    Note(note::Note),
    /// Judge whether the condition that the question needs came about; best before yields are known
    Premise(premise::Premise),
    /// Look over a filled sheet or table, and take it in
    TakeIn(take_in::TakeIn),
    /// Make a document: map, sheets, labels, packing list, report, data package, script for R
    Document(document::Document),
    /// Show yields by plot, as harvested and at standard moisture
    Harvest(harvest::Harvest),
    /// Say what a trial has shown, and what it has not
    Findings(findings::FindingsOf),
    /// Check the files of a station for damage
    Check(check::Check),
    /// Copy the records of a station into one file, and check the copy
    Backup(backup::Backup),
}

impl Command {
    /// True when the answer, and with it any trouble, is asked for as JSON.
    pub(crate) fn answers_in_json(&self) -> bool {
        match self {
            Command::Analyse(analyse) => analyse.json,
            Command::Trials(trials) => trials.json,
            Command::Trial(trial) => trial.json,
            Command::TakeIn(take_in) => take_in.json,
            Command::Packets(packets) => packets.json,
            Command::Harvest(harvest) => harvest.json,
            Command::Findings(findings) => findings.json,
            _ => false,
        }
    }
}

/// The station that a command works on.
#[derive(Debug, clap::Args)]
pub(crate) struct StationFolder {
    /// Folder of the station
    #[arg(value_name = "STATION")]
    pub station: PathBuf,
}

/// The trial that a command works on.
#[derive(Debug, clap::Args)]
pub(crate) struct TrialOf {
    /// Folder of the station
    #[arg(value_name = "STATION")]
    pub station: PathBuf,
    /// Code of the trial, as it is printed on every sheet
    #[arg(value_name = "CODE")]
    pub code: String,
}

/// Kinds of document, as they are written on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Kind {
    /// Plot map
    Map,
    /// Field sheet on paper, for one event
    FieldSheet,
    /// Field sheet as a workbook, for one event
    FieldWorkbook,
    /// Packet labels in seeding order
    PacketLabels,
    /// Packing list
    PackingList,
    /// Report
    Report,
    /// All data of the trial, with a description of every column
    DataPackage,
    /// Script for R that reproduces the analyses, with its data
    RScript,
}

impl From<Kind> for DocumentKind {
    fn from(kind: Kind) -> DocumentKind {
        match kind {
            Kind::Map => DocumentKind::Map,
            Kind::FieldSheet => DocumentKind::FieldSheet,
            Kind::FieldWorkbook => DocumentKind::FieldWorkbook,
            Kind::PacketLabels => DocumentKind::PacketLabels,
            Kind::PackingList => DocumentKind::PackingList,
            Kind::Report => DocumentKind::Report,
            Kind::DataPackage => DocumentKind::DataPackage,
            Kind::RScript => DocumentKind::RScript,
        }
    }
}
