//! The clock of the invented season: set to the day of each step, and a second later at each look.
//!
//! It is kept per thread, so that two stations can be made side by side.

use std::cell::Cell;

use jiff::Timestamp;

thread_local! {
    static SECOND: Cell<i64> = const { Cell::new(0) };
}

/// Sets the clock to a moment such as `2025-04-22T09:00:00Z`.
pub(crate) fn set(moment: &str) {
    let moment: Timestamp =
        moment.parse().expect("the moments are written in this crate, and its tests set each of them");
    SECOND.set(moment.as_second());
}

/// The invented time.
pub(crate) fn now() -> Timestamp {
    let second = SECOND.get();
    SECOND.set(second + 1);
    Timestamp::from_second(second).expect("the seasons are far from the ends of time")
}
