//! Writes position, method and uncertainty of a find in Darwin Core terms. Layer: `present`.

use super::Terms;
use crate::model::{
    AnchorKind, Combination, Generalised, GridCell, GroundElevation, KeptFind, Located, Record,
};
use crate::present::{derived_time, sensitive};
use crate::units::Metres;

/// The georeferencing method of every position.
pub(super) const PROTOCOL: &str = "point-radius method after Chapman & Wieczorek 2020, \
    Georeferencing Best Practices; the radius holds the true position with 95 % probability";

/// Seven decimals of a degree are a centimetre.
pub(crate) fn seven_decimals(degrees: f64) -> f64 {
    (degrees * 1e7).round() / 1e7
}

/// Rounded up, so that the uncertainty is not understated.
fn rounded_up(length: Metres) -> f64 {
    (length.0 * 10.0 - 1e-6).ceil().max(1.0) / 10.0
}

pub(super) fn add(terms: &mut Terms, find: &KeptFind) {
    match &find.place {
        Some(place) => {
            terms
                .number("decimalLatitude", Some(seven_decimals(place.at.latitude())))
                .number("decimalLongitude", Some(seven_decimals(place.at.longitude())))
                .text("geodeticDatum", "EPSG:4326")
                .number("coordinateUncertaintyInMeters", Some(rounded_up(place.radius.metres())))
                .text("georeferenceProtocol", PROTOCOL)
                .text("georeferenceSources", sources(find));
            if find.generalised.is_none() {
                terms.text("georeferenceRemarks", remarks(find, place));
            }
        }
        None => {
            terms.some("georeferenceRemarks", find.why_unlocated.clone());
        }
    }
    as_written(terms, &find.record);
    elevation(terms, find);
    if let Some(generalised) = &find.generalised {
        generalisation(terms, generalised);
    }
}

/// The generalisation of the position, in Darwin Core terms.
fn generalisation(terms: &mut Terms, generalised: &Generalised) {
    let how = match &generalised.cell {
        Some(cell) => format!(
            "coordinates rounded to a decimal geographic grid of {}, held to 0.0000001 degree; sensitivity {}",
            cell_in_words(cell),
            generalised.level
        ),
        None => "coordinates not given, held to 0.0000001 degree; sensitivity extreme".to_owned(),
    };
    terms
        .number("coordinatePrecision", generalised.cell.map(|cell| tidy(cell.longitude_step)))
        .text("dataGeneralizations", how)
        .text(
            "informationWithheld",
            format!("{} withheld; ask the collector", generalised.withheld.join(", ")),
        );
}

/// A cell's sides in degrees and on the ground.
fn cell_in_words(cell: &GridCell) -> String {
    let (north, east) = sensitive::sides(cell);
    let (latitude, longitude) = (tidy(cell.latitude_step), tidy(cell.longitude_step));
    let degrees = if latitude.total_cmp(&longitude).is_eq() {
        format!("{latitude} degree")
    } else {
        format!("{latitude} degree of latitude by {longitude} of longitude")
    };
    format!(
        "{degrees} (about {} north-south by {} east-west)",
        two_figures(north),
        two_figures(east)
    )
}

/// A step without floating-point rounding digits.
fn tidy(degrees: f64) -> f64 {
    (degrees * 1e6).round() / 1e6
}

/// Metres or kilometres to two significant digits.
fn two_figures(length: Metres) -> String {
    let step = 10_f64.powf(length.0.max(1.0).log10().floor() - 1.0);
    let rounded = (length.0 / step).round() * step;
    if rounded < 1_000.0 {
        format!("{rounded:.0} m")
    } else if rounded < 10_000.0 {
        format!("{:.1} km", rounded / 1_000.0)
    } else {
        format!("{:.0} km", rounded / 1_000.0)
    }
}

/// The types of evidence, most reliable first, each once.
fn sources(find: &KeptFind) -> String {
    let mut sources: Vec<&str> = Vec::new();
    for (kind, _) in &find.anchors {
        for source in evidence(*kind) {
            if !sources.contains(source) {
                sources.push(source);
            }
        }
    }
    sources.join(" | ")
}

fn evidence(kind: AnchorKind) -> &'static [&'static str] {
    match kind {
        AnchorKind::Correction => &["position corrected by the collector"],
        AnchorKind::Coordinates => &["coordinates in the field record"],
        AnchorKind::Waypoint => &["GPS waypoint"],
        AnchorKind::PhotoPosition => &["GPS position in the photograph"],
        AnchorKind::PhotoTime => &["GPS track", "time of photographs"],
        AnchorKind::WrittenTime => &["GPS track", "time in the field record"],
    }
}

