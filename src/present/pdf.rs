//! Writes drawings as the pages of a PDF: text stays text; title, language, and a tag for each page with
//! the description of its drawing, so that a screen reader states the finding. Layer: `present`.
//!
//! # References
//! ISO 32000-1:2008, 14.6 marked content, 14.7 logical structure, 14.9.3 alternate descriptions.

use std::collections::HashMap;

use pdf_writer::types::StructRole;
use pdf_writer::{Chunk, Content, Finish, Name, Pdf, Rect, Ref, TextStr};
use resvg::usvg;

use super::markup;
use super::render::tree;
use crate::error::{Error, Result};

/// A drawing as a PDF of one page.
///
/// # Errors
/// When the text is not SVG.
pub fn pdf(svg: &str, title: &str) -> Result<Vec<u8>> {
    pages(std::slice::from_ref(&svg), title)
}

/// Drawings as the pages of one PDF, each page as large as its drawing.
///
/// Text stays text: it can be searched, copied and read aloud. A drawing with a description is tagged as
/// a figure with it; others as text in the order in which it is drawn.
///
/// # Errors
/// When a text is not SVG.
///
/// # Examples
/// ```
/// use trug::model::RecordNumber;
/// use trug::present::label::{self, Paper};
/// use trug::present::render;
///
/// let sheets = label::slips(&[RecordNumber("TH-0017".into())], Paper::A4);
/// let document = render::pages(&sheets, "Field slips")?;
/// assert!(document.starts_with(b"%PDF"));
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn pages<T: AsRef<str>>(drawings: &[T], title: &str) -> Result<Vec<u8>> {
    let mut document = Document::new(title);
    for drawing in drawings {
        let tree = tree(drawing.as_ref())?;
        let (chunk, form) = svg2pdf::to_chunk(&tree, svg2pdf::ConversionOptions::default())
            .map_err(|error| {
                Error::program("a page was not rendered").because(error.to_string())
            })?;
        document.add(&chunk, form, tree.size(), markup::text_of(drawing.as_ref(), "desc"));
    }
    Ok(document.finish())
}

/// The document while pages are added.
struct Document {
    pdf: Pdf,
    next: Ref,
    pages: Ref,
    structure: Ref,
    whole: Ref,
    kids: Vec<Ref>,
    elements: Vec<Ref>,
}

impl Document {
    fn new(title: &str) -> Self {
        let mut next = Ref::new(1);
        let (catalog_id, pages, information) = (next.bump(), next.bump(), next.bump());
        let (structure, whole) = (next.bump(), next.bump());
        let mut pdf = Pdf::new();
        let mut catalog = pdf.catalog(catalog_id);
        catalog.pages(pages).lang(TextStr("en"));
        catalog.mark_info().marked(true);
        catalog.viewer_preferences().display_doc_title(true);
        catalog.pair(Name(b"StructTreeRoot"), structure);
        catalog.finish();
        pdf.document_info(information).title(TextStr(title)).creator(TextStr("trug"));
        Self { pdf, next, pages, structure, whole, kids: Vec::new(), elements: Vec::new() }
    }

    /// Adds a drawing as a page of its own size; with a description it is a figure with an alternate text, otherwise a
    /// paragraph.
    fn add(&mut self, chunk: &Chunk, form: Ref, size: usvg::Size, description: Option<String>) {
        let form = self.place(chunk, form);
        let (page_id, content_id, element) = (self.next.bump(), self.next.bump(), self.next.bump());
        let name = Name(b"Drawing");
        let mut page = self.pdf.page(page_id);
        page.parent(self.pages)
            .media_box(Rect::new(0.0, 0.0, size.width(), size.height()))
            .struct_parents(number(self.kids.len()))
            .contents(content_id);
        page.resources().x_objects().pair(name, form);
        page.finish();
        let role = if description.is_some() { StructRole::Figure } else { StructRole::P };
        let tag = if description.is_some() { Name(b"Figure") } else { Name(b"P") };
        let mut content = Content::new();
        content.begin_marked_content_with_properties(tag).properties().identify(0);
        content
            .save_state()
            // the form is one unit wide and high
            .transform([size.width(), 0.0, 0.0, size.height(), 0.0, 0.0])
            .x_object(name)
            .restore_state()
            .end_marked_content();
        self.pdf.stream(content_id, &content.finish());
        let mut tagged = self.pdf.struct_element(element);
        tagged.kind(role).parent(self.whole).page(page_id);
        tagged.children().marked_content_id(0);
        if let Some(description) = description {
            tagged.alt(TextStr(&description));
        }
        tagged.finish();
        self.kids.push(page_id);
        self.elements.push(element);
    }

