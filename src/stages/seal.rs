//! Necks and sealing off, ampoule by ampoule.

use super::case::Case;
use super::sheet::{Curve, Line, Plot, Sheet, Verdict};
use super::vessel::{self, Vessel};
use super::way::Way;
use crate::data::glass;
use crate::data::law::NoValue;
use crate::geom::{Shape, Stance};
use crate::model::Element;
use crate::model::Form;
use crate::model::job::{Input, Stage};
use crate::physics::sealed::{FULL, Sealed, WARMED, Warmed};
use crate::physics::{Working, capillary, flame};
use crate::units::MM3_PER_ML;
use crate::units::si::{
    Length, Pressure, Ratio, ThermodynamicTemperature, Time, celsius, degrees, in_bars, in_celsius, in_degrees,
    in_millilitres, in_millimetres, in_percents, millibars, millimetres, minutes, ml_text, mm_text, pascals,
    percent_text, pressure_text, significant, temperature_text, tension_text, time_text,
};
use nalgebra::{Vector2, Vector3};

/// One ampoule at its neck.
#[derive(Clone, Debug)]
pub struct Neck {
    /// The ampoule.
    pub vessel: Vessel,
    /// From the liquid, ampoule upright, to the seal-off place.
    pub above_liquid: Verdict<Length>,
    /// First stop of the run at which the seal-off place lies in liquid at rest.
    pub wetted_at: Option<String>,
    /// Bore below which the liquid does not pass the gas: wetting, and at the end of the contact band nearest 90.
    pub plug_bore: Verdict<(Length, Length)>,
    /// Head that drives it in, at the end of the contact band that asks for most.
    pub entry_head: Verdict<Length>,
    /// Head that the header gives.
    pub head_given: Option<Length>,
    /// Glass of another piece nearest to the seal-off place, and how far it is.
    pub torch_room: Option<(String, Length)>,
    /// Room along the axis on the side of the stem, up to the host's wall.
    pub tail: Length,
    /// Part of the sealed volume that is liquid at closing.
    pub fill_part: Ratio,
    /// Sealed ampoule as it was closed.
    pub sealed: Sealed,
    /// At the warmest temperature.
    pub warm: Verdict<Warmed>,
    /// Temperature at which it is hydraulically full; none when not within the known range.
    pub full: Verdict<Option<ThermodynamicTemperature>>,
    /// Part of the sealed volume that it takes up frozen; an error when it does not freeze or is unknown.
    pub frozen: Verdict<Ratio>,
}

/// One neck of a tube that is to be sealed.
#[derive(Clone, Debug, PartialEq)]
pub struct TubeNeck {
    /// The tube.
    pub piece: String,
    /// Outside diameter, mm.
    pub od_mm: f64,
    /// Bore, mm.
    pub bore_mm: f64,
    /// Parallel length, mm.
    pub length_mm: f64,
}

/// The stage.
#[derive(Clone, Debug)]
pub struct Seal {
    /// The ampoules in order.
    pub necks: Vec<Neck>,
    /// Necks of tubes.
    pub tube_necks: Vec<TubeNeck>,
    /// Names in the order of sealing: the farthest from the pump first.
    pub order: Vec<String>,
    /// Ampoules that the order of the run cuts off from the pump, with the seal that does it.
    pub cut_off: Vec<(String, String)>,
    /// Pressure at closing.
    pub closing: Pressure,
    /// Greatest gas pressure for closing.
    pub greatest: Pressure,
    /// Time in which a neck closes at the softening point under the outside pressure; an error when none drives it.
    pub closes: Verdict<Time>,
    /// Reach of the heat along the glass.
    pub reach: Length,
    /// Warmest temperature after sealing.
    pub warmest: ThermodynamicTemperature,
    /// In words.
    pub sheet: Sheet,
}

