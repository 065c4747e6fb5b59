//! Outputs for others: a sensitive place cannot be recovered, and an archive can be read by other
//! programs.

use std::collections::HashSet;
use std::io::{Cursor, Read};

use jiff::civil::date;
use trug::earth::geodesic;
use trug::ingest::position;
use trug::model::{Field, KeptFind, RuleSubject, Sensitivity, SensitivityRule, SiteId};
use trug::present::darwin_core::{self, StatusWords};
use trug::present::deposit::{self, Absence, Basis, Dataset, Deposit, Event, Licence};
use trug::present::sensitive::{self, Care, ForOthers, Group, Policy};
use trug::store::{FindQuery, Store};
use trug::units::{LatLon, Seconds};

use crate::some_day::day;

/// Two outings: five finds of one collector, three of another on another day at the same places.
fn kept() -> Vec<KeptFind> {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::create_or_open(&folder.path().join("trug.gpkg")).unwrap();
    let mut days = [day("Tamsin Hale", "2026-05-03", 6), day("Orrin Pike", "2026-05-09", 4)];
    for find in &mut days[1].finds {
        find.when = None;
    }
    store.import(&days, "2026-06-01T12:00:00Z".parse().unwrap()).unwrap();
    store.finds(&FindQuery::default()).unwrap()
}

fn rule(subject: RuleSubject, level: Sensitivity) -> SensitivityRule {
    SensitivityRule::new(subject, level, "2026-06-01T12:00:00Z".parse().unwrap())
}

fn kind(name: &str, level: Sensitivity) -> SensitivityRule {
    rule(RuleSubject::Taxon(name.into()), level)
}

fn level(find: &KeptFind) -> Option<Sensitivity> {
    find.generalised.as_ref().map(|generalised| generalised.level)
}

#[test]
fn everything_is_generalised_unless_asked_for_exactly() {
    let finds = kept();
    let shown =
        sensitive::for_others(&finds, &[], &Policy::new(&[], Care::default(), position::mentioned));
    for (find, shown) in finds.iter().zip(&shown.finds) {
        assert_eq!(level(shown), Some(Sensitivity::Low));
        let (Some(true_place), Some(public)) = (&find.place, &shown.place) else { continue };
        let off = geodesic::distance(true_place.at, public.at);
        assert!(off + true_place.radius.metres() <= public.radius.metres());
        let thousandths = public.at.latitude() * 1e3;
        assert!((thousandths - thousandths.round()).abs() < 1e-9);
        assert!(shown.when.is_none() && shown.record.time.is_none());
        assert!(!shown.record.fields.contains_key(&Field::Notes));
        assert!(shown.record.fields.contains_key(&Field::Smell));
        assert!(shown.record.elevation.is_none() && public.height.is_none());
    }
    let exact = sensitive::for_others(
        &finds,
        &[],
        &Policy::new(&[], Care::ExactUnlessSensitive, position::mentioned),
    );
    assert!(exact.finds.iter().all(|find| find.generalised.is_none()));
}

#[test]
fn sensitive_taxon_protects_its_site_and_outing() {
    let mut finds = kept();
    for find in &mut finds[6..] {
        find.record.name = Some("Laccaria sp.".into());
    }
    let rules = [kind("cortinarius", Sensitivity::High)];
    let alone = sensitive::for_others(
        &finds,
        &[],
        &Policy::new(&rules, Care::ExactUnlessSensitive, position::mentioned),
    );
    assert!(alone.finds[..6].iter().all(|find| level(find) == Some(Sensitivity::High)));
    assert!(alone.finds[6..].iter().all(|find| find.generalised.is_none()));
    assert_eq!(alone.guarded, HashSet::from([finds[0].outing]));

    let group = Group { ids: vec![], finds: vec![1, 7] };
    let together = sensitive::for_others(
        &finds,
        &[group],
        &Policy::new(&rules, Care::ExactUnlessSensitive, position::mentioned),
    );
    assert!(together.finds.iter().all(|find| level(find) == Some(Sensitivity::High)));
    assert_eq!(together.sensitive_groups.len(), 1);
    let points: Vec<_> =
        [1, 7].iter().map(|find| together.finds[*find].place.as_ref().unwrap().at).collect();
    assert_eq!(points[0], points[1], "one site lies in one cell");

    let open = sensitive::for_others(
        &finds,
        &[],
        &Policy::new(&rules, Care::ExactThroughout, position::mentioned),
    );
    assert!(open.finds.iter().all(|find| find.generalised.is_none()));
}

