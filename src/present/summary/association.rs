//! Reports the pairing of tracks with records and photographs: what is not placed and why, the
//! evidence, and the action that resolves it. Layer: `present`.

use jiff::civil::Date;

use super::text::{bullet, section};
use super::words::counted;
use crate::error::Error;
use crate::model::{Association, AssociationEvidence, AssociationKind, Day, EvidenceKind};

/// The first section of an import summary: pairings without placement, then those accepted although a date or a name
/// differs, or by the date only. Empty where there are none.
#[must_use]
pub fn associations(days: &[Day]) -> String {
    let all = days.iter().flat_map(|day| &day.associations);
    let (refused, resolved): (Vec<&Association>, Vec<&Association>) =
        all.partition(|association| association.is_refusal());
    let all = refused.into_iter().chain(resolved);
    let list: String = all.map(|association| bullet(&report(association)) + "\n").collect();
    section("Tracks and finds", &list)
}

/// One report.
pub(in crate::present) fn report(association: &Association) -> Error {
    Error::input(what(association)).because(why(association)).hint(hint(association))
}

/// What was decided, as the headline of the report: which records and photographs are, or are not, placed on which
/// track.
fn what(association: &Association) -> String {
    let one = association.records + association.photographs == 1;
    let verb = if one { "is" } else { "are" };
    let subject = format!("{} {verb}", subject(association));
    let tracks = tracks(association);
    match association.kind {
        AssociationKind::AnotherDay => {
            format!("{subject} not placed on {tracks}: another day")
        }
        AssociationKind::OwnerUnknown => {
            format!("{subject} not placed on {tracks}: the owner of the track is uncertain")
        }
        AssociationKind::AnotherPerson if is_named_after_another(association) => {
            format!("{subject} not placed on {tracks}: it is named after another person")
        }
        AssociationKind::AnotherPerson => {
            format!("{subject} not placed on {tracks}: poor fit to that track")
        }
        AssociationKind::TrackShared if association.collector.is_none() => format!(
            "{subject} not placed on {tracks}: several lists share this track, and it is uncertain \
             whether this one belongs to it"
        ),
        AssociationKind::TrackShared => format!(
            "{subject} not placed on {tracks}: several collectors share this track, and it is uncertain \
             whether this one walked with it"
        ),
        AssociationKind::DatesDiffer => {
            format!("{subject} placed on {tracks} although a written date differs")
        }
        AssociationKind::NamedAfterAnother => {
            format!("{subject} placed on {tracks} although it is named after another person")
        }
        AssociationKind::ByDateOnly => format!("{subject} placed on {tracks} by the date only"),
        AssociationKind::Undated => {
            format!("{subject} placed on {tracks}, the only track, although no date is written")
        }
        AssociationKind::PhotographsUnmatched => format!(
            "{subject} not placed on {tracks}: the photographs fit its stops with no camera offset for certain"
        ),
        AssociationKind::ReceiverStationary => {
            format!(
                "{subject} not placed on {tracks}: the receiver was not carried, or had no signal"
            )
        }
    }
}

/// Whether another person's name bears on the best track.
fn is_named_after_another(association: &Association) -> bool {
    let best = association.tracks.first();
    best.is_some_and(|best| best.evidence.iter().any(|one| one.kind == EvidenceKind::AnotherName))
}

fn subject(association: &Association) -> String {
    let records =
        (association.records > 0).then(|| counted(association.records, "record", "records"));
    let photographs = (association.photographs > 0)
        .then(|| counted(association.photographs, "photograph", "photographs"));
    let all: Vec<String> = records.into_iter().chain(photographs).collect();
    match &association.collector {
        Some(collector) => format!("{} of {collector}", all.join(" and ")),
        None => all.join(" and "),
    }
}

/// The file names of the best or only track, else of all.
fn tracks(association: &Association) -> String {
    let all = association.kind == AssociationKind::OwnerUnknown;
    let shown = if all { association.tracks.len().min(3) } else { 1 };
    let names: Vec<String> =
        association.tracks.iter().take(shown).map(|track| track.files.join(" and ")).collect();
    names.join(" or ")
}

