//! Reports problems with the headers of photographs, once for each kind. A photograph with a damaged header
//! is set aside, one with an incomplete header gets a note. Layer: `join`.

use crate::error::Error;
use crate::model::{Photo, PhotographsNote};

/// What is set aside and what is noted.
pub(super) fn reported(photos: &[Photo]) -> (Vec<Error>, Vec<Error>) {
    let (damaged, sound): (Vec<&Photo>, Vec<&Photo>) =
        photos.iter().filter(|photo| !photo.remarks.is_empty()).partition(|photo| photo.damaged);
    let damaged = by_oddity(&damaged).into_iter().map(|(problem, photos)| {
        let photographs = names(&photos);
        located(&photos, PhotographsNote::PhotographsDamaged { photographs, problem })
    });
    let odd = by_oddity(&sound).into_iter().map(|(problem, photos)| {
        let photographs = names(&photos);
        located(&photos, PhotographsNote::HeadersIncomplete { photographs, problem })
    });
    (damaged.collect(), odd.collect())
}

fn names(photos: &[&Photo]) -> Vec<String> {
    photos.iter().map(|photo| photo.name()).collect()
}

fn located(photos: &[&Photo], note: PhotographsNote) -> Error {
    match photos {
        [photo] => Error::from(note).in_file(&photo.source.path),
        _ => note.into(),
    }
}

/// The photographs by problem, in order of first occurrence.
fn by_oddity<'a>(photos: &[&'a Photo]) -> Vec<(String, Vec<&'a Photo>)> {
    let mut kinds: Vec<(String, Vec<&Photo>)> = Vec::new();
    for &photo in photos {
        let oddity = photo.remarks.join("; ");
        match kinds.iter_mut().find(|(known, _)| *known == oddity) {
            Some((_, alike)) => alike.push(photo),
            None => kinds.push((oddity, vec![photo])),
        }
    }
    kinds
}
