//! Measures time and memory of reading a workbook of field records, against `pandas.read_excel` with
//! openpyxl on the same file in the same run, and against `calamine` alone, which only unpacks cells.
//!
//! `cargo bench --bench workbook [-- --records 100000]`; the Python is `.venv/bin/python` or `PYTHON`.

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use calamine::{Reader, Xlsx, open_workbook};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use trug::ingest::record;

const PANDAS: &str = "
import sys, time, resource, pandas
start = time.perf_counter()
table = pandas.read_excel(sys.argv[1])
seconds = time.perf_counter() - start
print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, len(table))
";

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(place) = arguments.iter().position(|each| each == "--peak") {
        let file = record::read(Path::new(&arguments[place + 1])).unwrap();
        black_box(&file);
        println!("{}", peak_memory_kib().unwrap_or(0));
        return;
    }
    let wanted = arguments.iter().position(|each| each == "--records");
    let records: u32 = wanted.map_or(100_000, |place| arguments[place + 1].parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("finds.xlsx");
    write(&path, records);
    let size = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
    println!("{records} records of 12 columns, {size:.1} MB, best of three\n");
    let trug = best(|| record::read(&path).unwrap().records.len(), records);
    let bare = best(|| bare(&path), records);
    println!("trug                 {trug:>7.3} s, peak {:.0} MB", peak_of(&path));
    println!("calamine, cells only {bare:>7.3} s");
    match pandas(&path) {
        Some((seconds, peak)) => println!(
            "pandas.read_excel    {seconds:>7.3} s, peak {peak:.0} MB, {:.1} times trug",
            seconds / trug
        ),
        None => println!("pandas.read_excel    not installed"),
    }
}

fn write(path: &Path, records: u32) {
    let mut book = Workbook::new();
    let (date, time) =
        (Format::new().set_num_format("yyyy-mm-dd"), Format::new().set_num_format("hh:mm"));
    let sheet = book.add_worksheet();
    let headings = [
        "Number",
        "Date",
        "Time",
        "Place",
        "Name",
        "Host",
        "Substrate",
        "Latitude",
        "Longitude",
        "Datum",
        "Photos",
        "Notes",
    ];
    sheet.write_row(0, 0, headings).unwrap();
    for row in 1..=records {
        let day =
            ExcelDateTime::from_ymd(2026, 1 + (row % 12) as u8, 1 + (row % 28) as u8).unwrap();
        let at = ExcelDateTime::from_hms((row % 24) as u16, (row % 60) as u8, 0).unwrap();
        sheet.write(row, 0, row).unwrap();
        sheet.write_with_format(row, 1, &day, &date).unwrap();
        sheet.write_with_format(row, 2, &at, &time).unwrap();
        sheet.write(row, 3, format!("Gully {}", row % 300)).unwrap();
        sheet.write(row, 4, format!("Mycena no. {}", row % 700)).unwrap();
        sheet.write(row, 5, "Nothofagus").unwrap();
        sheet.write(row, 6, "fallen wood").unwrap();
        sheet.write(row, 7, -42.0 - f64::from(row) * 1e-5).unwrap();
        sheet.write(row, 8, 146.0 + f64::from(row) * 1e-5).unwrap();
        sheet.write(row, 9, "WGS84").unwrap();
        sheet.write(row, 10, format!("P{row:06}")).unwrap();
        sheet.write(row, 11, format!("note {row}")).unwrap();
    }
    book.save(path).unwrap();
}

fn best(read: impl Fn() -> usize, records: u32) -> f64 {
    let runs = (0..3).map(|_| {
        let start = Instant::now();
        assert_eq!(read(), records as usize);
        start.elapsed().as_secs_f64()
    });
    runs.fold(f64::INFINITY, f64::min)
}

fn bare(path: &Path) -> usize {
    let mut book: Xlsx<_> = open_workbook(path).unwrap();
    let range = book.worksheet_range_at(0).unwrap().unwrap();
    black_box(range.height() - 1)
}

fn pandas(path: &Path) -> Option<(f64, f64)> {
    let python = std::env::var("PYTHON").unwrap_or_else(|_| ".venv/bin/python".into());
    let output = Command::new(python).args(["-c", PANDAS]).arg(path).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let mut values = text.split_whitespace().map(|value| value.parse::<f64>().ok());
    Some((values.next()??, values.next()?? / 1000.0))
}

fn peak_of(path: &Path) -> f64 {
    let program = std::env::current_exe().unwrap();
    let output = Command::new(program).arg("--peak").arg(path).output().unwrap();
    String::from_utf8_lossy(&output.stdout).trim().parse::<f64>().unwrap_or(0.0) / 1000.0
}

/// The most memory this process has used, from the kernel.
fn peak_memory_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
