//! Guardrow's numbers, one row each, for the script to compare with.

/// The numbers of all measures.
#[derive(Debug, Default)]
pub(super) struct Expected {
    rows: Vec<Row>,
}

#[derive(Debug)]
struct Row {
    measure: String,
    part: &'static str,
    of: String,
    item: String,
    number: &'static str,
    value: Option<f64>,
}

/// The numbers of one measure.
pub(super) struct OfMeasure<'a> {
    pub(super) expected: &'a mut Expected,
    pub(super) measure: String,
}

impl OfMeasure<'_> {
    /// Adds one number of every item. A number that is not known stands as an empty cell.
    pub(super) fn add(
        &mut self,
        part: &'static str,
        of: &str,
        number: &'static str,
        items: impl IntoIterator<Item = (String, Option<f64>)>,
    ) {
        let measure = self.measure.clone();
        self.expected.rows.extend(items.into_iter().map(|(item, value)| Row {
            measure: measure.clone(),
            part,
            of: super::names::one_line(of),
            item: super::names::one_line(&item),
            number,
            value: value.filter(|value| value.is_finite()),
        }));
    }

    /// Adds one number that stands for itself.
    pub(super) fn one(&mut self, part: &'static str, of: &str, number: &'static str, value: Option<f64>) {
        self.add(part, of, number, [(String::new(), value)]);
    }
}

impl Expected {
    /// How many numbers are known.
    pub(super) fn known(&self) -> usize {
        self.rows.iter().filter(|row| row.value.is_some()).count()
    }

    /// The table, every number with all its digits.
    pub(super) fn csv(&self) -> Vec<u8> {
        let head = ["measure", "part", "of", "item", "number", "value"].map(str::to_owned);
        let rows = self.rows.iter().map(|row| {
            let value = row.value.map(|value| value.to_string()).unwrap_or_default();
            [row.measure.clone(), row.part.to_owned(), row.of.clone(), row.item.clone(), row.number.to_owned(), value]
        });
        super::table::csv(std::iter::once(head).chain(rows))
    }
}
