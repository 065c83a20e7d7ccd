//! Units: what they measure, and how many SI units one of them is.
//!
//! A unit belongs to a [`Family`], which is finer than its dimension: a torque is not an energy, although both are N m.
//! Whether a pressure counts from vacuum or from the air outside is not part of its unit but stands beside it
//! ([`Reference`]), as UCUM (section 6) and NIST SP 811 (7.4, from memory) want it: `kPa abs`, `psig`.

use core::fmt;

/// Exponents of kilogram, metre, second and kelvin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Dim {
    /// Kilogram.
    pub kg: i8,
    /// Metre.
    pub m: i8,
    /// Second.
    pub s: i8,
    /// Kelvin.
    pub k: i8,
}

impl Dim {
    /// A plain number.
    pub const NONE: Dim = Dim::new(0, 0, 0, 0);
    /// Temperature, a point or a difference.
    pub const TEMPERATURE: Dim = Dim::new(0, 0, 0, 1);
    /// Pressure.
    pub const PRESSURE: Dim = Dim::new(1, -1, -2, 0);

    /// Exponents in the order kg, m, s, K.
    pub const fn new(kg: i8, m: i8, s: i8, k: i8) -> Self {
        Self { kg, m, s, k }
    }

    /// Dimension of a product.
    pub fn times(self, other: Dim) -> Dim {
        self.zip(other, i8::saturating_add)
    }

    /// Dimension of a quotient.
    pub fn over(self, other: Dim) -> Dim {
        self.zip(other, i8::saturating_sub)
    }

    /// Dimension of a square root, or nothing when an exponent is odd.
    pub fn sqrt(self) -> Option<Dim> {
        let Dim { kg, m, s, k } = self;
        [kg, m, s, k].iter().all(|e| e % 2 == 0).then(|| Dim::new(kg / 2, m / 2, s / 2, k / 2))
    }

    fn zip(self, other: Dim, f: fn(i8, i8) -> i8) -> Dim {
        Dim::new(f(self.kg, other.kg), f(self.m, other.m), f(self.s, other.s), f(self.k, other.k))
    }
}

impl fmt::Display for Dim {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(family) = Family::ALL.iter().find(|family| family.dim() == *self) {
            return out.write_str(family.name());
        }
        let mut gap = "";
        for (symbol, exponent) in [("kg", self.kg), ("m", self.m), ("s", self.s), ("K", self.k)] {
            match exponent {
                0 => continue,
                1 => write!(out, "{gap}{symbol}")?,
                _ => write!(out, "{gap}{symbol}^{exponent}")?,
            }
            gap = " ";
        }
        Ok(())
    }
}

macro_rules! families {
    ($($family:ident, $name:literal, ($kg:literal, $m:literal, $s:literal, $k:literal);)+) => {
        /// What a unit measures.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[allow(missing_docs, reason = "the names are the quantities")]
        pub enum Family { $($family),+ }

        impl Family {
            /// All of them. Where two share a dimension, the commoner comes first.
            pub const ALL: &'static [Family] = &[$(Family::$family),+];

            /// In words, for a message.
            pub fn name(self) -> &'static str {
                match self { $(Family::$family => $name),+ }
            }

            /// Exponents of the SI base units.
            pub const fn dim(self) -> Dim {
                match self { $(Family::$family => Dim::new($kg, $m, $s, $k)),+ }
            }
        }
    };
}

families! {
    Ratio, "a plain number", (0, 0, 0, 0);
    Pressure, "a pressure", (1, -1, -2, 0);
    Temperature, "a temperature", (0, 0, 0, 1);
    Torque, "a torque", (1, 2, -2, 0);
    Energy, "an energy", (1, 2, -2, 0);
    Power, "a power", (1, 2, -3, 0);
    MassFlow, "a mass flow", (1, 0, -1, 0);
    Mass, "a mass", (1, 0, 0, 0);
    Length, "a length", (0, 1, 0, 0);
    Area, "an area", (0, 2, 0, 0);
    Volume, "a volume", (0, 3, 0, 0);
    Time, "a time", (0, 0, 1, 0);
    Speed, "a speed", (0, 1, -1, 0);
    Rotation, "a speed of rotation", (0, 0, -1, 0);
    Density, "a density", (1, -3, 0, 0);
    Inertia, "a moment of inertia", (1, 2, 0, 0);
    HeatCapacity, "a heat capacity", (0, 2, -2, -1);
    SpecificFuel, "a specific fuel consumption", (0, -2, 2, 0);
    VolumeFlow, "a volume flow", (0, 3, -1, 0);
    PipeLoss, "a loss coefficient", (0, -4, 0, 0);
}

