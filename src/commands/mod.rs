//! What the user asked for: parse, load, one library call, present. Layer: `commands`.
