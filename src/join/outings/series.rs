//! Separates the photographs of two cameras of one model by their names: each camera counts in a series of its own,
//! and both series go on at the same time. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::Photo;

/// Numbers of one series follow each other within so many.
const FURTHER: u64 = 200;
/// Fewer photographs are no series.
const FEWEST: usize = 4;
/// Two series that change so often between them in order of time are of two cameras.
const CHANGES: usize = 4;

/// The photographs of cameras that write the same name, each camera apart.
pub(super) fn of_each_camera(mut photos: Vec<Photo>) -> Vec<Vec<Photo>> {
    photos.sort_by_key(|photo| (photo.taken, photo.name()));
    let series = series(&photos);
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for one in &series {
        *counts.entry(*one).or_default() += 1;
    }
    let long: Vec<usize> =
        counts.into_iter().filter(|one| one.1 >= FEWEST).map(|one| one.0).collect();
    let &[first, second] = &long[..] else { return vec![photos] };
    let of_both: Vec<usize> =
        series.iter().copied().filter(|one| [first, second].contains(one)).collect();
    if of_both.windows(2).filter(|two| two[0] != two[1]).count() < CHANGES {
        return vec![photos];
    }
    let (mut one, mut other) = (Vec::new(), Vec::new());
    for (photo, series) in photos.into_iter().zip(series) {
        if series == second { other.push(photo) } else { one.push(photo) }
    }
    vec![one, other]
}

/// For each photograph its series: of the same letters, of numbers near each other.
fn series(photos: &[Photo]) -> Vec<usize> {
    let keys: Vec<(String, u64)> = photos.iter().map(|photo| parts(&photo.name())).collect();
    let mut order: Vec<usize> = (0..keys.len()).collect();
    order.sort_by(|&a, &b| keys[a].cmp(&keys[b]));
    let mut series = vec![0; keys.len()];
    for pair in order.windows(2) {
        let (a, b) = (&keys[pair[0]], &keys[pair[1]]);
        let follows = a.0 == b.0 && b.1 - a.1 <= FURTHER;
        series[pair[1]] = series[pair[0]] + usize::from(!follows);
    }
    series
}

/// The letters before the number of a name, and the number; names that hold a time are of one series.
fn parts(name: &str) -> (String, u64) {
    /// A longer run of figures is a date or a time.
    const LONGEST: usize = 7;
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    let letters = stem.trim_end_matches(|c: char| c.is_ascii_digit());
    let figures = &stem[letters.len()..];
    let dated = stem.split(|c: char| !c.is_ascii_digit()).any(|run| run.len() > LONGEST);
    if dated || figures.is_empty() || figures.len() > LONGEST {
        return (String::new(), 0);
    }
    (letters.to_lowercase(), figures.parse().unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::model::{FileKind, PhotoGps, SourceFile};

    fn photo(name: &str, minute: i8) -> Photo {
        Photo {
            source: SourceFile {
                path: name.into(),
                kind: FileKind::Photo,
                bytes: 1,
                hash: name.into(),
            },
            camera: crate::model::Camera::default(),
            taken: Some(date(2026, 5, 2).at(9, minute, 0, 0)),
            offset: None,
            gps: PhotoGps::default(),
            remarks: Vec::new(),
            damaged: false,
        }
    }

    fn divided(names: &[&str]) -> Vec<usize> {
        let minutes = 0_i8..;
        let photos = names.iter().zip(minutes).map(|(name, minute)| photo(name, minute)).collect();
        of_each_camera(photos).iter().map(Vec::len).collect()
    }

    #[test]
    fn two_series_at_the_same_time_are_of_two_cameras() {
        let mixed = [
            "IMG_1001.JPG",
            "IMG_7001.JPG",
            "IMG_1002.JPG",
            "IMG_7002.JPG",
            "IMG_1003.JPG",
            "IMG_7003.JPG",
            "IMG_1004.JPG",
            "IMG_7004.JPG",
        ];
        assert_eq!(divided(&mixed), [4, 4]);
        // a counter that starts again, and names by the time
        let after = [
            "IMG_9996.JPG",
            "IMG_9997.JPG",
            "IMG_9998.JPG",
            "IMG_9999.JPG",
            "IMG_0001.JPG",
            "IMG_0002.JPG",
            "IMG_0003.JPG",
            "IMG_0004.JPG",
        ];
        assert_eq!(divided(&after), [8]);
        let timed: Vec<String> = (0..9).map(|k| format!("20260502_09{k}000.jpg")).collect();
        assert_eq!(divided(&timed.iter().map(String::as_str).collect::<Vec<_>>()), [9]);
        assert_eq!(divided(&[]), [0]);
    }
}
