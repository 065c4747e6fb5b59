//! The fuzz targets, their seeds, and the number of cases in continuous integration.

use std::fmt::Write as _;

use crate::harness::Target;
use crate::{pipeline, readers};

pub(crate) const TARGETS: &[Target] = &[
    Target {
        name: "gpx",
        seeds: tracks,
        words: &[
            "<trkpt lat=\"1\" lon=\"2\">",
            "</trkpt>",
            "<trkseg>",
            "</trk>",
            "<wpt ",
            "<ele>",
            "<time>",
            "<![CDATA[",
            "]]>",
            "<!--",
            "<!DOCTYPE a [<!ENTITY b \"c\">]>",
            "&#0;",
            "&#x1F344;",
            "&amp;",
            "<extensions>",
            "xmlns=\"\"",
            "encoding=\"utf-16\"",
            "24:00:00",
            "+14:00",
            "-0001-01-01",
        ],
        check: readers::gpx,
        cases: 20_000,
    },
    Target {
        name: "kml",
        seeds: placemarks,
        words: &[
            "<Placemark>",
            "</Placemark>",
            "<gx:Track>",
            "<when>2026-05-02T01:00:00Z</when>",
            "<gx:coord>1 2 3</gx:coord>",
            "<coordinates>1,2,3 4,5,6</coordinates>",
            "<TimeSpan><begin>",
            "<![CDATA[",
            "<!DOCTYPE a [<!ENTITY b \"c\">]>",
            "&b;",
        ],
        check: readers::kml,
        cases: 10_000,
    },
    Target {
        name: "geojson",
        seeds: features,
        words: &[
            "[",
            "]",
            "{",
            "}",
            "\"",
            ",",
            "NaN",
            "null",
            "1e999",
            "\"coordTimes\":[",
            "\u{1e}",
            "\"type\":",
        ],
        check: readers::geojson,
        cases: 10_000,
    },
    Target {
        name: "nmea",
        seeds: sentences,
        words: &["$", "*", ",,,,", "GNRMC", "GPZDA", "000000", "235959.99", "311299", "\r"],
        check: readers::nmea,
        cases: 10_000,
    },
    Target {
        name: "photo",
        seeds: photographs,
        words: &["Exif\0\0", "II\x2a\0", "MM\0\x2a", "eXIf", "meta", "iloc", "2026:05:03 10:00:00"],
        check: readers::photo,
        cases: 20_000,
    },
    Target {
        name: "records",
        seeds: tables,
        words: &[
            "\"",
            "\"\"",
            ";",
            "\t",
            "\r",
            "number",
            "date",
            "notes",
            "1/2/26",
            "2.05 pm",
            "1,350 ft",
            "42\u{b0}30'S",
            "=cmd|'/c'!A1",
            "\u{feff}",
            "P1-P300",
            "EPSG:28355",
            "00:00:00",
        ],
        check: readers::records,
        cases: 12_000,
    },
    Target {
        name: "workbook",
        seeds: workbooks,
        words: &[
            "<row r=\"2\">",
            "<c r=\"A2\" t=\"s\"><v>0</v></c>",
            "t=\"inlineStr\"",
            "<mergeCell ref=\"A1:A9\"/>",
            "hidden=\"1\"",
            "number-rows-repeated=\"4\"",
            "number-columns-repeated=\"999999999\"",
            "office:date-value=\"2026-05-03\"",
            "<text:s text:c=\"9\"/>",
            "XFD1048576",
            "1e308",
            "-1",
        ],
        check: readers::workbook,
        cases: 4_000,
    },
    Target {
        name: "archive",
        seeds: archives,
        words: &["\n--file a.gpx\n", "../", "PK\x03\x04", "PK\x05\x06", "\x1f", ".zip"],
        check: readers::archive,
        cases: 2_000,
    },
    Target {
        name: "columns",
        seeds: columns,
        words: &["[columns]", "\"", "=", "\u{feff}", "\u{20ac}", "photos", "keep", "'", "\\u0000"],
        check: readers::columns,
        cases: 4_000,
    },
    Target {
        name: "layout",
        seeds: layouts,
        words: &[
            "lines = [",
            "]",
            "heading",
            "captions = {",
            "\"",
            "host",
            "1e400",
            "-1",
            "\u{feff}",
        ],
        check: readers::layout,
        cases: 8_000,
    },
    Target {
        name: "front",
        seeds: fronts,
        words: &["<gpx", "number,date", "\u{feff}", "II\x2a\0", "ftypheic"],
        check: readers::front,
        cases: 20_000,
    },
    Target {
        name: "position",
        seeds: positions,
        words: &[
            "N",
            "S",
            "E",
            "W",
            "\u{b0}",
            "'",
            "\"",
            "UTM",
            "55G",
            "MGRS",
            "geo:",
            "EPSG:28355",
            "MGA",
            "AGD66",
            "\u{2032}",
            ",",
            " ",
            "O",
            "\u{2212}",
        ],
        check: readers::position,
        cases: 4_000,
    },
    Target {
        name: "elevation",
        seeds: tiles,
        words: &["ncols", "nrows", "cellsize", "NODATA_value", "xllcorner", "nan", "1e9"],
        check: readers::elevation,
        cases: 6_000,
    },
    Target {
        name: "lines",
        seeds: lines,
        words: &[
            "\"type\":",
            "\"Polygon\"",
            "\"coordinates\":",
            "[[",
            "]]",
            "[]",
            "{}",
            "null",
            "1e999",
            "\"GeometryCollection\"",
            "\"geometries\":[",
        ],
        check: readers::lines_and_areas,
        cases: 6_000,
    },
    Target {
        name: "map",
        seeds: maps,
        words: &[
            "\"properties\":{\"waterway\":\"stream\"}",
            "\"MultiPolygon\"",
            "\"crs\":",
            "[[[",
            "]]]",
            "<Folder><name>Streams</name>",
            "<outerBoundaryIs>",
            "<coordinates>1,2 3,4</coordinates>",
            "</Placemark>",
            "SQLite format 3\0",
        ],
        check: readers::map,
        cases: 6_000,
    },
    Target { name: "store", seeds: edits, words: &[], check: pipeline::store, cases: 150 },
    Target {
        name: "day",
        seeds: days,
        words: &[
            "\n--file x.gpx\n",
            "<trkseg>",
            "2026-05-03T",
            "1926-",
            "9999-",
            "P1",
            "AQ-1",
            "14:05",
            "42.5 S 146.25 E",
            "-90",
            "180",
            "+10:00",
        ],
        check: pipeline::day,
        cases: 250,
    },
];

