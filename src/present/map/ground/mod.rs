//! Draws the ground under every map: hill shading, contours with figures, water, roads, paths,
//! boundaries and names, in one restrained style that stays below finds and tracks. Layer: `present`.
//!
//! The ground comes from the user's own elevation tiles and base maps. What a drawing shows of it is bounded: hill
//! shading takes 20 to 60 KB, whatever the size of the tile (`docs/maps.md`).

mod along;
mod features;
mod labels;
mod legend;
pub mod outline;
mod relief;
pub mod style;

#[cfg(test)]
mod tests;

pub use legend::legend;
pub(in crate::present) use legend::{sample as legend_sample, words as legend_words};

use super::MapSheet;
use super::names::Obstacles;
use crate::earth::height_grid::HeightGrid;
use crate::model::{BaseClass, BaseFeature};
use crate::present::markup::{Element, Elements};
use crate::present::svg;
use crate::units::{LatLon, Metres};

/// What is known of the ground of one map.
#[derive(Clone, Debug, Default)]
pub struct MapGround {
    /// Heights over the frame, about its middle.
    pub heights: Option<HeightGrid>,
    /// Features of base maps that meet the frame.
    pub features: Vec<BaseFeature>,
    /// Lines of the store's own tracks of other days.
    pub walked: Vec<Vec<LatLon>>,
    /// Where the outings of the store began, for the locator.
    pub around: Vec<LatLon>,
}

impl MapGround {
    /// Whether nothing is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.heights.is_none() && self.features.is_empty() && self.walked.is_empty()
    }
}

/// A kind of mark of the ground, for the legend.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum GroundKind {
    /// Contours and shading.
    Contour,
    /// A feature of a base map.
    Base(BaseClass),
    /// A track of another day.
    Walked,
}

/// The drawn ground of one map.
#[derive(Clone, Debug, Default)]
pub struct DrawnGround {
    /// Everything but words.
    pub drawn: Elements,
    /// The kinds of marks within the frame.
    pub kinds: Vec<GroundKind>,
    /// The interval of the contours.
    pub interval: Option<Metres>,
    /// How much steeper the shading shows the slopes.
    pub exaggeration: f64,
    labels: labels::Wanted,
}

/// Draws the ground of a map; words are placed by [`DrawnGround::words`] when those of the finds are.
#[must_use]
pub fn draw(ground: &MapGround, sheet: &MapSheet) -> DrawnGround {
    drawn(ground, sheet, true)
}

/// The same without shading and areas, to lie over something else.
#[must_use]
pub fn draw_lines(ground: &MapGround, sheet: &MapSheet) -> DrawnGround {
    drawn(ground, sheet, false)
}

fn drawn(ground: &MapGround, sheet: &MapSheet, filled: bool) -> DrawnGround {
    let mut drawn = DrawnGround { exaggeration: 1.0, ..DrawnGround::default() };
    let heights = ground.heights.as_ref().map(|grid| grid.refined(sheet.metres(relief::FINEST)));
    if let Some(grid) = heights.as_ref().filter(|_| filled) {
        drawn.exaggeration = relief::shading(grid, sheet, &mut drawn.drawn);
    }
    features::areas(&ground.features, sheet, filled, &mut drawn);
    if let Some(grid) = &heights {
        relief::contours(grid, sheet, &mut drawn);
    }
    features::walked(&ground.walked, sheet, &mut drawn);
    features::lines(&ground.features, sheet, &mut drawn);
    features::points(&ground.features, sheet, &mut drawn);
    drawn.kinds.sort_unstable();
    drawn.kinds.dedup();
    drawn
}

impl DrawnGround {
    /// The figures of contours and the names, placed where they cover neither marks nor other words;
    /// those that do not fit are left out.
    #[must_use]
    pub fn words(&self, sheet: &MapSheet, obstacles: &mut Obstacles) -> Elements {
        self.labels.place(sheet.frame, obstacles)
    }

    /// The ground as one group.
    pub fn group(&self) -> Element {
        svg::group().set("class", "terrain").set("aria-hidden", "true").with(&self.drawn)
    }

    /// What the lines of the relief mean: `contours every 20 m`.
    #[must_use]
    pub fn relief_words(&self) -> Option<String> {
        let interval = self.interval?;
        Some(format!("contours every {:.0} m", interval.0))
    }
}
