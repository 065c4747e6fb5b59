//! Tests of whole files of records: every field, every format, and the exact text of messages.

use std::path::Path;

use jiff::civil::{date, time};

use super::{read, read_from};
use crate::model::{Field, PhotoRef, Record, RecordFile, TimePrecision};
use crate::units::Metres;

pub(super) fn file(text: &str) -> RecordFile {
    read_from(text.as_bytes(), Path::new("day/notes.csv")).unwrap()
}

pub(super) fn messages(errors: &[crate::error::Error]) -> Vec<String> {
    errors.iter().map(ToString::to_string).collect()
}

const LABEL: &str = "\
Number,Date,Time,Place,Substrate,Host tree,Habitat,Name,Collector,Container,Photos,Waypoint,\
Coordinates,Datum,Uncertainty (m),Elevation,Bruising,Latex,Smell,Taste,Spore print,Colour,Quantity,\
Det. by,Notes,Weather
TH-0017,3 May 2026,14:05,Fern gully,rotten log,Nothofagus,wet forest,Mycena sp.,A. Thornquist,blue box 3,\
P1004-P1006; 1012,W17,42\u{b0}30.74'S 146\u{b0}15.41'E,WGS84,8,412 m,reddening,none,radish,not tried,\
white,brown,3 caps,B. Holm,\"soft,
then firm\",rain
";

#[test]
fn every_field_of_a_label_finds_its_place() {
    let file = file(LABEL);
    assert_eq!(messages(&file.set_aside), [""; 0]);
    let notes = messages(&file.remarks);
    assert!(
        notes.len() == 1 && notes[0].contains("the column \"Weather\" is not known"),
        "{notes:?}"
    );
    let record = &file.records[0];
    assert_eq!(record.number.as_ref().unwrap().0, "TH-0017");
    assert_eq!(record.date, Some(date(2026, 5, 3)));
    let written = record.time.unwrap();
    assert_eq!((written.clock, written.precision), (time(14, 5, 0, 0), TimePrecision::Minute));
    let texts = [
        (&record.place, "Fern gully"),
        (&record.substrate, "rotten log"),
        (&record.host, "Nothofagus"),
        (&record.habitat, "wet forest"),
        (&record.name, "Mycena sp."),
        (&record.collector, "A. Thornquist"),
        (&record.container, "blue box 3"),
        (&record.waypoint, "W17"),
    ];
    for (text, expected) in texts {
        assert_eq!(text.as_deref(), Some(expected));
    }
    let photos = ["P1004", "P1005", "P1006", "1012"].map(|name| PhotoRef(name.into()));
    assert_eq!(record.photos, photos);
    let coordinates = record.coordinates.as_ref().unwrap();
    assert_eq!(coordinates.readings[0].at.to_string(), "42.51233 S 146.25683 E");
    assert_eq!(coordinates.stated_uncertainty, Some(Metres(8.0)));
    assert_eq!(record.elevation, Some(Metres(412.0)));
    let field = |field: Field| record.fields.get(&field).map(String::as_str);
    assert_eq!(field(Field::Bruising), Some("reddening"));
    assert_eq!(field(Field::Latex), Some("none"));
    assert_eq!(field(Field::Smell), Some("radish"));
    assert_eq!(field(Field::Taste), Some("not tried"));
    assert_eq!(field(Field::SporePrint), Some("white"));
    assert_eq!(field(Field::Colour), Some("brown"));
    assert_eq!(field(Field::Quantity), Some("3 caps"));
    assert_eq!(field(Field::IdentifiedBy), Some("B. Holm"));
    assert_eq!(field(Field::Notes), Some("soft,\nthen firm"));
    assert_eq!(field(Field::Other("Weather".into())), Some("rain"));
    assert_eq!(record.line, 2);
}

#[test]
fn darwin_core_terms_are_read() {
    let file = file(
        "recordNumber;eventDate;scientificName;decimalLatitude;decimalLongitude;geodeticDatum;\
         coordinateUncertaintyInMeters;recordedBy;associatedMedia;minimumElevationInMeters\n\
         17;2026-05-03T14:05:33;Mycena sp.;-42,5123;146,2567;EPSG:4326;0;A. Thornquist;\
         day/P1004.JPG|day/P1005.JPG;412\n",
    );
    assert_eq!(messages(&file.set_aside), [""; 0]);
    let record = &file.records[0];
    assert_eq!(record.date, Some(date(2026, 5, 3)));
    assert_eq!(record.time.unwrap().precision, TimePrecision::Second);
    let coordinates = record.coordinates.as_ref().unwrap();
    assert_eq!(coordinates.readings[0].at.to_string(), "42.51230 S 146.25670 E");
    // Darwin Core: zero is no valid uncertainty
    assert_eq!(coordinates.stated_uncertainty, None);
    assert_eq!(record.photos, ["P1004.JPG", "P1005.JPG"].map(|name| PhotoRef(name.into())));
}

