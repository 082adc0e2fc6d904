//! Rules of distilling.

use super::{Found, Severity, Work, capital};
use crate::data::{glass, liquids::is_solid};
use crate::model::job::Input;
use crate::stages::still::LimitedBy;
use crate::units::si::{
    Pressure, ThermodynamicTemperature, hours, in_hours, in_millimetres, in_pascals, millibars, ml_text, mm_text,
    pressure_text, significant, temperature_text, time_text,
};

/// Vapour pressure below which nothing comes over in an evening, Pa.
const NOTHING_PA: f64 = 1e-2;

/// The most vapour pressure that the liquid has before the glass gives way, with the temperature; none where it is not
/// known.
fn most_vapour(work: &Work) -> Option<(ThermodynamicTemperature, Pressure)> {
    let liquid = work.case.liquid.as_ref()?;
    let law = liquid.vapour_pressure.as_ref()?;
    let t = if law.high < glass::strain_point() {
        law.high
    } else {
        glass::strain_point()
    };
    Some((t, liquid.vapour_pressure_at(t).ok()?))
}

/// Whether anything is distilled: without a pot, or without vapour, there is nothing to judge.
fn distils(work: &Work, found: &mut Found) -> bool {
    let has_vapour = most_vapour(work).is_none_or(|(_, p)| in_pascals(p) >= NOTHING_PA);
    match work.case.pot() {
        Ok(_) => has_vapour,
        Err(why) => {
            found.unknown("", why.to_string());
            false
        }
    }
}

fn pot_name(work: &Work) -> String {
    work.case
        .pot
        .map_or_else(String::new, |pot| work.case.name(pot).to_owned())
}

fn receiver_name(work: &Work) -> String {
    work.case
        .receiver
        .map_or_else(String::new, |piece| work.case.name(piece).to_owned())
}

pub(super) fn too_hot(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let pot = pot_name(work);
    let Some(t) = found.value(&pot, &work.stages.still().pot_t).copied() else {
        return;
    };
    if let Err(why) = work.case.liquid() {
        found.unknown(&pot, why.to_string());
    }
    let attacked = work.case.liquid.as_ref().and_then(|liquid| liquid.glass_limit.clone());
    if t > glass::strain_point() {
        found.add(
            Severity::Stop,
            &pot,
            [
                "The pot is hotter than the glass bears".to_owned(),
                format!(
                    "{}; the strain point is {}.",
                    temperature_text(t),
                    temperature_text(glass::strain_point())
                ),
                "Distil cooler and in better vacuum, or from a liner in a furnace with the glass outside.".to_owned(),
            ],
        );
    } else if let Some(limit) = attacked.filter(|limit| t > limit.value) {
        found.add(
            Severity::Stop,
            &pot,
            [
                "The metal attacks the pot at that temperature".to_owned(),
                format!(
                    "{}; above {} alkali metals brown and eat borosilicate.",
                    temperature_text(t),
                    temperature_text(limit.value)
                ),
                "Distil cooler; widen the way if it takes too long.".to_owned(),
            ],
        );
    } else if t > glass::service_limit() {
        found.add(
            Severity::Watch,
            &pot,
            [
                "The pot is hotter than stressed glass is used".to_owned(),
                format!(
                    "{}; the usual limit of long service is {}.",
                    temperature_text(t),
                    temperature_text(glass::service_limit())
                ),
                "Keep it free of stress and warm it evenly, or distil cooler.".to_owned(),
            ],
        );
    }
}

pub(super) fn backwards(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let still = work.stages.still();
    let (Some(pot), Some(receiver)) = (found.value("", &still.pot_p), found.value("", &still.receiver_p)) else {
        return;
    };
    if receiver >= pot {
        found.add(
            Severity::Stop,
            &receiver_name(work),
            [
                "The receiver is as warm as the pot".to_owned(),
                format!(
                    "Vapour pressure {} in the receiver, {} in the pot: nothing comes over.",
                    pressure_text(*receiver),
                    pressure_text(*pot)
                ),
                "Cool the receiver or warm the pot.".to_owned(),
            ],
        );
    }
}

pub(super) fn slow(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let still = work.stages.still();
    let Some(time) = found.value("", &still.time).copied() else {
        return;
    };
    let severity = match in_hours(time) {
        h if h > 24.0 => Severity::Watch,
        h if h > 8.0 => Severity::Note,
        _ => return,
    };
    let by_way = still.limited == Ok(LimitedBy::Way);
    let narrow = still.knudsen.as_ref().map_or_else(
        |_| String::new(),
        |(_, bore)| format!(" Its narrowest bore is {}.", mm_text(*bore)),
    );
    found.add(
        severity,
        &pot_name(work),
        [
            "Distilling takes very long".to_owned(),
            format!(
                "{} for the whole charge at best; {}.{narrow}",
                time_text(time),
                if by_way {
                    "the bores of the way hold it up"
                } else {
                    "the surface of the pot holds it up"
                }
            ),
            if by_way {
                "Warm the pot as far as the glass bears, or widen the narrowest bore: it counts with its third power."
                    .to_owned()
            } else {
                "Warm the pot as far as the glass bears, or give it a larger surface.".to_owned()
            },
        ],
    );
}

pub(super) fn residual(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let Some(pot) = found.value("", &work.stages.still().pot_p).copied() else {
        return;
    };
    let Some(gas) = work.case.inputs.value(Input::Residual).map(millibars) else {
        return;
    };
    if gas > pot * 0.1 {
        found.add(
            Severity::Watch,
            &pot_name(work),
            [
                "Gas stands in the vapour's way".to_owned(),
                format!(
                    "{} of gas against {} of vapour: it has to diffuse through, and the rates are far too high.",
                    pressure_text(gas),
                    pressure_text(pot)
                ),
                "Pump to a tenth of the vapour pressure or less before and while it distils.".to_owned(),
            ],
        );
    }
}

