//! Mass, energy and burned fuel together: what a volume holds and what passes an opening.

use core::ops::{Add, AddAssign, Mul, Sub, SubAssign};

/// Mass, energy and burned fuel. The energy of a volume is its internal energy; that of a flow is its enthalpy.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Content {
    /// Mass of all gas, in kg.
    pub m_kg: f64,
    /// Internal energy or enthalpy, in J.
    pub u_j: f64,
    /// Burned fuel in it, in kg.
    pub x_kg: f64,
}

impl Content {
    /// Gas of a specific energy and a burned-fuel fraction.
    #[inline(always)]
    pub fn of(m_kg: f64, j_kg: f64, x: f64) -> Self {
        Self { m_kg, u_j: m_kg * j_kg, x_kg: m_kg * x }
    }

    /// Burned fuel in each kg.
    pub fn x(&self) -> f64 {
        self.x_kg / self.m_kg
    }

    /// Energy of each kg, in J/kg.
    pub fn j_kg(&self) -> f64 {
        self.u_j / self.m_kg
    }

    /// The mean of two.
    #[inline(always)]
    pub fn mean(a: Self, b: Self) -> Self {
        (a + b) * 0.5
    }

    /// Whether all three are numbers.
    pub fn is_finite(&self) -> bool {
        self.m_kg.is_finite() && self.u_j.is_finite() && self.x_kg.is_finite()
    }
}

impl Add for Content {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        Self { m_kg: self.m_kg + b.m_kg, u_j: self.u_j + b.u_j, x_kg: self.x_kg + b.x_kg }
    }
}

impl Sub for Content {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        Self { m_kg: self.m_kg - b.m_kg, u_j: self.u_j - b.u_j, x_kg: self.x_kg - b.x_kg }
    }
}

impl Mul<f64> for Content {
    type Output = Self;
    #[inline(always)]
    fn mul(self, share: f64) -> Self {
        Self { m_kg: self.m_kg * share, u_j: self.u_j * share, x_kg: self.x_kg * share }
    }
}

impl AddAssign for Content {
    #[inline(always)]
    fn add_assign(&mut self, b: Self) {
        *self = *self + b;
    }
}

impl SubAssign for Content {
    #[inline(always)]
    fn sub_assign(&mut self, b: Self) {
        *self = *self - b;
    }
}