#[test]
fn sites_and_single_finds_can_be_sensitive() {
    let finds = kept();
    let groups = [Group { ids: vec![SiteId(4)], finds: vec![6] }];
    let by_site = [rule(RuleSubject::Site(SiteId(4)), Sensitivity::Extreme)];
    let shown = sensitive::for_others(
        &finds,
        &groups,
        &Policy::new(&by_site, Care::ExactUnlessSensitive, position::mentioned),
    );
    assert!(shown.finds[..6].iter().all(|find| find.generalised.is_none()));
    assert!(shown.finds[6..].iter().all(|find| find.place.is_none()));
    let by_find = [rule(RuleSubject::Find(finds[0].id), Sensitivity::Medium)];
    let shown = sensitive::for_others(
        &finds,
        &[],
        &Policy::new(&by_find, Care::ExactUnlessSensitive, position::mentioned),
    );
    assert_eq!(level(&shown.finds[0]), Some(Sensitivity::Medium));
}

/// Chapman 2020, Current Best Practices for Generalizing Sensitive Species Occurrence Data: what
/// was done is stated in these terms.
#[test]
fn declared_changes_use_standard_terms() {
    let finds = kept();
    let rules = [kind("Mycena", Sensitivity::Medium)];
    let shown = sensitive::for_others(
        &finds,
        &[],
        &Policy::new(&rules, Care::ExactUnlessSensitive, position::mentioned),
    );
    let terms = darwin_core::occurrence(&shown.finds[0]);
    let term =
        |name: &str| terms.iter().find(|(term, _)| *term == name).map(|(_, v)| v.to_string());
    assert_eq!(term("coordinatePrecision").unwrap(), "0.02", "the wider step, in longitude");
    assert!(
        term("dataGeneralizations").unwrap().contains("decimal geographic grid of 0.01 degree")
    );
    assert!(term("informationWithheld").unwrap().contains("time of day"));
    assert_eq!(term("eventDate").unwrap(), "2026-05-03");
    for gone in [
        "locality",
        "verbatimElevation",
        "associatedMedia",
        "georeferenceRemarks",
        "occurrenceRemarks",
    ] {
        assert_eq!(term(gone), None, "{gone}");
    }
}

struct Archive {
    finds: Vec<KeptFind>,
    shown: ForOthers,
}

impl Archive {
    fn of(finds: Vec<KeptFind>, rules: &[SensitivityRule]) -> Self {
        let groups = vec![Group { ids: vec![], finds: vec![0, 6] }];
        let shown = sensitive::for_others(
            &finds,
            &groups,
            &Policy::new(rules, Care::ExactUnlessSensitive, position::mentioned),
        );
        Self { finds, shown }
    }

    fn bytes(&self) -> trug::error::Result<Vec<u8>> {
        let chosen: Vec<usize> = (0..self.finds.len()).collect();
        let event = |find: &KeptFind| Event {
            outing: find.outing,
            date: find.date,
            length: None,
            searched: Some(Seconds(3_600.0)),
        };
        deposit::archive(&Deposit {
            dataset: Dataset {
                title: "Finds <of> two days & more".into(),
                creators: vec!["Tamsin Hale".into(), "Orrin Pike".into()],
                summary: "Ten finds.".into(),
                licence: Licence::Attribution,
            },
            originals: &self.finds,
            shown: &self.shown,
            published: &std::collections::HashMap::new(),
            chosen: &chosen,
            events: &[event(&self.finds[0]), event(&self.finds[6])],
            absences: &[Absence {
                outing: self.finds[6].outing,
                date: self.finds[6].date,
                kind: "Cortinarius rotundisporus".into(),
                sites: 1,
                searched: Seconds(300.0),
            }],
            names: &std::collections::HashMap::new(),
            status: StatusWords::Detected,
            holding: deposit::Holding::default(),
            basis: Basis::Specimen,
            today: date(2026, 6, 1),
        })
    }
}

