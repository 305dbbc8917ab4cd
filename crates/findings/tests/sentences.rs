//! What the sentences say, and what they may not say, whatever the numbers.

mod trial;

use std::collections::HashSet;
use std::sync::LazyLock;

use guardrow_agronomy::unit::{Quantity, Unit};
use guardrow_findings::{
    Direction, EQUALITY, Finding, Findings, NOT_REACHABLE, NOT_SEPARATED, PremiseCondition, PremiseStatus, Question,
    Rival, Verdict, find,
};
use trial::{Means, main_finding, means, measure, question, setting, size, treatments, yields};

/// Words that no text about any verdict uses.
const NEVER: &[&str] =
    &["proved", "always", "optimum", "the same", "no effect", "not significant", "significant", "tended to"];

fn said(narrow: f64, wide: f64, se_of_mean: f64, direction: Direction, premise: PremiseStatus) -> Finding {
    main_finding(&question(direction), &means(narrow, wide, se_of_mean), premise)
}

fn check(narrow: f64, wide: f64, direction: Direction, verdict: Verdict, sentence: &str) {
    let finding = said(narrow, wide, 60.0, direction, PremiseStatus::Occurred);
    assert_eq!(finding.verdict, Some(verdict), "{}", finding.sentence);
    assert!(finding.sentence.starts_with(&format!("Hollin Field, 2025: {sentence}")), "{}", finding.sentence);
}

#[test]
fn a_supported_claim_is_told_with_its_interval() {
    check(
        500.0,
        500.0,
        Direction::Higher,
        Verdict::Supported,
        "seeding date early raised grain yield by 380 to 620 kg/ha (95 % interval) compared with late, at least the \
         margin of 250 kg/ha.",
    );
    check(
        300.0,
        300.0,
        Direction::Higher,
        Verdict::Supported,
        "seeding date early raised grain yield compared with late, by how much is less sure: by 180 to 420 kg/ha (95 % \
         interval), estimate 300 kg/ha.",
    );
    check(
        -500.0,
        -500.0,
        Direction::Lower,
        Verdict::Supported,
        "seeding date early lowered grain yield by 380 to 620 kg/ha (95 % interval) compared with late, at least",
    );
}

#[test]
fn a_contradicted_claim_says_what_happened_instead() {
    check(
        -500.0,
        -500.0,
        Direction::Higher,
        Verdict::Contradicted,
        "seeding date early did not raise grain yield compared with late; it lowered it by 380 to 620 kg/ha (95 % \
         interval), at least the margin of 250 kg/ha.",
    );
    let wide = said(-200.0, -200.0, 220.0, Direction::Higher, PremiseStatus::Occurred);
    assert_eq!(wide.judgement.unwrap().line, 5);
    assert!(wide.sentence.contains("any gain is smaller than 250 kg/ha"), "{}", wide.sentence);
    assert!(wide.sentence.contains("a loss is not excluded"), "{}", wide.sentence);
    let lower = said(200.0, 200.0, 220.0, Direction::Lower, PremiseStatus::Occurred);
    assert!(lower.sentence.contains("any lowering is smaller than 250 kg/ha"), "{}", lower.sentence);
    assert!(lower.sentence.contains("a rise is not excluded"), "{}", lower.sentence);
}

#[test]
fn no_difference_that_matters_names_the_margin_and_a_real_difference() {
    check(
        20.0,
        0.0,
        Direction::Higher,
        Verdict::NoDifferenceThatMatters,
        "seeding date early made no difference that matters (less than 250 kg/ha) in grain yield compared with late: 90 % \
         interval from 90 kg/ha lower to 110 kg/ha higher.",
    );
    let real = said(130.0, 130.0, 50.0, Direction::Either, PremiseStatus::Occurred);
    assert!(real.sentence.contains("there is a real difference, smaller than matters"), "{}", real.sentence);
}

#[test]
fn without_direction_one_option_is_better() {
    check(
        -500.0,
        -500.0,
        Direction::Either,
        Verdict::SecondBetter,
        "late was better than seeding date early in grain yield, higher by 380 to 620 kg/ha",
    );
    let finding = said(500.0, 500.0, 60.0, Direction::Either, PremiseStatus::Occurred);
    assert_eq!(
        (finding.verdict, finding.verdict_word.as_str()),
        (Some(Verdict::FirstBetter), "seeding date early better")
    );
}

#[test]
fn where_lower_is_better_the_lower_option_is_better() {
    let results = means(-500.0, -500.0, 60.0);
    let mut measures = yields(&results);
    measures.get_mut("yield").unwrap().lower_is_better = true;
    let findings =
        find(&question(Direction::Either), &treatments(), &measures, &setting(PremiseStatus::Occurred)).unwrap();
    assert_eq!(findings.claims[0].verdict, Some(Verdict::FirstBetter));
    assert!(findings.claims[0].sentence.contains("early was better than late in grain yield, lower by 380 to 620"));
}

