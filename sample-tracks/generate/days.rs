//! Generates the days of 2026, each with common problems of real recordings.

use jiff::civil::date;

use crate::drawing::Drawing;
use crate::notebook::{self, Form, Line};
use crate::outing::{Camera, Outing, Plan, Shot, Truth};
use crate::receiver::{Receiver, Recorded};
use crate::society::{ADA, IREN, NOEL, TOVE};
use crate::tracks::{self, Mark, PHONE, RECEIVER};

/// Everything that one folder holds, and the truth about it.
pub(crate) struct Folder {
    pub(crate) name: String,
    pub(crate) tracks: Vec<(String, String)>,
    pub(crate) shots: Vec<Shot>,
    pub(crate) form: Form,
    pub(crate) lines: Vec<Line>,
    /// One for each line.
    pub(crate) truths: Vec<Truth>,
    pub(crate) camera: Option<Camera>,
}

fn ada_camera(ahead: f64, first: usize) -> Camera {
    Camera {
        make: "Morwong Optical",
        model: "MO-7",
        serial: "70418",
        ahead,
        offset: Some("+10:00"),
        gps: false,
        prefix: "P",
        first,
    }
}

/// Mark the finds with these indices by the fix nearest to the middle of their stop.
pub(crate) fn marks(outing: &mut Outing, fixes: &[Recorded], finds: &[usize]) -> Vec<Mark> {
    let mut marks = vec![Mark { name: "Car park".into(), fix: fixes[2], comment: None }];
    for &find in finds {
        let stop = outing.stop(find);
        let middle = usize::midpoint(stop.from, stop.until);
        let fix = fixes.iter().min_by_key(|fix| fix.second.abs_diff(middle)).expect("some fix");
        let name = outing.lines[find].number.clone();
        outing.lines[find].waypoint.clone_from(&name);
        marks.push(Mark { name, fix: *fix, comment: Some("averaged 20 fixes") });
    }
    marks
}

/// The only fault is a camera that is 23 s slow.
pub(crate) fn clear_day() -> Folder {
    let mut outing = Outing::walk(Plan {
        name: "2026-04-18 clear",
        collector: ADA,
        start: date(2026, 4, 18).at(9, 20, 0, 0),
        sites: vec![0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 26, 21, 22, 23, 25],
        search: (110.0, 420.0),
        fruiting: None,
        first_number: 41,
        night: false,
    });
    let fixes =
        outing.fixes(&Receiver { every: 5, sigma: 5.0, memory: 110.0, ..Receiver::default() });
    let camera = ada_camera(-23.0, 1001);
    let shots = outing.photograph(&camera);
    let marks = marks(&mut outing, &fixes, &[2, 7, 12]);
    outing.lines[4].notes = "gills and foot stained blue;\nfive more on the next trunk".into();
    let track =
        tracks::gpx_1_1(RECEIVER, "Wren Gully", &fixes, &marks, |second| outing.instant(second));
    Folder {
        name: "2026-04-18-wren-gully".into(),
        tracks: vec![("wren-gully.gpx".into(), track)],
        shots,
        form: notebook::field_labels(),
        lines: outing.lines,
        truths: outing.truths,
        camera: Some(camera),
    }
}

/// The camera is still on summer time and two minutes fast; the receiver has no signal for a
/// quarter of an hour. The first picture shows the receiver's clock.
pub(crate) fn gap_day() -> Folder {
    let mut outing = Outing::walk(Plan {
        name: "2026-05-02 gap",
        collector: NOEL,
        start: date(2026, 5, 2).at(9, 5, 0, 0),
        sites: vec![24, 1, 8, 10, 11, 27, 12, 13, 14, 15, 16, 17, 19, 20, 22],
        search: (100.0, 400.0),
        fruiting: None,
        first_number: 212,
        night: false,
    });
    let lost = outing.stop(9).from - 260;
    let receiver = Receiver {
        every: 10,
        sigma: 6.5,
        memory: 130.0,
        gaps: vec![(lost, lost + 860)],
        ..Receiver::default()
    };
    let fixes = outing.fixes(&receiver);
    let camera = Camera {
        make: "Tarnlight",
        model: "Tarnlight TL-40",
        serial: "0A3377",
        ahead: 3_731.0,
        offset: None,
        gps: false,
        prefix: "P",
        first: 2041,
    };
    let shown = outing.local(38).strftime("%H:%M:%S").to_string();
    let clock = outing.shot(&camera, "P2040", 38, Drawing::clock(&shown));
    let mut shots = vec![clock];
    shots.extend(outing.photograph(&camera));
    let marks = marks(&mut outing, &fixes, &[]);
    outing.lines[3].notes = "two clumps, both photographed;\n\"the pink one\" of last year".into();
    outing.lines[6].host = String::new();
    outing.lines[6].substrate = String::new();
    let track =
        tracks::gpx_1_1(RECEIVER, "Thimble Spur", &fixes, &marks, |second| outing.instant(second));
    Folder {
        name: "2026-05-02-thimble-spur".into(),
        tracks: vec![("thimble-spur.gpx".into(), track)],
        shots,
        form: notebook::semicolons(),
        lines: outing.lines,
        truths: outing.truths,
        camera: Some(camera),
    }
}

