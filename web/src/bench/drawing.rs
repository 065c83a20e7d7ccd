//! Drafting: the strokes that the air-path drawing is made of, as SVG text. Classes say what a stroke means; the style
//! sheet gives them their tone.

use crate::plots::hatch::Point;
use std::f64::consts::PI;
use std::fmt::Write;

/// Which side of the engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The cool side.
    Intake,
    /// The warm side.
    Exhaust,
}

impl Side {
    /// Its class in the style sheet.
    pub fn class(self) -> &'static str {
        match self {
            Side::Intake => "i",
            Side::Exhaust => "e",
        }
    }
}

/// One element of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// `path`, `text`, `rect` or `circle`.
    pub tag: &'static str,
    /// Attributes in a fixed order for each kind of shape.
    pub attributes: Vec<(&'static str, String)>,
    /// What it holds: for a text its letters, with `tspan` markup where a symbol needs it.
    pub content: String,
}

/// How many shapes at the beginning and how many at the end of two lists are of the same kinds.
pub fn same_ends(before: &[Shape], after: &[Shape]) -> (usize, usize) {
    let alike = |(a, b): &(&Shape, &Shape)| a.tag == b.tag;
    let head = before.iter().zip(after).take_while(alike).count();
    let rest = before[head..].iter().rev().zip(after[head..].iter().rev());
    (head, rest.take_while(alike).count())
}

/// Markup as tags, each with the letters that follow it; what comes before the first tag has an empty one.
pub fn pieces(markup: &str) -> impl Iterator<Item = (&str, &str)> {
    markup.split('<').map(|piece| piece.split_once('>').unwrap_or(("", piece)))
}

/// A drawing that grows.
#[derive(Debug, Default)]
pub struct Svg(pub Vec<Shape>);

impl Svg {
    fn shape(&mut self, tag: &'static str, attributes: Vec<(&'static str, String)>, content: &str) {
        self.0.push(Shape { tag, attributes, content: content.into() });
    }

    /// A path.
    pub fn path(&mut self, d: &str, class: &str) {
        self.shape("path", vec![("d", d.into()), ("class", class.into())], "");
    }

    /// A path with one more attribute.
    pub fn path_with(&mut self, d: &str, class: &str, more: (&'static str, &str)) {
        self.shape("path", vec![("d", d.into()), ("class", class.into()), (more.0, more.1.into())], "");
    }

    /// A line of text that begins at a place.
    pub fn text(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.lettered(x, y, class, "start", text);
    }

    /// A line of text around a place.
    pub fn text_mid(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.lettered(x, y, class, "middle", text);
    }

    /// A line of text that ends at a place.
    pub fn text_end(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.lettered(x, y, class, "end", text);
    }

    fn lettered(&mut self, x: f64, y: f64, class: &str, anchor: &str, text: &str) {
        let place = [
            ("x", format!("{x:.1}")),
            ("y", format!("{y:.1}")),
            ("class", class.into()),
            ("text-anchor", anchor.into()),
        ];
        self.shape("text", place.into(), text);
    }

    /// Names the last shape, as a hook for tests.
    pub fn named(&mut self, hook: &str) {
        if let Some(last) = self.0.last_mut() {
            last.attributes.push(("data-r", hook.into()));
        }
    }

    /// A box.
    pub fn rect(&mut self, x: f64, y: f64, w: f64, h: f64, class: &str) {
        let size = [("x", x), ("y", y), ("width", w.max(0.0)), ("height", h.max(0.0))]
            .map(|(name, v)| (name, format!("{v:.1}")));
        let mut attributes = Vec::from(size);
        attributes.push(("class", class.into()));
        self.shape("rect", attributes, "");
    }

    /// A box filled with a pattern.
    pub fn rect_filled(&mut self, x: f64, y: f64, w: f64, h: f64, pattern: &str) {
        self.rect(x, y, w, h, "");
        if let Some(last) = self.0.last_mut() {
            last.attributes.push(("fill", format!("url(#{pattern})")));
        }
    }

    /// A circle.
    pub fn circle(&mut self, x: f64, y: f64, r: f64, class: &str) {
        let attributes =
            vec![("cx", format!("{x:.1}")), ("cy", format!("{y:.1}")), ("r", r.to_string()), ("class", class.into())];
        self.shape("circle", attributes, "");
    }

    /// The drawing as markup. Every text in it is the bench's own: nothing here comes from a file or a link.
    pub fn markup(&self) -> String {
        let mut out = String::new();
        for shape in &self.0 {
            let _ = write!(out, "<{}", shape.tag);
            for (name, value) in &shape.attributes {
                let _ = write!(out, r#" {name}="{value}""#);
            }
            let _ = write!(out, ">{}</{}>", shape.content, shape.tag);
        }
        out
    }

    /// A duct: two walls and the gas between them.
    pub fn duct(&mut self, d: &str, side: Side, width: f64) {
        self.path_with(d, "wall", ("stroke-width", &width.to_string()));
        self.path_with(d, &format!("gas {}", side.class()), ("stroke-width", &(width - 3.0).to_string()));
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
        self.path(&d, &format!("stream-still {}", side.class()));
    }

    /// A station's balloon.
    pub fn balloon(&mut self, x: f64, y: f64, name: &str) {
        self.circle(x, y, 9.5, "balloon");
        self.text_mid(x, y + 4.6, "b", name);
    }

    /// A wheel with blades that lean by `lean` radians from hub to tip.
    pub fn wheel(&mut self, c: Point, r: f64, blades: usize, lean: f64) {
        self.circle(c.0, c.1, r, "part");
        self.circle(c.0, c.1, 0.3 * r, "part");
        for i in 0..blades {
            let a = i as f64 / blades as f64 * 2.0 * PI;
            let at = |share: f64, angle: f64| (c.0 + share * r * angle.cos(), c.1 + share * r * angle.sin());
            let (hub, bend, tip) = (at(0.3, a), at(0.72, a + 0.2 * lean), at(0.97, a + lean));
            self.path(
                &format!("M{:.1} {:.1}Q{:.1} {:.1} {:.1} {:.1}", hub.0, hub.1, bend.0, bend.1, tip.0, tip.1),
                "thin",
            );
        }
    }
}

/// A line through places.
pub fn polyline(points: &[Point]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(d, "{}{:.1} {:.1}", if i == 0 { 'M' } else { 'L' }, p.0, p.1);
    }
    d
}

