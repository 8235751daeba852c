//! Everything is tested through this one binary, so that the machine links once.

#![allow(clippy::unwrap_used)]

mod bad;
mod contract;
mod library;
mod matching;
mod photos;
mod support;
