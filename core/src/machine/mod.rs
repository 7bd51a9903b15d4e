//! What the machine really does: how far it is out of square, how its arm is built, which tip it
//! carries.
//!
//! - [`square`]: scale and squareness from four sides and two diagonals of a cut rectangle;
//! - [`arm`]: the two-link arm, forward and inverse, and re-reading a trace taken with another tip;
//! - [`mod@calibrate`]: the arm's lengths from touches of known points;
//! - [`profile`]: the file that keeps both, and the inverse distortion of what is to be cut.

pub mod arm;
pub mod calibrate;
pub(crate) mod least_squares;
pub mod profile;
pub mod square;

pub use arm::{Arm, Elbow, Joints, Retipped, Unreachable, retip};
pub use calibrate::{ArmFit, CalibrationSettings, ErrorAt, Reported, Touch, calibrate};
pub use profile::Profile;
pub use square::{Contradiction, Measured, SquareFit, Squareness, squareness};
