//! Notebooks as people keep them: elevations without a unit, several columns with one meaning, texts that are
//! kept as typed. Whole commands, through the store and back.

use insta::assert_snapshot;

use crate::run::Desk;

/// A walk of half an hour that climbs from a height by a metre a minute, in Colorado (west) or Tasmania.
fn walk(desk: &Desk, folder: &str, (latitude, longitude): (f64, f64), height: f64) {
    let points: String = (0..30)
        .map(|minute| {
            format!(
                "<trkpt lat=\"{:.6}\" lon=\"{longitude:.6}\"><ele>{}</ele><time>2026-09-12T16:{minute:02}:00Z</time></trkpt>",
                latitude + f64::from(minute) * 1e-4,
                height + f64::from(minute),
            )
        })
        .collect();
    let gpx =
        format!("<gpx version=\"1.1\" creator=\"t\"><trk><trkseg>{points}</trkseg></trk></gpx>");
    desk.file(&format!("{folder}/walk.gpx"), gpx);
}

const COLORADO: (f64, f64) = (39.7, -105.6);
const TASMANIA: (f64, f64) = (-42.5, 146.3);

/// The elevations of a notebook in a deposit, in metres, with what was typed.
fn elevations(
    desk: &Desk,
    folder: &str,
    cells: [&str; 3],
) -> (String, Vec<(String, String, String)>) {
    let rows: String = (1..)
        .zip(cells)
        .map(|(number, cell)| format!("{number};2026-09-12;16:1{number}Z;Mycena sp.;{cell}\n"))
        .collect();
    desk.file(&format!("{folder}/notes.csv"), format!("Number;Date;Time;Name;Elevation\n{rows}"));
    let store = format!("{folder}.gpkg");
    let said = desk.reported(&["import", folder, "--store", &store, "--collector", "T. Hale"]);
    let output = desk.run(&["finds", "--store", &store, "--format", "csv"]);
    let mut reader = csv::Reader::from_reader(output.stdout.as_slice());
    let headings = reader.headers().unwrap().clone();
    let kept = reader.records().map(|row| {
        let row = row.unwrap();
        let of = |term: &str| {
            let place = headings.iter().position(|own| own == term).unwrap();
            row[place].to_owned()
        };
        (of("minimumElevationInMeters"), of("maximumElevationInMeters"), of("verbatimElevation"))
    });
    (said, kept.collect())
}

fn row(low: &str, high: &str, typed: &str) -> (String, String, String) {
    (low.into(), high.into(), typed.into())
}

#[test]
fn elevations_in_feet_are_recognised_by_the_track() {
    let desk = Desk::new();
    walk(&desk, "us", COLORADO, 2900.0);
    let (said, kept) = elevations(&desk, "us", ["9550", "9,560", "9550-9600"]);
    assert_snapshot!("elevations_in_feet", said);
    let expected = [
        row("2910.84", "2910.84", "9550"),
        row("2913.888", "2913.888", "9,560"),
        row("2910.84", "2926.08", "9550-9600"),
    ];
    assert_eq!(kept, expected);
}

#[test]
fn elevations_that_the_track_cannot_decide_are_refused_and_kept_as_typed() {
    let desk = Desk::new();
    walk(&desk, "low", (37.8, -122.5), 20.0);
    let (said, kept) = elevations(&desk, "low", ["25", "30", "30-35"]);
    assert_snapshot!("elevations_undecided", said);
    assert_eq!(kept, [row("", "", "25"), row("", "", "30"), row("", "", "30-35")]);
}

#[test]
fn metres_stay_metres_where_the_track_agrees() {
    let desk = Desk::new();
    walk(&desk, "tas", TASMANIA, 440.0);
    let (said, kept) = elevations(&desk, "tas", ["450", "ca. 455", "450-470"]);
    assert!(!said.contains("elevation"), "{said}");
    let expected =
        [row("450", "450", "450"), row("455", "455", "ca. 455"), row("450", "470", "450-470")];
    assert_eq!(kept, expected);
}