pub(super) fn work_out(case: &Case) -> Seal {
    let mut sheet = Sheet::new(Stage::Seal);
    sheet.inputs = case.inputs.lines(Stage::Seal);
    let number = |input: Input, or: f64| case.inputs.value(input).unwrap_or(or);
    let closing = millibars(number(Input::Closing, 0.001));
    let greatest = flame::greatest_sealing_pressure(celsius(number(Input::ShutGas, 127.0)));
    let warmest = celsius(number(Input::Warmest, 60.0));
    let reach = flame::heat_reach(minutes(number(Input::Flame, 1.0)));
    let wetted = wetted(case);
    let necks: Vec<Neck> = case
        .vessels
        .iter()
        .enumerate()
        .map(|(i, vessel)| neck(case, vessel, closing, warmest, wetted.get(i).cloned().flatten()))
        .collect();
    let closes = closes(&necks, closing);
    let (order, cut_off) = order(case);
    let seal = Seal {
        tube_necks: tube_necks(case),
        order,
        cut_off,
        closing,
        greatest,
        closes,
        reach,
        warmest,
        necks,
        sheet,
    };
    seal.write(case)
}

/// The neck of one ampoule.
fn neck(
    case: &Case,
    vessel: &Vessel,
    closing: Pressure,
    warmest: ThermodynamicTemperature,
    wetted_at: Option<String>,
) -> Neck {
    let t = celsius(case.inputs.value(Input::ClosingT).unwrap_or(20.0));
    let filling = celsius(case.inputs.value(Input::Filling).unwrap_or(20.0));
    let cold = vapour_floor(case, t);
    let sealed = Sealed {
        volume: vessel.sealed,
        liquid: vessel.target,
        t,
        p: if cold > closing { cold } else { closing },
    };
    let height = vessel::upright_height(&vessel.ampoule, vessel.target);
    let above_liquid = height
        .map(|height| millimetres(vessel::seal_height_mm(&vessel.ampoule)) - height)
        .ok_or_else(|| NoValue::Because("the fill stands above the seal-off place".to_owned()));
    let (plug_bore, entry_head) = capillarity(case, vessel, filling);
    let liquid = case.liquid();
    Neck {
        above_liquid,
        wetted_at,
        plug_bore,
        entry_head,
        head_given: head_given(case),
        torch_room: torch_room(case, vessel),
        tail: tail(case, vessel),
        fill_part: vessel.target / vessel.sealed,
        warm: liquid.clone().and_then(|liquid| sealed.at(warmest, liquid)),
        full: liquid.clone().and_then(|liquid| sealed.full_at(liquid)),
        frozen: frozen(case, vessel),
        sealed,
        vessel: vessel.clone(),
    }
}

/// Vapour pressure of the contents at closing: the least that the glass can hold; none where it is not known.
fn vapour_floor(case: &Case, t: ThermodynamicTemperature) -> Pressure {
    let known = case.liquid().and_then(|liquid| liquid.vapour_pressure_at(t));
    known.unwrap_or(pascals(0.0))
}

/// Plug bores (wetting, and at the angle nearest 90 degrees) and the greatest entry head.
fn capillarity(
    case: &Case,
    vessel: &Vessel,
    t: ThermodynamicTemperature,
) -> (Verdict<(Length, Length)>, Verdict<Length>) {
    let found: Verdict<_> = (|| {
        let liquid = case.liquid()?;
        let sigma = liquid.surface_tension_at(t)?;
        let rho = liquid.density_at(t)?;
        let contact = liquid.contact.as_ref();
        let (low, high) = contact.ok_or_else(|| NoValue::Because("the contact angle is not known".to_owned()))?;
        Ok((sigma, rho, low.value, high.value))
    })();
    let (sigma, rho, low, high) = match found {
        Ok(found) => found,
        Err(why) => return (Err(why.clone()), Err(why)),
    };
    let length = capillary::capillary_length(sigma, rho);
    let sticking = |deg: f64| capillary::sticking_radius(length, degrees(deg)) * 2.0;
    let (low_deg, high_deg) = (in_degrees(low), in_degrees(high));
    // How near the band comes to 0 or 180, and to 90 degrees.
    let far = |deg: f64| (deg - 90.0).abs();
    let least = if far(low_deg) > far(high_deg) {
        low_deg
    } else {
        high_deg
    };
    let nearest = 90f64.clamp(low_deg, high_deg);
    let r = millimetres(vessel.ampoule.neck.bore_mm() / 2.0);
    let pressure = capillary::entry_pressure(sigma, high, r, degrees(0.0));
    let head = capillary::head(pressure, rho);
    (
        Ok((sticking(least), sticking(nearest))),
        Ok(if head.value > 0.0 { head } else { millimetres(0.0) }),
    )
}

