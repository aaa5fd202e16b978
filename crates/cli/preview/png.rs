//! SVG to PNG.

use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};
use std::sync::{Arc, OnceLock};

/// The font of all pictures: Noto Sans, Apache License 2.0, in the weights that a drawing uses.
const FONT: &str = "Noto Sans";

fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let made = FONTS.get_or_init(|| {
        let mut fonts = fontdb::Database::new();
        for data in [ttf_noto_sans::REGULAR, ttf_noto_sans::BOLD] {
            fonts.load_font_data(data.to_vec());
        }
        fonts.set_sans_serif_family(FONT);
        fonts.set_serif_family(FONT);
        Arc::new(fonts)
    });
    Arc::clone(made)
}

/// An SVG as a PNG of so many pixels' width, in its own proportions.
///
/// # Errors
/// What is wrong with the SVG; a size that there is no memory for.
pub(super) fn png(svg: &str, width: u32) -> Result<Vec<u8>, String> {
    let options = Options {
        font_family: FONT.to_owned(),
        fontdb: fonts(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|e| e.to_string())?;
    let scale = width as f32 / tree.size().width();
    let height = (tree.size().height() * scale).ceil() as u32;
    let mut picture = Pixmap::new(width, height)
        .ok_or_else(|| format!("{width} x {height} pixels are too many"))?;
    // The last row may be covered in part only.
    picture.fill(Color::WHITE);
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut picture.as_mut(),
    );
    picture.encode_png().map_err(|e| e.to_string())
}
