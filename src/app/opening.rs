//! How the window starts.

use super::Window;
use std::path::PathBuf;

/// How a window starts.
#[derive(Clone, Debug, Default)]
pub struct Opening {
    /// The design to show; the example when there is none.
    pub path: Option<PathBuf>,
    /// The system's dialog for files, to be tried before the window's own.
    pub system_dialog: Option<rfd::FileDialog>,
    /// Where settings and unsaved work are kept; without it nothing is.
    pub data_folder: Option<PathBuf>,
    /// Whether the stages of the job are worked out beside the window.
    pub works_out_job: bool,
}

/// Opens the window and returns when it is closed.
///
/// # Errors
/// When the system gives no window.
pub fn run(path: Option<PathBuf>) -> Result<(), eframe::Error> {
    let icon = eframe::icon_data::from_png_bytes(include_bytes!("../../assets/icon.png")).unwrap_or_default();
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_app_id("vialwright")
            .with_title("Vialwright")
            .with_icon(icon)
            .with_inner_size([1280.0, 800.0])
            .with_min_inner_size([512.0, 360.0]),
        renderer: eframe::Renderer::Glow,
        ..Default::default()
    };
    let folders = directories::ProjectDirs::from("", "", "vialwright");
    let opening = |over: &eframe::CreationContext<'_>| Opening {
        path,
        system_dialog: Some(rfd::FileDialog::new().set_parent(over)),
        works_out_job: true,
        data_folder: folders.map(|folders| folders.data_dir().to_path_buf()),
    };
    eframe::run_native(
        "Vialwright",
        options,
        Box::new(|cc| Ok(Box::new(Window::new(&cc.egui_ctx, opening(cc))))),
    )
}
