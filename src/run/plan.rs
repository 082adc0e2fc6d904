//! A run made ready: its names looked up in the interior.

use nalgebra::Vector2;

use crate::data::law::NoValue;
use crate::data::liquids::Liquid;
use crate::geom::{Bar, Interior, Stance};
use crate::model::{Apparatus, Form, Gas, Stop};
use crate::physics::capillary::{capillary_length, entry_pressure, head, sticking_radius};
use crate::units::MM3_PER_ML;
use crate::units::si::{Angle, Length, ThermodynamicTemperature, degrees, millimetres};

/// What is to be done.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Plan {
    /// What fills the space above the liquid.
    pub gas: Gas,
    /// What hinders the liquid in narrow bores.
    pub hindrance: Hindrance,
    /// Liquid given at the first stop: piece (index) and volume, mm3.
    pub given: Vec<(usize, f64)>,
    /// The stops.
    pub halts: Vec<Halt>,
}

/// What hinders the liquid in narrow bores; by default nothing does. Static limits: knocks defeat them.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Hindrance {
    /// Bore radius, mm, below which liquid and gas can't pass each other; 0 where there is no gas.
    pub plug_mm: f64,
    /// Pressure of the gas, Pa; 0 where there is none.
    pub gas_pa: f64,
    /// Density of the liquid, kg/m3.
    pub density_kg_m3: f64,
    /// Head, mm, that the liquid needs to enter a bore, times the bore's radius, mm; 0 where it wets the glass or that is
    /// left aside.
    pub entry_mm2: f64,
}

/// The standard atmosphere, Pa.
const ATMOSPHERE_PA: f64 = 101_325.0;
/// Standard acceleration of gravity, m/s2.
const G: f64 = 9.80665;

impl Hindrance {
    /// Of a liquid at a temperature that meets the glass at a contact angle, under a gas; `with_entry` counts the entry
    /// head in as well.
    ///
    /// # Errors
    /// When the liquid's density or surface tension is not known at that temperature.
    pub fn of(
        liquid: &Liquid,
        t: ThermodynamicTemperature,
        contact: Angle,
        gas: Gas,
        with_entry: bool,
    ) -> Result<Self, NoValue> {
        if gas == Gas::Evacuated && !with_entry {
            return Ok(Self::default());
        }
        let (density, tension) = (liquid.density_at(t)?, liquid.surface_tension_at(t)?);
        let mm = |length: Length| length.value * 1e3;
        let sticking = sticking_radius(capillary_length(tension, density), contact);
        let entry = head(
            entry_pressure(tension, contact, millimetres(1.0), degrees(0.0)),
            density,
        );
        Ok(Self {
            plug_mm: if gas == Gas::Evacuated { 0.0 } else { mm(sticking) },
            gas_pa: match gas {
                Gas::Evacuated => 0.0,
                Gas::Open => ATMOSPHERE_PA,
                Gas::Filled { pressure_mbar } => pressure_mbar * 100.0,
            },
            density_kg_m3: density.value,
            entry_mm2: if with_entry { mm(entry).max(0.0) } else { 0.0 },
        })
    }

    /// The same at both ends of the liquid's contact angles: what lies between is possible. Where they are not known, 0
    /// degrees twice.
    ///
    /// # Errors
    /// As [`Hindrance::of`].
    pub fn band(
        liquid: &Liquid,
        t: ThermodynamicTemperature,
        gas: Gas,
        with_entry: bool,
    ) -> Result<[Self; 2], NoValue> {
        let (least, most) = match &liquid.contact {
            Some((least, most)) => (least.value, most.value),
            None => (degrees(0.0), degrees(0.0)),
        };
        let at = |contact: Angle| Self::of(liquid, t, contact, gas, with_entry);
        Ok([at(least)?, at(most)?])
    }

    /// Bore radius, mm, below which a bore counts as narrow. Where the entry head is less than the bore's radius, the
    /// liquid finds its way by its own depth in the mouth.
    pub fn narrow_mm(&self) -> f64 {
        self.plug_mm.max(self.entry_mm2.max(0.0).sqrt())
    }

