//! Tables as somebody at the station would hand them in: a text file with points or commas, or a workbook.

/// A header and rows of text.
pub(crate) struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with its columns.
    pub(crate) fn new(header: &[&str]) -> Table {
        Table { header: header.iter().map(|&name| name.to_owned()).collect(), rows: Vec::new() }
    }

    /// Adds a row.
    pub(crate) fn push<T: Into<String>>(&mut self, cells: impl IntoIterator<Item = T>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    /// The cell of a row.
    pub(crate) fn set(&mut self, row: usize, column: &str, text: &str) {
        let at = self.header.iter().position(|name| name == column).expect("columns are named in this crate");
        self.rows[row][at] = text.to_owned();
    }

    /// Text with commas between fields and decimal points.
    pub(crate) fn with_points(&self) -> Vec<u8> {
        self.text(",", |cell| if cell.contains(',') { format!("\"{cell}\"") } else { cell.to_owned() })
    }

    /// Text with semicolons between fields and decimal commas, as half of the world's spreadsheets save it.
    pub(crate) fn with_decimal_commas(&self) -> Vec<u8> {
        let comma = |cell: &str| match cell.parse::<f64>() {
            Ok(_) => cell.replace('.', ","),
            Err(_) => cell.to_owned(),
        };
        self.text(";", comma)
    }

    /// A workbook with one sheet, numbers as numbers.
    pub(crate) fn workbook(&self, sheet: &str) -> Vec<u8> {
        let written = "cells lie within the limits of a sheet, and the workbook is made in memory";
        let mut workbook = rust_xlsxwriter::Workbook::new();
        let page = workbook.add_worksheet();
        page.set_name(sheet).expect(written);
        for (column, name) in (0u16..).zip(&self.header) {
            page.write_string(0, column, name).expect(written);
        }
        for (line, cells) in (1u32..).zip(&self.rows) {
            for (column, cell) in (0u16..).zip(cells) {
                match cell.parse::<f64>() {
                    Ok(number) => page.write_number(line, column, number).expect(written),
                    Err(_) => page.write_string(line, column, cell).expect(written),
                };
            }
        }
        workbook.save_to_buffer().expect(written)
    }

    fn text(&self, separator: &str, cell: impl Fn(&str) -> String) -> Vec<u8> {
        let line = |cells: &Vec<String>| cells.iter().map(|text| cell(text)).collect::<Vec<_>>().join(separator) + "\n";
        let mut text = line(&self.header);
        text.extend(self.rows.iter().map(line));
        text.into_bytes()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_numbers_get_a_decimal_comma() {
        let mut table = Table::new(&["plot", "stand", "treatment"]);
        table.push(["101", "31.5", "5 cm, small"]);
        table.push(["102", "lost", "9 cm, small"]);
        assert_eq!(
            String::from_utf8(table.with_decimal_commas()).expect("text"),
            "plot;stand;treatment\n101;31,5;5 cm, small\n102;lost;9 cm, small\n"
        );
        let points = String::from_utf8(table.with_points()).expect("text");
        assert!(points.contains("101,31.5,\"5 cm, small\"\n"), "{points}");
    }
}
