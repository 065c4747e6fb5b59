//! Represents an outing under construction. Layer: `join`.

use std::cell::OnceCell;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::PathBuf;

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{Association, Photo, Record, SourceFile, Waypoint};
use crate::units::{ClockOffset, LatLon, Timestamp};

use super::super::clean::Run;
use super::super::day::common_place;
use super::super::estimated_track::EstimatedTrack;
use super::super::written::Occurrence;
use super::super::{Options, zone};
use super::parties::{self, Owners};
use super::piece::{Piece, Span, in_clusters};
use super::pool::Pool;
use super::proximity::Disagreement;
use super::{Filed, Gathered, headers};

/// An outing while it is being put together.
#[derive(Default)]
pub(super) struct Draft {
    /// The same for parties that were out at the same time; means nothing without a span.
    pub(super) group: usize,
    pub(super) span: Option<Span>,
    pub(super) date: Option<Date>,
    pub(super) place: Option<LatLon>,
    pub(super) pieces: Vec<Piece>,
    /// Fixes set aside for their lone times.
    pub(super) strays: Vec<Piece>,
    pub(super) waypoints: Vec<(usize, Waypoint)>,
    pub(super) photos: Vec<Photo>,
    pub(super) records: Vec<(usize, Record)>,
    /// The photographs whose camera's date is not of the day.
    pub(super) misdated: HashSet<PathBuf>,
    pub(super) remarks: Vec<Error>,
    pub(super) set_aside: Vec<Error>,
    /// How far the receivers that recorded it disagree.
    pub(super) disagreement: Option<Disagreement>,
    pub(super) associations: Vec<Association>,
    /// The estimated track, where it was needed to compare it with others.
    pub(super) estimated_track: Option<EstimatedTrack>,
    /// The first and the last local date of its track, whose span and place no longer change; every
    /// record asks for them.
    pub(super) dates: OnceCell<(Date, Date)>,
}

impl Draft {
    /// The outing of runs that follow each other, in order of time.
    fn of_stretch(self, stretch: Vec<(Span, Piece)>) -> Self {
        let middle = |piece: &Piece| Some(piece.fixes.get(piece.fixes.len() / 2)?.at);
        Self {
            span: stretch.iter().map(|(span, _)| *span).reduce(Span::with),
            place: stretch.first().and_then(|(_, piece)| middle(piece)),
            pieces: stretch.into_iter().map(|(_, piece)| piece).collect(),
            ..self
        }
    }

    pub(super) fn when(&self) -> (Option<Timestamp>, Option<Date>) {
        let start = self.span.map(|span| span.start);
        let dated = || {
            let noon = self.date?.at(12, 0, 0, 0);
            Some(ClockOffset::as_if_utc(noon))
        };
        (start.or_else(dated), self.date)
    }

    pub(super) fn local_zone(&self) -> Option<jiff::tz::TimeZone> {
        self.place.and_then(crate::earth::zone::at).map(|(_, zone)| zone)
    }

    /// Whether a local date is one of the outing's.
    pub(super) fn covers(&self, date: Date) -> bool {
        let Some(span) = self.span else { return self.date == Some(date) };
        let dates = || {
            let zone = self.local_zone().unwrap_or(jiff::tz::TimeZone::UTC);
            let local = |time: Timestamp| time.to_zoned_datetime(zone.clone()).date();
            (local(span.start), local(span.end))
        };
        let (first, last) = *self.dates.get_or_init(dates);
        first <= date && date <= last
    }

    /// Its runs, with sources counted in the order in which they come.
    pub(super) fn runs(&self) -> Vec<Run> {
        let mut files: Vec<usize> = Vec::new();
        let mut source = |file: usize| {
            let place = files.iter().position(|other| *other == file).unwrap_or_else(|| {
                files.push(file);
                files.len() - 1
            });
            u16::try_from(place).unwrap_or(u16::MAX)
        };
        let run = |piece: &Piece| Run { source: source(piece.file), fixes: piece.fixes.clone() };
        self.pieces.iter().map(run).collect()
    }

