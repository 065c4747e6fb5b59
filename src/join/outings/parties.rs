//! Groups receivers into parties. Receivers that ran at the same time but far apart were carried by
//! different people, who get separate outings; receivers that stayed close to each other were carried by
//! one person and make one track, unless the notebooks beside them name different people. Layer: `join`.

use std::collections::HashMap;
use std::path::Path;

use crate::error::Error;
use crate::model::{ApartReason, FileNote, SourceFile};

use crate::units::{Metres, Seconds};

use super::names::same_person;
use super::piece::{Piece, Span};
use super::proximity::{Disagreement, NEAR, Proximity, ReceiverTrack};

/// One file is not parted into more tracks of the same time, so that the comparisons of all with all
/// stay few; the further ones are taken together.
const MOST_AT_ONCE: usize = 64;
/// Seconds that two runs of one file may overlap and yet follow each other.
const SEAM: f64 = 60.0;

/// The tracks of one person, or of people who kept together.
#[derive(Debug)]
pub(super) struct Party {
    receiver_tracks: Vec<ReceiverTrack>,
    pub(super) remarks: Vec<Error>,
    /// Reports that ask for an action.
    pub(super) set_aside: Vec<Error>,
    /// The largest disagreement of its receivers.
    pub(super) disagreement: Option<Disagreement>,
}

/// The names of files and who wrote the notebook beside each.
#[derive(Clone, Copy)]
pub(super) struct Owners<'a> {
    pub(super) files: &'a [SourceFile],
    pub(super) writers: &'a [Option<String>],
}

/// The relation of two receivers.
enum Relation {
    OnePerson(Proximity),
    Apart(ApartReason),
    Unknown,
}

impl Owners<'_> {
    /// The name of its file, with the folder where another file is called the same.
    fn name(&self, receiver_track: &ReceiverTrack) -> String {
        let file = &self.files[receiver_track.file];
        let name = file.name();
        let others = self.files.iter().filter(|other| other.path != file.path);
        let folder = file.folder().and_then(Path::file_name);
        match folder {
            Some(folder) if others.into_iter().any(|other| other.name() == name) => {
                format!("{}/{name}", folder.to_string_lossy())
            }
            _ => name,
        }
    }

    fn relation(&self, one: &ReceiverTrack, other: &ReceiverTrack) -> Relation {
        let writer = |receiver_track: &ReceiverTrack| {
            self.writers.get(receiver_track.file).cloned().flatten()
        };
        if let (Some(a), Some(b)) = (writer(one), writer(other))
            && !same_person(&a, &b)
        {
            return Relation::Apart(ApartReason::Collectors {
                one: a,
                one_track: self.name(one),
                other: b,
                other_track: self.name(other),
            });
        }
        match one.proximity(other) {
            Some(proximity) if proximity.is_one_person() => Relation::OnePerson(proximity),
            Some(proximity) => Relation::Apart(ApartReason::Distance {
                median: proximity.distance,
                near: NEAR,
                share: proximity.near,
            }),
            None => Relation::Unknown,
        }
    }
}

impl Party {
    pub(super) fn into_pieces(self) -> Vec<(Span, Piece)> {
        self.receiver_tracks.into_iter().flat_map(|receiver_track| receiver_track.pieces).collect()
    }
}

/// Divides the tracks of one period into parties, the one with most fixes first.
pub(super) fn apart(cluster: Vec<(Span, Piece)>, owners: Owners) -> Vec<Party> {
    let mut receiver_tracks = receiver_tracks(cluster);
    receiver_tracks.sort_by_key(|receiver_track| {
        (std::cmp::Reverse(receiver_track.fixes()), receiver_track.file)
    });
    let mut parties: Vec<Party> = Vec::new();
    for receiver_track in receiver_tracks {
        let mut reasons = Vec::new();
        let mut home = None;
        for (index, party) in parties.iter().enumerate() {
            match relation(&receiver_track, party, owners) {
                Relation::OnePerson(proximity) => {
                    home = Some((index, Some(proximity)));
                    break;
                }
                Relation::Unknown => {
                    home.get_or_insert((index, None));
                }
                Relation::Apart(why) => reasons.push((index, why)),
            }
        }
        match home {
            Some((index, proximity)) => {
                join(&mut parties[index], receiver_track, proximity, owners);
            }
            None => part(&mut parties, receiver_track, &reasons, owners),
        }
    }
    parties
}

