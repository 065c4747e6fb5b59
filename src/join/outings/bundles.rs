//! Groups records and photographs that belong together regardless of the track: the records of one file,
//! collector and date with the photographs that they name, one session at a time. Layer: `join`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::model::{Photo, Record};

use super::super::day::PhotoIndex;
use super::super::written;
use super::folders::nearness;
use super::group::Inputs;
use super::names::same_person;

/// Records and photographs that belong together.
#[derive(Debug, Default)]
pub(super) struct Bundle {
    /// Indices of its records.
    pub(super) records: Vec<usize>,
    pub(super) sessions: Vec<Vec<Photo>>,
    /// Photographs without a time.
    pub(super) untimed: Vec<Photo>,
    pub(super) file: Option<usize>,
    pub(super) collector: Option<String>,
    pub(super) date: Option<Date>,
    /// Whether its records have a date that cannot be read.
    pub(super) date_unread: bool,
    /// Bundles in whose sessions its records name photographs too, once for each.
    pub(super) lenders: Vec<usize>,
}

impl Bundle {
    /// How much there is of it.
    pub(super) fn size(&self) -> usize {
        self.records.len() + self.sessions.iter().map(Vec::len).sum::<usize>()
    }
}

/// The part of a day, where the tracks of a date part it, to which a record or a session belongs.
pub(super) trait Parts {
    fn of_record(&self, record: &Record, claimed: &[&Photo]) -> Option<usize>;

    /// Whether several people with a track each were out on a date, or on any.
    fn several_at_once(&self, date: Option<Date>) -> bool;
}

/// Which records claim which photographs of all sessions: for each photograph its claimants.
struct Claims {
    /// For each record, the photographs as (session, place).
    by_record: Vec<Vec<(usize, usize)>>,
    /// For each session and place, the records.
    by_photo: Vec<Vec<Vec<usize>>>,
}

/// Gathers everything into bundles, those with records first.
pub(super) fn gathered(
    inputs: &Inputs,
    sessions: Vec<Vec<Photo>>,
    untimed: Vec<Photo>,
    parts: &dyn Parts,
) -> Vec<Bundle> {
    let claims = Claims::of(inputs, &sessions);
    let (mut bundles, home) = of_records(inputs, &sessions, &claims, parts);
    for (index, session) in sessions.into_iter().enumerate() {
        give(index, session, &claims, &home, &mut bundles);
    }
    give_untimed(untimed, inputs, &home, &mut bundles);
    bundles
}

impl Claims {
    fn of(inputs: &Inputs, sessions: &[Vec<Photo>]) -> Self {
        let places: Vec<(usize, usize)> = sessions
            .iter()
            .enumerate()
            .flat_map(|(k, session)| (0..session.len()).map(move |place| (k, place)))
            .collect();
        let names: Vec<String> = places.iter().map(|&(k, p)| sessions[k][p].name()).collect();
        let photo_index = PhotoIndex::of(&names);
        let mut claims = Self {
            by_record: Vec::with_capacity(inputs.records.len()),
            by_photo: sessions.iter().map(|session| vec![Vec::new(); session.len()]).collect(),
        };
        for (index, (file, record)) in inputs.records.iter().enumerate() {
            let mut claimed = Vec::new();
            for named in &record.photos {
                let matching: Vec<usize> = photo_index
                    .candidates(named)
                    .filter(|&photo| written::names(named, &names[photo]))
                    .collect();
                // numbers come again from day to day and from camera to camera
                let worth = |photo: &usize| {
                    let (k, place) = places[*photo];
                    let photo = &sessions[k][place];
                    let same_date = photo.taken.map(jiff::civil::DateTime::date) == record.date;
                    let near = nearness(&inputs.files[*file].path, &photo.source.path);
                    (record.date.is_some() && same_date, near)
                };
                let best = matching.iter().map(worth).max();
                claimed
                    .extend(matching.iter().filter(|p| Some(worth(p)) == best).map(|&p| places[p]));
            }
            claimed.sort_unstable();
            claimed.dedup();
            for &(k, place) in &claimed {
                claims.by_photo[k][place].push(index);
            }
            claims.by_record.push(claimed);
        }
        claims
    }
}

/// What the records of one bundle have in common: file, collector, date, whether that cannot be read, and part; and the
/// session whose photographs they name, where several people were out and no collector is named, or the date cannot be
/// read.
type Key<'a> = (usize, Option<&'a str>, Option<Date>, bool, Option<usize>, Option<usize>);