    /// Renumbers a chunk into this document and returns the number of its form.
    fn place(&mut self, chunk: &Chunk, form: Ref) -> Ref {
        let mut numbers = HashMap::new();
        let next = &mut self.next;
        let chunk = chunk.renumber(|old| *numbers.entry(old).or_insert_with(|| next.bump()));
        self.pdf.extend(&chunk);
        numbers.get(&form).copied().unwrap_or(form)
    }

    fn finish(mut self) -> Vec<u8> {
        let count = number(self.kids.len());
        self.pdf.pages(self.pages).kids(self.kids.iter().copied()).count(count);
        let lists: Vec<Ref> = self.elements.iter().map(|_| self.next.bump()).collect();
        for (list, element) in lists.iter().zip(&self.elements) {
            self.pdf.indirect(*list).array().item(*element);
        }
        let mut whole = self.pdf.struct_element(self.whole);
        whole.kind(StructRole::Document).parent(self.structure);
        let mut children = whole.children();
        for element in &self.elements {
            children.struct_element(*element);
        }
        children.finish();
        whole.finish();
        let mut root = self.pdf.indirect(self.structure).dict();
        root.pair(Name(b"Type"), Name(b"StructTreeRoot"));
        root.pair(Name(b"K"), self.whole);
        root.pair(Name(b"ParentTreeNextKey"), count);
        let mut parents = root.insert(Name(b"ParentTree")).dict();
        let mut numbers = parents.insert(Name(b"Nums")).array();
        for (place, list) in lists.iter().enumerate() {
            numbers.item(number(place));
            numbers.item(*list);
        }
        numbers.finish();
        parents.finish();
        root.finish();
        self.pdf.finish()
    }
}

fn number(count: usize) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::style::FIND;
    use crate::present::svg::{self, Frame, Letters, Point};

    fn sample(description: Option<&str>) -> String {
        let drawing = match description {
            Some(words) => svg::described(144.0, 72.0, "sample", words),
            None => svg::drawing(144.0, 72.0, "sample"),
        };
        drawing
            .with(svg::rectangle(Frame::new(0.0, 0.0, 72.0, 72.0)).filled(FIND))
            .with(svg::text(Point::new(80.0, 40.0), "Russula", Letters::new(12.0)))
            .to_string()
    }

    #[test]
    fn pages_are_counted_and_keep_title_and_language() {
        let pdf = pages(&[sample(None), sample(None)], "Two labels").unwrap();
        let text = String::from_utf8_lossy(&pdf);
        assert!(pdf.starts_with(b"%PDF-1."));
        assert!(text.contains("/Count 2") && text.contains("(Two labels)"));
        assert!(text.contains("/Lang (en)") && text.contains("/DisplayDocTitle true"));
        assert_eq!(text.matches("/S /P\n").count(), 2);
    }

    #[test]
    fn described_drawing_is_a_figure_with_its_description() {
        let pdf = pdf(&sample(Some("Most finds about 22 May <95 %>")), "Season").unwrap();
        let text = String::from_utf8_lossy(&pdf);
        assert!(text.contains("/Marked true") && text.contains("/StructTreeRoot"));
        assert!(text.contains("/S /Figure") && text.contains("/StructParents 0"));
        assert!(text.contains("(Most finds about 22 May <95 %>)"), "no alternate description");
        assert!(text.contains("/MCID 0") && text.contains("EMC"));
    }
}
