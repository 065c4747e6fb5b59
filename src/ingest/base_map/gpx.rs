//! Reads tracks and routes of a GPX file as paths, and its waypoints as places. Layer: `ingest`.

use std::path::Path;

use super::collected::{Collected, line};
use crate::error::Result;
use crate::ingest::track;
use crate::model::{BaseClass, BaseShape, FileKind};

pub(super) fn read(path: &Path, bytes: &[u8], collected: &mut Collected) -> Result<()> {
    let file = track::read_from(bytes, path, FileKind::Gpx, Some(bytes.len() as u64))?;
    for track in &file.tracks {
        let lines = track.segments.iter();
        let lines = lines.map(|segment| segment.fixes.iter().map(|fix| fix.at).collect());
        collected.put(BaseClass::Path, track.name.as_deref(), lines.filter_map(line).collect());
    }
    for route in &file.routes {
        let points = route.points.iter().map(|point| point.fix.at).collect();
        collected.put(BaseClass::Path, route.name.as_deref(), line(points).into_iter().collect());
    }
    for point in &file.waypoints {
        let shape = vec![BaseShape::Point(point.fix.at)];
        collected.put(BaseClass::Place, point.name.as_deref(), shape);
    }
    if file.points_set_aside > 0 {
        collected.damage = Some(format!("{} points could not be read", file.points_set_aside));
    }
    Ok(())
}
