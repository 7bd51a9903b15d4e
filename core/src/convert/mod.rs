//! To and from the shapes of other crates, each behind the feature of its name.
//!
//! What both sides can say exactly goes by `From` and `Into`: points, steps, lines, chains of lines. An arc is no
//! Bézier and no chain of chords, so what turns it into one takes a tolerance, a distance in mm.

#[cfg(feature = "geo-types")]
mod geo_types;
#[cfg(feature = "kurbo")]
mod kurbo;