    pub(super) fn finished(self, pool: &Pool, options: &Options) -> Gathered {
        let mut places = BTreeMap::new();
        let mut sources: Vec<SourceFile> = Vec::new();
        let mut place_of = |file: usize| {
            *places.entry(file).or_insert_with(|| {
                sources.push(pool.files[file].clone());
                sources.len() - 1
            })
        };
        let mut run = |piece: &Piece| Run {
            source: u16::try_from(place_of(piece.file)).unwrap_or(u16::MAX),
            fixes: piece.fixes.clone(),
        };
        let zone_assumed = self.pieces.iter().any(|piece| pool.zone_assumed.contains(&piece.file));
        let runs: Vec<Run> = self.pieces.iter().map(&mut run).collect();
        let strays: Vec<Run> = self.strays.iter().map(&mut run).collect();
        for (file, _) in &self.waypoints {
            place_of(*file);
        }
        let place_known = self.place_known();
        let filed = |(file, record)| Filed {
            source: place_of(file),
            record,
            occurrence: Occurrence::default(),
        };
        let records: Vec<Filed> = self.records.into_iter().map(filed).collect();
        sources.extend(self.photos.iter().map(|photo| photo.source.clone()));
        let (damaged, odd) = headers::reported(&self.photos);
        let set_aside = [self.set_aside.clone(), damaged].concat();
        let mut remarks = self.remarks.clone();
        remarks.extend(odd);
        let span = self.span.map(|span| (span.start, span.end));
        let zone = zone::choose(options, &self.photos, &records, place_known, span, &mut remarks);
        Gathered {
            sources,
            runs,
            strays,
            waypoint_files: self.waypoints.iter().map(|(file, _)| *file).collect(),
            waypoints: self.waypoints.into_iter().map(|(_, point)| point).collect(),
            photos: self.photos,
            records,
            zone,
            zone_assumed,
            misdated: self.misdated,
            set_aside,
            remarks,
            disagreement: self.disagreement,
            associations: self.associations,
            estimated_track: self.estimated_track,
        }
    }

    /// Its approximate position, from any input.
    fn place_known(&self) -> Option<LatLon> {
        let waypoint = || self.waypoints.first().map(|(_, point)| point.fix.at);
        let photo = || self.photos.iter().find_map(|photo| photo.gps.at);
        let record = || common_place(self.records.iter().map(|(_, record)| record));
        self.place.or_else(waypoint).or_else(photo).or_else(record)
    }
}

/// Groups pieces of tracks into outings, and returns the pieces without times, whose file does not determine
/// where they belong.
pub(super) fn of_pieces(pieces: Vec<Piece>, owners: Owners) -> (Vec<Draft>, Vec<Piece>) {
    let mut timed: Vec<(Span, Piece)> = Vec::new();
    let mut untimed = Vec::new();
    for piece in pieces.into_iter().flat_map(Piece::parted) {
        match piece.span() {
            Some(span) => timed.push((span, piece)),
            None => untimed.push(piece),
        }
    }
    let mut outings: Vec<Draft> = Vec::new();
    for (group, cluster) in in_clusters(timed).into_iter().enumerate() {
        for mut party in parties::apart(cluster, owners) {
            let mut remarks = std::mem::take(&mut party.remarks);
            let mut set_aside = std::mem::take(&mut party.set_aside);
            let disagreement = party.disagreement;
            for stretch in in_clusters(party.into_pieces()) {
                let (remarks, set_aside) =
                    (std::mem::take(&mut remarks), std::mem::take(&mut set_aside));
                let reports = Draft { group, remarks, set_aside, disagreement, ..Draft::default() };
                outings.push(reports.of_stretch(stretch));
            }
        }
    }
    let mut first_with: HashMap<usize, usize> = HashMap::new();
    for (index, outing) in outings.iter().enumerate() {
        for piece in &outing.pieces {
            first_with.entry(piece.file).or_insert(index);
        }
    }
    let mut homeless = Vec::new();
    for piece in untimed {
        match first_with.get(&piece.file) {
            Some(&outing) => outings[outing].pieces.push(piece),
            None => homeless.push(piece),
        }
    }
    (outings, homeless)
}

/// Assigns stray fixes to the outing that has the most fixes of their file.
pub(super) fn give_strays(strays: Vec<Piece>, outings: &mut [Draft]) {
    for piece in strays {
        let of_file = |outing: &Draft| -> usize {
            let own = outing.pieces.iter().filter(|other| other.file == piece.file);
            own.map(|own| own.fixes.len()).sum()
        };
        let most = outings.iter_mut().map(|outing| (of_file(outing), outing));
        if let Some((_, home)) = most.max_by_key(|(count, _)| *count) {
            home.strays.push(piece);
        }
    }
}
