//! Two people with two receivers in one folder: no find is located on the other person's track.

use std::fs;

use trug::earth::geodesic::distance;
use trug::model::{Day, Verdict};

use super::truth::{cameras, finds, joined, joined_from, of};

const NIGHT: &str = "2026-05-23-night-walk";

fn second_receiver(day: &Day) -> usize {
    day.fixes.iter().filter(|fix| fix.verdict == Verdict::SecondReceiver).count()
}

/// No find of a day is far off, and most lie within their radii.
fn assert_well_placed(day: &Day) {
    let truth = finds();
    let mut held = 0;
    for find in &day.finds {
        let located = find.place.as_ref().unwrap();
        let error = distance(located.at, of(&truth, day, find).at).0;
        assert!(error < 25.0, "{:?} is {error:.1} m off", find.record.number);
        held += usize::from(error <= located.radius.metres().0);
    }
    assert!(held * 10 >= 6 * day.finds.len(), "{held} of {} circles hold", day.finds.len());
}

fn assert_clock(day: &Day) {
    let clock = &day.cameras[0];
    let truth = cameras();
    let truth = truth.iter().find(|camera| clock.camera.model.as_ref() == Some(&camera.model));
    let ahead = truth.unwrap().ahead;
    let (low, high) = clock.interval95.unwrap();
    assert!(low.0 <= ahead && ahead <= high.0, "{ahead} s, reported {low} to {high}");
}

#[test]
fn each_party_of_the_night_walk_has_its_own_track_photographs_and_records() {
    let days = joined(NIGHT);
    assert_eq!(days.len(), 2);
    let parties = [("Ada Quillfeather", "AQ", 10, 24), ("Noël Brambletoft-Peña", "NBP", 7, 17)];
    for (day, (collector, series, finds, photos)) in days.iter().zip(parties) {
        assert_eq!(day.outing.collector.as_deref(), Some(collector));
        assert_eq!((day.finds.len(), day.photos.len()), (finds, photos));
        let number = |find: &trug::model::Find| find.record.number.clone().unwrap().0;
        assert!(day.finds.iter().all(|find| number(find).starts_with(series)));
        assert_eq!(second_receiver(day), 0);
        assert_eq!(day.cameras.len(), 1);
        assert!(day.conflicts.is_empty(), "{:?}", day.conflicts);
        assert_clock(day);
        assert_well_placed(day);
    }
    assert_ne!(days[0].outing.id, days[1].outing.id);
}

#[test]
fn a_party_keeps_its_identity_whether_it_comes_alone_or_in_company() {
    let together = joined(NIGHT);
    for (day, folder) in together.iter().zip(["ada", "noel"]) {
        let alone = joined(&format!("{NIGHT}/{folder}"));
        assert_eq!(alone.len(), 1);
        assert_eq!(alone[0].outing.id, day.outing.id);
        let ids = |day: &Day| day.finds.iter().map(|find| find.id).collect::<Vec<_>>();
        assert_eq!(ids(&alone[0]), ids(day));
    }
}

#[test]
fn mixed_folders_are_separated_by_stops_and_positions() {
    let folder = tempfile::tempdir().unwrap();
    for party in ["ada", "noel"] {
        let from = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-tracks/2026-05-23-night-walk");
        for entry in fs::read_dir(format!("{from}/{party}")).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            let name = if name == "notebook.csv" { format!("{party}.csv") } else { name };
            fs::copy(&path, folder.path().join(name)).unwrap();
        }
    }
    let days = joined_from(&[folder.path().to_owned()]);
    assert_eq!(days.len(), 2);
    // the phone's photographs hold positions, so Noël's go to the phone's track
    assert_eq!((days[1].finds.len(), days[1].photos.len()), (7, 17));
    // Ada's fall into the stops of her track
    assert_eq!((days[0].finds.len(), days[0].photos.len()), (10, 24));
    let said = |day: &Day, text: &str| day.remarks.iter().any(|r| r.to_string().contains(text));
    assert!(days.iter().all(|day| day.associations.is_empty()));
    let right = joined(NIGHT);
    for (day, right) in days.iter().zip(&right) {
        for find in &day.finds {
            let same = right.finds.iter().find(|other| other.record.number == find.record.number);
            let place = |find: &trug::model::Find| find.place.as_ref().unwrap().at;
            assert!(distance(place(find), place(same.unwrap())).0 < 1.0);
        }
    }
    for day in &days {
        assert!(said(day, "are treated as tracks of two people"));
        assert_clock(day);
    }
}
