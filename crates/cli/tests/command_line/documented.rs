//! The documents say what the program does: plan file, commands, exit codes.

use std::collections::BTreeSet;

use crate::terminal::Desk;
use guardrow_station::{Plan, Weight, check_plan, read_plan_file};
use serde_json::Value;

const PLAN_FILE: &str = include_str!("../../../../docs/plan-file.md");
const COMMANDS: &str = include_str!("../../../../docs/commands.md");

/// The TOML examples of the plan file's document.
fn examples() -> Vec<Plan> {
    let blocks = PLAN_FILE.split("```toml\n").skip(1);
    let texts = blocks.map(|block| block.split("```").next().expect("a block ends"));
    texts.map(|text| read_plan_file("docs/plan-file.md", text).unwrap_or_else(|error| panic!("{error:?}"))).collect()
}

#[test]
fn every_example_of_a_plan_can_be_laid_out() {
    let examples = examples();
    assert_eq!(examples.len(), 3);
    for plan in examples {
        let refused: Vec<_> =
            check_plan(&plan).remarks.into_iter().filter(|remark| remark.weight == Weight::Refuse).collect();
        assert_eq!(refused, [], "{}", plan.trial.code);
    }
}

#[test]
fn every_field_of_a_plan_is_documented_and_shown() {
    let mut shown = BTreeSet::new();
    for plan in examples() {
        fields(&serde_json::to_value(&plan).expect("a plan is JSON"), &mut shown);
    }
    assert!(shown.len() > 60, "{} fields", shown.len());
    // The names of a factor and of a unit in the examples are no fields.
    let names = ["dressing", "main plot"];
    let missing: Vec<&String> =
        shown.iter().filter(|field| !names.contains(&field.as_str()) && !is_documented(field)).collect();
    assert_eq!(missing, Vec::<&String>::new());
    // The full example leaves no optional field out: what a plan can have is what is shown.
    for field in ["standard_moisture_pct", "sown_length", "anchors", "range", "only", "sensor_error", "units", "pass"] {
        assert!(shown.contains(field), "{field}");
    }
}

fn fields(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(entries) => {
            for (name, inner) in entries {
                found.insert(name.clone());
                fields(inner, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| fields(item, found)),
        _ => {}
    }
}

/// In code marks anywhere in the tables: `trial.code`, `claims.margin`, `rows`.
fn is_documented(field: &str) -> bool {
    let reference = PLAN_FILE.split("## Every field").nth(1).expect("the reference part");
    let words = reference.split('`').skip(1).step_by(2);
    words.flat_map(|word| word.split(|sign: char| !(sign.is_alphanumeric() || sign == '_'))).any(|word| word == field)
}

#[test]
fn every_command_is_documented() {
    let help = Desk::new().done(&["--help"]).out;
    let list = help.split("Commands:").nth(1).and_then(|rest| rest.split("Options:").next()).expect("a list");
    let commands: Vec<&str> = list
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() >= 20, "{commands:?}");
    for command in commands {
        assert!(COMMANDS.contains(&format!("| `guardrow {command} ")), "{command} is not in docs/commands.md");
    }
}

#[test]
fn the_exit_codes_are_those_of_the_help() {
    let help = Desk::new().done(&["--help"]).out;
    let table = help.split("Exit codes:\n").nth(1).expect("a table");
    let rows: Vec<&str> = table.lines().filter(|line| !line.trim().is_empty()).collect();
    assert_eq!(rows.len(), 11);
    for row in rows {
        let (code, meaning) = row.trim().split_once("  ").expect("code and meaning");
        assert!(COMMANDS.contains(&format!("| {code} | {meaning} |")), "{row}");
    }
}