/// Scatter at the start, jumps, a frozen stretch, a fix at 0, 0, a file cut short, a camera twelve
/// minutes slow; in the notebook every kind of slip.
pub(crate) fn troubled_day() -> Folder {
    let mut outing = Outing::walk(Plan {
        name: "2026-05-16 trouble",
        collector: IREN,
        start: date(2026, 5, 16).at(10, 10, 0, 0),
        sites: vec![25, 0, 23, 24, 22, 21, 20, 19, 18, 17, 16, 6, 4, 2],
        search: (60.0, 260.0),
        fruiting: None,
        first_number: 60,
        night: false,
    });
    let between = |outing: &Outing, stop: usize| outing.stop(stop).until + 40;
    let receiver = Receiver {
        every: 2,
        sigma: 6.0,
        memory: 120.0,
        jumps: vec![
            (between(&outing, 1), between(&outing, 1) + 6, 190.0),
            (outing.stop(4).from + 30, outing.stop(4).from + 34, 260.0),
            (between(&outing, 8), between(&outing, 8) + 16, 140.0),
        ],
        frozen: Some((between(&outing, 5), between(&outing, 5) + 50)),
        gaps: vec![],
        cold_start: true,
    };
    let fixes = outing.fixes(&receiver);
    let camera = Camera {
        make: "Morwong Optical",
        model: "MO-5",
        serial: "51190",
        ahead: -728.0,
        offset: None,
        gps: false,
        prefix: "P",
        first: 510,
    };
    let shots = outing.photograph(&camera);
    let track = tracks::gpx_1_0_cut_short("Old Tramway", &fixes, |second| outing.instant(second));
    slip_up(&mut outing);
    Folder {
        name: "2026-05-16-old-tramway".into(),
        tracks: vec![("old-tramway.gpx".into(), track)],
        shots,
        form: notebook::darwin_core(),
        lines: outing.lines,
        truths: outing.truths,
        camera: Some(camera),
    }
}

/// The slips of the third day, one to a line.
fn slip_up(outing: &mut Outing) {
    let degrees = |outing: &Outing, index: usize| outing.truths[index].find.degrees();
    // coordinates as a second receiver showed them
    let (latitude, longitude) = degrees(outing, 1);
    outing.lines[1].latitude = format!("{latitude:.5}");
    outing.lines[1].longitude = format!("{longitude:.5}");
    outing.lines[1].datum = "WGS84".into();
    // latitude and longitude in each other's column
    let (latitude, longitude) = degrees(outing, 2);
    outing.lines[2].latitude = format!("{longitude:.5}");
    outing.lines[2].longitude = format!("{latitude:.5}");
    // the number of the line before, and the numbers after it one too low
    for index in (4..outing.lines.len()).rev() {
        let number = outing.lines[index - 1].number.clone();
        outing.truths[index].number.clone_from(&number);
        outing.lines[index].number = number;
    }
    // neither time nor picture, but a grid reference
    let (latitude, longitude) = degrees(outing, 5);
    let grid = geoconvert::LatLon::create(latitude, longitude).expect("on the globe").to_mgrs(4);
    outing.lines[5].coordinates = grid.to_string();
    outing.lines[5].datum = "WGS84".into();
    outing.lines[5].time.clear();
    outing.lines[5].photos.clear();
    // no evidence at all
    outing.lines[6].time.clear();
    outing.lines[6].photos.clear();
    outing.lines[6].notes = "under the big log where we had lunch".into();
    // the time of another hour
    let wrong = outing.local(outing.stop(7).from) - jiff::SignedDuration::from_mins(50);
    outing.lines[7].time = wrong.strftime("%H:%M").to_string();
    // two lines claim one picture
    let shared = outing.lines[9].photos.split(['-', ',']).next().unwrap_or_default().to_owned();
    outing.lines[8].photos = format!("{}, {shared}", outing.lines[8].photos);
    // a place at the other end of the reserve
    outing.lines[10].place = "Thimble Spur".into();
}

