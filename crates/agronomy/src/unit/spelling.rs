//! How people spell units, and which unit they mean.

use std::collections::HashMap;
use std::sync::LazyLock;

use super::error::clipped;
use super::{Unit, UnitError};

/// Normalised spelling to unit, for every symbol and every other spelling of the table.
static BY_SPELLING: LazyLock<HashMap<String, Unit>> = LazyLock::new(|| {
    Unit::ALL
        .iter()
        .flat_map(|&unit| {
            let names = std::iter::once(unit.symbol()).chain(unit.spellings().iter().copied());
            names.map(move |name| (normalised(name), unit))
        })
        .collect()
});

impl Unit {
    /// Finds the unit that a spelling means: `kg/ha`, `kg ha-1`, `kilograms per hectare`, `bushels/acre`, `°C`, `m²`.
    ///
    /// Capitals do not matter.
    /// # Errors
    /// [`UnitError::MissingUnit`] for an empty text, [`UnitError::Ambiguous`] for `oz`, `gal`, `fl oz`, `qt`, `pt`,
    /// `ton` and `lb/bu`, [`UnitError::Unknown`] with the nearest symbol otherwise.
    /// # Example
    /// ```
    /// use guardrow_agronomy::unit::Unit;
    /// assert_eq!(Unit::parse("bushels per acre")?, Unit::BuPerAc);
    /// assert!(Unit::parse("gal/ac").is_err());
    /// # Ok::<(), guardrow_agronomy::unit::UnitError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(UnitError::MissingUnit { text: String::new() });
        }
        let spelling = normalised(&super::currency::without_code(text));
        if let Some(&unit) = BY_SPELLING.get(&spelling) {
            return Ok(unit);
        }
        let choices = meanings(&spelling);
        if choices.is_empty() {
            Err(UnitError::Unknown { text: clipped(text), suggestion: nearest(&spelling) })
        } else {
            Err(UnitError::Ambiguous { text: clipped(text), choices })
        }
    }
}

/// Words that have more than one meaning, each with what it could stand for.
const DOUBTFUL: &[(&str, &[&str])] = &[
    ("fl oz", &["us fl oz", "imp fl oz"]),
    ("oz", &["oz mass", "us fl oz", "imp fl oz"]),
    ("gal", &["us gal", "imp gal"]),
    ("qt", &["us qt", "imp qt"]),
    ("pt", &["us pt", "imp pt"]),
    ("ton", &["t", "short ton"]),
    ("lb/bu", &["lb/winchester bu", "lb/imp bu"]),
];

fn meanings(spelling: &str) -> Vec<&'static str> {
    let doubtful = DOUBTFUL.iter().find(|(word, _)| holds_words(spelling, word));
    let Some((word, meanings)) = doubtful else { return Vec::new() };
    let units = meanings.iter().filter_map(|meaning| BY_SPELLING.get(&spelling.replacen(word, meaning, 1)));
    units.map(|unit| unit.symbol()).collect()
}

/// Whether `words` stand in `spelling` as whole words.
fn holds_words(spelling: &str, words: &str) -> bool {
    spelling.match_indices(words).any(|(start, _)| {
        let before = spelling[..start].chars().next_back();
        let after = spelling[start + words.len()..].chars().next();
        [before, after].into_iter().flatten().all(|c| !c.is_alphanumeric())
    })
}

/// Symbol of the unit whose spelling is nearest, if one is near enough to be meant.
fn nearest(spelling: &str) -> Option<&'static str> {
    // Far beyond the longest spelling there is nothing near, and comparing would be slow.
    if spelling.len() > 40 {
        return None;
    }
    let scored = BY_SPELLING.iter().map(|(known, unit)| {
        let edits = strsim::damerau_levenshtein(spelling, known);
        (edits, 1.0 - strsim::jaro_winkler(spelling, known), *unit, known.len())
    });
    let near = scored.filter(|(edits, _, _, length)| *edits <= (*length).min(spelling.len()).div_ceil(3));
    near.min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2))).map(|(_, _, unit, _)| unit.symbol())
}

/// One spelling for all ways to write the same thing: lower case, `/` for per, short words, `m2` for areas.
fn normalised(text: &str) -> String {
    let plain = plain_characters(text);
    let mut parts: Vec<String> = Vec::new();
    let mut below: Vec<String> = Vec::new();
    for part in plain.split('/') {
        let mut words = Vec::new();
        let mut square = false;
        for word in part.split_whitespace() {
            if matches!(word, "sq" | "square") {
                square = true;
                continue;
            }
            let (word, is_below) = without_negative_power(word);
            let mut word = short_word(&word);
            if square {
                word.push('2');
                square = false;
            }
            if is_below { below.push(word) } else { words.push(word) }
        }
        if square {
            words.push("sq".to_owned());
        }
        parts.push(words.join(" "));
    }
    parts.extend(below);
    parts.join("/")
}

fn plain_characters(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match c {
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '¹' => plain.push('1'),
            '⁻' | '−' => plain.push('-'),
            '°' => plain.push_str("deg"),
            '$' | '€' | '£' => plain.push_str("money"),
            '·' | '_' | '(' | ')' => plain.push(' '),
            '^' => {}
            _ => plain.extend(c.to_lowercase()),
        }
    }
    if plain.contains("per cent") { plain } else { plain.replace(" per ", "/") }
}

/// `ha-1` is `/ha`, `m-2` is `/m2`.
fn without_negative_power(word: &str) -> (String, bool) {
    match word.strip_suffix("-1") {
        Some(stem) if !stem.is_empty() => (stem.to_owned(), true),
        _ => match word.strip_suffix("-2") {
            Some(stem) if !stem.is_empty() => (format!("{stem}2"), true),
            _ => (word.to_owned(), false),
        },
    }
}

