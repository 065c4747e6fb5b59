//! Reads what maps stand on: elevation tiles and base maps, given or kept in the store, and the store's
//! own tracks; looks up the elevation of finds in the tiles. Layer: `commands`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;
use uuid::Uuid;

use super::console::Console;
use super::taken_in::list_taken_in;
use crate::earth::elevation::{Bounds, Relief, led_by_system};
use crate::earth::height_grid::{GroundArea, HeightGrid};
use crate::error::{Error, Result, open_regular};
use crate::ingest::base_map;
use crate::model::{BaseFeature, BaseMap, KeptFind, Located, TrackPoint, name_of};
use crate::present::map::ground::MapGround;
use crate::present::summary::words::counted;
use crate::store::{KeptTile, Store};
use crate::units::{LatLon, Metres, SeaLevelHeight};

/// What maps stand on.
#[derive(Clone, Debug, Default, Args)]
pub(super) struct GroundArguments {
    /// Elevation tiles for hill shading and contours: .hgt, GeoTIFF, ASCII grid; EPSG:CODE=FILE where the
    /// file has no reference system. The store keeps where they are, and later maps use them.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    elevation: Vec<PathBuf>,

    /// Base maps with streams, water, roads, paths, boundaries and names: GeoJSON, GPX, KML, GeoPackage.
    /// The store keeps their features, and later maps draw them.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    base: Vec<PathBuf>,
}

/// Everything that maps of one command stand on.
#[derive(Debug, Default)]
pub(super) struct GroundSource {
    relief: Relief,
    tiles: usize,
    /// Features that no store keeps.
    features: Vec<BaseFeature>,
}

impl GroundArguments {
    /// Only elevation tiles.
    pub(super) fn of_elevation(elevation: Vec<PathBuf>) -> Self {
        Self { elevation, base: Vec::new() }
    }

    /// Tiles and base maps.
    pub(super) fn new(elevation: Vec<PathBuf>, base: Vec<PathBuf>) -> Self {
        Self { elevation, base }
    }

    /// What a map stands on where there may be no store.
    ///
    /// # Errors
    /// As [`Self::open`] and [`Self::keep`].
    pub(super) fn with_store_at(
        &self,
        path: &Path,
        area: Option<GroundArea>,
        console: &mut Console,
    ) -> Result<MapGround> {
        let Some(area) = area else { return Ok(MapGround::default()) };
        if !path.exists() {
            return self.open(console)?.under(&area, None, None);
        }
        let mut store = Store::open(path)?;
        list_taken_in(&store, console)?;
        self.keep(&mut store, console)?.under(&area, Some(&store), None)
    }

    /// Whether elevation tiles are given.
    pub(super) fn has_tiles(&self) -> bool {
        !self.elevation.is_empty()
    }

    /// The heights of the ground in the given tiles and in those that the store at a path keeps. Tiles are opened
    /// when heights are asked for; what cannot be read is reported where the tiles are used for maps.
    pub(super) fn heights<'a>(
        &'a self,
        store: Option<&'a Path>,
    ) -> impl Fn(&[LatLon]) -> Vec<Option<SeaLevelHeight>> + 'a {
        move |places| {
            let kept = store.map(Store::elevation_tiles_of).unwrap_or_default();
            let kept = kept.iter().filter_map(|tile| usable(tile).ok());
            let all: Vec<PathBuf> = self.elevation.iter().cloned().chain(kept).collect();
            let relief =
                all.iter().filter_map(|path| Relief::open(std::slice::from_ref(path)).ok());
            let relief: Vec<Relief> = relief.collect();
            let height = |place: &LatLon| {
                let bounds = Bounds::about(&[*place], Metres(200.0))?;
                relief.iter().find_map(|one| one.read(&bounds).ok()?.height(*place))
            };
            places.iter().map(height).collect()
        }
    }

    /// Whether any is given.
    pub(super) fn any(&self) -> bool {
        !self.elevation.is_empty() || !self.base.is_empty()
    }

    /// Opens what is given, without a store.
    ///
    /// # Errors
    /// When a file cannot be read.
    pub(super) fn open(&self, console: &mut Console) -> Result<GroundSource> {
        let mut features = Vec::new();
        for path in &self.base {
            features.extend(read_base(path, console)?.features);
        }
        let relief = Relief::open(&self.elevation)?;
        Ok(GroundSource { relief, tiles: self.elevation.len(), features })
    }

    /// Keeps what is given in the store and opens everything that it has.
    ///
    /// # Errors
    /// When a given file cannot be read, or the store cannot be written. A kept tile that is not there
    /// any more is reported and left out.
    pub(super) fn keep(&self, store: &mut Store, console: &mut Console) -> Result<GroundSource> {
        let now = Timestamp::now();
        if !self.elevation.is_empty() {
            Relief::open(&self.elevation)?;
            let tiles = self.elevation.iter().map(|path| kept(path)).collect::<Result<Vec<_>>>()?;
            store.keep_elevation_tiles(&tiles, now)?;
        }
        for path in &self.base {
            let map = BaseMap { path: absolute(path)?, ..read_base(path, console)? };
            let bytes = path.metadata().map_or(0, |data| data.len());
            store.keep_base_map(&map, bytes, now)?;
        }
        kept_of(store, console)
    }
}

