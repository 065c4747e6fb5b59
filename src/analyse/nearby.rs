//! Finds the sites nearest to a position with an R-tree of unit vectors, valid at the poles and at
//! the 180th meridian. Layer: `analyse`.

use rstar::RTree;
use rstar::primitives::GeomWithData;

use crate::earth::geodesic;
use crate::model::Site;
use crate::units::{LatLon, Metres};

/// A spatial index of sites for nearest-neighbour queries.
///
/// # References
/// Guttman 1984, R-trees: a dynamic index structure for spatial searching, SIGMOD 14(2), 47-57,
/// doi:10.1145/971697.602266; by crate `rstar`.
#[derive(Debug)]
pub struct Nearby<'a> {
    sites: &'a [Site],
    tree: RTree<GeomWithData<[f64; 3], usize>>,
}

impl<'a> Nearby<'a> {
    /// An index of these sites.
    #[must_use]
    pub fn new(sites: &'a [Site]) -> Self {
        let places = sites
            .iter()
            .enumerate()
            .map(|(index, site)| GeomWithData::new(direction(site.at), index))
            .collect();
        Self { sites, tree: RTree::bulk_load(places) }
    }

    /// The sites nearest to a place, nearest first, each with its distance on the ellipsoid.
    ///
    /// Which sites are the nearest is decided on the sphere; distances and order are geodesic.
    ///
    /// # Accuracy
    /// The order is that of the sphere; two sites whose distances differ by less than half a
    /// percent may be in the other order, so the list is finally sorted by distance on the
    /// ellipsoid.
    #[must_use]
    pub fn nearest(&self, place: LatLon, most: usize) -> Vec<(&'a Site, Metres)> {
        let mut found: Vec<(&Site, Metres)> = self
            .tree
            .nearest_neighbor_iter(direction(place))
            .take(most)
            .map(|entry| &self.sites[entry.data])
            .map(|site| (site, geodesic::distance(place, site.at)))
            .collect();
        found.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
        found
    }
}

/// The unit vector from the centre of the Earth towards a place, on the sphere.
fn direction(place: LatLon) -> [f64; 3] {
    let (north, east) = (place.latitude().to_radians(), place.longitude().to_radians());
    [north.cos() * east.cos(), north.cos() * east.sin(), north.sin()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::SiteId;
    use crate::units::Radius95;

    fn site(id: i64, latitude: f64, longitude: f64) -> Site {
        Site {
            id: SiteId(id),
            name: None,
            at: LatLon::new(latitude, longitude).unwrap(),
            radius: Radius95::new(Metres(10.0)).unwrap(),
            finds: Vec::new(),
        }
    }

    fn order(sites: &[Site], latitude: f64, longitude: f64, most: usize) -> Vec<i64> {
        let place = LatLon::new(latitude, longitude).unwrap();
        Nearby::new(sites).nearest(place, most).iter().map(|(site, _)| site.id.0).collect()
    }

    #[test]
    fn the_nearest_comes_first_across_the_180th_meridian_and_at_a_pole() {
        let sites = [site(1, -42.0, 179.99), site(2, -42.0, -179.999), site(3, -42.0, 179.0)];
        assert_eq!(order(&sites, -42.0, 179.9999, 2), [2, 1]);
        let polar = [site(1, 89.0, 0.0), site(2, 89.9, 180.0), site(3, 88.0, 90.0)];
        assert_eq!(order(&polar, 89.99, 0.0, 3), [2, 1, 3]);
    }

    #[test]
    fn index_agrees_with_exhaustive_search() {
        let sites: Vec<Site> = (0_i32..400)
            .map(|k| {
                let step = f64::from(k);
                site(
                    i64::from(k),
                    -42.0 + 0.01 * (step * 0.7).sin(),
                    146.0 + 0.01 * (step * 1.3).cos(),
                )
            })
            .collect();
        let place = LatLon::new(-42.003, 146.004).unwrap();
        let mut all: Vec<(f64, i64)> =
            sites.iter().map(|site| (geodesic::distance(place, site.at).0, site.id.0)).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let expected: Vec<i64> = all.iter().take(10).map(|(_, id)| *id).collect();
        assert_eq!(order(&sites, -42.003, 146.004, 10), expected);
    }

    #[test]
    fn no_sites_are_handled() {
        assert!(order(&[], 0.0, 0.0, 3).is_empty());
    }
}
