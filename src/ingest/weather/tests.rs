use std::fmt::Write as _;
use std::fs;

use jiff::civil::date;

use super::*;
use crate::model::{WeatherElement, WeatherValue};

fn read_with(name: &str, text: &str, options: &Options) -> Result<WeatherFile> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    fs::write(&path, text).unwrap();
    read(&path, options)
}

fn read_text(name: &str, text: &str) -> WeatherFile {
    read_with(name, text, &Options::default()).unwrap()
}

#[allow(clippy::option_option, reason = "stated to be missing, or not stated")]
fn of(file: &WeatherFile, day: jiff::civil::Date, element: &WeatherElement) -> Option<Option<f64>> {
    let is_it = |v: &&WeatherValue| v.date == day && v.element == *element;
    file.series[0].values.iter().find(is_it).map(|value| value.value)
}

/// One line of `.dly`: value and flags of the first days, the rest missing.
fn month(code: &str, month: &str, element: &str, days: &[(i32, &str)]) -> String {
    let mut line = format!("{code}{month}{element}");
    for day in 0..31 {
        let (value, flags) = days.get(day).copied().unwrap_or((-9999, "   "));
        let _ = write!(line, "{value:>5}{flags}");
    }
    line + "\n"
}

#[test]
fn months_of_elements_are_read_in_tenths_and_flags_are_respected() {
    let text = month(
        "XX000000001",
        "202604",
        "PRCP",
        &[(123, "  a"), (0, "T a"), (55, " Ga"), (0, "P a")],
    ) + &month("XX000000001", "202604", "TMAX", &[(-15, "  a")])
        + "no month\n";
    let file = read_text("a.dly", &text);
    let rain = |day| of(&file, date(2026, 4, day), &WeatherElement::Rain);
    assert_eq!(rain(1), Some(Some(12.3)));
    assert_eq!(rain(2), Some(Some(0.0)), "a trace");
    assert_eq!(rain(3), Some(None), "a failed check");
    assert_eq!(rain(4), Some(None), "presumed, not measured");
    assert_eq!(rain(5), Some(None), "missing is stated, not zero");
    let days = file.series[0].values.iter().filter(|v| v.element == WeatherElement::Rain).count();
    assert_eq!(days, 30, "April has no 31st");
    assert_eq!(of(&file, date(2026, 4, 1), &WeatherElement::Maximum), Some(Some(-1.5)));
    assert!(file.notes.contains(&WeatherNote::Flagged { flag: "G".to_owned(), values: 1 }));
    assert!(file.notes.contains(&WeatherNote::PresumedZero { values: 1 }));
    assert!(matches!(&file.notes[..], [.., WeatherNote::Unreadable { lines: 1, line: 3, .. }]));
}

#[test]
fn one_value_a_line_is_read_with_and_without_headings() {
    let rows = "XX000000001,20260401,PRCP,123,,,a,\nXX000000001,20260401,PRCP,123,,,a,\n\
                XX000000001,20260402,PRCP,10,,,a,\nXX000000001,20260402,PRCP,20,,,a,\n\
                XX000000001,20260403,PRCP,20,,X,a,0900\n";
    for head in ["", "ID,DATE,ELEMENT,VALUE,M,Q,S,TIME\n"] {
        let file = read_text("a.csv", &format!("{head}{rows}"));
        let rain = |day| of(&file, date(2026, 4, day), &WeatherElement::Rain);
        assert_eq!((rain(1), rain(2), rain(3)), (Some(Some(12.3)), Some(None), Some(None)));
        assert!(file.notes.contains(&WeatherNote::Repeated { values: 1 }));
        assert!(
            file.notes.iter().any(|n| matches!(n, WeatherNote::Contradictory { values: 1, .. }))
        );
    }
}

fn wide(rows: &[(f64, f64, f64)], decimals: usize) -> String {
    let mut text =
        "\"STATION\",\"DATE\",\"LATITUDE\",\"LONGITUDE\",\"ELEVATION\",\"NAME\",\"PRCP\",\
                    \"PRCP_ATTRIBUTES\",\"TMAX\",\"TMIN\"\n"
            .to_owned();
    for (day, (rain, high, low)) in rows.iter().enumerate() {
        let date = date(2026, 1, 1) + jiff::Span::new().days(i64::try_from(day).unwrap());
        let _ = writeln!(
            text,
            "\"XX000000001\",\"{date}\",\"-42.6\",\"146.1\",\"310.0\",\"INVENTED, TA\",\"{rain:.decimals$}\",\
             \",,a\",\"{high:.decimals$}\",\"{low:.decimals$}\""
        );
    }
    text
}

