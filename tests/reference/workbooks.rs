//! The same finds in workbooks of other libraries, both date systems: openpyxl 3.1, `XlsxWriter` 3.3,
//! pandas, odfpy 1.4, xlwt 1.3. `tests/outside/workbooks.py` wrote them and says what they hold.

use std::path::Path;

use jiff::civil::{Time, date};
use trug::ingest::record;

const DATA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/data/workbooks");

#[test]
fn workbooks_of_other_libraries_give_the_same_records() {
    let mut read = 0;
    for entry in std::fs::read_dir(DATA).unwrap() {
        let path = entry.unwrap().path();
        let file = record::read(&path).unwrap();
        let name = file.source.name();
        assert_eq!(file.records.len(), 12, "{name}");
        for (number, record) in (1_i8..).zip(&file.records) {
            let day = if number < 8 { date(2026, 5, 3) } else { date(2026, 10, 17) };
            assert_eq!(record.number.as_ref().unwrap().0, number.to_string(), "{name}");
            assert_eq!(record.date, Some(day), "{name}");
            let clock =
                Time::new(9 + number / 2, i8::try_from(7 * i16::from(number) % 60).unwrap(), 0, 0)
                    .unwrap();
            assert_eq!(record.time.unwrap().clock, clock, "{name}");
            let at = record.coordinates.as_ref().unwrap().readings[0].at;
            let latitude = -42.51231 - 0.00107 * f64::from(number);
            assert!((at.latitude() - latitude).abs() < 6e-6, "{name}: {at}");
            let notes = &record.fields[&trug::model::Field::Notes];
            assert_eq!(notes, "caf\u{e9} <&> 5\u{b0}", "{name}");
        }
        assert!(file.set_aside.is_empty(), "{name}: {:?}", file.set_aside);
        read += 1;
    }
    assert_eq!(read, 7);
}

#[test]
fn hidden_rows_and_sheets_without_records_are_said() {
    for name in ["openpyxl-1904.xlsx", "xlwt-1904.xls"] {
        let file = record::read(&Path::new(DATA).join(name)).unwrap();
        let said: Vec<String> = file.remarks.iter().map(ToString::to_string).collect();
        assert!(said.iter().any(|said| said.starts_with("1 hidden row")), "{name}: {said:?}");
    }
}