/// Depth of liquid that the widest tube on which ampoules sit can stand over a neck: its bore.
fn head_given(case: &Case) -> Option<Length> {
    let hosts = case.vessels.iter().filter_map(|vessel| {
        let piece = case.built.placed.pieces.get(vessel.piece)?;
        let host = piece.seat.places().next()?;
        let form = case.form(case.built.placed.index(&host.host)?)?;
        // The stem stands full as well once liquid has reached the neck.
        let bore = match form {
            Form::Tube(tube) => tube.size.bore_mm(),
            Form::Bulb(bulb) => bulb.body.bore_mm(),
            Form::Bridge(bridge) => bridge.size.bore_mm(),
            Form::Ampoule(_) | Form::Fitting(_) => return None,
        };
        Some(bore / 2.0 + vessel.ampoule.stem_mm)
    });
    hosts.reduce(f64::min).map(millimetres)
}

/// Glass of other pieces nearest to the seal-off place; the host is left out, it is what the neck hangs on.
fn torch_room(case: &Case, vessel: &Vessel) -> Option<(String, Length)> {
    let host = case
        .built
        .placed
        .pieces
        .get(vessel.piece)?
        .seat
        .places()
        .next()
        .map(|place| place.host.clone());
    let others = case
        .built
        .outsides
        .iter()
        .filter(|outside| outside.piece != vessel.piece && host.as_deref() != Some(case.name(outside.piece)));
    let near = others.map(|outside| (outside.piece, distance(&outside.shape, vessel.seal)));
    let (piece, mm) = near.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((case.name(piece).to_owned(), millimetres(mm.max(0.0))))
}

/// Distance from a point of the drawing to a shape's outside, mm; inside it nothing or less.
fn distance(shape: &Shape, at: Vector2<f64>) -> f64 {
    match *shape {
        Shape::Frustum { from, to, r_from, r_to } => {
            let along = to - from;
            let part = ((at - from).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
            (at - (from + along * part)).norm() - (r_from + (r_to - r_from) * part)
        }
        Shape::Spheroid {
            centre,
            semi_axial,
            semi_radial,
            ..
        } => (at - centre).norm() - semi_axial.max(semi_radial),
        Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        } => {
            let (low, high) = if sweep < 0.0 {
                (start + sweep, start)
            } else {
                (start, start + sweep)
            };
            let toward = at - centre;
            let angle = toward.y.atan2(toward.x);
            let turn = (angle - low).rem_euclid(std::f64::consts::TAU);
            if turn <= high - low {
                return (toward.norm() - radius).abs() - r;
            }
            let end = |angle: f64| (at - centre - Vector2::new(angle.cos(), angle.sin()) * radius).norm() - r;
            end(low).min(end(high))
        }
    }
}

/// From the host's wall to the seal-off place.
fn tail(case: &Case, vessel: &Vessel) -> Length {
    let ampoule = &vessel.ampoule;
    let host = case
        .built
        .placed
        .pieces
        .get(vessel.piece)
        .and_then(|piece| piece.seat.places().next().cloned());
    let wall = host
        .and_then(|place| case.form(case.built.placed.index(&place.host)?))
        .map_or(0.0, |form| form.joined_od_mm() / 2.0);
    millimetres((ampoule.stem_mm - wall).max(0.0) + ampoule.funnel_mm + ampoule.seal_mm)
}

