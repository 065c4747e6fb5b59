//! A sensitivity rule stays in force when its site is split, merged or absorbed, when a find is
//! renumbered, moved or withdrawn, and in stores of an older version.

use std::collections::HashMap;
use std::path::Path;

use jiff::Timestamp;
use trug::ingest::position;
use trug::model::{
    Day, KeptFind, Published, RecordNumber, RuleSubject, Sensitivity, SensitivityNotice,
    SensitivityRule, SiteId,
};
use trug::present::sensitive::{self, Care, ForOthers, Group, Policy};
use trug::store::{FindQuery, KeptSite, Store};
use trug::units::LatLon;
use uuid::Uuid;

use crate::some_day::{day, radius};

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

/// So many metres north of a point in a forest.
fn north(metres: f64) -> LatLon {
    LatLon::new(-42.5 + metres / 111_080.0, 146.25).unwrap()
}

/// A day of which each find lies so many metres north, with circles of 8 m and a taxon of its own.
fn day_at(collector: &str, date: &str, metres: &[f64]) -> Day {
    let mut day = day(collector, date, metres.len() + 1);
    day.finds.pop();
    for (n, (find, metres)) in day.finds.iter_mut().zip(metres).enumerate() {
        let mut place = find.place.clone().unwrap();
        place.at = north(*metres);
        place.radius = radius(8.0);
        find.place = Ok(place);
        find.anchors.clear();
        find.record.coordinates = None;
        find.record.number = Some(RecordNumber(format!("{}-{n}", &collector[..2])));
        find.record.name = Some(format!("Genus{n} species{n}"));
    }
    day.photos.clear();
    day.finds.iter_mut().for_each(|find| find.photos.clear());
    day
}

struct Desk {
    _folder: tempfile::TempDir,
    path: std::path::PathBuf,
    store: Store,
}

impl Desk {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("trug.gpkg");
        let store = Store::create_or_open(&path).unwrap();
        Self { _folder: folder, path, store }
    }

    /// Each find on a separate outing, so that only its site and its rule protect it.
    fn with_finds(metres: &[f64]) -> Self {
        let mut desk = Self::new();
        for (n, metres) in metres.iter().enumerate() {
            let date = format!("2026-05-{:02}", n + 1);
            desk.store.import(&[day_at("Tamsin Hale", &date, &[*metres])], now()).unwrap();
        }
        desk
    }

    fn finds(&self) -> Vec<KeptFind> {
        by_date(&self.store)
    }

    fn sites(&mut self, sites: &[(i64, &[usize])]) {
        let finds = self.finds();
        let site = |(id, members): &(i64, &[usize])| KeptSite {
            id: SiteId(*id),
            name: None,
            at: finds[members[0]].place.as_ref().unwrap().at,
            radius: radius(10.0),
            finds: members.iter().map(|find| finds[*find].id).collect(),
        };
        let sites: Vec<KeptSite> = sites.iter().map(site).collect();
        self.store.keep_sites(&sites, now()).unwrap();
    }

    fn protect(&mut self, subject: RuleSubject, level: Sensitivity) {
        self.store.keep_sensitivity_rule(&SensitivityRule::new(subject, level, now())).unwrap();
    }

    fn shown(&self) -> ForOthers {
        shown(&self.store, &self.store.published().unwrap())
    }

    fn levels(&self) -> Vec<Option<Sensitivity>> {
        self.shown().finds.iter().map(level).collect()
    }
}

/// By the written date, then from south to north.
fn by_date(store: &Store) -> Vec<KeptFind> {
    let mut finds = store.finds(&FindQuery::default()).unwrap();
    finds.sort_by(|a, b| {
        let north = |find: &KeptFind| find.place.as_ref().unwrap().at.latitude();
        a.record.date.cmp(&b.record.date).then(north(a).total_cmp(&north(b)))
    });
    finds
}

fn level(find: &KeptFind) -> Option<Sensitivity> {
    find.generalised.as_ref().map(|generalised| generalised.level)
}

