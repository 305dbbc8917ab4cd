//! From plots through the analysis to a finding.

mod trial;

use guardrow_agronomy::unit::Unit;
use guardrow_design::{BlockStructure, TreatmentStructure};
use guardrow_findings::{Direction, Findings, Measures, PremiseStatus, Strength, Verdict, find};
use guardrow_inference::{Analysis, Experiment, Options, analyse};
use trial::{factor, measure, question, setting};

/// Randomised blocks, treatment by treatment in every block.
fn analysed(treatments: &TreatmentStructure, blocks: &[&[f64]]) -> Analysis {
    let unit = |name: &str| Box::new(BlockStructure::Unit(name.into()));
    let count = blocks[0].len();
    let block_of = (0..blocks.len()).flat_map(|block| std::iter::repeat_n(block, count)).collect();
    let experiment = Experiment::new(
        BlockStructure::Nested(unit("block"), unit("plot")),
        vec![("block".into(), block_of)],
        treatments.clone(),
        (0..blocks.len()).flat_map(|_| 0..count).collect(),
        blocks.iter().flat_map(|block| block.iter().copied().map(Some)).collect(),
    );
    analyse(&experiment, &Options::default()).unwrap()
}

fn found(treatments: &TreatmentStructure, blocks: &[&[f64]], direction: Direction) -> Findings {
    let analysis = analysed(treatments, blocks);
    let measures = Measures::from([("yield".to_owned(), measure("grain yield", Unit::KgPerHa, &analysis))]);
    find(&question(direction), treatments, &measures, &setting(PremiseStatus::Occurred)).unwrap()
}

// With two treatments in blocks the analysis is the paired t test: differences 300, 340, 260, 300; mean 300; standard
// deviation 32.66; standard error 16.33 on 3 df; t(0.975, 3) = 3.1824 (printed tables), so 248.03 to 351.97.
#[test]
fn two_treatments_in_blocks_are_judged_by_the_paired_t_test() {
    let treatments =
        TreatmentStructure { factors: vec![factor("seeding date", &["early", "late"])], ..Default::default() };
    let blocks: [&[f64]; 4] = [&[3300.0, 3000.0], &[3440.0, 3100.0], &[3160.0, 2900.0], &[3350.0, 3050.0]];
    let finding = found(&treatments, &blocks, Direction::Higher).claims.remove(0);
    let numbers = finding.numbers.unwrap();
    assert!((numbers.estimate - 300.0).abs() < 1e-9 && numbers.df == 3.0, "{numbers:?}");
    assert!(
        (numbers.interval.lower - 248.03).abs() < 0.01 && (numbers.interval.upper - 351.97).abs() < 0.01,
        "{numbers:?}"
    );
    assert_eq!((finding.verdict, finding.strength), (Some(Verdict::Supported), Some(Strength::DirectionSure)));
    assert!(
        finding.sentence.contains("by 248 to 352 kg/ha (95 % interval), estimate 300 kg/ha"),
        "{}",
        finding.sentence
    );
}

// Error mean square by hand: the residuals of the additive model of 4 treatments in 3 blocks.
#[test]
fn simple_effects_of_a_factorial_come_from_the_same_error() {
    let factors = vec![factor("seeding date", &["early", "late"]), factor("row spacing", &["narrow", "wide"])];
    let treatments = TreatmentStructure { factors, controls: Vec::new() };
    // Block effects 0, 100, 50; treatment means 3800, 3000, 3000, 3000 above them; residuals of plus and minus 20.
    let blocks: [&[f64]; 3] =
        [&[3820.0, 2980.0, 2980.0, 3020.0], &[3880.0, 3120.0, 3100.0, 3100.0], &[3850.0, 3050.0, 3070.0, 3030.0]];
    let finding = found(&treatments, &blocks, Direction::Higher).claims.remove(0);
    // Eight residuals of 20 and four of zero: sum of squares 3200 on 6 df.
    let mean_square = 3200.0 / 6.0;
    let gate = finding.gate.unwrap();
    let narrow = &gate.crossings[0].effects[0];
    assert!((narrow.numbers.estimate - 800.0).abs() < 1e-9);
    assert!((narrow.numbers.se - (2.0 * mean_square / 3.0_f64).sqrt()).abs() < 1e-9, "{}", narrow.numbers.se);
    assert_eq!(gate.shut_by, ["row spacing wide"]);
    assert_eq!((finding.verdict, finding.verdict_word.as_str()), (None, "depends on row spacing"));
}

#[test]
fn a_treatment_without_values_is_said_and_not_judged() {
    let factors = vec![factor("seeding date", &["early", "late", "very late"])];
    let treatments = TreatmentStructure { factors, controls: Vec::new() };
    let unit = |name: &str| Box::new(BlockStructure::Unit(name.into()));
    let experiment = Experiment::new(
        BlockStructure::Nested(unit("block"), unit("plot")),
        vec![("block".into(), vec![0, 0, 0, 1, 1, 1])],
        treatments.clone(),
        vec![0, 1, 2, 0, 1, 2],
        vec![Some(3300.0), None, Some(3000.0), Some(3440.0), None, Some(3090.0)],
    );
    let analysis = analyse(&experiment, &Options::default()).unwrap();
    let measures = Measures::from([("yield".to_owned(), measure("grain yield", Unit::KgPerHa, &analysis))]);
    let question = question(Direction::Higher);
    let findings = find(&question, &treatments, &measures, &setting(PremiseStatus::Occurred)).unwrap();
    assert_eq!(findings.claims[0].verdict, None);
    assert!(findings.claims[0].sentence.contains("there is no result for"), "{}", findings.claims[0].sentence);
    assert!(findings.claims[0].sentence.contains("late"), "{}", findings.claims[0].sentence);
}
