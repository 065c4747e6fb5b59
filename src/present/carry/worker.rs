//! Makes the service worker, the manifest and the picture of the folder. Layer: `present`.

use serde_json::json;

/// Answers from the files kept at the first visit; asks the network for nothing afterwards.
const WORKER: &str = include_str!("worker.js");

/// The service worker; `mark` changes with the page, so that a new page replaces the kept one.
pub(super) fn worker(mark: &str) -> String {
    WORKER.replace("PAGE_MARK", mark)
}

/// The manifest.
///
/// # References
/// W3C, Web Application Manifest.
pub(super) fn manifest(title: &str) -> String {
    let text = json!({
        "name": title,
        "short_name": "trug",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#ffffff",
        "theme_color": "#1d2327",
        "icons": [{ "src": "icon.svg", "sizes": "any", "type": "image/svg+xml", "purpose": "any maskable" }],
    });
    format!("{text:#}\n")
}

/// An arrow that points up on a dark ground.
pub(super) fn icon() -> &'static str {
    "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 512 512\"><rect width=\"512\" height=\"512\" fill=\"#1d2327\"/><path d=\"M256 96 372 400 256 336 140 400Z\" fill=\"#ffffff\"/></svg>\n"
}