fn shown(store: &Store, published: &HashMap<Uuid, Vec<Published>>) -> ForOthers {
    let finds = by_date(store);
    let place = |id: &Uuid| finds.iter().position(|find| find.id == *id);
    let groups: Vec<Group> = store
        .sites()
        .unwrap()
        .into_iter()
        .map(|site| Group {
            ids: vec![site.id],
            finds: site.finds.iter().filter_map(place).collect(),
        })
        .collect();
    let rules = store.sensitivity_rules().unwrap();
    let care = Care::ExactUnlessSensitive;
    sensitive::for_others(
        &finds,
        &groups,
        &Policy { rules: &rules, published: Some(published), care, positions: position::mentioned },
    )
}

const MEDIUM: Option<Sensitivity> = Some(Sensitivity::Medium);

#[test]
fn a_site_that_parts_stays_sensitive_in_all_its_parts() {
    // two members 60 m apart, as a site joined by the user, and an unrelated find
    for (keeps, gets) in [(7, 8), (8, 7), (8, 9)] {
        let mut desk = Desk::with_finds(&[0.0, 60.0, 500.0]);
        desk.sites(&[(7, &[0, 1]), (3, &[2])]);
        desk.protect(RuleSubject::Site(SiteId(7)), Sensitivity::Medium);
        desk.sites(&[(keeps, &[0]), (gets, &[1]), (3, &[2])]);
        assert_eq!(desk.levels(), [MEDIUM, MEDIUM, None], "{keeps} {gets}");
    }
}

#[test]
fn a_find_that_joined_a_sensitive_site_later_stays_sensitive_when_it_parts() {
    let mut desk = Desk::with_finds(&[0.0, 60.0, 500.0]);
    desk.sites(&[(7, &[0])]);
    desk.protect(RuleSubject::Site(SiteId(7)), Sensitivity::Medium);
    desk.sites(&[(7, &[0, 1])]);
    desk.sites(&[(7, &[0]), (9, &[1]), (3, &[2])]);
    assert_eq!(desk.levels(), [MEDIUM, MEDIUM, None]);
}

#[test]
fn a_site_that_is_joined_or_taken_in_stays_sensitive_with_the_whole() {
    for whole in [7, 3] {
        let mut desk = Desk::with_finds(&[0.0, 60.0, 500.0]);
        desk.sites(&[(7, &[0]), (3, &[1]), (4, &[2])]);
        desk.protect(RuleSubject::Site(SiteId(7)), Sensitivity::Medium);
        desk.sites(&[(whole, &[0, 1]), (4, &[2])]);
        assert_eq!(desk.levels(), [MEDIUM, MEDIUM, None], "{whole}");
    }
}

#[test]
fn a_new_find_at_a_sensitive_site_is_sensitive_before_sites_are_found_again() {
    let mut desk = Desk::with_finds(&[0.0, 500.0]);
    desk.sites(&[(7, &[0]), (4, &[1])]);
    desk.protect(RuleSubject::Site(SiteId(7)), Sensitivity::Medium);
    desk.store.import(&[day_at("Orrin Pike", "2026-05-20", &[12.0])], now()).unwrap();
    assert_eq!(desk.levels(), [MEDIUM, None, MEDIUM]);
    assert_eq!(desk.shown().notices, [SensitivityNotice::AtBoundPlace { finds: 1 }]);
}

fn corrected(mut day: Day, find: usize, number: &str, line_too: bool) -> Day {
    let record = &mut day.finds[find].record;
    record.number = Some(RecordNumber(number.into()));
    if line_too {
        record.line += 3;
    }
    let seed = format!("{} {number}", day.outing.id);
    day.finds[find].id = Uuid::new_v5(&Uuid::NAMESPACE_OID, seed.as_bytes());
    day.sources[1].hash = blake3::hash(number.as_bytes()).to_hex().to_string();
    day
}

