//! Writes a finding as JSON: its code, its values and its sentence. Layer: `present`.

use serde::Serialize;
use serde_json::{Value, json};

/// The finding with its sentence.
pub(crate) fn with_sentence(finding: &impl Serialize, sentence: &str) -> Value {
    let mut object = json!(finding);
    object["sentence"] = json!(sentence);
    object
}
