//! Answers for readers: text for people, JSON for machines.

pub mod answers;
