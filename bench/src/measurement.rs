//! One measurement and how it is printed.

use std::time::{Duration, Instant};

use serde_json::json;

/// One measurement of one workload.
pub struct Measurement {
    /// What was measured.
    pub name: String,
    /// Median of the rounds.
    pub time: Duration,
    /// Fastest round.
    pub fastest: Duration,
    /// Slowest round.
    pub slowest: Duration,
    /// Rounds.
    pub rounds: usize,
    /// Why the result is wrong; nothing when its check passed.
    pub wrong: Option<String>,
}

impl Measurement {
    /// Times `work` over several rounds, after one that is not counted.
    pub fn of<T>(name: &str, rounds: usize, mut work: impl FnMut() -> T) -> Measurement {
        work();
        let mut times: Vec<Duration> = (0..rounds)
            .map(|_| {
                let start = Instant::now();
                std::hint::black_box(work());
                start.elapsed()
            })
            .collect();
        times.sort();
        Measurement {
            name: name.to_owned(),
            time: times[rounds / 2],
            fastest: times[0],
            slowest: times[rounds - 1],
            rounds,
            wrong: None,
        }
    }

    /// The same measurement with the outcome of its check.
    pub fn checked(mut self, wrong: Option<String>) -> Measurement {
        self.wrong = wrong;
        self
    }

    /// A line for people.
    pub fn text(&self) -> String {
        match &self.wrong {
            Some(wrong) => format!("{}: no time, the result is wrong: {wrong}", self.name),
            None => format!(
                "{}: median {:?} of {} (fastest {:?}, slowest {:?}), peak {} kB",
                self.name,
                self.time,
                self.rounds,
                self.fastest,
                self.slowest,
                peak_kb()
            ),
        }
    }

    /// A line for scripts.
    pub fn json(&self) -> String {
        json!({
            "name": self.name,
            "seconds": self.wrong.is_none().then_some(self.time.as_secs_f64()),
            "fastest": self.fastest.as_secs_f64(),
            "slowest": self.slowest.as_secs_f64(),
            "rounds": self.rounds,
            "peak_bytes": peak_kb() * 1024,
            "threads": 1,
            "check": self.wrong.as_deref().unwrap_or("passed"),
        })
        .to_string()
    }
}

/// Peak resident memory of this process in kB; 0 where the system does not tell.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|rest| rest.split_whitespace().next()?.parse().ok()).unwrap_or(0)
}
