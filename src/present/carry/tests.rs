use super::*;
use crate::earth::daylight::Illumination;
use crate::units::{MagneticModel, Seconds};
use crate::wayout::paths::PartEdge;

pub(super) fn carry() -> Carry {
    let centre = LatLon::new(-42.61, 146.1).unwrap();
    let noon: Timestamp = "2026-05-16T02:00:00Z".parse().unwrap();
    let declination = Declination {
        east: Degrees(14.8),
        uncertainty: Degrees(0.4),
        model: MagneticModel::Stated,
        date: jiff::civil::date(2026, 5, 16),
        place: centre,
    };
    let near = LatLon::new(-42.611, 146.101).unwrap();
    Carry {
        made: noon,
        day: jiff::civil::date(2026, 5, 16),
        zone: (TimeZone::UTC, "UTC".to_owned()),
        centre,
        reach: Metres(3_000.0),
        light: vec![Interval {
            light: Illumination::Day,
            from: noon,
            to: Seconds(86_400.0).after(noon),
        }],
        declination,
        declinations: vec![Degrees(14.8); 9],
        compass: Compass::Good,
        safe: vec![Goal { name: "Sawmill gate".to_owned(), at: centre }],
        closed: vec![vec![vec![centre, near]]],
        paths: Some(Part {
            nodes: vec![(centre, Metres(5.0)), (near, Metres(7.0))],
            edges: vec![PartEdge { from: 0, to: 1, passes: 3, gap: false }],
        }),
        land: None,
        base: Vec::new(),
        track: Vec::new(),
        sites: Vec::new(),
        round: None,
        withheld: 0,
        paths_withheld: false,
        sealed: None,
        paces: 148.0,
        steep: Degrees(30.0),
        first_number: "AQ-0051".to_owned(),
    }
}

#[test]
fn hostile_names_stay_data() {
    let hostile = "</script><script>alert(1)</script>\u{2028}<img src=x onerror=alert(1)>";
    let mut carried = carry();
    hostile.clone_into(&mut carried.safe[0].name);
    hostile.clone_into(&mut carried.first_number);
    carried.sites.push(CarriedSite {
        id: 1,
        name: Some(hostile.to_owned()),
        at: [-42.6, 146.1],
        radius_m: 20.0,
        generalised: false,
        taxa: vec![hostile.to_owned()],
        last: None,
    });
    let page = alone(&carried);
    // the data and the program
    assert_eq!(page.matches("<script").count(), 2);
    assert_eq!(page.matches("</script").count(), 2);
    let data = page.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
    assert!(!page.contains("<img") && !data.contains('\u{2028}') && !data.contains('<'));
}

#[test]
fn the_page_asks_for_nothing() {
    let page = alone(&carry());
    assert!(page.contains("default-src &#39;none&#39;") && !page.contains("unsafe-inline"));
    // the namespace of GPX is the only address
    let addresses: Vec<&str> = page
        .match_indices("http")
        .map(|(at, _)| &page[at..(at + 30).min(page.len())])
        .filter(|text| text.starts_with("http://") || text.starts_with("https://"))
        .collect();
    assert!(addresses.iter().all(|text| text.starts_with("http://www.topografix.com/GPX/")));
    for forbidden in ["fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "innerHTML", "eval("] {
        assert!(!page.contains(forbidden), "{forbidden}");
    }
    assert!(!page.contains(" style=\"") && !page.contains(" onclick"));
}

#[test]
fn the_rules_come_first_and_need_no_program() {
    let page = alone(&carry());
    let rules = page.find("Lost, hurt or dark: the rules").unwrap();
    assert!(rules < page.find("id=\"way\"").unwrap());
    for caution in crate::model::Caution::ALL.map(crate::present::way_out::findings::caution) {
        let escaped = caution.replace('\'', "&#39;");
        assert!(page.find(&escaped).unwrap() < page.find("id=\"way\"").unwrap(), "{caution}");
    }
}

#[test]
fn a_new_page_replaces_the_kept_one() {
    let worker = |carried: &Carry| folder(carried).into_iter().nth(1).unwrap().1;
    let first = carry();
    let mut second = carry();
    second.paces = 116.0;
    assert_ne!(worker(&first), worker(&second));
    assert!(!worker(&first).contains("PAGE_MARK"));
    let files = folder(&first);
    assert!(files[0].1.contains("worker-src &#39;self&#39;"));
    serde_json::from_str::<serde_json::Value>(&files[2].1).unwrap();
}