/// A walk of so many fixes, ten seconds apart, which stops now and then.
fn track(count: u32) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"x\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n\
         <wpt lat=\"-42.4990\" lon=\"146.2510\"><time>2026-05-03T00:05:00Z</time><name>AQ-2</name>\
         </wpt><trk><name>Walk</name><trkseg>\n",
    );
    let mut east = 0;
    for k in 0..count {
        east += u32::from(k % 20 < 12);
        let (minute, second) = (k * 10 / 60, k * 10 % 60);
        let _ = writeln!(
            text,
            "<trkpt lat=\"-42.49{:02}\" lon=\"146.25{east:03}\"><ele>4{:02}.5</ele>\
             <time>2026-05-03T00:{minute:02}:{second:02}Z</time><hdop>1.{}</hdop></trkpt>",
            k % 3,
            k % 7,
            k % 9
        );
    }
    text + "</trkseg></trk></gpx>\n"
}

fn placemarks() -> Vec<Vec<u8>> {
    let text = "<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document><Placemark><name>1</name><gx:Track>\
        <when>2026-05-02T01:00:00Z</when><when>2026-05-02T01:00:05Z</when><gx:coord>146 -42 7</gx:coord>\
        <gx:coord>146.1 -42.1 8</gx:coord></gx:Track></Placemark><Placemark><TimeSpan><begin>2026-05-02T01:00:00Z\
        </begin><end>2026-05-02T01:00:30Z</end></TimeSpan><LineString><coordinates>1,2,3 4,5\n6,7,8\
        </coordinates></LineString></Placemark><Placemark><TimeStamp><when>2026-05-02T01:00:00Z</when></TimeStamp>\
        <Point><coordinates>1,2</coordinates></Point></Placemark></Document></kml>";
    vec![text.into()]
}

