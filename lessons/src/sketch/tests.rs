use super::*;
use proptest::prelude::*;

fn line(from: f64, to: f64) -> Heights {
    std::array::from_fn(|i| from + (to - from) * share(i))
}

/// A parabola through both ends with its top (or bottom) at `place`.
fn hump(ends: f64, top: f64, place: f64) -> Heights {
    std::array::from_fn(|i| {
        let x = share(i);
        let reach = if x < place { (place - x) / place } else { (x - place) / (1.0 - place) };
        top + (ends - top) * reach * reach
    })
}

/// Rising slowly at first, then fast.
fn bent(from: f64, to: f64) -> Heights {
    std::array::from_fn(|i| from + (to - from) * share(i) * share(i))
}

fn key(truth: Heights, given: Option<Heights>) -> SketchKey {
    SketchKey { truth, given, ends_si: (0.0, 1.0) }
}

fn wrong(shape: Option<Shape>, crosses: Option<Crosses>) -> WrongSketch {
    WrongSketch { shape, crosses, because: Vec::new(), show: None }
}

fn judge(truth: Heights, drawn: Heights) -> SketchMark {
    key(truth, None).judge(&Sketch::of_heights(drawn), &[])
}

#[test]
fn by_hand_the_truth_is_right_whatever_its_shape() {
    for truth in
        [line(0.1, 0.9), line(0.9, 0.1), line(0.5, 0.5), hump(0.2, 0.8, 0.4), hump(0.8, 0.2, 0.6), bent(0.1, 0.9)]
    {
        let mark = judge(truth, truth);
        assert!(mark.right && mark.points == 1.0, "{mark:?}");
        // A trembling hand, and another height: two per cent of the axis up and down, a tenth of it higher.
        let trembling = std::array::from_fn(|i| truth[i] + if i % 2 == 0 { 0.02 } else { -0.02 });
        assert!(judge(truth, trembling).right, "trembling");
        assert!(judge(truth, truth.map(|height| height + 0.1)).right, "higher");
    }
}

#[test]
fn by_hand_each_feature_is_judged_by_itself() {
    let third = |mark: &SketchMark| mark.thirds.map(|(_, _, right)| right);
    // Direction.
    let mark = judge(line(0.1, 0.9), line(0.9, 0.1));
    assert!(!mark.right && third(&mark) == [false; 3] && mark.points == 0.0, "{mark:?}");
    assert_eq!(mark.thirds[0].0, Way::Up);
    assert_eq!(mark.thirds[0].1, Way::Down);
    let mark = judge(line(0.5, 0.5), line(0.2, 0.8));
    assert!(third(&mark) == [false; 3] && mark.thirds[1].0 == Way::Level, "{mark:?}");
    // The place of a peak.
    assert_eq!(judge(hump(0.2, 0.8, 0.3), hump(0.2, 0.8, 0.4)).extreme, Some(true));
    assert_eq!(judge(hump(0.2, 0.8, 0.3), hump(0.2, 0.8, 0.7)).extreme, Some(false));
    assert_eq!(judge(hump(0.8, 0.2, 0.3), hump(0.8, 0.2, 0.7)).extreme, Some(false));
    // A peak that is not there.
    assert_eq!(judge(line(0.2, 0.8), hump(0.2, 0.8, 0.5)).extreme, Some(false));
    // The bend.
    assert_eq!(judge(bent(0.1, 0.9), line(0.1, 0.9)).bend, Some(false));
    assert_eq!(judge(line(0.1, 0.9), line(0.1, 0.9)).bend, None);
    let other: Heights = std::array::from_fn(|i| 0.1 + 0.8 * (1.0 - (1.0 - share(i)) * (1.0 - share(i))));
    assert_eq!(judge(bent(0.1, 0.9), other).bend, Some(false));
}

#[test]
fn by_hand_crossings() {
    let given = line(0.5, 0.5);
    let truth = line(0.2, 0.8);
    let at = |place: f64| -> SketchMark {
        // A straight line that passes one half at `place`.
        let drawn = std::array::from_fn(|i| 0.5 + 0.6 * (share(i) - place));
        key(truth, Some(given)).judge(
            &Sketch::of_heights(drawn),
            &[wrong(None, Some(Crosses::Early)), wrong(None, Some(Crosses::Late)), wrong(None, Some(Crosses::Never))],
        )
    };
    assert_eq!((at(0.5).crossing, at(0.5).misconception), (Some(true), None));
    assert_eq!((at(0.58).crossing, at(0.58).right), (Some(true), true));
    assert_eq!((at(0.3).crossing, at(0.3).misconception), (Some(false), Some(0)));
    assert_eq!((at(0.75).crossing, at(0.75).misconception), (Some(false), Some(1)));
    assert_eq!((at(1.4).crossing, at(1.4).misconception), (Some(false), Some(2)));
    // No given curve, no crossing.
    assert_eq!(judge(truth, truth).crossing, None);
}

#[test]
fn by_hand_shapes() {
    let shapes = [Shape::Rises, Shape::Falls, Shape::Flat, Shape::Peak, Shape::Trough, Shape::Straight];
    let of = |heights: Heights| shapes.iter().filter(|shape| has_shape(&heights, **shape)).copied().collect::<Vec<_>>();
    assert_eq!(of(line(0.1, 0.9)), [Shape::Rises, Shape::Straight]);
    assert_eq!(of(line(0.9, 0.1)), [Shape::Falls, Shape::Straight]);
    assert_eq!(of(bent(0.1, 0.9)), [Shape::Rises]);
    assert_eq!(of(bent(0.9, 0.1)), [Shape::Falls]);
    assert_eq!(of(line(0.5, 0.55)), [Shape::Flat]);
    assert_eq!(of(hump(0.2, 0.8, 0.5)), [Shape::Peak]);
    assert_eq!(of(hump(0.8, 0.2, 0.5)), [Shape::Trough]);
}

#[test]
fn by_hand_points_and_handles_give_the_same_line() {
    let by_pointer = Sketch::of_heights(line(0.1, 0.9));
    let by_keys = Sketch::of_handles([0, 1, 2, 3, 4, 5, 6].map(|k| 0.1 + 0.8 * f64::from(k) / 6.0));
    for (a, b) in by_pointer.steps().iter().zip(by_keys.steps()) {
        assert!(a.abs_diff(*b) <= 1, "{a} {b}");
    }
    assert!(by_keys.handles().iter().zip(by_pointer.handles()).all(|(a, b)| (a - b).abs() < 0.01));
    assert_eq!(Sketch::of_steps([201; POINTS]), Err(201));
    assert_eq!(Sketch::of_heights([7.0; POINTS]).steps(), &[STEPS; POINTS]);
    assert_eq!(Sketch::of_heights([f64::NAN; POINTS]).steps(), &[0; POINTS]);
}

proptest! {
    #[test]
    fn identity_any_two_curves_can_be_judged(a in proptest::array::uniform25(0_u8..=STEPS), b in proptest::array::uniform25(0_u8..=STEPS)) {
        let (truth, sketch) = (Sketch(a).heights(), Sketch(b));
        let mark = key(truth, Some(line(0.5, 0.5))).judge(&sketch, &[wrong(Some(Shape::Rises), None)]);
        prop_assert!((0.0..=1.0).contains(&mark.points) && mark.right == (mark.points == 1.0));
        prop_assert!(key(truth, None).judge(&Sketch(a), &[]).right);
    }
}