fn why(association: &Association) -> String {
    let mut parts = Vec::new();
    for (what, dates) in [
        ("the record dates are", &association.written_dates),
        ("the camera dates are", &association.camera_dates),
        ("the GPS times of the photographs are", &association.gps_dates),
    ] {
        if !dates.is_empty() {
            parts.push(format!("{what} {}", listed(dates)));
        }
    }
    for track in association.tracks.iter().take(3) {
        let dates = if track.first_date == track.last_date {
            track.first_date.to_string()
        } else {
            format!("{} to {}", track.first_date, track.last_date)
        };
        let evidence: Vec<String> =
            track.evidence.iter().filter(|one| one.log_factor.abs() >= 0.3).map(factor).collect();
        let evidence =
            if evidence.is_empty() { String::new() } else { format!(" ({})", evidence.join(", ")) };
        parts.push(format!(
            "the fixes of {} are dated {dates}, probability {}{evidence}",
            track.files.join(" and "),
            percent(track.probability)
        ));
    }
    parts.push(match association.kind {
        AssociationKind::ByDateOnly => {
            "photographs and notes at stops, positions and names do not show whose track it is"
                .to_owned()
        }
        AssociationKind::Undated => {
            "neither a date nor photographs, notes at stops, positions and names show of which day the records are \
             and whose track it is"
                .to_owned()
        }
        AssociationKind::PhotographsUnmatched => {
            "without the offset no photograph has a position; the track may be another person's"
                .to_owned()
        }
        AssociationKind::ReceiverStationary => {
            "the track stays within 20 m over all of its time, the finds were made over more than half an hour"
                .to_owned()
        }
        _ => format!("{} is required", percent(Association::THRESHOLD)),
    });
    parts.join("; ")
}

/// `photographs in stops x 0.02`: a Bayes factor.
fn factor(evidence: &AssociationEvidence) -> String {
    let words = match evidence.kind {
        EvidenceKind::WrittenDate => "written date",
        EvidenceKind::CameraDate => "camera date",
        EvidenceKind::GpsTime => "GPS times",
        EvidenceKind::Stops => "photographs at stops",
        EvidenceKind::WrittenTimes => "written times within the track",
        EvidenceKind::TimesAtStops => "written times at stops",
        EvidenceKind::Companions => "times and places in common with the other collector",
        EvidenceKind::PhotoPositions => "positions in photographs",
        EvidenceKind::WrittenPositions => "written coordinates",
        EvidenceKind::Waypoints => "waypoints",
        EvidenceKind::Folder => "folder",
        EvidenceKind::Collector => "collector in a file name",
        EvidenceKind::AnotherName => "another person in a file name",
        EvidenceKind::Company => "listed with others of that track",
        EvidenceKind::OtherOwner => "track of another collector",
    };
    let factor = evidence.log_factor.exp();
    match factor {
        f if f >= 1e4 => format!("{words} x 10^{:.0}", f.log10()),
        f if f >= 10.0 => format!("{words} x {f:.0}"),
        f if f >= 0.1 => format!("{words} x {f:.1}"),
        f if f >= 1e-3 => format!("{words} x {f:.3}"),
        f => format!("{words} x 10^{:.0}", f.log10()),
    }
}

fn percent(probability: f64) -> String {
    match 100.0 * probability {
        p if p < 0.01 => "below 0.01 %".to_owned(),
        p if p < 1.0 => format!("{p:.2} %"),
        p if p > 99.9 => "above 99.9 %".to_owned(),
        // never rounded up to what is required
        p if (98.0..99.0).contains(&p) => format!("{:.1} %", (10.0 * p).floor() / 10.0),
        p => format!("{p:.0} %"),
    }
}

fn listed(dates: &[Date]) -> String {
    let shown: Vec<String> = dates.iter().take(3).map(ToString::to_string).collect();
    let more = dates.len() - shown.len();
    let more = if more == 0 { String::new() } else { format!(" and {more} more dates") };
    shown.join(", ") + &more
}

