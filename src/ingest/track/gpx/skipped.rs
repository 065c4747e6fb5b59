//! Finds the end of a skipped element in linear time and bounded memory. Extensions may contain
//! anything, including points and missing end tags. Layer: `ingest`.

use super::element::{CONTAINERS, Element};

/// Deeper levels are only counted.
const DEEPEST_NAME: usize = 1 << 20;

/// The depth to which an unmatched end tag searches for its start tag.
const REACH: usize = 64;

/// The open elements of the skipped part.
#[derive(Clone, Debug, Default)]
pub(super) struct Skipped {
    names: Vec<u32>,
    deeper: u64,
    containers: [u32; CONTAINERS],
    points: u64,
}

/// The effect of an end tag on the skipped part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Leaving {
    /// Still inside.
    Inside,
    /// Still inside; the tag closed nothing, or more than its own element.
    Mismatched,
    /// The skipped part ends.
    Done,
    /// The tag belongs to an enclosing element: end tags are missing.
    Beyond,
}

impl Skipped {
    /// Whether a part is being skipped.
    pub(super) fn is_active(&self) -> bool {
        !self.names.is_empty()
    }

    /// The number of points in it so far.
    pub(super) fn points(&self) -> u64 {
        self.points
    }

    /// A tag that closes itself.
    pub(super) fn pass(&mut self, element: Element) {
        self.points += u64::from(matches!(element, Element::Point(_)));
    }

    /// A start tag.
    pub(super) fn enter(&mut self, name: &str, element: Element) {
        self.pass(element);
        if self.names.len() == DEEPEST_NAME {
            self.deeper += 1;
            return;
        }
        if let Some(container) = element.container() {
            self.containers[container] += 1;
        }
        self.names.push(key(name, element));
    }

    /// An end tag.
    pub(super) fn leave(&mut self, name: &str, element: Element) -> Leaving {
        if self.deeper > 0 {
            self.deeper -= 1;
            return Leaving::Inside;
        }
        let wanted = key(name, element);
        let lowest = self.names.len().saturating_sub(REACH);
        match self.names[lowest..].iter().rposition(|&name| name == wanted) {
            Some(place) => {
                let fits = lowest + place + 1 == self.names.len();
                self.cut(lowest + place);
                match (self.names.is_empty(), fits) {
                    (true, _) => Leaving::Done,
                    (false, true) => Leaving::Inside,
                    (false, false) => Leaving::Mismatched,
                }
            }
            None if element.container().is_some_and(|place| self.containers[place] == 0) => {
                self.cut(0);
                Leaving::Beyond
            }
            None => Leaving::Mismatched,
        }
    }

    fn cut(&mut self, length: usize) {
        if length == 0 {
            self.names.clear();
            self.containers = [0; CONTAINERS];
            self.deeper = 0;
            self.points = 0;
            return;
        }
        for name in self.names.drain(length..) {
            if let Some(count) = self.containers.get_mut(name as usize) {
                *count -= 1;
            }
        }
    }
}

/// A container's small number, otherwise a hash of the name (FNV-1a) above them.
fn key(name: &str, element: Element) -> u32 {
    if let Some(container) = element.container().and_then(|place| u32::try_from(place).ok()) {
        return container;
    }
    let hash = name
        .bytes()
        .fold(0x811c_9dc5_u32, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193));
    hash | 0x8000_0000
}

#[cfg(test)]
mod tests {
    use super::*;

    fn walk(tags: &[&str]) -> Vec<Leaving> {
        let mut skipped = Skipped::default();
        let mut seen = Vec::new();
        for tag in tags {
            match tag.strip_prefix('/') {
                None => skipped.enter(tag, Element::named(tag)),
                Some(name) => seen.push(skipped.leave(name, Element::named(name))),
            }
        }
        seen
    }

    #[test]
    fn well_formed_parts_end_where_they_should() {
        use Leaving::{Done, Inside};
        assert_eq!(walk(&["extensions", "a", "/a", "/extensions"]), [Inside, Done]);
        assert_eq!(walk(&["e", "trkpt", "/trkpt", "/e"]), [Inside, Done]);
    }

    #[test]
    fn missing_end_tags_do_not_swallow_the_rest() {
        use Leaving::{Beyond, Done, Mismatched};
        assert_eq!(walk(&["extensions", "a", "/extensions"]), [Done]);
        assert_eq!(walk(&["extensions", "a", "/trkpt"]), [Beyond]);
        assert_eq!(walk(&["e", "f", "a", "/f", "/e"]), [Mismatched, Done]);
        assert_eq!(walk(&["e", "/b", "/e"]), [Mismatched, Done]);
    }

    #[test]
    fn a_point_inside_closes_itself_only() {
        use Leaving::{Beyond, Mismatched};
        assert_eq!(walk(&["e", "trkpt", "x", "/trkpt", "/trkpt"]), [Mismatched, Beyond]);
    }

    #[test]
    fn depth_is_bounded() {
        let mut skipped = Skipped::default();
        for _ in 0..3_000_000 {
            skipped.enter("a", Element::Other);
        }
        assert!(skipped.names.capacity() <= 2 * DEEPEST_NAME);
        let ends = (0..3_000_000).map(|_| skipped.leave("a", Element::Other));
        assert_eq!(ends.filter(|leaving| *leaving == Leaving::Done).count(), 1);
    }
}
