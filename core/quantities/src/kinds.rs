//! Kinds of numbers: in which unit each is shown, with which decimals, in SI and in customary units.
//!
//! A kind also says what a pressure counts from and whether a temperature is a difference, so that a gauge pressure is never
//! shown as an absolute one. Symbols and spoken names are English; the page looks them up in its catalogue.

use crate::units::*;

/// What a number counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counts {
    /// Its own zero.
    Plainly,
    /// Vacuum.
    FromVacuum,
    /// The air outside.
    FromAmbient,
    /// Absolute zero: a temperature.
    FromAbsoluteZero,
    /// Another number of the same kind.
    Between,
}

/// How a kind is shown in one system of units.
#[derive(Debug)]
pub struct Shown {
    /// The unit.
    pub unit: &'static Unit,
    /// Its symbol beside a number, with what a pressure counts from; empty for a plain number.
    pub symbol: &'static str,
    /// Its name, as a screen reader says it.
    pub spoken: &'static str,
    /// Decimals.
    pub decimals: u8,
}

macro_rules! kinds {
    ($($(#[doc = $doc:literal])+ $kind:ident $counts:ident
        $si:ident $si_symbol:literal $si_spoken:literal $si_decimals:literal,
        $us:ident $us_symbol:literal $us_spoken:literal $us_decimals:literal;)+) => {
        /// What kind of number it is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Kind { $($(#[doc = $doc])+ $kind),+ }

        impl Kind {
            /// All of them.
            pub const ALL: &'static [Kind] = &[$(Kind::$kind),+];
        }

        static COUNTS: &[Counts] = &[$(Counts::$counts),+];
        static SHOWN: &[[Shown; 2]] = &[$([
            Shown { unit: &$si, symbol: $si_symbol, spoken: $si_spoken, decimals: $si_decimals },
            Shown { unit: &$us, symbol: $us_symbol, spoken: $us_spoken, decimals: $us_decimals },
        ]),+];
    };
}

kinds! {
    /// Absolute pressure.
    PressureAbs FromVacuum
        KPA "kPa abs" "kilopascal absolute" 0, PSI "psia" "pounds per square inch absolute" 1;
    /// Pressure above ambient.
    PressureGauge FromAmbient
        KPA "kPa gauge" "kilopascal gauge" 0, PSI "psi gauge" "pounds per square inch gauge" 1;
    /// Difference of two pressures, or a mean effective pressure.
    PressureDifference Between
        KPA "kPa" "kilopascal" 0, PSI "psi" "pounds per square inch" 1;
    /// Pressure in the cylinder, absolute: in bar, because it is hundreds of them.
    CylinderPressure FromVacuum
        BAR "bar" "bar" 0, PSI "psia" "pounds per square inch absolute" 0;
    /// Temperature.
    Temperature FromAbsoluteZero
        DEG_C "°C" "degrees Celsius" 0, DEG_F "°F" "degrees Fahrenheit" 0;
    /// Difference of two temperatures.
    TemperatureDifference Between
        DEG_C "°C" "degrees Celsius" 0, DEG_F "°F" "degrees Fahrenheit" 0;
    /// Difference of two temperatures of a few degrees.
    TemperatureDifferenceFine Between
        DEG_C "°C" "degrees Celsius" 1, DEG_F "°F" "degrees Fahrenheit" 1;
    /// Torque at the crank.
    Torque Plainly
        N_M "N·m" "newton metres" 0, LB_FT "lb·ft" "pound feet" 0;
    /// Torque with a digit after the point: for sums and small changes.
    TorqueFine Plainly
        N_M "N·m" "newton metres" 1, LB_FT "lb·ft" "pound feet" 1;
    /// Power.
    Power Plainly
        KW "kW" "kilowatts" 1, HP "hp" "horsepower" 1;
    /// Nozzle area.
    Area Plainly
        CM2 "cm²" "square centimetres" 1, IN2 "in²" "square inches" 2;
    /// Area of a small hole.
    AreaFine Plainly
        MM2 "mm²" "square millimetres" 0, IN2 "in²" "square inches" 3;
    /// Flow of air or gas.
    GasFlow Plainly
        G_S "g/s" "grams per second" 0, LB_MIN "lb/min" "pounds per minute" 1;
    /// Flow of fuel.
    FuelFlow Plainly
        G_S "g/s" "grams per second" 1, LB_H "lb/h" "pounds per hour" 1;
    /// Flow of fuel, with digits enough for sums.
    FuelFlowFine Plainly
        G_S "g/s" "grams per second" 3, LB_H "lb/h" "pounds per hour" 2;
    /// Fuel of a cylinder and cycle.
    FuelPerCycle Plainly
        MG "mg/cycle" "milligrams per cylinder and cycle" 1, MG "mg/cycle" "milligrams per cylinder and cycle" 1;
    /// Fuel for the work at the crank.
    FuelConsumption Plainly
        G_KW_H "g/(kW·h)" "grams per kilowatt hour" 0, LB_HP_H "lb/(hp·h)" "pounds per horsepower hour" 3;
    /// Cylinder volume.
    Volume Plainly
        LITRE "L" "litres" 2, IN3 "in³" "cubic inches" 0;
    /// Density.
    Density Plainly
        KG_M3 "kg/m³" "kilograms per cubic metre" 2, LB_FT3 "lb/ft³" "pounds per cubic foot" 3;
    /// Speed of rotation, from 1/s.
    Rotation Plainly
        PER_MIN "1/min" "revolutions per minute" 0, PER_MIN "1/min" "revolutions per minute" 0;
    /// Speed of the turbocharger shaft, from the rad/s of the core.
    ShaftSpeed Plainly
        PER_MIN_OF_SHAFT "1/min" "revolutions per minute" 0, PER_MIN_OF_SHAFT "1/min" "revolutions per minute" 0;
    /// Speed of the crank, from the 1/min of the core's settings.
    EngineSpeed Plainly
        PER_MIN_OF_CRANK "1/min" "revolutions per minute" 0, PER_MIN_OF_CRANK "1/min" "revolutions per minute" 0;
    /// Tip speed of a wheel.
    TipSpeed Plainly
        M_S "m/s" "metres per second" 0, FT_S "ft/s" "feet per second" 0;
    /// A share, shown in per cent.
    Share Plainly
        PERCENT "%" "per cent" 0, PERCENT "%" "per cent" 0;
    /// A share, shown in per cent with a digit after the point.
    ShareFine Plainly
        PERCENT "%" "per cent" 1, PERCENT "%" "per cent" 1;
    /// How far the vanes stand open, from a share.
    VaneShare Plainly
        PERCENT "% open" "per cent open" 0, PERCENT "% open" "per cent open" 0;
    /// How far the vanes stand open, from the per cent of the core's settings.
    VanePosition Plainly
        PERCENT_OF_100 "% open" "per cent open" 0, PERCENT_OF_100 "% open" "per cent open" 0;
    /// A plain number.
    Ratio Plainly
        PLAIN "" "" 2, PLAIN "" "" 2;
    /// A plain number above ten.
    RatioCoarse Plainly
        PLAIN "" "" 1, PLAIN "" "" 1;
    /// Mass of air for each mass of fuel, as a setting.
    AirFuelRatio Plainly
        PLAIN "" "kilograms of air for each of fuel" 1, PLAIN "" "kilograms of air for each of fuel" 1;
    /// How many bends a pipe has.
    Bends Plainly
        PLAIN "" "bends" 0, PLAIN "" "bends" 0;
    /// Length of a pipe.
    Length Plainly
        M "m" "metres" 1, FOOT "ft" "feet" 1;
    /// Height above sea level.
    Altitude Plainly
        M "m" "metres" 0, FOOT "ft" "feet" 0;
    /// Bore of a pipe.
    Bore Plainly
        MM "mm" "millimetres" 0, INCH "in" "inches" 2;
    /// Loss coefficient of a pipe part over flow squared.
    LossCoefficient Plainly
        PER_M4 "1/m⁴" "per metre to the fourth" 0, PER_M4 "1/m⁴" "per metre to the fourth" 0;
    /// Flow of coolant, which the pump gives at 2000 1/min.
    CoolantFlow Plainly
        L_MIN "L/min at 2000 1/min" "litres per minute at 2000 revolutions" 0,
        GAL_MIN "gal/min at 2000 1/min" "US gallons per minute at 2000 revolutions" 1;
    /// Specific entropy.
    Entropy Plainly
        KJ_KG_K "kJ/(kg·K)" "kilojoules per kilogram and kelvin" 2,
        BTU_LB_F "BTU/(lb·°F)" "British thermal units per pound and degree" 3;
    /// Time.
    Time Plainly
        SECOND "s" "seconds" 2, SECOND "s" "seconds" 2;
    /// Angle of the crank.
    CrankAngle Plainly
        DEGREE "°" "degrees" 0, DEGREE "°" "degrees" 0;
    /// Angle of the crank, with a digit after the point.
    CrankAngleFine Plainly
        DEGREE "°" "degrees" 1, DEGREE "°" "degrees" 1;
    /// How long a burn lasts.
    CrankDuration Plainly
        DEGREE "°" "degrees of crank angle" 1, DEGREE "°" "degrees of crank angle" 1;
    /// By how much the injection is late.
    CrankDelay Plainly
        DEGREE "° later" "degrees of crank angle later" 1, DEGREE "° later" "degrees of crank angle later" 1;
    /// A valve event, before bottom dead centre.
    BeforeBottom Plainly
        BEFORE_BOTTOM "° before bottom" "degrees before bottom dead centre" 0,
        BEFORE_BOTTOM "° before bottom" "degrees before bottom dead centre" 0;
    /// A valve event, before top dead centre.
    BeforeTop Plainly
        BEFORE_TOP "° before top" "degrees before top dead centre" 0,
        BEFORE_TOP "° before top" "degrees before top dead centre" 0;
    /// A valve event, after top dead centre.
    AfterTop Plainly
        AFTER_TOP "° after top" "degrees after top dead centre" 0,
        AFTER_TOP "° after top" "degrees after top dead centre" 0;
    /// A valve event, after bottom dead centre.
    AfterBottom Plainly
        AFTER_BOTTOM "° after bottom" "degrees after bottom dead centre" 0,
        AFTER_BOTTOM "° after bottom" "degrees after bottom dead centre" 0;
}

impl Kind {
    /// What its numbers count from.
    pub fn counts(self) -> Counts {
        COUNTS[self as usize]
    }

    /// How it is shown, in SI or in customary units.
    pub fn shown(self, customary: bool) -> &'static Shown {
        &SHOWN[self as usize][usize::from(customary)]
    }

    /// What it measures.
    pub fn family(self) -> Family {
        self.shown(false).unit.family
    }

    /// What a pressure counts from; nothing for differences and for what is no pressure.
    pub fn reference(self) -> Option<Reference> {
        match self.counts() {
            Counts::FromVacuum => Some(Reference::Absolute),
            Counts::FromAmbient => Some(Reference::Gauge),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_both_systems_show_the_same_kind_of_thing() {
        for kind in Kind::ALL {
            let [si, customary] = [false, true].map(|customary| kind.shown(customary));
            assert_eq!(si.unit.family, customary.unit.family, "{kind:?}");
            assert!(kind.reference().is_none() || kind.family() == Family::Pressure, "{kind:?}");
            assert!(kind.counts() != Counts::FromAbsoluteZero || si.unit.offset == 273.15, "{kind:?}");
        }
    }

    #[test]
    fn identity_a_symbol_begins_with_that_of_its_unit() {
        for kind in Kind::ALL {
            for shown in [false, true].map(|customary| kind.shown(customary)) {
                assert!(shown.symbol.starts_with(shown.unit.symbol), "{kind:?} {shown:?}");
            }
        }
    }
}