#[test]
fn a_find_whose_number_is_corrected_keeps_its_identity_and_its_rule() {
    for line_too in [false, true] {
        let mut desk = Desk::new();
        let first = day_at("Tamsin Hale", "2026-05-03", &[0.0, 300.0]);
        desk.store.import(std::slice::from_ref(&first), now()).unwrap();
        let id = desk.finds()[0].id;
        desk.protect(RuleSubject::Find(id), Sensitivity::High);
        let second = corrected(first, 0, "Ta-9", line_too);
        let reported = desk.store.import(std::slice::from_ref(&second), now()).unwrap();
        assert_eq!(reported.days[0].finds_corrected[0].changed, ["number"], "line too: {line_too}");
        let finds = desk.finds();
        assert_eq!((finds[0].id, finds.len()), (id, 2));
        assert_eq!(desk.levels(), [Some(Sensitivity::High); 2]);
        assert!(desk.shown().notices.is_empty());

        // the old number is used again for another find, far away: it is another find
        let mut third = day_at("Tamsin Hale", "2026-05-03", &[0.0, 300.0, 5_000.0]);
        third = corrected(third, 0, "Ta-9", line_too);
        third.finds[2].record.number = Some(RecordNumber("Ta-0".into()));
        third.finds[2].id = id;
        third.sources[1].hash = "third".into();
        desk.store.import(&[third], now()).unwrap();
        let finds = desk.finds();
        assert_eq!(finds.len(), 3);
        let of = |number: &str| {
            finds.iter().find(|find| find.record.number.as_ref().unwrap().0 == number).unwrap().id
        };
        assert_eq!(of("Ta-9"), id);
        assert_ne!(of("Ta-0"), id);
    }
}

/// The day with another name for its first find, in a corrected notebook.
fn renamed(mut day: Day, name: &str) -> Day {
    day.finds[0].record.name = Some(name.into());
    day.sources[1].hash = blake3::hash(name.as_bytes()).to_hex().to_string();
    day
}

#[test]
fn a_find_whose_name_a_corrected_notebook_changes_stays_sensitive_until_it_is_released() {
    let named = || renamed(day_at("Tamsin Hale", "2026-05-03", &[0.0]), "Hygrocybe graminicolor");
    for rule_first in [true, false] {
        let mut desk = Desk::new();
        let rule = RuleSubject::Taxon("Hygrocybe graminicolor".into());
        if rule_first {
            desk.protect(rule.clone(), Sensitivity::High);
        }
        desk.store.import(&[named()], now()).unwrap();
        if !rule_first {
            desk.protect(rule, Sensitivity::High);
        }
        desk.store.import(&[renamed(named(), "Mycena alcalina")], now()).unwrap();
        // another taxon far from the circle, and the same name elsewhere: neither is of the rule
        desk.store.import(&[day_at("Orrin Pike", "2026-05-20", &[4.0, 900.0])], now()).unwrap();
        desk.store
            .import(
                &[renamed(day_at("Orrin Pike", "2026-05-21", &[700.0]), "Mycena alcalina")],
                now(),
            )
            .unwrap();
        assert_eq!(
            desk.levels(),
            [Some(Sensitivity::High), None, None, None],
            "rule first: {rule_first}"
        );
        assert_eq!(desk.shown().notices, [SensitivityNotice::NamedBefore { finds: 1 }]);

        let id = desk.finds()[0].id;
        assert!(desk.store.release_published(id).unwrap());
        desk.store.import(&[day_at("Orrin Pike", "2026-05-22", &[800.0])], now()).unwrap();
        assert_eq!(desk.levels(), [None; 5]);
    }
}

