//! How a collector writes positions and names into free text.

use trug::earth::grid;
use trug::units::{LatLon, Metres};

/// A position in one of the notations of maps, receivers and links.
pub(crate) fn position(latitude: f64, longitude: f64, manner: usize) -> String {
    let at = LatLon::new(latitude, longitude).unwrap();
    let (south, west) =
        (if latitude < 0.0 { 'S' } else { 'N' }, if longitude < 0.0 { 'W' } else { 'E' });
    // seconds are cut, so that none becomes sixty
    let parts = |degrees: f64| {
        let degrees = degrees.abs();
        let minutes = degrees.fract() * 60.0;
        (degrees.trunc(), minutes.trunc(), (minutes.fract() * 600.0).floor() / 10.0)
    };
    let ((d, m, s), (e, n, t)) = (parts(latitude), parts(longitude));
    let comma = |degrees: f64| format!("{degrees:.5}").replace('.', ",");
    let utm = grid::utm(at);
    let (x, y) = (utm.easting().0, utm.northing().0);
    match manner % 11 {
        0 => format!(
            "{d}\u{b0}{m}\u{2032}{s:.1}\u{2033}{south} {e}\u{b0}{n}\u{2032}{t:.1}\u{2033}{west}"
        ),
        1 => format!(
            "{d}\u{b0}{:.3}\u{2032} {south}, {e}\u{b0}{:.3}\u{2032} {west}",
            m + s / 60.0,
            n + t / 60.0
        ),
        2 => format!("{} / {}", comma(latitude), comma(longitude)),
        3 => format!("lat {latitude:.5} and long {longitude:.5}"),
        4 => format!("geo:{latitude:.5},{longitude:.5};u=10"),
        5 => format!("https://maps.example.org/place/@{latitude:.5},{longitude:.5},15z"),
        6 => format!(
            "{d} deg {m} min {} sec {south} - {e} deg {n} min {} sec {west}",
            s.floor(),
            t.floor()
        ),
        7 => format!("zone {} {x:.0} mE {y:.0} mN", utm.zone()),
        8 => grid::mgrs(at, Metres(10.0)),
        9 => format!("{d} {m} {} / {e} {n} {}", s.floor(), t.floor()),
        _ => format!("GR {:03.0} {:03.0}", (x / 100.0).floor() % 1e3, (y / 100.0).floor() % 1e3),
    }
}

/// A name as people write it.
pub(crate) fn name(taxon: &str, manner: usize) -> String {
    let (genus, epithet) = taxon.split_once(' ').unwrap();
    let (first, rest) = epithet.split_at(3);
    match manner % 9 {
        0 => format!("{}. {epithet}", &genus[..1]),
        1 => format!("{genus} {epithet} gr."),
        2 => format!("{genus} cf. {epithet}"),
        3 => format!("{genus} {first}\u{ad}{rest} agg."),
        4 => format!("{}  {first}-{rest}", genus.to_uppercase()),
        5 => format!("{genus}\u{200b} {epithet} s. lat."),
        6 => format!("{}.{epithet} Auct.", &genus[..3]),
        _ => taxon.to_owned(),
    }
}