/// Part of the sealed volume that the contents take up frozen.
fn frozen(case: &Case, vessel: &Vessel) -> Verdict<Ratio> {
    let liquid = case.liquid()?;
    let coldest = celsius(case.number(Input::Coldest)?);
    let melting = liquid
        .melting
        .as_ref()
        .ok_or_else(|| NoValue::Because("its melting point is not known".to_owned()))?;
    if coldest > melting.value {
        return Err(NoValue::Because(format!(
            "it does not freeze: coldest {}",
            temperature_text(coldest)
        )));
    }
    let growth = liquid.freezing_growth()?;
    let rho = |t| liquid.density_at(t);
    let t = celsius(case.inputs.value(Input::ClosingT).unwrap_or(20.0));
    // The liquid shrinks or swells on its way down to the melting point before it freezes.
    let law_low = liquid.density.as_ref().map_or(melting.value, |law| law.low);
    let at = if melting.value < law_low {
        law_low
    } else {
        melting.value
    };
    let volume = vessel.target * (rho(t)? / rho(at)?).value * (1.0 + growth.value);
    Ok(volume / vessel.sealed)
}

/// For each ampoule the first stop of the run at which its seal-off place lies in liquid at rest.
fn wetted(case: &Case) -> Vec<Option<String>> {
    let run = &case.apparatus.run;
    let mut found = vec![None; case.vessels.len()];
    let given: Vec<(usize, f64)> = match run
        .drips_into
        .as_deref()
        .and_then(|name| case.interior.piece_index(name))
    {
        Some(piece) => vec![(piece, in_millilitres(case.given()) * MM3_PER_ML)],
        None => {
            let fills = case.apparatus.charge.fills.iter();
            fills
                .filter_map(|fill| Some((case.interior.piece_index(&fill.piece)?, fill.volume_ml * MM3_PER_ML)))
                .collect()
        }
    };
    if given.is_empty() {
        return found;
    }
    let mut given = given;
    for (i, stop) in run.stops.iter().enumerate() {
        let stance = Stance::new(stop.tilt_deg, stop.roll_deg);
        let settled = case.interior.at(stance).settle(&given);
        let up = stance.up();
        for (place, vessel) in found.iter_mut().zip(&case.vessels) {
            let height = up.dot(&Vector3::new(vessel.seal.x, vessel.seal.y, 0.0));
            let over = settled.pools.iter().any(|pool| {
                pool.shares
                    .iter()
                    .any(|(piece, volume)| *piece == vessel.piece && *volume > 1.0)
                    && pool.level > height
            });
            if over && place.is_none() {
                *place = Some(run.stop_name(i));
            }
        }
        // What lies in each piece is what the next stop starts from.
        given = settled
            .pools
            .iter()
            .flat_map(|pool| pool.shares.iter().copied())
            .collect();
    }
    found
}

/// Time in which the widest neck closes at the softening point.
fn closes(necks: &[Neck], closing: Pressure) -> Verdict<Time> {
    let drive = pascals(crate::physics::ATMOSPHERE) - closing;
    if drive.value <= 1000.0 {
        return Err(NoValue::Because(
            "no pressure drives the soft neck shut: it closes by its own tension and by drawing".to_owned(),
        ));
    }
    let times = necks.iter().map(|neck| {
        let size = neck.vessel.ampoule.neck;
        flame::closing_time(
            glass::softening_point(),
            millimetres(size.od_mm / 2.0),
            millimetres(size.wall_mm),
            drive,
        )
    });
    let least = times.min_by(|a, b| a.value.total_cmp(&b.value));
    least.ok_or_else(|| NoValue::Because("there is no ampoule".to_owned()))
}

