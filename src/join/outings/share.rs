//! Photographs, records and waypoints go to the outings: by time and date to those who were out, by
//! folder, collector and place to one of the parties that were out together ([`super::group`]). What
//! nothing tells of goes to the party with the most fixes, and that is said. Layer: `join`.

use std::collections::BTreeMap;

use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::error::Error;
use crate::model::{Photo, Record, Waypoint};
use crate::units::WallClock;

use super::draft::Draft;
use super::group::{self, Group, Papers, claims_any, group_of, majority};
use super::pool::Pool;
use super::sessions::{Tracked, sessions};

/// How much of each kind went to the main party because nothing told of it: photographs, records.
type Untold = BTreeMap<usize, (usize, usize)>;

/// Shares out everything but the tracks, which are in the outings already.
pub(super) fn all(pool: &mut Pool, outings: &mut Vec<Draft>) {
    let photos = std::mem::take(&mut pool.photos);
    let records = std::mem::take(&mut pool.records);
    let waypoints = std::mem::take(&mut pool.waypoints);
    let named: Vec<(usize, Option<String>)> =
        waypoints.iter().map(|(file, point)| (*file, point.name.clone())).collect();
    let papers = Papers { files: &pool.files, records: &records, waypoints: &named };
    let groups = group::groups(outings, &papers);
    let mut untold = Untold::new();
    let doubtful = share_photos(photos, &groups, &papers, outings);
    share_records(&papers, &groups, outings, &mut untold);
    share_doubtful(doubtful, outings, &mut untold);
    share_waypoints(waypoints, &groups, outings);
    for (outing, counts) in untold {
        if let Some(group) = group_of(&groups, outing) {
            let remark = nothing_tells(group, outing, counts);
            outings[outing].remarks.push(remark);
        }
    }
}

fn nothing_tells(group: &Group, main: usize, (photos, records): (usize, usize)) -> Error {
    let counted = |count: usize, what: &str| match count {
        0 => None,
        1 => Some(format!("1 {what}")),
        n => Some(format!("{n} {what}s")),
    };
    let all: Vec<String> =
        [counted(photos, "photograph"), counted(records, "record")].into_iter().flatten().collect();
    let others: Vec<String> = group
        .outings()
        .filter(|&outing| outing != main)
        .map(|outing| group.tracks(outing))
        .collect();
    Error::input(format!("nothing tells who made {}", all.join(" and ")))
        .because(format!(
            "they may belong to {} or to {}; {0} has the most fixes, so they are placed on it",
            group.tracks(main),
            others.join(" or ")
        ))
        .hint(
            "put each person's files into a folder of their own, or name the collector in the \
             records and in the name of the track's file",
        )
}

/// Gives the photographs to the outings but for sessions of which nothing tells whose they are.
fn share_photos<'a>(
    photos: Vec<Photo>,
    groups: &'a [Group],
    papers: &Papers,
    outings: &mut Vec<Draft>,
) -> Vec<(&'a Group, Vec<Photo>)> {
    let mut doubtful = Vec::new();
    let mut untimed = Vec::new();
    // outings that are begun meanwhile have no track
    let tracked = Tracked::of(if photos.is_empty() { &[] } else { outings });
    let mut give =
        |home: usize, session: Vec<Photo>, outings: &mut Vec<Draft>| match group_of(groups, home)
            .map(|group| (group, group.of_session(papers, &session)))
        {
            None => outings[home].photos.extend(session),
            Some((_, Some(party))) => outings[party].photos.extend(session),
            Some((group, None)) => doubtful.push((group, session)),
        };
    for session in sessions(photos, groups, &mut untimed) {
        if let Some(outing) = tracked.nearest(&session) {
            give(outing, session, outings);
            continue;
        }
        for photo in session {
            let home = on_date(outings, photo.taken.map(WallClock::date));
            give(home, vec![photo], outings);
        }
    }
    for photo in untimed {
        let date = photo.gps.time.map(|time| time.to_zoned_datetime(TimeZone::UTC).date());
        let home = on_date(outings, date);
        give(home, vec![photo], outings);
    }
    doubtful
}

/// Sessions of which nothing told before the records were shared: whose records claim them?
fn share_doubtful(doubtful: Vec<(&Group, Vec<Photo>)>, outings: &mut [Draft], untold: &mut Untold) {
    for (group, session) in doubtful {
        let claims = |&outing: &usize| {
            outings[outing].records.iter().any(|(_, record)| claims_any(record, &session))
        };
        let claiming: Vec<usize> = group.outings().filter(claims).collect();
        let main = group.main();
        let home = if let [only] = claiming[..] { only } else { main };
        // the records of the main party may be there themselves only for want of evidence
        if home == main && (claiming.len() != 1 || untold.contains_key(&main)) {
            untold.entry(main).or_default().0 += session.len();
        }
        outings[home].photos.extend(session);
    }
}