#[test]
fn cells_that_look_like_formulas_are_kept_as_written() {
    let file = file("number,notes,place,smell\n=1+1,+x,-y,@z\n");
    let record = &file.records[0];
    assert_eq!(record.number.as_ref().unwrap().0, "=1+1");
    assert_eq!(record.fields[&Field::Notes], "+x");
    assert_eq!(record.place.as_deref(), Some("-y"));
    assert_eq!(record.fields[&Field::Smell], "@z");
}

#[test]
fn short_long_and_blank_rows_lose_nothing() {
    let file = file("number,place,notes\n1\n\n,,\n2,gully,wet, cold, windy\n3,ridge,dry\n");
    assert_eq!(file.records.len(), 3);
    assert_eq!(file.records[1].fields[&Field::Notes], "wet, cold, windy");
    assert_eq!(file.records[1].line, 5);
    assert_eq!(
        messages(&file.remarks),
        ["a row has more cells than the heading line (notes.csv, line 5)\n\
          because: 5 cells, 3 headings\nhint: put a cell that contains the delimiter in quotation \
          marks"]
    );
    let file = super::read_from(b"number,place\n1,gully,steep\n", Path::new("n.csv")).unwrap();
    assert_eq!(file.records[0].fields[&Field::Other("column 3".into())], "steep");
}

#[test]
fn doubled_headings_join_or_keep_their_own() {
    let file = file("number,notes,notes,smell,smell,label,Remarks,,\n7,a,b,c,d,9,e,f,g\n");
    let record = &file.records[0];
    assert_eq!(record.number.as_ref().unwrap().0, "7");
    assert_eq!(record.fields[&Field::Notes], "a; b; e");
    assert_eq!(record.fields[&Field::Smell], "c");
    let other =
        |heading: &str| record.fields.get(&Field::Other(heading.into())).map(String::as_str);
    assert_eq!(other("smell (2)"), Some("d"));
    assert_eq!(other("label"), Some("9"));
    assert_eq!(other("column 8"), Some("f"));
    assert_eq!(other("column 9"), Some("g"));
}

#[test]
fn ambiguous_dates_are_refused_unless_the_column_decides() {
    let open = file("number,date\n1,03/05/2026\n2,04/05/2026\n");
    assert_eq!(open.records[0].date, None);
    assert_eq!(open.records[0].fields[&Field::Other("date as written".into())], "03/05/2026");
    // left to the day of the track
    let readings: Vec<_> = open.records[0].date_readings.iter().map(|own| own.date).collect();
    assert_eq!(readings, [date(2026, 5, 3), date(2026, 3, 5)]);
    assert_eq!(messages(&open.set_aside), [""; 0]);
    let torn = file("number,date\n1,03/05/2026\n2,23/05/2026\n3,05/23/2026\n4,04/05/2026\n");
    assert_eq!(torn.records[0].date_readings, []);
    assert_eq!(
        messages(&torn.set_aside),
        ["the date of 2 rows cannot be read, first \"03/05/2026\" (notes.csv, line 2)\n\
             because: it is 2026-05-03 with the day first and 2026-03-05 with the month first, \
             and no other date of the column settles the order\n\
             hint: write it like 2026-05-03 or 3 May 2026"]
    );
    let decided = file("number,date\n1,03/05/2026\n2,23/05/2026\n");
    assert_eq!(decided.records[0].date, Some(date(2026, 5, 3)));
    assert_eq!(
        messages(&decided.remarks),
        ["dates were read with the day first (notes.csv)\nbecause: line 3 shows it"]
    );
    let month = file("number,date\n1,05/03/2026\n2,05/23/2026\n");
    assert_eq!(month.records[0].date, Some(date(2026, 5, 3)));
    let torn = file("number,date\n1,05/03/2026\n2,05/23/2026\n3,23/05/2026\n");
    assert_eq!(torn.records[0].date, None);
    assert_eq!(torn.records[2].date, Some(date(2026, 5, 23)));
}