/// Necks in the courses of tubes.
fn tube_necks(case: &Case) -> Vec<TubeNeck> {
    let pieces = case.built.placed.pieces.iter();
    pieces
        .flat_map(|piece| {
            let course = match &piece.form {
                Form::Tube(tube) => tube.course.as_slice(),
                _ => &[],
            };
            course.iter().filter_map(|element| match *element {
                Element::Neck { size, length_mm, .. } => Some(TubeNeck {
                    piece: piece.name.clone(),
                    od_mm: size.od_mm,
                    bore_mm: size.bore_mm(),
                    length_mm,
                }),
                _ => None,
            })
        })
        .collect()
}

/// The order of sealing, and what the order of the run cuts off.
fn order(case: &Case) -> (Vec<String>, Vec<(String, String)>) {
    let ports: Vec<usize> = case.built.ports.iter().map(|port| port.piece).collect();
    let way = |vessel: &Vessel, closed: &[usize]| {
        let ways = ports
            .iter()
            .filter_map(|port| Way::avoiding(case.built, vessel.piece, *port, |piece| closed.contains(&piece)));
        ways.map(|way| way.length_mm()).reduce(f64::min)
    };
    let mut far: Vec<(&Vessel, f64)> = case
        .vessels
        .iter()
        .filter_map(|vessel| Some((vessel, way(vessel, &[])?)))
        .collect();
    far.sort_by(|a, b| b.1.total_cmp(&a.1));
    let order = far.iter().map(|(vessel, _)| vessel.name.clone()).collect();
    let (mut closed, mut cut_off): (Vec<usize>, Vec<(String, String)>) = (Vec::new(), Vec::new());
    let seals = case.apparatus.run.stops.iter().flat_map(|stop| &stop.seals);
    for name in seals {
        let Some(piece) = case.built.placed.index(name) else {
            continue;
        };
        closed.push(piece);
        for vessel in case.vessels.iter().filter(|vessel| !closed.contains(&vessel.piece)) {
            let is_new = cut_off.iter().all(|(cut, _)| *cut != vessel.name);
            if is_new && way(vessel, &[]).is_some() && way(vessel, &closed).is_none() {
                cut_off.push((vessel.name.clone(), name.clone()));
            }
        }
    }
    (order, cut_off)
}

impl Seal {
    fn write(mut self, case: &Case) -> Self {
        let mut sheet = std::mem::replace(&mut self.sheet, Sheet::new(Stage::Seal));
        let p = |p: Pressure| pressure_text(p);
        let mut lines = vec![
            Line::new("in the glass when a neck closes", p(self.closing)),
            Line::new("greatest cold pressure that does not blow out", p(self.greatest)).worked(
                Working::of(&flame::BLOW_OUT).with(
                    "T_gas",
                    "mean of the gas shut in",
                    temperature_text(celsius(case.inputs.value(Input::ShutGas).unwrap_or(127.0))),
                ),
            ),
            Line::of("the outside pressure closes a soft neck in", &self.closes, |time| {
                format!("{} at the softening point", time_text(*time))
            })
            .worked(Working::of(&flame::CLOSING))
            .caution("hotter glass closes far faster: milliseconds at the working point; under vacuum heat broadly and stop when it has shrunk"),
            Line::new("reach of the heat along the glass", mm_text(self.reach)).worked(Working::of(&flame::REACH)).caution(
                "the wash of the flame and warm vapour reach farther: shield the liquid",
            ),
        ];
        if !self.order.is_empty() {
            lines.push(Line::new("order, farthest from the pump first", self.order.join(", ")));
        }
        for (cut, by) in &self.cut_off {
            lines.push(Line::new(
                format!("{cut} is cut off from the pump"),
                format!("by sealing {by} before it"),
            ));
        }
        sheet.group("Closing", lines);
        for (names, neck) in self.alike() {
            sheet.group(names, neck.lines(case, self.warmest));
        }
        let lines = self.tube_necks.iter().map(|neck| {
            Line::new(
                format!("neck in {}", neck.piece),
                format!(
                    "{} mm outside, bore {} mm, {} mm parallel",
                    significant(neck.od_mm, 3),
                    significant(neck.bore_mm, 3),
                    significant(neck.length_mm, 3)
                ),
            )
        });
        sheet.group("Other necks to seal", lines.collect());
        if let Some(neck) = self.necks.first()
            && let Ok(liquid) = case.liquid()
        {
            sheet.plot(pressure_plot(neck, liquid, self.warmest));
        }
        sheet.cautions.push(
            "no figure here licenses anyone to heat or pressurise a hand-sealed ampoule: shield, goggles, hands off until cold; follow local rules and ask your safety officer".to_owned(),
        );
        self.sheet = sheet;
        self
    }

