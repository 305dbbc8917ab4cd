//! Reading a CSV file: encoding, separator and decimal sign are told from the file itself and reported.

use super::table::{Cell, Table, not_understood};
use crate::StationError;

/// How many lines are looked at to tell separator and decimal sign.
const LINES_LOOKED_AT: usize = 200;

/// Reads a CSV file.
///
/// # Errors
/// When the bytes are no text, have no header, or a row has another number of fields than the header.
pub(crate) fn read(file: &str, bytes: &[u8]) -> Result<Table, StationError> {
    let (text, mut guesses) = decode(file, bytes)?;
    let separator = separator(&text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator as u8)
        .has_headers(true)
        .flexible(true)
        .from_reader(text.as_bytes());
    let header: Vec<String> = reader
        .headers()
        .map_err(|error| not_understood(file, format!("the first line cannot be read: {error}"), SAVE_AGAIN))?
        .iter()
        .map(|name| name.trim().to_owned())
        .collect();
    check_header(file, &header)?;
    let rows = read_rows(file, &mut reader, header.len())?;
    let decimal_comma = separator != ',' && has_decimal_commas(&rows);
    if decimal_comma {
        guesses.push("a comma is read as the decimal sign, since no value has a point".to_owned());
    }
    let read_as = format!(
        "CSV with {} between fields and a decimal {}",
        separator_word(separator),
        if decimal_comma { "comma" } else { "point" }
    );
    Ok(Table { sheet: None, read_as, guesses, decimal_comma, header, rows })
}

const SAVE_AGAIN: &str = "save the table again as CSV (UTF-8) with one header line";

fn decode(file: &str, bytes: &[u8]) -> Result<(String, Vec<String>), StationError> {
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    if bytes.is_empty() {
        return Err(not_understood(file, "the file is empty", "choose the file that holds the observations"));
    }
    let sample = &bytes[..bytes.len().min(1 << 20)];
    let control = sample.iter().filter(|&&byte| byte < 9 || (14..32).contains(&byte)).count();
    if control > 0 {
        return Err(not_understood(
            file,
            "the file is neither a workbook nor a table of text",
            "choose a CSV file or an .xlsx workbook",
        ));
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok((text.to_owned(), Vec::new())),
        Err(_) => {
            // Latin-1 maps every byte to the character of the same number.
            let text = bytes.iter().map(|&byte| char::from(byte)).collect();
            Ok((text, vec!["the file is not UTF-8; it was read as Latin-1, so look at accented letters".to_owned()]))
        }
    }
}

fn check_header(file: &str, header: &[String]) -> Result<(), StationError> {
    if header.len() < 2 {
        return Err(not_understood(
            file,
            "the first line has fewer than two columns",
            "the first line must name the columns, for example: plot, stand, height",
        ));
    }
    for (index, name) in header.iter().enumerate() {
        if !name.is_empty() && header[..index].iter().any(|earlier| earlier.eq_ignore_ascii_case(name)) {
            return Err(not_understood(
                format!("{file}, line 1, column {}", index + 1).as_str(),
                format!("two columns are called “{name}”"),
                "give every column its own name",
            ));
        }
    }
    Ok(())
}

fn read_rows(
    file: &str,
    reader: &mut csv::Reader<&[u8]>,
    columns: usize,
) -> Result<Vec<(usize, Vec<Cell>)>, StationError> {
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| not_understood(file, error.to_string(), SAVE_AGAIN))?;
        let line = record.position().map_or(0, |position| position.line() as usize);
        if record.iter().all(|field| field.trim().is_empty()) {
            continue;
        }
        if record.len() != columns {
            return Err(not_understood(
                format!("{file}, line {line}").as_str(),
                format!("this line has {} fields where the header has {columns}", record.len()),
                "the file may be cut off here, or a value with the separator in it needs quotation marks",
            ));
        }
        rows.push((line, record.iter().map(cell).collect()));
    }
    if rows.is_empty() {
        return Err(not_understood(
            file,
            "there are no rows under the header",
            "choose the file with the observations",
        ));
    }
    Ok(rows)
}

fn cell(field: &str) -> Cell {
    match field.trim() {
        "" => Cell::Empty,
        text => Cell::Text(text.to_owned()),
    }
}

/// The candidate that splits the first lines into the most fields, the same number in each.
fn separator(text: &str) -> char {
    let lines: Vec<&str> = text.lines().filter(|line| !line.trim().is_empty()).take(LINES_LOOKED_AT).collect();
    let score = |separator: char| {
        let fields = |line: &&str| count_outside_quotes(line, separator) + 1;
        let first = lines.first().map_or(1, fields);
        let agreeing = lines.iter().filter(|line| fields(line) == first).count();
        if first < 2 { (0, 0) } else { (agreeing * 100 / lines.len().max(1), first) }
    };
    [';', '\t', ',', '|'].into_iter().max_by_key(|&separator| (score(separator), separator == ',')).unwrap_or(',')
}

fn count_outside_quotes(line: &str, separator: char) -> usize {
    let mut quoted = false;
    line.chars()
        .filter(|&sign| {
            if sign == '"' {
                quoted = !quoted;
            }
            !quoted && sign == separator
        })
        .count()
}

fn separator_word(separator: char) -> &'static str {
    match separator {
        ';' => "semicolons",
        '\t' => "tabs",
        '|' => "bars",
        _ => "commas",
    }
}

/// True when numbers are written with a comma and none with a point.
fn has_decimal_commas(rows: &[(usize, Vec<Cell>)]) -> bool {
    let numbers = || {
        rows.iter().flat_map(|(_, cells)| cells).filter_map(|cell| match cell {
            Cell::Text(text) if text.chars().all(|sign| sign.is_ascii_digit() || "+-.,".contains(sign)) => Some(text),
            _ => None,
        })
    };
    numbers().any(|text| text.contains(',')) && !numbers().any(|text| text.contains('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str) -> Table {
        read("t.csv", text.as_bytes()).expect("a table")
    }

    #[test]
    fn separator_and_decimal_sign_are_told_from_the_file() {
        let comma = table("plot,stand\n101,12.5\n102,13\n");
        assert_eq!((comma.header, comma.decimal_comma), (vec!["plot".to_owned(), "stand".to_owned()], false));
        let semicolon = table("plot;stand\n101;12,5\n102;13\n");
        assert!(semicolon.decimal_comma);
        assert_eq!(semicolon.rows[0], (2, vec![Cell::Text("101".into()), Cell::Text("12,5".into())]));
        assert!(!table("plot\tstand\n101\t12.5\n").decimal_comma);
    }

    #[test]
    fn a_cut_line_names_its_line() {
        let error = read("t.csv", b"plot,stand,height\n101,3,4\n102,3\n").expect_err("cut off");
        assert_eq!(error.place, "t.csv, line 3");
    }

    #[test]
    fn bytes_that_are_no_table_are_refused() {
        for bytes in [&b""[..], b"\x00\x01\x02", b"one\n", b"plot,plot\n1,2\n", b"plot,stand\n"] {
            assert!(read("t.csv", bytes).is_err(), "{bytes:?}");
        }
    }

    #[test]
    fn latin_1_is_read_and_said() {
        let table = read("t.csv", b"plot,note\n101,gr\xFCn\n").expect("read");
        assert_eq!(table.rows[0].1[1], Cell::Text("grün".into()));
        assert!(table.guesses[0].contains("Latin-1"));
    }
}
