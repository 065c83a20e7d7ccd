//! A curve that the learner draws: by pointer in one stroke, or handle by handle with keys; then the core's curve over it.
//!
//! What is kept are heights at even distances along the axis, as shares of it. A stroke is read off where it passes them, a
//! handle takes its neighbours along, and the table says the same as the drawing.

use crate::browser;
use crate::language::t;
use crate::plots::scale::Scale;
use crate::plots::ticks::ticks;
use crate::units::number;
use crate::view;
use leptos::ev;
use leptos::prelude::*;
use leptos::svg;
use volute_lessons::sketch::{HANDLES, POINTS, STEPS, share};
use web_sys::HtmlInputElement;

/// Heights as shares of the axis, in its order.
pub type Heights = [f64; POINTS];

/// Points from one handle to the next.
const STRIDE: usize = (POINTS - 1) / (HANDLES - 1);

/// One axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What it shows.
    pub name: String,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// The number at its beginning; the axis along may fall.
    pub from: f64,
    /// The number at its end.
    pub to: f64,
    /// Digits after the point.
    pub decimals: usize,
}

impl Axis {
    /// The number at a share of it.
    fn value(&self, share: f64) -> f64 {
        self.from + share * (self.to - self.from)
    }

    fn text(&self, share: f64) -> String {
        let n = number(self.value(share), self.decimals);
        if self.unit.is_empty() { n } else { format!("{n} {}", self.unit) }
    }

    /// Name and unit.
    pub fn label(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) }
    }
}

/// A curve of the core.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// Its name beside the line.
    pub name: String,
    /// How it is drawn: `ink`, `in` or `ex`.
    pub class: &'static str,
    /// Its heights.
    pub heights: Heights,
}

/// Size of the drawing in its own units; at the width of the sheet one of them is about a CSS pixel.
const SIZE: (f64, f64) = (284.0, 222.0);
/// Left, top, right, bottom of the axes in it.
const FRAME: (f64, f64, f64, f64) = (44.0, 12.0, 272.0, 178.0);

fn across(x: f64) -> f64 {
    FRAME.0 + x * (FRAME.2 - FRAME.0)
}

fn up(y: f64) -> f64 {
    FRAME.3 - y.clamp(0.0, 1.0) * (FRAME.3 - FRAME.1)
}

/// As the record keeps it.
fn snapped(height: f64) -> f64 {
    (height.clamp(0.0, 1.0) * f64::from(STEPS)).round() / f64::from(STEPS)
}

fn held(mut heights: Heights, fixed: Option<f64>) -> Heights {
    if let Some(fixed) = fixed {
        heights[0] = fixed;
    }
    heights
}

/// A stroke from one place to another, in shares of both axes: every height that it passes is set to where it passes. The
/// first touch of an empty sketch lays the whole curve flat at its height, so that a curve is always whole.
pub fn stroke(before: Option<&Heights>, fixed: Option<f64>, from: Option<(f64, f64)>, to: (f64, f64)) -> Heights {
    let mut heights = before.copied().unwrap_or([snapped(to.1); POINTS]);
    let index = |x: f64| x.clamp(0.0, 1.0) * (POINTS - 1) as f64;
    let b = index(to.0);
    match from {
        // A touch takes the height next to it.
        None => heights[b.round() as usize] = snapped(to.1),
        Some(from) => {
            let a = index(from.0);
            for (i, height) in heights.iter_mut().enumerate() {
                let at = i as f64;
                if (a - at) * (b - at) <= 0.0 {
                    let along = if (b - a).abs() < 1e-9 { 1.0 } else { (at - a) / (b - a) };
                    *height = snapped(from.1 + along * (to.1 - from.1));
                }
            }
        }
    }
    held(heights, fixed)
}

/// One handle set by keys: straight lines lead from it to the handles beside it.
pub fn set(before: Option<&Heights>, fixed: Option<f64>, handle: usize, value: f64) -> Heights {
    let value = value.clamp(0.0, 1.0);
    let mut heights = held(before.copied().unwrap_or([value; POINTS]), fixed);
    let at = handle.min(HANDLES - 1) * STRIDE;
    heights[at] = value;
    let ends = [at.checked_sub(STRIDE), Some(at + STRIDE).filter(|end| *end < POINTS)];
    for end in ends.into_iter().flatten() {
        let far = heights[end];
        for step in 1..STRIDE {
            let between = if end < at { at - step } else { at + step };
            heights[between] = value + (far - value) * step as f64 / STRIDE as f64;
        }
    }
    held(heights, fixed)
}

/// The line of a curve inside the axes.
fn line(heights: &Heights) -> String {
    let mut out = String::new();
    for (i, height) in heights.iter().enumerate() {
        out.push(if i == 0 { 'M' } else { 'L' });
        out.push_str(&format!("{:.1} {:.1}", across(share(i)), up(*height)));
    }
    out
}