fn features() -> Vec<Vec<u8>> {
    let text = r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"coordTimes":["2026-05-02T01:00:00Z",1777683600]},"geometry":{"type":"LineString","coordinates":[[146.1,-42.1,4],[146.2,-42.2]]}},
{"type":"Feature","properties":{"name":"a","time":"2026-05-02T01:00:00Z"},"geometry":{"type":"Point","coordinates":[1,2]}}]}"#;
    vec![text.into()]
}

fn sentences() -> Vec<Vec<u8>> {
    let text = "$GPRMC,010000,A,4216.500,S,14615.000,E,0.5,54.7,020526,,,A*75\r\n\
        $GPGGA,010000,4216.500,S,14615.000,E,1,09,1.1,401.5,M,-3.2,M,,*65\r\n\
        $GNGNS,010001,4216.500,S,14615.000,E,AA,09,1.1,401.5,-3.2,,,V\r\n\
        $GPZDA,010002,02,05,2026,00,00\r\n";
    vec![text.into()]
}

fn tracks() -> Vec<Vec<u8>> {
    let old = "<gpx version='1.0'><rte><rtept lat='1' lon='2'/></rte><trk><trkseg><trkpt lat='1' \
               lon='2'><course>1</course><speed>2</speed></trkpt></trkseg></trk></gpx>";
    let utf16: Vec<u8> = old.encode_utf16().flat_map(u16::to_le_bytes).collect();
    vec![track(12).into_bytes(), old.into(), [&b"\xff\xfe"[..], &utf16].concat()]
}

fn photographs() -> Vec<Vec<u8>> {
    vec![
        include_bytes!("../reference/data/exif/pillow.jpg").to_vec(),
        include_bytes!("../reference/data/exif/pillow.png").to_vec(),
        include_bytes!("../reference/data/exif/pillow.webp").to_vec(),
        include_bytes!("../reference/data/exif/libheif.heic").to_vec(),
        include_bytes!("../reference/data/exif/exif_gps.jpg").to_vec(),
        jpeg("2026:05:03 10:05:00"),
    ]
}

/// A photograph without image data, with a time and a model.
fn jpeg(taken: &str) -> Vec<u8> {
    let entry = |tag: u16, kind: u16, count: usize, value: usize| {
        let mut entry = [tag.to_le_bytes(), kind.to_le_bytes()].concat();
        entry.extend(u32::try_from(count).unwrap().to_le_bytes());
        entry.extend(u32::try_from(value).unwrap().to_le_bytes());
        entry
    };
    let (model, taken) = (b"Wallaby 5\0", [taken.as_bytes(), b"\0"].concat());
    // the main directory at 8, the Exif directory at 38, the texts behind
    let texts = 38 + 18;
    let block = [
        &b"II\x2a\0\x08\0\0\0\x02\0"[..],
        &entry(0x0110, 2, model.len(), texts),
        &entry(0x8769, 4, 1, 38),
        b"\0\0\0\0\x01\0",
        &entry(0x9003, 2, taken.len(), texts + model.len()),
        b"\0\0\0\0",
        model,
        &taken,
    ]
    .concat();
    let length = u16::try_from(block.len() + 8).unwrap().to_be_bytes();
    [b"\xff\xd8\xff\xe1", &length[..], b"Exif\0\0", &block, b"\xff\xda\0\x02picture\xff\xd9"]
        .concat()
}

const NOTES: &str = "Number,Collector,Date,Time,Place,Host,Coordinates,Elevation,Photographs,Waypoint,\
                     Notes\nAQ-1,Ada Quillfeather,2026-05-03,10:02,Gully,Nothofagus,,412 m,P1-P2,,on \
                     moss\nAQ-2,Ada Quillfeather,2026-05-03,10:05,Gully,,,,P3,AQ-2,\"two lines,\nof \
                     it\"\nAQ-3,Ada Quillfeather,2026-05-03,,Ridge,,42.4990 S 146.2512 E,1350 ft,,,\n";

fn tables() -> Vec<Vec<u8>> {
    vec![
        NOTES.into(),
        "no;date;time;easting;northing;zone;datum\r\n1;3/5/2026;2.05 pm;440000;5290000;55G;MGA94\r\n"
            .into(),
        "recordNumber\tyear\tmonth\tday\tdecimalLatitude\tdecimalLongitude\n7\t2026\t5\t3\t-42.5\t146\n"
            .into(),
        b"nr;datum;ort\n1;3. 5. 2026;\xd6dwald\n".to_vec(),
    ]
}