    /// Ampoules that are the same, under one head.
    fn alike(&self) -> Vec<(String, &Neck)> {
        let mut groups: Vec<(Vec<&str>, &Neck)> = Vec::new();
        for neck in &self.necks {
            // To a tenth of a millimetre.
            let room = |neck: &Neck| neck.torch_room.as_ref().map(|room| mm_text(room.1));
            let same = |other: &Neck| {
                other.vessel.ampoule == neck.vessel.ampoule
                    && room(other) == room(neck)
                    && other.wetted_at == neck.wetted_at
            };
            match groups.iter_mut().find(|(_, other)| same(other)) {
                Some((names, _)) => names.push(&neck.vessel.name),
                None => groups.push((vec![&neck.vessel.name], neck)),
            }
        }
        let groups = groups.into_iter();
        groups.map(|(names, neck)| (names.join(", "), neck)).collect()
    }
}

impl Neck {
    fn lines(&self, case: &Case, warmest: ThermodynamicTemperature) -> Vec<Line> {
        let size = self.vessel.ampoule.neck;
        let mut lines = vec![
            Line::new(
                "neck",
                format!(
                    "{} mm outside, bore {} mm, wall {} mm, {} mm parallel",
                    significant(size.od_mm, 3),
                    significant(size.bore_mm(), 3),
                    significant(size.wall_mm, 3),
                    significant(self.vessel.ampoule.neck_mm, 3)
                ),
            )
            .caution("common practice: 5 to 6 mm outside, bore 2 to 3 mm, wall 1.2 to 2 mm, 15 to 25 mm parallel"),
            Line::of("seal above the liquid, ampoule upright", &self.above_liquid, |mm| {
                mm_text(*mm)
            })
            .caution("50 mm wherever there is room (B. D. Bolas, 1921), 25 to 30 mm cooled"),
        ];
        if case.apparatus.run.stops.is_empty() {
            lines.push(Line::unknown(
                "liquid at the seal during the run",
                "the design has no run",
            ));
        } else {
            let value = self
                .wetted_at
                .as_ref()
                .map_or_else(|| "never at rest".to_owned(), |stop| format!("at {stop}"));
            lines.push(Line::new("liquid at the seal during the run", value));
        }
        lines.extend(self.capillary_lines(case));
        lines.push(match &self.torch_room {
            Some((piece, room)) => Line::new("room for the torch", format!("{} to {piece}", mm_text(*room))),
            None => Line::new("room for the torch", "no other glass"),
        });
        lines.push(Line::new("room along the axis to draw it off", mm_text(self.tail)));
        lines.push(
            Line::new(
                "filled at closing",
                format!(
                    "{} of {}, {} %",
                    ml_text(self.vessel.target),
                    ml_text(self.vessel.sealed),
                    significant(in_percents(self.fill_part), 3)
                ),
            )
            .caution(
                "at most two thirds to three quarters for storing, a half where it will be heated, common practice",
            ),
        );
        let sealed = self.sealed;
        lines.push(
            Line::of(
                format!("pressure at {}", temperature_text(warmest)),
                &self.warm,
                |warm| {
                    if in_bars(warm.pressure).is_finite() {
                        pressure_text(warm.pressure)
                    } else {
                        "no gas space left: it bursts".to_owned()
                    }
                },
            )
            .worked(
                Working::of(&WARMED)
                    .with("V0", "sealed volume", ml_text(sealed.volume))
                    .with("Vl1", "liquid at closing", ml_text(sealed.liquid))
                    .with("T1", "contents at closing", temperature_text(sealed.t))
                    .with("p1", "pressure at closing", pressure_text(sealed.p)),
            ),
        );
        lines.push(
            Line::of("hydraulically full at", &self.full, |full| {
                full.map_or_else(
                    || "not within the known range of its density".to_owned(),
                    temperature_text,
                )
            })
            .worked(
                Working::of(&FULL)
                    .with("V0", "sealed volume", ml_text(sealed.volume))
                    .with("Vl1", "liquid at closing", ml_text(sealed.liquid)),
            ),
        );
        lines.push(Line::of("frozen it takes up", &self.frozen, |part| percent_text(*part)));
        lines
    }