#[test]
fn an_undecided_claim_says_what_an_answer_would_take() {
    let finding = said(150.0, 150.0, 220.0, Direction::Higher, PremiseStatus::Occurred);
    assert_eq!(finding.verdict, Some(Verdict::Undecided));
    let takes = finding.what_it_takes.unwrap();
    assert!(finding.sentence.contains("this trial cannot tell whether"), "{}", finding.sentence);
    let words = format!("about {} replicates like these if it is zero", takes.when_zero.unwrap());
    assert!(finding.sentence.contains(&words), "{}", finding.sentence);
    assert!(takes.when_zero.unwrap() > 4, "more than the trial had");
}

#[test]
fn what_never_happened_was_never_tested() {
    let finding = said(500.0, 500.0, 60.0, Direction::Higher, PremiseStatus::DidNotOccur);
    assert_eq!(finding.verdict, Some(Verdict::NeverTested));
    assert_eq!(
        finding.sentence,
        "Hollin Field, 2025: the seedbed was not cold, so seeding date early against late in grain yield was never tested. \
         As agronomy under these conditions, not as a test of the claim: seeding date early against late in grain yield: \
         estimate 500 kg/ha higher, 95 % interval 380 to 620 kg/ha higher."
    );
}

#[test]
fn what_cannot_be_told_is_conditional() {
    let mut question = question(Direction::Higher);
    let condition = PremiseCondition {
        measure: "soil temperature".into(),
        place: "seed zone, 4 cm".into(),
        window: "first 48 h after seeding".into(),
        statistic: "mean".into(),
        below: true,
        threshold: Quantity::parse("8 degC").unwrap(),
        sensor_error: None,
    };
    question.premise.as_mut().unwrap().condition = Some(condition);
    let results = means(500.0, 500.0, 60.0);
    let finding = main_finding(&question, &results, PremiseStatus::CannotTell);
    assert_eq!(finding.verdict, Some(Verdict::Undecided));
    assert_eq!(finding.strength, None);
    let starts = "Hollin Field, 2025: if soil temperature (seed zone, 4 cm; first 48 h after seeding; mean) was below 8 \
                  degC, then seeding date early raised grain yield by 380 to 620 kg/ha";
    assert!(finding.sentence.starts_with(starts), "{}", finding.sentence);
    assert!(finding.sentence.contains("Whether it was so cannot be told, so the claim is undecided"));
    let unjudged = main_finding(&question, &results, PremiseStatus::NoneNeeded);
    assert_eq!(unjudged.verdict, Some(Verdict::Undecided), "a premise that was not judged is no premise that occurred");
}

#[test]
fn without_a_margin_there_is_an_estimate_and_a_request() {
    let mut question = question(Direction::Higher);
    question.claims[0].margin = None;
    let finding = main_finding(&question, &means(500.0, 500.0, 60.0), PremiseStatus::Occurred);
    assert_eq!((finding.verdict, finding.verdict_word.as_str()), (None, "no verdict without a margin"));
    assert!(finding.sentence.contains("95 % interval 380 to 620 kg/ha higher"), "{}", finding.sentence);
    assert!(finding.sentence.contains("set the smallest difference worth acting on"), "{}", finding.sentence);
}

#[test]
fn a_shut_gate_tells_the_simple_effects_and_no_verdict_on_the_average() {
    let finding = said(900.0, -100.0, 60.0, Direction::Higher, PremiseStatus::Occurred);
    assert_eq!((finding.verdict, finding.verdict_word.as_str()), (None, "depends on row spacing"));
    assert_eq!(finding.judgement.unwrap().verdict, Some(Verdict::Supported), "the average is kept for the table");
    let gate = finding.gate.unwrap();
    assert_eq!(gate.shut_by, ["row spacing wide"]);
    assert!(finding.sentence.contains("it depends on row spacing: at row spacing narrow, seeding date early raised"));
    assert!(finding.sentence.contains("the average over row spacing stands only in the table"), "{}", finding.sentence);
}

#[test]
fn an_open_gate_tells_the_largest_difference_between_simple_effects() {
    let finding = said(520.0, 480.0, 60.0, Direction::Higher, PremiseStatus::Occurred);
    assert!(
        finding.sentence.contains(
            "the largest difference between simple effects (at row spacing narrow less at row spacing wide) is 40 kg/ha (95 \
             % interval -210 to 290); a difference between them that matters is not excluded"
        ),
        "{}",
        finding.sentence
    );
    let near = said(500.0, 500.0, 30.0, Direction::Higher, PremiseStatus::Occurred);
    assert!(!near.sentence.contains("is not excluded"), "{}", near.sentence);
}

#[test]
fn a_rival_that_moved_too_ends_the_sentence() {
    let mut question = question(Direction::Higher);
    question.rivals =
        vec![Rival { explanation: "denser stands".into(), measure: "stand".into(), smallest: size("20 plants/m2") }];
    let (yield_means, stands) = (means(500.0, 500.0, 60.0), stands(60.0));
    let mut measures = yields(&yield_means);
    measures.insert("stand".into(), measure("stand", Unit::PlantsPerM2, &stands));
    let findings = find(&question, &treatments(), &measures, &setting(PremiseStatus::Occurred)).unwrap();
    assert!(findings.claims[0].sentence.ends_with(&format!("; {NOT_SEPARATED}.")), "{}", findings.claims[0].sentence);
}

