//! Builds SVG and HTML elements in which all text is escaped and characters that XML forbids are
//! removed. Layer: `present`.

use std::fmt::{self, Display, Write};

use crate::error::is_hidden;

/// An element with its attributes and content.
#[derive(Clone, Debug)]
#[must_use]
pub struct Element {
    name: &'static str,
    attributes: String,
    content: String,
}

/// Escaped content that may be put inside an [`Element`]; plain text may not.
pub trait Markup: Display {}

impl Markup for Element {}
impl Markup for Elements {}
impl<T: Markup + ?Sized> Markup for &T {}

/// HTML elements that have no content and no end tag.
const EMPTY: [&str; 6] = ["meta", "input", "img", "br", "hr", "link"];
/// Shapes of SVG, which close themselves where they have no content.
const SHAPES: [&str; 5] = ["circle", "line", "path", "rect", "use"];
/// HTML elements whose end the next one or the end of their parent implies (HTML Living Standard, 13.1.2.4); each stands
/// only among its own kind, as `dt` and `dd`, or `th` and `td`, do.
const IMPLIED_END: [&str; 6] = ["dt", "dd", "li", "td", "th", "tr"];

impl Element {
    /// An element without attributes or content.
    pub fn new(name: &'static str) -> Self {
        Self { name, attributes: String::new(), content: String::new() }
    }

    /// With an attribute. Each name is set at most once.
    pub fn set(mut self, attribute: &str, value: impl Display) -> Self {
        let _ = write!(self.attributes, " {attribute}=\"");
        let _ = write!(Escaping(&mut self.attributes), "{value}");
        self.attributes.push('"');
        self
    }

    /// With an attribute where there is a value for it.
    pub fn set_some(self, attribute: &str, value: Option<impl Display>) -> Self {
        match value {
            Some(value) => self.set(attribute, value),
            None => self,
        }
    }

    /// With text, escaped.
    pub fn with_text(mut self, text: &str) -> Self {
        let _ = Escaping(&mut self.content).write_str(text);
        self
    }

    /// With text of a user, escaped. Letters beyond ASCII decide the direction of its lines.
    pub fn with_own_direction(self, text: &str) -> Self {
        let plain = text.is_ascii();
        let element = if plain { self } else { self.set("dir", "auto") };
        element.with_text(text)
    }

    /// With another element inside.
    pub fn with(mut self, child: impl Markup) -> Self {
        let _ = write!(self.content, "{child}");
        self
    }

    /// With other elements inside.
    pub fn with_all<T: Markup>(mut self, children: impl IntoIterator<Item = T>) -> Self {
        for child in children {
            let _ = write!(self.content, "{child}");
        }
        self
    }

    /// With an embedded style sheet or script, not escaped: the text must not
    /// contain user data.
    pub fn with_verbatim(mut self, ours: &'static str) -> Self {
        self.content.push_str(ours);
        self
    }
}

impl Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, attributes, content } = self;
        if EMPTY.contains(name) {
            return write!(f, "<{name}{attributes}>");
        }
        if content.is_empty() && SHAPES.contains(name) {
            return write!(f, "<{name}{attributes}/>");
        }
        if IMPLIED_END.contains(name) {
            return write!(f, "<{name}{attributes}>{content}");
        }
        write!(f, "<{name}{attributes}>{content}</{name}>")
    }
}

/// The text of the first element of this name in a drawing written by this builder, unescaped.
#[must_use]
pub(super) fn text_of(drawing: &str, name: &str) -> Option<String> {
    let (_, rest) = drawing.split_once(&format!("<{name}>"))?;
    let (text, _) = rest.split_once(&format!("</{name}>"))?;
    let plain = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
    Some(plain.replace("&#39;", "'").replace("&amp;", "&"))
}

/// Several elements one after the other.
#[derive(Clone, Debug, Default)]
pub struct Elements(String);

impl Elements {
    /// A drawing written by this builder, already escaped. User data must not
    /// be passed here.
    #[must_use]
    pub(crate) fn of_drawing(drawing: String) -> Self {
        Self(drawing)
    }

    /// Puts one more at the end.
    pub fn push(&mut self, element: impl Markup) {
        let _ = write!(self.0, "{element}");
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl Display for Elements {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl<T: Markup> Extend<T> for Elements {
    fn extend<I: IntoIterator<Item = T>>(&mut self, elements: I) {
        for element in elements {
            self.push(element);
        }
    }
}

impl<T: Markup> FromIterator<T> for Elements {
    fn from_iter<I: IntoIterator<Item = T>>(elements: I) -> Self {
        let mut all = Self::default();
        all.extend(elements);
        all
    }
}

/// Escapes text.
struct Escaping<'a>(&'a mut String);

impl Write for Escaping<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for letter in text.chars() {
            match letter {
                '&' => self.0.push_str("&amp;"),
                '<' => self.0.push_str("&lt;"),
                '>' => self.0.push_str("&gt;"),
                '"' => self.0.push_str("&quot;"),
                '\'' => self.0.push_str("&#39;"),
                '\r' => {}
                // neither XML 1.0 (fifth edition, production 2) nor a reader's eye would take it as text
                letter if is_hidden(letter) => self.0.push(char::REPLACEMENT_CHARACTER),
                letter => self.0.push(letter),
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_element_has_attributes_and_content() {
        let note = Element::new("p").set("class", "note").with_text("gills < 3 mm & free");
        assert_eq!(note.to_string(), r#"<p class="note">gills &lt; 3 mm &amp; free</p>"#);
    }

    #[test]
    fn text_is_escaped() {
        let hostile = "\"><script>alert('1')</script>\u{0}\u{fffe}";
        let element = Element::new("text").set("data-name", hostile).with_text(hostile).to_string();
        assert_eq!(element.matches('<').count(), 2, "{element}");
        assert!(!element.contains('\u{0}') && !element.contains('\u{fffe}'));
        assert!(element.contains("&quot;&gt;&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt;"));
    }

    #[test]
    fn cells_and_entries_of_lists_end_where_the_next_begins() {
        let cell = |name, words| Element::new(name).with_text(words);
        let row = Element::new("tr").with(cell("th", "host")).with(cell("td", "Fagus"));
        let table = Element::new("table").with(row);
        assert_eq!(table.to_string(), "<table><tr><th>host<td>Fagus</table>");
    }

    #[test]
    fn void_elements_have_no_end_tag() {
        assert_eq!(Element::new("br").to_string(), "<br>");
        assert_eq!(Element::new("path").set("d", "M0 0").to_string(), r#"<path d="M0 0"/>"#);
    }
}
