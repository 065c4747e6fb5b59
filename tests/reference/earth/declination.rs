//! Source: `data/wmm2025.csv`, the test values published with the World Magnetic Model 2025.

use jiff::civil::date;
use trug::earth::declination;
use trug::units::{LatLon, Metres, SeaLevelHeight};

use super::{number, rows};

/// The table prints hundredths: half a unit, and a little for 32-bit arithmetic and whole days.
const DEGREES: f64 = 0.006;

#[test]
fn all_published_values_are_met() {
    let table = rows("wmm2025.csv");
    assert_eq!(table.len(), 100);
    let mut worst: f64 = 0.0;
    for row in &table {
        let year = number(row, 0);
        let day = date(
            year.floor() as i16,
            if year.fract() > 0.0 { 7 } else { 1 },
            if year.fract() > 0.0 { 2 } else { 1 },
        );
        let height = SeaLevelHeight(Metres(number(row, 1) * 1e3));
        let place = LatLon::new(number(row, 2), number(row, 3)).unwrap();
        let field = declination::field(place, height, day).unwrap();
        let off = (field.declination.east.0 - number(row, 4)).abs();
        worst = worst.max(off);
        assert!(off < DEGREES, "{row:?} {field:?}");
        assert!((field.horizontal / number(row, 6) - 1.0).abs() < 2e-4, "{row:?} {field:?}");
        let expected = 0.26_f64.hypot(5_417.0 / number(row, 6));
        assert!((field.declination.uncertainty.0 - expected).abs() < 1e-3);
    }
    assert!(worst > 0.001, "a table of hundredths cannot be met so well: {worst}");
}
