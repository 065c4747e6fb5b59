//! How things look on paper, on screen and in exchange files. Returns text or bytes, writes no
//! file. Layer: `present`.

pub mod summary;
pub mod table;