/// The records of each [`Key`]; and for each record its bundle.
fn of_records(
    inputs: &Inputs,
    sessions: &[Vec<Photo>],
    claims: &Claims,
    parts: &dyn Parts,
) -> (Vec<Bundle>, Vec<usize>) {
    let mut places: BTreeMap<Key<'_>, usize> = BTreeMap::new();
    let mut bundles: Vec<Bundle> = Vec::new();
    let mut home = Vec::with_capacity(inputs.records.len());
    for (index, (file, record)) in inputs.records.iter().enumerate() {
        let claimed: Vec<&Photo> =
            claims.by_record[index].iter().map(|&(k, place)| &sessions[k][place]).collect();
        let part = parts.of_record(record, &claimed);
        let by_camera = record.collector.is_none() && parts.several_at_once(record.date);
        let unread = record.has_unread_date();
        let by_session = by_camera || unread;
        let session = claims.by_record[index].first().filter(|_| by_session).map(|first| first.0);
        let key = (*file, record.collector.as_deref(), record.date, unread, part, session);
        let bundle = *places.entry(key).or_insert_with(|| {
            bundles.push(Bundle {
                file: Some(*file),
                collector: record.collector.clone(),
                date: record.date,
                date_unread: unread,
                ..Bundle::default()
            });
            bundles.len() - 1
        });
        bundles[bundle].records.push(index);
        home.push(bundle);
    }
    (bundles, home)
}

/// A session goes to the bundle that claims most of it. Where different people claim parts of it, the
/// camera went from hand to hand, or two cameras are of one model: each takes what it claims, and what
/// without a record goes with the previous photograph.
fn give(
    index: usize,
    session: Vec<Photo>,
    claims: &Claims,
    home: &[usize],
    bundles: &mut Vec<Bundle>,
) {
    let mut votes: BTreeMap<usize, usize> = BTreeMap::new();
    for records in &claims.by_photo[index] {
        for record in records {
            *votes.entry(home[*record]).or_default() += 1;
        }
    }
    let most = votes.iter().max_by_key(|&(bundle, count)| (count, std::cmp::Reverse(bundle)));
    let Some(most) = most.map(|(bundle, _)| *bundle) else {
        bundles.push(Bundle { sessions: vec![session], ..Bundle::default() });
        return;
    };
    let differ = |bundle: &usize| match (&bundles[*bundle].collector, &bundles[most].collector) {
        (Some(a), Some(b)) => !same_person(a, b),
        _ => false,
    };
    let strangers: Vec<usize> = votes.keys().copied().filter(differ).collect();
    for (&bundle, &count) in votes.iter().filter(|&(bundle, _)| *bundle != most) {
        if !strangers.contains(&bundle) {
            bundles[bundle].lenders.extend(std::iter::repeat_n(most, count));
        }
    }
    if strangers.is_empty() {
        bundles[most].sessions.push(session);
        return;
    }
    let owner = |place: usize| {
        let records = &claims.by_photo[index][place];
        records
            .first()
            .map(|record| home[*record])
            .map(|bundle| if strangers.contains(&bundle) { bundle } else { most })
    };
    let first = (0..session.len()).find_map(owner).unwrap_or(most);
    let mut now = first;
    let mut shares: BTreeMap<usize, Vec<Photo>> = BTreeMap::new();
    for (place, photo) in session.into_iter().enumerate() {
        now = owner(place).unwrap_or(now);
        shares.entry(now).or_default().push(photo);
    }
    for (bundle, share) in shares {
        bundles[bundle].sessions.push(share);
    }
}

/// Photographs without a time go with a record that names them.
fn give_untimed(untimed: Vec<Photo>, inputs: &Inputs, home: &[usize], bundles: &mut Vec<Bundle>) {
    let file_names: Vec<String> = untimed.iter().map(Photo::name).collect();
    let index = PhotoIndex::of(&file_names);
    let mut claimed: Vec<Option<usize>> = vec![None; untimed.len()];
    for (place, (_, record)) in inputs.records.iter().enumerate() {
        for named in &record.photos {
            for photo in index.candidates(named) {
                if claimed[photo].is_none() && written::names(named, &file_names[photo]) {
                    claimed[photo] = Some(place);
                }
            }
        }
    }
    for (photo, claimed) in untimed.into_iter().zip(claimed) {
        match claimed {
            Some(record) => bundles[home[record]].untimed.push(photo),
            None => bundles.push(Bundle { untimed: vec![photo], ..Bundle::default() }),
        }
    }
}