fn unpacked(bytes: Vec<u8>, name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

#[test]
fn an_archive_holds_what_its_description_says() {
    let bytes = Archive::of(kept(), &[]).bytes().unwrap();
    assert_eq!(bytes, Archive::of(kept(), &[]).bytes().unwrap(), "the same finds, the same bytes");
    let meta = unpacked(bytes.clone(), "meta.xml");
    let files =
        ["event.csv", "occurrence.csv", "measurementorfact.csv", "resourcerelationship.csv"];
    for (file, rows) in files.into_iter().zip([2, 11, 10 * 4, 0]) {
        let text = unpacked(bytes.clone(), file);
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let headings = reader.headers().unwrap().clone();
        assert_eq!(&headings[0], "eventID");
        assert_eq!(reader.records().map(Result::unwrap).count(), rows, "{file}");
        assert_eq!(text.lines().count(), rows + 1, "{file}: a cell holds a line end");
        let part = meta.split("<files>").find(|part| part.contains(file)).unwrap();
        for (place, heading) in headings.iter().enumerate() {
            let field = format!(
                "<field index=\"{place}\" term=\"http://rs.tdwg.org/dwc/terms/{heading}\">"
            );
            assert!(part.contains(&field), "{file}: {field} is not in {part}");
        }
    }
    let eml = unpacked(bytes.clone(), "eml.xml");
    assert!(eml.contains("Finds &lt;of&gt; two days &amp; more") && eml.contains("CC BY 4.0"));
    let occurrences = unpacked(bytes, "occurrence.csv");
    assert_eq!(occurrences.matches(",detected,").count(), 10);
    assert_eq!(occurrences.matches(",notDetected,").count(), 1);
}

#[test]
fn an_archive_that_would_reveal_a_sensitive_place_is_refused() {
    let rules = [kind("Mycena", Sensitivity::High)];
    assert!(Archive::of(kept(), &rules).bytes().is_ok());

    // a text that names the locality is withheld before the check, and refused where it was not
    let text = "forest on Quillback Spur";
    let mut finds = kept();
    finds[0].record.habitat = Some(text.into());
    let mut archive = Archive::of(finds, &rules);
    let occurrences = unpacked(archive.bytes().unwrap(), "occurrence.csv");
    assert!(occurrences.contains(sensitive::LOCALITY_WITHHELD), "{occurrences}");
    archive.shown.finds[0].record.habitat = Some(text.into());
    let reported = archive.bytes().unwrap_err().to_string();
    assert!(reported.contains("Quillback Spur") && reported.contains("TH-0000"), "{reported}");
    // a text that states the position is withheld before the check
    let mut finds = kept();
    let at = finds[0].place.as_ref().unwrap().at;
    let figures = format!("{:.5} {:.5}", at.latitude(), at.longitude());
    finds[0].record.substrate = Some(format!("log at {figures}"));
    let bytes = Archive::of(finds, &rules).bytes().unwrap();
    let text = unpacked(bytes.clone(), "occurrence.csv");
    assert!(text.contains(sensitive::TEXT_WITHHELD), "{text}");
    for file in ["occurrence.csv", "measurementorfact.csv", "eml.xml"] {
        assert!(!unpacked(bytes.clone(), file).contains(&figures), "{file}");
    }
    // and refused where it was not
    let mut kept_text = Archive::of(kept(), &rules);
    kept_text.shown.finds[0].record.substrate = Some(format!("log at {figures}"));
    let reported = kept_text.bytes().unwrap_err().to_string();
    assert!(reported.contains("exact coordinates"), "{reported}");

    let mut torn = Archive::of(kept(), &rules);
    torn.shown.finds[6] = torn.finds[6].clone();
    assert!(torn.bytes().unwrap_err().to_string().contains("is exact"));
    let mut fine = Archive::of(kept(), &rules);
    fine.shown.finds[0].place = fine.finds[0].place.clone();
    let reported = fine.bytes().unwrap_err().to_string();
    assert!(reported.contains("finer than its grid"), "{reported}");
}

/// The find at a place with a text about its habitat, as an output for others shows that text.
fn habitat_shown(find: &KeptFind, text: &str, at: LatLon, level: Sensitivity) -> String {
    let mut find = find.clone();
    find.as_imported = None;
    find.record.coordinates = None;
    find.record.habitat = Some(text.to_owned());
    find.place.as_mut().unwrap().at = at;
    let rules = [rule(RuleSubject::Find(find.id), level)];
    let policy = Policy::new(&rules, Care::ExactUnlessSensitive, position::mentioned);
    let shown = sensitive::for_others(&[find], &[], &policy);
    shown.finds[0].record.habitat.clone().unwrap()
}

#[test]
fn one_coordinate_alone_and_codes_of_positions_are_withheld() {
    let find = &kept()[0];
    // UTM 33U 390917 5818973, Gauss-Krueger zone 4: R 4594812 H 5820888 (within some metres)
    let at = LatLon::new(52.5103, 13.3927).unwrap();
    let zone4 = trug::earth::datum::from_wgs84("EPSG:31468", at).unwrap();
    let utm = trug::earth::grid::utm(at);
    let (east, north) = (utm.easting().0, utm.northing().0);
    for text in [
        "below the beech at 52.5103, wet".to_owned(),
        "N 52 30.62".to_owned(),
        "52,5103 N".to_owned(),
        "lat. 52.510".to_owned(),
        "longitude 13.3927".to_owned(),
        "E 13\u{b0} 23.56'".to_owned(),
        "52 Grad 30 Minuten 37 Sekunden Nord".to_owned(),
        "52 degrees 30.6 minutes".to_owned(),
        "breite 52\u{b0}30'37\"".to_owned(),
        "523037".to_owned(),
        "523037N".to_owned(),
        format!("R {:.0}", zone4.0),
        format!("Hochwert {:.0}, nass", zone4.1),
        format!("E {east:.0}"),
        format!("{east:.0} mE"),
        format!("33{east:.0}"),
        format!("N{north:.0}"),
        format!("northing 5 {} {}", &format!("{north:.0}")[1..4], &format!("{north:.0}")[4..]),
        format!("{:.0} m, 12 caps", zone4.1),
        "52.5103, 12 mm across".to_owned(),
        "52.5103 12.5 x 8.2 um".to_owned(),
        "33U UU 90 19".to_owned(),
        "9F4MG96V+43".to_owned(),
        "by the ditch, G96V+43".to_owned(),
        "u33d8z7".to_owned(),
        "JO62qm72".to_owned(),
        "///one.two.three".to_owned(),
    ] {
        for level in [Sensitivity::Medium, Sensitivity::High, Sensitivity::Extreme] {
            let shown = habitat_shown(find, &text, at, level);
            assert!(shown.starts_with("[withheld: "), "{text} at {level}: {shown}");
        }
    }
    let shown = |text: &str| habitat_shown(find, text, at, Sensitivity::Medium);
    assert_eq!(shown("N 52 30.62"), sensitive::COORDINATE_WITHHELD);
    assert_eq!(shown("9F4MG96V+43"), sensitive::CODE_WITHHELD);
    assert_eq!(shown("52.5103 13.3927"), sensitive::TEXT_WITHHELD);
    // those of other places tell nothing of this one
    for text in ["N 48 30.62", "R 3594812", "longitude 7.3927", "9F4M2222+22"] {
        assert_eq!(shown(text), text);
    }
}

#[test]
fn texts_beside_a_photograph_are_judged_as_those_of_a_find() {
    let mut finds = kept();
    let at = LatLon::new(52.5103, 13.3927).unwrap();
    finds[0].place.as_mut().unwrap().at = at;
    let far = LatLon::new(52.4, 13.1).unwrap();
    let last = finds.iter().rposition(|find| find.place.is_some()).unwrap();
    finds[last].place.as_mut().unwrap().at = far;
    let open = finds[last].clone();
    let rules = [rule(RuleSubject::Find(finds[0].id), Sensitivity::Medium)];
    let policy = Policy::new(&rules, Care::ExactUnlessSensitive, position::mentioned);
    let shown = sensitive::for_others(&finds, &[], &policy);
    let says = |level, text: &str| shown.decisions().text_discloses(&[&open], far, level, text);
    let low = Some(Sensitivity::Low);
    // the place of the sensitive find, with a mark that its encoding lacks as well
    for text in ["52\u{b0} 30.618' N 13\u{b0} 23.562' E", "52? 30.618' N 13? 23.562' E"] {
        assert!(says(None, text) && says(low, text), "{text}");
    }
    for text in ["beech lat 52.40012", "beech 13.10021"] {
        assert!(says(low, text) && !says(None, text), "{text}");
    }
    for text in ["Nikon Z 6, 60 mm, f/8", "beech 12 caps", "IMG_20260503_143205"] {
        assert!(!says(low, text) && !says(None, text), "{text}");
    }
}

#[test]
fn times_of_day_and_words_of_the_locality_are_withheld_in_every_text() {
    let mut find = kept()[0].clone();
    find.record.place = Some("Schwarzer T\u{fc}mpel".to_owned());
    let fields = [Field::Smell, Field::Taste, Field::Latex, Field::Bruising, Field::SporePrint];
    let with = |text: &str, rules: &[SensitivityRule], care| {
        let mut find = find.clone();
        for field in &fields {
            find.record.fields.insert(field.clone(), text.to_owned());
        }
        find.record.container = Some(text.to_owned());
        find.record.substrate = Some(text.to_owned());
        let policy = Policy::new(rules, care, position::mentioned);
        let shown = sensitive::for_others(&[find], &[], &policy).finds.remove(0);
        let record = shown.record;
        let mut texts: Vec<String> =
            fields.iter().map(|field| record.fields[field].clone()).collect();
        texts.extend([record.container.unwrap(), record.substrate.unwrap()]);
        texts.dedup();
        assert_eq!(texts.len(), 1, "{text}: {texts:?}");
        texts.remove(0)
    };
    let rules = [rule(RuleSubject::Find(find.id), Sensitivity::Medium)];
    let exact = Care::ExactUnlessSensitive;
    assert_eq!(with("faint, 07:13:00", &rules, exact), sensitive::TIME_WITHHELD);
    assert_eq!(with("as near Schwarzer Tuempel", &rules, exact), sensitive::LOCALITY_WITHHELD);
    for text in ["spore print after 12 h", "8.5 x 4 um", "1:1 ratio", "of black ink"] {
        assert_eq!(with(text, &rules, exact), text);
    }
    // where only the time is withheld, and where nothing is
    assert_eq!(with("at 13.05 h", &[], Care::Generalised), sensitive::TIME_WITHHELD);
    let locality = "near Schwarzer Tuempel";
    assert_eq!(with(locality, &[], Care::Generalised), locality);
    assert_eq!(with("at 13.05 h", &[], exact), "at 13.05 h");
}

#[test]
fn one_coordinate_of_a_find_without_a_position_is_withheld_by_its_form() {
    let mut find = kept()[0].clone();
    find.place = None;
    find.record.coordinates = None;
    find.as_imported = None;
    let rules = [rule(RuleSubject::Find(find.id), Sensitivity::Medium)];
    for (text, withheld) in [
        ("N 52 30.62", true),
        ("52,5103 N", true),
        ("G96V+43", true),
        ("pileus 52.5 mm, 12.5 x 8.25 \u{b5}m", false),
        ("22.510 g dry", false),
    ] {
        find.record.habitat = Some(text.to_owned());
        let policy = Policy::new(&rules, Care::ExactUnlessSensitive, position::mentioned);
        let shown = sensitive::for_others(std::slice::from_ref(&find), &[], &policy);
        let shown = shown.finds[0].record.habitat.clone().unwrap();
        assert_eq!(shown.starts_with("[withheld: "), withheld, "{text}: {shown}");
    }
}

/// Notes as collectors write them, with numbers of all kinds.
const ORDINARY: [&str; 40] = [
    "pileus 52 mm, stipe 85 x 9 mm",
    "pileus 52.5 mm, stipe 85.25 x 9.75 mm",
    "spores 12.5 x 8.2 \u{b5}m, Q = 1.52",
    "spores (8.5)9.25-10.75(11.5) x 4.25-5.75 um, Q 1.85-2.15",
    "basidia 24.5-31.25 x 7.25-8.5 \u{b5}m, 4-spored",
    "cheilocystidia 52.25-61.75 \u{d7} 8.25-13.39 \u{b5}m",
    "2026-05-03, 12 caps",
    "found 3.5.2026, again 12.10.2026 and 24.05.2026",
    "3 May 1998 to 12 October 2004, every year since 1987",
    "elevation 450 m, slope 25\u{b0} facing 146\u{b0}",
    "1 350 m a.s.l., 4 429 ft",
    "pH 6.52, soil moisture 52.51 %",
    "temperature 13.4 \u{b0}C, humidity 87.25 %",
    "12.5 g fresh, 1.305 g dry",
    "3 x 4 m plot, 12 fruit bodies, 25 cm apart",
    "log 52 cm across, 13.4 m long",
    "DBH 62.5 cm, height 28.5 m, about 140 years old",
    "photos 2041 to 2044, IMG_2051.jpg, DSC04567",
    "IMG_20260503_143205.jpg",
    "herbarium no. 391542, packet 17, box 3",
    "accession 5818973, duplicate in box 12",
    "GenBank MK391542, ITS 642 bp",
    "cf. Smith 2004: 512-523, fig. 13",
    "10.1016/j.funbio.2013.04.001",
    "KOH 5 % on flesh yellow; FeSO4 10 % green; Melzer -",
    "three groups of 5, 7 and 12, 2-3 m apart",
    "on stump of Picea abies, 1.5 m high",
    "under Fagus, 10 m from the path, 200 m from the car park",
    "plot 7/13, transect 2, quadrat 14",
    "RAL 1013, Munsell 7.5YR 5/4, 10YR 6/8",
    "cap 3.5-5.25-7.75 cm, ratio 1:1.5",
    "after 12.5 mm of rain on 2 days",
    "spore print after 12 h, 44 min in all",
    "forest compartment 125a2, mixed, 80 yr",
    "B5.13 habitat type, 9110, 91E0*",
    "taken at f/8, 1/125 s, ISO 400, 60 mm",
    "weight 52.510 g with soil",
    "phone 030 391542, ask for 2 keys",
    "5-8(-10) per cm, gills 45-60",
    "40x objective, 1000x oil, 1 division = 1.02 \u{b5}m",
];

/// The share of ordinary notes that are withheld, over places on a grid of the inhabited Earth.
#[test]
fn ordinary_notes_are_hardly_ever_withheld() {
    assert_ordinary_notes_are_shown(8);
}

#[test]
#[ignore = "a minute; prints the table of docs/sensitive-places.md"]
fn ordinary_notes_report() {
    assert_ordinary_notes_are_shown(60);
}

#[allow(clippy::print_stdout, reason = "a report")]
fn assert_ordinary_notes_are_shown(places: i32) {
    let find = &kept()[0];
    for (level, most) in [
        (Sensitivity::Low, 0.004),
        (Sensitivity::Medium, 0.004),
        (Sensitivity::High, 0.01),
        (Sensitivity::Extreme, 0.02),
    ] {
        let (mut withheld, mut all) = (Vec::new(), 0);
        for step in 0..places {
            let north = f64::from(step * 37 % 60) * 1.87 - 44.3;
            let east = f64::from(step * 23 % 60) * 5.93 - 175.7;
            let at = LatLon::new(north, east).unwrap();
            for text in ORDINARY {
                all += 1;
                let shown = habitat_shown(find, text, at, level);
                if shown != text {
                    withheld.push(format!("{text} at {at}: {shown}"));
                }
            }
        }
        let of_pairs = withheld.len();
        withheld.retain(|one| !one.ends_with(sensitive::TEXT_WITHHELD));
        let of_pairs = of_pairs - withheld.len();
        println!(
            "{level}: of {all} notes {of_pairs} withheld for two numbers, {} for one or a code",
            withheld.len()
        );
        let share = withheld.len() as f64 / f64::from(all);
        assert!(share <= most, "{level}: {share:.4}: {withheld:#?}");
    }
}
