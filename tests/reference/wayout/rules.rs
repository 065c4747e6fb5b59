//! Sources: Tobler 1993, NCGIA Technical Report 93-1 (the function; its values by slope computed
//! from it); Naismith 1892; Langmuir 1984 (worked case: 8 km off track, 400 m up, 300 m down at 8
//! degrees); dead reckoning and one in sixty: plain trigonometry.

use trug::units::{Degrees, LatLon, Metres, Radius95, TrueBearing};
use trug::wayout::pace::{Piece, Surface, duration, tobler};
use trug::wayout::start::{Start, Walked, missed_by};

#[test]
fn tobler_by_slope() {
    // printed to 0.01 km/h
    for (degrees, expected) in [
        (-30.0_f64, 0.95),
        (-20.0, 2.00),
        (-10.0, 3.86),
        (-5.0, 5.26),
        (-2.8624, 6.00),
        (0.0, 5.04),
        (5.0, 3.71),
        (10.0, 2.72),
        (20.0, 1.41),
        (30.0, 0.67),
    ] {
        let speed = tobler(degrees.to_radians().tan(), Surface::Path).0 * 3.6;
        assert!((speed - expected).abs() < 0.0051, "{degrees}: {speed}");
        let off = tobler(degrees.to_radians().tan(), Surface::OffPath).0 * 3.6;
        assert!((off / speed - 0.6).abs() < 1e-12);
    }
}

fn piece(length: f64, rise: f64, surface: Surface) -> Piece {
    Piece { length: Metres(length), rise: Metres(rise), surface }
}

#[test]
fn naismith_and_langmuir() {
    let hours = |pieces: &[Piece]| duration(pieces).naismith_langmuir.0 / 3_600.0;
    // Naismith: 20 km and 1 km of climb are 5.667 h
    assert!((hours(&[piece(20_000.0, 1_000.0, Surface::Path)]) - 5.667).abs() < 0.001);
    // Langmuir's worked case, 2.50 h: the descent of 300 m at 8 degrees takes 2,135 m of the 8 km
    let down = 300.0 / 8_f64.to_radians().tan();
    let pieces =
        [piece(8_000.0 - down, 400.0, Surface::OffPath), piece(down, -300.0, Surface::OffPath)];
    assert!((hours(&pieces) - 2.50).abs() < 0.005, "{}", hours(&pieces));
    // steeper than 12 degrees: ten minutes more
    let steep = 300.0 / 20_f64.to_radians().tan();
    let level = steep / 4_000.0;
    let fall = hours(&[piece(steep, -300.0, Surface::OffPath)]);
    assert!((fall - level - 1.0 / 6.0).abs() < 1e-9);
    // gentler than 5 degrees: no correction
    let gentle = hours(&[piece(10_000.0, -300.0, Surface::Path)]);
    assert!((gentle - 2.0).abs() < 1e-9);
}

#[test]
fn one_in_sixty_and_dead_reckoning() {
    assert!((missed_by(Metres(1_000.0), Degrees(1.0)).0 - 17.5).abs() < 0.06);
    let sure = Radius95::new(Metres(1e-6)).unwrap();
    let start = Start::stated(LatLon::new(-42.0, 146.0).unwrap(), sure);
    let walked = Walked { bearing: TrueBearing::new(Degrees(33.0)), distance: Metres(1_000.0) };
    let ellipse = start.carried_on(&[walked]).ellipse.unwrap();
    let sigma = ellipse.major.hypot(ellipse.minor).0 / Radius95::PER_SIGMA;
    assert!((sigma - 72.4).abs() < 0.1, "{sigma}");
}
