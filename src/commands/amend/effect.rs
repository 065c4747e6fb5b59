//! Recognises corrections that change nothing: they are not journalled. Layer: `commands`.

use std::path::Path;

use super::edited_listing::accepted;
use crate::error::{Error, Result};
use crate::model::{AmendedSubject, Determination, KeptFind, Located, Patch, WrittenTime};
use crate::store::Store;

/// The corrections that have an effect on a find, and the properties that are as the others say already.
pub(super) fn of_find(find: &KeptFind, patches: Vec<Patch>) -> (Vec<Patch>, Vec<String>) {
    let (same, effective): (Vec<_>, Vec<_>) =
        patches.into_iter().partition(|patch| is_so(find, patch));
    (effective, same.iter().map(|patch| patch.property().to_owned()).collect())
}

/// The corrected clocks that are not in force yet.
pub(super) fn of_cameras(
    store: &Store,
    list: Vec<(AmendedSubject, Patch)>,
) -> Result<Vec<(AmendedSubject, Patch)>> {
    let mut effective = Vec::new();
    for (subject, patch) in list {
        let in_force = match (&subject, &patch) {
            (AmendedSubject::Camera { outing, camera }, Patch::CameraClock(ahead)) => {
                store.amended_clock(*outing, camera)? == Some(*ahead)
            }
            _ => false,
        };
        if !in_force {
            effective.push((subject, patch));
        }
    }
    Ok(effective)
}

/// The error where no correction has an effect.
pub(super) fn nothing(of: &str, properties: &[String]) -> Error {
    Error::input("the correction changes nothing, so nothing was written")
        .because(format!("{of} has exactly that {}", properties.join(", ")))
        .hint("list what is known with trug show, what was corrected with trug history")
}

/// Whether the find is as the correction says. A position or a time that evidence gives is not stated: stating
/// the same has an effect, since it outranks evidence from then on.
fn is_so(find: &KeptFind, patch: &Patch) -> bool {
    let stated = |property: &str| find.amended.iter().any(|amended| amended.property == property);
    match patch {
        Patch::Text { property, value } => property.value(&find.record) == *value,
        Patch::Collector(name) => find.collector.as_ref() == Some(name),
        Patch::Outing(outing) => find.outing == *outing,
        Patch::Withdrawn(withdrawn) => find.withdrawn.is_some() == *withdrawn,
        Patch::Position { latitude, longitude, within_m } => {
            // a tenth of a millimetre, below the last digit that can be written
            let same = |place: &Located| {
                (place.at.latitude() - latitude).abs() < 1e-9
                    && (place.at.longitude() - longitude).abs() < 1e-9
                    && (place.radius.metres().0 - within_m).abs() < 1e-6
            };
            stated("position") && find.place.as_ref().is_some_and(same)
        }
        Patch::Time { clock, within } => {
            let same = |written: WrittenTime| {
                written.clock == clock.time() && written.precision.step().0 >= within.0
            };
            stated("time") && find.date == clock.date() && find.record.time.is_some_and(same)
        }
        Patch::Photographs { add, remove } => {
            let name = |path: &str| {
                Path::new(path).file_name().map(|name| name.to_string_lossy().into_owned())
            };
            let shown: Vec<Option<String>> =
                find.photos.iter().map(|photo| name(&photo.path)).collect();
            let is_shown = |name: &String| shown.contains(&Some(name.clone()));
            add.iter().all(is_shown) && !remove.iter().any(is_shown)
        }
        Patch::Determination(named) => is_known(find, named),
        Patch::Unlocated => stated("position") && find.place.is_none(),
        Patch::Refused { .. } => true,
        Patch::CameraClock(_) => false,
    }
}

/// Whether it says what the accepted identification says, or repeats one that is not accepted.
fn is_known(find: &KeptFind, named: &Determination) -> bool {
    let whole = |named: &Determination| Determination {
        name: named.full_name(),
        author: None,
        ..named.clone()
    };
    let named = whole(named);
    if named.accepted {
        return whole(&accepted(find)) == named;
    }
    find.determinations.iter().any(|own| whole(own) == named)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Field, TextProperty};
    use crate::present::fixture;

    #[test]
    fn only_what_differs_has_an_effect() {
        let find = fixture::kept_find("TH 17");
        let name = find.record.name.clone().unwrap();
        let host = |value: Option<String>| Patch::Text { property: TextProperty::Host, value };
        let same = vec![
            host(find.record.host.clone()),
            Patch::Text { property: TextProperty::Field(Field::Other("wind".into())), value: None },
            Patch::Collector(find.collector.clone().unwrap()),
            Patch::Withdrawn(false),
            Patch::Outing(find.outing),
            Patch::Determination(Determination { accepted: true, ..accepted(&find) }),
        ];
        let count = same.len();
        let (effective, properties) = of_find(&find, same);
        assert_eq!((effective.len(), properties.len()), (0, count), "{effective:?}");
        let place = find.place.as_ref().unwrap();
        let different = vec![
            host(Some("Acacia".into())),
            Patch::Withdrawn(true),
            // not stated before
            Patch::Position {
                latitude: place.at.latitude(),
                longitude: place.at.longitude(),
                within_m: place.radius.metres().0,
            },
            Patch::Determination(Determination {
                name,
                determiner: Some("I. Marrowby".into()),
                accepted: true,
                ..Determination::default()
            }),
        ];
        let (effective, properties) = of_find(&find, different.clone());
        assert_eq!((effective, properties), (different, Vec::new()));
    }
}
