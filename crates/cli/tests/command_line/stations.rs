//! A trial in a station, by commands only: from the plan to the findings; and the invented station.

use crate::terminal::Desk;

#[test]
fn one_trial_the_whole_way_on_the_command_line() {
    let desk = Desk::with_laid_out_trial();
    let trial = desk.done(&["trial", "st", "T-1"]).out;
    assert!(trial.contains("laid out") && trial.contains("seed 07"), "{trial}");
    let map = desk.done(&["document", "st", "T-1", "map", "--by", "Kim", "--blind"]).out;
    assert!(std::fs::read(desk.path(map.trim())).expect("a map").starts_with(b"%PDF-"));
    desk.done(&["document", "st", "T-1", "field-sheet", "--by", "Kim", "--event", "Harvest"]);
    desk.done(&[
        "note",
        "st",
        "T-1",
        "incident",
        "Hares in the corner.",
        "--on",
        "2024-06-01",
        "--plot",
        "101",
        "--by",
        "Kim",
    ]);

    // Rolled plots 1 t/ha above the others, give or take a tenth.
    let layout = guardrow_station::Station::open(&desk.path("st"), jiff::Timestamp::now).expect("a station");
    let drawn = layout.layout("T-1", None).expect("a layout");
    drop(layout);
    let mut table = "plot;grain\n".to_owned();
    for plot in &drawn.layout.plots {
        if let (Some(number), Some(treatment)) = (plot.number, plot.treatment) {
            let rolled = drawn.treatments[treatment] == "rolled";
            let tenths = 40 + number / 100 + if rolled { 10 + number % 3 } else { 0 };
            table.push_str(&format!("{number};{},{}\n", tenths / 10, tenths % 10));
        }
    }
    desk.write("grain.csv", table);
    let looked_at = desk.done(&["take-in", "st", "T-1", "grain.csv", "--by", "Kim"]).out;
    assert!(looked_at.contains("comma") && looked_at.contains("Nothing was written"), "{looked_at}");
    let accepted = desk.done(&["take-in", "st", "T-1", "grain.csv", "--by", "Kim", "--accept"]).out;
    assert!(accepted.contains("Accepted: 8 values"), "{accepted}");
    let again = desk.trouble(5, &["take-in", "st", "T-1", "grain.csv", "--by", "Kim", "--accept"]);
    assert!(again.contains("accepted before"), "{again}");

    let findings = desk.done(&["findings", "st", "T-1"]).out;
    assert!(findings.starts_with("[supported]"), "{findings}");
    let report = desk.done(&["document", "st", "T-1", "report", "--by", "Kim"]).out;
    assert!(std::fs::read(desk.path(report.trim())).expect("a report").starts_with(b"%PDF-"));
    desk.done(&["document", "st", "T-1", "data-package", "--by", "Kim"]);

    let sound = desk.done(&["check", "st"]).out;
    assert!(sound.contains("sound"), "{sound}");
    std::fs::write(desk.path(report.trim()), "changed").expect("written");
    let changed = desk.done(&["check", "st"]).out;
    assert!(changed.contains("changed after it was made"), "{changed}");
    desk.done(&["backup", "st", "copy.db"]);
    let twice = desk.trouble(5, &["backup", "st", "copy.db"]);
    assert!(twice.contains("copy.db"), "{twice}");
}

#[test]
fn a_premise_is_judged_once_the_question_has_one() {
    let desk = Desk::with_laid_out_trial();
    let judge = ["premise", "st", "T-1", "occurred", "--evidence", "gauge: 3 mm", "--by", "Kim"];
    let trouble = desk.trouble(5, &judge);
    assert!(trouble.contains("no premise"), "{trouble}");
    let plan = crate::terminal::PLAN
        .replace("[[treatments.factors]]", "[question.premise]\nwords = \"it was dry\"\n\n[[treatments.factors]]");
    desk.write("plan.toml", plan);
    desk.done(&["start", "st", "plan.toml", "--by", "Kim"]);
    let judged = desk.done(&judge).out;
    assert!(judged.contains("before yields were known"), "{judged}");
}

#[test]
fn lots_and_packets() {
    let desk = Desk::with_plan_and_table();
    desk.done(&["new", "st", "--name", "Test Station"]);
    let supply =
        "\n[supply]\nemergence_pct = 80.0\nstands = [{ stand = \"120 plants/m2\" }]\nlots = [{ lot = \"L-1\" }]\n";
    desk.write("plan.toml", format!("{}{supply}", crate::terminal::PLAN));
    desk.done(&["start", "st", "plan.toml", "--by", "Kim"]);
    desk.done(&["draw", "st", "T-1", "--by", "Kim", "--seed", "7"]);
    let lot =
        ["lot", "st", "L-1", "--crop", "lentil", "--thousand-kernels", "50", "--germination", "90", "--by", "Kim"];
    desk.done(&[&lot[..], &["--tested", "2024-02-01", "--on-hand", "2 kg"]].concat());
    // By hand: 120 / (0.90 x 0.80) seeds per m2 x 12 m2 x 50 g / 1000 = 100.0 g a packet.
    let packets = desk.done(&["packets", "st", "T-1"]).out;
    assert_eq!(packets.matches("100.0").count(), 8, "{packets}");
    let bare = desk.trouble(3, &[&lot[..], &["--on-hand", "2"]].concat());
    assert!(bare.contains("unit"), "{bare}");
}

#[test]
fn the_invented_station_is_made_once_and_only_it_is_made_anew() {
    let desk = Desk::new();
    let made = desk.done(&["demo", "--no-serve"]);
    assert!(made.out.contains("25-FB1") && made.out.contains("supported"), "{}", made.out);
    assert_eq!(made.trouble.lines().count(), guardrow_demo::STEPS, "each step is told on standard error");
    let reports: Vec<&str> = made.out.lines().filter(|line| line.ends_with("report.pdf")).collect();
    assert_eq!(reports.len(), 2, "{}", made.out);
    for report in reports {
        assert!(std::fs::read(desk.path(report)).expect("a report").starts_with(b"%PDF-"));
    }
    let trials = desk.done(&["trials", "demo-station"]).out;
    assert!(trials.contains("All data of this station are invented."), "{trials}");
    let again = desk.done(&["demo", "--no-serve"]);
    assert!(again.out.contains("already"), "{}", again.out);

    // Stopped in the midst of it: invented, but without its trials.
    let station = guardrow_station::Station::create(&desk.path("half"), guardrow_demo::NAME, jiff::Timestamp::now);
    station.expect("a station").mark_invented(guardrow_demo::MAKER).expect("marked");
    let half = desk.trouble(5, &["demo", "half", "--no-serve"]);
    assert!(half.contains("not finished") && half.contains("--fresh"), "{half}");
    let fresh = desk.done(&["demo", "half", "--no-serve", "--fresh"]).out;
    assert!(fresh.contains("25-FB1"), "{fresh}");

    desk.done(&["new", "real", "--name", "A real one"]);
    let trouble = desk.trouble(5, &["demo", "real", "--no-serve", "--fresh"]);
    assert!(trouble.contains("A real one"), "{trouble}");
    desk.done(&["trials", "real"]);
}
