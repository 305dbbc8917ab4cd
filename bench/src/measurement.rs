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
    /// Processor time of a round, on average; nothing where the system does not tell.
    pub processor: Option<Duration>,
    /// Rounds.
    pub rounds: usize,
    /// Threads that worked.
    pub threads: usize,
    /// Why the result is wrong; nothing when its check passed.
    pub wrong: Option<String>,
    /// What the check found, when it passed.
    pub found: Option<String>,
}

impl Measurement {
    /// Times `work` over several rounds, after one that is not counted.
    pub fn of<T>(name: &str, rounds: usize, work: impl FnMut() -> T) -> Measurement {
        Self::of_threads(name, rounds, 1, work)
    }

    /// As [`Self::of`], for work that runs on so many threads.
    pub fn of_threads<T>(name: &str, rounds: usize, threads: usize, mut work: impl FnMut() -> T) -> Measurement {
        work();
        let before = processor_time(threads);
        let mut times: Vec<Duration> = (0..rounds)
            .map(|_| {
                let start = Instant::now();
                std::hint::black_box(work());
                start.elapsed()
            })
            .collect();
        let processor = before.zip(processor_time(threads)).map(|(before, after)| (after - before) / rounds as u32);
        times.sort();
        Measurement {
            name: name.to_owned(),
            time: times[rounds / 2],
            fastest: times[0],
            slowest: times[rounds - 1],
            processor,
            rounds,
            threads,
            wrong: None,
            found: None,
        }
    }

    /// The same measurement with the outcome of its check.
    pub fn checked(mut self, wrong: Option<String>) -> Measurement {
        self.wrong = wrong;
        self
    }

    /// The same measurement with what its check found, or why it failed.
    pub fn with_check(mut self, check: Result<String, String>) -> Measurement {
        match check {
            Ok(found) => self.found = Some(found),
            Err(wrong) => self.wrong = Some(wrong),
        }
        self
    }

    /// A line for people.
    pub fn text(&self) -> String {
        match &self.wrong {
            Some(wrong) => format!("{}: no time, the result is wrong: {wrong}", self.name),
            None => format!(
                "{}: median {:?} of {} (fastest {:?}, slowest {:?}), {} thread(s), peak {} kB{}",
                self.name,
                self.time,
                self.rounds,
                self.fastest,
                self.slowest,
                self.threads,
                peak_kb(),
                self.found.as_ref().map(|found| format!("; {found}")).unwrap_or_default()
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
            "cpu_seconds": self.processor.map(|time| time.as_secs_f64()),
            "rounds": self.rounds,
            "peak_bytes": peak_kb() * 1024,
            "threads": self.threads,
            "check": self.wrong.as_deref().unwrap_or("passed"),
            "found": self.found,
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

/// Processor time so far, where the system tells: to the nanosecond of this thread when it works alone, else of the whole process
/// to a hundredth of a second.
fn processor_time(threads: usize) -> Option<Duration> {
    if threads == 1 {
        let schedule = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
        return Some(Duration::from_nanos(schedule.split_whitespace().next()?.parse().ok()?));
    }
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    // After the name in brackets: state is the first field, user and system time are the 12th and 13th, in hundredths.
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks: u64 = fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?;
    Some(Duration::from_millis(10 * ticks))
}