/// See [`readers::workbook`].
fn workbooks() -> Vec<Vec<u8>> {
    let sheet = r#"<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>number</t></is></c><c r="B1" t="inlineStr"><is><t>date</t></is></c><c r="C1" t="inlineStr"><is><t>photos</t></is></c></row><row r="2"><c r="A2"><v>7</v></c><c r="B2" t="d"><v>2026-05-03</v></c><c r="C2" t="inlineStr"><is><t>P1-P2</t></is></c></row><row r="3" hidden="1"><c r="A3" t="e"><v>#REF!</v></c><c r="B3"><v>46145.5</v></c></row></sheetData><mergeCells><mergeCell ref="C2:C3"/></mergeCells></worksheet>"#;
    let table = r#"<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet><table:table table:name="2026"><table:table-row><table:table-cell><text:p>number</text:p></table:table-cell><table:table-cell><text:p>date</text:p></table:table-cell></table:table-row><table:table-row table:number-rows-repeated="2"><table:table-cell office:value-type="float" office:value="7"><text:p>7</text:p></table:table-cell><table:table-cell office:value-type="date" office:date-value="2026-05-03"><text:p>3.5.26</text:p></table:table-cell></table:table-row></table:table></office:spreadsheet></office:body></office:document-content>"#;
    [(3, sheet.as_bytes()), (1, table.as_bytes()), (0, &b"PK\x03\x04"[..])]
        .map(|(form, content)| [&[form][..], content].concat())
        .to_vec()
}

/// See [`readers::archive`].
fn archives() -> Vec<Vec<u8>> {
    let files = [("walk.gpx", track(6).into_bytes()), ("doc.kml", placemarks().remove(0))];
    let end_of_an_archive = [&b"PK\x05\x06"[..], &[0; 18]].concat();
    vec![
        pipeline::bundle(&files),
        pipeline::bundle(&[("a.zip", end_of_an_archive)]),
        b"\x1f\x8b\x08\0\0\0\0\0\0\x03K\x04\0C\xbe\xb7\xe8\x01\0\0\0".to_vec(),
    ]
}

fn columns() -> Vec<Vec<u8>> {
    vec![
        "[columns]\n\"Fotos\" = \"photos\"\n\"Wetter\" = \"keep\"\n".into(),
        "\u{feff}[columns]\nH\u{f6}he = 'elevation'\n".into(),
    ]
}

fn layouts() -> Vec<Vec<u8>> {
    let text = "heading = [\"Fungarium Nordquell\"]\nlanguage = \"de\"\nlines = [\"determiner\", \
                \"place\", \"host\"]\ncaptions = { host = \"bei\" }\n";
    vec![text.into(), Vec::new()]
}

fn fronts() -> Vec<Vec<u8>> {
    [tracks(), photographs(), tables()].concat()
}

fn positions() -> Vec<Vec<u8>> {
    [
        "\n42.5 S 146.25 E",
        "\n-42.5, 146.25",
        "\n42\u{b0}30'15.5\"S 146\u{b0}15'E",
        "\n55G 440000 5290000",
        "\n55GDN4000090000",
        "EPSG:28355\n440000 5290000",
        "AGD66\n42 30 S 146 15 E",
        "\ngeo:-42.5,146.25;u=35",
        "MGA94 zone 55\n440000 E 5290000 N",
        "\nS42 30.258 E146 15.100",
    ]
    .map(Vec::from)
    .to_vec()
}

fn tiles() -> Vec<Vec<u8>> {
    let grid = "ncols 4\nnrows 3\nxllcorner 146.24\nyllcorner -42.51\ncellsize 0.01\nNODATA_value -9999\n\
                1 2 3 4\n5 -9999 7 8\n9 10 11 12\n";
    vec![grid.into(), geotiff()]
}

