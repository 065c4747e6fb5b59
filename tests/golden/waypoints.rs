//! Tests which waypoint places a find that names one, and what is said of one of another day or far away.

use crate::run::Desk;

/// A walk to the north on 17 October 2026, a fix every 5 s for 40 minutes from 07:00 UTC.
fn walk(waypoints: &str) -> String {
    let fixes: String = (0..480)
        .map(|k| {
            let (minute, second) = (k / 12, 5 * (k % 12));
            let latitude = 47.9 + 5e-5 * f64::from(k);
            format!(
                "<trkpt lat=\"{latitude:.6}\" lon=\"8.1\"><time>2026-10-17T07:{minute:02}:{second:02}Z</time></trkpt>"
            )
        })
        .collect();
    format!(
        "<gpx version=\"1.1\" creator=\"hand\" xmlns=\"http://www.topografix.com/GPX/1/1\">{waypoints}\
         <trk><trkseg>{fixes}</trkseg></trk></gpx>"
    )
}

fn waypoint(name: &str, latitude: f64, time: &str) -> String {
    let time = if time.is_empty() { String::new() } else { format!("<time>{time}</time>") };
    format!("<wpt lat=\"{latitude}\" lon=\"8.1\">{time}<name>{name}</name></wpt>")
}

/// What `check` says of a find at a written time that names waypoint 001.
fn checked(time: &str, waypoints: &[String]) -> String {
    let desk = Desk::new();
    desk.file("day/walk.gpx", walk(&waypoints.concat()));
    let row = format!("IV 1,2026-10-17,{time},Mycena haematopus,001");
    desk.file("day/notebook.csv", format!("Number,Date,Time,Name,Waypoint\n{row}\n"));
    desk.reported(&["check", "day"])
}

#[test]
fn waypoint_of_the_day_is_used_beside_one_of_another_year() {
    let today = waypoint("001", 47.905, "2026-10-17T07:08:20Z");
    let last_year = waypoint("001", 47.915, "2025-09-02T08:15:00Z");
    for waypoints in [[today.clone(), last_year.clone()], [last_year, today]] {
        let said = checked("", &waypoints);
        assert!(said.contains("1 located") && said.contains("47.90500"), "{said}");
        assert!(!said.contains("another day"), "{said}");
    }
}

#[test]
fn waypoint_of_another_year_is_a_conflict_and_gives_way_to_a_time() {
    let near = [waypoint("001", 47.905, "2025-09-02T08:15:00Z")];
    let said = checked("", &near);
    assert!(said.contains("1 located"), "{said}");
    assert!(said.contains("its waypoint was marked on another day"), "{said}");
    assert!(said.contains("marked on 2025-09-02, not on 2026-10-17"), "{said}");
    // at 09:36 local time the track is 1.6 km away
    let said = checked("09:36", &near);
    assert!(said.contains("written time  ") && !said.contains("47.90500"), "{said}");
    let far = [waypoint("001", 47.88, "2025-09-02T08:15:00Z")];
    let said = checked("", &far);
    assert!(said.contains("1 not") && said.contains("so it is not used"), "{said}");
}

#[test]
fn undated_waypoint_far_from_the_track_places_no_find() {
    let far = [waypoint("001", 48.5, "")];
    let said = checked("09:20", &far);
    assert!(said.contains("1 located") && !said.contains("48.5"), "{said}");
    assert!(said.contains("the waypoint that it names is not used"), "{said}");
    assert!(said.contains("write its coordinates in the record"), "{said}");
    let said = checked("", &far);
    assert!(said.contains("1 not"), "{said}");
}

#[test]
fn waypoints_of_one_name_in_two_places_are_named_as_the_reason() {
    let said = checked("", &[waypoint("001", 47.905, ""), waypoint("001", 47.915, "")]);
    assert!(said.contains("2 waypoints that 001 can mean lie in different places"), "{said}");
}
