/// How lean a sensor reads where burnt gas puts out flames: at the idle of a cam with overlap.
///
/// A cycle that does not burn sends its oxygen to the sensor. Steadily, so that driving cannot tell
/// it from air, and mixture alone does not measure such a place. What is believed before driving:
///
///   y = 0.85 1.266 OF/N p^-0.87 (1 - p)^1/2 + 0.60 0.632 p^-0.74/r_c
///   q = 1/(1 + e^(-(y - y_50)/0.03)),   lean = -ln(1 - 0.6 q),   y_50 = 0.38 +- 0.06   (dynamic.11)
///   OF = 1.45/B (107 + 7.8 a + a^2) L_v D_v/B^2  [deg/m], B, L_v, D_v [mm]
///
/// y burnt share of the charge, p manifold over ambient pressure, N rev/s, a overlap of the
/// advertised durations [deg], B bore, L_v, D_v intake lift and valve. Mean and spread over y_50;
/// 0.6 is how much of its oxygen a sensor shows. Residual: Fox, Cheng and Heywood, SAE 931025, from
/// memory; 0.85 and 0.60 are what the flow model (docs/theory/breathing.md) gives against it on the
/// tuning cars of bench/full_estimate, within 0.03 of y. The rest from memory, hence wide.
#pragma once

#include <Eigen/Core>
#include <array>
#include <utility>

#include "car/build/sheet.h"

namespace fuelwright::advice {

inline constexpr int kLeans = 20;

/// The lean reading, ln: mean(x) + sd(x) u(x) over engine speed and manifold pressure, u linear
/// between kLeans places, there of unit variance.
struct Dilution {
  struct Lean {
    double mean = 0;
    double sd = 0;
  };
  double factor = 0;       ///< OF [deg/m]
  double compression = 9;  ///< [-]
  double ambient_pa = 101325;
  double rough = 0;  ///< 0: lobes that do not meet at 0.050 in, it idles smoothly; 1: it does not [-]

  static Dilution of(const car::Sheet& sheet);
  Lean at(double rpm, double map_pa) const;
  /// True where a steady reading is no measure of the air: it may well be 2 % too lean.
  bool spoils(double rpm, double map_pa) const;
  /// Of u at the places.
  static Eigen::Matrix<double, kLeans, kLeans> covariance();
  /// Up to four places and their shares; none from 3000 rpm or 100 kPa.
  static std::array<std::pair<int, double>, 4> places(double rpm, double map_pa);
};

}  // namespace fuelwright::advice