/// A unit: `si = value * factor + offset`.
pub struct Unit {
    /// Its name in plain letters, as lesson files and engine files write it.
    pub name: &'static str,
    /// Its symbol in print.
    pub symbol: &'static str,
    /// What it measures.
    pub family: Family,
    /// SI units in one of it; below zero where the scale runs the other way, such as degrees *before* a dead centre.
    pub factor: f64,
    /// SI value at its zero.
    pub offset: f64,
    /// Decimals that lessons show a reading with, unless they say otherwise.
    pub decimals: u8,
    /// The unit that lessons show in its place where customary units are shown; itself if there is none.
    pub customary: &'static Unit,
}

// By their names: a unit that is its own customary one would be compared and printed without end.
impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl fmt::Debug for Unit {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Unit({:?})", self.name)
    }
}

impl Unit {
    /// SI value of `value` in this unit.
    pub fn to_si(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// SI value of a difference of `value` in this unit: the offset of a thermometer's zero plays no part.
    pub fn difference_to_si(&self, value: f64) -> f64 {
        value * self.factor
    }

    /// Value in this unit of an SI value.
    pub fn of_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    /// Value in this unit of a difference in SI.
    pub fn difference_of_si(&self, si: f64) -> f64 {
        si / self.factor
    }
}

/// What a pressure counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reference {
    /// Vacuum.
    Absolute,
    /// The air outside.
    Gauge,
}

impl Reference {
    /// As it stands behind a unit.
    pub fn name(self) -> &'static str {
        match self {
            Reference::Absolute => "abs",
            Reference::Gauge => "gauge",
        }
    }
}

// Exact by definition (NIST SP 811, appendix B, from memory): pound, inch, foot, standard gravity, US gallon of 231 cubic inches.
const LB_KG: f64 = 0.453_592_37;
const INCH_M: f64 = 0.0254;
const FT_M: f64 = 0.3048;
const GRAVITY_M_S2: f64 = 9.806_65;
const GALLON_M3: f64 = 231.0 * INCH_M * INCH_M * INCH_M;
/// One pound-force, in N: the pound times standard gravity.
const LBF_N: f64 = LB_KG * GRAVITY_M_S2;
const PSI_PA: f64 = LBF_N / (INCH_M * INCH_M);
const HP_W: f64 = 550.0 * LBF_N * FT_M;

macro_rules! units {
    ($list:ident, $spellings:ident, $about:literal;
    $($id:ident, $name:literal, $symbol:literal, $family:ident, $factor:expr, $offset:expr, $decimals:literal,
        $customary:ident, [$($also:literal),*];)+) => {
        $(
            #[allow(missing_docs, reason = "the row says it")]
            pub static $id: Unit = Unit {
                name: $name, symbol: $symbol, family: Family::$family, factor: $factor, offset: $offset,
                decimals: $decimals, customary: &$customary,
            };
        )+
        #[doc = $about]
        pub static $list: &[&Unit] = &[$(&$id),+];
        /// Other spellings that people use, in the order of the units. A table of its own: the page needs it last.
        pub static $spellings: &[&[&str]] = &[$(&[$($also),*]),+];
    };
}