/// Opens what the store keeps.
///
/// # Errors
/// When the store cannot be read.
pub(super) fn kept_of(store: &Store, console: &mut Console) -> Result<GroundSource> {
    let mut there = Vec::new();
    for tile in store.elevation_tiles()? {
        match usable(&tile) {
            Ok(path) => there.push(path),
            Err(error) => console.warning(&error),
        }
    }
    let relief = Relief::open(&there)?;
    Ok(GroundSource { relief, tiles: there.len(), features: Vec::new() })
}

impl GroundSource {
    /// The elevation tiles.
    pub(super) fn relief(&self) -> &Relief {
        &self.relief
    }

    /// The ground of a map, except the track of one outing.
    ///
    /// # Errors
    /// When a tile or the store cannot be read.
    pub(super) fn under(
        &self,
        area: &GroundArea,
        store: Option<&Store>,
        except: Option<Uuid>,
    ) -> Result<MapGround> {
        let mut ground = self.without_tracks(area, store)?;
        if let (Some(store), Some(bounds)) = (store, area.bounds(Metres(0.0))) {
            let tracks = store.tracks_near(&bounds, except)?;
            ground.walked = tracks.iter().flat_map(|track| pieces(track)).collect();
            ground.around = store.outings()?.iter().filter_map(|outing| outing.began).collect();
        }
        Ok(ground)
    }

    /// The ground of a map without tracks of other days, which may lead to sensitive places.
    ///
    /// # Errors
    /// As [`Self::under`].
    pub(super) fn without_tracks(
        &self,
        area: &GroundArea,
        store: Option<&Store>,
    ) -> Result<MapGround> {
        let heights = if self.tiles > 0 { HeightGrid::read(&self.relief, area)? } else { None };
        let features = self.features(area, store)?;
        Ok(MapGround { heights, features, ..MapGround::default() })
    }

    /// Features of base maps, given and kept, that may meet an area.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn features(
        &self,
        area: &GroundArea,
        store: Option<&Store>,
    ) -> Result<Vec<BaseFeature>> {
        let mut features = self.features.clone();
        if let (Some(store), Some(bounds)) = (store, area.bounds(Metres(0.0))) {
            features.extend(store.base_features(&bounds)?);
        }
        Ok(features)
    }

    /// The same features on the tiles of another source.
    pub(super) fn with_tiles_of(self, other: Self) -> Self {
        Self { relief: other.relief, tiles: other.tiles, features: self.features }
    }
}

/// Finds are looked up together within squares of so many degrees, so that each tile is read in few, small windows.
const SQUARE: f64 = 0.01;
/// The largest radius of a find whose elevation is looked up (chosen): beyond it the ground says little.
const LARGEST_RADIUS: Metres = Metres(1_000.0);

/// Sets the elevation of the ground of finds whose record has none, from the tiles that the store keeps; not of
/// generalised ones, whose place it would tell. What cannot be read is reported.
///
/// # Errors
/// When the store cannot be read.
pub(super) fn set_elevations<'f>(
    finds: impl Iterator<Item = &'f mut KeptFind>,
    store: &Store,
    console: &mut Console,
) -> Result<()> {
    let mut squares: BTreeMap<(i64, i64), Vec<&mut KeptFind>> = BTreeMap::new();
    for find in finds {
        if let Some(place) = without_elevation(find) {
            squares.entry(square(place.at)).or_default().push(find);
        }
    }
    if squares.is_empty() || store.elevation_tiles()?.is_empty() {
        return Ok(());
    }
    let source = kept_of(store, console)?;
    let mut failed = None;
    for finds in squares.into_values() {
        let places: Vec<Located> = finds.iter().filter_map(|find| find.place.clone()).collect();
        let at: Vec<LatLon> = places.iter().map(|place| place.at).collect();
        let radii = places.iter().map(|place| place.radius.metres());
        let farthest = radii.fold(Metres(0.0), Metres::max);
        let Some(bounds) = Bounds::about(&at, farthest + Metres(200.0)) else { continue };
        match source.relief.read(&bounds) {
            Ok(ground) => {
                for (find, place) in finds.into_iter().zip(places) {
                    find.ground = ground.about(place.at, place.radius);
                }
            }
            Err(error) => failed = Some(error),
        }
    }
    if let Some(error) = failed {
        console.warning(&error);
    }
    Ok(())
}

