/// Ports: effective orifice area of a cylinder's valves against lift, from the flow bench.
///
///   A_eff = Q rho / (p / sqrt(R T) psi(1 - dp/p)),  psi of (breathing.5)            (breathing.22)
///
/// flow coefficient included: the area of a lossless orifice that passes what the bench measured,
/// at its depression, with bench air of 1.2 kg/m3 at 101,325 Pa. At 28 inH2O this is 3.8 % more
/// than Q / sqrt(2 dp/rho); the flow model uses the compressible law, so the table must too.
///
/// Between listed lifts a monotone cubic (Fritsch and Carlson; slopes by Butland's harmonic mean).
/// Below the first lift the curtain area n pi D L times a coefficient that runs from 0.70 (common
/// practice, no source; more if the bench says so) to the table's own. Beyond the last at most 5 %
/// more.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"
#include "physics/breathing/internal/lobe.h"
#include "physics/breathing/internal/parts.h"

namespace fuelwright::physics {

/// One kind of valve of one cylinder on the flow bench, plain SI.
struct PortBench {
  std::string key = "heads.flow_intake";  ///< for messages
  bool stated = false;            ///< the flows were given; typical ones are capped, not refused
  std::vector<double> lift_m;     ///< increasing
  std::vector<double> flow_m3_s;  ///< all valves of this kind of one cylinder
  double depression_pa = 0;
  int valves = 1;         ///< of this kind
  double diameter_m = 0;  ///< of one valve head
};
PortBench intake_bench(const car::Sheet& sheet);
PortBench exhaust_bench(const car::Sheet& sheet);

/// (breathing.22) for one flow.
double effective_area_m2(double flow_m3_s, double depression_pa);

class PortArea {
 public:
  /// Errors: out_of_range naming the key: no table, lifts that do not increase, a flow that passes
  /// more than the valve's curtain or its head could, a port without flow.
  static Result<PortArea> make(const PortBench& bench);
  /// All valves of this kind, forward, as the bench has it [m2]. Zero at zero lift; continuous.
  double at(double lift_m) const;
  double diameter_m() const { return diameter_; }

 private:
  PortArea() = default;
  void fit_slopes();

  std::vector<double> lift_, area_, slope_;
  double diameter_ = 0;
  double curtain_per_lift_ = 0;  // n pi D [m]
  double coefficient_zero_ = 0, coefficient_first_ = 0;
};

/// Factor on the bench's area at this lift over diameter: `low` up to 0.10, 1 from 0.25 on, smooth
/// between.
double low_lift_factor(double lift_over_diameter, double low);  //                  (breathing.23)

/// The area at every crank degree: PortArea at the lift, the low-lift factor, and the reverse-flow
/// factor.
ValveArea valve_area(const LiftCurve& lift, const PortArea& port, const Unstated& unstated);

}  // namespace fuelwright::physics