#[test]
fn a_find_that_is_not_recognised_under_another_name_is_sensitive_at_the_place_of_its_taxon() {
    let mut desk = Desk::new();
    let first = renamed(day_at("Tamsin Hale", "2026-05-03", &[0.0]), "Hygrocybe graminicolor");
    desk.protect(RuleSubject::Taxon("hygrocybe graminicolor".into()), Sensitivity::High);
    desk.store.import(std::slice::from_ref(&first), now()).unwrap();
    let mut second = corrected(first, 0, "Ta-9", true);
    second.finds[0].record.name = Some("Mycena alcalina".into());
    second.finds[0].record.habitat = None;
    second.sources[1].path = "basket/copied out.csv".into();
    desk.store.import(&[second], now()).unwrap();
    assert!(desk.levels().iter().all(|level| *level == Some(Sensitivity::High)));
}

#[test]
fn a_find_that_cannot_be_recognised_is_still_sensitive_at_its_place() {
    let mut desk = Desk::new();
    let first = day_at("Tamsin Hale", "2026-05-03", &[0.0]);
    desk.store.import(std::slice::from_ref(&first), now()).unwrap();
    desk.protect(RuleSubject::Find(desk.finds()[0].id), Sensitivity::High);
    // number, line, name and file differ: only the place identifies it
    let mut second = corrected(first, 0, "Ta-9", true);
    second.finds[0].record.name = Some("Another name".into());
    second.finds[0].record.habitat = None;
    second.sources[1].path = "basket/copied out.csv".into();
    desk.store.import(&[second], now()).unwrap();
    assert!(desk.levels().iter().all(|level| *level == Some(Sensitivity::High)));
}

#[test]
fn a_find_that_moves_is_sensitive_at_its_new_place_and_the_old_place_stays_so() {
    let mut desk = Desk::new();
    desk.store.import(&[day_at("Tamsin Hale", "2026-05-03", &[0.0])], now()).unwrap();
    desk.protect(RuleSubject::Find(desk.finds()[0].id), Sensitivity::High);
    let mut moved = day_at("Tamsin Hale", "2026-05-03", &[2_000.0]);
    moved.sources[0].hash = "a better track".into();
    desk.store.import(&[moved], now()).unwrap();
    let others = [("2026-05-11", 2_004.0), ("2026-05-12", 4.0), ("2026-05-13", 1_000.0)];
    for (date, metres) in others {
        desk.store.import(&[day_at("Orrin Pike", date, &[metres])], now()).unwrap();
    }
    let high = Some(Sensitivity::High);
    assert_eq!(desk.levels(), [high, high, high, None]);
}

#[test]
fn neighbour_of_same_taxon_within_radius_is_sensitive() {
    let mut desk = Desk::new();
    let mut coarse = day_at("Tamsin Hale", "2026-05-03", &[0.0]);
    coarse.finds[0].record.name = Some("Hygrocybe graminicolor".into());
    let mut place = coarse.finds[0].place.clone().unwrap();
    place.radius = radius(400.0);
    coarse.finds[0].place = Ok(place);
    desk.store.import(&[coarse], now()).unwrap();
    let names = ["Hygrocybe cf. graminicolor", "Hygrocybe sp.", "Mycena nargan"];
    for (n, name) in names.into_iter().enumerate() {
        for (m, metres) in [380.0, 800.0].into_iter().enumerate() {
            let date = format!("2026-05-{}", 11 + 2 * n + m);
            let mut near = day_at("Orrin Pike", &date, &[metres]);
            near.finds[0].record.name = Some(name.into());
            desk.store.import(&[near], now()).unwrap();
        }
    }
    desk.protect(RuleSubject::Find(desk.finds()[0].id), Sensitivity::High);
    let high = Some(Sensitivity::High);
    assert_eq!(desk.levels(), [high, high, None, high, None, None, None]);
    assert_eq!(desk.shown().notices, [SensitivityNotice::AtBoundPlace { finds: 2 }]);
}

