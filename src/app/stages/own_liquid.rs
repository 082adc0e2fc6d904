//! The user's own liquids: the same fields as those of the table.

use super::entry;
use super::page::heading;
use crate::app::region::is_clicked;
use crate::app::session::Session;
use crate::app::theme;
use crate::model::Edit;
use crate::model::job::{Job, OwnLiquid, PointAt};
use egui::accesskit::Role;
use egui::{Button, Id, RichText, Ui, Vec2, WidgetInfo};

/// Shows the own liquid that the design names, or offers to add one.
pub(super) fn show(ui: &mut Ui, session: &mut Session) {
    let apparatus = session.document.now();
    let name = apparatus.charge.liquid.trim().to_owned();
    let found = apparatus
        .job
        .own_liquids
        .iter()
        .position(|own| own.name.eq_ignore_ascii_case(&name));
    let Some(index) = found else {
        if name.is_empty() {
            return;
        }
        let words = format!("Enter {name} as a liquid of your own");
        let button = Button::new(&words).min_size(Vec2::new(0.0, theme::TARGET));
        if is_clicked(&ui.add(button).on_hover_text("It then goes before the table")) {
            let mut job = session.document.settled().job.clone();
            job.own_liquids.push(OwnLiquid {
                name: name.clone(),
                ..OwnLiquid::default()
            });
            entry::apply(ui, session, Id::unique("own liquid"), &edit(&words, job), "");
        }
        return;
    };
    let own = apparatus.job.own_liquids[index].clone();
    ui.horizontal(|ui| {
        heading(ui, &format!("{}, of your own", own.name));
        let button = Button::new("×").min_size(Vec2::splat(theme::TARGET));
        let response = ui.add(button).on_hover_text("Take it out of the design");
        let words = format!("Take out {}", own.name);
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
        if is_clicked(&response) {
            let mut job = session.document.settled().job.clone();
            if index < job.own_liquids.len() {
                job.own_liquids.remove(index);
            }
            entry::apply(ui, session, Id::unique("own liquid"), &edit(&words, job), "");
        }
    });
    let quiet = theme::of(ui).quiet;
    let hint = "Points as temperature in °C and value: 20:0.95 40:0.93";
    ui.label(RichText::new(hint).font(theme::plain(12.0)).color(quiet));
    for field in FIELDS {
        let value = (field.read)(&own);
        let write = field.write;
        let words = format!("Change the {} of {}", field.label.to_lowercase(), own.name);
        entry::text(ui, session, field.label, &value, field.unit, |job, text| {
            let mut job = job.clone();
            if let Some(own) = job.own_liquids.get_mut(index) {
                write(own, &text);
            }
            edit(&words, job)
        });
    }
}

fn edit(words: &str, job: Job) -> Edit {
    Edit::Job {
        words: words.to_owned(),
        job: Box::new(job),
    }
}

/// A field of an own liquid, as text.
struct Field {
    label: &'static str,
    unit: &'static str,
    read: fn(&OwnLiquid) -> String,
    write: fn(&mut OwnLiquid, &str),
}

const FIELDS: &[Field] = &[
    Field {
        label: "Formula",
        unit: "Gives the molar mass",
        read: |own| own.formula.clone(),
        write: |own, text| text.clone_into(&mut own.formula),
    },
    Field {
        label: "Molar mass",
        unit: "g/mol",
        read: |own| number(own.molar_mass_g_per_mol),
        write: |own, text| own.molar_mass_g_per_mol = read(text),
    },
    Field {
        label: "Melting point",
        unit: "°C",
        read: |own| number(own.melting_c),
        write: |own, text| own.melting_c = read(text),
    },
    Field {
        label: "Boiling point",
        unit: "°C",
        read: |own| number(own.boiling_c),
        write: |own, text| own.boiling_c = read(text),
    },
    Field {
        label: "Density",
        unit: "g/mL",
        read: |own| points(&own.density),
        write: |own, text| own.density = read_points(text),
    },
    Field {
        label: "Density frozen",
        unit: "g/mL at the melting point",
        read: |own| number(own.density_solid_g_per_ml),
        write: |own, text| own.density_solid_g_per_ml = read(text),
    },
    Field {
        label: "Vapour pressure",
        unit: "Pa",
        read: |own| points(&own.vapour_pressure),
        write: |own, text| own.vapour_pressure = read_points(text),
    },
    Field {
        label: "Surface tension",
        unit: "mN/m",
        read: |own| points(&own.surface_tension),
        write: |own, text| own.surface_tension = read_points(text),
    },
    Field {
        label: "Viscosity",
        unit: "mPa s",
        read: |own| points(&own.viscosity),
        write: |own, text| own.viscosity = read_points(text),
    },
    Field {
        label: "Contact angle",
        unit: "Least and greatest on the glass, degrees: 0 20",
        read: |own| {
            own.contact_deg
                .map_or_else(String::new, |(low, high)| format!("{low} {high}"))
        },
        write: |own, text| own.contact_deg = read_pair(text),
    },
    Field {
        label: "Hazards",
        unit: "In short",
        read: |own| own.hazards.clone(),
        write: |own, text| text.clone_into(&mut own.hazards),
    },
    Field {
        label: "Must not meet",
        unit: "In short",
        read: |own| own.never.clone(),
        write: |own, text| text.clone_into(&mut own.never),
    },
    Field {
        label: "Source",
        unit: "Where all this is from",
        read: |own| own.source.clone(),
        write: |own, text| text.clone_into(&mut own.source),
    },
];

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// A number; what is none becomes one that the design refuses with a reason, unless nothing was typed.
fn read(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".");
    (!text.is_empty()).then(|| text.parse().unwrap_or(f64::NAN))
}

fn points(points: &[PointAt]) -> String {
    let points: Vec<String> = points
        .iter()
        .map(|point| format!("{}:{}", point.t_c, point.value))
        .collect();
    points.join(" ")
}

fn read_points(text: &str) -> Vec<PointAt> {
    text.split_whitespace()
        .map(|point| {
            let (t, value) = point.split_once(':').unwrap_or((point, ""));
            PointAt {
                t_c: read(t).unwrap_or(f64::NAN),
                value: read(value).unwrap_or(f64::NAN),
            }
        })
        .collect()
}

fn read_pair(text: &str) -> Option<(f64, f64)> {
    let mut numbers = text.split_whitespace().map(read);
    let low = numbers.next().flatten()?;
    Some((low, numbers.next().flatten().unwrap_or(low)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_and_pairs_come_back() {
        let list = read_points("20:0.95 40:0,93");
        assert_eq!(points(&list), "20:0.95 40:0.93");
        assert!(read_points("20 0.95").iter().any(|point| point.value.is_nan()));
        assert_eq!(read_pair("0 20"), Some((0.0, 20.0)));
        assert_eq!(read_pair("15"), Some((15.0, 15.0)));
        assert_eq!(read_pair(""), None);
        assert_eq!((read(""), read("1,5")), (None, Some(1.5)));
    }
}
