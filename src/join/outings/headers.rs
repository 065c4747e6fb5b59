//! Reports problems with the headers of photographs, once for each kind. A photograph with a damaged header
//! is set aside, one with an incomplete header gets a note. Layer: `join`.

use crate::error::Error;
use crate::model::Photo;

/// The number of names shown of a long list.
const SHOWN: usize = 6;

/// What is set aside and what is noted.
pub(super) fn reported(photos: &[Photo]) -> (Vec<Error>, Vec<Error>) {
    let (damaged, sound): (Vec<&Photo>, Vec<&Photo>) =
        photos.iter().filter(|photo| !photo.remarks.is_empty()).partition(|photo| photo.damaged);
    let damaged = by_oddity(&damaged).into_iter().map(|(why, photos)| {
        said(&photos, "was not read completely", "were not read completely", why)
            .hint("copy it again from the camera; the readable part is used")
    });
    let odd = by_oddity(&sound).into_iter().map(|(why, photos)| {
        said(&photos, "has an incomplete header", "have incomplete headers", why)
            .hint("add a time or coordinates to the record")
    });
    (damaged.collect(), odd.collect())
}

fn said(photos: &[&Photo], one: &str, several: &str, why: String) -> Error {
    let names: Vec<String> = photos.iter().take(SHOWN).map(|photo| photo.name()).collect();
    let more = match photos.len().saturating_sub(SHOWN) {
        0 => String::new(),
        rest => format!(" and {rest} more"),
    };
    let verb = if photos.len() == 1 { one } else { several };
    let error = Error::input(format!("{}{more} {verb}", names.join(", "))).because(why);
    match photos {
        [photo] => error.in_file(&photo.source.path),
        _ => error,
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