#[test]
fn a_taxon_that_is_not_there_is_reported_each_time_and_a_slip_in_a_record_is_protected() {
    let mut desk = Desk::with_finds(&[0.0]);
    let mut rule = SensitivityRule::new(
        RuleSubject::Taxon("Genus0 specias0".into()),
        Sensitivity::High,
        now(),
    );
    rule.in_advance = true;
    desk.store.keep_sensitivity_rule(&rule).unwrap();
    assert_eq!(desk.levels(), [Some(Sensitivity::High)]);
    let notices = desk.shown().notices;
    assert!(matches!(&notices[0], SensitivityNotice::SimilarName { finds: 1, .. }), "{notices:?}");
    assert!(
        matches!(&notices[1], SensitivityNotice::MatchesNothing { in_advance: true, .. }),
        "{notices:?}"
    );
}

#[test]
fn what_was_published_as_sensitive_stays_so_while_its_rule_holds() {
    let mut desk = Desk::with_finds(&[0.0]);
    let other = renamed(day_at("Tamsin Hale", "2026-05-02", &[20.0]), "Another name");
    desk.store.import(&[other], now()).unwrap();
    desk.sites(&[(7, &[0, 1])]);
    desk.protect(RuleSubject::Taxon("Genus0".into()), Sensitivity::Medium);
    let finds = desk.finds();
    let published = desk.shown().published;
    desk.store.record_published(&published, now()).unwrap();
    assert_eq!(desk.store.published().unwrap().len(), 2);

    // the site is split: an exact position of the second find would disclose the first
    desk.sites(&[(7, &[0]), (8, &[1])]);
    assert_eq!(desk.levels(), [MEDIUM, MEDIUM]);
    assert_eq!(desk.shown().notices, [SensitivityNotice::PublishedBefore { finds: 1 }]);
    assert_eq!(shown(&desk.store, &HashMap::new()).finds[1].generalised, None, "the test bites");

    assert!(desk.store.release_published(finds[1].id).unwrap());
    assert!(!desk.store.release_published(finds[1].id).unwrap());
    assert_eq!(desk.levels(), [MEDIUM, None]);
    assert!(desk.store.drop_sensitivity_rule(&RuleSubject::Taxon("genus0".into())).unwrap());
    assert_eq!(desk.levels(), [None, None]);
}

/// The tables as version 3 had them: rules without what they are bound to.
fn as_version_3(path: &Path) {
    let raw = rusqlite::Connection::open(path).unwrap();
    without_weather(&raw);
    without_version_6(&raw);
    for table in ["sensitivity_bound", "published", "sensitivity_rules"] {
        raw.execute_batch(&format!(
            "DELETE FROM gpkg_contents WHERE table_name = '{table}'; DROP TABLE {table};"
        ))
        .unwrap();
    }
    raw.execute_batch(include_str!("../../src/store/schema/2.sql")).unwrap();
    stops_as_version_4(&raw);
    raw.execute_batch(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier)
         VALUES ('quiet_places', 'attributes', 'quiet_places');
         UPDATE settings SET value = '3' WHERE name = 'schema_version';",
    )
    .unwrap();
}

/// Drops the tables of weather.
pub(crate) fn without_weather(raw: &rusqlite::Connection) {
    raw.execute_batch(
        "DROP TABLE weather_days; DROP TABLE weather_stations; DROP TABLE rtree_weather_stations_geom;",
    )
    .unwrap();
    for table in ["gpkg_extensions", "gpkg_geometry_columns", "gpkg_contents"] {
        raw.execute_batch(&format!("DELETE FROM {table} WHERE table_name LIKE 'weather_%'"))
            .unwrap();
    }
}

/// Drops the journal, amendments and triggers of versions 6 and 7, checklists and base maps.
fn without_version_6(raw: &rusqlite::Connection) {
    raw.execute_batch(
        "DROP TRIGGER finds_edited; DROP TRIGGER finds_deleted; DROP TRIGGER finds_replaced; DROP TRIGGER outings_deleted;
         DROP INDEX finds_by_number;",
    )
    .unwrap();
    let tables: Vec<&str> = [
        include_str!("../../src/store/schema/6.sql"),
        include_str!("../../src/store/schema/checklist.sql"),
        include_str!("../../src/store/schema/base_maps.sql"),
    ]
    .iter()
    .flat_map(|tables| tables.lines())
    .filter_map(|line| line.strip_prefix("CREATE TABLE ")?.split(' ').next())
    .collect();
    for table in tables.iter().rev() {
        raw.execute_batch(&format!(
            "DELETE FROM gpkg_contents WHERE table_name = '{table}'; DROP TABLE {table};"
        ))
        .unwrap();
    }
}

