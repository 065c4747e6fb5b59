//! Packs the fixes of a file and the points of a track into blobs. Fixes without loss; smoothed
//! positions to a tenth of a millimetre, radii and elevations to a millimetre. Refuses a blob of
//! another format. Layer: `store`.

use jiff::Timestamp;

use super::columns::{ColumnReader, ColumnWriter, content};
use crate::model::{Activity, Fix, FixKind, JudgedFix, TrackPoint, Verdict};
use crate::units::{GpsHeight, LatLon, Metres, Radius95};

/// The first byte of a blob: which form follows.
const FORM: u128 = 1;
/// The most rows.
const MOST_ROWS: usize = 20_000_000;
/// Constant columns take a few bytes at any length. The rows accepted for any blob: more than
/// eleven days at 1 Hz, and beyond them so many per byte, so that a false count cannot exhaust
/// memory.
const ROWS_OF_ANY_BLOB: usize = 1_000_000;
const ROWS_OF_A_BYTE: usize = 64;

/// New ones go to the end, since stores contain indices of this list.
const VERDICTS: [Verdict; 12] = [
    Verdict::Kept,
    Verdict::Jump,
    Verdict::Spike,
    Verdict::Frozen,
    Verdict::Duplicate,
    Verdict::Backward,
    Verdict::StartUp,
    Verdict::ClockStep,
    Verdict::NoFix,
    Verdict::Untimed,
    Verdict::SecondReceiver,
    Verdict::StrayTime,
];
const KINDS: [FixKind; 5] =
    [FixKind::None, FixKind::TwoD, FixKind::ThreeD, FixKind::Dgps, FixKind::Pps];
const ACTIVITIES: [Activity; 3] = [Activity::Walking, Activity::Searching, Activity::Stationary];

/// The place of a choice in its list, counted from one; zero is "not stated".
fn code<T: PartialEq>(list: &[T], choice: Option<&T>) -> i128 {
    let place = choice.and_then(|choice| list.iter().position(|entry| entry == choice));
    place.map_or(0, |place| i128::try_from(place).unwrap_or(0) + 1)
}

fn choice<T: Copy>(list: &[T], code: i128) -> Option<T> {
    list.get(usize::try_from(code).ok()?.checked_sub(1)?).copied()
}

/// The fixes of one file with their places in the day.
pub(super) fn fixes(rows: &[(usize, &JudgedFix)]) -> Vec<u8> {
    let mut writer = ColumnWriter::default();
    begin(&mut writer, rows.len());
    let integers = |of: fn(&(usize, &JudgedFix)) -> i128| rows.iter().map(of).collect::<Vec<_>>();
    writer.integers(&integers(|(place, _)| i128::try_from(*place).unwrap_or(0)));
    positions(&mut writer, rows.iter().map(|(_, row)| row.fix.at));
    optional(
        &mut writer,
        rows,
        |row| row.fix.time,
        |writer, times| {
            writer.integers(&times.iter().map(|time| time.as_nanosecond()).collect::<Vec<_>>());
        },
    );
    optional(
        &mut writer,
        rows,
        |row| row.fix.height,
        |writer, heights| {
            writer.decimals(&heights.iter().map(|height| height.0.0).collect::<Vec<_>>());
        },
    );
    for of in [dilution_horizontal, dilution_vertical, dilution_position] {
        optional(&mut writer, rows, of, |writer, numbers| writer.short_decimals(&numbers));
    }
    optional(
        &mut writer,
        rows,
        |row| row.fix.satellites,
        |writer, numbers| {
            writer.integers(&numbers.into_iter().map(i128::from).collect::<Vec<_>>());
        },
    );
    writer.integers(&integers(|(_, row)| code(&KINDS, row.fix.kind.as_ref())));
    writer.integers(&integers(|(_, row)| i128::from(row.fix.line)));
    writer.integers(&integers(|(_, row)| i128::from(row.segment)));
    writer.integers(&integers(|(_, row)| code(&VERDICTS, Some(&row.verdict))));
    writer.finish()
}

fn dilution_horizontal(row: &JudgedFix) -> Option<f32> {
    row.fix.hdop
}

fn dilution_vertical(row: &JudgedFix) -> Option<f32> {
    row.fix.vdop
}

fn dilution_position(row: &JudgedFix) -> Option<f32> {
    row.fix.pdop
}

/// Puts the number of the form and of the rows in front.
fn begin(writer: &mut ColumnWriter, rows: usize) {
    writer.unsigned(FORM);
    writer.unsigned(rows as u128);
}

fn positions(writer: &mut ColumnWriter, places: impl Iterator<Item = LatLon> + Clone) {
    writer.decimals(&places.clone().map(LatLon::latitude).collect::<Vec<_>>());
    writer.decimals(&places.map(LatLon::longitude).collect::<Vec<_>>());
}

