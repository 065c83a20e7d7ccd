//! Friction by the formula of Chen and Flynn, worked out by hand.

use volute_core::engine::Friction;
use volute_core::parts::friction::mep_pa;

#[test]
fn by_hand_chen_and_flynn() {
    // The constants of CHEN1965 as they are commonly quoted (from memory): 0.137 bar, 0.005, 0.162 bar/(m/s).
    let friction = Friction {
        constant_pa: 1.37e4,
        peak_pressure_share: 0.005,
        speed_pa_s_m: 1.62e4,
        speed_squared_pa_s2_m2: 0.0,
        coolant_share: 0.5,
    };
    // 0.137 + 0.005 * 100 + 0.162 * 10 = 2.257 bar.
    approx::assert_relative_eq!(mep_pa(&friction, 1.0e7, 10.0), 2.257e5, max_relative = 1e-12);
    let squared = Friction { speed_squared_pa_s2_m2: 90.0, ..friction };
    approx::assert_relative_eq!(mep_pa(&squared, 1.0e7, 10.0), 2.257e5 + 9.0e3, max_relative = 1e-12);
}
