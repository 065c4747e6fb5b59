//! Files of records of arbitrary bytes: no panic, no row lost, every line number inside the file.

use std::path::Path;

use proptest::prelude::*;
use trug::ingest::record;

fn check(bytes: &[u8]) {
    let Ok(file) = record::read_from(bytes, Path::new("notes.csv")) else { return };
    let lines = bytes.iter().filter(|&&b| b == b'\n' || b == b'\r').count() as u64 + 1;
    for record in &file.records {
        assert!((1..=lines).contains(&record.line));
    }
    assert!(file.records.is_sorted_by_key(|record| record.line));
    for error in file.set_aside.iter().chain(&file.remarks) {
        assert!(error.where_line().is_none_or(|line| (1..=lines).contains(&line)));
    }
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        "[0-9.:/ -]{0,12}",
        ".{0,8}",
        Just("\"".to_owned()),
        Just("\"a\nb\"".to_owned()),
        Just("P1-P3".to_owned()),
        Just("42.5 S 146.2 E".to_owned()),
        "[\u{e9}\u{b0}\u{2032}\u{2013}]{0,3}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        check(&bytes);
    }

    #[test]
    fn any_bytes_below_headings(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        check(&[b"number,date,time,photos,notes\n", &bytes[..]].concat());
    }

    #[test]
    fn any_cells(
        rows in proptest::collection::vec(proptest::collection::vec(cell(), 0..12), 0..12),
        delimiter in prop_oneof![Just(","), Just(";"), Just("\t")],
    ) {
        let head = ["number", "date", "time", "elevation", "lat", "long", "photos", "datum", "notes"];
        let mut text = head.join(delimiter);
        for row in &rows {
            text.push('\n');
            text.push_str(&row.join(delimiter));
        }
        check(text.as_bytes());
    }

    #[test]
    fn what_was_written_with_quotes_comes_back(
        rows in proptest::collection::vec(("[0-9]{1,5}[a-z]", "[a-z ,;\"\n\u{e9}]{0,20}"), 1..20),
    ) {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(["number", "notes"]).unwrap();
        for (number, notes) in &rows {
            writer.write_record([number, notes]).unwrap();
        }
        let bytes = writer.into_inner().unwrap();
        let file = record::read_from(&bytes, Path::new("notes.csv")).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        prop_assert_eq!(file.records.len(), rows.len());
        for (record, (number, notes)) in file.records.iter().zip(&rows) {
            prop_assert_eq!(&record.number.as_ref().unwrap().0, number);
            let kept = record.fields.get(&trug::model::Field::Notes).map_or("", String::as_str);
            prop_assert_eq!(kept, notes.trim());
            let line = text.lines().nth(usize::try_from(record.line).unwrap() - 1).unwrap();
            prop_assert!(line.starts_with(number.as_str()) || line.starts_with('"'));
        }
    }
}
