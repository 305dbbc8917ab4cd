//! Names by which people call a crop.

use super::{Crop, table};

/// A crop name that is not in the table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no crop is called \"{name}\"")]
pub struct UnknownCrop {
    /// What was written.
    pub name: String,
    /// The nearest name, when one is near.
    pub suggestion: Option<&'static str>,
}

impl UnknownCrop {
    /// What to try, in one sentence.
    #[must_use]
    pub fn help(&self) -> String {
        match self.suggestion {
            Some(near) => format!("Did you mean {near}?"),
            None => "Choose a name from the list of crops.".to_owned(),
        }
    }
}

/// Other names and the crop they mean (common practice, no source). "Wheat" alone is not here: spring, durum and winter
/// wheat differ.
const OTHER_NAMES: &[(&str, &str)] = &[
    ("soya", "soybean"),
    ("soya bean", "soybean"),
    ("common bean", "dry bean"),
    ("edible bean", "dry bean"),
    ("pea", "field pea"),
    ("dry pea", "field pea"),
    ("broad bean", "faba bean"),
    ("field bean", "faba bean"),
    ("fababean", "faba bean"),
    ("oilseed rape", "canola"),
    ("rapeseed", "canola"),
    ("linseed", "flax"),
    ("maize", "maize (grain)"),
    ("corn", "maize (grain)"),
    ("grain corn", "maize (grain)"),
    ("sorghum", "sorghum (grain)"),
    ("durum wheat", "durum"),
    ("rye", "rye (fall)"),
    ("fall rye", "rye (fall)"),
    ("winter rye", "rye (fall)"),
    ("fall wheat", "winter wheat"),
];

pub(super) fn find(name: &str) -> Result<&'static Crop, UnknownCrop> {
    let wanted = plain(name);
    let own = other_name(&wanted).unwrap_or(wanted.as_str());
    let crops = table::crops();
    let by_name = crops.iter().find(|crop| plain(&crop.name) == own);
    by_name
        .or_else(|| by_latin_name(own))
        .ok_or_else(|| UnknownCrop { name: crate::unit::clipped(name.trim()), suggestion: nearest(&wanted) })
}

/// The crop of a Latin name, when only one crop of the table has it (spring and winter wheat share theirs).
fn by_latin_name(wanted: &str) -> Option<&'static Crop> {
    let mut same = table::crops().iter().filter(|crop| plain(&crop.latin_name.value) == wanted);
    let only = same.next()?;
    same.next().is_none().then_some(only)
}

fn other_name(wanted: &str) -> Option<&'static str> {
    let is = |name: &str| wanted == name || wanted.strip_suffix('s') == Some(name);
    if let Some((_, own)) = OTHER_NAMES.iter().find(|(name, _)| is(name)) {
        return Some(own);
    }
    // Plurals of the crops' own names: "oats", "lentils".
    table::crops().iter().map(|crop| crop.name.as_str()).find(|name| is(name))
}

fn nearest(wanted: &str) -> Option<&'static str> {
    // Far beyond the longest name there is nothing near, and comparing would be slow.
    if wanted.len() > 60 {
        return None;
    }
    let own = table::crops().iter().map(|crop| (crop.name.as_str(), crop.name.as_str()));
    let known = own.chain(OTHER_NAMES.iter().copied());
    let scored = known.map(|(name, own)| (strsim::jaro_winkler(wanted, name).max(holds_word(name, wanted)), own));
    scored.filter(|(likeness, _)| *likeness > 0.8).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, own)| own)
}

/// "wheat" is near "spring wheat", although most letters differ.
fn holds_word(name: &str, wanted: &str) -> f64 {
    if name.split_whitespace().any(|word| word == wanted) { 0.9 } else { 0.0 }
}

fn plain(name: &str) -> String {
    name.split(|c: char| c.is_whitespace() || c == '_')
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
        .to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crops_are_found_by_the_names_people_use() {
        for (name, own) in [
            ("soybean", "soybean"),
            (" Field  Pea ", "field pea"),
            ("peas", "field pea"),
            ("oats", "oat"),
            ("corn", "maize (grain)"),
            ("Maize (grain)", "maize (grain)"),
            ("Hordeum vulgare", "barley"),
            ("faba_bean", "faba bean"),
        ] {
            assert_eq!(find(name).map(|crop| crop.name.as_str()), Ok(own), "{name}");
        }
    }

    #[test]
    fn a_near_name_is_suggested_and_wheat_alone_is_asked_about() {
        assert_eq!(find("barly").unwrap_err().help(), "Did you mean barley?");
        assert_eq!(find("lentlis").unwrap_err().suggestion, Some("lentil"));
        assert!(find("wheat").unwrap_err().suggestion.is_some_and(|near| near.contains("wheat")));
        assert!(find("Triticum aestivum").is_err());
        assert_eq!(find("zzz").unwrap_err().suggestion, None);
        assert_eq!(find("").unwrap_err().suggestion, None);
    }

    #[test]
    fn every_other_name_leads_to_a_crop() {
        for (name, own) in OTHER_NAMES {
            assert_eq!(find(name).map(|crop| crop.name.as_str()), Ok(*own));
        }
    }
}
