//! Writes the fixes, the track and the stops of an outing. Layer: `store`.

use rusqlite::{Connection, OptionalExtension};

use crate::earth::{dateline, geodesic};
use crate::model::{Activity, Day, JudgedFix, TrackPoint, Verdict};
use crate::store::columns::sealed;
use crate::store::fault::Attempt;
use crate::store::row::Row;
use crate::store::{geometry, pack, words};
use crate::units::{LatLon, Metres, Seconds};

/// Whether the store has a track of this outing.
pub(super) fn has_track(work: &Connection, outing: i64) -> Attempt<bool> {
    let found: Option<i64> = work
        .prepare_cached("SELECT id FROM tracks WHERE outing_id = ?1")?
        .query_row([outing], |row| row.get(0))
        .optional()?;
    Ok(found.is_some())
}

/// Writes them, replacing those of an earlier import.
pub(super) fn write(work: &Connection, outing: i64, day: &Day, sources: &[i64]) -> Attempt<()> {
    write_fixes(work, day, sources)?;
    for table in ["tracks", "track_points", "stops"] {
        work.prepare_cached(&format!("DELETE FROM {table} WHERE outing_id = ?1"))?
            .execute([outing])?;
    }
    write_track(work, outing, day)?;
    write_stops(work, outing, day)
}

fn write_fixes(work: &Connection, day: &Day, sources: &[i64]) -> Attempt<()> {
    for (index, (source, key)) in day.sources.iter().zip(sources).enumerate() {
        if !source.kind.is_track() {
            continue;
        }
        let rows: Vec<(usize, &JudgedFix)> = day
            .fixes
            .iter()
            .enumerate()
            .filter(|(_, fix)| usize::from(fix.source) == index)
            .collect();
        let kept = rows.iter().filter(|(_, fix)| fix.verdict == Verdict::Kept).count();
        work.prepare_cached("DELETE FROM fixes WHERE source_id = ?1")?.execute([key])?;
        let mut row = Row::new();
        row.set("source_id", *key)
            .set("fix_count", count(rows.len()))
            .set("kept_count", count(kept))
            .set("packed", sealed(&pack::fixes(&rows)));
        row.insert(work, "fixes")?;
    }
    Ok(())
}

fn count(number: usize) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn write_track(work: &Connection, outing: i64, day: &Day) -> Attempt<()> {
    let (Some(first), Some(last)) = (day.track.first(), day.track.last()) else { return Ok(()) };
    let runs: Vec<Vec<(f64, f64)>> = runs(&day.track)
        .flat_map(|run| dateline::cut(&run.iter().map(|point| point.at).collect::<Vec<LatLon>>()))
        .collect();
    let mut row = Row::new();
    row.set("geom", geometry::lines(&runs))
        .set("outing_id", outing)
        .set("date", day.outing.date.to_string())
        .set("start_time", words::instant(first.time))
        .set("end_time", words::instant(last.time))
        .set("point_count", count(day.track.len()))
        .set("length_m", length(&day.track).0)
        .set("searched_s", searched(&day.track).0);
    row.insert(work, "tracks")?;
    let mut points = Row::new();
    points.set("outing_id", outing).set("packed", sealed(&pack::track(&day.track)));
    points.insert(work, "track_points")?;
    Ok(())
}

/// The unbroken parts of a track.
fn runs(track: &[TrackPoint]) -> impl Iterator<Item = &[TrackPoint]> {
    track.split_inclusive(|point| point.gap_after)
}

/// The length of the track without its gaps.
fn length(track: &[TrackPoint]) -> Metres {
    runs(track)
        .flat_map(|run| run.windows(2))
        .map(|leg| geodesic::distance(leg[0].at, leg[1].at))
        .sum()
}

/// The time searching or stationary, without gaps.
fn searched(track: &[TrackPoint]) -> Seconds {
    runs(track)
        .flat_map(|run| run.windows(2))
        .filter(|leg| leg[0].activity != Activity::Walking)
        .map(|leg| Seconds::between(leg[0].time, leg[1].time))
        .fold(Seconds(0.0), |sum, span| sum + span)
}

fn write_stops(work: &Connection, outing: i64, day: &Day) -> Attempt<()> {
    for stop in &day.stops {
        let mut row = Row::new();
        row.set("geom", geometry::point(stop.at))
            .set("outing_id", outing)
            .set("start_time", words::instant(stop.start))
            .set("end_time", words::instant(stop.end))
            .set("duration_s", Seconds::between(stop.start, stop.end).0)
            .set("radius95_m", stop.radius.metres().0);
        row.insert(work, "stops")?;
    }
    Ok(())
}
