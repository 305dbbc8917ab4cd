//! The commands, one file each.

pub(crate) mod analyse;
pub(crate) mod backup;
pub(crate) mod bring_in;
pub(crate) mod check;
pub(crate) mod demo;
pub(crate) mod document;
pub(crate) mod draw;
pub(crate) mod findings;
pub(crate) mod harvest;
pub(crate) mod lot;
pub(crate) mod new;
pub(crate) mod note;
pub(crate) mod packets;
pub(crate) mod plan;
pub(crate) mod premise;
pub(crate) mod serve;
pub(crate) mod start;
pub(crate) mod take_in;
pub(crate) mod trial;
pub(crate) mod trials;

use std::path::Path;

use guardrow_station::{Station, StationError};

use crate::arguments::Command;

/// Runs a command and returns what is to be printed.
pub(crate) fn run(command: Command) -> Result<String, StationError> {
    match command {
        Command::Demo(demo) => demo::run(&demo),
        Command::New(new) => new::run(&new),
        Command::Serve(serve) => serve::run(&serve),
        Command::Analyse(analyse) => analyse::run(&analyse),
        Command::BringIn(bring_in) => bring_in::run(&bring_in),
        Command::Start(start) => start::run(&start),
        Command::Lot(papers) => lot::run(&papers),
        Command::Packets(packets) => packets::run(&packets),
        Command::Premise(premise) => premise::run(&premise),
        Command::Note(note) => note::run(&note),
        Command::Harvest(harvest) => harvest::run(&harvest),
        Command::Trials(trials) => trials::run(&trials),
        Command::Trial(trial) => trial::run(&trial),
        Command::Plan(plan) => plan::run(&plan),
        Command::Draw(draw) => draw::run(&draw),
        Command::TakeIn(take_in) => take_in::run(&take_in),
        Command::Document(document) => document::run(&document),
        Command::Findings(findings) => findings::run(&findings),
        Command::Check(check) => check::run(&check),
        Command::Backup(backup) => backup::run(&backup),
    }
}

/// Opens the station of a folder with this machine's clock.
fn open(folder: &Path) -> Result<Station, StationError> {
    Station::open(folder, jiff::Timestamp::now)
}