#[test]
fn rounded_times_are_seen_in_the_whole_file() {
    let file = file("number,time\n0,9:00\n1,9:20\n2,10:05\n3,10:35\n4,11:10\n5,11:15\n");
    assert_eq!(file.records[0].time.unwrap().precision, TimePrecision::FiveMinutes);
    assert_eq!(
        messages(&file.remarks),
        ["times are taken as rounded to five minutes (notes.csv)\n\
          because: all 6 times of this file are multiples of it"]
    );
}

#[test]
fn what_cannot_be_read_is_reported_with_its_line_and_kept() {
    let file = file(
        "number,date,time,elevation,coordinates,datum\n\
         1,2026-05-03,\"after\nlunch\",high,by the hut,WGS84\n2,2026-05-33,25:00,,438945 5293069,\n",
    );
    assert_eq!(
        messages(&file.set_aside),
        [
            "the time \"after\\nlunch\" cannot be read (notes.csv, line 2)\n\
             because: it is not a time of day\nhint: write it like 14:05, 2.05 pm or ca 14",
            "the elevation \"high\" cannot be read (notes.csv, line 2)\n\
             because: it is not a length\nhint: write it like 412 m or 1350 ft",
            "\"by the hut\" is not a position that trug can read (notes.csv, line 2)\n\
             because: \"by\" is not part of a position\n\
             hint: write it like -42.51234 146.25678, 42 30.74 S 146 15.41 E, 42 30 44 S 146 15 25 E, \
             55G 438880 5293530 or 55GDN3888093530",
            "the date \"2026-05-33\" cannot be read (notes.csv, line 4)\n\
             because: it is not a date of the calendar\nhint: write it like 2026-05-03 or 3 May 2026",
            "the time \"25:00\" cannot be read (notes.csv, line 4)\n\
             because: it is not a time of day\nhint: write it like 14:05, 2.05 pm or ca 14",
            "\"438945 5293069\" is not a position that trug can read (notes.csv, line 4)\n\
             because: these numbers look like metres on a grid: 438945 and 5293069 are not \
             degrees, and no grid is named\n\
             hint: write the zone before them (55G 500123 5250123), or name the grid: EPSG:28355",
        ]
    );
    let coordinates = file.records[0].coordinates.as_ref().unwrap();
    assert_eq!((coordinates.verbatim.as_str(), coordinates.readings.len()), ("by the hut", 0));
    assert_eq!(file.records[0].fields[&Field::Other("time as written".into())], "after\nlunch");
}

#[test]
fn rows_without_degrees_are_placed_by_their_coordinates_as_typed() {
    let file = file(
        "no,verbatimCoordinates,verbatimLatitude,verbatimLongitude,decimalLatitude,decimalLongitude\n\
         1,55GDN3888093530,,,-42.5,146.2\n2,55GDN3888093530,,,,\n3,,42 30 S,146 15 E,,\n4,,,,,\n",
    );
    let verbatim: Vec<Option<&str>> = file
        .records
        .iter()
        .map(|record| Some(record.coordinates.as_ref()?.verbatim.as_str()))
        .collect();
    let expected = [Some("-42.5 146.2"), Some("55GDN3888093530"), Some("42 30 S 146 15 E"), None];
    assert_eq!(verbatim, expected);
}

#[test]
fn coordinates_are_found_in_whichever_columns_hold_them() {
    for text in [
        "no,lat,long,datum\n1,-42.512345,146.256789,WGS84\n",
        "no,lat,long,datum\n1,\"-42.512345, 146.256789\",,WGS84\n",
        "no,Easting,Northing,Zone,Datum\n1,438945.09,5293068.55,55G,WGS84\n",
        "no,utm,datum\n1,55G 438945.09 5293068.55,WGS84\n",
        "no,easting,northing,grid\n1,438945.09,5293068.55,WGS 84 / UTM zone 55S\n",
    ] {
        let file = file(text);
        let coordinates = file.records[0].coordinates.as_ref();
        let readings = &coordinates.unwrap_or_else(|| panic!("{text}")).readings;
        assert_eq!(readings.len(), 1, "{text}: {:?}", file.set_aside);
        let at = readings[0].at;
        assert!((at.latitude() + 42.512_345).abs() < 1e-6, "{text}: {at}");
        assert!((at.longitude() - 146.256_789).abs() < 1e-6, "{text}: {at}");
    }
}

#[test]
fn a_datum_heading_over_dates_is_a_date() {
    let read = file("nr;datum;notes\n1;3.5.2026;x\n");
    assert_eq!(read.records[0].date, Some(date(2026, 5, 3)));
}

