use super::*;

fn written(text: &[u8]) -> tempfile::NamedTempFile {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    file
}

fn entries(text: &str) -> (Vec<ChecklistEntry>, ChecklistCounts) {
    let file = written(text.as_bytes());
    let mut entries = Vec::new();
    let counts = open(file.path())
        .unwrap()
        .each(&mut |entry| {
            entries.push(entry);
            Ok(())
        })
        .unwrap();
    (entries, counts)
}

const TABLE: &str = "taxonID\tscientificName\tscientificNameAuthorship\ttaxonRank\ttaxonomicStatus\tacceptedNameUsageID\tparentNameUsageID\n\
    1\tFungi\t\tkingdom\taccepted\t\t\n\
    2\tHydnangiaceae\tGäum. & C.W. Dodge\tfamily\taccepted\t\t1\n\
    3\tLaccaria laccata (Scop.) Cooke\t(Scop.) Cooke\tspecies\taccepted\t3\t2\n\
    4\tAgaricus laccatus\tScop.\tspecies\tsynonym\t3\t\n\
    5\tClitocybe laccata\t(Scop.) P. Kumm.\tspecies\tsynonym\t4\t\n\
    6\tAgaricus \"odd\tX\tspecies\tsynonym\t\t\n\
    \n\
    7\t\t\tspecies\taccepted\t\t\n";

#[test]
fn synonyms_and_higher_taxa_are_resolved() {
    let (entries, counts) = entries(TABLE);
    assert_eq!((counts.names, counts.accepted, counts.synonyms), (6, 3, 2));
    assert_eq!((counts.not_named, counts.nameless), (1, 1));
    let laccaria = &entries[2];
    assert_eq!(laccaria.name, "Laccaria laccata");
    assert_eq!(laccaria.author.as_deref(), Some("(Scop.) Cooke"));
    let ranks = laccaria.lineage.ranks();
    assert_eq!(ranks, [Some("Fungi"), None, None, None, Some("Hydnangiaceae"), Some("Laccaria")]);
    assert_eq!((entries[3].accepted, entries[4].accepted), (Some(3), Some(3)));
    assert_eq!(entries[4].key, "clitocybe laccata");
}

#[test]
fn names_refer_to_each_other_by_names_too() {
    let (entries, counts) = entries(
        "scientificName,acceptedNameUsage,family\n\
         Laccaria laccata (Scop.) Cooke,,Hydnangiaceae\n\
         \"Agaricus laccatus Scop.\",Laccaria laccata (Scop.) Cooke,\n\
         Clitocybe laccata,Laccaria laccata,\n\
         Collybia nuda,Lepista nuda (Bull.) Cooke,Tricholomataceae\n\
         Tricholoma nudum,Lepista nuda (Bull.) Cooke,\n",
    );
    assert_eq!((counts.names, counts.accepted, counts.synonyms), (6, 2, 4));
    assert_eq!((entries[1].accepted, entries[2].accepted), (Some(1), Some(1)));
    let lepista = entries.last().unwrap();
    assert_eq!((lepista.row, lepista.name.as_str()), (6, "Lepista nuda"));
    assert_eq!((entries[3].accepted, entries[4].accepted), (Some(6), Some(6)));
    assert_eq!(lepista.lineage.family.as_deref(), Some("Tricholomataceae"));
}

#[test]
fn other_files_are_refused_with_what_they_are() {
    for (text, why) in [
        (&b""[..], "it is empty"),
        (&b"\xff\xfea\0"[..], "UTF-16"),
        (&b"date,time,place\n1,2,3\n"[..], "it begins with \"date,time,place\""),
        (&b"taxonID,scientificName\n"[..], "no row"),
        (&b"PK\x03\x04nothing"[..], "damaged"),
        (&b"\x1f\x8bnothing"[..], "cannot read"),
        (&[0; 400][..], "no heading"),
    ] {
        let file = written(text);
        let refused = open(file.path()).unwrap_err().to_string();
        assert!(refused.contains(why), "{refused}");
    }
}

#[test]
fn archives_are_read_by_their_description() {
    use std::io::Write;
    let file = tempfile::NamedTempFile::new().unwrap();
    let mut zip = zip::ZipWriter::new(file.reopen().unwrap());
    let how = zip::write::SimpleFileOptions::default();
    zip.start_file("meta.xml", how).unwrap();
    zip.write_all(
        br#"<archive><core fieldsTerminatedBy="|" ignoreHeaderLines="0"
        rowType="http://rs.tdwg.org/dwc/terms/Taxon"><files><location>names.txt</location></files>
        <id index="0"/><field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
        <field index="2" term="http://rs.tdwg.org/dwc/terms/acceptedNameUsageID"/>
        <field default="Fungi" term="http://rs.tdwg.org/dwc/terms/kingdom"/></core></archive>"#,
    )
    .unwrap();
    zip.start_file("names.txt", how).unwrap();
    zip.write_all("a|Mycena pura (Pers.) P. Kumm.|\nb|Agaricus purus Pers.|a\n".as_bytes())
        .unwrap();
    zip.finish().unwrap();
    let mut names = Vec::new();
    let counts = open(file.path())
        .unwrap()
        .each(&mut |entry| {
            names.push((entry.name, entry.author, entry.lineage.kingdom, entry.accepted));
            Ok(())
        })
        .unwrap();
    assert_eq!((counts.names, counts.synonyms), (2, 1));
    let text = |text: &str| Some(text.to_owned());
    assert_eq!(names[0], ("Mycena pura".into(), text("(Pers.) P. Kumm."), text("Fungi"), None));
    assert_eq!(names[1].3, Some(1));
}

proptest::proptest! {
    #[test]
    fn no_text_makes_it_panic(
        rows in proptest::collection::vec("[a-e]?[,\t\"]?[A-C]?[a-z ]{0,6}[,\t\"\n]?[a-e]?", 0..30),
    ) {
        let text = format!("taxonID,scientificName,acceptedNameUsageID\n{}", rows.join("\n"));
        let file = written(text.as_bytes());
        if let Ok(checklist) = open(file.path()) {
            let mut names = 0;
            let counts = checklist.each(&mut |_| { names += 1; Ok(()) }).unwrap();
            proptest::prop_assert_eq!(counts.names, names);
        }
    }
}
