//! Operating points: the matched steady point, the march in time, and the reading that both give.

mod answer;
mod balance;
mod iterate;
mod matching;
mod mixing;
mod operating_point;
pub mod reading;
mod search;
mod stability;
pub mod steady;
pub mod transient;