/// The layer of stops as version 4 had it, under its earlier name.
fn stops_as_version_4(raw: &rusqlite::Connection) {
    use std::fmt::Write as _;
    let mut batch = String::new();
    for end in ["insert", "update1", "update2", "update3", "update4", "delete"] {
        let _ = write!(batch, "DROP TRIGGER rtree_stops_geom_{end};");
    }
    batch.push_str(
        "DROP TABLE rtree_stops_geom; DROP INDEX stops_by_outing;
         ALTER TABLE stops RENAME TO stands; CREATE INDEX stands_by_outing ON stands(outing_id);
         CREATE VIRTUAL TABLE rtree_stands_geom USING rtree(id, minx, maxx, miny, maxy);",
    );
    for (end, event) in [
        ("insert", "INSERT"),
        ("update1", "UPDATE"),
        ("update2", "UPDATE"),
        ("update3", "UPDATE"),
        ("update4", "UPDATE"),
        ("delete", "DELETE"),
    ] {
        let _ = write!(
            batch,
            "CREATE TRIGGER rtree_stands_geom_{end} AFTER {event} ON stands BEGIN SELECT 1; END;"
        );
    }
    for table in ["gpkg_contents", "gpkg_geometry_columns", "gpkg_extensions"] {
        let _ =
            write!(batch, "UPDATE {table} SET table_name = 'stands' WHERE table_name = 'stops';");
    }
    raw.execute_batch(&format!("PRAGMA foreign_keys = OFF; {batch}")).unwrap();
}

#[test]
fn rules_of_an_older_store_are_bound_when_it_is_brought_up_to_date() {
    let mut desk = Desk::with_finds(&[0.0, 60.0, 500.0, 900.0, 2_000.0]);
    desk.sites(&[(7, &[0, 1]), (3, &[2]), (4, &[3]), (5, &[4])]);
    let finds = desk.finds();
    let path = desk.path.clone();
    as_version_3(&path);
    let raw = rusqlite::Connection::open(&path).unwrap();
    for (subject, name, level) in [
        ("kind", "unseen".to_owned(), "low"),
        ("site", "7".to_owned(), "medium"),
        ("site", "99".to_owned(), "high"),
        ("find", finds[3].id.to_string(), "extreme"),
    ] {
        raw.execute(
            "INSERT INTO quiet_places (subject, name, level, reason, since)
             VALUES (?1, ?2, ?3, 'a reason', '2026-05-30T12:00:00.000Z')",
            (subject, name, level),
        )
        .unwrap();
    }
    drop(raw);
    desk.store = Store::open(&path).unwrap();
    desk.store.verify().unwrap();
    let rules = desk.store.sensitivity_rules().unwrap();
    assert_eq!(rules.len(), 4);
    assert_eq!(rules[0].subject, RuleSubject::Taxon("unseen".into()));
    assert!(rules.iter().all(|rule| rule.reason.as_deref() == Some("a reason")));
    desk.sites(&[(8, &[0]), (9, &[1]), (3, &[2]), (4, &[3]), (5, &[4])]);
    assert_eq!(desk.levels(), [MEDIUM, MEDIUM, None, Some(Sensitivity::Extreme), None]);
    let nothing: Vec<String> = desk
        .shown()
        .notices
        .into_iter()
        .filter_map(|notice| match notice {
            SensitivityNotice::MatchesNothing { rule, .. } => Some(rule),
            _ => None,
        })
        .collect();
    assert_eq!(nothing, ["Unseen", "site 99"]);
}