pub(super) fn overfull(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let pot = pot_name(work);
    let Some(part) = found.value(&pot, &work.stages.still().fill_part).copied() else {
        return;
    };
    if part > 0.5 {
        found.add(
            if part >= 1.0 { Severity::Stop } else { Severity::Watch },
            &pot,
            [
                "The pot is too full".to_owned(),
                format!(
                    "The charge fills {} % of it; a third to a half is the most that does not bump over.",
                    significant(part * 100.0, 3)
                ),
                "Use a larger pot, or distil in portions.".to_owned(),
            ],
        );
    }
}

pub(super) fn deep(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let pot = pot_name(work);
    let levels = work.stages.still().levels.clone();
    let Some(depth) = found
        .value(&pot, &levels)
        .and_then(|levels| levels.first())
        .map(|full| full.depth)
    else {
        return;
    };
    if in_millimetres(depth) > 20.0 {
        found.add(
            Severity::Watch,
            &pot,
            [
                "The pool in the pot is deep".to_owned(),
                format!("{} deep; beyond 15 to 20 mm it bumps under vacuum.", mm_text(depth)),
                "Lay the pot down or take a wider one.".to_owned(),
            ],
        );
    }
}

pub(super) fn splash(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let pot = pot_name(work);
    let Some(room) = found.value(&pot, &work.stages.still().splash).copied() else {
        return;
    };
    if in_millimetres(room) < 15.0 {
        found.add(
            Severity::Watch,
            &pot,
            [
                "Splashes reach the way".to_owned(),
                format!("It begins {} above the full pot's surface.", mm_text(room)),
                "Leave more room, or set a bulb or baffle before the bridge.".to_owned(),
            ],
        );
    }
}

pub(super) fn solid(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let still = work.stages.still();
    let (Some(t), Ok(liquid)) = (found.value("", &still.receiver_t).copied(), work.case.liquid()) else {
        return;
    };
    if is_solid(liquid, t) == Some(true) {
        found.add(
            Severity::Watch,
            &receiver_name(work),
            [
                "The distillate freezes in the receiver".to_owned(),
                format!(
                    "{} is solid at {}; it can plug the way before it reaches the receiver.",
                    capital(&liquid.name),
                    temperature_text(t)
                ),
                "Keep the way and the receiver's mouth 10 to 20 K above the melting point.".to_owned(),
            ],
        );
    }
}

pub(super) fn runs_on(work: &Work, found: &mut Found) {
    if work.case.receiver.is_none() {
        found.unknown("", "no piece is named as the receiver");
        return;
    }
    let receiver = receiver_name(work);
    let tilt = work.case.still_stance().tilt_deg;
    let held = work.stages.still().held.clone();
    let Some(list) = found.value(&receiver, &held) else {
        return;
    };
    let mut worst: Option<(f64, String)> = None;
    for held in list {
        let margin = held.band_deg.map_or(-1.0, |(low, high)| (tilt - low).min(high - tilt));
        if worst.as_ref().is_none_or(|(least, _)| margin < *least) {
            worst = Some((margin, ml_text(held.volume)));
        }
    }
    let Some((margin, volume)) = worst else {
        return;
    };
    if margin < 3.0 {
        found.add(
            if margin < 0.0 { Severity::Stop } else { Severity::Watch },
            &receiver,
            [
                "What comes over does not stay back".to_owned(),
                if margin < 0.0 {
                    format!(
                        "With {volume} in it the receiver runs over at a tilt of {}\u{b0}.",
                        significant(tilt, 3)
                    )
                } else {
                    format!(
                        "With {volume} in it the receiver runs over {}\u{b0} from the tilt at which it is distilled.",
                        significant(margin, 2)
                    )
                },
                "Tilt the glass back by 2 to 5\u{b0} while distilling, or give the receiver a higher lip.".to_owned(),
            ],
        );
    }
}

pub(super) fn hours_of_exposure(work: &Work, found: &mut Found) {
    if !distils(work, found) {
        return;
    }
    let Some(time) = found.value("", &work.stages.still().time).copied() else {
        return;
    };
    let Some(exposed) = work.case.inputs.value(Input::Exposed).map(hours) else {
        return;
    };
    if time > exposed {
        found.add(
            Severity::Note,
            "",
            [
                "Distilling alone takes longer than the time planned to the last seal".to_owned(),
                format!(
                    "{} against {}: the allowable leak is counted for the shorter time.",
                    time_text(time),
                    time_text(exposed)
                ),
                "Give the time that it really takes; the glass has to be tighter.".to_owned(),
            ],
        );
    }
}

pub(super) fn not_in_glass(work: &Work, found: &mut Found) {
    let Ok(liquid) = work.case.liquid() else {
        found.unknown("", "nothing is known of the liquid");
        return;
    };
    let Some((t, p)) = most_vapour(work) else {
        found.unknown("", format!("the vapour pressure of {} is not known", liquid.name));
        return;
    };
    if work.case.pot.is_some() && in_pascals(p) < NOTHING_PA {
        let is_meant = work.case.inputs.is_given(Input::Pot);
        found.add(
            if is_meant { Severity::Stop } else { Severity::Note },
            &pot_name(work),
            [
                format!("{} does not distil in glass", capital(&liquid.name)),
                format!(
                    "Even at {} its vapour pressure is only {}.",
                    temperature_text(t),
                    pressure_text(p)
                ),
                "Melt it in and let it run over, through a narrow bore if it has to leave its skin behind.".to_owned(),
            ],
        );
    }
}