/// Heights at which the names of the lines stand beside their ends, none over another.
fn label_places(ends: &[f64]) -> Vec<f64> {
    const APART: f64 = 14.0;
    let mut order: Vec<usize> = (0..ends.len()).collect();
    order.sort_by(|a, b| ends[*a].total_cmp(&ends[*b]));
    let mut out = vec![0.0; ends.len()];
    let mut least = FRAME.1 + 10.0;
    for i in order {
        out[i] = ends[i].max(least);
        least = out[i] + APART;
    }
    let over = (least - APART - (FRAME.3 - 3.0)).max(0.0);
    out.iter().map(|y| y - over).collect()
}

/// Everything that does not change: axes with numbers.
fn axes_view(x_axis: &Axis, y_axis: &Axis) -> AnyView {
    let (left, top, right, bottom) = FRAME;
    let x = Scale { from: x_axis.from, to: x_axis.to, start: left, end: right };
    let y = Scale { from: y_axis.from, to: y_axis.to, start: bottom, end: top };
    let (low, high) = (x_axis.from.min(x_axis.to), x_axis.from.max(x_axis.to));
    let (along, upward) = (ticks(low, high, 4), ticks(y_axis.from, y_axis.to, 5));
    view! {
        {along.values.iter().map(|v| view! {
            <path class="gridl" d=format!("M{:.1} {top}V{bottom}", x.at(*v))></path>
            <text x=format!("{:.1}", x.at(*v)) y="194" class="lb sketch-mid">{number(*v, along.decimals)}</text>
        }).collect_view()}
        {upward.values.iter().map(|v| view! {
            <path class="gridl" d=format!("M{left} {:.1}H{right}", y.at(*v))></path>
            <text x="38" y=format!("{:.1}", y.at(*v) + 4.0) class="lb sketch-end">{number(*v, upward.decimals)}</text>
        }).collect_view()}
        <path class="axis" d=format!("M{left} {top}V{bottom}H{right}")></path>
        <text x="272" y="214" class="sketch-end">{x_axis.label()}</text>
    }
    .into_any()
}

/// What a sketch consists of while somebody draws it.
#[derive(Clone, Copy)]
struct Pad {
    x: StoredValue<Axis>,
    y: StoredValue<Axis>,
    heights: RwSignal<Option<Heights>>,
    /// The first height, where it is given.
    fixed: Option<f64>,
    given: StoredValue<Option<Known>>,
    truth: Signal<Option<Known>>,
    locked: Signal<bool>,
    drawing: NodeRef<svg::Svg>,
    /// Where the stroke stood last; nothing while no stroke is being drawn.
    last: StoredValue<Option<(f64, f64)>>,
    /// The handle that has the focus.
    active: RwSignal<Option<usize>>,
}

impl Pad {
    /// Goes on with the stroke to where the pointer is.
    fn draw(self, event: &ev::PointerEvent) {
        let Some(at) = self.drawing.get_untracked().map(|d| browser::place_in(&d, event)) else { return };
        let (left, top, right, bottom) = FRAME;
        let to = ((at.0 * SIZE.0 - left) / (right - left), (bottom - at.1 * SIZE.1) / (bottom - top));
        let from = self.last.get_value();
        self.heights.update(|h| *h = Some(stroke(h.as_ref(), self.fixed, from, to)));
        self.last.set_value(Some(to));
    }

    /// Begins a stroke.
    fn down(self, event: &ev::PointerEvent) {
        if self.locked.get_untracked() || event.button() != 0 {
            return;
        }
        event.prevent_default();
        if let Some(drawing) = self.drawing.get_untracked() {
            // Without it a stroke ends at the edge, which is all that is lost.
            let _ = drawing.set_pointer_capture(event.pointer_id());
        }
        self.last.set_value(None);
        self.active.set(None);
        self.draw(event);
    }

    fn moved(self, event: &ev::PointerEvent) {
        if !self.locked.get_untracked() && self.last.with_value(Option::is_some) {
            self.draw(event);
        }
    }

