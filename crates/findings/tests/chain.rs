//! The chain from cause to outcome, its gaps, and rival explanations.

mod trial;

use guardrow_agronomy::unit::Unit;
use guardrow_findings::{
    Direction, Findings, Link, LinkState, Measures, PremiseStatus, Question, Rival, RivalState, find,
};
use trial::{Means, means, measure, question, setting, size, treatments};

fn link(step: &str, measure: &str, direction: Direction, smallest: &str) -> Link {
    let smallest = if smallest.is_empty() { None } else { size(smallest) };
    Link { step: step.into(), measure: measure.into(), direction, smallest, when: String::new() }
}

fn difference(amount: f64, se_of_mean: f64) -> Means {
    Means { means: vec![amount, amount, 0.0, 0.0, 0.0], se_of_mean, df: 30.0 }
}

struct Season {
    yields: Means,
    emergence: Means,
    stand: Means,
    vigour: Means,
}

impl Season {
    fn measures(&self) -> Measures<'_> {
        Measures::from([
            ("yield".to_owned(), measure("grain yield", Unit::KgPerHa, &self.yields)),
            ("emergence".to_owned(), measure("time to emergence", Unit::Day, &self.emergence)),
            ("stand".to_owned(), measure("stand", Unit::PlantsPerM2, &self.stand)),
            ("vigour".to_owned(), measure("vigour", Unit::Score, &self.vigour)),
        ])
    }
}

fn season() -> Season {
    Season {
        yields: means(500.0, 500.0, 60.0),
        emergence: difference(6.0, 0.5),
        stand: difference(2.0, 4.0),
        vigour: difference(-0.4, 0.5),
    }
}

fn found(links: Vec<Link>, rivals: Vec<Rival>, premise: PremiseStatus) -> Findings {
    let question = Question { links, rivals, ..question(Direction::Higher) };
    find(&question, &treatments(), &season().measures(), &setting(premise)).unwrap()
}

fn slower() -> Link {
    link("seedlings come up later", "emergence", Direction::Higher, "2 d")
}

fn thinner() -> Link {
    link("the stand is thinner", "stand", Direction::Lower, "20 plants/m2")
}

#[test]
fn each_link_is_held_broken_open_or_not_measured() {
    let links = vec![
        slower(),
        thinner(),
        link("plants are weaker", "vigour", Direction::Lower, "1 score"),
        link("roots stay shallow", "roots", Direction::Lower, "2 cm"),
        link("ears are fewer", "", Direction::Lower, ""),
        link("plants are greener", "vigour", Direction::Higher, ""),
    ];
    let chain = found(links, Vec::new(), PremiseStatus::Occurred).chain;
    let states: Vec<LinkState> = chain.links.iter().map(|link| link.state).collect();
    use LinkState::{Broken, Held, NotMeasured, Open};
    assert_eq!(states, [Held, Broken, Open, NotMeasured, NotMeasured, Open]);
    assert_eq!(chain.first_gap, Some(1));
    assert!(chain.sentence.contains("The first step from the cause that broke is step 2"), "{}", chain.sentence);
    assert!(chain.links[4].sentence.contains("no measure was planned for it"));
    assert!(chain.links[5].sentence.contains("the smallest step that matters was not set"));
}

#[test]
fn a_step_against_its_direction_is_broken() {
    let faster = link("seedlings come up earlier", "emergence", Direction::Lower, "2 d");
    let chain = found(vec![faster], Vec::new(), PremiseStatus::Occurred).chain;
    assert_eq!(chain.links[0].state, LinkState::Broken);
    assert!(chain.links[0].sentence.contains("it raised it by"), "{}", chain.links[0].sentence);
}

#[test]
fn a_chain_that_holds_has_no_gap_and_an_unmeasured_first_step_is_named() {
    let chain = found(vec![slower()], Vec::new(), PremiseStatus::Occurred).chain;
    assert_eq!((chain.first_gap, chain.sentence.as_str()), (None, "Held: step 1 (seedlings come up later)."));
    let missing = link("the soil is cold", "soil", Direction::Lower, "1 degC");
    let findings = found(vec![missing, slower()], Vec::new(), PremiseStatus::Occurred);
    assert_eq!(findings.chain.first_gap, Some(0));
    assert!(findings.chain.sentence.starts_with("Step 1 was not measured"), "{}", findings.chain.sentence);
    assert!(findings.cautions.iter().any(|caution| caution.contains("gap at step 1")), "{:?}", findings.cautions);
}

#[test]
fn a_rival_moved_too_stayed_is_open_or_was_not_measured() {
    let rival = |explanation: &str, measure: &str, smallest: &str| Rival {
        explanation: explanation.into(),
        measure: measure.into(),
        smallest: size(smallest),
    };
    let rivals = vec![
        rival("late plots ripened later", "emergence", "2 d"),
        rival("thicker stands", "stand", "20 plants/m2"),
        rival("stronger plants", "vigour", "1 score"),
        rival("birds", "birds", "1 %"),
    ];
    let findings = found(vec![slower()], rivals, PremiseStatus::Occurred);
    let states: Vec<RivalState> = findings.rivals.iter().map(|rival| rival.state).collect();
    assert_eq!(states, [RivalState::MovedToo, RivalState::Stayed, RivalState::Open, RivalState::NotMeasured]);
    assert!(findings.chain.sentence.ends_with("cause not fully separated."), "{}", findings.chain.sentence);
    assert_eq!(findings.cautions.iter().filter(|caution| caution.contains("Another explanation")).count(), 3);
}

#[test]
fn without_the_premise_the_chain_says_so_first() {
    let chain = found(vec![slower()], Vec::new(), PremiseStatus::DidNotOccur).chain;
    assert!(chain.sentence.starts_with("The premise did not occur"), "{}", chain.sentence);
}

#[test]
fn a_smallest_step_in_another_dimension_is_refused_at_its_place() {
    let wrong = link("seedlings come up later", "emergence", Direction::Higher, "2 kg");
    let question = Question { links: vec![wrong], ..question(Direction::Higher) };
    let season = season();
    let error = find(&question, &treatments(), &season.measures(), &setting(PremiseStatus::Occurred)).unwrap_err();
    assert_eq!(error.place(), Some("question.links[0].smallest"));
    assert_eq!(error.to_string(), "2 kg cannot be told in d, the unit of time to emergence");
}
