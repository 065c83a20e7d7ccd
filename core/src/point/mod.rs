//! Operating points: the matched steady point, the march in time, and the reading that both give.

mod answer;
mod matching;
mod mixing;
pub mod reading;
pub mod steady;
pub mod transient;
