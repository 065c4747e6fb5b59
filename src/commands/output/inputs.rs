//! Recognises inputs that other commands than an import read, so that none is ever replaced: elevation tiles, tables of
//! weather, checklists, settings. Layer: `commands`.

use std::path::Path;

use crate::earth::elevation;
use crate::error::read_regular;
use crate::ingest::{record, track, weather};
use crate::units::{LatLon, Metres};

/// A longer text is no file of settings.
const LONGEST_SETTINGS: u64 = 1 << 20;
/// A longer table is not read whole to know it.
const LONGEST_TABLE: u64 = 64 << 20;

/// Why a file that begins with these bytes must not be replaced; `None` where no command reads it.
pub(super) fn other_input(place: &Path, head: &[u8]) -> Option<&'static str> {
    if elevation::looks_like_tile(place, head) {
        return Some("it is an elevation tile, which trug did not make");
    }
    let length = place.metadata().map_or(u64::MAX, |found| found.len());
    let own = record::is_own_export(head) || track::is_own_export(head);
    if own || !record::is_text(head) || length > LONGEST_TABLE {
        return None;
    }
    if length <= LONGEST_SETTINGS && is_settings(place) {
        return Some("it is a TOML file of settings, which trug did not make");
    }
    if is_weather(place) {
        return Some("it is a table of weather, which trug did not make");
    }
    if record::is_checklist(head) {
        return Some("it is a checklist of taxa, which trug did not make");
    }
    None
}

/// Whether it is TOML with at least one setting. The meanings of columns and the layouts of labels are.
fn is_settings(place: &Path) -> bool {
    let Ok(bytes) = read_regular(place) else { return false };
    let text = String::from_utf8_lossy(&bytes);
    let text = text.trim_start_matches('\u{feff}');
    toml::from_str::<toml::Table>(text).is_ok_and(|settings| !settings.is_empty())
}

/// Whether it has daily weather, wherever its station may be.
fn is_weather(place: &Path) -> bool {
    let somewhere = weather::Options {
        station: Some("station".to_owned()),
        at: Some(LatLon::clamped(0.0, 0.0)),
        elevation: Some(Metres(0.0)),
        ..weather::Options::default()
    };
    weather::read(place, &somewhere).is_ok()
}