#[test]
fn all_cells_of_a_datum_column_and_the_other_headings_say_whether_it_is_a_date() {
    for cells in
        [["Anfang Mai", "3.5.2026"], ["?", "3.5.2026"], ["WGS84", "3.5.2026"], ["", "3.5.2026"]]
    {
        let [first, second] = cells;
        let read = file(&format!("Nr.;Datum;Art\n1;{first};Mycena\n2;{second};Russula\n"));
        assert_eq!(read.records[1].date, Some(date(2026, 5, 3)), "{cells:?}");
    }
    // neither a date nor a system: the language of the headings
    let read = file("Nr.;Datum;Art\n1;Anfang Mai;Mycena\n");
    assert!(messages(&read.set_aside)[0].contains("the date \"Anfang Mai\" cannot be read"));
    let systems =
        "number,date,lat,lon,datum\n1,2026-05-03,47.5,13.5,WGS84\n2,2026-05-03,47.5,13.5,ED50\n";
    let system = |text: &str| file(text).records[1].coordinates.clone().unwrap().system;
    assert_eq!(system(systems).as_deref(), Some("ED50"));
    let german = "Nr.;Breite;L\u{e4}nge;Datum\n1;47,5;13,5;WGS84\n2;47,5;13,5;ED50\n";
    assert_eq!(system(german).as_deref(), Some("ED50"));
    let english = file("number,place,datum\n1,Brook,soon\n");
    assert_eq!(english.records[0].other("datum as written"), Some("soon"));
}

#[test]
fn names_in_parts_and_dates_in_parts_are_joined() {
    let file = file(
        "no,genus,species,year,month,day\n1,Mycena,interrupta,2026,5,3\n2,Mycena,,2026,May,4\n",
    );
    assert_eq!(file.records[0].name.as_deref(), Some("Mycena interrupta"));
    assert_eq!(file.records[0].date, Some(date(2026, 5, 3)));
    assert_eq!(file.records[1].name.as_deref(), Some("Mycena"));
    assert_eq!(file.records[1].date, Some(date(2026, 5, 4)));
}

#[test]
fn times_with_an_offset_keep_it_and_only_an_impossible_one_is_reported() {
    let file = file(
        "number,eventDate\n1,2026-05-03T04:05Z\n2,2026-05-03T00:00:00\n3,2026-05-03T14:05+99:00\n",
    );
    assert_eq!(file.records[0].time.unwrap().clock, time(4, 5, 0, 0));
    assert_eq!(file.records[0].fields[&Field::Other("offset of the time".into())], "Z");
    assert_eq!(file.records[0].time_offset(), Some(jiff::tz::Offset::UTC));
    assert_eq!(file.records[2].time_offset(), None);
    assert_eq!(file.records[1].time, None);
    assert_eq!(
        messages(&file.remarks),
        ["the time 14:05+99:00 states an offset from UTC that no time zone uses (notes.csv, line \
         4)\n\
          because: +99:00 from UTC; it was read in the time zone of the outing\n\
          hint: write it like 14:05+10:00 or 04:05Z"]
    );
}

#[test]
fn files_that_are_no_tables_are_reported_so() {
    let message =
        |bytes: &[u8]| read_from(bytes, Path::new("day/letter.txt")).unwrap_err().to_string();
    assert_eq!(
        message(b"Dear friends,\nit rained."),
        "letter.txt is not a table of field records\n\
         because: no line of it names two known columns; it begins \"Dear friends,\"\n\
         hint: its first line must name the columns, such as number, date, time, place, photos"
    );
    assert!(message(b"").contains("because: it is empty"));
    assert!(message(b"PK\x03\x04\0\0\0\0\0\0\0\0").contains("neither XLSX, XLS nor ODS"));
    assert!(message(b"\0\x01\x02\0").contains("because: it is not text"));
    assert!(read(Path::new("day/missing.csv")).unwrap_err().to_string().starts_with("cannot read"));
}

#[test]
fn the_example_of_the_guide_reads_as_it_says() {
    let guide = include_str!("../../../docs/reading-records.md");
    let (_, example) = guide.rsplit_once("```text\n").unwrap();
    let file = file(example.split_once("```").unwrap().0);
    assert_eq!(messages(&file.set_aside), [""; 0]);
    assert_eq!(file.records.len(), 2);
    let reading = &file.records[0].coordinates.as_ref().unwrap().readings[0];
    assert_eq!(reading.at.to_string(), "42.51235 S 146.25678 E");
    assert_eq!(reading.precision.to_string(), "2.3 m");
    assert_eq!(file.records[0].photos.len(), 3);
    assert_eq!(file.records[1].time.unwrap().precision, TimePrecision::Hour);
    assert!(guide.contains("at 42.51235 S 146.25678 E, with a rounding of 2.3 m"));
}