/// Gives the records to the outings: those of whom something tells first, then their companions in
/// the same file by the same collector, then the rest.
fn share_records(papers: &Papers, groups: &[Group], outings: &mut Vec<Draft>, untold: &mut Untold) {
    let (homes, odd) = by_date(papers.records, outings);
    let mut told: Vec<(usize, usize, Option<&str>)> = Vec::new();
    let mut doubtful: Vec<(&Group, usize, &Record)> = Vec::new();
    let files = homes_of_files(papers.records, &homes);
    let mut all: Vec<(usize, usize)> = homes;
    for index in odd {
        let (file, record) = &papers.records[index];
        let home = home_of_odd(record, files.get(file).copied(), outings);
        all.push((index, home.unwrap_or_else(|| on_date(outings, record.date))));
    }
    for (index, home) in all {
        let (file, record) = &papers.records[index];
        let Some(group) = group_of(groups, home) else {
            outings[home].records.push((*file, record.clone()));
            continue;
        };
        let claimed = || {
            let holds = |&outing: &usize| claims_any(record, &outings[outing].photos);
            majority(group.outings().filter(holds))
        };
        match group.of_record(papers, *file, record).or_else(claimed) {
            Some(party) => {
                told.push((party, *file, record.collector.as_deref()));
                outings[party].records.push((*file, record.clone()));
            }
            None => doubtful.push((group, *file, record)),
        }
    }
    for (group, file, record) in doubtful {
        let companion = |&&(party, other, collector): &&(usize, usize, Option<&str>)| {
            other == file
                && collector == record.collector.as_deref()
                && group.outings().any(|outing| outing == party)
        };
        let party = majority(told.iter().filter(companion).map(|(party, ..)| *party));
        let home = party.unwrap_or_else(|| {
            untold.entry(group.main()).or_default().1 += 1;
            group.main()
        });
        outings[home].records.push((file, record.clone()));
    }
    for outing in outings {
        outing.records.sort_by_key(|(file, record)| (*file, record.line));
    }
}

/// The records with the outing of their date, and those whose date is that of none.
fn by_date(records: &[(usize, Record)], outings: &[Draft]) -> (Vec<(usize, usize)>, Vec<usize>) {
    let (mut homes, mut odd, mut undated) = (Vec::new(), Vec::new(), Vec::new());
    for (index, (_, record)) in records.iter().enumerate() {
        match (outing_on(outings, record.date), record.date) {
            (Some(outing), _) => homes.push((index, outing)),
            (None, Some(_)) => odd.push(index),
            (None, None) => undated.push(index),
        }
    }
    odd.append(&mut undated);
    (homes, odd)
}

/// The outing of most records of each file.
fn homes_of_files(records: &[(usize, Record)], homes: &[(usize, usize)]) -> BTreeMap<usize, usize> {
    let mut files: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
    for (index, outing) in homes {
        *files.entry(records[*index].0).or_default().entry(*outing).or_default() += 1;
    }
    let most = |(file, seen): (usize, BTreeMap<usize, usize>)| {
        Some((file, seen.into_iter().max_by_key(|(_, count)| *count)?.0))
    };
    files.into_iter().filter_map(most).collect()
}

/// The outing of a record without a date, or with one of which there is no outing.
fn home_of_odd(record: &Record, companion: Option<usize>, outings: &[Draft]) -> Option<usize> {
    let claimed = outings.iter().position(|outing| claims_any(record, &outing.photos));
    let first = outings.first();
    let lone = first.filter(|first| {
        let together = |other: &Draft| {
            other.group == first.group && other.span.is_some() && first.span.is_some()
        };
        record.date.is_none() && (outings.len() == 1 || outings.iter().all(together))
    });
    // a date of its own is believed unless something ties the record to a track
    let slip = record.date.is_some_and(|date| {
        companion.is_some_and(|outing| is_slip(date, outings[outing].date_of()))
    });
    claimed.or(if record.date.is_none() || slip { companion } else { None }).or(lone.map(|_| 0))
}

fn share_waypoints(waypoints: Vec<(usize, Waypoint)>, groups: &[Group], outings: &mut Vec<Draft>) {
    for (file, point) in waypoints {
        let time = point.fix.time;
        let by_time = time.and_then(|time| {
            outings.iter().position(|outing| outing.span.is_some_and(|span| span.near(time)))
        });
        let by_file =
            || outings.iter().position(|outing| outing.pieces.iter().any(|p| p.file == file));
        let named = |record: &Record| {
            point
                .name
                .as_deref()
                .is_some_and(|name| record.number.as_ref().is_some_and(|number| number.means(name)))
        };
        let names = |outing: &Draft| outing.records.iter().any(|(_, record)| named(record));
        let by_name = || outings.iter().position(names);
        let home = by_time.or_else(by_name).or_else(by_file);
        let party = home.and_then(|home| group_of(groups, home)).and_then(|group| {
            group
                .by_file(file)
                .or_else(|| group.outings().find(|&outing| names(&outings[outing])))
                .or_else(|| group.by_place(std::iter::once((time, point.fix.at))))
        });
        let home = party.or(home).unwrap_or_else(|| {
            on_date(outings, time.map(|time| time.to_zoned_datetime(TimeZone::UTC).date()))
        });
        outings[home].waypoints.push((file, point));
    }
}

fn outing_on(outings: &[Draft], date: Option<Date>) -> Option<usize> {
    let date = date?;
    outings.iter().position(|outing| outing.covers(date))
}

/// The outing of a date, made where there is none. No date: the first one.
fn on_date(outings: &mut Vec<Draft>, date: Option<Date>) -> usize {
    let found = match date {
        Some(_) => outing_on(outings, date),
        None => (!outings.is_empty()).then_some(0),
    };
    found.unwrap_or_else(|| {
        outings.push(Draft { date, ..Draft::default() });
        outings.len() - 1
    })
}

/// Whether a date is a likely slip of the pen for another: another year, day and month changed over,
/// or a day or two off.
fn is_slip(written: Date, meant: Option<Date>) -> bool {
    let Some(meant) = meant else { return false };
    let same_day = written.month() == meant.month() && written.day() == meant.day();
    let swapped = written.month() == meant.day()
        && written.day() == meant.month()
        && written.year() == meant.year();
    let days = written.until(meant).map_or(i32::MAX, |span| span.get_days().abs());
    same_day || swapped || days <= 2
}