#[test]
fn units_of_a_day_a_line_are_those_that_all_values_allow() {
    let season = |day: i32| f64::from(day) / 3.0;
    let tenths: Vec<_> = (0..90)
        .map(|d| (12.0, (150.0 + 10.0 * season(d)).round(), (40.0 + 5.0 * season(d)).round()))
        .collect();
    let file = read_text("a.csv", &wide(&tenths, 0));
    assert!(file.form.contains("tenths"), "{}", file.form);
    assert_eq!(of(&file, date(2026, 1, 1), &WeatherElement::Maximum), Some(Some(15.0)));
    assert_eq!(file.stations[0].elevation, Some(Metres(310.0)));
    assert_eq!(file.stations[0].name.as_deref(), Some("INVENTED, TA"));
    let metric: Vec<_> =
        (0..90).map(|d| (1.2, 15.1 + 0.5 * season(d), 4.1 + 0.3 * season(d))).collect();
    let file = read_text("a.csv", &wide(&metric, 1));
    assert_eq!(of(&file, date(2026, 1, 1), &WeatherElement::Rain), Some(Some(1.2)));
    // whole degrees and hundredths of an inch
    let mut text = wide(&[(0.0, 70.0, 50.0); 3], 0);
    text = text.replacen("\"0\"", "\"0.47\"", 1);
    let refused = file_error(&text);
    assert!(refused.contains("units") || refused.is_empty(), "{refused}");
    let options = Options { units: Some(Units::Inches), ..Options::default() };
    let inches = read_with("a.csv", &text, &options).unwrap();
    assert_eq!(of(&inches, date(2026, 1, 1), &WeatherElement::Rain), Some(Some(0.47 * 25.4)));
}

fn file_error(text: &str) -> String {
    read_with("a.csv", text, &Options::default())
        .map_or_else(|error| error.to_string(), |_| String::new())
}

#[test]
fn undecidable_units_are_asked() {
    // 5 to 15, whole numbers: tenths or degrees
    let rows: Vec<_> = (0..20).map(|d| (f64::from(d), 10.0 + f64::from(d % 6), 5.0)).collect();
    let error = file_error(&wide(&rows, 0));
    assert!(error.contains("cannot be determined") && error.contains("--units"), "{error}");
}

#[test]
fn a_table_in_words_is_read_and_its_gaps_stay_gaps() {
    let text = "date;rain mm;max temp \u{b0}F;wind\n2026-05-01;3,5;50;4\n2026-05-02;;212;4\n\
                2026-05-03;tr;;4\n02/05/2026;1;50;4\n2026-05-04;-1;50;4\n";
    let options = Options { station: Some("Garden".to_owned()), ..Options::default() };
    let file = read_with("garden.csv", text, &options).unwrap();
    assert_eq!(file.series[0].code, "Garden");
    let rain = |day| of(&file, date(2026, 5, day), &WeatherElement::Rain);
    assert_eq!(rain(1), Some(Some(3.5)));
    assert_eq!((rain(2), rain(3), rain(4)), (Some(None), Some(Some(0.0)), Some(None)));
    assert_eq!(of(&file, date(2026, 5, 1), &WeatherElement::Maximum), Some(Some(10.0)));
    assert_eq!(of(&file, date(2026, 5, 2), &WeatherElement::Maximum), Some(None), "100 degrees");
    assert!(file.notes.contains(&WeatherNote::Ignored { columns: vec!["wind".to_owned()] }));
    assert!(
        file.notes.iter().any(|n| matches!(n, WeatherNote::Unreadable { lines: 1, line: 5, .. }))
    );
}

#[test]
fn headings_without_a_unit_are_refused_and_can_be_explained() {
    let text = "date,rain,RR\n2026-05-01,3.5,1\n";
    let error = file_error(text);
    assert!(error.contains("\"rain\": it states no unit"), "{error}");
    let options =
        Options { columns: vec![("rain".to_owned(), "rain mm".to_owned())], ..Options::default() };
    assert_eq!(read_with("a.csv", text, &options).unwrap().series[0].values.len(), 1);
    let wrong =
        Options { columns: vec![("x".to_owned(), "rain mm".to_owned())], ..Options::default() };
    assert!(
        read_with("a.csv", text, &wrong).unwrap_err().to_string().contains("no column is headed")
    );
    assert!(file_error("date,rain mm\n2026-05-01T06:00,1\n").contains("daily values"));
    assert!(file_error("date,rain mm,precipitation mm\n2026-05-01,1,1\n").contains("same element"));
}

