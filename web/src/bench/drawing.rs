//! Drafting: the strokes that the air-path drawing is made of, as SVG text. Classes say what a stroke means; the style
//! sheet gives them their tone.

use std::f64::consts::PI;
use std::fmt::Write;

/// A place on the drawing.
pub type Place = (f64, f64);

/// Which side of the engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Cool.
    Intake,
    /// Warm.
    Exhaust,
}

impl Side {
    /// As the style sheet knows it.
    pub fn class(self) -> &'static str {
        match self {
            Side::Intake => "i",
            Side::Exhaust => "e",
        }
    }
}

/// SVG text that grows.
#[derive(Debug, Default)]
pub struct Svg(pub String);

impl Svg {
    /// A path.
    pub fn path(&mut self, d: &str, class: &str) {
        self.path_with(d, class, "");
    }

    /// A path with more attributes.
    pub fn path_with(&mut self, d: &str, class: &str, more: &str) {
        self.raw(format_args!(r#"<path d="{d}" class="{class}" {more}/>"#));
    }

    /// A line of text that begins at a place.
    pub fn text(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.raw(format_args!(r#"<text x="{x:.1}" y="{y:.1}" class="{class}">{text}</text>"#));
    }

    /// A line of text around a place.
    pub fn text_mid(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.raw(format_args!(r#"<text x="{x:.1}" y="{y:.1}" class="{class}" text-anchor="middle">{text}</text>"#));
    }

    /// A line of text that ends at a place.
    pub fn text_end(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.raw(format_args!(r#"<text x="{x:.1}" y="{y:.1}" class="{class}" text-anchor="end">{text}</text>"#));
    }

    /// A box.
    pub fn rect(&mut self, x: f64, y: f64, w: f64, h: f64, class: &str) {
        self.raw(format_args!(r#"<rect x="{x:.1}" y="{y:.1}" width="{:.1}" height="{:.1}" class="{class}"/>"#, w.max(0.0), h.max(0.0)));
    }

    /// A circle.
    pub fn circle(&mut self, x: f64, y: f64, r: f64, class: &str) {
        self.raw(format_args!(r#"<circle cx="{x:.1}" cy="{y:.1}" r="{r}" class="{class}"/>"#));
    }

    /// Anything else.
    pub fn raw(&mut self, args: std::fmt::Arguments) {
        // Writing to a String cannot fail.
        let _ = self.0.write_fmt(args);
    }

    /// A duct: two walls and the gas between them.
    pub fn duct(&mut self, d: &str, side: Side, width: f64) {
        self.path_with(d, "wall", &format!(r#"stroke-width="{width}""#));
        self.path_with(d, &format!("gas {}", side.class()), &format!(r#"stroke-width="{}""#, width - 3.0));
    }

    /// A flow arrow; it stands still.
    pub fn arrow(&mut self, x: f64, y: f64, dx: f64, dy: f64, side: Side) {
        let (nx, ny) = (-dy, dx);
        let d = format!(
            "M{} {}L{x} {y}M{} {}L{x} {y}L{} {}",
            x - dx * 9.0,
            y - dy * 9.0,
            x - dx * 5.0 + nx * 3.5,
            y - dy * 5.0 + ny * 3.5,
            x - dx * 5.0 - nx * 3.5,
            y - dy * 5.0 - ny * 3.5
        );
        self.path(&d, &format!("flow {}", side.class()));
    }

    /// A station's balloon.
    pub fn balloon(&mut self, x: f64, y: f64, name: &str) {
        self.circle(x, y, 9.5, "balloon");
        self.text_mid(x, y + 4.6, "b", name);
    }

    /// A wheel with blades that lean by `lean` radians from hub to tip.
    pub fn wheel(&mut self, c: Place, r: f64, blades: usize, lean: f64) {
        self.circle(c.0, c.1, r, "part");
        self.circle(c.0, c.1, 0.3 * r, "part");
        for i in 0..blades {
            let a = i as f64 / blades as f64 * 2.0 * PI;
            let at = |share: f64, angle: f64| (c.0 + share * r * angle.cos(), c.1 + share * r * angle.sin());
            let (hub, bend, tip) = (at(0.3, a), at(0.72, a + 0.2 * lean), at(0.97, a + lean));
            self.path(&format!("M{:.1} {:.1}Q{:.1} {:.1} {:.1} {:.1}", hub.0, hub.1, bend.0, bend.1, tip.0, tip.1), "thin");
        }
    }
}

/// A line through places.
pub fn polyline(points: &[Place]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(d, "{}{:.1} {:.1}", if i == 0 { 'M' } else { 'L' }, p.0, p.1);
    }
    d
}

/// Outline of a scroll that leaves tangentially to the right: at the top with `turn` −1, at the bottom with +1.
pub fn scroll(c: Place, r_least: f64, r_most: f64, turn: f64) -> Vec<Place> {
    (0..=60)
        .map(|i| {
            let t = f64::from(i) / 60.0;
            let angle = turn * (PI / 2.0 + t * 2.0 * PI * 0.97);
            let r = r_most + (r_least - r_most) * t;
            (c.0 + r * angle.cos(), c.1 + r * angle.sin())
        })
        .collect()
}

/// Number of vanes on the ring, and their length on the drawing.
const VANES: usize = 13;
const CHORD: f64 = 34.0;

/// The ring of vanes, turned so that the gap between neighbours follows the throat: `throat_share` is the effective
/// nozzle area over that of the vanes wide open. The gap itself is drawn in warm ink.
pub fn vanes(svg: &mut Svg, c: Place, radius: f64, throat_share: f64) {
    // Chosen: wide open the vanes stand 52 degrees to the ring; the gap grows with the sine of that angle.
    let angle = (0.79 * throat_share.clamp(0.0, 1.0)).asin();
    struct Vane {
        pivot: Place,
        along: Place,
        nose: Place,
        tail: Place,
    }
    let ring: Vec<Vane> = (0..VANES)
        .map(|i| {
            let a = i as f64 / VANES as f64 * 2.0 * PI;
            let pivot = (c.0 + radius * a.cos(), c.1 + radius * a.sin());
            let along = (-angle.cos() * a.sin() - angle.sin() * a.cos(), angle.cos() * a.cos() - angle.sin() * a.sin());
            let at = |k: f64| (pivot.0 + along.0 * CHORD * k, pivot.1 + along.1 * CHORD * k);
            Vane { pivot, along, nose: at(-0.45), tail: at(0.55) }
        })
        .collect();
    for (i, vane) in ring.iter().enumerate() {
        let next = &ring[(i + 1) % VANES];
        let gap = (0..=20)
            .map(|k| {
                let t = f64::from(k) / 20.0;
                (next.nose.0 + t * (next.tail.0 - next.nose.0), next.nose.1 + t * (next.tail.1 - next.nose.1))
            })
            .min_by(|p, q| {
                let far = |p: &Place| (p.0 - vane.tail.0).hypot(p.1 - vane.tail.1);
                far(p).total_cmp(&far(q))
            })
            .unwrap_or(vane.tail);
        svg.path(&polyline(&[vane.tail, gap]), "throat");
    }
    for vane in &ring {
        let off = (-vane.along.1, vane.along.0);
        let q = |k: f64, o: f64| {
            format!(
                "{:.2} {:.2}",
                vane.nose.0 + vane.along.0 * CHORD * k + off.0 * o,
                vane.nose.1 + vane.along.1 * CHORD * k + off.1 * o
            )
        };
        let d = format!(
            "M{}C{} {} {}L{}C{} {} {}Z",
            q(0.0, 0.0),
            q(0.01, 3.4),
            q(0.32, 3.2),
            q(1.0, 0.5),
            q(1.0, -0.5),
            q(0.45, -1.0),
            q(0.05, -3.0),
            q(0.0, 0.0)
        );
        svg.path(&d, "vaneshape");
        svg.circle(vane.pivot.0, vane.pivot.1, 1.3, "mask");
    }
}

/// The two hatches, under names that begin with `id`.
pub fn hatches(id: &str) -> String {
    format!(
        r#"<defs><pattern id="{id}-helps" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" class="bg-help"/><path d="M0 0V6" class="h-help"/></pattern><pattern id="{id}-hinders" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" class="bg-hind"/><path d="M0 0V6M0 0H6" class="h-hind"/></pattern></defs>"#
    )
}

/// A quantity's symbol: italic letter, small index.
pub fn symbol(letter: &str, index: &str) -> String {
    format!("<tspan class=\"sym\">{letter}</tspan><tspan dy=\"3\" font-size=\"10\">{index}</tspan><tspan dy=\"-3\">\u{200a}</tspan>")
}
