//! Moments and identities. The store reads no clock: the caller hands in the time.

use uuid::{NoContext, Timestamp, Uuid};

/// A point in time, UTC.
pub type Moment = jiff::Timestamp;

/// Makes a time-ordered identity (UUID version 7) for something that is recorded `now`.
///
/// Two identities of the same millisecond are distinct, in no particular order. Moments before 1970 count as 1970.
pub fn new_id(now: Moment) -> Uuid {
    let seconds = u64::try_from(now.as_second()).unwrap_or(0);
    let nanoseconds = u32::try_from(now.subsec_nanosecond()).unwrap_or(0);
    Uuid::new_v7(Timestamp::from_unix(NoContext, seconds, nanoseconds))
}

/// The one text form of a moment in the database: always 30 characters, so that text order is time order.
pub(crate) fn moment_text(moment: Moment) -> String {
    format!("{moment:.9}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_order_is_time_order() {
        let moments = [
            "2026-05-01T00:00:00Z",
            "2026-05-01T00:00:00.000000001Z",
            "2026-05-01T00:00:00.5Z",
            "2026-11-01T00:00:00Z",
        ];
        let texts: Vec<String> = moments.iter().map(|m| moment_text(m.parse().unwrap())).collect();
        assert!(texts.is_sorted(), "{texts:?}");
        assert!(texts.iter().all(|text| text.len() == 30), "{texts:?}");
    }

    #[test]
    fn identities_sort_by_millisecond() {
        let early = new_id("2026-05-01T06:00:00.001Z".parse().unwrap());
        let late = new_id("2026-05-01T06:00:00.002Z".parse().unwrap());
        assert!(early < late);
        assert_eq!(early.get_version_num(), 7);
    }

    #[test]
    fn a_moment_before_1970_is_no_panic() {
        assert_eq!(new_id("1950-01-01T00:00:00Z".parse().unwrap()).get_version_num(), 7);
    }
}
