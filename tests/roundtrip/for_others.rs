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
use trug::units::Seconds;

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

    let refused = |spoil: &dyn Fn(&mut KeptFind)| {
        let mut finds = kept();
        spoil(&mut finds[0]);
        Archive::of(finds, &rules).bytes().unwrap_err().to_string()
    };
    let reported = refused(&|find| find.record.habitat = Some("forest on Quillback Spur".into()));
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
