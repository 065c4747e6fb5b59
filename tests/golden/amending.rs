//! Corrections by whole commands: a day with three corrections, questions, undo, and refusals.

use std::fs;

use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};

use crate::run::{Desk, samples};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.run(&["import", &samples().join("2026-04-18-wren-gully").to_string_lossy()]);
    desk
}

/// The output without the moments at which changes were made.
fn reported(desk: &Desk, arguments: &[&str]) -> String {
    let text = desk.reported(arguments);
    let words: Vec<String> = text.split('\n').map(without_moment).collect();
    words.join("\n")
}

fn without_moment(line: &str) -> String {
    let Some(end) = line
        .find(" UTC amendment")
        .or_else(|| line.find(" UTC import"))
        .or_else(|| line.find(" UTC undo").or_else(|| line.find(" UTC removal")))
    else {
        return line.to_owned();
    };
    let begin = end.saturating_sub("2026-06-01 12:00".len());
    format!("{}[made]{}", &line[..begin], &line[end..])
}

const WHO: [&str; 2] = ["--who", "Iren Marrowby"];

fn amend(desk: &Desk, arguments: &[&str]) -> String {
    reported(desk, &[&["amend"], arguments, &WHO].concat())
}

#[test]
fn a_day_with_three_corrections() {
    let desk = desk();
    let corrections: [&[&str]; 3] = [
        &[
            "AQ-0042",
            "--position",
            "-42.61640 146.09360",
            "--within",
            "5",
            "--reason",
            "measured again",
        ],
        &["aq 43", "--photos", "+P1010,-P1009", "--reason", "P1009 shows moss"],
        &[
            "AQ-0044",
            "--taxon",
            "Leotia cf. lubrica",
            "--determiner",
            "Iren Marrowby",
            "--on",
            "2026-05-01",
            "--method",
            "microscopy",
            "--field",
            "spores=18x5, 20x5.5, 21x5",
            "--reason",
            "spores seen",
        ],
    ];
    for correction in corrections {
        insta::assert_snapshot!(amend(&desk, correction));
    }
    insta::assert_snapshot!(reported(&desk, &["show", "AQ-0042"]));
    insta::assert_snapshot!(reported(&desk, &["show", "AQ-0044"]));
    insta::assert_snapshot!(reported(&desk, &["history", "--day", "2026-04-18"]));
    let again = samples().join("2026-04-18-wren-gully");
    assert!(desk.reported(&["import", &again.to_string_lossy()]).contains("Unchanged"));
    insta::assert_snapshot!(reported(&desk, &["undo", "2", "--who", "Iren Marrowby"]));
    insta::assert_snapshot!(reported(&desk, &["history", "AQ-0042"]));
    insta::assert_snapshot!(reported(&desk, &["verify"]));
}

#[test]
fn doubtful_corrections_are_refused() {
    let desk = desk();
    let refused: [&[&str]; 18] = [
        &["AQ-0042", "--position", "-42.61640 146.09360", "--within", "-3", "--reason", "x"],
        &["AQ-0042", "--position", "-42.61640 146.09360", "--within", "1e-6", "--reason", "x"],
        &["AQ-0042", "--time", "14:32+10:00", "--reason", "x"],
        &["AQ-0042", "--photos", "+P1004,-P1004", "--reason", "x"],
        &["AQ-0042", "--photos", "+", "--reason", "x"],
        &["AQ-0042", "--photos", ",", "--reason", "x"],
        &["AQ-0042", "--field", "decimalLatitude=5", "--reason", "x"],
        &["AQ-0042", "--field", "dateIdentified=2026-06-01", "--reason", "x"],
        &["AQ-0099", "--withdraw", "--reason", "x"],
        &["AQ-0042", "--reason", "x"],
        &["AQ-0042", "--withdraw", "--reason", " "],
        &["AQ-0042", "--position", "-42.65 146.22", "--within", "5", "--reason", "x"],
        &["AQ-0042", "--position", "-42.65300 146.21800", "--within", "5", "--reason", "x"],
        &["AQ-0042", "--time", "2026-05-18 10:00", "--reason", "x"],
        &["AQ-0042", "--photos", "+P2000", "--reason", "x"],
        &["AQ-0042", "--taxon", "Mycena", "--on", "2026-01-01", "--reason", "x"],
        &["AQ-0042", "--field", "name=Mycena", "--reason", "x"],
        &["--camera", "Nothing", "--day", "2026-04-18", "--clock", "+01:00:00", "--reason", "x"],
    ];
    let all: Vec<String> = refused.iter().map(|arguments| amend(&desk, arguments)).collect();
    for (arguments, reported) in refused.iter().zip(&all) {
        assert!(reported.starts_with("exit status: 2\n"), "{arguments:?}: {reported}");
    }
    insta::assert_snapshot!(all.join("\n"));
    insta::assert_snapshot!(reported(&desk, &["undo", "7"]));
}

