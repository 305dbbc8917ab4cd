//! The help, whole: a person meets it first.

use crate::terminal::Desk;

#[test]
fn the_help_lists_commands_and_exit_codes() {
    insta::assert_snapshot!("help", Desk::new().done(&["--help"]).out);
}

#[test]
fn each_command_has_a_help_of_its_own() {
    let commands = [
        "demo", "new", "serve", "analyse", "bring-in", "trials", "trial", "start", "plan", "draw", "lot", "packets",
        "note", "premise", "take-in", "document", "harvest", "findings", "check", "backup",
    ];
    let desk = Desk::new();
    let helps = commands.map(|command| format!("$ guardrow {command} --help\n{}", desk.done(&[command, "--help"]).out));
    insta::assert_snapshot!("help_of_each_command", helps.join("\n"));
}

#[test]
fn a_slip_in_a_command_is_code_2_with_the_near_one() {
    let answer = Desk::new().run(&["analyze"]);
    assert_eq!(answer.code, 2);
    assert!(answer.trouble.contains("analyse"), "{}", answer.trouble);
}
