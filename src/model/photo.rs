//! Represents the header of a photograph. Layer: `model`.

use std::fmt;

use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

use super::SourceFile;
use crate::units::{GpsHeight, LatLon, MagneticBearing, Metres, Timestamp, TrueBearing, WallClock};

/// One photograph: its header only, never its pixels.
///
/// Read from the first kilobytes of the file. A header that is damaged gives what can be read, with `damaged` set.
#[derive(Clone, Debug)]
pub struct Photo {
    /// The file. Its hash covers the length of the file and the part that was read.
    pub source: SourceFile,
    /// Which camera took it.
    pub camera: Camera,
    /// The camera's wall clock at the exposure, sub-seconds included.
    pub taken: Option<WallClock>,
    /// The offset from UTC that the camera claims for `taken`.
    pub offset: Option<Offset>,
    /// What the camera's or phone's own receiver added.
    pub gps: PhotoGps,
    /// Problems with the header, one sentence each.
    pub remarks: Vec<String>,
    /// Whether part of the header was lost; `remarks` says how.
    pub damaged: bool,
}

impl Photo {
    /// The name by which a notebook refers to it: the file name without its folder.
    #[must_use]
    pub fn name(&self) -> String {
        self.source.name()
    }
}

/// Which camera: the key under which one clock offset is shared.
///
/// Two cameras of one model without a serial number in their headers are one camera here; where their written times
/// step, they are two clocks.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Camera {
    /// Maker.
    pub make: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number of the body.
    pub serial: Option<String>,
}

impl fmt::Display for Camera {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let make = self.make.as_deref().unwrap_or_default();
        let model = self.model.as_deref().unwrap_or_default();
        let mut name = if model.to_lowercase().starts_with(&make.to_lowercase()) {
            model.to_owned()
        } else {
            format!("{make} {model}").trim().to_owned()
        };
        if name.is_empty() {
            name.push_str("unnamed camera");
        }
        if let Some(serial) = &self.serial {
            name.push_str(" no. ");
            name.push_str(serial);
        }
        f.pad(&name)
    }
}

/// The GPS part of a photograph's header.
///
/// A telephone may repeat a position that is minutes old; `time` says of when it is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PhotoGps {
    /// The device's position.
    pub at: Option<LatLon>,
    /// The device's height.
    pub height: Option<GpsHeight>,
    /// Which way the lens looked.
    pub direction: Option<Direction>,
    /// UTC of the position, which may be older than the exposure.
    pub time: Option<Timestamp>,
    /// The device's own estimate of its horizontal error, at an unstated level (about 50 %).
    pub error: Option<Metres>,
}

/// A direction with its north, as Exif states it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Direction {
    /// From true north.
    True(TrueBearing),
    /// From magnetic north.
    Magnetic(MagneticBearing),
}
