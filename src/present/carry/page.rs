//! Assembles the page from its style, its program and the data. Layer: `present`.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use super::{Carry, data, worker};
use crate::model::Caution;
use crate::present::markup::{Element, Elements};
use crate::present::way_out::findings::caution;

const STYLE: &str = include_str!("style.css");
/// The body, without data of the user.
const BODY: &str = include_str!("body.html");
/// The parts of the program in the order in which they run.
const PROGRAM: &str = concat!(
    include_str!("earth.js"),
    include_str!("grid.js"),
    include_str!("position.js"),
    include_str!("light.js"),
    include_str!("pace.js"),
    include_str!("paths.js"),
    include_str!("land.js"),
    include_str!("closed.js"),
    include_str!("narrows.js"),
    include_str!("waters.js"),
    include_str!("wayout.js"),
    include_str!("message.js"),
    include_str!("fixes.js"),
    include_str!("risk.js"),
    include_str!("guide.js"),
    include_str!("lead.js"),
    include_str!("notebook.js"),
    include_str!("load.js"),
    // what comes after needs a browser
    "// ---- page ----\n",
    include_str!("storage.js"),
    include_str!("seal.js"),
    include_str!("ground.js"),
    include_str!("map.js"),
    include_str!("app_wayout.js"),
    include_str!("app_notebook.js"),
    include_str!("app.js"),
);

/// The page as one file that opens by itself.
#[must_use]
pub fn alone(carry: &Carry) -> String {
    page(carry, false)
}

/// The files of the folder with their names.
#[must_use]
pub fn folder(carry: &Carry) -> Vec<(&'static str, String)> {
    let page = page(carry, true);
    let mark: String = blake3::hash(page.as_bytes()).to_hex().chars().take(16).collect();
    vec![
        ("index.html", page),
        ("worker.js", worker::worker(&mark)),
        ("manifest.webmanifest", worker::manifest(&title(carry))),
        ("icon.svg", worker::icon().to_owned()),
    ]
}

fn title(carry: &Carry) -> String {
    let name = carry.safe.first().map_or("way out", |goal| goal.name.as_str());
    format!("{name}, {}", carry.day)
}

fn page(carry: &Carry, installable: bool) -> String {
    let data = Elements::of_drawing(format!(
        "<script type=\"application/json\" id=\"data\">{}</script>",
        data::text(carry)
    ));
    let body = Element::new("body")
        .set("data-worker", if installable { "worker.js" } else { "" })
        .with(header(carry))
        .with(rules())
        .with_verbatim(BODY)
        .with(data)
        .with(Element::new("script").with_verbatim(PROGRAM));
    let html =
        Element::new("html").set("lang", "en").with(head(&title(carry), installable)).with(body);
    format!("<!doctype html>\n{html}\n")
}

fn header(carry: &Carry) -> Element {
    Element::new("header").with(Element::new("h1").with_text(&title(carry)))
}

/// The rules, first on the screen and without the program: what to do when lost, hurt or in the dark comes
/// before what holds for every outing.
fn rules() -> Element {
    let [eyes, tell, lost, call, signal, local] = Caution::ALL;
    let list = [lost, call, signal, eyes, tell, local];
    let items = list.map(|one| Element::new("li").with_text(caution(one)));
    let rules = Element::new("details")
        .set("id", "rules")
        .set("open", "")
        .with(
            Element::new("summary")
                .with(Element::new("h2").with_text("Lost, hurt or dark: the rules")),
        )
        .with(
            Element::new("a")
                .set("class", "button danger")
                .set("href", "tel:112")
                .with_text("Call 112"),
        )
        .with(
            Element::new("a")
                .set("class", "button")
                .set("href", "#way")
                .with_text("To my position"),
        )
        .with(Element::new("ul").with_all(items));
    Element::new("section").set("aria-label", "Rules").with(rules)
}

fn head(title: &str, installable: bool) -> Element {
    let named =
        |name: &str, content: &str| Element::new("meta").set("name", name).set("content", content);
    let head = Element::new("head")
        .with(Element::new("meta").set("charset", "utf-8"))
        .with(policy(installable))
        .with(named("viewport", "width=device-width, initial-scale=1"))
        .with(named("referrer", "no-referrer"))
        .with(named("generator", "trug"))
        .with(named("format-detection", "telephone=no"))
        .with(Element::new("title").with_text(title))
        .with(Element::new("style").with_verbatim(STYLE));
    if !installable {
        return head;
    }
    head.with(Element::new("link").set("rel", "manifest").set("href", "manifest.webmanifest"))
        .with(Element::new("link").set("rel", "icon").set("href", "icon.svg"))
}

/// Only the page's own style and program, by digest; its own worker and manifest where it is installable.
///
/// # References
/// W3C, Content Security Policy Level 3.
fn policy(installable: bool) -> Element {
    let digest = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text)));
    let own =
        if installable { "worker-src 'self'; manifest-src 'self'; img-src 'self'; " } else { "" };
    let policy = format!(
        "default-src 'none'; style-src {}; script-src {}; {own}base-uri 'none'; form-action 'none'",
        digest(STYLE),
        digest(PROGRAM)
    );
    Element::new("meta").set("http-equiv", "Content-Security-Policy").set("content", policy)
}