fn hint(association: &Association) -> String {
    match association.kind {
        AssociationKind::AnotherDay => {
            let dates = association.written_dates.first().or(association.camera_dates.first());
            let date = dates.map_or_else(|| "that day".to_owned(), ToString::to_string);
            format!(
                "import them with the track of {date}; if a date is wrong, correct it in the records"
            )
        }
        AssociationKind::OwnerUnknown => {
            "put each person's track, photographs and records into a folder of their own".to_owned()
        }
        AssociationKind::AnotherPerson if is_named_after_another(association) => {
            "import them with the collector's own track; if this is it, rename its file".to_owned()
        }
        AssociationKind::AnotherPerson if association.photographs == 0 => {
            "import them with the collector's own track of all that time; if this is it, add coordinates \
             to a few records"
                .to_owned()
        }
        AssociationKind::AnotherPerson => {
            "import them with the track of the person who took the photographs; if this is it, \
             add written times to a few records with photographs"
                .to_owned()
        }
        AssociationKind::TrackShared => {
            "import them with this collector's own track; if all walked together, name all of them in \
             the collector column of every record"
                .to_owned()
        }
        AssociationKind::DatesDiffer => {
            "the written date stays on labels and lists; correct it in the records if it is an error"
                .to_owned()
        }
        AssociationKind::NamedAfterAnother => {
            "if it is another person's track, import these records with their collector's own track; else \
             rename its file"
                .to_owned()
        }
        AssociationKind::ByDateOnly => {
            "make sure that it is this collector's track; to show it, write the collector's name into the \
             name of its file"
                .to_owned()
        }
        AssociationKind::Undated => {
            "write the date into the records; their times are taken for times of the day of the track".to_owned()
        }
        AssociationKind::PhotographsUnmatched => {
            "import them with the track of the person who took the photographs; if this is it, write the \
             time beside a few photographs or add one of the receiver's clock"
                .to_owned()
        }
        AssociationKind::ReceiverStationary => {
            "import them with the track of a receiver that was carried; if all finds were made at this place, \
             write its coordinates into the records"
                .to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::model::TrackCandidate;

    fn association(kind: AssociationKind) -> Association {
        let evidence =
            AssociationEvidence { kind: EvidenceKind::WrittenDate, log_factor: -6.0, count: 20 };
        Association {
            kind,
            records: 20,
            photographs: 43,
            collector: Some("Ada Quillfeather".into()),
            written_dates: vec![date(2026, 5, 4)],
            camera_dates: vec![date(2026, 5, 4)],
            gps_dates: Vec::new(),
            tracks: vec![TrackCandidate {
                files: vec!["ridge.gpx".into()],
                first_date: date(2026, 5, 3),
                last_date: date(2026, 5, 3),
                probability: 2e-5,
                evidence: vec![evidence],
            }],
            none: 0.99998,
        }
    }

    #[test]
    fn refusal_states_both_dates_and_the_action() {
        let text = report(&association(AssociationKind::AnotherDay)).to_string();
        for part in [
            "20 records and 43 photographs of Ada Quillfeather are not placed on ridge.gpx",
            "the record dates are 2026-05-04",
            "the fixes of ridge.gpx are dated 2026-05-03, probability below 0.01 %",
            "written date x 0.002",
            "99 % is required",
            "import them with the track of 2026-05-04",
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
    }

    #[test]
    fn notes_without_photographs_are_not_advised_on_photographs() {
        let notes = Association { photographs: 0, ..association(AssociationKind::AnotherPerson) };
        let text = report(&notes).to_string();
        assert!(text.contains("collector's own track") && !text.contains("photograph"), "{text}");
    }

    #[test]
    fn every_kind_has_one_action() {
        for kind in [
            AssociationKind::AnotherDay,
            AssociationKind::OwnerUnknown,
            AssociationKind::AnotherPerson,
            AssociationKind::TrackShared,
            AssociationKind::DatesDiffer,
            AssociationKind::NamedAfterAnother,
            AssociationKind::ByDateOnly,
            AssociationKind::Undated,
            AssociationKind::PhotographsUnmatched,
        ] {
            let error = report(&association(kind));
            assert!(!error.advice().unwrap_or_default().is_empty());
        }
    }
}
