//! Engines as TOML text.

use crate::engine::{Engine, EngineError};
use alloc::string::String;

/// The engines that come with Volute: short name and text of the file.
pub const BUILT_IN: &[(&str, &str)] = &[];

/// What is wrong with an engine file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EngineFileError {
    /// Placeholder for the skeleton.
    #[error("line {line}: {what}")]
    At {
        /// Line, from 1.
        line: usize,
        /// What is wrong.
        what: String,
    },
    /// Parameters that do not fit together.
    #[error(transparent)]
    Engine(#[from] EngineError),
}

/// Reads an engine from TOML text.
pub fn parse(_text: &str) -> Result<Engine, EngineFileError> {
    todo!()
}
