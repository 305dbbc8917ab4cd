//! Bad input on the command line: each kind has its exit code, its three parts, and changes nothing.

use std::io::{BufRead, BufReader};
use std::process::Stdio;

use crate::terminal::{Desk, PLAN, TABLE};

/// The plan with one thing replaced.
fn plan_with(what: &str, by: &str) -> String {
    assert!(PLAN.contains(what), "{what} stands in the plan");
    PLAN.replacen(what, by, 1)
}

fn analysed(plan: &str, table: &str) -> (Desk, [&'static str; 3]) {
    let desk = Desk::new();
    desk.write("plan.toml", plan);
    desk.write("table.csv", table);
    (desk, ["analyse", "plan.toml", "table.csv"])
}

#[test]
fn an_unknown_unit_names_its_line() {
    let (desk, command) = analysed(&plan_with("unit = \"t/ha\"", "unit = \"tons/hectar\""), TABLE);
    insta::assert_snapshot!("unknown_unit", desk.trouble(3, &command));
}

#[test]
fn a_bare_number_where_a_unit_is_needed() {
    let (desk, command) = analysed(&plan_with("\"0.15 t/ha\"", "\"0.15\""), TABLE);
    insta::assert_snapshot!("bare_number", desk.trouble(3, &command));
}

#[test]
fn a_field_that_no_plan_has() {
    let (desk, command) = analysed(&plan_with("margin = ", "margim = "), TABLE);
    let trouble = desk.trouble(3, &command);
    assert!(trouble.contains("question.claims[0].margim"), "{trouble}");
}

#[test]
fn a_plan_that_is_half_written() {
    let (desk, command) = analysed(&PLAN[..PLAN.len() / 2], TABLE);
    let trouble = desk.trouble(3, &command);
    assert!(trouble.contains("plan.toml, line"), "{trouble}");
}

#[test]
fn a_percentage_as_a_fraction_is_pointed_out() {
    let desk = Desk::with_laid_out_trial();
    desk.write("moist.csv", "plot,moisture\n101,0.14\n102,0.15\n");
    let out = desk.done(&["take-in", "st", "T-1", "moist.csv", "--by", "Kim"]).out;
    assert!(out.contains("look at this") && out.contains('%'), "{out}");
}

#[test]
fn values_that_cannot_be_are_refused_row_by_row_and_nothing_is_written() {
    let desk = Desk::with_laid_out_trial();
    desk.write(
        "bad.csv",
        "plot,treatment,grain,moisture\n101,,-4.2,14\n202,,4.1,146\n102,rolld,4.1,\n999,,4.2,\n301,,4.3,\n301,,4.4,\n401,,4.x,\n",
    );
    insta::assert_snapshot!(
        "bad_rows",
        desk.trouble(5, &["take-in", "st", "T-1", "bad.csv", "--by", "Kim", "--accept"])
    );
    let out = desk.done(&["trial", "st", "T-1"]).out;
    assert!(out.contains("0 of 8"), "{out}");
}

#[test]
fn a_misspelt_treatment_suggests_the_near_one() {
    let (desk, command) = analysed(PLAN, &TABLE.replacen(",rolled,", ",roled,", 1));
    let trouble = desk.trouble(5, &command);
    assert!(trouble.contains("line 2") && trouble.contains("did you mean") && trouble.contains("rolled"), "{trouble}");
}

#[test]
fn a_sheet_of_another_trial() {
    let desk = Desk::with_laid_out_trial();
    desk.start_trial("T-2");
    desk.done(&["draw", "st", "T-2", "--by", "Kim", "--seed", "8"]);
    let sheet = desk.done(&["document", "st", "T-2", "field-workbook", "--by", "Kim", "--event", "Harvest"]).out;
    let trouble = desk.trouble(5, &["take-in", "st", "T-1", sheet.trim(), "--by", "Kim", "--accept"]);
    assert!(trouble.contains("T-2") && trouble.contains("T-1"), "{trouble}");
}

#[test]
fn a_sheet_of_an_older_layout() {
    let desk = Desk::with_laid_out_trial();
    let sheet = desk.done(&["document", "st", "T-1", "field-workbook", "--by", "Kim", "--event", "Harvest"]).out;
    let locked = desk.trouble(6, &["draw", "st", "T-1", "--by", "Kim"]);
    assert!(locked.contains("locked"), "{locked}");
    desk.done(&["draw", "st", "T-1", "--by", "Kim", "--seed", "9", "--reason", "the stakes were set wrong"]);
    let trouble = desk.trouble(5, &["take-in", "st", "T-1", sheet.trim(), "--by", "Kim", "--accept"]);
    assert!(trouble.contains("version"), "{trouble}");
}

#[test]
fn a_half_written_workbook_and_a_half_written_table() {
    let desk = Desk::with_laid_out_trial();
    let sheet = desk.done(&["document", "st", "T-1", "field-workbook", "--by", "Kim", "--event", "Harvest"]).out;
    let whole = std::fs::read(desk.path(sheet.trim())).expect("a workbook");
    desk.write("half.xlsx", &whole[..whole.len() / 2]);
    let trouble = desk.trouble(3, &["take-in", "st", "T-1", "half.xlsx", "--by", "Kim"]);
    assert!(trouble.contains("half.xlsx"), "{trouble}");
    let (desk, command) = analysed(PLAN, &TABLE[..TABLE.len() - 12]);
    let trouble = desk.trouble(3, &command);
    assert!(trouble.contains("table.csv, line 9"), "{trouble}");
}

#[test]
fn fifty_megabytes_of_garbage_are_no_table() {
    let desk = Desk::with_laid_out_trial();
    // Bytes of a simple congruential sequence: no text, no workbook.
    let mut state = 1_u32;
    let garbage: Vec<u8> = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    })
    .take(50 << 20)
    .collect();
    desk.write("garbage.csv", garbage);
    let trouble = desk.trouble(3, &["take-in", "st", "T-1", "garbage.csv", "--by", "Kim", "--accept"]);
    assert!(trouble.contains("neither a workbook nor a table"), "{trouble}");
}