fn remarks(find: &KeptFind, place: &Located) -> String {
    let mut remarks: Vec<String> = find
        .anchors
        .iter()
        .map(|(_, basis)| basis.clone())
        .filter(|basis| !basis.is_empty())
        .collect();
    match place.combination {
        Combination::Single => {}
        Combination::Agreed => remarks.push("these agreed and were combined".to_owned()),
        Combination::MostTrusted => {
            remarks.push("others disagreed; the most reliable was used".to_owned());
        }
    }
    let parts: Vec<String> =
        place.parts.iter().map(|part| format!("{} {}", part.kind.words(), part.size)).collect();
    if !parts.is_empty() {
        remarks.push(format!("radius from {}", parts.join(", ")));
    }
    if let Some(ground) = &find.ground {
        remarks.push(format!("elevation {}", elevation_of(ground)));
    }
    if let Some(derived) = derived_time::beside_written(find) {
        remarks.push(format!(
            "the time used for its position, {derived}, differs from the written time"
        ));
    }
    remarks.extend(find.conflicts.iter().map(|conflict| format!("conflict: {conflict}")));
    remarks.join("; ")
}

fn as_written(terms: &mut Terms, record: &Record) {
    let typed = |term: &str| record.other(term).map(str::to_owned);
    if let Some(own) = typed("verbatimCoordinates") {
        // their system is their own, not that of the coordinates that were read
        terms
            .text("verbatimCoordinates", own)
            .some("verbatimCoordinateSystem", typed("verbatimCoordinateSystem"))
            .some("verbatimSRS", typed("verbatimSRS"));
    } else if let Some(written) = &record.coordinates {
        let system = written.system.clone();
        let is_grid = system.as_ref().is_some_and(|system| {
            ["MGRS", "UTM"].iter().any(|grid| system.eq_ignore_ascii_case(grid))
        });
        let term = if is_grid { "verbatimCoordinateSystem" } else { "verbatimSRS" };
        terms.text("verbatimCoordinates", written.verbatim.clone()).some(term, system);
    }
}

/// The written elevation; else that of the ground, as an interval as wide as its uncertainty.
fn elevation(terms: &mut Terms, find: &KeptFind) {
    let record = &find.record;
    let (low, high) = match (&find.ground, record.elevation) {
        (Some(ground), None) => (
            Some((ground.elevation - ground.within).0.floor()),
            Some((ground.elevation + ground.within).0.ceil()),
        ),
        _ => (record.elevation.map(|low| low.0), record.highest().map(|high| high.0)),
    };
    terms
        .number("minimumElevationInMeters", low)
        .number("maximumElevationInMeters", high)
        .some("verbatimElevation", record.written_elevation());
}

/// `431 m within 19 m at 95 % from the elevation model N57E011.hgt`.
pub(crate) fn elevation_of(ground: &GroundElevation) -> String {
    let GroundElevation { elevation, within, tile } = ground;
    format!("{:.0} m within {:.0} m at 95 % from the elevation model {tile}", elevation.0, within.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::darwin_core::{self, Value};
    use crate::present::fixture;

    #[test]
    fn elevation_of_the_ground_is_an_interval_with_its_source() {
        let mut find = fixture::kept_find("TH-0012");
        find.record.elevation = None;
        let value = |find: &KeptFind, term: &str| {
            darwin_core::occurrence(find)
                .into_iter()
                .find(|(own, _)| *own == term)
                .map(|(_, own)| own)
        };
        assert_eq!(value(&find, "minimumElevationInMeters"), None);
        let tile = "N57E011.hgt".to_owned();
        find.ground =
            Some(GroundElevation { elevation: Metres(431.2), within: Metres(19.4), tile });
        assert_eq!(value(&find, "minimumElevationInMeters"), Some(Value::Number(411.0)));
        assert_eq!(value(&find, "maximumElevationInMeters"), Some(Value::Number(451.0)));
        assert_eq!(value(&find, "verbatimElevation"), None);
        let remarks = value(&find, "georeferenceRemarks").unwrap().to_string();
        let expected = "elevation 431 m within 19 m at 95 % from the elevation model N57E011.hgt";
        assert!(remarks.contains(expected), "{remarks}");
        // what was written counts
        find.record.elevation = Some(Metres(440.0));
        assert_eq!(value(&find, "minimumElevationInMeters"), Some(Value::Number(440.0)));
    }
}
