//! What is found when something is missing, and what travels with every finding.

mod trial;

use guardrow_agronomy::unit::Unit;
use guardrow_findings::{Direction, Estimate, Estimates, Findings, Measures, PremiseStatus, Question, TestLevel, find};
use trial::{Means, claim, main_finding, means, measure, question, setting, treatments, yields};

struct NoValues;

impl Estimates for NoValues {
    fn difference(&self, _: &[f64]) -> Result<Estimate, String> {
        Err("treatment `early, wide` has no value".into())
    }
}

fn found(question: &Question, results: &Means) -> Findings {
    find(question, &treatments(), &yields(results), &setting(PremiseStatus::Occurred)).unwrap()
}

#[test]
fn a_measure_that_was_not_taken_gives_no_verdict() {
    let findings =
        find(&question(Direction::Higher), &treatments(), &Measures::new(), &setting(PremiseStatus::Occurred)).unwrap();
    let finding = &findings.claims[0];
    assert_eq!((finding.verdict, finding.verdict_word.as_str(), finding.numbers), (None, "not measured", None));
    assert_eq!(
        finding.sentence,
        "Hollin Field, 2025: there is no result for seeding date early against late in yield: it was not measured."
    );
}

#[test]
fn a_difference_that_the_plots_cannot_tell_is_said_with_the_reason() {
    let measures = Measures::from([("yield".to_owned(), measure("grain yield", Unit::KgPerHa, &NoValues))]);
    let findings =
        find(&question(Direction::Higher), &treatments(), &measures, &setting(PremiseStatus::Occurred)).unwrap();
    assert_eq!(findings.claims[0].verdict, None);
    assert!(findings.claims[0].sentence.contains("treatment `early, wide` has no value"));
    assert_eq!(findings.claims[0].margin.as_ref().map(|margin| margin.value), Some(250.0));
}

#[test]
fn a_question_without_claims_is_answered_with_a_caution() {
    let findings = found(&Question::default(), &means(0.0, 0.0, 60.0));
    assert!(findings.claims.is_empty());
    assert!(findings.cautions.iter().any(|caution| caution.contains("makes no claim")), "{:?}", findings.cautions);
}

#[test]
fn a_misspelt_level_is_an_error_with_its_place() {
    let mut question = question(Direction::Higher);
    question.claims[0].comparison.second.level = "lat".into();
    let results = means(0.0, 0.0, 60.0);
    let error = find(&question, &treatments(), &yields(&results), &setting(PremiseStatus::Occurred)).unwrap_err();
    assert_eq!(error.place(), Some("question.claims[0].comparison.second.level"));
}

#[test]
fn few_error_degrees_of_freedom_screening_and_several_claims_are_told() {
    let results = Means { df: 9.0, ..means(500.0, 500.0, 60.0) };
    let finding = main_finding(&question(Direction::Higher), &results, PremiseStatus::Occurred);
    assert!(finding.notes.iter().any(|note| note.contains("9 error degrees of freedom, fewer than 12")));
    let two = Question { claims: vec![claim(Direction::Higher), claim(Direction::Either)], ..Question::default() };
    let screening = guardrow_findings::Setting { level: TestLevel::TenPercent, ..setting(PremiseStatus::NoneNeeded) };
    let findings = find(&two, &treatments(), &yields(&results), &screening).unwrap();
    for words in ["at 10 %, for screening", "its own interval"] {
        assert!(findings.cautions.iter().any(|caution| caution.contains(words)), "{words}: {:?}", findings.cautions);
    }
    assert!(findings.claims[0].sentence.contains("90 % interval"), "{}", findings.claims[0].sentence);
}

#[test]
fn numbers_are_told_as_first_minus_second_whatever_is_claimed() {
    let finding = main_finding(&question(Direction::Lower), &means(-500.0, -500.0, 60.0), PremiseStatus::Occurred);
    assert_eq!(finding.numbers.unwrap().estimate, -500.0);
    assert_eq!(finding.judgement.unwrap().bounds.estimate, 500.0);
}

#[test]
fn findings_come_back_from_json_as_they_were() {
    let mut question = question(Direction::Higher);
    question.links =
        vec![guardrow_findings::Link { step: "grain fills".into(), measure: "yield".into(), ..Default::default() }];
    for (narrow, wide, se) in [(500.0, 500.0, 64.0), (900.0, -100.0, 64.0), (128.0, 128.0, 256.0)] {
        let findings = found(&question, &means(narrow, wide, se));
        let text = serde_json::to_string(&findings).unwrap();
        let back: Findings = serde_json::from_str(&text).unwrap();
        assert_eq!(serde_json::to_string(&back).unwrap(), text);
        assert_eq!(back.claims[0].sentence, findings.claims[0].sentence);
    }
}

#[test]
fn a_question_comes_back_from_json_as_it_was() {
    let question = question(Direction::Either);
    let text = serde_json::to_string(&question).unwrap();
    assert!(text.contains("\"margin\":\"250 kg/ha\""), "{text}");
    assert_eq!(serde_json::from_str::<Question>(&text).unwrap(), question);
    let money = r#"{"claims":[{"margin":{"added_cost":"45 money/ha","price":"0.18 money/kg"}}]}"#;
    let question: Question = serde_json::from_str(money).unwrap();
    let words = question.claims[0].margin.as_ref().map(|margin| {
        margin.in_unit(Unit::KgPerHa, "grain yield", "margin", guardrow_findings::Trade::default()).unwrap().value
    });
    assert_eq!(words.map(f64::round), Some(250.0));
}

#[test]
fn links_and_rivals_have_names_of_their_own_in_the_description() {
    use utoipa::ToSchema;
    let mut schemas = Vec::new();
    Findings::schemas(&mut schemas);
    let names: Vec<&str> = schemas.iter().map(|(name, _)| name.as_str()).collect();
    for name in ["StepFinding_LinkState", "StepFinding_RivalState", "Finding", "GateResult", "Numbers"] {
        assert!(names.contains(&name), "{name}: {names:?}");
    }
}
