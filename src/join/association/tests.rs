//! Tests of the comparison with simulated factors; whole days are in `tests/position`.

use super::*;

#[test]
fn one_track_without_evidence_is_accepted() {
    let weighed = weigh(&Material::default(), &[]);
    assert!(weighed.sure().is_none());
    assert!((weighed.another_day + weighed.another_person - 1.0).abs() < 1e-9);
}
