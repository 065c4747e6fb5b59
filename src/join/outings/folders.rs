//! Finds the track nearest to a file among the folders: the one whose folder shares the longest path from
//! the root, then the one whose folder holds the file. A tie gives no answer. Layer: `join`.

use std::path::Path;

/// How near a file lies to a track's file; more is nearer.
pub(super) fn nearness(track: &Path, file: &Path) -> (usize, bool) {
    let track = track.parent().unwrap_or(track);
    let folder = file.parent().unwrap_or(file);
    let shared = track.components().zip(folder.components()).take_while(|(a, b)| a == b).count();
    (shared, folder.starts_with(track))
}

/// The one of several that scores highest, if it is one only.
pub(super) fn only_best<T, S: Ord>(scored: impl Iterator<Item = (S, T)>) -> Option<T> {
    let mut best: Option<(S, Option<T>)> = None;
    for (score, what) in scored {
        best = match best {
            Some((least, _)) if score > least => Some((score, Some(what))),
            None => Some((score, Some(what))),
            Some((same, _)) if score == same => Some((same, None)),
            kept => kept,
        };
    }
    best.and_then(|(_, what)| what)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nearest(tracks: &[&str], file: &str) -> Option<usize> {
        let scored = tracks.iter().enumerate();
        only_best(scored.map(|(k, track)| (nearness(Path::new(track), Path::new(file)), k)))
    }

    #[test]
    fn a_file_belongs_to_the_folder_it_lies_in() {
        let apart = ["d/ada/gpx/a.gpx", "d/noel/b.gpx"];
        assert_eq!(nearest(&apart, "d/ada/photos/1.jpg"), Some(0));
        assert_eq!(nearest(&apart, "d/noel/camera/100/1.jpg"), Some(1));
        assert_eq!(nearest(&apart, "d/1.jpg"), None);
        assert_eq!(nearest(&["d/a.gpx", "d/noel/b.gpx"], "d/1.jpg"), Some(0));
        assert_eq!(nearest(&["d/a.gpx", "d/noel/b.gpx"], "d/noel/1.jpg"), Some(1));
        assert_eq!(nearest(&["d/a.gpx", "d/b.gpx"], "d/1.jpg"), None);
    }
}
