//! Reports copies that earlier runs made of photographs which are withheld now: one warning for all, every name in
//! the JSON. Layer: `commands`.

use std::collections::HashSet;
use std::path::PathBuf;

use serde::Serialize;

use crate::error::Error;

/// More copies than this are counted.
const NAMED: usize = 3;

/// A copy that states more than is to be stated now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct StaleCopy {
    pub(super) photo: PathBuf,
    pub(super) copy: PathBuf,
}

/// Each copy once: two photographs of one name can have had the same.
pub(super) fn each_once(copies: &[StaleCopy]) -> Vec<&StaleCopy> {
    let mut named = HashSet::new();
    copies.iter().filter(|stale| named.insert(&stale.copy)).collect()
}

/// One warning about all of them; `None` where there are none.
pub(super) fn report(copies: &[&StaleCopy]) -> Option<Error> {
    match copies {
        [] => None,
        [one] => Some(
            Error::input(format!("{} is withheld now, and a copy of it exists", one.photo.display()))
                .because(format!("{} was made before the photograph became sensitive", one.copy.display()))
                .hint("remove this copy and its XMP file, if any, before you share the folder"),
        ),
        several => Some(
            Error::input(format!(
                "{} photographs are withheld now, and copies of them exist",
                several.len()
            ))
            .because(format!("{} were made before the photographs became sensitive", listed(several)))
            .hint("remove these copies and their XMP files, if any, before you share the folder; --json lists all"),
        ),
    }
}

fn listed(copies: &[&StaleCopy]) -> String {
    let names = copies.iter().take(NAMED).map(|stale| stale.copy.display().to_string());
    let names: Vec<String> = names.collect();
    match copies.len().saturating_sub(NAMED) {
        0 => names.join(", "),
        more => format!("{} and {more} more", names.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_copies_are_one_warning() {
        let copies: Vec<StaleCopy> = (1..=400)
            .map(|one| StaleCopy {
                photo: format!("day/P{one}.jpg").into(),
                copy: format!("copies/P{one}.jpg").into(),
            })
            .collect();
        let once = each_once(&copies);
        assert_eq!(once.len(), 400);
        let all = report(&once).unwrap().to_string();
        assert!(all.contains("400 photographs are withheld now"), "{all}");
        assert!(all.contains("copies/P3.jpg and 397 more") && all.lines().count() <= 3, "{all}");
        let twice =
            [copies[0].clone(), StaleCopy { photo: "b/P1.jpg".into(), ..copies[0].clone() }];
        let one = report(&each_once(&twice)).unwrap().to_string();
        assert!(one.contains("day/P1.jpg is withheld now"), "{one}");
        assert!(report(&[]).is_none());
    }
}