fn optional<T>(
    writer: &mut ColumnWriter,
    rows: &[(usize, &JudgedFix)],
    of: impl Fn(&JudgedFix) -> Option<T>,
    write: impl FnOnce(&mut ColumnWriter, Vec<T>),
) {
    let values: Vec<Option<T>> = rows.iter().map(|(_, row)| of(row)).collect();
    writer.presence(values.iter().map(Option::is_some));
    write(writer, values.into_iter().flatten().collect());
}

/// The rows of [`fixes`], all of them from the file with this index; `None` for another blob.
pub(super) fn unpack_fixes(blob: &[u8], source: u16) -> Option<Vec<(usize, JudgedFix)>> {
    let mut reader = ColumnReader::new(content(blob)?);
    let count = rows(&mut reader)?;
    let places = reader.integers(count)?;
    let at = read_positions(&mut reader, count)?;
    let times = spread(&mut reader, count, ColumnReader::integers)?;
    let heights = spread(&mut reader, count, ColumnReader::decimals)?;
    let hdop = spread(&mut reader, count, ColumnReader::short_decimals)?;
    let vdop = spread(&mut reader, count, ColumnReader::short_decimals)?;
    let pdop = spread(&mut reader, count, ColumnReader::short_decimals)?;
    let satellites = spread(&mut reader, count, ColumnReader::integers)?;
    let kinds = reader.integers(count)?;
    let lines = reader.integers(count)?;
    let segments = reader.integers(count)?;
    let verdicts = reader.integers(count)?;
    (0..count)
        .map(|row| {
            let fix = Fix {
                at: at[row],
                time: times[row].map(Timestamp::from_nanosecond).transpose().ok()?,
                height: heights[row].map(|height| GpsHeight(Metres(height))),
                hdop: hdop[row],
                vdop: vdop[row],
                pdop: pdop[row],
                satellites: satellites[row].map(u8::try_from).transpose().ok()?,
                kind: match kinds[row] {
                    0 => None,
                    code => Some(choice(&KINDS, code)?),
                },
                line: u32::try_from(lines[row]).ok()?,
            };
            let segment = u16::try_from(segments[row]).ok()?;
            let verdict = choice(&VERDICTS, verdicts[row])?;
            let place = usize::try_from(places[row]).ok()?;
            Some((place, JudgedFix { fix, source, segment, verdict }))
        })
        .collect()
}

fn rows(reader: &mut ColumnReader<'_>) -> Option<usize> {
    if reader.unsigned()? != FORM {
        return None;
    }
    let count = usize::try_from(reader.unsigned()?).ok()?;
    let accepted = ROWS_OF_ANY_BLOB + ROWS_OF_A_BYTE * reader.left();
    (count <= MOST_ROWS.min(accepted)).then_some(count)
}

fn read_positions(reader: &mut ColumnReader<'_>, count: usize) -> Option<Vec<LatLon>> {
    let latitudes = reader.decimals(count)?;
    let longitudes = reader.decimals(count)?;
    latitudes.into_iter().zip(longitudes).map(|(lat, lon)| LatLon::new(lat, lon).ok()).collect()
}

/// A column in which some rows have no value.
fn spread<'a, T>(
    reader: &mut ColumnReader<'a>,
    count: usize,
    read: impl FnOnce(&mut ColumnReader<'a>, usize) -> Option<Vec<T>>,
) -> Option<Vec<Option<T>>> {
    let present = reader.presence(count)?;
    let filled = present.iter().filter(|here| **here).count();
    let mut values = read(reader, filled)?.into_iter();
    Some(present.into_iter().map(|here| if here { values.next() } else { None }).collect())
}

/// The points of a track.
pub(super) fn track(points: &[TrackPoint]) -> Vec<u8> {
    let mut writer = ColumnWriter::default();
    begin(&mut writer, points.len());
    let integers = |of: fn(&TrackPoint) -> i128| points.iter().map(of).collect::<Vec<_>>();
    writer.integers(&integers(|point| point.time.as_nanosecond()));
    let rounded = |of: fn(&TrackPoint) -> f64, steps: f64| {
        points.iter().map(|point| (of(point) * steps).round() / steps).collect::<Vec<_>>()
    };
    writer.decimals(&rounded(|point| point.at.latitude(), 1e9));
    writer.decimals(&rounded(|point| point.at.longitude(), 1e9));
    writer.decimals(&rounded(|point| point.radius.metres().0.max(0.001), 1e3));
    writer.presence(points.iter().map(|point| point.height.is_some()));
    let heights: Vec<f64> = points.iter().filter_map(|point| point.height).map(|h| h.0.0).collect();
    writer.decimals(&heights.iter().map(|h| (h * 1e3).round() / 1e3).collect::<Vec<_>>());
    writer.integers(&integers(|point| code(&ACTIVITIES, Some(&point.activity))));
    writer.presence(points.iter().map(|point| point.gap_after));
    writer.finish()
}