/// Outline of a scroll that leaves tangentially to the right: at the top with `turn` −1, at the bottom with +1.
pub fn scroll(c: Point, r_least: f64, r_most: f64, turn: f64) -> Vec<Point> {
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
pub fn vanes(svg: &mut Svg, c: Point, radius: f64, throat_share: f64) {
    // Chosen: wide open the vanes stand 52 degrees to the ring; the gap grows with the sine of that angle.
    let angle = (0.79 * throat_share.clamp(0.0, 1.0)).asin();
    struct Vane {
        pivot: Point,
        along: Point,
        nose: Point,
        tail: Point,
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
    let (mut throats, mut blades, mut pivots) = (String::new(), String::new(), String::new());
    for (i, vane) in ring.iter().enumerate() {
        let next = &ring[(i + 1) % VANES];
        let gap = (0..=20)
            .map(|k| {
                let t = f64::from(k) / 20.0;
                (next.nose.0 + t * (next.tail.0 - next.nose.0), next.nose.1 + t * (next.tail.1 - next.nose.1))
            })
            .min_by(|p, q| {
                let far = |p: &Point| (p.0 - vane.tail.0).hypot(p.1 - vane.tail.1);
                far(p).total_cmp(&far(q))
            })
            .unwrap_or(vane.tail);
        throats.push_str(&polyline(&[vane.tail, gap]));
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
        let _ = write!(
            blades,
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
        let _ = write!(pivots, "M{:.1} {:.1}h2.4", vane.pivot.0 - 1.2, vane.pivot.1);
    }
    svg.path(&throats, "throat");
    svg.path(&blades, "vaneshape");
    svg.path(&pivots, "pivot");
}

/// The two hatches, under names that begin with `id`.
pub fn hatches(id: &str) -> String {
    format!(
        r#"<defs><pattern id="{id}-helps" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" class="bg-help"/><path d="M0 0V6" class="h-help"/></pattern><pattern id="{id}-hinders" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" class="bg-hind"/><path d="M0 0V6M0 0H6" class="h-hind"/></pattern></defs>"#
    )
}

/// A quantity's symbol: italic letter, small index.
pub fn symbol(letter: &str, index: &str) -> String {
    format!(
        "<tspan class=\"sym\">{letter}</tspan><tspan dy=\"3\" font-size=\"10\">{index}</tspan><tspan dy=\"-3\">\u{200a}</tspan>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_pieces_put_markup_together_again() {
        for markup in ["", "plain", "<tspan a=\"1\">12</tspan><tspan> kPa</tspan>", "a<b>c</b>d"] {
            let again: String = pieces(markup)
                .map(|(tag, text)| if tag.is_empty() { text.into() } else { format!("<{tag}>{text}") })
                .collect();
            assert_eq!(again, markup);
        }
    }

    #[test]
    fn by_hand_ends_that_are_alike_stay() {
        let shapes = |tags: &str| -> Vec<Shape> {
            let tag = |letter| match letter {
                'p' => "path",
                'r' => "rect",
                _ => "text",
            };
            tags.chars().map(|c| Shape { tag: tag(c), attributes: Vec::new(), content: String::new() }).collect()
        };
        for (before, after, ends) in [
            ("", "prt", (0, 0)),
            ("prt", "prt", (3, 0)),
            ("prtp", "ptp", (1, 2)),
            ("ptp", "prtp", (1, 2)),
            ("tttp", "ttttp", (3, 1)),
            ("pp", "p", (1, 0)),
            ("r", "t", (0, 0)),
        ] {
            assert_eq!(same_ends(&shapes(before), &shapes(after)), ends, "{before} {after}");
        }
    }

    #[test]
    fn by_hand_letters_stand_behind_their_tags() {
        let found: Vec<_> = pieces("<tspan a>12</tspan><tspan> kPa</tspan>").collect();
        assert_eq!(found, [("", ""), ("tspan a", "12"), ("/tspan", ""), ("tspan", " kPa"), ("/tspan", "")]);
    }
}
