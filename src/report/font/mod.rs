//! The typeface of everything that is drawn: plots, paper and film.
//!
//! Source Sans 3 (SIL Open Font License 1.1, `OFL.txt`): Latin, Greek and
//! Cyrillic, so that names of files and signs of formulas are all in it.

/// Name of the typeface, as SVG and the paper report know it.
pub const FAMILY: &str = "Source Sans 3";

/// Its regular and semi-bold cuts, as TrueType files.
pub const FONTS: [&[u8]; 2] =
    [include_bytes!("SourceSans3-Regular.ttf"), include_bytes!("SourceSans3-SemiBold.ttf")];