/// The clocks of Hobart are set back at three o'clock on 5 April 2026, and forward at two on 4 October.
#[test]
fn times_that_are_not_one_moment_are_refused() {
    let desk = Desk::new();
    desk.file(
        "night/notebook.csv",
        "Number,Date,Time,Name,Latitude,Longitude,Datum\n\
         N-1,2026-04-05,04:10,Mycena,-42.61640,146.09360,WGS 84\n\
         N-2,2026-10-04,04:10,Mycena,-42.61640,146.09360,WGS 84\n",
    );
    desk.run(&["import", "night"]);
    let twice = amend(&desk, &["N-1", "--time", "02:30", "--reason", "x"]);
    let never = amend(&desk, &["N-2", "--time", "02:30", "--reason", "x"]);
    insta::assert_snapshot!(format!("{twice}{never}"));
    let once = amend(&desk, &["N-2", "--time", "03:30", "--reason", "x"]);
    assert!(once.starts_with("exit status: 0\n"), "{once}");
    let number = amend(&desk, &["N-2", "--field", "number=n 1", "--reason", "x"]);
    assert!(number.contains("is also the number of a find of 2026-04-05"), "{number}");
}

#[test]
fn number_used_on_two_days_is_asked_for() {
    let desk = desk();
    desk.file(
        "more/notebook.csv",
        "Number,Collector,Date,Time,Name\nAQ-0042,Ada Quillfeather,2026-04-19,09:00,Mycena\n",
    );
    desk.run(&["import", "more"]);
    let asked = reported(&desk, &["show", "AQ-0042"]);
    assert!(asked.starts_with("exit status: 2\n") && asked.contains("--day 2026-04-18"), "{asked}");
    let settled = reported(&desk, &["show", "AQ-0042", "--day", "2026-04-19"]);
    assert!(settled.starts_with("exit status: 0\n"), "{settled}");
}

#[test]
fn camera_clock_and_removal_are_amended_and_undone() {
    let desk = desk();
    let before = desk.run(&["finds", "--format", "csv"]).stdout;
    let clock = amend(
        &desk,
        &[
            "--camera",
            "a",
            "--day",
            "2026-04-18",
            "--clock",
            "+00:00:00",
            "--reason",
            "clock photograph",
        ],
    );
    assert!(clock.starts_with("exit status: 0\n"), "{clock}");
    assert_ne!(desk.run(&["finds", "--format", "csv"]).stdout, before);
    desk.run(&["undo"]);
    assert_eq!(desk.run(&["finds", "--format", "csv"]).stdout, before);
    insta::assert_snapshot!(reported(
        &desk,
        &["remove", "--day", "2026-04-18", "--reason", "twice"]
    ));
    assert!(desk.reported(&["finds"]).contains("No find matches"));
    desk.run(&["undo"]);
    assert_eq!(desk.run(&["finds", "--format", "csv"]).stdout, before);
    desk.run(&["remove", "--day", "2026-04-18"]);
    desk.run(&["compact"]);
    insta::assert_snapshot!(reported(&desk, &["undo"]));
}

#[test]
fn a_removal_that_is_undone_leaves_sites_and_their_names_as_they_were() {
    let desk = desk();
    desk.run(&["sites"]);
    desk.run(&["sites", "name", "1", "Upper weir"]);
    let before = desk.reported(&["sites"]);
    assert!(before.contains("Upper weir"), "{before}");
    desk.run(&["remove", "--day", "2026-04-18"]);
    desk.run(&["undo"]);
    let checked = desk.reported(&["verify"]);
    assert!(checked.contains("in order"), "{checked}");
    assert_eq!(desk.reported(&["sites"]), before);
    // sites that were made again in between wait for the next command
    desk.run(&["remove", "--day", "2026-04-18"]);
    desk.run(&["sites"]);
    desk.run(&["undo"]);
    for _ in 0..2 {
        let checked = desk.reported(&["verify"]);
        assert!(checked.contains("in order"), "{checked}");
        desk.run(&["sites"]);
    }
}

#[test]
fn listing_edited_in_a_spreadsheet_is_shown_and_applied() {
    let desk = desk();
    let listing = String::from_utf8(desk.run(&["finds", "--format", "csv"]).stdout).unwrap();
    desk.file("same.csv", &listing);
    insta::assert_snapshot!(amend(&desk, &["--from", "same.csv", "--reason", "x"]));
    let edited = listing
        .replace("Lantern Flat", "Lantern Hill")
        .replace("Galerina hypnorum", "Galerina sp.");
    desk.file("edited.csv", &edited);
    insta::assert_snapshot!(amend(&desk, &["--from", "edited.csv", "--reason", "looked again"]));
    assert_eq!(String::from_utf8(desk.run(&["finds", "--format", "csv"]).stdout).unwrap(), listing);
    amend(&desk, &["--from", "edited.csv", "--yes", "--reason", "looked again"]);
    let finds = String::from_utf8(desk.run(&["finds"]).stdout).unwrap();
    assert!(finds.contains("Lantern Hill") && finds.contains("Galerina sp."), "{finds}");
    desk.file("other.csv", "Number,Name\n1,Mycena\n");
    insta::assert_snapshot!(amend(&desk, &["--from", "other.csv", "--reason", "x"]));
    fs::write(desk.path("book.xlsx"), b"PK\x03\x04").unwrap();
    insta::assert_snapshot!(amend(&desk, &["--from", "book.xlsx", "--reason", "x"]));
}

