//! Reads the marks of a map back from the text of a finished drawing: points, rectangles, coloured shapes and
//! lines, in paper coordinates. Layer: `present`.

use crate::present::svg::Point;

/// The marks of one map.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Marks {
    /// Centres of circles.
    pub points: Vec<Point>,
    /// Rectangles: west, north, width, height.
    pub rectangles: Vec<[f64; 4]>,
    /// Vertices of filled shapes, with their colour.
    pub shapes: Vec<(String, Vec<Point>)>,
    /// Vertices of lines.
    pub lines: Vec<Point>,
}

/// The marks in the group that is clipped to `clip`; `None` where a drawing has no such group.
#[must_use]
pub fn marks(drawing: &str, clip: &str) -> Option<Marks> {
    let from = drawing.find(&format!("clip-path=\"url(#{clip})\""))?;
    let mut marks = Marks::default();
    let mut depth = 0_usize;
    for tag in drawing[from..].split('<').skip(1) {
        let tag = tag.split_once('>').map_or(tag, |(tag, _)| tag);
        match tag.split([' ', '/']).next() {
            Some("g") => depth += 1,
            Some("") if tag == "/g" => {
                let Some(outer) = depth.checked_sub(1) else { break };
                depth = outer;
            }
            Some("circle") => marks.points.extend(point(tag, "cx", "cy")),
            Some("rect") => marks.rectangles.extend(rectangle(tag)),
            Some("path") => {
                let vertices = attribute(tag, "d").map_or_else(Vec::new, vertices);
                marks
                    .shapes
                    .push((attribute(tag, "fill").unwrap_or_default().to_owned(), vertices));
            }
            Some("polyline" | "polygon") => {
                marks.lines.extend(attribute(tag, "points").map_or_else(Vec::new, vertices));
            }
            _ => {}
        }
    }
    Some(marks)
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    let value = tag.get(from..)?;
    value.get(..value.find('"')?)
}

fn number(tag: &str, name: &str) -> Option<f64> {
    attribute(tag, name)?.parse().ok()
}

fn point(tag: &str, x: &str, y: &str) -> Option<Point> {
    Some(Point::new(number(tag, x)?, number(tag, y)?))
}

fn rectangle(tag: &str) -> Option<[f64; 4]> {
    Some([number(tag, "x")?, number(tag, "y")?, number(tag, "width")?, number(tag, "height")?])
}

/// The numbers of a path or a list of points, two by two.
fn vertices(text: &str) -> Vec<Point> {
    let numbers = text.split(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | 'e')));
    let numbers: Vec<f64> = numbers.filter_map(|number| number.parse().ok()).collect();
    numbers.chunks_exact(2).map(|pair| Point::new(pair[0], pair[1])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_one_group_are_read() {
        let drawing = "<svg><circle cx=\"9\" cy=\"9\" r=\"1\"/>\
            <g clip-path=\"url(#a)\"><g><path d=\"M1 2L3,4Z\" fill=\"#fff\"/></g>\
            <circle cx=\"5.5\" cy=\"-6\" r=\"1\"/><polyline points=\"1,2 3,4\"/></g>\
            <rect x=\"0\" y=\"0\" width=\"1\" height=\"2\"/></svg>";
        let read = marks(drawing, "a").unwrap();
        assert_eq!(read.points, [Point::new(5.5, -6.0)]);
        let two = vec![Point::new(1.0, 2.0), Point::new(3.0, 4.0)];
        assert_eq!(read.shapes, [("#fff".to_owned(), two.clone())]);
        assert_eq!(read.lines, two);
        assert!(read.rectangles.is_empty(), "{read:?}");
        assert!(marks(drawing, "b").is_none());
    }
}
