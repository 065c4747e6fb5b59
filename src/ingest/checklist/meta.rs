//! Reads what the `meta.xml` of a Darwin Core Archive says of its core table. Layer: `ingest`.
//!
//! # References
//! Darwin Core Text Guide, <http://rs.tdwg.org/dwc/terms/guides/text/>: attributes and their defaults.

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use super::columns::{Columns, Source, Term};
use super::lines::Form;

/// The core table of an archive.
#[derive(Clone, Debug)]
pub(super) struct Described {
    pub(super) file: String,
    pub(super) form: Form,
    /// Lines of headings.
    pub(super) headings: usize,
    pub(super) columns: Columns,
}

/// Reads the description, or says why it cannot be used.
pub(super) fn read(text: &str) -> Result<Described, String> {
    let mut reader = Reader::from_str(text);
    reader.config_mut().check_end_names = false;
    let mut core: Option<Described> = None;
    let (mut within, mut in_location) = (false, false);
    loop {
        match reader.read_event().map_err(|error| format!("its meta.xml is damaged: {error}"))? {
            Event::DocType(_) => return Err("its meta.xml declares entities of its own".into()),
            Event::Start(tag) | Event::Empty(tag) => match tag.local_name().as_ref() {
                "core" => {
                    core = Some(begun(&tag)?);
                    within = true;
                }
                "extension" => within = false,
                "location" => in_location = within,
                "id" | "field" if within => {
                    if let Some(core) = &mut core {
                        add_column(&tag, &mut core.columns);
                    }
                }
                _ => {}
            },
            Event::Text(name) if in_location => {
                let name = name.xml10_content();
                if let Some(core) = &mut core
                    && core.file.is_empty()
                {
                    name.trim().clone_into(&mut core.file);
                }
            }
            Event::End(tag) if tag.local_name().as_ref() == "location" => in_location = false,
            Event::Eof => break,
            _ => {}
        }
    }
    let core = core.ok_or("its meta.xml has no core table")?;
    if core.file.is_empty() {
        return Err("its meta.xml does not name the file of the core table".into());
    }
    Ok(core)
}

fn begun(tag: &BytesStart<'_>) -> Result<Described, String> {
    let row_type = attribute(tag, "rowType").unwrap_or_default();
    let kind = row_type.rsplit(['/', '#']).next().unwrap_or_default();
    if !kind.eq_ignore_ascii_case("taxon") {
        return Err(format!("its core table is of {kind}, not of taxa"));
    }
    if let Some(encoding) = attribute(tag, "encoding")
        && encoding.to_lowercase().contains("16")
    {
        return Err(format!("its table is {encoding}; save it as UTF-8"));
    }
    let delimiter = attribute(tag, "fieldsTerminatedBy").unwrap_or_else(|| ",".into());
    let quote = attribute(tag, "fieldsEnclosedBy").unwrap_or_else(|| "\"".into());
    let headings = attribute(tag, "ignoreHeaderLines").and_then(|lines| lines.trim().parse().ok());
    Ok(Described {
        file: String::new(),
        form: Form { delimiter: mark(&delimiter).unwrap_or(','), quote: mark(&quote) },
        headings: headings.unwrap_or(0),
        columns: Columns::default(),
    })
}

/// `\t` and the like, or the character itself.
fn mark(text: &str) -> Option<char> {
    match text {
        "\\t" => Some('\t'),
        other => other.chars().next(),
    }
}

fn add_column(tag: &BytesStart<'_>, columns: &mut Columns) {
    let index = attribute(tag, "index").and_then(|index| index.trim().parse().ok());
    let fixed = attribute(tag, "default").map(Source::Fixed);
    let Some(source) = index.map(Source::Column).or(fixed) else { return };
    match attribute(tag, "term") {
        Some(term) => columns.add_named(&term, source),
        None => columns.add(Term::Id, source),
    }
}

fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let mut attributes = tag.attributes();
    let mut found = attributes.with_checks(false).flatten();
    let attribute = found.find(|attribute| attribute.key.local_name().as_ref() == name)?;
    Some(attribute.normalized_value(XmlVersion::Implicit1_0).ok()?.into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_core_table_is_described() {
        let text = r#"<archive xmlns="http://rs.tdwg.org/dwc/text/"><core encoding="UTF-8"
            fieldsTerminatedBy="\t" linesTerminatedBy="\n" fieldsEnclosedBy="" ignoreHeaderLines="1"
            rowType="http://rs.tdwg.org/dwc/terms/Taxon"><files><location>taxon.txt</location></files>
            <id index="0"/><field index="2" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
            <field default="Fungi" term="http://rs.tdwg.org/dwc/terms/kingdom"/></core>
            <extension rowType="x"><files><location>other.txt</location></files></extension></archive>"#;
        let core = read(text).unwrap();
        assert_eq!((core.file.as_str(), core.headings), ("taxon.txt", 1));
        assert_eq!(core.form, Form { delimiter: '\t', quote: None });
        let cells = ["7", "", "Mycena"].map(String::from);
        assert_eq!(core.columns.value(Term::Name, &cells), "Mycena");
        assert_eq!(core.columns.value(Term::Id, &cells), "7");
        assert_eq!(core.columns.value(Term::Higher(0), &cells), "Fungi");
    }

    #[test]
    fn other_archives_are_refused() {
        assert!(read("<archive/>").is_err());
        assert!(
            read("<archive><core rowType='x/Occurrence'/></archive>")
                .unwrap_err()
                .contains("Occurrence")
        );
        assert!(read("<archive><core rowType='x/Taxon'/></archive>").is_err());
        assert!(read("<!DOCTYPE a [<!ENTITY b 'c'>]><archive/>").is_err());
    }
}