units! {
    UNITS, SPELLINGS, "Every unit that a person may write, in a lesson or in an answer. The plain number comes first.";
    // Conventional mercury and the metric horsepower (75 kgf m/s): NIST SP 811, appendix B, from memory.
    PLAIN, "", "", Ratio, 1.0, 0.0, 2, PLAIN, [];
    PERCENT, "%", "%", Ratio, 0.01, 0.0, 0, PERCENT, ["percent", "per cent", "pct"];
    PA, "Pa", "Pa", Pressure, 1.0, 0.0, 0, PSI, ["pascal"];
    HPA, "hPa", "hPa", Pressure, 100.0, 0.0, 0, PSI, [];
    KPA, "kPa", "kPa", Pressure, 1000.0, 0.0, 0, PSI, ["kilopascal"];
    MPA, "MPa", "MPa", Pressure, 1.0e6, 0.0, 1, PSI, [];
    MILLIBAR, "mbar", "mbar", Pressure, 100.0, 0.0, 0, PSI, ["millibar"];
    BAR, "bar", "bar", Pressure, 1.0e5, 0.0, 2, PSI, ["bars"];
    PSI, "psi", "psi", Pressure, PSI_PA, 0.0, 1, PSI, ["lb/in2", "lbf/in2", "lb/sq in"];
    IN_HG, "inHg", "inHg", Pressure, 3386.389, 0.0, 1, IN_HG, ["in Hg", "\"Hg"];
    MM_HG, "mmHg", "mmHg", Pressure, 133.322_387_415, 0.0, 0, PSI, ["mm Hg"];
    KELVIN, "K", "K", Temperature, 1.0, 0.0, 0, KELVIN, ["kelvin"];
    DEG_C, "degC", "°C", Temperature, 1.0, 273.15, 0, DEG_F, ["°C", "ºC", "C", "℃", "deg C", "celsius"];
    DEG_F, "degF", "°F", Temperature, 5.0 / 9.0, 459.67 * 5.0 / 9.0, 0, DEG_F,
        ["°F", "ºF", "F", "℉", "deg F", "fahrenheit"];
    N_M, "N m", "N·m", Torque, 1.0, 0.0, 0, LB_FT, ["N·m", "Nm", "N-m", "newton metre", "newton meter"];
    KN_M, "kN m", "kN·m", Torque, 1000.0, 0.0, 2, LB_FT, ["kN·m", "kNm"];
    LB_FT, "lb ft", "lb·ft", Torque, LBF_N * FT_M, 0.0, 0, LB_FT,
        ["lb·ft", "lbf ft", "lb-ft", "lbft", "ft lb", "ft-lb", "ft lbf", "ftlb", "lbs ft", "ft lbs", "ft-lbs"];
    JOULE, "J", "J", Energy, 1.0, 0.0, 0, JOULE, ["joule"];
    KJ, "kJ", "kJ", Energy, 1000.0, 0.0, 1, KJ, [];
    MJ, "MJ", "MJ", Energy, 1.0e6, 0.0, 2, MJ, [];
    WATT, "W", "W", Power, 1.0, 0.0, 0, HP, ["watt"];
    KW, "kW", "kW", Power, 1000.0, 0.0, 1, HP, ["kilowatt"];
    MEGAWATT, "MW", "MW", Power, 1.0e6, 0.0, 2, HP, [];
    HP, "hp", "hp", Power, HP_W, 0.0, 0, HP, ["HP", "bhp"];
    PS, "PS", "PS", Power, 75.0 * GRAVITY_M_S2, 0.0, 0, HP, ["metric hp", "ch", "cv"];
    KG_S, "kg/s", "kg/s", MassFlow, 1.0, 0.0, 3, LB_MIN, ["kg s^-1"];
    G_S, "g/s", "g/s", MassFlow, 1.0e-3, 0.0, 1, LB_MIN, [];
    KG_H, "kg/h", "kg/h", MassFlow, 1.0 / 3600.0, 0.0, 0, LB_H, ["kg/hr"];
    KG_MIN, "kg/min", "kg/min", MassFlow, 1.0 / 60.0, 0.0, 1, LB_MIN, [];
    LB_MIN, "lb/min", "lb/min", MassFlow, LB_KG / 60.0, 0.0, 1, LB_MIN, [];
    LB_H, "lb/h", "lb/h", MassFlow, LB_KG / 3600.0, 0.0, 0, LB_H, ["lb/hr"];
    KG, "kg", "kg", Mass, 1.0, 0.0, 2, LB, ["kilogram"];
    GRAM, "g", "g", Mass, 1.0e-3, 0.0, 1, GRAM, ["gram"];
    MG, "mg", "mg", Mass, 1.0e-6, 0.0, 0, MG, ["milligram"];
    LB, "lb", "lb", Mass, LB_KG, 0.0, 2, LB, ["lbs"];
    M, "m", "m", Length, 1.0, 0.0, 2, FOOT, ["metre", "meter"];
    KM, "km", "km", Length, 1000.0, 0.0, 1, FOOT, [];
    CM, "cm", "cm", Length, 0.01, 0.0, 1, INCH, [];
    MM, "mm", "mm", Length, 1.0e-3, 0.0, 0, INCH, [];
    INCH, "in", "in", Length, 0.0254, 0.0, 2, INCH, ["inch", "\""];
    FOOT, "ft", "ft", Length, FT_M, 0.0, 0, FOOT, ["feet", "foot"];
    M2, "m2", "m²", Area, 1.0, 0.0, 4, M2, ["m²", "m^2"];
    CM2, "cm2", "cm²", Area, 1.0e-4, 0.0, 1, IN2, ["cm²", "cm^2"];
    MM2, "mm2", "mm²", Area, 1.0e-6, 0.0, 0, IN2, ["mm²", "mm^2"];
    IN2, "in2", "in²", Area, INCH_M * INCH_M, 0.0, 2, IN2, ["in²", "in^2", "sq in"];
    M3, "m3", "m³", Volume, 1.0, 0.0, 4, M3, ["m³", "m^3"];
    LITRE, "L", "L", Volume, 1.0e-3, 0.0, 1, LITRE, ["l", "litre", "liter", "dm3", "dm³", "dm^3"];
    SECOND, "s", "s", Time, 1.0, 0.0, 2, SECOND, ["sec", "second", "seconds"];
    MILLISECOND, "ms", "ms", Time, 1.0e-3, 0.0, 0, MILLISECOND, [];
    M_S, "m/s", "m/s", Speed, 1.0, 0.0, 0, FT_S, ["m s^-1"];
    KM_H, "km/h", "km/h", Speed, 1.0 / 3.6, 0.0, 0, FT_S, ["kph"];
    FT_S, "ft/s", "ft/s", Speed, FT_M, 0.0, 0, FT_S, [];
    PER_MIN, "1/min", "1/min", Rotation, 1.0 / 60.0, 0.0, 0, PER_MIN,
        ["rpm", "min^-1", "min⁻¹", "/min", "r/min", "rev/min", "U/min"];
    PER_S, "1/s", "1/s", Rotation, 1.0, 0.0, 1, PER_S, ["rps", "rev/s", "r/s", "s^-1", "s⁻¹"];
    G_KW_H, "g/(kW h)", "g/(kW·h)", SpecificFuel, 1.0e-3 / 3.6e6, 0.0, 0, LB_HP_H, ["g/kWh", "g/kW/h", "g/(kWh)"];
    LB_HP_H, "lb/(hp h)", "lb/(hp·h)", SpecificFuel, LB_KG / (HP_W * 3600.0), 0.0, 3, LB_HP_H,
        ["lb/hph"];
    L_MIN, "L/min", "L/min", VolumeFlow, 1.0e-3 / 60.0, 0.0, 0, L_MIN, ["l/min", "litre/min"];
    L_S, "L/s", "L/s", VolumeFlow, 1.0e-3, 0.0, 2, L_S, ["l/s"];
    M3_S, "m3/s", "m³/s", VolumeFlow, 1.0, 0.0, 5, M3_S, ["m³/s", "m^3/s"];
    M3_H, "m3/h", "m³/h", VolumeFlow, 1.0 / 3600.0, 0.0, 1, M3_H, ["m³/h", "m^3/h"];
    KG_M3, "kg/m3", "kg/m³", Density, 1.0, 0.0, 2, KG_M3, ["kg/m³", "kg/m^3"];
    KG_M2, "kg m2", "kg·m²", Inertia, 1.0, 0.0, 6, KG_M2, ["kg m²", "kg m^2"];
    J_KG_K, "J/(kg K)", "J/(kg·K)", HeatCapacity, 1.0, 0.0, 0, J_KG_K, ["J/kg/K", "J/kgK"];
    KJ_KG_K, "kJ/(kg K)", "kJ/(kg·K)", HeatCapacity, 1000.0, 0.0, 3, KJ_KG_K, ["kJ/kg/K", "kJ/kgK"];
}

