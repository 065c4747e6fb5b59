//! Whatever columns a notebook has: a listing that was not edited has no differences, in each form that a
//! spreadsheet reads, whole or with columns and rows dropped. Layer: `commands`.

use std::collections::BTreeSet;
use std::path::Path;

use jiff::civil::date;
use proptest::prelude::*;
use uuid::Uuid;

use super::{Columns, Differences, EditedRow};
use crate::ingest::record::{self, listing};
use crate::model::{Field, KeptFind};
use crate::present::{csv, field_records, fixture};

/// Headings that mean the same, differ by case only, or are those of a listing.
const HEADINGS: [&str; 58] = [
    "colour",
    "cap colour",
    "Colour",
    "COLOUR",
    "color of cap",
    "smell",
    "odour",
    "Smell",
    "latex",
    "milk",
    "Wetter",
    "wetter",
    "WETTER",
    "date",
    "Date",
    "collected",
    "time",
    "Uhrzeit",
    "number",
    "No.",
    "recordNumber",
    "notes",
    "remarks",
    "Bemerkungen",
    "occurrenceID",
    "eventDate",
    "find identifier",
    "datum",
    "Datum",
    "uncertainty (m)",
    "accuracy",
    "extra date",
    "elevation (m)",
    "elev ft",
    "Höhe",
    "identified by",
    "det.",
    "dateIdentified",
    "date identified",
    "country",
    "Country",
    "Land",
    "catalogNumber",
    "typeStatus",
    "locality",
    "place",
    "name",
    "genus",
    "author",
    "photos",
    "waypoint",
    "latitude",
    "longitude",
    "coordinates",
    "habitat",
    "substrate",
    "spores",
    "column 4",
];

const CELLS: [&str; 22] = [
    "red",
    "brown",
    "0212",
    "1.50",
    "1,5",
    "-42.61230",
    "146.12345",
    "42.6123 S 146.1234 E",
    "2026-05-04",
    "14:32",
    "ca 9",
    "=A1+1",
    "'quoted",
    "+61 3",
    "\"said\"",
    "two\nlines",
    "x; y | z",
    "TRUE",
    "1e5",
    "I. Marrowby 2026-06-01",
    "WGS 84",
    "8.1 x 5.2, 7.9 x 5.0",
];

fn heading() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => prop::sample::select(&HEADINGS[..]).prop_map(str::to_owned),
        1 => "[A-Za-z\u{e9} ()#.]{1,10}",
    ]
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => Just(String::new()),
        4 => prop::sample::select(&CELLS[..]).prop_map(str::to_owned),
        1 => "[ -~\u{e9}\u{b5}]{0,8}",
    ]
}

/// A notebook with these columns behind those of number and date, read as an import reads it, and fields that
/// amendments added.
fn finds(
    headings: &[String],
    rows: &[Vec<String>],
    added: &[(usize, String, String)],
) -> Vec<KeptFind> {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    let front = ["Number".to_owned(), "eventDate".to_owned()];
    writer.write_record(front.iter().chain(headings)).unwrap();
    for (place, row) in rows.iter().enumerate() {
        let front = [format!("TH-{:04}", place + 1), "2026-05-03".to_owned()];
        let cells = (0..headings.len()).map(|at| row.get(at).cloned().unwrap_or_default());
        writer.write_record(front.into_iter().chain(cells)).unwrap();
    }
    let bytes = writer.into_inner().unwrap();
    let file = record::read_from(&bytes, Path::new("notes.csv")).unwrap();
    let one = |(place, record): (usize, crate::model::Record)| {
        let mut find = fixture::kept_find("TH 17");
        find.id = Uuid::from_u128(place as u128 + 1);
        find.date = date(2026, 5, 3);
        find.collector.clone_from(&record.collector);
        find.record = record;
        for (_, heading, value) in added.iter().filter(|(of, ..)| of % 3 == place % 3) {
            find.record.fields.insert(Field::from(heading.trim().to_owned()), value.clone());
        }
        find
    };
    file.records.into_iter().enumerate().map(one).collect()
}

fn compared(find: &KeptFind, columns: &Columns, cells: &[String]) -> Differences {
    EditedRow { find, columns, cells, today: date(2026, 12, 31) }.differences().unwrap()
}

/// What is found in a file that lists these finds.
fn found(finds: &[KeptFind], fields: &BTreeSet<Field>, bytes: &[u8]) -> Vec<(usize, Differences)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("listing");
    std::fs::write(&path, bytes).unwrap();
    let listing = listing::read(&path).unwrap();
    assert_eq!((listing.rows.len(), listing.faults.len()), (finds.len(), 0));
    let columns = Columns::of(&listing.headings, fields);
    let mut all = Vec::new();
    for (place, (find, (_, cells))) in finds.iter().zip(&listing.rows).enumerate() {
        let id = listing.identifier(cells).unwrap().trim_start_matches("urn:uuid:");
        assert_eq!(id, find.id.to_string());
        let found = compared(find, &columns, cells);
        if found != Differences::default() {
            all.push((place, found));
        }
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn unedited_listings_have_no_differences(
        headings in prop::collection::vec(heading(), 0..9),
        rows in prop::collection::vec(prop::collection::vec(cell(), 0..9), 1..6),
        added in prop::collection::vec((0_usize..3, heading(), "[a-z]{1,6}"), 0..3),
        listed in prop::collection::vec(any::<bool>(), 6),
    ) {
        let all = finds(&headings, &rows, &added);
        let fields: BTreeSet<Field> =
            all.iter().flat_map(|find| find.record.fields.keys().cloned()).collect();
        let some: Vec<KeptFind> =
            all.iter().zip(&listed).filter(|(_, listed)| **listed).map(|(find, _)| find.clone()).collect();
        for finds in [&all, &some] {
            let records = [field_records::csv(finds).into_bytes(), field_records::xlsx(finds).unwrap()];
            for bytes in records.into_iter().chain([csv::finds(finds).into_bytes()]) {
                // an empty table has no rows to recognise it by
                if !finds.is_empty() {
                    prop_assert_eq!(found(finds, &fields, &bytes), Vec::new());
                }
            }
        }
    }

    #[test]
    fn dropped_columns_change_nothing(
        headings in prop::collection::vec(heading(), 1..9),
        rows in prop::collection::vec(prop::collection::vec(cell(), 0..9), 1..4),
        kept in prop::collection::vec(any::<bool>(), 40),
    ) {
        let all = finds(&headings, &rows, &[]);
        let fields: BTreeSet<Field> =
            all.iter().flat_map(|find| find.record.fields.keys().cloned()).collect();
        let sheet = field_records::sheet(&all);
        let stays = |place: usize| {
            let of_position = ["latitude", "longitude", "coordinates", "datum", "uncertainty (m)"];
            // without the identifier rows are matched by number and date
            let matching = ["number", "date"];
            of_position.contains(&sheet.headings[place].as_str())
                || matching.contains(&sheet.headings[place].as_str()) || kept.get(place) != Some(&false)
        };
        let cut = |cells: &[String]| -> Vec<String> {
            let kept = cells.iter().enumerate().filter(|(place, _)| stays(*place));
            kept.map(|(_, cell)| cell.clone()).collect()
        };
        let columns = Columns::of(&cut(&sheet.headings), &fields);
        for (find, row) in all.iter().zip(&sheet.rows) {
            let found = compared(find, &columns, &cut(row));
            prop_assert_eq!(found, Differences::default());
        }
    }
}
