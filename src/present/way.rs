//! A way on its way out: the points of one outing with what to call it. Layer: `present`.

use jiff::civil::Date;
use uuid::Uuid;

use crate::earth::dateline;
use crate::model::TrackPoint;
use crate::units::LatLon;

/// The estimated way of one outing.
#[derive(Clone, Debug)]
pub struct Way {
    /// The outing.
    pub outing: Uuid,
    /// The local date on which it began.
    pub date: Date,
    /// Who walked it.
    pub collector: Option<String>,
    /// Its points in order of time.
    pub points: Vec<TrackPoint>,
}

impl Way {
    /// What to call it: its date and whose it is.
    #[must_use]
    pub fn name(&self) -> String {
        match &self.collector {
            Some(collector) => format!("{}, {collector}", self.date),
            None => self.date.to_string(),
        }
    }

    /// Its unbroken lines as (longitude, latitude) in degrees, cut at gaps and at the 180th meridian.
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