    fn capillary_lines(&self, case: &Case) -> Vec<Line> {
        let t = celsius(case.inputs.value(Input::Filling).unwrap_or(20.0));
        let band = case.liquid.as_ref().and_then(|liquid| liquid.contact.clone());
        let sigma = case.liquid().and_then(|liquid| liquid.surface_tension_at(t));
        let mut plug = Line::of(
            "liquid sticks above gas in bores below",
            &self.plug_bore,
            |(least, most)| {
                format!(
                    "{} to {}, over the band of contact angles",
                    mm_text(*least),
                    mm_text(*most)
                )
            },
        );
        let mut entry = Line::of("head that drives it into the neck", &self.entry_head, |head| {
            if in_millimetres(*head) <= 0.0 {
                "none: it is drawn in".to_owned()
            } else {
                mm_text(*head)
            }
        });
        if let (Some((low, high)), Ok(sigma)) = (band, sigma) {
            let angles = format!(
                "{} to {}\u{b0}",
                significant(in_degrees(low.value), 3),
                significant(in_degrees(high.value), 3)
            );
            plug = plug.worked(
                Working::of(&capillary::STICKING)
                    .with(
                        "sigma",
                        format!("surface tension at {}", temperature_text(t)),
                        tension_text(sigma),
                    )
                    .with("theta", "contact angle", angles.clone())
                    .from(&low.origin.source, low.origin.known),
            );
            entry = entry.worked(
                Working::of(&capillary::ENTRY)
                    .with("theta", "contact angle, its greater end counts", angles)
                    .with(
                        "r",
                        "half the bore",
                        format!("{} mm", significant(self.vessel.ampoule.neck.bore_mm() / 2.0, 3)),
                    )
                    .from(&high.origin.source, high.origin.known),
            );
        }
        if let Some(given) = self.head_given {
            entry = entry.caution(format!(
                "stem and half the header stand {} over the neck",
                mm_text(given)
            ));
        }
        vec![plug, entry]
    }
}

fn pressure_plot(neck: &Neck, liquid: &crate::data::liquids::Liquid, warmest: ThermodynamicTemperature) -> Plot {
    let (low, high) = (
        in_celsius(neck.sealed.t),
        in_celsius(warmest).max(in_celsius(neck.sealed.t) + 100.0),
    );
    let points = (0..=60).filter_map(|k| {
        let t = low + (high - low) * f64::from(k) / 60.0;
        let bar = in_bars(neck.sealed.at(celsius(t), liquid).ok()?.pressure);
        bar.is_finite().then_some([t, bar])
    });
    Plot {
        title: "Pressure in the sealed ampoule",
        x: "temperature / \u{b0}C",
        y: "pressure / bar",
        log_y: false,
        curves: vec![Curve {
            name: neck.vessel.name.clone(),
            points: points.collect(),
        }],
    }
}
