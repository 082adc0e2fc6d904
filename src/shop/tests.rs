//! The sheets of the four examples: nothing left out, nothing empty that is known.