#[test]
fn units_and_thousands_are_read_by_heading_and_column() {
    let read = |heading: &str, cells: [&str; 2]| -> Vec<Option<f64>> {
        let text = format!("number;{heading}\n1;{}\n2;{}\n", cells[0], cells[1]);
        let records = file(&text).records;
        records
            .iter()
            .map(|record| record.elevation.map(|metres| (metres.0 * 1e3).round() / 1e3))
            .collect()
    };
    assert_eq!(read("Elevation (ft)", ["3600", "3,550"]), [Some(1097.28), Some(1082.04)]);
    assert_eq!(read("alt. m", ["1.120", "1.080,5"]), [Some(1120.0), Some(1080.5)]);
    assert_eq!(read("height [m]", ["1'120", "980"]), [Some(1120.0), Some(980.0)]);
    assert_eq!(read("Elevation (ft)", ["1100 m", "3600"]), [Some(1100.0), Some(1097.28)]);
    let open = file("number;elevation\n1;1.120\n2;1.130\n3;1.240\n");
    assert!(open.records.iter().all(|record| record.elevation.is_none()));
    // the heights of the tracks may decide
    assert!(open.set_aside.is_empty());
    let readings = &open.records[0].elevation_readings;
    let lows: Vec<f64> = readings.iter().map(|reading| reading.low.0).collect();
    assert_eq!(lows, [1.12, 1120.0, 0.3414, 341.376]);
}

#[test]
fn a_column_of_heights_holds_elevations_where_no_tree_is_so_tall() {
    let read = |cells: [&str; 3]| -> Vec<Option<Metres>> {
        let [a, b, c] = cells;
        let text = format!("Nummer;Fundort;H\u{f6}he\n1;x;{a}\n2;x;{b}\n3;x;{c}\n");
        file(&text).records.iter().map(|record| record.elevation).collect()
    };
    assert_eq!(read(["1120", "1085", ""]), [Some(Metres(1120.0)), Some(Metres(1085.0)), None]);
    assert_eq!(read(["12", "25", "8"]), [None; 3]);
}

#[test]
fn totals_row_is_not_a_find() {
    let read = file("number,date,name,count\n1,2026-05-03,x,4\nTotal,,,4\n");
    assert_eq!(read.records.len(), 1);
    assert!(
        messages(&read.remarks).iter().any(|said| said.contains("a row of totals was skipped"))
    );
    // a place and a find may be called so
    for row in ["Total,2026-05-03,x,4", "2,2026-05-03,Sum,4", "2,,total,big ones"] {
        let read = file(&format!("number,date,name,count\n1,2026-05-03,x,4\n{row}\n"));
        assert_eq!(read.records.len(), 2, "{row}");
    }
}

#[test]
fn an_author_stands_behind_the_name_that_it_is_of() {
    let names = |text: &str| -> Vec<(String, Option<String>)> {
        let author = Field::Other("scientificNameAuthorship".into());
        let records = file(text).records;
        let parts =
            |record: &Record| (record.name.clone().unwrap(), record.fields.get(&author).cloned());
        records.iter().map(parts).collect()
    };
    let kept = |name: &str, author: &str| (name.to_owned(), Some(author.to_owned()));
    let joined = |name: &str| (name.to_owned(), None);
    assert_eq!(
        names(
            "number,name,author\n1,Russula,Pers.\n2,Russula sp.,Fr.\n3,Russula cf. vesca,Fr.\n\
             4,Russula vesca,Fr.\n5,Russula,(Schaeff.) Fr.\n6,Russula vesca Fr.,Fr.\n"
        ),
        [
            joined("Russula Pers."),
            kept("Russula sp.", "Fr."),
            joined("Russula cf. vesca Fr."),
            joined("Russula vesca Fr."),
            kept("Russula", "(Schaeff.) Fr."),
            joined("Russula vesca Fr."),
        ]
    );
    assert_eq!(
        names(
            "number,genus,epithet,author\n1,Russula,vesca,Fr.\n2,Russula,,Fr.\n3,Russula,sp.,Fr.\n"
        ),
        [joined("Russula vesca Fr."), kept("Russula", "Fr."), kept("Russula sp.", "Fr.")]
    );
    assert_eq!(
        names("number,name,qualifier,author\n1,Russula,sp.,Fr.\n"),
        [kept("Russula sp.", "Fr.")]
    );
}
