//! The tones and the text height of plots, read from the style sheet.

use super::surface::{Palette, TEXT};
use crate::units;
use web_sys::{CssStyleDeclaration, HtmlElement};

/// Tones and text height as the style sheet gives them now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inks {
    /// Tones.
    pub palette: Palette,
    /// Height of plot text in CSS pixels.
    pub text_px: f64,
    /// Whether they are for a print: plots stand as lines then, not as pixels.
    pub printing: bool,
}

impl Inks {
    /// As a probe element of the page has them now.
    pub fn read(probe: &HtmlElement, printing: bool) -> Self {
        Self { palette: palette(probe), text_px: caption_px(probe), printing }
    }
}

fn style_of(probe: &HtmlElement) -> Option<CssStyleDeclaration> {
    web_sys::window()?.get_computed_style(probe).ok().flatten()
}

/// The style sheet's tokens as colours. A probe takes each token as its `color`, which the browser then resolves, system
/// colours of a forced palette included.
fn palette(probe: &HtmlElement) -> Palette {
    let style = style_of(probe);
    Palette::from_tokens(|token| {
        let _ = probe.style().set_property("color", &format!("var({token})"));
        style.as_ref().and_then(|s| s.get_property_value("color").ok()).and_then(|text| rgb(&text)).unwrap_or((0, 0, 0))
    })
}

/// Height of plot text: the style sheet's caption size.
fn caption_px(probe: &HtmlElement) -> f64 {
    let size = style_of(probe).and_then(|s| s.get_property_value("font-size").ok());
    size.and_then(|s| units::parse(s.trim_end_matches("px"))).unwrap_or(TEXT)
}

/// `rgb(1, 2, 3)` as the browser writes a resolved colour.
fn rgb(text: &str) -> Option<(u8, u8, u8)> {
    let inside = text.split_once('(')?.1.trim_end_matches(')');
    let mut parts = inside.split([',', ' ', '/']).filter(|p| !p.is_empty()).map(|p| units::parse(p).map(|v| v as u8));
    Some((parts.next()??, parts.next()??, parts.next()??))
}