#[test]
fn stations_are_listed() {
    let text = "XX000000001 -42.6000  146.1000  310.0    NETTLEWICK                    \n";
    let file = read_text("stations.txt", text);
    assert_eq!(file.stations[0].name.as_deref(), Some("NETTLEWICK"));
    assert_eq!(file.stations[0].elevation, Some(Metres(310.0)));
    let csv =
        read_text("stations.csv", "id,latitude,longitude,elevation,name\nG1,-42.6,146.1,,Garden\n");
    assert_eq!((csv.stations[0].code.as_str(), csv.stations[0].elevation), ("G1", None));
}

#[test]
fn what_is_not_weather_is_refused() {
    for text in ["", "\n\n", "number;name\n1;Mycena\n", "\u{0}\u{1}\u{2}"] {
        assert!(!file_error(text).is_empty(), "{text:?}");
    }
}

#[test]
fn reversed_temperatures_are_both_set_aside() {
    let text = "date,max temp C,min temp C\n2026-05-01,3,9\n2026-05-02,9,3\n";
    let file = read_text("a.csv", text);
    assert_eq!(of(&file, date(2026, 5, 1), &WeatherElement::Maximum), Some(None));
    assert_eq!(of(&file, date(2026, 5, 2), &WeatherElement::Maximum), Some(Some(9.0)));
    assert!(file.notes.contains(&WeatherNote::Reversed { days: 1, date: date(2026, 5, 1) }));
}

/// What remains of a column in a wrong unit looks like weather: tenths of cold days, Fahrenheit of winters.
#[test]
fn a_column_in_another_unit_than_its_heading_states_is_refused() {
    let table = |heading: &str, value: &dyn Fn(i32) -> f64| {
        let mut rows = String::new();
        for day in 0..300 {
            let date = date(2025, 1, 1).checked_add(jiff::Span::new().days(day)).unwrap();
            writeln!(rows, "{date},{}", value(day)).unwrap();
        }
        read_with("t.csv", &format!("date,{heading}\n{rows}"), &Options::default())
    };
    let season = |day: i32| 14.0 - 12.0 * (f64::from(day) * 0.017).cos();
    assert!(table("max temp C", &season).is_ok());
    for (heading, wrong) in [
        ("max temp C", &(|day| 10.0 * season(day)) as &dyn Fn(i32) -> f64),
        ("max temp C", &|day| 1.8 * season(day) + 32.0),
        ("min temp C", &|day| 10.0 * season(day)),
    ] {
        let error = table(heading, wrong).unwrap_err();
        let text = error.to_string();
        assert!(text.contains("do not fit the unit of its heading"), "{text}");
    }
    // single slips lose themselves alone
    let slips = |day| if day % 100 == 0 { 99.0 } else { season(day) };
    let file = table("max temp C", &slips).unwrap();
    assert!(file.notes.iter().any(|n| matches!(n, WeatherNote::Implausible { values: 3, .. })));
}

#[test]
fn stated_units_that_do_not_fit_are_refused() {
    let tenths: Vec<_> =
        (0..200).map(|day| (20.0, 150.0 + f64::from(day), 40.0 + f64::from(day) / 2.0)).collect();
    let options = |units| Options { units: Some(units), ..Options::default() };
    let text = wide(&tenths, 0);
    assert!(read_with("a.csv", &text, &options(Units::Tenths)).is_ok());
    for wrong in [Units::Inches, Units::Metric] {
        let error = read_with("a.csv", &text, &options(wrong)).unwrap_err();
        assert!(error.to_string().contains("do not fit --units"), "{error}");
    }
}

#[test]
fn days_in_the_future_are_set_aside() {
    let options = Options { latest: Some(date(2026, 5, 2)), ..Options::default() };
    let text = "date,rain mm\n2026-05-01,1\n2026-05-02,2\n2099-01-01,3\n";
    let file = read_with("a.csv", text, &options).unwrap();
    assert_eq!(file.series[0].values.len(), 2);
    assert!(file.notes.contains(&WeatherNote::Future { values: 1, date: date(2099, 1, 1) }));
}
