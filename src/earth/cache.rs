//! Names the user's cache folder, for files that can be recreated at any time. Layer: `earth`.

use std::env;
use std::path::PathBuf;

/// `XDG_CACHE_HOME`, `LOCALAPPDATA`, or the usual folder within the home folder; `None` where the
/// environment names none of them.
pub(crate) fn folder() -> Option<PathBuf> {
    let variable =
        |name: &str| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    variable("XDG_CACHE_HOME")
        .filter(|path| path.is_absolute())
        .or_else(|| variable("LOCALAPPDATA"))
        .or_else(|| {
            let kept = if cfg!(target_os = "macos") { "Library/Caches" } else { ".cache" };
            variable("HOME").map(|home| home.join(kept))
        })
}
