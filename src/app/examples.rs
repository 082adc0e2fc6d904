//! The worked examples, built into the program.

use crate::model::{Apparatus, file};

/// A worked example.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Example {
    /// Six ampoules of rubidium.
    RubidiumSix,
    /// Eight ampoules of gallium-indium.
    GalliumIndiumEight,
    /// Five ampoules of benzene-d6.
    BenzeneFive,
    /// Three vials of water, to learn by.
    TeachingThree,
}

impl Example {
    /// Every example.
    pub const ALL: [Self; 4] = [
        Self::RubidiumSix,
        Self::GalliumIndiumEight,
        Self::BenzeneFive,
        Self::TeachingThree,
    ];

    /// Its short name.
    pub fn name(self) -> &'static str {
        match self {
            Self::RubidiumSix => "Rubidium, six ampoules",
            Self::GalliumIndiumEight => "Gallium-indium, eight ampoules",
            Self::BenzeneFive => "Benzene-d6, five ampoules",
            Self::TeachingThree => "Teaching set, three vials",
        }
    }

    /// The design; a test makes sure that it can be read.
    pub fn apparatus(self) -> Apparatus {
        let text = match self {
            Self::RubidiumSix => include_str!("../../examples/rubidium-six.json"),
            Self::GalliumIndiumEight => include_str!("../../examples/gallium-indium-eight.json"),
            Self::BenzeneFive => include_str!("../../examples/benzene-d6-five.json"),
            Self::TeachingThree => include_str!("../../examples/teaching-three.json"),
        };
        file::read(text).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_example_can_be_read_and_is_called_what_it_is() {
        for example in Example::ALL {
            let title = example.apparatus().title;
            let first = example.name().split(',').next().unwrap_or_default();
            assert!(title.starts_with(first), "{title}");
        }
    }
}