units! {
    SHOWN_ONLY, SHOWN_ONLY_SPELLINGS, "Units that the bench shows and nobody writes.";
    IN3, "in3", "in³", Volume, INCH_M * INCH_M * INCH_M, 0.0, 0, IN3, [];
    LB_FT3, "lb/ft3", "lb/ft³", Density, LB_KG / (FT_M * FT_M * FT_M), 0.0, 3, LB_FT3, [];
    GAL_MIN, "gal/min", "gal/min", VolumeFlow, GALLON_M3 / 60.0, 0.0, 1, GAL_MIN, [];
    BTU_LB_F, "BTU/(lb F)", "BTU/(lb·°F)", HeatCapacity, 4186.8, 0.0, 3, BTU_LB_F, [];
    PER_M4, "1/m4", "1/m⁴", PipeLoss, 1.0, 0.0, 0, PER_M4, [];
    DEGREE, "deg", "°", Ratio, 1.0, 0.0, 0, DEGREE, [];
    // Of the settings that the core does not hold in SI, and of the shaft, whose speed it gives in rad/s.
    PERCENT_OF_100, "percent", "%", Ratio, 1.0, 0.0, 0, PERCENT_OF_100, [];
    PER_MIN_OF_CRANK, "rpm", "1/min", Rotation, 1.0, 0.0, 0, PER_MIN_OF_CRANK, [];
    PER_MIN_OF_SHAFT, "rpm of rad/s", "1/min", Rotation, core::f64::consts::PI / 30.0, 0.0, 0, PER_MIN_OF_SHAFT, [];
    // Valve events, from degrees after firing top dead centre.
    BEFORE_BOTTOM, "deg before 180", "°", Ratio, -1.0, 180.0, 0, BEFORE_BOTTOM, [];
    BEFORE_TOP, "deg before 360", "°", Ratio, -1.0, 360.0, 0, BEFORE_TOP, [];
    AFTER_TOP, "deg after 360", "°", Ratio, 1.0, 360.0, 0, AFTER_TOP, [];
    AFTER_BOTTOM, "deg after 540", "°", Ratio, 1.0, 540.0, 0, AFTER_BOTTOM, [];
}