fn stands(difference: f64) -> Means {
    Means { means: vec![200.0 + difference, 200.0 + difference, 200.0, 200.0, 0.0], se_of_mean: 5.0, df: 30.0 }
}

/// Every kind of outcome: simple effects, precision, direction and premise.
static EVERY: LazyLock<Vec<Findings>> = LazyLock::new(|| {
    let effects = [-900.0, -260.0, -100.0, 0.0, 120.0, 400.0, 900.0];
    let premises =
        [PremiseStatus::Occurred, PremiseStatus::DidNotOccur, PremiseStatus::CannotTell, PremiseStatus::NoneNeeded];
    let mut every = Vec::new();
    for (narrow, wide) in effects.iter().flat_map(|narrow| effects.iter().map(move |wide| (*narrow, *wide))) {
        for se_of_mean in [15.0, 60.0, 110.0, 200.0, 500.0] {
            for direction in [Direction::Higher, Direction::Lower, Direction::Either] {
                every.extend(premises.map(|premise| findings(narrow, wide, se_of_mean, direction, premise)));
            }
        }
    }
    every
});

fn findings(narrow: f64, wide: f64, se_of_mean: f64, direction: Direction, premise: PremiseStatus) -> Findings {
    let mut question: Question = question(direction);
    if premise == PremiseStatus::NoneNeeded {
        question.premise = None;
    }
    question.rivals =
        vec![Rival { explanation: "denser stands".into(), measure: "stand".into(), smallest: size("20 plants/m2") }];
    let (yield_means, stands) = (means(narrow, wide, se_of_mean), stands(wide / 10.0));
    let mut measures = yields(&yield_means);
    measures.insert("stand".into(), measure("stand", Unit::PlantsPerM2, &stands));
    find(&question, &treatments(), &measures, &setting(premise)).unwrap()
}

/// The sentence in lower case, without the words that any verdict carries when equivalence was out of reach.
fn own_words(finding: &Finding) -> String {
    finding.sentence.to_lowercase().replace(NOT_REACHABLE, "")
}

#[test]
fn no_sentence_says_what_its_verdict_may_not_say() {
    for findings in EVERY.iter() {
        let finding = &findings.claims[0];
        let told = finding.judgement.unwrap().conditional.or(finding.verdict);
        let banned = told.map(Verdict::may_not_say).unwrap_or_default();
        // A shut gate tells the simple effects, each in the words of its own line.
        let shut = finding.gate.as_ref().is_some_and(|gate| gate.shut) && finding.verdict != Some(Verdict::NeverTested);
        let banned = if shut { &[] } else { banned };
        for words in banned.iter().chain(NEVER) {
            assert!(!own_words(finding).contains(words), "{told:?} may not say {words:?}: {}", finding.sentence);
        }
        let rest = [&findings.cautions, &finding.notes].into_iter().flatten().map(String::as_str);
        let steps =
            findings.rivals.iter().map(|rival| rival.sentence.as_str()).chain([findings.chain.sentence.as_str()]);
        for text in rest.chain(steps) {
            for words in NEVER {
                assert!(!text.to_lowercase().contains(words), "{words:?} in {text}");
            }
        }
    }
}

#[test]
fn equality_out_of_reach_is_said_and_never_contradicted() {
    for findings in EVERY.iter() {
        let finding = &findings.claims[0];
        if finding.judgement.unwrap().reachable == Some(false) {
            assert!(finding.sentence.contains(NOT_REACHABLE), "{}", finding.sentence);
            assert!(finding.notes.iter().any(|note| note.contains(NOT_REACHABLE)), "{:?}", finding.notes);
            for words in EQUALITY {
                assert!(!own_words(finding).contains(words), "{words:?} in {}", finding.sentence);
            }
        } else if finding.gate.as_ref().is_some_and(|gate| !gate.shut) {
            assert!(!finding.sentence.contains(NOT_REACHABLE), "{}", finding.sentence);
        }
    }
}

#[test]
fn every_sentence_names_place_and_year_and_gives_no_figure_without_an_interval() {
    for findings in EVERY.iter() {
        let finding = &findings.claims[0];
        assert!(finding.sentence.starts_with("Hollin Field, 2025: "), "{}", finding.sentence);
        assert!(finding.sentence.ends_with('.') && !finding.sentence.contains(".."), "{}", finding.sentence);
        for clause in finding
            .sentence
            .split(". ")
            .flat_map(|sentence| sentence.split(';'))
            .filter(|clause| clause.contains("estimate "))
        {
            assert!(clause.contains(" % interval"), "a single figure in {clause:?}");
        }
    }
}

#[test]
fn every_verdict_is_told_by_some_sentence() {
    let seen: HashSet<Option<Verdict>> = EVERY.iter().map(|findings| findings.claims[0].verdict).collect();
    // Seven verdicts, and none on an average that hides a decision.
    assert_eq!(seen.len(), 8);
}