/// Two by two heights in one strip, on WGS 84 about 42.5 S 146.25 E.
fn geotiff() -> Vec<u8> {
    let doubles = |values: &[f64]| values.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>();
    let keys: Vec<u8> = [1_u16, 1, 0, 2, 1024, 0, 1, 2, 2048, 0, 1, 4326]
        .iter()
        .flat_map(|k| k.to_le_bytes())
        .collect();
    let (scale, tie) = (doubles(&[0.1, 0.1, 0.0]), doubles(&[0.0, 0.0, 0.0, 146.2, -42.4, 0.0]));
    let (heights, entries) = (8, 13);
    let first = 8 + heights;
    let behind = first + 2 + entries * 12 + 4;
    let (at_tie, at_keys) = (behind + scale.len(), behind + scale.len() + tie.len());
    let mut file = b"II\x2a\0".to_vec();
    file.extend(u32::try_from(first).unwrap().to_le_bytes());
    file.extend([400_i16, 410, 420, 430].iter().flat_map(|height| height.to_le_bytes()));
    file.extend(u16::try_from(entries).unwrap().to_le_bytes());
    for (tag, kind, count, value) in [
        (256_u16, 3_u16, 1, 2),
        (257, 3, 1, 2),
        (258, 3, 1, 16),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (273, 4, 1, 8),
        (277, 3, 1, 1),
        (278, 3, 1, 2),
        (279, 4, 1, heights),
        (339, 3, 1, 2),
        (33_550, 12, 3, behind),
        (33_922, 12, 6, at_tie),
        (34_735, 3, 12, at_keys),
    ] {
        file.extend([tag.to_le_bytes(), kind.to_le_bytes()].concat());
        file.extend(u32::try_from(count).unwrap().to_le_bytes());
        file.extend(u32::try_from(value).unwrap().to_le_bytes());
    }
    file.extend([0; 4]);
    [file, scale, tie, keys].concat()
}

/// Base maps.
fn maps() -> Vec<Vec<u8>> {
    let folder = "<kml><Folder><name>Lakes</name><Placemark><name>Tarn</name><Polygon><outerBoundaryIs>\
        <LinearRing><coordinates>146,-42 146.1,-42 146.1,-42.1 146,-42</coordinates></LinearRing>\
        </outerBoundaryIs></Polygon></Placemark></Folder></kml>";
    let mut seeds = vec![folder.as_bytes().to_vec()];
    seeds.extend(lines());
    seeds.extend(placemarks());
    seeds
}

fn lines() -> Vec<Vec<u8>> {
    let polygon = "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":{},\
                   \"geometry\":{\"type\":\"Polygon\",\"coordinates\":[[[146,-42],[147,-42],[147,-43],\
                   [146,-42]],[[146.1,-42.1],[146.2,-42.1],[146.2,-42.2],[146.1,-42.1]]]}}]}";
    let many = "{\"type\":\"GeometryCollection\",\"geometries\":[{\"type\":\"LineString\",\
                \"coordinates\":[[146,-42,5],[147,-42]]},{\"type\":\"MultiPolygon\",\"coordinates\":\
                [[[[1,2],[3,4],[5,6],[1,2]]]]}]}";
    vec![polygon.into(), many.into(), track(8).into_bytes()]
}

/// Edits of a store; see [`pipeline::store`].
fn edits() -> Vec<Vec<u8>> {
    (0..12_u8)
        .map(|k| (0..21_u8).map(|byte| byte.wrapping_mul(37).wrapping_add(k * 11)).collect())
        .collect()
}

/// Whole days: track, notes and photographs; the same with two cameras and a second receiver;
/// records and photographs alone.
pub(crate) fn days() -> Vec<Vec<u8>> {
    let photos = [
        ("P1.jpg", jpeg("2026:05:03 10:02:05")),
        ("P2.jpg", jpeg("2026:05:03 10:02:20")),
        ("P3.jpg", jpeg("2026:05:03 10:05:31")),
    ];
    let (walk, notes) = (("walk.gpx", track(60).into_bytes()), ("notes.csv", NOTES.into()));
    let whole = [vec![walk.clone(), notes.clone()], photos.to_vec()].concat();
    let second = ("b/second.gpx", track(30).replace("146.25", "146.26").into_bytes());
    let more = [whole.clone(), vec![second, ("P4.jpg", photographs()[0].clone())]].concat();
    let without = [vec![notes], photos.to_vec()].concat();
    [whole, more, without, vec![walk]].map(|files| pipeline::bundle(&files)).to_vec()
}