#[test]
fn another_store_is_merged_once() {
    let desk = desk();
    let later = samples().join("2026-05-02-thimble-spur");
    desk.run(&["import", &later.to_string_lossy(), "--store", "other.gpkg"]);
    amend(&desk, &["AQ-0042", "--field", "host=Acacia", "--reason", "seen"]);
    insta::assert_snapshot!(reported(&desk, &["merge", "other.gpkg"]));
    insta::assert_snapshot!(reported(&desk, &["merge", "other.gpkg"]));
    insta::assert_snapshot!(reported(&desk, &["merge", "trug.gpkg"]));
    assert!(reported(&desk, &["verify"]).starts_with("exit status: 0\n"));
}

/// A workbook as a spreadsheet saves the listing: columns in another order, one dropped, one added, numbers
/// and times as such, some cells edited.
fn edited_workbook(records: &str) -> Vec<u8> {
    let mut book = Workbook::new();
    book.add_worksheet().write(0, 0, "About this file").unwrap();
    let page = book.add_worksheet();
    page.set_name("Finds").unwrap();
    let clock = Format::new().set_num_format("hh:mm");
    let date = Format::new().set_num_format("dd/mm/yyyy");
    let mut reader = csv::Reader::from_reader(records.as_bytes());
    let headings = reader.headers().unwrap().clone();
    let kept: Vec<usize> =
        (0..headings.len()).rev().filter(|at| &headings[*at] != "habitat").collect();
    for (column, at) in (0_u16..).zip(&kept) {
        page.write(0, column, &headings[*at]).unwrap();
    }
    let added = u16::try_from(kept.len()).unwrap();
    page.write(0, added, "Wind").unwrap();
    for (line, row) in (1_u32..).zip(reader.records()) {
        let row = row.unwrap();
        for (column, at) in (0_u16..).zip(&kept) {
            let cell = &row[*at];
            let edited = match (&headings[*at], line) {
                ("host", 1) => "Eucalyptus sp.",
                ("name", 2) => "Mycena cf. interrupta",
                ("place", 3) => "",
                _ => cell,
            };
            if let Ok(time) = edited.parse::<jiff::civil::Time>() {
                let minute = if line == 4 { 7 } else { time.minute().unsigned_abs() };
                let time =
                    ExcelDateTime::from_hms(u16::from(time.hour().unsigned_abs()), minute, 0);
                page.write_with_format(line, column, time.unwrap(), &clock).unwrap();
            } else if let Ok(day) = edited.parse::<jiff::civil::Date>() {
                let (year, month, day) = (day.year().unsigned_abs(), day.month(), day.day());
                let day = ExcelDateTime::from_ymd(year, month.unsigned_abs(), day.unsigned_abs());
                page.write_with_format(line, column, day.unwrap(), &date).unwrap();
            } else if let Ok(number) = edited.parse::<f64>() {
                page.write(line, column, number).unwrap();
            } else if !edited.is_empty() {
                page.write(line, column, edited).unwrap();
            }
        }
        if line == 5 {
            page.write(line, added, "strong").unwrap();
        }
    }
    book.save_to_buffer().unwrap()
}

#[test]
fn workbook_edited_in_a_spreadsheet_is_shown_and_applied() {
    let desk = desk();
    let records = String::from_utf8(desk.run(&["finds", "--format", "records"]).stdout).unwrap();
    desk.run(&["finds", "--format", "xlsx", "--out", "same.xlsx"]);
    for same in ["same.xlsx", "same.csv"] {
        desk.file("same.csv", &records);
        let unchanged = amend(&desk, &["--from", same, "--reason", "x"]);
        assert!(unchanged.contains("No differences"), "{unchanged}");
    }
    fs::write(desk.path("edited.xlsx"), edited_workbook(&records)).unwrap();
    insta::assert_snapshot!(amend(&desk, &["--from", "edited.xlsx", "--reason", "looked again"]));
    amend(&desk, &["--from", "edited.xlsx", "--yes", "--reason", "looked again"]);
    let again = amend(&desk, &["--from", "edited.xlsx", "--reason", "looked again"]);
    assert!(again.contains("No differences"), "{again}");
    // the column that identifies finds was lost
    let lost =
        "number,date,host\nAQ-0042,18/04/2026,Acacia\nAQ-9999,2026-04-18,x\nAQ-0043,04/05/2026,x\n";
    desk.file("lost.csv", lost);
    insta::assert_snapshot!(amend(&desk, &["--from", "lost.csv", "--reason", "x"]));
}
