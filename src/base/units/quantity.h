/// Amounts with a unit, checked by the compiler: SI `double` inside, a type at every public
/// boundary.
///
///   Volume v = 500.0 * cm3;          // made with the unit
///   double l = v.in(litre);          // read with the unit
///   auto rho = (1.2 * kg) / (1.0 * m3);
///   v + 3.0 * kg;                    // does not compile
///
/// These are amounts: lengths, masses, steps of pressure or temperature. A temperature or an
/// absolute pressure is a *point* on a scale and lives in points.h: 20 degC + 10 degC has no
/// meaning and does not compile there. Decision: docs/decisions/0002-units.md.
#pragma once

#include <compare>

namespace fuelwright {

/// L length, M mass, T time, K temperature, I current: the exponents of m, kg, s, K, A.
template <int L, int M, int T, int K = 0, int I = 0>
struct Unit {
  double factor;  ///< one of this unit in SI
};

template <int L, int M, int T, int K = 0, int I = 0>
struct Quantity {
  double si = 0;

  constexpr double in(Unit<L, M, T, K, I> unit) const { return si / unit.factor; }
  friend constexpr auto operator<=>(const Quantity&, const Quantity&) = default;

  friend constexpr Quantity operator+(Quantity a, Quantity b) { return {a.si + b.si}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return {a.si - b.si}; }
  friend constexpr Quantity operator-(Quantity a) { return {-a.si}; }
  friend constexpr Quantity operator*(double k, Quantity a) { return {k * a.si}; }
  friend constexpr Quantity operator*(Quantity a, double k) { return {k * a.si}; }
  friend constexpr Quantity operator/(Quantity a, double k) { return {a.si / k}; }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.si / b.si; }
};

template <int L, int M, int T, int K, int I>
constexpr Quantity<L, M, T, K, I> operator*(double x, Unit<L, M, T, K, I> unit) {
  return {x * unit.factor};
}

template <int L, int M, int T, int K, int I, int L2, int M2, int T2, int K2, int I2>
constexpr Quantity<L + L2, M + M2, T + T2, K + K2, I + I2> operator*(
    Quantity<L, M, T, K, I> a, Quantity<L2, M2, T2, K2, I2> b) {
  return {a.si * b.si};
}

template <int L, int M, int T, int K, int I, int L2, int M2, int T2, int K2, int I2>
  requires(L != L2 || M != M2 || T != T2 || K != K2 || I != I2)
constexpr Quantity<L - L2, M - M2, T - T2, K - K2, I - I2> operator/(
    Quantity<L, M, T, K, I> a, Quantity<L2, M2, T2, K2, I2> b) {
  return {a.si / b.si};
}

using Length = Quantity<1, 0, 0>;
using Area = Quantity<2, 0, 0>;
using Volume = Quantity<3, 0, 0>;
using Mass = Quantity<0, 1, 0>;
using Duration = Quantity<0, 0, 1>;
using Speed = Quantity<1, 0, -1>;
using Density = Quantity<-3, 1, 0>;
using PressureStep = Quantity<-1, 1, -2>;  ///< a difference of two pressures
using TemperatureStep = Quantity<0, 0, 0, 1>;
using MassFlow = Quantity<0, 1, -1>;
using VolumeFlow = Quantity<3, 0, -1>;
using Power = Quantity<2, 1, -3>;
using Torque = Quantity<2, 1, -2>;  ///< newton metre; the same dimension as energy
using Voltage = Quantity<2, 1, -3, 0, -1>;

inline constexpr Unit<1, 0, 0> metre{1.0}, mm{1e-3}, cm{1e-2}, km{1e3}, inch{0.0254}, foot{0.3048},
    mile{1609.344};
inline constexpr Unit<2, 0, 0> m2{1.0}, mm2{1e-6}, cm2{1e-4};
inline constexpr Unit<3, 0, 0> m3{1.0}, litre{1e-3}, cm3{1e-6}, cubic_inch{16.387064e-6};
inline constexpr Unit<0, 1, 0> kg{1.0}, gram{1e-3}, mg{1e-6}, pound{0.45359237};
inline constexpr Unit<0, 0, 1> second{1.0}, ms{1e-3}, minute{60.0}, hour{3600.0};
inline constexpr Unit<1, 0, -1> m_per_s{1.0}, km_per_h{1.0 / 3.6}, mile_per_h{0.44704};
inline constexpr Unit<-3, 1, 0> kg_per_m3{1.0}, kg_per_litre{1e3};
inline constexpr Unit<-1, 1, -2> pascal{1.0}, kPa{1e3}, bar{1e5}, psi{6894.757293168},
    inHg{3386.389};
inline constexpr Unit<0, 0, 0, 1> kelvin_step{1.0}, fahrenheit_step{1.0 / 1.8};
inline constexpr Unit<0, 1, -1> kg_per_s{1.0}, g_per_s{1e-3}, g_per_min{1e-3 / 60},
    lb_per_h{0.45359237 / 3600};
inline constexpr Unit<3, 0, -1> m3_per_s{1.0}, cm3_per_min{1e-6 / 60}, litre_per_h{1e-3 / 3600};
inline constexpr Unit<2, 1, -3> watt{1.0}, kW{1e3}, horsepower{745.6998715822702};
inline constexpr Unit<2, 1, -2> newton_metre{1.0}, pound_foot{1.3558179483314004};
inline constexpr Unit<2, 1, -3, 0, -1> volt{1.0};

}  // namespace fuelwright