fn short_word(word: &str) -> String {
    let short = match word {
        "hectare" | "hectares" => "ha",
        "acre" | "acres" => "ac",
        "kilogram" | "kilograms" | "kilogramme" | "kilogrammes" | "kilo" | "kilos" | "kgs" => "kg",
        "gram" | "grams" | "gramme" | "grammes" => "g",
        "milligram" | "milligrams" => "mg",
        "tonne" | "tonnes" => "t",
        "tons" => "ton",
        "pound" | "pounds" | "lbs" => "lb",
        "ounce" | "ounces" => "oz",
        "fluid" => "fl",
        "bushel" | "bushels" => "bu",
        "gallon" | "gallons" => "gal",
        "quart" | "quarts" => "qt",
        "pint" | "pints" => "pt",
        "imperial" => "imp",
        "litre" | "litres" | "liter" | "liters" => "l",
        "millilitre" | "millilitres" | "milliliter" | "milliliters" => "ml",
        "hectolitre" | "hectolitres" | "hectoliter" | "hectoliters" => "hl",
        "metre" | "metres" | "meter" | "meters" => "m",
        "centimetre" | "centimetres" | "centimeter" | "centimeters" => "cm",
        "millimetre" | "millimetres" | "millimeter" | "millimeters" => "mm",
        "kilometre" | "kilometres" | "kilometer" | "kilometers" => "km",
        "inch" | "inches" | "\"" => "in",
        "foot" | "feet" => "ft",
        "yard" | "yards" => "yd",
        "mile" | "miles" => "mi",
        "sqm" => "m2",
        "sqft" => "ft2",
        "hour" | "hours" | "hr" | "hrs" => "h",
        "day" | "days" => "d",
        "minute" | "minutes" | "mins" => "min",
        "seed" | "kernel" | "kernels" => "seeds",
        "plant" => "plants",
        "pod" => "pods",
        "head" => "heads",
        "stem" => "stems",
        "counts" => "count",
        "scores" | "rating" => "score",
        other => other,
    };
    short.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_and_spelling_means_its_own_unit() {
        for &unit in Unit::ALL {
            for name in std::iter::once(&unit.symbol()).chain(unit.spellings()) {
                assert_eq!(Unit::parse(name), Ok(unit), "{name}");
            }
        }
    }

    #[test]
    fn no_spelling_stands_twice_in_the_table() {
        let mut owners: HashMap<String, Unit> = HashMap::new();
        for &unit in Unit::ALL {
            for name in std::iter::once(&unit.symbol()).chain(unit.spellings()) {
                let owner = *owners.entry(normalised(name)).or_insert(unit);
                assert_eq!(owner, unit, "{name} is claimed by two units");
            }
        }
    }

    #[test]
    fn trade_spellings_are_understood() {
        for (text, unit) in [
            ("kg/ha", Unit::KgPerHa),
            ("KG/HA", Unit::KgPerHa),
            ("kg ha-1", Unit::KgPerHa),
            ("kg ha⁻¹", Unit::KgPerHa),
            ("kg·ha-1", Unit::KgPerHa),
            ("kilograms per hectare", Unit::KgPerHa),
            ("lbs/acre", Unit::LbPerAc),
            ("Bushels per Acre", Unit::BuPerAc),
            ("g m-2", Unit::GramPerM2),
            ("plants m^-2", Unit::PlantsPerM2),
            ("plants/m²", Unit::PlantsPerM2),
            ("plants / sq ft", Unit::PlantsPerFt2),
            ("seeds per square metre", Unit::SeedsPerM2),
            ("°C", Unit::DegC),
            ("° F", Unit::DegF),
            ("inches", Unit::Inch),
            ("%", Unit::Percent),
            ("per cent", Unit::Percent),
            ("mL/ha", Unit::MillilitrePerHa),
            ("days", Unit::Day),
            ("$/bu", Unit::MoneyPerBu),
            ("imperial gallons/acre", Unit::ImperialGallonPerAc),
        ] {
            assert_eq!(Unit::parse(text), Ok(unit), "{text}");
        }
    }

    #[test]
    fn a_near_spelling_is_suggested() {
        for (text, near) in [("kg/hac", "kg/ha"), ("bu/acer", "bu/ac"), ("plnts/m2", "plants/m2"), ("degres C", "degC")]
        {
            let error = Unit::parse(text).unwrap_err();
            assert_eq!(error, UnitError::Unknown { text: text.to_owned(), suggestion: Some(near) });
            assert_eq!(error.help(), format!("Did you mean {near}?"));
        }
        let far = Unit::parse("furlongs per fortnight").unwrap_err();
        assert!(matches!(far, UnitError::Unknown { suggestion: None, .. }), "{far:?}");
        assert!(Unit::parse(&"kg".repeat(100_000)).is_err());
    }

    #[test]
    fn a_spelling_with_two_meanings_is_asked_about() {
        for (text, choices) in [
            ("oz", &["oz (mass)", "US fl oz", "imp fl oz"][..]),
            ("fl oz", &["US fl oz", "imp fl oz"]),
            ("gal", &["US gal", "imp gal"]),
            ("gallons per acre", &["US gal/ac", "imp gal/ac"]),
            ("oz/ac", &["oz (mass)/ac", "US fl oz/ac"]),
            ("ton", &["t", "short ton"]),
            ("lb/bu", &["lb/Winchester bu", "lb/imperial bu"]),
        ] {
            let expected = UnitError::Ambiguous { text: text.to_owned(), choices: choices.to_vec() };
            assert_eq!(Unit::parse(text), Err(expected), "{text}");
        }
    }
}
