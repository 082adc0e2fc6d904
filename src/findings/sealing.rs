//! Rules of necks and sealing off.

use super::{Found, Severity, Work, capital};
use crate::data::liquids::Family;
use crate::model::job::Input;
use crate::stages::seal::Neck;
use crate::units::length_text;
use crate::units::si::{
    celsius, in_celsius, in_millimetres, in_pascals, in_percents, millibars, ml_text, mm_text, pressure_text,
    significant, temperature_text,
};

/// The ampoules that differ: members of a row that are alike in everything that a rule looks at are told once, under
/// the row's name, when every member of it is.
fn each<'w>(work: &'w Work<'_>) -> Vec<(String, &'w Neck)> {
    let necks = &work.stages.seal().necks;
    let rows = &work.case.apparatus.rows;
    let mut list: Vec<(String, &Neck)> = Vec::new();
    for neck in necks {
        let row = rows.iter().find(|row| {
            row.member_of_name(&neck.vessel.name)
                .is_some_and(|member| !row.departs(member))
        });
        let name = row.map_or_else(|| neck.vessel.name.clone(), |row| row.name.clone());
        if list.iter().all(|(told, _)| *told != name) {
            list.push((name, neck));
        }
    }
    list
}

pub(super) fn neck_short(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let length_mm = neck.vessel.ampoule.neck_mm;
        if length_mm < 15.0 {
            found.add(
                if length_mm < 8.0 {
                    Severity::Stop
                } else {
                    Severity::Watch
                },
                &name,
                [
                    "The parallel neck is short".to_owned(),
                    format!(
                        "{} long; 15 to 25 mm leave room to shrink, draw and part it.",
                        length_text(length_mm)
                    ),
                    "Pull a longer neck.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn neck_thin(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let size = neck.vessel.ampoule.neck;
        if size.wall_mm < 0.8 && !work.case.has_gas() {
            found.add(
                Severity::Watch,
                &name,
                [
                    "The neck's wall is thin for sealing under vacuum".to_owned(),
                    format!(
                        "{} of wall; the outside pressure sucks a soft thin wall in. 1.2 to 2 mm are usual.",
                        length_text(size.wall_mm)
                    ),
                    "Gather more wall while pulling the neck, or seal under gas.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn sucked_in(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let size = neck.vessel.ampoule.neck;
        if size.od_mm > 8.0 && !work.case.has_gas() {
            found.add(
                Severity::Watch,
                &name,
                [
                    "A wide neck is sucked in under vacuum".to_owned(),
                    format!(
                        "{} outside at {} inside; 3 mm are never sucked in, 8 mm soon.",
                        length_text(size.od_mm),
                        pressure_text(work.stages.seal().closing)
                    ),
                    "Pull it to 5 to 6 mm, or seal under gas at half an atmosphere.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn near_liquid(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let Ok(above) = neck.above_liquid else {
            found.add(
                Severity::Stop,
                &name,
                [
                    "Liquid stands at the seal-off place".to_owned(),
                    format!(
                        "{} do not fit below it: the sealed part holds {}.",
                        ml_text(neck.vessel.target),
                        ml_text(neck.vessel.sealed)
                    ),
                    "Make the body longer or wider, or fill less.".to_owned(),
                ],
            );
            continue;
        };
        let severity = match in_millimetres(above) {
            mm if mm < 12.0 => Severity::Stop,
            mm if mm < 25.0 => Severity::Watch,
            mm if mm < 50.0 => Severity::Note,
            _ => continue,
        };
        found.add(
            severity,
            &name,
            [
                "The flame comes near the liquid".to_owned(),
                format!(
                    "The seal-off place is {} above the liquid; 50 mm wherever there is room, 25 to 30 mm when it is cooled. The heat reaches {} along the glass alone.",
                    mm_text(above),
                    mm_text(work.stages.seal().reach)
                ),
                "Make the neck or the body longer, fill less, or cool the bottom and shield it.".to_owned(),
            ],
        );
    }
}

pub(super) fn wetted(work: &Work, found: &mut Found) {
    if work.case.apparatus.run.stops.is_empty() {
        found.unknown("", "the design has no run");
        return;
    }
    for neck in &work.stages.seal().necks {
        if let Some(stop) = &neck.wetted_at {
            found.add(
                Severity::Watch,
                &neck.vessel.name,
                [
                    "Liquid stands in the seal zone during the run".to_owned(),
                    format!("At {stop} it lies over the seal-off place at rest: what stays there spoils the seal."),
                    "Warm the neck clear before sealing, or pour at a tilt that keeps it dry.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn plug(work: &Work, found: &mut Found) {
    let has_gas = work.case.has_gas();
    for (name, neck) in each(work) {
        let Some((least, most)) = found.value(&name, &neck.plug_bore).copied() else {
            continue;
        };
        let bore = neck.vessel.ampoule.neck.bore_mm();
        let severity = if bore < in_millimetres(least) {
            if has_gas { Severity::Stop } else { Severity::Note }
        } else if bore < in_millimetres(most) && has_gas {
            Severity::Watch
        } else {
            continue;
        };
        found.add(
            severity,
            &name,
            [
                "Liquid can't run past gas in the neck".to_owned(),
                format!(
                    "Its bore is {}; below {} to {} (over the band of contact angles) a plug stays above gas.{}",
                    length_text(bore),
                    mm_text(least),
                    mm_text(most),
                    if has_gas {
                        ""
                    } else {
                        " In vacuum only vapour is below it, which the plug can press together."
                    }
                ),
                if has_gas {
                    "Widen the neck, evacuate before pouring, or step the pressure after the plug has entered."
                        .to_owned()
                } else {
                    "Keep the glass evacuated until it is filled; a step of gas pressure drives a stuck plug in."
                        .to_owned()
                },
            ],
        );
    }
}

pub(super) fn entry(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let Some(head) = found.value(&name, &neck.entry_head).copied() else {
            continue;
        };
        let Some(given) = neck.head_given else {
            found.unknown(&name, "what stands over the neck is not known");
            continue;
        };
        if head > given {
            found.add(
                Severity::Stop,
                &name,
                [
                    "The liquid does not enter the neck".to_owned(),
                    format!(
                        "Not wetting, it needs {} of head at a bore of {}; stem and half the header stand {} over it.",
                        mm_text(head),
                        length_text(neck.vessel.ampoule.neck.bore_mm()),
                        mm_text(given)
                    ),
                    "Widen the neck, lengthen the stem, or drive it in by a step of gas pressure.".to_owned(),
                ],
            );
        } else if head > given * 0.7 {
            found.add(
                Severity::Watch,
                &name,
                [
                    "The liquid hardly enters the neck".to_owned(),
                    format!(
                        "It needs up to {} of head; at most {} stand over it.",
                        mm_text(head),
                        mm_text(given)
                    ),
                    "Widen the neck, or keep gas ready to drive it in.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn torch(work: &Work, found: &mut Found) {
    for neck in &work.stages.seal().necks {
        let Some((other, room)) = &neck.torch_room else {
            continue;
        };
        let severity = match in_millimetres(*room) {
            mm if mm < 8.0 => Severity::Stop,
            mm if mm < 20.0 => Severity::Watch,
            _ => continue,
        };
        found.add(
            severity,
            &neck.vessel.name,
            [
                "There is little room for the torch".to_owned(),
                format!(
                    "{other} is {} from the seal-off place; the flame has to clear it by 20 mm.",
                    mm_text(*room)
                ),
                "Widen the pitch, stagger the ampoules, or set a ceramic shield between.".to_owned(),
            ],
        );
    }
}

pub(super) fn tail(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        if in_millimetres(neck.tail) < 50.0 {
            found.add(
                Severity::Note,
                &name,
                [
                    "There is little to hold above the seal".to_owned(),
                    format!(
                        "{} from the header's wall to the seal-off place; 50 to 80 mm hold steady.",
                        mm_text(neck.tail)
                    ),
                    "Lengthen the stem, and clamp the ampoule low and loosely.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn blow_out(work: &Work, found: &mut Found) {
    let seal = work.stages.seal();
    if work.case.has_gas() && seal.closing > seal.greatest {
        found.add(
            Severity::Stop,
            "",
            [
                "The soft necks blow out".to_owned(),
                format!(
                    "{} at closing; shut in and warmed, more than {} rise above one atmosphere.",
                    pressure_text(seal.closing),
                    pressure_text(seal.greatest)
                ),
                "Seal at 500 to 700 mbar, or with the line still open to a large volume.".to_owned(),
            ],
        );
    }
}

pub(super) fn cut_off(work: &Work, found: &mut Found) {
    if work.case.apparatus.run.stops.iter().all(|stop| stop.seals.is_empty()) {
        found.unknown("", "the run seals nothing");
        return;
    }
    for (cut, by) in &work.stages.seal().cut_off {
        found.add(
            Severity::Stop,
            cut,
            [
                format!("Sealing {by} cuts it off from the pump"),
                "Its pressure is then no longer what the gauge says, and what outgasses stays in it.".to_owned(),
                "Seal the farthest from the pump first.".to_owned(),
            ],
        );
    }
}

pub(super) fn overfilled(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let closed = in_percents(neck.fill_part);
        let warm = neck
            .warm
            .as_ref()
            .ok()
            .map(|warm| in_percents(warm.liquid / warm.volume));
        if warm.is_some_and(|warm| warm > 90.0) || closed > 90.0 {
            found.add(
                Severity::Stop,
                &name,
                [
                    "The ampoule is too full".to_owned(),
                    format!(
                        "{} of {} at closing{}; never above 90 % at the warmest.",
                        ml_text(neck.vessel.target),
                        ml_text(neck.vessel.sealed),
                        warm.map_or_else(String::new, |warm| format!(
                            ", {} % at {}",
                            significant(warm, 3),
                            temperature_text(work.stages.seal().warmest)
                        ))
                    ),
                    "Fill less, or make the body longer.".to_owned(),
                ],
            );
        } else if closed > 75.0 {
            found.add(
                Severity::Watch,
                &name,
                [
                    "The ampoule is rather full".to_owned(),
                    format!(
                        "{} % at closing; two thirds to three quarters for storing.",
                        significant(closed, 3)
                    ),
                    "Fill less, or make the body longer.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn hydraulic(work: &Work, found: &mut Found) {
    for (name, neck) in each(work) {
        let Some(full) = found.value(&name, &neck.full).copied() else {
            continue;
        };
        let warmest = work.stages.seal().warmest;
        let Some(full) = full else {
            continue;
        };
        let margin = in_celsius(full) - in_celsius(warmest);
        if margin < 20.0 {
            found.add(
                if margin < 0.0 { Severity::Stop } else { Severity::Watch },
                &name,
                [
                    "The liquid fills the ampoule when it warms".to_owned(),
                    format!(
                        "Full at {}; the warmest it meets is {}. Beyond that the glass bursts within a kelvin or two.",
                        temperature_text(full),
                        temperature_text(warmest)
                    ),
                    "Fill less, or keep it cooler and say so on its label.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn freezing(work: &Work, found: &mut Found) {
    let Ok(liquid) = work.case.liquid() else {
        found.unknown("", "nothing is known of the liquid");
        return;
    };
    let Some(coldest) = work.case.inputs.value(Input::Coldest).map(celsius) else {
        return;
    };
    match liquid.melting.as_ref() {
        None => {
            found.unknown("", format!("the melting point of {} is not known", liquid.name));
            return;
        }
        Some(melting) if coldest > melting.value => return,
        Some(_) => {}
    }
    let growth = liquid.freezing_growth();
    let Some(growth) = found.value("", &growth).copied() else {
        return;
    };
    for (name, neck) in each(work) {
        let Some(part) = found.value(&name, &neck.frozen).map(|part| in_percents(*part)) else {
            continue;
        };
        if growth.value > 0.0 && part > 95.0 {
            found.add(
                Severity::Stop,
                &name,
                [
                    "It bursts when the liquid freezes".to_owned(),
                    format!(
                        "Frozen the contents grow by {} % and take up {} % of the sealed volume.",
                        significant(in_percents(growth), 2),
                        significant(part, 3)
                    ),
                    "Fill less, and never let the neck stand full.".to_owned(),
                ],
            );
        } else if growth.value > 0.0 {
            found.add(
                Severity::Note,
                &name,
                [
                    "The liquid swells when it freezes".to_owned(),
                    format!(
                        "By {} %, at {} at the latest. It freezes from the wall inwards and can burst a body that has room above.",
                        significant(in_percents(growth), 2),
                        temperature_text(coldest)
                    ),
                    "Store it warm, or freeze it from the bottom up.".to_owned(),
                ],
            );
        }
    }
}

/// Boiling points of gases at one atmosphere, degrees C.
fn gas_boils_c(name: &str) -> Option<(&'static str, f64)> {
    match name.trim().to_lowercase().as_str() {
        "" | "argon" | "ar" => Some(("argon", -185.8)),
        "nitrogen" | "n2" => Some(("nitrogen", -195.8)),
        "helium" | "he" => Some(("helium", -268.9)),
        "air" => Some(("the oxygen of the air", -183.0)),
        _ => None,
    }
}

pub(super) fn condenses(work: &Work, found: &mut Found) {
    let (Some(bath), true) = (work.case.inputs.value(Input::Bath), work.case.has_gas()) else {
        return;
    };
    let gas = &work.case.apparatus.job.gas;
    match gas_boils_c(gas) {
        None => found.unknown("", format!("the boiling point of {gas} is not known")),
        Some((name, boils)) if bath <= boils => found.add(
            Severity::Stop,
            "",
            [
                format!("{} condenses in the cooled ampoules", capital(name)),
                format!(
                    "The bath is {}, it boils at {}: sealed over it, an ampoule bursts on warming.",
                    temperature_text(celsius(bath)),
                    temperature_text(celsius(boils))
                ),
                "Cool with dry ice or ice, or pump the gas off before you cool.".to_owned(),
            ],
        ),
        Some(_) => {}
    }
}

pub(super) fn vapour(work: &Work, found: &mut Found) {
    let Ok(liquid) = work.case.liquid() else {
        found.unknown("", "nothing is known of the liquid");
        return;
    };
    let t = celsius(work.case.inputs.value(Input::ClosingT).unwrap_or(20.0));
    let pressure = liquid.vapour_pressure_at(t);
    let Some(p) = found.value("", &pressure).copied() else {
        return;
    };
    let few = millibars(5.0);
    if p > few {
        let severity = if in_pascals(p) > 5e4 {
            Severity::Stop
        } else {
            Severity::Watch
        };
        found.add(
            severity,
            "",
            [
                "Vapour is driven through the necks while they are sealed".to_owned(),
                format!(
                    "{} has {} at {}; a few mbar are the most.",
                    capital(&liquid.name),
                    pressure_text(p),
                    temperature_text(t)
                ),
                "Cool the contents before and while you seal: ice, dry ice, as the liquid asks.".to_owned(),
            ],
        );
    }
}

pub(super) fn metal_closed_in_air(work: &Work, found: &mut Found) {
    let Ok(liquid) = work.case.liquid() else {
        found.unknown("", "nothing is known of the liquid");
        return;
    };
    let gas = work.case.apparatus.job.gas.trim().to_lowercase();
    let bad = ["air", "oxygen", "o2", "carbon dioxide", "co2"].contains(&gas.as_str());
    if work.case.has_gas() && bad && liquid.family == Family::AlkaliMetal {
        found.add(
            Severity::Stop,
            "",
            [
                format!("{} must not meet {gas}", capital(&liquid.name)),
                "Alkali metals burn in oxygen and take up carbon dioxide.".to_owned(),
                "Use argon.".to_owned(),
            ],
        );
    }
}
