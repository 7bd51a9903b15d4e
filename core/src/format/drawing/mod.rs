//! What SVG and DXF have in common: a pen that draws, and what becomes of what it drew.
//!
//! A drawing may hold two quite different things in one notation: geometry that somebody stated (four
//! straight edges, a circle), and what a hand or a scanner left (a polyline of nine hundred points).
//! Nothing in SVG or DXF says which, and a drawing that is taken for a trace loses its gear teeth. So a
//! drawing is a drawing: it stays edge by edge as drawn, unless the person says that it was traced
//! ([`Wanted::traced`](super::Wanted::traced)) or the file itself does ([`stated`]). What only looks like
//! a trace is told.
//!
//! The way of a drawing:
//!
//! 1. A reader puts what it finds under a [`pen`], through the map of the place where it stands. Circular
//!    arcs stay what they are; ellipses, splines and Béziers ([`curve`]) become chains of arcs within the
//!    tolerance ([`arcs`]).
//! 2. The [`collector`] takes the [`course`]s the pen leaves. Lines and arcs that lie on others are taken
//!    once ([`doubles`]), ends that meet are joined ([`join`]), and chords of a curve are put back into
//!    arcs ([`chords`]); holes that the rim reaches by a line there and back are loops of their own ([`bridges`]).
//! 3. What is on a layer that was not asked for, hidden, or no geometry is left out and told
//!    ([`layers`], [`left`]); what was guessed is doubted.

mod arcs;
#[cfg(feature = "kurbo")]
mod bez_path;
mod bridges;
mod chords;
mod collector;
mod course;
mod crossed;
mod curve;
mod doubles;
mod doubted;
mod ellipse;
mod join;
mod kept;
mod layers;
mod left;
mod pen;
pub(super) mod stated;

pub(super) use collector::Collector;
pub(super) use course::Inside;
pub(super) use curve::{Bezier, MOST_DEGREE};
pub(super) use doubted::{doubted, doubts_of, row};
pub(super) use ellipse::{Elliptic, Stated, place};
pub(super) use layers::{Layer, Why, short_name};
pub(super) use left::Kind;
pub(super) use pen::Pen;
pub use stated::made_for;
pub(super) use stated::{is_plan, machine_of};
