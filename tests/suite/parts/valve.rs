//! The open area of the valves, by hand.

use volute_core::parts::valve::ValveSet;

const SET: ValveSet = ValveSet {
    opens_deg: 345.0,
    closes_deg: 580.0,
    count: 2.0,
    seat_m: 0.0345,
    lift_m: 0.01,
    discharge: 0.66,
    port_share: 0.8,
};

#[test]
fn by_hand_shut_valves_pass_nothing() {
    for angle_deg in [0.0, 200.0, 345.0, 580.0, 719.0] {
        assert_eq!(SET.lift_m(angle_deg), 0.0);
        assert_eq!(SET.effective_area_m2(angle_deg), 0.0);
    }
}

#[test]
fn by_hand_the_curtain_limits_at_low_lift_and_the_port_at_full_lift() {
    // Half-way up the arch, at a quarter of its width, the lift is half of the greatest.
    approx::assert_relative_eq!(SET.lift_m(345.0 + 235.0 / 4.0), 0.005, max_relative = 1e-12);
    let curtain_m2 = 2.0 * 0.66 * core::f64::consts::PI * 0.0345 * 0.005;
    approx::assert_relative_eq!(SET.effective_area_m2(345.0 + 235.0 / 4.0), curtain_m2, max_relative = 1e-12);
    // The curtain equals the port at a lift of port_share * D/4, 6.9 mm here, so full lift is the port's.
    let port_m2 = 2.0 * 0.66 * 0.8 * core::f64::consts::FRAC_PI_4 * 0.0345 * 0.0345;
    approx::assert_relative_eq!(SET.effective_area_m2(462.5), port_m2, max_relative = 1e-12);
}

#[test]
fn identity_area_is_symmetric_and_never_beyond_the_port() {
    for step in 0..=235 {
        let (left, right) = (345.0 + step as f64, 580.0 - step as f64);
        approx::assert_relative_eq!(SET.lift_m(left), SET.lift_m(right), max_relative = 1e-9, epsilon = 1e-12);
        assert!(SET.effective_area_m2(left) <= SET.effective_area_m2(462.5));
    }
}