/// A walk for luminous fungi past midnight by two people, each with a receiver and a camera.
pub(crate) fn night_walk() -> [Folder; 2] {
    let plan = |name, collector, minute, sites, first_number| Plan {
        name,
        collector,
        start: date(2026, 5, 23).at(22, minute, 0, 0),
        sites,
        search: (240.0, 520.0),
        fruiting: None,
        first_number,
        night: true,
    };
    let mut ada = Outing::walk(plan(
        "2026-05-23 night, first",
        ADA,
        40,
        vec![0, 1, 2, 4, 6, 19, 18, 17, 20, 21],
        58,
    ));
    let fixes = ada.fixes(&Receiver { every: 5, sigma: 5.5, memory: 115.0, ..Receiver::default() });
    let camera = ada_camera(-6.0, 1062);
    let shots = ada.photograph(&camera);
    let track = tracks::gpx_1_1(RECEIVER, "Night walk", &fixes, &[], |second| ada.instant(second));
    let first = Folder {
        name: "2026-05-23-night-walk/ada".into(),
        tracks: vec![("night-walk.gpx".into(), track)],
        shots,
        form: notebook::field_labels(),
        lines: ada.lines,
        truths: ada.truths,
        camera: Some(camera),
    };
    let mut noel = Outing::walk(plan(
        "2026-05-23 night, second",
        NOEL,
        52,
        vec![25, 24, 23, 21, 20, 19, 18],
        227,
    ));
    let fixes =
        noel.fixes(&Receiver { every: 15, sigma: 7.0, memory: 100.0, ..Receiver::default() });
    let phone = Camera {
        make: "Bandicoot",
        model: "Bandicoot B5",
        serial: "B5-990142",
        ahead: 1.0,
        offset: Some("+10:00"),
        gps: true,
        prefix: "BH",
        first: 1,
    };
    let shots = noel.photograph(&phone);
    let track =
        tracks::gpx_1_1(PHONE, "Night walk (phone)", &fixes, &[], |second| noel.instant(second));
    let second = Folder {
        name: "2026-05-23-night-walk/noel".into(),
        tracks: vec![("phone.gpx".into(), track)],
        shots,
        form: notebook::field_labels(),
        lines: noel.lines,
        truths: noel.truths,
        camera: Some(phone),
    };
    [first, second]
}

/// A workbook with German headings, older names and a misspelt one; the camera is 41 s fast.
pub(crate) fn workbook_day() -> Folder {
    let mut outing = Outing::walk(Plan {
        name: "2026-06-06 workbook",
        collector: TOVE,
        start: date(2026, 6, 6).at(10, 30, 0, 0),
        sites: vec![0, 1, 5, 6, 7, 9, 26, 21, 22, 20, 19, 18, 17, 24],
        search: (100.0, 320.0),
        fruiting: None,
        first_number: 301,
        night: false,
    });
    let fixes =
        outing.fixes(&Receiver { every: 5, sigma: 5.0, memory: 110.0, ..Receiver::default() });
    let camera = Camera {
        make: "Tarnlight",
        model: "Tarnlight TL-60",
        serial: "0C1190",
        ahead: 41.0,
        offset: None,
        gps: false,
        prefix: "P",
        first: 5101,
    };
    let shots = outing.photograph(&camera);
    let names =
        [(1, "Mycena interupta"), (2, "Hygrocybe graminicolor"), (12, "Coriolus versicolor")];
    for (line, name) in names {
        outing.lines[line].name = name.into();
    }
    outing.lines[4].name = "Cortinarius cf. archeri".into();
    let track =
        tracks::gpx_1_1(RECEIVER, "Lantern Flat", &fixes, &[], |second| outing.instant(second));
    Folder {
        name: "2026-06-06-lantern-flat".into(),
        tracks: vec![("lantern-flat.gpx".into(), track)],
        shots,
        form: notebook::workbook(),
        lines: outing.lines,
        truths: outing.truths,
        camera: Some(camera),
    }
}

/// A track and marked places in KML; the camera is 5 min 4 s slow.
pub(crate) fn kml_day() -> Folder {
    let mut outing = Outing::walk(Plan {
        name: "2026-06-13 kml",
        collector: ADA,
        start: date(2026, 6, 13).at(9, 45, 0, 0),
        sites: vec![25, 23, 2, 3, 4, 9, 10, 11, 27, 12, 14, 16, 20, 22],
        search: (100.0, 320.0),
        fruiting: None,
        first_number: 68,
        night: false,
    });
    let fixes =
        outing.fixes(&Receiver { every: 8, sigma: 5.5, memory: 120.0, ..Receiver::default() });
    let camera = ada_camera(-304.0, 1086);
    let shots = outing.photograph(&camera);
    let marks = marks(&mut outing, &fixes, &[1, 5]);
    let track = tracks::kml("Moss Terrace", &fixes, &marks, |second| outing.instant(second));
    Folder {
        name: "2026-06-13-moss-terrace".into(),
        tracks: vec![("moss-terrace.kml".into(), track)],
        shots,
        form: notebook::field_labels(),
        lines: outing.lines,
        truths: outing.truths,
        camera: Some(camera),
    }
}
