//! Suggesting the near name for a misspelt one.

/// The candidate that is nearest to `written`, when it is near enough to be meant.
pub(crate) fn near<'a>(written: &str, candidates: &'a [String]) -> Option<&'a str> {
    let written = written.to_lowercase();
    candidates
        .iter()
        .map(|candidate| (strsim::damerau_levenshtein(&written, &candidate.to_lowercase()), candidate))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, candidate)| *distance <= 1 + candidate.chars().count() / 4)
        .map(|(_, candidate)| candidate.as_str())
}

#[cfg(test)]
mod tests {
    use super::near;

    #[test]
    fn a_near_name_is_suggested_and_a_far_one_is_not() {
        let names = ["early, bare".to_owned(), "late, bare".to_owned()];
        assert_eq!(near("erly, bare", &names), Some("early, bare"));
        assert_eq!(near("potash", &names), None);
    }
}
