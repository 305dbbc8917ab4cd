//! A folder to work in, and the command run inside it.

use std::path::PathBuf;
use std::process::Output;

use guardrow_station::{SavePlan, Station, read_plan_file};

/// A plan of two treatments in four blocks.
pub const PLAN: &str = r#"format = "guardrow plan 1"

[trial]
code = "T-1"
title = "Lentil: rolled and not rolled"
season = 2024
crop = "lentil"

[question]
decision = "Whether the field is rolled after seeding."

[[question.claims]]
statement = "Rolling raises yield."
measure = "grain"
comparison = { first = { factor = "roller", level = "rolled" }, second = { factor = "roller", level = "not rolled" } }
direction = "higher"
margin = "0.15 t/ha"

[[treatments.factors]]
name = "roller"
levels = [{ label = "not rolled" }, { label = "rolled" }]

[arrangement]
kind = "randomised_blocks"
replicates = 4

[ground]
plot_length_m = 8.0
plot_width_m = 1.5
harvested_length_m = 7.0
harvested_width_m = 1.25
plots_per_range = 2
alley_between_ranges_m = 2.0
alley_between_replicates_m = 2.0

[[measures]]
key = "grain"
name = "Grain yield"
unit = "t/ha"
event = "Harvest"

[[measures]]
key = "moisture"
name = "Grain moisture"
unit = "%"
event = "Harvest"
"#;

/// Its table: differences by block 0.6, 0.9, 0.3 and 1.0.
pub const TABLE: &str = "\
plot,replicate,roller,grain
101,1,rolled,5.0
102,1,not rolled,4.4
201,2,not rolled,4.5
202,2,rolled,5.4
301,3,rolled,5.2
302,3,not rolled,4.9
401,4,not rolled,4.6
402,4,rolled,5.6
";

/// A folder of its own for one test.
pub struct Desk {
    home: tempfile::TempDir,
}

/// What a command printed, and its exit code.
pub struct Answer {
    pub code: i32,
    pub out: String,
    pub trouble: String,
}

impl Desk {
    /// An empty folder.
    pub fn new() -> Desk {
        Desk { home: tempfile::tempdir().expect("a folder") }
    }

    /// A folder with the plan and its table.
    pub fn with_plan_and_table() -> Desk {
        let desk = Desk::new();
        desk.write("plan.toml", PLAN);
        desk.write("table.csv", TABLE);
        desk
    }

    /// A folder with a station `st` in which the trial T-1 is laid out.
    pub fn with_laid_out_trial() -> Desk {
        let desk = Desk::with_plan_and_table();
        desk.done(&["new", "st", "--name", "Test Station"]);
        desk.done(&["start", "st", "plan.toml", "--by", "Kim"]);
        desk.done(&["draw", "st", "T-1", "--by", "Kim", "--seed", "7"]);
        desk
    }

    /// Starts another trial in the station by the use case itself.
    pub fn start_trial(&self, code: &str) {
        let station = Station::open(&self.path("st"), jiff::Timestamp::now).expect("a station");
        let mut plan = read_plan_file("plan.toml", PLAN).expect("a plan");
        plan.trial.code = code.to_owned();
        let request = SavePlan { plan, expected_version: None, by: "Kim".into(), reason: String::new() };
        station.start_trial(&request).expect("a trial");
    }

    /// A path inside the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    /// Writes a file.
    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), content).expect("written");
    }

    /// Runs `guardrow` in the folder.
    pub fn run(&self, arguments: &[&str]) -> Answer {
        let output = self.command(arguments).output().expect("the program runs");
        Answer::of(&output)
    }

    /// The command, not yet run.
    pub fn command(&self, arguments: &[&str]) -> std::process::Command {
        let mut command = std::process::Command::new(assert_cmd::cargo::cargo_bin!("guardrow"));
        command.current_dir(self.home.path()).args(arguments).env_remove("GUARDROW_LOG").env("COLUMNS", "100");
        command
    }

    /// Runs a command that must succeed.
    pub fn done(&self, arguments: &[&str]) -> Answer {
        let answer = self.run(arguments);
        assert_eq!(answer.code, 0, "{arguments:?}\n{}", answer.trouble);
        answer
    }

    /// Runs a command that must fail with this code; returns what it tells on standard error.
    pub fn trouble(&self, code: i32, arguments: &[&str]) -> String {
        let answer = self.run(arguments);
        assert_eq!(answer.code, code, "{arguments:?}\n{}\n{}", answer.out, answer.trouble);
        assert_eq!(answer.out, "", "nothing goes to standard output when there is trouble");
        answer.trouble
    }
}

impl Answer {
    fn of(output: &Output) -> Answer {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("text");
        Answer {
            code: output.status.code().expect("it ended by itself"),
            out: text(&output.stdout),
            trouble: text(&output.stderr),
        }
    }
}
