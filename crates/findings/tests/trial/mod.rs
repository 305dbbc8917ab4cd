//! An invented trial for the tests: two seeding dates at two row spacings, and independent treatment means.

#![allow(dead_code, reason = "each test file uses its own part of the trial")]

use guardrow_agronomy::unit::{Quantity, Unit};
use guardrow_design::{Control, Factor, Level, Scale, TreatmentStructure};
use guardrow_findings::{
    Claim, Comparison, Direction, Estimate, Estimates, Finding, Margin, MeasureResult, Measures, Premise,
    PremiseStatus, Question, Setting, Side, TestLevel, Trade, find,
};

/// Independent treatment means with one standard error.
pub struct Means {
    pub means: Vec<f64>,
    pub se_of_mean: f64,
    pub df: f64,
}

impl Estimates for Means {
    fn difference(&self, weights: &[f64]) -> Result<Estimate, String> {
        let estimate = weights.iter().zip(&self.means).map(|(weight, mean)| weight * mean).sum();
        let squares: f64 = weights.iter().map(|weight| weight * weight).sum();
        Ok(Estimate { estimate, se: self.se_of_mean * squares.sqrt(), df: self.df })
    }
}

/// Means of early narrow, early wide, late narrow, late wide (and a control) whose simple effects are as stated.
pub fn means(narrow: f64, wide: f64, se_of_mean: f64) -> Means {
    Means { means: vec![3000.0 + narrow, 2800.0 + wide, 3000.0, 2800.0, 2500.0], se_of_mean, df: 30.0 }
}

pub fn factor(name: &str, levels: &[&str]) -> Factor {
    let levels = levels.iter().map(|label| Level { label: (*label).to_owned(), amount: None }).collect();
    Factor { name: name.into(), scale: Scale::Qualitative, levels }
}

/// Two seeding dates by two row spacings, and a control.
pub fn treatments() -> TreatmentStructure {
    TreatmentStructure {
        factors: vec![factor("seeding date", &["early", "late"]), factor("row spacing", &["narrow", "wide"])],
        controls: vec![Control { label: "unseeded".into(), plots_per_replicate: 1 }],
    }
}

pub fn level(factor: &str, level: &str) -> Side {
    Side { factor: Some(factor.into()), level: level.into() }
}

pub fn label(label: &str) -> Side {
    Side { factor: None, level: label.into() }
}

pub fn early_against_late() -> Comparison {
    Comparison { first: level("seeding date", "early"), second: level("seeding date", "late") }
}

pub fn size(text: &str) -> Option<Quantity> {
    Some(Quantity::parse(text).unwrap())
}

pub fn claim(direction: Direction) -> Claim {
    Claim {
        statement: "early seeding yields more".into(),
        measure: "yield".into(),
        comparison: early_against_late(),
        direction,
        margin: size("250 kg/ha").map(Margin::Size),
    }
}

pub fn question(direction: Direction) -> Question {
    Question { claims: vec![claim(direction)], premise: Some(cold_seedbed()), ..Question::default() }
}

pub fn cold_seedbed() -> Premise {
    Premise { words: "the seedbed was not cold".into(), condition: None }
}

pub fn measure<'a>(name: &str, unit: Unit, estimates: &'a dyn Estimates) -> MeasureResult<'a> {
    MeasureResult { name: name.into(), unit, lower_is_better: false, estimates }
}

pub fn yields(results: &Means) -> Measures<'_> {
    Measures::from([("yield".to_owned(), measure("grain yield", Unit::KgPerHa, results))])
}

pub fn setting(premise: PremiseStatus) -> Setting<'static> {
    Setting {
        place_and_year: "Hollin Field, 2025",
        premise,
        replicates: 4,
        level: TestLevel::FivePercent,
        trade: Trade::default(),
    }
}

/// The finding of the main claim.
pub fn main_finding(question: &Question, results: &Means, premise: PremiseStatus) -> Finding {
    let mut findings = find(question, &treatments(), &yields(results), &setting(premise)).unwrap();
    findings.claims.remove(0)
}
