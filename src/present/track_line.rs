//! Holds the estimated track of one outing for exchange files. Layer: `present`.

use jiff::civil::Date;
use uuid::Uuid;

use crate::earth::dateline;
use crate::model::TrackPoint;
use crate::units::LatLon;

/// The estimated track of one outing.
#[derive(Clone, Debug)]
pub struct TrackLine {
    /// The outing.
    pub outing: Uuid,
    /// The local date on which it began.
    pub date: Date,
    /// The collector.
    pub collector: Option<String>,
    /// Its points in order of time.
    pub points: Vec<TrackPoint>,
}

impl TrackLine {
    /// Its name: date and collector.
    #[must_use]
    pub fn name(&self) -> String {
        match &self.collector {
            Some(collector) => format!("{}, {collector}", self.date),
            None => self.date.to_string(),
        }
    }

    /// Its lines as (longitude, latitude) in degrees, split at gaps and at the 180th meridian.
    #[must_use]
    pub fn lines(&self) -> Vec<Vec<(f64, f64)>> {
        self.points
            .split_inclusive(|point| point.gap_after)
            .flat_map(|run| {
                dateline::cut(&run.iter().map(|point| point.at).collect::<Vec<LatLon>>())
            })
            .collect()
    }
}