#[test]
fn verbatim_columns_are_written_as_they_were_typed() {
    let desk = Desk::new();
    let terms = [
        "verbatimEventDate",
        "verbatimIdentification",
        "verbatimLocality",
        "verbatimCoordinates",
        "verbatimSRS",
        "verbatimElevation",
    ];
    let typed =
        ["3.v.26, p.m.", "blue mycena", "by the log", "55G DN 3889 9306", "AGD66", "1380-1480 ft"];
    desk.file(
        "dwc/notes.csv",
        format!(
            "recordNumber;eventDate;scientificName;locality;decimalLatitude;decimalLongitude;geodeticDatum;\
             minimumElevationInMeters;maximumElevationInMeters;{}\n\
             A1;2026-05-03;Mycena interrupta;Fern gully;-42.5123;146.2567;WGS84;420;450;{}\n",
            terms.join(";"),
            typed.join(";")
        ),
    );
    let said = desk.reported(&["import", "dwc", "--store", "dwc.gpkg", "--zone", "+10:00"]);
    assert_snapshot!("verbatim_columns", said);
    let object: serde_json::Value = serde_json::from_slice(
        &desk.run(&["finds", "--store", "dwc.gpkg", "--format", "geojson"]).stdout,
    )
    .unwrap();
    let properties = &object["features"][0]["properties"];
    for (term, typed) in terms.iter().zip(typed) {
        // locality is a column that people record; its verbatim form is deposited, not listed
        if *term != "verbatimLocality" {
            assert_eq!(properties[term], typed, "{term}: {properties:#}");
        }
    }
    assert_eq!(properties["locality"], "Fern gully");
    assert_eq!(properties["minimumElevationInMeters"], 420.0);
    assert_eq!(properties["maximumElevationInMeters"], 450.0);
    // and through the table that an import reads
    let table = desk.run(&["finds", "--store", "dwc.gpkg", "--format", "records"]).stdout;
    desk.file("again/notes.csv", table.clone());
    desk.reported(&["import", "again", "--store", "again.gpkg", "--zone", "+10:00"]);
    let again = desk.run(&["finds", "--store", "again.gpkg", "--format", "records"]).stdout;
    assert_eq!(String::from_utf8(again).unwrap(), String::from_utf8(table).unwrap());
}

#[test]
fn columns_with_one_meaning_are_named_and_none_is_lost() {
    let desk = Desk::new();
    desk.file(
        "de/notizen.csv",
        "Nr;Datum;Uhrzeit;Fundort;Art;Farbe;Hutfarbe;Bestimmt von;Datum\n\
         1;12.9.2026;gegen 10 Uhr;Tannwald;Russula vesca;braun;rosa;M. Kern;20.9.2026\n\
         2;12.9.2026;ca. 10.40;Tannwald;Russula sp.;wei\u{df};;M. Kern;21.9.2026\n",
    );
    assert_snapshot!(
        "columns_with_one_meaning",
        desk.reported(&["import", "de", "--store", "de.gpkg", "--zone", "Europe/Berlin"])
    );
    let table = desk.run(&["finds", "--store", "de.gpkg", "--format", "records"]).stdout;
    let table = String::from_utf8(table).unwrap();
    for text in ["braun", "rosa", "20.9.2026", "2026-09-12", "gegen 10 Uhr"] {
        assert!(table.contains(text), "{text}: {table}");
    }
}

#[test]
fn one_cause_is_one_message() {
    let desk = Desk::new();
    let rows: String = (1..=12).map(|n| format!("{n};2026-05-03;by hut {n};x;y\n")).collect();
    desk.file("many/notes.csv", format!("Number;Date;Coordinates\n{rows}"));
    assert_snapshot!("one_cause", desk.reported(&["check", "many", "--zone", "Europe/Berlin"]));
}

#[test]
fn records_dated_in_the_future_are_noted_once() {
    let desk = Desk::new();
    let year = jiff::ZonedDateTime::now().date().year() + 2;
    let rows = format!(
        "Q-1,{year}-05-02,Mycena sp.\nQ-2,{year}-05-02,Galerina sp.\nQ-3,2026-05-02,Mycena sp.\n"
    );
    desk.file("notes.csv", format!("number,date,name\n{rows}"));
    let reported = desk.reported(&["import", "notes.csv", "--dry-run"]);
    let expected = format!("2 records are dated {year}-05-02, in the future");
    assert!(reported.contains(&expected), "{reported}");
    assert_eq!(reported.matches("in the future").count(), 1, "{reported}");
}

/// A tile of 3 seconds of arc whose elevation rises by a metre with each column from the west.
fn tile() -> Vec<u8> {
    let post = |place: u32| i16::try_from(place % 1_201).unwrap().to_be_bytes();
    (0..1_201 * 1_201).flat_map(post).collect()
}

