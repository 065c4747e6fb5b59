//! Tests of the comparison with simulated factors; whole days are in `tests/position`.

use super::*;

#[test]
fn one_track_without_evidence_is_accepted() {
    let weighed = weigh(&Material::default(), &[]);
    assert!(weighed.sure().is_none());
    assert!((weighed.another_day + weighed.another_person - 1.0).abs() < 1e-9);
}

fn of_kind(kind: EvidenceKind, log_factor: f64) -> AssociationEvidence {
    AssociationEvidence { kind, log_factor, count: 10 }
}

#[test]
fn dates_and_chance_matches_of_notes_do_not_show_whose_track_it_is() {
    use EvidenceKind::{Stops, TimesAtStops, WrittenDate, WrittenPositions, WrittenTimes};
    let dates = [of_kind(WrittenDate, 5.0), of_kind(WrittenTimes, 0.4)];
    assert!(!shows_whose(&dates));
    assert!(!shows_whose(&[of_kind(TimesAtStops, 1.3)]));
    assert!(shows_whose(&[of_kind(TimesAtStops, 2.5)]));
    assert!(shows_whose(&[of_kind(Stops, 1.2)]));
    assert!(!shows_whose(&[of_kind(Stops, 1.2), of_kind(TimesAtStops, -2.0)]));
    assert!(shows_whose(&[of_kind(WrittenPositions, 7.4), of_kind(Stops, -6.9)]));
    assert!(!shows_whose(&[of_kind(WrittenPositions, 2.4), of_kind(Stops, -6.9)]));
}
