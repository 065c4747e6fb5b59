//! Reads the corrected clock of a camera on a day. Layer: `commands`.

use jiff::civil::Date;

use super::super::day::signed_clock;
use super::super::meant;
use crate::error::{Error, Result};
use crate::model::{AmendedSubject, Patch};
use crate::store::Store;
use crate::units::Seconds;

/// One amendment for each outing of the day on which the camera was used.
pub(super) fn patches(
    store: &Store,
    camera: &str,
    day: Date,
    collector: Option<&str>,
    clock: &str,
) -> Result<Vec<(AmendedSubject, Patch)>> {
    let ahead = ahead(clock)?;
    let outings = meant::outings(store, day, collector)?;
    let (mut list, mut known) = (Vec::new(), Vec::new());
    for outing in outings {
        let names = store.camera_names(outing.id)?;
        let mut same: Vec<&String> = names.iter().filter(|name| is_meant(name, camera)).collect();
        if same.len() > 1 && same.iter().any(|name| name.eq_ignore_ascii_case(camera)) {
            same.retain(|name| name.eq_ignore_ascii_case(camera));
        }
        match same[..] {
            [] => known.extend(names),
            [only] => list.push((
                AmendedSubject::Camera { outing: outing.id, camera: only.clone() },
                Patch::CameraClock(ahead),
            )),
            _ => {
                return Err(Error::input(format!("several cameras match \"{camera}\""))
                    .because(names.join(", "))
                    .hint("write the whole name"));
            }
        }
    }
    if list.is_empty() {
        return Err(Error::input(format!("no camera on {day} matches \"{camera}\""))
            .because(if known.is_empty() {
                "that day has no photographs".to_owned()
            } else {
                format!("its cameras are {}", known.join(", "))
            })
            .hint("write the name, or a part of it, as it is stored"));
    }
    Ok(list)
}

fn is_meant(name: &str, asked: &str) -> bool {
    name.to_lowercase().contains(&asked.trim().to_lowercase())
}

fn ahead(clock: &str) -> Result<Seconds> {
    signed_clock(clock)
        .filter(|seconds| seconds.abs() <= super::super::day::LARGEST_OFFSET)
        .map(|seconds| Seconds(seconds as f64))
        .ok_or_else(|| {
            Error::input(format!("--clock {clock} cannot be read"))
                .because("expected +HH:MM:SS or -HH:MM:SS, the camera's reading less local time")
                .hint("a camera that is 1 h 2 min ahead: --clock +01:02:00")
        })
}