/// The unit of this name that a person may write.
pub fn exact(name: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.name == name).copied()
}

/// The dimension of a unit in which the core counts a parameter; nothing for a unit that is not known here.
pub fn dim_of(name: &str) -> Option<Dim> {
    // Products that no quantity is shown in.
    const PRODUCTS: [(&str, Dim); 6] = [
        ("J/kg", Dim::new(0, 2, -2, 0)),
        ("Pa s/m", Dim::new(1, -2, -1, 0)),
        ("Pa s2/m2", Dim::new(1, -3, 0, 0)),
        ("W s2", Dim::new(1, 2, -1, 0)),
        ("W/K", Dim::new(1, 2, -3, -1)),
        ("m/(s K)", Dim::new(0, 1, -1, -1)),
    ];
    let product = PRODUCTS.iter().find(|(product, _)| *product == name).map(|(_, dim)| *dim);
    product.or_else(|| UNITS.iter().chain(SHOWN_ONLY).find(|unit| unit.name == name).map(|unit| unit.family.dim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_a_number_survives_the_way_to_a_unit_and_back() {
        for unit in UNITS.iter().chain(SHOWN_ONLY) {
            for si in [0.0, 1e-6, 0.37, 298.15, 2.5e5] {
                let (point, difference) =
                    (unit.to_si(unit.of_si(si)), unit.difference_to_si(unit.difference_of_si(si)));
                assert!((point - si).abs() <= 1e-12 * si.abs().max(300.0), "{unit:?} {si} {point}");
                assert!((difference - si).abs() <= 1e-12 * si.abs(), "{unit:?} {si} {difference}");
            }
            assert_eq!(unit.customary.family, unit.family, "{unit:?}");
            assert_eq!(unit.customary.customary, unit.customary, "{unit:?}");
        }
    }

    #[test]
    fn identity_each_name_is_one_unit() {
        let all = || UNITS.iter().chain(SHOWN_ONLY);
        for (i, unit) in all().enumerate() {
            assert!(all().skip(i + 1).all(|other| other.name != unit.name), "{unit:?}");
        }
        assert_eq!(UNITS.len(), SPELLINGS.len());
        assert_eq!(UNITS[0], &PLAIN);
    }

    #[test]
    fn published_customary_factors() {
        // NIST SP 811, appendix B.8: psi 6.894 757 E+03 Pa; lbf ft 1.355 818 N m; hp (550 ft lbf/s) 7.456 999 E+02 W;
        // gal/min 6.309 020 E-05 m3/s; in3 1.638 706 E-05 m3; lb/ft3 1.601 846 E+01 kg/m3; Btu(IT)/(lb F) 4.1868 E+03.
        for (unit, si) in [
            (&PSI, 6894.757),
            (&LB_FT, 1.355_818),
            (&HP, 745.6999),
            (&GAL_MIN, 6.309_020e-5),
            (&IN3, 1.638_706e-5),
            (&LB_FT3, 16.018_46),
            (&BTU_LB_F, 4186.8),
        ] {
            assert!((unit.factor / si - 1.0).abs() < 1e-6, "{unit:?} {}", unit.factor);
        }
        assert!((DEG_F.to_si(32.0) - 273.15).abs() < 1e-9);
    }

    #[test]
    fn identity_the_unit_of_every_parameter_is_known() {
        for key in volute_core::engine::keys().chain(volute_core::settings::Ambient::KEYS) {
            assert!(dim_of(key.unit).is_some(), "`{}` of {}", key.unit, key.name);
        }
    }
}
