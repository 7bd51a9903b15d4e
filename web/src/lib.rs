//! The browser's door to trued.