#[test]
fn what_is_not_there() {
    let desk = Desk::with_laid_out_trial();
    insta::assert_snapshot!("no_such_file", desk.trouble(4, &["take-in", "st", "T-1", "gone.csv", "--by", "Kim"]));
    insta::assert_snapshot!("no_such_trial", desk.trouble(4, &["trial", "st", "T-9"]));
    let trouble = desk.trouble(4, &["trials", "nowhere"]);
    assert!(trouble.contains("nowhere"), "{trouble}");
}

#[test]
fn a_station_in_use() {
    let desk = Desk::with_laid_out_trial();
    let mut serving = desk
        .command(&["serve", "st", "--port", "0"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program runs");
    let mut line = String::new();
    BufReader::new(serving.stdout.take().expect("piped")).read_line(&mut line).expect("a line");
    let answer = desk.run(&["trials", "st"]);
    serving.kill().expect("it is ended");
    serving.wait().expect("it has ended");
    assert!(line.contains("http://localhost:"), "{line}");
    assert_eq!(answer.code, 7, "{}", answer.trouble);
    assert!(answer.trouble.contains("try:"), "{}", answer.trouble);
    desk.done(&["trials", "st"]);
}

#[test]
fn a_station_from_a_newer_version_is_not_touched() {
    let desk = Desk::with_laid_out_trial();
    let database = database(&desk);
    let mut bytes = std::fs::read(&database).expect("a database");
    // SQLite keeps `PRAGMA user_version` as a big-endian number at byte 60 of the file (sqlite.org/fileformat2.html).
    bytes[60..64].copy_from_slice(&9_999_u32.to_be_bytes());
    std::fs::write(&database, &bytes).expect("written");
    let trouble = desk.trouble(8, &["trials", "st"]);
    assert!(trouble.contains("newer"), "{trouble}");
    assert_eq!(std::fs::read(&database).expect("a database"), bytes);
}

#[test]
fn a_damaged_station_says_so() {
    let desk = Desk::with_laid_out_trial();
    let database = database(&desk);
    let length = std::fs::metadata(&database).expect("a database").len() as usize;
    std::fs::write(&database, vec![0x5a; length]).expect("written");
    let trouble = desk.trouble(10, &["check", "st"]);
    assert!(trouble.contains("backup"), "{trouble}");
}

/// The one database file of a station's folder, with everything written into it.
fn database(desk: &Desk) -> std::path::PathBuf {
    let files = std::fs::read_dir(desk.path("st")).expect("a station").map(|entry| entry.expect("an entry").path());
    let holds =
        |path: &std::path::PathBuf| std::fs::read(path).is_ok_and(|bytes| bytes.starts_with(b"SQLite format 3\0"));
    files.filter(|path| path.is_file()).find(holds).expect("a database")
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_code_9() {
    let desk = Desk::with_plan_and_table();
    let full = std::fs::File::options().write(true).open("/dev/full").expect("a device that is always full");
    let output = desk.command(&["analyse", "plan.toml", "table.csv"]).stdout(full).output().expect("the program runs");
    assert_eq!(output.status.code(), Some(9));
    let trouble = String::from_utf8(output.stderr).expect("text");
    assert!(trouble.contains("standard output"), "{trouble}");
}

#[test]
fn trouble_comes_as_json_where_the_answer_would() {
    let desk = Desk::with_plan_and_table();
    let trouble = desk.trouble(4, &["analyse", "plan.toml", "gone.csv", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&trouble).expect("JSON");
    assert_eq!(json["exit_code"], 4);
    assert_eq!(json["error"]["kind"], "not_there");
    assert!(json["error"]["what"].as_str().is_some_and(|what| what.contains("gone.csv")), "{json}");
}

#[test]
fn a_folder_with_something_else_becomes_no_station() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("letters")).expect("made");
    desk.write("letters/first.txt", "dear");
    for command in [&["new", "letters", "--name", "N"][..], &["demo", "letters", "--no-serve", "--fresh"]] {
        desk.trouble(5, command);
        let left: Vec<_> = std::fs::read_dir(desk.path("letters")).expect("a folder").collect();
        assert_eq!(left.len(), 1, "{command:?}");
    }
}
