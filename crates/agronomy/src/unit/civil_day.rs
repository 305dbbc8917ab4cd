//! Calendar days as day numbers, so that a date can be averaged and subtracted like any other value.

/// Days from 1970-01-01 to a date of the Gregorian calendar, or nothing when there is no such date.
///
/// - `year`: 1 to 9999
/// # Source
/// E. G. Richards, Calendars (2013), the arithmetic of Julian day numbers (from memory); the tests count every day
/// from 1900 to 2100 and fix 2000-03-01 = 11 017.
#[must_use]
pub fn day_number(year: i32, month: u32, day: u32) -> Option<i64> {
    let valid =
        (1..=9999).contains(&year) && (1..=12).contains(&month) && (1..=days_in_month(year, month)).contains(&day);
    valid.then(|| days_before_year(year) + days_before_month(year, month) + i64::from(day) - 1 - days_before_year(1970))
}

/// Year, month and day of a day number: the inverse of [`day_number`].
///
/// Returns nothing outside the years 1 to 9999.
#[must_use]
pub fn civil_date(day_number: i64) -> Option<(i32, u32, u32)> {
    if !(days_before_year(1)..days_before_year(10_000)).contains(&(day_number.checked_add(days_before_year(1970))?)) {
        return None;
    }
    let days = day_number + days_before_year(1970);
    // 146 097 days are 400 years; the estimate is at most one year off.
    let estimate = i32::try_from(days * 400 / 146_097).ok()? + 1;
    let year = if days < days_before_year(estimate) {
        estimate - 1
    } else if days >= days_before_year(estimate + 1) {
        estimate + 1
    } else {
        estimate
    };
    let in_year = days - days_before_year(year);
    let month = (1..=12).rev().find(|&month| days_before_month(year, month) <= in_year)?;
    let day = u32::try_from(in_year - days_before_month(year, month)).ok()? + 1;
    Some((year, month, day))
}

fn is_leap(year: i32) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

fn days_in_month(year: i32, month: u32) -> u32 {
    match month {
        2 if is_leap(year) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

fn days_before_month(year: i32, month: u32) -> i64 {
    (1..month).map(|month| i64::from(days_in_month(year, month))).sum()
}

fn days_before_year(year: i32) -> i64 {
    let past = i64::from(year) - 1;
    past * 365 + past / 4 - past / 100 + past / 400
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_day_follows_the_one_before() {
        let mut expected = day_number(1900, 1, 1).unwrap();
        assert_eq!(expected, -25_567);
        for year in 1900..=2100 {
            for month in 1..=12 {
                for day in 1..=days_in_month(year, month) {
                    assert_eq!(day_number(year, month, day), Some(expected));
                    assert_eq!(civil_date(expected), Some((year, month, day)));
                    expected += 1;
                }
            }
        }
    }

    #[test]
    fn fixed_days_and_impossible_days() {
        assert_eq!(day_number(1970, 1, 1), Some(0));
        assert_eq!(day_number(2000, 3, 1), Some(11_017));
        assert_eq!(day_number(2026, 2, 29), None);
        assert_eq!(day_number(2026, 13, 1), None);
        assert_eq!(civil_date(i64::MAX), None);
        assert_eq!(civil_date(day_number(1, 1, 1).unwrap() - 1), None);
        assert_eq!(civil_date(day_number(9999, 12, 31).unwrap()), Some((9999, 12, 31)));
    }
}