    /// The names of the lines with their looks and heights: they stand at the right-hand ends.
    fn names(self) -> Vec<(String, &'static str, f64)> {
        let mut ends: Vec<(String, &'static str, f64)> = Vec::new();
        let known = |k: &Known| (k.name.clone(), k.class, up(k.heights[POINTS - 1]));
        self.given.with_value(|g| ends.extend(g.as_ref().map(known)));
        self.truth.with(|k| ends.extend(k.as_ref().map(known)));
        self.heights.with(|h| ends.extend(h.as_ref().map(|h| (t("yours").to_string(), "own", up(h[POINTS - 1])))));
        let places = label_places(&ends.iter().map(|e| e.2).collect::<Vec<_>>());
        ends.into_iter().zip(places).map(|(e, y)| (e.0, e.1, y)).collect()
    }

    /// A handle, which keys move.
    fn handle(self, k: usize) -> AnyView {
        let Self { x, y, heights, fixed, locked, active, .. } = self;
        let at = x.with_value(|x| x.text(share(k * STRIDE)));
        let held = move || locked.get() || (k == 0 && fixed.is_some());
        let value = move || heights.with(|h| h.as_ref().map_or(0.5, |h| h[k * STRIDE]));
        let spoken = view::text(move || {
            let text = y.with_value(|y| y.text(value()));
            if heights.with(Option::is_some) { text } else { format!("{text}, {}", t("nothing drawn yet")) }
        });
        let slid = move |event: ev::Event| {
            let typed = event_target::<HtmlInputElement>(&event).value_as_number();
            if typed.is_finite() && !held() {
                heights.update(|h| *h = Some(set(h.as_ref(), fixed, k, typed / f64::from(STEPS))));
            }
        };
        view! {
            <input type="range" class="sketch-handle" data-handle=k.to_string() style=("--x", (across(share(k * STRIDE)) / SIZE.0).to_string())
                min="0" max=STEPS.to_string() step="2"
                aria-label=format!("{} {at}", t("Height of your curve at")) aria-valuetext=spoken
                disabled=view::flag(held)
                prop:value=view::text(move || (value() * f64::from(STEPS)).round().to_string())
                on:focus=move |_| active.set(Some(k)) on:blur=move |_| active.set(None) on:input=slid/>
        }
        .into_any()
    }

    /// The dots at the handles of the curve.
    fn dots(self) -> AnyView {
        let Self { heights, fixed, locked, active, .. } = self;
        let dot = move |k: usize, height: f64| {
            let on = view::flag(move || active.get() == Some(k));
            let (cx, cy) = (across(share(k * STRIDE)), up(height));
            view! { <circle class="sketch-dot" class:on=on class:given=k == 0 && fixed.is_some() cx=format!("{cx:.1}") cy=format!("{cy:.1}") r="5"></circle> }
        };
        match heights.get() {
            Some(h) if !locked.get() => (0..HANDLES).map(|k| dot(k, h[k * STRIDE])).collect_view().into_any(),
            _ => ().into_any(),
        }
    }

    /// The same as the drawing, in numbers.
    fn table(self) -> AnyView {
        let Self { x, y, heights, given, truth, .. } = self;
        let heads = move || {
            let mut heads = vec![x.with_value(|x| x.name.clone()), t("yours").to_string()];
            heads.extend(given.with_value(|g| g.as_ref().map(|g| g.name.clone())));
            heads.extend(truth.with(|k| k.as_ref().map(|k| format!("{}, {}", k.name, t("bench")))));
            heads.into_iter().map(|h| view! { <th scope="col">{h}</th> }).collect_view()
        };
        let rows = move || {
            let (own, truth) = (heights.get(), truth.get());
            let row = |k: usize| {
                let i = k * STRIDE;
                let of = |h: Option<f64>| h.map_or_else(|| "–".into(), |h| y.with_value(|y| y.text(h)));
                let mut row = vec![x.with_value(|x| x.text(share(i))), of(own.map(|h| h[i]))];
                given.with_value(|g| row.extend(g.as_ref().map(|g| of(Some(g.heights[i])))));
                row.extend(truth.as_ref().map(|g| of(Some(g.heights[i]))));
                view! { <tr>{row.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr> }
            };
            (0..HANDLES).map(row).collect_view()
        };
        view! { <table><thead><tr>{view::part(heads)}</tr></thead><tbody>{view::part(rows)}</tbody></table> }.into_any()
    }
}

/// The sketch.
#[component]
pub fn SketchPad(
    /// Hook for tests and styles; unique on the page.
    id: String,
    x: Axis,
    y: Axis,
    /// What has been drawn.
    heights: RwSignal<Option<Heights>>,
    /// The first height, where it is given.
    fixed: Option<f64>,
    /// A curve that is shown from the beginning.
    given: Option<Known>,
    /// The core's curve; nothing of it is on the page before it may be seen.
    #[prop(into)]
    truth: Signal<Option<Known>>,
    #[prop(into)] locked: Signal<bool>,
) -> impl IntoView {
    let caption = format!("{} {} {}", y.label(), t("over"), x.name);
    let axes = axes_view(&x, &y);
    let (x, y, given) = (StoredValue::new(x), StoredValue::new(y), StoredValue::new(given));
    let (drawing, last, active) = (NodeRef::new(), StoredValue::new(None), RwSignal::new(None));
    let pad = Pad { x, y, heights, fixed, given, truth, locked, drawing, last, active };
    let own_line = view::text(move || heights.with(|h| h.as_ref().map(line).unwrap_or_default()));
    let described = format!("{id}-how");
    view! {
        <div class="sketch" id=id.clone() class:locked=locked data-drawn=view::text(move || heights.with(Option::is_some).to_string())>
            <p class="sketch-caption">{caption.clone()}</p>
            <div class="sketch-paper" role="group" aria-label=caption aria-describedby=described.clone()>
                <svg node_ref=drawing viewBox=format!("0 0 {} {}", SIZE.0, SIZE.1) aria-hidden="true"
                    on:pointerdown=move |event| pad.down(&event) on:pointermove=move |event| pad.moved(&event)
                    on:pointerup=move |_| last.set_value(None) on:pointercancel=move |_| last.set_value(None)>
                    <rect class="sketch-field" x="44" y="12" width="228" height="166"></rect>
                    {axes}
                    {given.with_value(|g| g.as_ref().map(|g| view! { <path class=format!("sketch-curve {}", g.class) d=line(&g.heights)></path> }))}
                    {view::part(move || truth.get().map(|k| view! { <path class=format!("sketch-curve truth {}", k.class) d=line(&k.heights)></path> }))}
                    <path class="sketch-curve own" d=own_line></path>
                    {view::part(move || pad.dots())}
                    {view::part(move || pad.names().into_iter().map(|(name, class, y)| view! {
                        <text class=format!("sketch-end sketch-name {class}") x="268" y=format!("{:.1}", y - 5.0)>{name}</text>
                    }).collect_view())}
                    {view::part(move || heights.with(Option::is_none).then(|| {
                        // A focused handle of a sketch without a curve must be seen all the same.
                        let at = move || active.get().map(|k| view! { <circle class="sketch-dot on" cx=format!("{:.1}", across(share(k * STRIDE))) cy=format!("{:.1}", up(0.5)) r="5"></circle> });
                        view! { <text class="lb sketch-mid" x="158" y="76">{t("draw your curve here")}</text>{at} }
                    }))}
                </svg>
                {(0..HANDLES).map(|k| pad.handle(k)).collect_view()}
            </div>
            <p class="hint" id=described>{view::text(move || if locked.get() { String::new() } else {
                t("Draw from one side to the other, or go through the seven handles with Tab and the arrow keys.").to_string()
            })}</p>
            <details class="sketch-table">
                <summary>{t("as a table")}</summary>
                {pad.table()}
            </details>
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_stroke_sets_what_it_passes() {
        let first = stroke(None, None, None, (0.0, 0.25));
        assert_eq!(first, [0.25; POINTS], "a touch lays the curve flat");
        let drawn = stroke(Some(&first), None, Some((0.0, 0.25)), (0.5, 0.75));
        assert_eq!((drawn[0], drawn[6], drawn[12], drawn[13]), (0.25, 0.5, 0.75, 0.25));
        let back = stroke(Some(&drawn), None, Some((0.5, 0.75)), (0.25, 0.0));
        assert_eq!((back[12], back[9], back[6], back[5]), (0.75, 0.375, 0.0, 0.46), "backwards too, in half per cent");
        assert_eq!(stroke(Some(&drawn), Some(0.66), None, (0.0, 0.0))[0], 0.66, "a given point stays");
        assert_eq!(stroke(None, None, None, (7.0, -3.0)), [0.0; POINTS], "outside is the edge");
    }

    #[test]
    fn by_hand_a_handle_takes_its_neighbours_along() {
        let flat = set(None, None, 3, 0.5);
        assert_eq!(flat, [0.5; POINTS]);
        let peak = set(Some(&flat), None, 3, 0.9);
        assert_eq!((peak[8], peak[12], peak[16]), (0.5, 0.9, 0.5));
        assert!((peak[10] - 0.7).abs() < 1e-12 && (peak[14] - 0.7).abs() < 1e-12);
        assert_eq!(set(Some(&flat), Some(0.2), 6, 2.0)[POINTS - 1], 1.0);
        assert_eq!(set(None, Some(0.2), 6, 0.4)[0], 0.2);
    }

    #[test]
    fn identity_names_never_stand_on_each_other() {
        for ends in [vec![50.0, 50.0, 50.0], vec![190.0, 189.0, 188.0], vec![12.0, 100.0, 13.0]] {
            let places = label_places(&ends);
            for i in 0..places.len() {
                for j in 0..i {
                    assert!((places[i] - places[j]).abs() >= 13.9, "{ends:?}: {places:?}");
                }
            }
        }
    }
}
