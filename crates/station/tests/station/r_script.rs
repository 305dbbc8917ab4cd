//! The script for R: its formulas follow from the arrangement, and nothing that a person wrote becomes code.
//!
//! What R says to the scripts is tested in `tests/outside/test_r_script.py`.

use guardrow_station::{IncomingFile, RScript, r_script_of_file, read_plan_file};

const HEAD: &str = "format = \"guardrow plan 1\"\n[trial]\ncode = \"R-1\"\ntitle = \"As laid out\"\nseason = 2026\n";
const MEASURE: &str =
    "[[measures]]\nkey = \"seed_yield\"\nname = \"Seed yield\"\nunit = \"t/ha\"\nevent = \"Harvest\"\n";

/// A value that depends on the row alone, without a pattern that would make an error zero.
fn value(row: usize) -> f64 {
    3.0 + f64::from(u32::try_from((row * 37 + row * row * 11) % 101).expect("below 101")) / 50.0
}

fn script(plan: &str, header: &str, rows: &[String]) -> RScript {
    let plan = read_plan_file("plan.toml", plan).expect("a plan");
    let rows: Vec<String> = rows.iter().enumerate().map(|(at, row)| format!("{row},{}", value(at))).collect();
    let table = format!("{header},seed_yield\n{}\n", rows.join("\n"));
    let file = IncomingFile { name: "table.csv".to_owned(), bytes: table.into_bytes() };
    r_script_of_file(&plan, &file, jiff::Timestamp::now).expect("a script")
}

fn text<'a>(script: &'a RScript, name: &str) -> &'a str {
    let (_, bytes) = script.files.iter().find(|(file, _)| file == name).expect("the file");
    std::str::from_utf8(bytes).expect("text")
}

fn crossed(units: &[&str], first: &[&str], second: &[&str]) -> Vec<String> {
    let mut rows = Vec::new();
    for unit in units {
        for a in first {
            rows.extend(second.iter().map(|b| format!("{unit},{a},{b}")));
        }
    }
    rows
}

/// A plan of two factors under some arrangement.
fn two_factors(arrangement: &str) -> String {
    format!(
        "{HEAD}[[treatments.factors]]\nname = \"sowing date\"\nlevels = [{{ label = \"early\" }}, {{ label = \"late\" }}]\n\
         [[treatments.factors]]\nname = \"rate\"\nscale = {{ kind = \"quantitative\", unit = \"kg/ha\" }}\n\
         levels = [{{ label = \"0\", amount = 0 }}, {{ label = \"50\", amount = 50 }}, {{ label = \"120\", amount = 120 }}]\n\
         [arrangement]\n{arrangement}\n{MEASURE}"
    )
}

fn check(arrangement: &str, lines: &[&str]) {
    let rows = crossed(&["1", "2", "3"], &["early", "late"], &["0", "50", "120"]);
    let script = script(&two_factors(arrangement), "block,sowing date,rate", &rows);
    let code = text(&script, "reproduce.R");
    for line in lines {
        assert!(code.contains(line), "{arrangement}: no line holds {line}\n{code}");
    }
    assert!(script.numbers > 200, "{} numbers", script.numbers);
}

// Source: the model of each arrangement in judgement.md, section 1; R's formulas as aov and lme4 document them.
#[test]
fn formulas_follow_from_the_arrangement() {
    check(
        "kind = \"randomised_blocks\"\nreplicates = 3\n[table]\nreplicate = \"block\"",
        &[
            "aov(y ~ sowing_date + rate + sowing_date:rate + Error(block), data = laid)",
            "fitted_by_reml(y ~ 0 + cell + (1 | block), d)",
            "trend_weights(averages(cells, \"rate\")$weights, c(0, 50, 120))",
        ],
    );
    check(
        "kind = \"split_plot\"\nreplicates = 3\nmain_plot_factors = [\"sowing date\"]\n[table]\nreplicate = \"block\"",
        &[
            "trial$block.main_plot <- together(trial$block, trial$main_plot)",
            "Error(block + block.main_plot), data = laid)",
            "fitted_by_reml(y ~ 0 + cell + (1 | block) + (1 | block.main_plot), d)",
        ],
    );
    check(
        "kind = \"strip_plot\"\nreplicates = 3\nacross_factors = [\"sowing date\"]\nalong_factors = [\"rate\"]\n[table]\nreplicate = \"block\"",
        &["Error(block + block.strip_across + block.strip_along), data = laid)", "(1 | block.strip_along), d)"],
    );
}

#[test]
fn numbers_and_plots_stand_beside_with_all_their_digits() {
    let rows = crossed(&["1", "2", "3"], &["early", "late"], &["0", "50", "120"]);
    let plan = two_factors("kind = \"randomised_blocks\"\nreplicates = 3\n[table]\nreplicate = \"block\"");
    let script = script(&plan, "block,sowing date,rate", &rows);
    let plots = text(&script, "plots.csv");
    assert!(
        plots.starts_with("plot_number,block,treatment,sowing_date,rate,seed_yield\r\n1,1,\"early, 0\",early,0,3\r\n")
    );
    assert_eq!(plots.lines().count(), 1 + rows.len());
    let expected = text(&script, "expected.csv");
    assert!(expected.starts_with("measure,part,of,item,number,value\r\n"));
    let known = expected.lines().skip(1).filter(|line| !line.ends_with(',')).count();
    assert_eq!(known, script.numbers);
    let read_me = text(&script, "README.txt");
    assert!(
        read_me.contains("seed_yield: Seed yield, in t/ha") && read_me.contains("sowing_date: level of sowing date")
    );
}

#[test]
fn no_text_of_a_person_becomes_code() {
    let evil = "x\"); quit(\\\"no\\\") #";
    let plan = format!(
        "{HEAD}[[treatments.factors]]\nname = '{evil}'\nlevels = [{{ label = '{evil}' }}, {{ label = 'Rübe' }}]\n\
         [arrangement]\nkind = \"randomised_blocks\"\nreplicates = 3\n[table]\nreplicate = \"block\"\nfactors = {{ '{evil}' = \"what\" }}\n{MEASURE}"
    );
    let field = format!("\"{}\"", evil.replace('"', "\"\""));
    let rows: Vec<String> =
        ["1", "2", "3"].iter().flat_map(|block| [format!("{block},{field}"), format!("{block},Rübe")]).collect();
    let script = script(&plan, "block,what", &rows);
    for line in text(&script, "reproduce.R").lines().filter(|line| !line.trim_start().starts_with('#')) {
        assert!(line.is_ascii(), "{line}");
        assert!(!outside_of_quotes(line).contains("quit("), "{line}");
    }
}

/// What of a line of R stands outside its quotes.
fn outside_of_quotes(line: &str) -> String {
    let (mut outside, mut in_quotes, mut signs) = (String::new(), false, line.chars());
    while let Some(sign) = signs.next() {
        match sign {
            '\\' if in_quotes => drop(signs.next()),
            '"' => in_quotes = !in_quotes,
            sign if !in_quotes => outside.push(sign),
            _ => {}
        }
    }
    assert!(!in_quotes, "a quote is not closed: {line}");
    outside
}