/// The position of a find whose elevation is to be looked up.
fn without_elevation(find: &KeptFind) -> Option<&Located> {
    let place = find.place.as_ref()?;
    let wanted = find.record.elevation.is_none() && find.generalised.is_none();
    (wanted && place.radius.metres() <= LARGEST_RADIUS).then_some(place)
}

#[allow(clippy::cast_possible_truncation, reason = "degrees are within a few hundred")]
fn square(at: LatLon) -> (i64, i64) {
    ((at.latitude() / SQUARE).floor() as i64, (at.longitude() / SQUARE).floor() as i64)
}

/// A track in pieces between gaps.
fn pieces(track: &[TrackPoint]) -> Vec<Vec<LatLon>> {
    let pieces = track.split_inclusive(|point| point.gap_after);
    let pieces = pieces.map(|piece| piece.iter().map(|point| point.at).collect());
    pieces.filter(|piece: &Vec<LatLon>| piece.len() > 1).collect()
}

fn read_base(path: &Path, console: &mut Console) -> Result<BaseMap> {
    let map = base_map::read(path)?;
    let name = name_of(path);
    if !map.unknown.is_empty() {
        let kinds: Vec<String> =
            map.unknown.iter().take(5).map(|(kind, count)| format!("{kind} ({count})")).collect();
        let more = map.unknown.len().saturating_sub(5);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        console.note(&format!(
            "{name}: of no known class, drawn in one neutral style: {}{more}.",
            kinds.join(", ")
        ));
    }
    for (count, why) in [
        (map.without_place, "without a usable geometry left out"),
        (map.beyond, "beyond the limit of positions left out; cut the area out that you visit"),
    ] {
        if count > 0 {
            let what = if count == map.without_place && why.starts_with("without") {
                counted(count, "feature", "features")
            } else {
                counted(count, "position", "positions")
            };
            console.note(&format!("{name}: {what} {why}."));
        }
    }
    if let Some(damage) = &map.damage {
        console.warning(
            &Error::input(format!("{name} was not read to its end"))
                .because(damage.clone())
                .hint("what precedes the damage is drawn; export the map again")
                .in_file(path),
        );
    }
    Ok(map)
}

fn kept(given: &Path) -> Result<KeptTile> {
    let (system, path) = led_by_system(given);
    let broken = |fault: std::io::Error| Error::file("read", &path, &fault);
    let mut file = open_regular(&path).map_err(broken)?;
    let mut hasher = blake3::Hasher::new();
    let bytes = std::io::copy(&mut file, &mut hasher).map_err(broken)?;
    let hash = hasher.finalize().to_hex().to_string();
    Ok(KeptTile { path: absolute(&path)?, system, bytes, hash })
}

fn absolute(path: &Path) -> Result<PathBuf> {
    std::path::absolute(path).map_err(|fault| Error::file("find", path, &fault))
}

/// The path of a kept tile as options write it.
fn usable(tile: &KeptTile) -> Result<PathBuf> {
    let there = tile.path.metadata().map(|data| data.len());
    let refuse = |why: String| {
        Error::input(format!("{} is not used", name_of(&tile.path)))
            .because(why)
            .hint("give its new place with --elevation")
            .in_file(&tile.path)
    };
    match there {
        Err(fault) => Err(refuse(format!("the elevation tile cannot be read: {fault}"))),
        Ok(bytes) if bytes != tile.bytes => {
            Err(refuse(format!("it has {bytes} bytes; the tile that was given had {}", tile.bytes)))
        }
        Ok(_) => Ok(match &tile.system {
            Some(system) => PathBuf::from(format!("{system}={}", tile.path.display())),
            None => tile.path.clone(),
        }),
    }
}