#[test]
fn elevations_that_nobody_wrote_are_those_of_the_ground() {
    let desk = Desk::new();
    desk.file("S43E146.hgt", tile()).file(
        "notes.csv",
        "number,date,name,latitude,longitude,datum,uncertainty,elevation\n\
         Q-1,2026-05-02,Mycena sp.,-42.5000,146.5000,WGS84,10,\n\
         Q-2,2026-05-02,Galerina sp.,-42.5010,146.5000,WGS84,10,612 m\n\
         Q-3,2026-05-02,Galerina sp.,-44.5010,146.5000,WGS84,10,\n",
    );
    desk.run(&["import", "notes.csv", "--collector", "T. Hale", "--elevation", "S43E146.hgt"]);
    let elevation = |number: &str| {
        let shown = desk.reported(&["show", number]);
        shown.lines().find(|line| line.starts_with("  elevation")).unwrap_or_default().to_owned()
    };
    let of_ground = "600 m within 19 m at 95 % from the elevation model S43E146.hgt";
    assert!(elevation("Q-1").ends_with(of_ground), "{}", elevation("Q-1"));
    assert!(elevation("Q-2").ends_with("612 m (as written)"), "{}", elevation("Q-2"));
    assert_eq!(elevation("Q-3"), "");
    let deposited = |coordinates: &str| {
        let arguments = ["--title", "Finds", "--licence", "cc0", "--coordinates", coordinates];
        let out = format!("{coordinates}.zip");
        desk.run(&[&["deposit", "--out", &out][..], &arguments].concat());
        let file = std::fs::File::open(desk.path(&out)).unwrap();
        let mut archive = zip::ZipArchive::new(file).unwrap();
        let mut reader = csv::Reader::from_reader(archive.by_name("occurrence.csv").unwrap());
        let headings = reader.headers().unwrap().clone();
        let place = |term: &str| headings.iter().position(|own| own == term).unwrap();
        let terms = ["minimumElevationInMeters", "maximumElevationInMeters", "georeferenceRemarks"];
        let row =
            reader.records().map(Result::unwrap).find(|row| &row[place("recordNumber")] == "Q-1");
        let row = row.unwrap();
        terms.map(|term| row[place(term)].to_owned())
    };
    let [low, high, remarks] = deposited("exact-throughout");
    assert_eq!((low.as_str(), high.as_str()), ("580", "620"));
    assert!(remarks.contains(&format!("elevation {of_ground}")), "{remarks}");
    // where the place is withheld, its elevation is
    let [low, high, remarks] = deposited("generalised");
    assert_eq!((low.as_str(), high.as_str(), remarks.contains("elevation")), ("", "", false));
    // a tile that is not there any more is reported
    std::fs::remove_file(desk.path("S43E146.hgt")).unwrap();
    let shown = desk.reported(&["show", "Q-1"]);
    assert!(shown.contains("S43E146.hgt is not used"), "{shown}");
}

#[test]
fn a_collector_and_a_day_are_found_as_people_write_them() {
    let desk = Desk::new();
    desk.file(
        "day/notes.csv",
        "Number,Date,Time,Name,Host,Collector\n1,2026-05-03,9:15,Mycena,Fagus,Johann M\u{fc}ller\n\
         2,2026-05-04,9:15,Russula,Fagus,J. M\u{fc}ller\n3,2026-05-04,9:30,Boletus,Fagus,Karl M\u{fc}ller\n",
    );
    desk.reported(&["import", "day", "--zone", "UTC", "--store", "a.gpkg"]);
    let found = |more: &[&str]| -> Vec<String> {
        let all = [&["finds", "--store", "a.gpkg", "--format", "csv"], more].concat();
        let said = desk.reported(&all);
        ["Mycena", "Russula", "Boletus"]
            .iter()
            .filter(|name| said.contains(**name))
            .map(|name| (*name).to_owned())
            .collect()
    };
    for name in ["Johann Muller", "j. muller", "JM", "M\u{fc}ller, Johann"] {
        assert_eq!(found(&["--collector", name]), ["Mycena", "Russula"], "{name}");
    }
    assert_eq!(found(&["--from", "4.5.2026"]), ["Russula", "Boletus"]);
    let open = desk.reported(&["finds", "--store", "a.gpkg", "--from", "4/5/2026"]);
    assert!(open.contains("2026-05-04 or 2026-04-05"), "{open}");
}