    /// Head, mm, at which the liquid enters a bore of a radius in mm; none where a plug bars it whatever the head.
    pub fn entry_head_mm(&self, r: f64) -> Option<f64> {
        (self.entry_mm2 > 0.0 && r >= self.plug_mm).then(|| self.entry_mm2 / r)
    }

    /// Volume, mm3, pressed into a dead end of a volume in mm3 by a head in mm: its gas is compressed isothermally.
    pub fn pressed_in(&self, volume: f64, head_mm: f64) -> f64 {
        let head_pa = self.density_kg_m3 * G * head_mm * 1e-3;
        if self.gas_pa > 0.0 {
            volume * head_pa / (self.gas_pa + head_pa)
        } else {
            0.0
        }
    }
}

/// A stop made ready.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Halt {
    /// What the user calls it.
    pub name: String,
    /// The stance.
    pub stance: Stance,
    /// How long it takes to turn the glass there from the stop before, s; 0 at the first.
    pub turn_s: f64,
    /// How long the glass rests there, s.
    pub wait_s: f64,
    /// Pieces (indices) sealed off there after the wait, and where.
    pub seals: Vec<(usize, Bar)>,
}

impl Halt {
    /// Stances and times of stops; what is sealed off there is left out.
    pub fn all(stops: &[Stop]) -> Vec<Self> {
        let before = std::iter::once(None).chain(stops.iter().map(Some));
        let halts = stops.iter().zip(before).map(|(stop, before)| Self {
            name: stop.name.clone(),
            stance: Stance::new(stop.tilt_deg, stop.roll_deg),
            turn_s: before.map_or(0.0, |before| stop.turn_s(before)),
            wait_s: stop.wait_s,
            seals: Vec::new(),
        });
        halts.collect()
    }
}

impl Plan {
    /// The run of an apparatus with its charge. Pieces without a bore are left out: nothing can be given to them.
    pub fn of(apparatus: &Apparatus, interior: &Interior) -> Self {
        let run = &apparatus.run;
        let fills = apparatus.charge.fills.iter();
        let given = fills.filter_map(|fill| {
            let piece = run.drips_into.as_ref().unwrap_or(&fill.piece);
            Some((interior.piece_index(piece)?, fill.volume_ml * MM3_PER_ML))
        });
        Self {
            gas: run.gas,
            hindrance: Hindrance::default(),
            given: gathered(given),
            halts: Self::halts(&run.stops, interior, |name| seal_place(apparatus, name)),
        }
    }

    /// Stops made ready; `seal_place` tells where a vessel is sealed off.
    pub fn halts(stops: &[Stop], interior: &Interior, seal_place: impl Fn(&str) -> Option<Vector2<f64>>) -> Vec<Halt> {
        let seal = |name: &String| {
            let (piece, at) = (interior.piece_index(name)?, seal_place(name)?);
            Some((piece, Bar { piece, at }))
        };
        let halts = Halt::all(stops).into_iter().zip(stops).map(|(halt, stop)| Halt {
            seals: stop.seals.iter().filter_map(seal).collect(),
            ..halt
        });
        halts.collect()
    }
}

/// Where an ampoule is sealed off.
fn seal_place(apparatus: &Apparatus, name: &str) -> Option<Vector2<f64>> {
    let placed = apparatus.place().ok()?;
    let index = placed.pieces.iter().position(|piece| piece.name == name)?;
    let Form::Ampoule(ampoule) = &placed.pieces[index].form else {
        return None;
    };
    let start = placed.lines[index].start;
    let (sin, cos) = start.heading_deg.to_radians().sin_cos();
    Some(start.at + Vector2::new(cos, sin) * (ampoule.stem_mm + ampoule.funnel_mm + ampoule.seal_mm))
}

/// Volumes given to the same piece as one.
fn gathered(given: impl Iterator<Item = (usize, f64)>) -> Vec<(usize, f64)> {
    let mut sums: Vec<(usize, f64)> = Vec::new();
    for (piece, volume) in given {
        match sums.iter_mut().find(|(known, _)| *known == piece) {
            Some((_, sum)) => *sum += volume,
            None => sums.push((piece, volume)),
        }
    }
    sums
}