/// The relation of a receiver to all receivers of a party.
fn relation(receiver_track: &ReceiverTrack, party: &Party, owners: Owners) -> Relation {
    let mut all = Relation::Unknown;
    for other in &party.receiver_tracks {
        match owners.relation(receiver_track, other) {
            apart @ Relation::Apart(_) => return apart,
            Relation::Unknown => {}
            together @ Relation::OnePerson(_) => all = together,
        }
    }
    all
}

fn join(
    party: &mut Party,
    receiver_track: ReceiverTrack,
    proximity: Option<Proximity>,
    owners: Owners,
) {
    if let Some(proximity) = proximity {
        let (lead, second) = (owners.name(&party.receiver_tracks[0]), owners.name(&receiver_track));
        let note = FileNote::OnePerson { lead, second, near: NEAR, share: proximity.near };
        let path = &owners.files[receiver_track.file].path;
        party.remarks.push(Error::from(note).in_file(path));
    }
    let disagreement = proximity.and_then(|proximity| proximity.disagreement);
    if let Some(one) = disagreement {
        let (lead, second) = (owners.name(&party.receiver_tracks[0]), owners.name(&receiver_track));
        let (distance, lag) = (Metres(one.distance), Seconds(one.lag));
        let note = FileNote::ReceiversDisagree { lead, second, distance, lag };
        let path = &owners.files[receiver_track.file].path;
        party.set_aside.push(Error::from(note).in_file(path));
        let further = party.disagreement.is_none_or(|other| one.distance > other.distance);
        party.disagreement = if further { disagreement } else { party.disagreement };
    }
    // fixes at other times would not fill gaps, but go to and fro
    if !disagreement.is_some_and(|one| one.is_of_clocks()) {
        party.receiver_tracks.push(receiver_track);
    }
}

/// A separate party, with a note on both sides.
fn part(
    parties: &mut Vec<Party>,
    receiver_track: ReceiverTrack,
    reasons: &[(usize, ApartReason)],
    owners: Owners,
) {
    let mut remarks = Vec::new();
    for (index, why) in reasons {
        let (own, other) =
            (owners.name(&receiver_track), owners.name(&parties[*index].receiver_tracks[0]));
        let note = |own: &str, other: &str| {
            let (own, other, reason) = (own.to_owned(), other.to_owned(), why.clone());
            Error::from(FileNote::TwoPeople { own, other, reason })
        };
        parties[*index].remarks.push(note(&other, &own));
        remarks.push(note(&own, &other));
    }
    let (set_aside, disagreement) = (Vec::new(), None);
    parties.push(Party { receiver_tracks: vec![receiver_track], remarks, set_aside, disagreement });
}

/// The runs of each file, and apart from them those that it holds of the same time; pieces come in
/// order of their start.
fn receiver_tracks(cluster: Vec<(Span, Piece)>) -> Vec<ReceiverTrack> {
    let mut receiver_tracks: Vec<ReceiverTrack> = Vec::new();
    // of each file its receiver_tracks, with the span from the first start to the last end of each
    let mut of_file: HashMap<usize, Vec<(usize, Span)>> = HashMap::new();
    for (span, piece) in cluster {
        let own = of_file.entry(piece.file).or_default();
        let is_full = own.len() >= MOST_AT_ONCE;
        // none that began before ends later than the whole
        let follows = own.iter_mut().find(|(_, whole)| span.shared(whole) <= SEAM);
        let home = if follows.is_none() && is_full { own.last_mut() } else { follows };
        if let Some((receiver_track, whole)) = home {
            *whole = whole.with(span);
            receiver_tracks[*receiver_track].pieces.push((span, piece));
        } else {
            own.push((receiver_tracks.len(), span));
            receiver_tracks.push(ReceiverTrack { file: piece.file, pieces: vec![(span, piece)] });
        }
    }
    receiver_tracks
}