/// The points of [`track`]; `None` for another blob.
pub(super) fn unpack_track(blob: &[u8]) -> Option<Vec<TrackPoint>> {
    let mut reader = ColumnReader::new(content(blob)?);
    let count = rows(&mut reader)?;
    let times = reader.integers(count)?;
    let at = read_positions(&mut reader, count)?;
    let radii = reader.decimals(count)?;
    let heights = spread(&mut reader, count, ColumnReader::decimals)?;
    let activities = reader.integers(count)?;
    let gaps = reader.presence(count)?;
    (0..count)
        .map(|row| {
            Some(TrackPoint {
                time: Timestamp::from_nanosecond(times[row]).ok()?,
                at: at[row],
                height: heights[row].map(|height| GpsHeight(Metres(height))),
                radius: Radius95::new(Metres(radii[row]))?,
                activity: choice(&ACTIVITIES, activities[row])?,
                gap_after: gaps[row],
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn some_fix(number: i64) -> JudgedFix {
        let at = LatLon::new(-42.5 + number as f64 / 1e6, 146.25).unwrap();
        let time =
            (number % 7 != 3).then(|| Timestamp::from_second(1_780_000_000 + number).unwrap());
        let mut fix = Fix::bare(at, time);
        fix.height = (number % 2 == 0).then_some(GpsHeight(Metres(812.3)));
        fix.hdop = Some(0.9);
        fix.satellites = (number % 5 == 0).then_some(11);
        fix.kind = (number % 3 == 0).then_some(FixKind::ThreeD);
        fix.line = 40 + u32::try_from(number).unwrap() * 5;
        let verdict = VERDICTS[usize::try_from(number).unwrap() % VERDICTS.len()];
        JudgedFix { fix, source: 2, segment: 1, verdict }
    }

    #[test]
    fn fixes_come_back_bit_for_bit() {
        let day: Vec<JudgedFix> = (0..500).map(some_fix).collect();
        let rows: Vec<(usize, &JudgedFix)> = day.iter().enumerate().collect();
        let back = unpack_fixes(&fixes(&rows), 2).unwrap();
        let expected: Vec<(usize, JudgedFix)> = day.into_iter().enumerate().collect();
        assert_eq!(back, expected);
        assert_eq!(unpack_fixes(&fixes(&[]), 0), Some(Vec::new()));
    }

    #[test]
    fn track_is_read_back_to_a_tenth_of_a_millimetre() {
        let way: Vec<TrackPoint> = (0..300_i32)
            .map(|i| TrackPoint {
                time: Timestamp::from_millisecond(1_780_000_000_000 + i64::from(i) * 1500).unwrap(),
                at: LatLon::new(-42.123_456_789_123 + f64::from(i).sin() / 1e4, 146.2).unwrap(),
                height: (i > 5).then_some(GpsHeight(Metres(800.0 + f64::from(i) / 7.0))),
                radius: Radius95::new(Metres(6.543_21)).unwrap(),
                activity: ACTIVITIES[usize::try_from(i).unwrap() % 3],
                gap_after: i == 100,
            })
            .collect();
        let back = unpack_track(&track(&way)).unwrap();
        for (before, after) in way.iter().zip(&back) {
            assert!((before.at.latitude() - after.at.latitude()).abs() <= 0.6e-9);
            assert_eq!(
                (before.time, before.activity, before.gap_after),
                (after.time, after.activity, after.gap_after)
            );
            assert!((before.radius.metres().0 - after.radius.metres().0).abs() <= 0.0006);
            assert_eq!(before.height.is_some(), after.height.is_some());
        }
        assert_eq!(back.len(), 300);
    }

    #[test]
    fn every_choice_has_a_code_of_its_own() {
        for verdict in VERDICTS {
            assert_eq!(choice(&VERDICTS, code(&VERDICTS, Some(&verdict))), Some(verdict));
            // a new verdict does not compile until it has an index
            match verdict {
                Verdict::Kept
                | Verdict::Jump
                | Verdict::Spike
                | Verdict::Frozen
                | Verdict::Duplicate
                | Verdict::Backward
                | Verdict::SecondReceiver
                | Verdict::StartUp
                | Verdict::ClockStep
                | Verdict::NoFix
                | Verdict::Untimed
                | Verdict::StrayTime => {}
            }
        }
        assert_eq!(choice(&KINDS, 99), None);
    }

    proptest! {
        #[test]
        fn damaged_blob_is_refused_without_panic(place in 0_usize..400, byte in any::<u8>()) {
            let day: Vec<JudgedFix> = (0..50).map(some_fix).collect();
            let rows: Vec<(usize, &JudgedFix)> = day.iter().enumerate().collect();
            let mut blob = fixes(&rows);
            let place = place % blob.len();
            blob[place] = byte;
            let _ = unpack_fixes(&blob, 0);
            blob.truncate(place);
            prop_assert_eq!(unpack_fixes(&blob, 0), None);
        }
    }
}
